"""The plotter's SVG read by another library, in user units of a mm."""

import re

import numpy as np
import pytest
import svgelements
from shapely import Polygon

from cutjob.output.paper.pattern import patterns_of
from cutjob.output.paper.plotter import write_board_svg, write_parts_svg
from tests.output.paper.samples import disc, item, layout_of, plank, wedge
from tests.output.samples import rail, tag

# Coordinates have 3 decimals, and arcs their radius too.
TRUE = 0.003
PIXELS_PER_MM = 96 / 25.4  # CSS Values 3: 96 px to an inch


def read(data, folder):
    """The closed paths in the group `cut`, and everything in `draw`, mm."""
    file = folder / "patterns.svg"
    file.write_bytes(data)
    found = {"cut": [], "draw": []}
    svg = svgelements.SVG.parse(str(file))
    for group in svg.select(lambda one: isinstance(one, svgelements.Group) and one.id in found):
        for path in group.select(lambda one: isinstance(one, svgelements.Path)):
            points = (
                np.array([[p.x, p.y] for p in map(path.point, np.linspace(0, 1, 721 if group.id == "cut" else 9))])
                / PIXELS_PER_MM
            )
            found[group.id].append((path, points))
    return svg, found


def cuts(items, folder, *, width=610.0):
    data = write_parts_svg(patterns_of(layout_of(items), items), width=width, title="Spring market", unit="mm")
    return data, *read(data, folder)


def test_outlines_are_cut_at_true_size(tmp_path):
    parts = [disc(100.0, bore=0.0), plank(320.0, 40.0), wedge(), tag(), rail()]
    _, svg, found = cuts([item(*parts)], tmp_path)
    want = sorted(contour.length for part in parts for contour in part.region.contours)
    assert sorted(path.length() / PIXELS_PER_MM for path, _ in found["cut"]) == pytest.approx(want, rel=1e-4)
    (round_one,) = [points for path, points in found["cut"] if abs(np.ptp(points[:, 0]) - 100.0) < 0.1]
    centre = (round_one.min(axis=0) + round_one.max(axis=0)) / 2
    assert np.abs(np.hypot(*(round_one - centre).T) - 50.0).max() <= TRUE
    assert svg.width / PIXELS_PER_MM == pytest.approx(610.0)


@pytest.mark.parametrize("width", [120.0, 305.0, 610.0])
def test_patterns_lie_apart_on_the_sheet(tmp_path, width):
    parts = [disc(60.0 + 7 * number, bore=0.0) for number in range(6)] + [plank(280.0, 30.0), wedge(500.0)]
    data, svg, found = cuts([item(*parts)], tmp_path, width=width)
    shapes = [Polygon(points) for _, points in found["cut"]]
    sheet = [value / PIXELS_PER_MM for value in (svg.width, svg.height)]
    for number, shape in enumerate(shapes):
        x0, y0, x1, y1 = shape.bounds
        assert min(x0, y0) >= 0
        assert x1 <= sheet[0]
        assert y1 <= sheet[1]
        assert all(shape.distance(other) >= 2.0 for other in shapes[:number])
    assert data == write_parts_svg(
        patterns_of(layout_of([item(*parts)]), [item(*parts)]), width=width, title="Spring market", unit="mm"
    )


def test_a_sheet_too_narrow_for_a_part_is_made_as_wide_as_it_needs(tmp_path):
    _, svg, _ = cuts([item(disc(300.0))], tmp_path, width=200.0)
    assert 300.0 < svg.width / PIXELS_PER_MM <= 330.0


def test_letters_are_strokes_and_none_is_lost(tmp_path):
    plain, _, found = cuts([item(disc(100.0, name="disc"))], tmp_path)
    assert b"<text" not in plain
    drawn = [points for _, points in found["draw"]]
    assert len(drawn) > 10
    shape = Polygon(found["cut"][0][1])
    # All the letters keep within the part.
    assert sum(shape.covers(Polygon(points).centroid) for points in drawn if np.ptp(points[:, 0]) < 4) > 10
    other, _, _ = cuts([item(disc(100.0, name="Чайка"))], tmp_path)
    assert "Чайка" in other.decode("utf-8")


def test_a_whole_layout_lies_along_its_board(tmp_path):
    layout = layout_of([item(disc(100.0), plank(200.0, 50.0))])
    svg, found = read(write_board_svg(layout.boards[0], title="Spring market", unit="mm"), tmp_path)
    assert [round(v / PIXELS_PER_MM) for v in (svg.width, svg.height)] == [20010, 4010]
    lengths = sorted(path.length() / PIXELS_PER_MM for path, _ in found["cut"])
    assert lengths == pytest.approx([100.0 * np.pi, 500.0], rel=1e-4)
    assert not re.search(rb"\d{4}-\d\d-\d\d", write_board_svg(layout.boards[0], title="x", unit="mm"))
