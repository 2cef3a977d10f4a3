import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon

from cutjob.geometry.contour import Region, circle, polyline
from cutjob.geometry.segment import Line
from cutjob.geometry.transform import Transform
from cutjob.output.paper.pattern import Axis, mirror_axes
from cutjob.output.paper.picture import LOOKS, half_of
from cutjob.parts.part import Hole, Mark, Pocket, ShapedPart
from cutjob.resolved import read_order
from tests.output.paper.reading import page_words, read_pages
from tests.output.paper.samples import book_of, disc, item, layout_of, plank, wedge
from tests.output.samples import slot, tag

SPINNER = Path(__file__).parents[3] / "samples" / "porch-spinner.toml"
NEAR = 0.005  # mm: two chords of 0.001 mm and two Bezier curves of 0.002 mm


def star(points, outer=60.0, inner=25.0):
    radii = [outer if number % 2 == 0 else inner for number in range(2 * points)]
    angles = [math.pi / 2 + number * math.pi / points for number in range(2 * points)]
    return ShapedPart(
        name="star",
        region=Region(polyline([(r * math.cos(a), r * math.sin(a)) for r, a in zip(radii, angles, strict=True)])),
    )


def ways(part):
    return [axis.way for axis in mirror_axes(part)]


def test_mirror_lines_of_known_shapes():
    assert ways(disc()) == ["upright", "level"]
    assert ways(plank(100.0, 30.0)) == ["upright", "level"]
    assert ways(wedge()) == []
    assert ways(star(5)) == ["upright"]
    assert ways(star(6)) == ["upright", "level"]
    # A hole, a pocket or a mark to one side takes the mirror line with it.
    assert ways(plank(100.0, 30.0, holes=(Hole(at=(20.0, 15.0), diameter=5.0),))) == ["level"]
    recess = Pocket(region=Region(circle((50.0, 8.0), 4.0)), depth=3.0)
    assert ways(plank(100.0, 30.0, pockets=(recess,))) == ["upright"]
    assert ways(plank(100.0, 30.0, marks=(Mark(path=(Line((10.0, 5.0), (20.0, 5.0)),)),))) == []
    two = (Hole(at=(20.0, 15.0), diameter=5.0), Hole(at=(80.0, 15.0), diameter=5.0, depth=4.0))
    assert ways(plank(100.0, 30.0, holes=two)) == ["level"]  # equally wide, not equally deep


@settings(max_examples=40)
@given(st.floats(-40, 160), st.booleans(), st.sampled_from([disc(90.0).region, tag().region, star(5).region]))
def test_what_is_cut_off_is_the_near_side(at, upright, region):
    axis = Axis("upright" if upright else "level", at)
    for contour in region.contours:
        whole = Polygon(np.array(contour.points(0.001))).exterior
        runs = half_of(contour.segments, axis)
        lines = [
            LineString([run[0].start, *(point for segment in run for point in segment.chords(0.001))]) for run in runs
        ]
        box = shapely.box(-1e4, -1e4, at, 1e4) if upright else shapely.box(-1e4, -1e4, 1e4, at)
        near = whole.intersection(box)
        length = sum(line.length for line in lines)
        assert length == pytest.approx(near.length, abs=0.05)
        for line in lines:
            assert line.difference(box.buffer(1e-5)).is_empty
            points = shapely.points(shapely.get_coordinates(line))
            assert float(shapely.distance(points, whole).max(initial=0.0)) <= NEAR


def test_a_line_through_the_start_of_a_chain_cuts_off_one_run():
    contour = slot(80.0, 20.0)
    for first in range(4):
        segments = contour.segments[first:] + contour.segments[:first]
        (run,) = half_of(segments, Axis("upright", 40.0))
        assert sum(segment.length for segment in run) == pytest.approx(contour.length / 2)
        assert {run[0].start, run[-1].end} == {(40.0, 20.0), (40.0, -20.0)}


def drawn(page, style):
    colour, width = tuple(LOOKS[style].stroke), LOOKS[style].width
    return [run for path in page if path.colour == colour and abs(path.width - width) < 1e-3 for run in path.runs]


def test_a_half_and_its_mirror_image_are_the_part():
    """Fold, cut both layers, open: the printed half and its image at the printed fold line are the outline."""
    part = next(part for one in read_order(SPINNER)[1] for part in one.build.shaped if part.name == "piece 6")
    page = read_pages(book_of([item(part)], halves=True))[1]
    (fold,) = (run for run in drawn(page, "fold") if len(run) == 2)
    (half,) = drawn(page, "outline")
    assert np.abs(half[[0, -1]] - fold.mean(axis=0)).min() < 60.0
    along = (fold[1] - fold[0]) / np.linalg.norm(fold[1] - fold[0])
    # Both ends of the run lie on the fold.
    for end in (half[0], half[-1]):
        off = end - fold[0]
        assert abs(off[0] * along[1] - off[1] * along[0]) < NEAR
    off = half - fold[0]
    image = fold[0] + 2 * (off @ along)[:, None] * along - off
    opened = Polygon(np.vstack([half, image[::-1]]))
    true = Polygon(np.array(part.region.outline.points(0.001)))
    assert opened.area == pytest.approx(true.area, rel=1e-4)
    assert sorted(np.ptp(np.array(opened.exterior.coords), axis=0)) == pytest.approx(
        sorted(np.ptp(np.array(true.exterior.coords), axis=0)), abs=NEAR
    )


def test_halves_take_fewer_pages():
    _, items = read_order(SPINNER)
    layout = layout_of(items)
    whole, halves = (len(read_pages(book_of(items, layout=layout, halves=half))) for half in (False, True))
    assert halves <= whole
    long = item(plank(600.0, 60.0))
    assert len(read_pages(book_of([long], halves=True))) < len(read_pages(book_of([long])))


def test_a_small_half_leaves_paper_for_the_other_side():
    """Folded on the page itself: the window holds the whole part, half of it blank."""
    page = read_pages(book_of([item(plank(120.0, 60.0, grain="none"))], halves=True))[1]
    (half,) = drawn(page, "outline")
    (fold,) = (run for run in drawn(page, "fold") if len(run) == 2)
    x = fold[:, 0].mean()
    assert np.ptp(half[:, 0]) == pytest.approx(60.0, abs=NEAR)
    assert x + 60.0 < 200.0


def test_what_is_no_mirror_image_stays_whole():
    words = page_words(
        book_of(
            [
                item(wedge(150.0)),
            ],
            halves=True,
        )
    )
    assert "FOLD" not in words[1]
    assert "Halves" not in words[0]
    assert "FOLD" in page_words(book_of([item(disc())], halves=True))[1]


def test_moving_a_part_moves_its_mirror_line():
    part = star(5)
    moved = ShapedPart(name="star", region=Transform(x=17.0, y=-4.0).region(part.region))
    (axis,) = mirror_axes(moved)
    assert axis.at == pytest.approx(17.0, abs=1e-6)
