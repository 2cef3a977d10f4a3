"""Patterns on one sheet, and a board's layout: the lines of one keep off its neighbours."""

from __future__ import annotations

from itertools import permutations

import pytest
import shapely
from shapely import LineString

from cutjob.geometry.contour import Region, circle, polyline
from cutjob.geometry.transform import Transform
from cutjob.job.paper import papers
from cutjob.output.paper.packing import tiling
from cutjob.output.paper.pattern import looked_at, patterns_of
from cutjob.output.paper.picture import Picture
from cutjob.output.paper.plotter import board_picture
from cutjob.output.paper.sheets import part_sheets
from cutjob.parts.part import ShapedPart
from tests.output.paper.samples import disc, item, layout_of, plank

# A frame and a hook whose middle lines lead across all that lies within them.
RING = ShapedPart(name="ring", region=Region(circle((0.0, 0.0), 85.0), (circle((0.0, 0.0), 70.0).reversed(),)))
HOOK = ShapedPart(
    name="hook",
    region=Region(polyline([(0, 0), (150, 0), (150, 20), (20, 20), (20, 100), (150, 100), (150, 120), (0, 120)])),
)


def lines(picture: Picture, *styles: str) -> shapely.Geometry:
    runs = [
        LineString([chain[0].start, *(segment.end for segment in chain)])
        for stroke in picture.strokes
        if stroke.style in styles
        for chain in stroke.chains
    ]
    return shapely.union_all(runs)


@pytest.mark.parametrize("host", [RING, HOOK], ids=["ring", "hook"])
def test_lines_of_one_pattern_end_before_its_neighbours(host: ShapedPart) -> None:
    """A small disc finds room within the larger part, where its middle lines and hatches are."""
    items = [item(host, disc(30.0, bore=0.0), plank(60.0, 25.0), name="porch set")]
    patterns = patterns_of(layout_of(items), items)
    sheets = part_sheets(patterns, layout=tiling(papers()["A4"]), unit="mm")
    nested = 0
    for sheet in sheets:
        drawn = lines(sheet.picture, "centre", "waste")
        within = [one for one, other in permutations(sheet.outlines, 2) if other.convex_hull.covers(one)]
        nested += len(within)
        for wood in within:
            runs = shapely.get_parts(drawn.intersection(wood.buffer(0.9)))
            assert all(_own(run, wood) for run in runs if run.length > 0.05)
    assert nested > 0


def _own(run: shapely.Geometry, wood: shapely.Geometry) -> bool:
    x, y = run.interpolate(0.5, normalized=True).coords[0]
    x0, y0, x1, y1 = wood.bounds
    return abs(x - (x0 + x1) / 2) < 0.1 or abs(y - (y0 + y1) / 2) < 0.1


def test_lines_of_a_layout_end_before_the_neighbours() -> None:
    items = [item(RING, disc(40.0, bore=0.0), name="porch set")]
    layout = layout_of(items, places=(Transform(x=500.0, y=500.0), Transform(x=508.0, y=512.0)))
    picture, _ = board_picture(layout.boards[0], unit="mm", seams=None)
    small = looked_at(layout.boards[0].placements[1].region)
    for run in shapely.get_parts(lines(picture, "centre", "waste").intersection(small)):
        assert _own(run, small)
