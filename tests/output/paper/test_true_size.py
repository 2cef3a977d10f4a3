"""The PDF's own paths against the parts: true to 0.1 mm is asked for, and far less is measured."""

from pathlib import Path

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon

from cutjob.job.paper import papers
from cutjob.output.paper.packing import tiling
from cutjob.output.paper.picture import LOOKS
from cutjob.resolved import read_order
from tests.output.paper.reading import page_sizes, page_words, read_pages
from tests.output.paper.samples import book_of, disc, item, layout_of, plank, wedge
from tests.output.samples import rail, tag

# PDFium keeps coordinates as 32-bit floats: 2e-5 mm on a page; curves are within 0.002 mm of their arcs, twice here.
TRUE = 0.006
# The bars are straight lines, read as 32-bit floats.
BAR = 0.0005
SPINNER = Path(__file__).parents[3] / "samples" / "porch-spinner.toml"


def outlines(page, style="outline"):
    """The closed paths of a style on a page."""
    colour = tuple(LOOKS[style].stroke)
    found = [path for path in page if path.colour == colour and abs(path.width - LOOKS[style].width) < 1e-3]
    return [run for path in found for run, closed in zip(path.runs, path.closed, strict=True) if closed]


def turned_into_place(run, part):
    """How far a drawn outline lies from the part's own, best turned and moved onto it."""
    true = Polygon(np.array(part.region.outline.points(0.0005)))
    shapely.prepare(true)
    drawn = Polygon(run)
    assert drawn.area == pytest.approx(true.area, rel=2e-4)
    best = float("inf")
    for degrees in sorted(range(0, 360, 3), key=lambda degrees: degrees % 90 > 0):
        moved = shapely.affinity.rotate(drawn, -degrees, origin=(0, 0))
        x0, y0, x1, y1 = moved.bounds
        tx0, ty0, tx1, ty1 = true.bounds
        # Of both boxes the middles lie on each other.
        shifted = shapely.affinity.translate(moved, (tx0 + tx1 - x0 - x1) / 2, (ty0 + ty1 - y0 - y1) / 2)
        points = shapely.points(shapely.get_coordinates(shifted))
        best = min(best, float(shapely.distance(points, true.exterior).max()))
        if best <= TRUE:
            break
    return best


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("part", [disc(), plank(150.0, 40.0), wedge(180.0), tag(), rail(), disc(433.0, bore=0.0)])
def test_every_outline_is_the_parts_own(part, paper):
    pages = read_pages(book_of([item(part)], paper=paper))
    seen = 0
    for page in pages[1:]:
        for run in outlines(page):
            assert turned_into_place(run, part) <= TRUE
            seen += 1
    assert seen == len(pages) - 1


def test_the_spinners_parts_are_all_there_and_true():
    _, items = read_order(SPINNER)
    parts = {part.name: part for one in items for part in one.build.shaped}
    pages = read_pages(book_of(items, layout=layout_of(items), paper="Letter", units="in"))
    runs = [run for page in pages[1:] for run in outlines(page)]
    for part in parts.values():
        area = Polygon(np.array(part.region.outline.points(0.001))).area
        alike = [run for run in runs if abs(Polygon(run).area - area) < 2e-4 * area]
        assert alike, part.name
        assert min(turned_into_place(run, part) for run in alike) <= TRUE


def test_holes_pockets_and_marks_are_drawn_at_true_size():
    page = read_pages(book_of([item(rail())]))[1]
    radii = sorted(np.ptp(run[:, 0]) / 2 for run in outlines(page, "hole"))
    assert radii == pytest.approx([2.0, 3.175, 5.0], abs=TRUE)
    pockets = sorted(Polygon(run).area for run in outlines(page, "pocket"))
    assert pockets == pytest.approx(sorted([70.0 * 50.0, np.pi * 64.0, np.pi * 400.0]), rel=1e-3)
    (tagged,) = read_pages(book_of([item(tag())]))[1:]
    (opening,) = outlines(tagged, "opening")
    assert np.ptp(opening, axis=0) == pytest.approx([20.0, 20.0], abs=TRUE)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_both_check_bars_are_on_every_page(paper):
    # 4 in = 101.6 mm exactly (international yard and pound agreement, 1959).
    data = book_of([item(disc(300.0), disc(60.0), plank(700.0, 60.0))], paper=paper)
    pages, words = read_pages(data), page_words(data)
    assert len(pages) > 4
    for page, text in zip(pages, words, strict=True):
        low = [path.points for path in page if path.points[:, 1].max() < 25.0]
        lengths = [np.ptp(points[:, 0]) for points in low if len(points) == 2 and np.ptp(points[:, 1]) < BAR]
        assert any(abs(length - 100.0) < BAR for length in lengths)
        assert any(abs(length - 101.6) < BAR for length in lengths)
        assert "100 mm" in text
        assert "4 in" in text


@pytest.mark.parametrize(("paper", "size"), [("A4", (210.0, 297.0)), ("Letter", (215.9, 279.4))])
def test_pages_have_the_papers_size(paper, size):
    # A4: ISO 216; Letter: 8 1/2 x 11 in, ANSI/ASME Y14.1, size A.
    for found in page_sizes(book_of([item(disc())], paper=paper)):
        assert found == pytest.approx(size, abs=0.01)


def test_a4_follows_from_its_definition():
    # ISO 216: An is 1000 x 2^(-(2n-1)/4) by 1000 x 2^(-(2n+1)/4) mm, rounded down after adding 0.2.
    height, width = (int(1000 * 2 ** (-(2 * 4 + sign) / 4) + 0.2) for sign in (-1, 1))
    assert (papers()["A4"].width, papers()["A4"].height) == (width, height)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("part", [plank(700.0, 60.0), disc(450.0), wedge(900.0, 150.0, 400.0)])
def test_glued_pages_show_the_whole_outline_once(part, paper):
    """Every page is moved to where it lies in the sheet: the paths are one, and the windows leave nothing out."""
    layout = tiling(papers()[paper])
    data = book_of([item(part)], paper=paper)
    pages, words = read_pages(data), page_words(data)
    names = [text.split("tile ")[1].split()[0] for text in words[1:]]
    rows = max(int(name[1:]) for name in names)
    first, windows = None, []
    for page, name in zip(pages[1:], names, strict=True):
        column, row = ord(name[0]) - ord("A"), rows - int(name[1:])
        shift = np.array(layout.shift((column, row)))
        (run,) = outlines(page)
        placed = run - shift
        first = placed if first is None else first
        assert np.abs(placed - first).max() <= 1e-3
        x0, y0, x1, y1 = layout.box((column, row))
        windows.append(shapely.box(x0, y0, x1, y1))
    assert shapely.union_all(windows).buffer(1e-6).covers(LineString(np.vstack([first, first[:1]])))
    # Without any one of them something is missing: none is wasted.
    for number in range(len(windows)):
        rest = shapely.union_all([*windows[:number], *windows[number + 1 :]])
        assert not rest.covers(Polygon(first))


@settings(max_examples=12, deadline=None)
@given(
    sizes=st.lists(st.tuples(st.floats(1.0, 700.0), st.floats(1.0, 200.0)), min_size=1, max_size=5),
    paper=st.sampled_from(["A4", "Letter"]),
    halves=st.booleans(),
)
def test_planks_of_any_size_are_drawn(sizes, paper, halves):
    parts = [plank(length, width, name=f"slat {number}") for number, (length, width) in enumerate(sizes)]
    pages = read_pages(book_of([item(*parts)], paper=paper, halves=halves))
    if halves:
        return  # what a half is drawn like: test_halves.py; here only that there is one
    areas = [Polygon(run).area for page in pages[1:] for run in outlines(page)]
    for length, width in sizes:
        assert any(area == pytest.approx(length * width, rel=1e-3) for area in areas)
