"""A pocket's moves: every level no deeper than a pass, the floor cleared, the walls touched and never entered."""

from __future__ import annotations

import pytest
import shapely

from cutjob.cuts.board_cuts import BoardCuts, cut_layouts
from cutjob.geometry.contour import Region, circle, rectangle
from cutjob.geometry.segment import Arc
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout
from cutjob.parts.part import Pocket, ShapedPart
from cutjob.program.moves import Step
from cutjob.program.program import programs_of
from tests.assertions import fine_polygon
from tests.cuts.makers import alone, layout_of, router, shaped
from tests.program.makers import segments_of

PLAIN = Region(Transform(x=20, y=15).contour(rectangle(60, 40)))
ISLAND = Region(circle((50, 35), 28), (circle((50, 35), 8).reversed(),))
DADO = Region(Transform(x=40, y=0).contour(rectangle(9.0, 70)))
EXACT = Region(Transform(x=40, y=10).contour(rectangle(6.0, 50)))
DEPTH = 7.0
CHORD = 1e-4


def cuts_of(layout: BoardLayout, **cutting: object) -> BoardCuts:
    (board,), _ = cut_layouts([layout], cutters=alone(), machine=router(cutting=cutting), gap=8.0, locations={})
    return board


def holder(region: Region) -> ShapedPart:
    return shaped(rectangle(100, 70), pockets=(Pocket(region=region, depth=DEPTH),), may_mirror=True)


def pocket_step(region: Region, place: Transform, **cutting: object) -> tuple[Step, BoardLayout]:
    layout = layout_of((holder(region), place))
    (program,) = programs_of(cuts_of(layout, **cutting), machine=router(cutting=cutting))
    (step,) = [step for step in program.steps if step.op == "pocket"]
    return step, layout


def swept(step: Step, *, at: float, radius: float = 3.0) -> shapely.Geometry:
    """All that moves at a height (or lower) sweep, as seen from above."""
    return shapely.union_all([
        shapely.LineString([segment.start, *segment.chords(CHORD)]).buffer(radius, quad_segs=64)
        for segment, z0, z1 in segments_of(step.moves, (step.moves[0].x, step.moves[0].y))
        if max(z0, z1) <= at + 1e-9
    ])  # fmt: skip


@pytest.mark.parametrize("way", ["outward", "along grain"])
@pytest.mark.parametrize("region", [PLAIN, ISLAND, DADO, EXACT])
@pytest.mark.parametrize("place", [Transform(x=30, y=30), Transform(x=200, y=60, mirrored=True, degrees=180)])
def test_the_floor_is_cleared_to_its_walls(region: Region, way: str, place: Transform) -> None:
    step, layout = pocket_step(region, place, pockets=way)
    floor = fine_polygon(place.region(region))
    assert min(move.z for move in step.moves) == pytest.approx(-DEPTH)
    done = swept(step, at=-DEPTH)
    # What a cutter of this radius can reach of it: the floor opened by the radius; open ends are cut past the edge.
    wood = layout.placements[0].polygon
    reach = floor.buffer(-2.99, quad_segs=64).buffer(2.99, quad_segs=64).intersection(wood)
    assert reach.difference(done.buffer(0.01)).area < 1e-3
    beyond = done.intersection(wood).difference(floor.buffer(0.01))
    assert beyond.area < 1e-3
    # Nothing runs farther out of the part than about the slot round it is wide.
    assert wood.buffer(2 * 3.0 + 0.1).covers(done)


def test_levels_are_no_deeper_than_a_pass_and_the_wall_is_one() -> None:
    step, _ = pocket_step(PLAIN, Transform(x=30, y=30))
    row = alone().outline.feed_for("softwood")
    assert row is not None
    assert row.depth_per_pass is not None
    levels = sorted({round(-move.z, 6) for move in step.moves if move.kind == "cut" and move.feed == 2844.8})
    flat = [z for z in levels if sum(round(-m.z, 6) == z for m in step.moves) > 8]
    assert flat == pytest.approx([DEPTH / 3, 2 * DEPTH / 3, DEPTH])
    assert row.depth_per_pass >= DEPTH / 3
    # Rough ways keep 0.3 mm off the wall; only the last level touches it.
    wall = fine_polygon(Transform(x=30, y=30).region(PLAIN)).exterior
    assert swept(step, at=-DEPTH).boundary.hausdorff_distance(wall) == pytest.approx(0.0, abs=1.3)
    high = [
        segment
        for segment, z0, z1 in segments_of(step.moves, (step.moves[0].x, step.moves[0].y))
        if -DEPTH + 1e-6 < min(z0, z1) < 0
    ]
    rough = shapely.union_all([shapely.LineString([s.start, *s.chords(CHORD)]) for s in high])
    assert wall.distance(rough) == pytest.approx(3.3, abs=1e-3)


def test_the_cutter_comes_down_on_a_slope() -> None:
    step, _ = pocket_step(PLAIN, Transform(x=30, y=30))
    row = alone().outline.feed_for("softwood")
    assert row is not None
    for segment, z0, z1 in segments_of(step.moves, (step.moves[0].x, step.moves[0].y)):
        if z1 < z0 - 1e-9 and z1 < 0:
            assert (z0 - z1) / segment.length <= 0.0875  # tan of the feed table's 5 degrees
    plunges = [(a.z, b.z) for a, b in zip(step.moves, step.moves[1:], strict=False) if b.kind == "plunge"]
    floors = {0.0, DEPTH / 3, 2 * DEPTH / 3, DEPTH}
    assert all(any(abs(-z - floor) < 1e-6 for floor in floors) for _, z in plunges)


@pytest.mark.parametrize("mirrored", [False, True])
def test_walls_are_cut_climbing(mirrored: bool) -> None:
    """A clockwise spindle climbs counter-clockwise in a pocket, clockwise round an island: the wood on the right."""
    step, layout = pocket_step(ISLAND, Transform(x=150, y=30, mirrored=mirrored))
    centre = layout.placements[0].transform.point((50, 35))
    turns = {
        round(segment.radius, 2): segment.clockwise
        for segment, z0, z1 in segments_of(step.moves, (step.moves[0].x, step.moves[0].y))
        if isinstance(segment, Arc)
        and z0 == z1 == -DEPTH
        and abs(segment.centre[0] - centre[0]) + abs(segment.centre[1] - centre[1]) < 1e-6
    }
    assert (turns[25.0], turns[11.0]) == (False, True)


@pytest.mark.parametrize("region", [PLAIN, ISLAND, DADO])
@pytest.mark.parametrize("way", ["outward", "along grain"])
def test_a_pocket_lifts_between_levels_only_where_it_has_to(region: Region, way: str) -> None:
    """7 mm in three levels: in one clearing the cutter stays down until the walls, wherever its way back is cleared."""
    step, _ = pocket_step(region, Transform(x=30, y=30), pockets=way)
    places = [(move.x, move.y) for move in step.moves]
    for index in range(2, len(step.moves)):
        down, lift = step.moves[index], step.moves[index - 1]
        # Up and straight down again at one place is for nothing.
        assert not (lift.kind == down.kind == "rapid" and lift.z > down.z and places[index - 2] == places[index])


def test_one_clearing_comes_down_once() -> None:
    step, _ = pocket_step(PLAIN, Transform(x=30, y=30))
    down = [move for move in step.moves if move.kind == "plunge"]
    # Once for the floor, once for the walls.
    assert [move.z for move in down] == [0.0, -DEPTH]
