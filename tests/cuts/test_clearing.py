"""Ways over floors and round walls: all cleared, nothing cut that stays, no longer than they must be."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.clearing import Cleared, clear, widest_reaching
from cutjob.cuts.loops import Loop, Room
from cutjob.geometry.contour import Contour, Region, circle, polyline, rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Arc, Line
from cutjob.geometry.transform import Transform
from tests.cuts.pocket_shapes import chain, check, corner_rest, fair_length, length, rectilinear, rounded
from tests.layout.makers import ell, slot, star

WAYS = ("outward", "along grain")
RADIUS = 3.175
# Ways and walls may be this much longer than the floor's area over the stepover and the walls.
LONGER = 1.1


def at(contour: Contour, x: float, y: float) -> Contour:
    return Transform(x=x, y=y).contour(contour)


def dumbbell(neck: float) -> Contour:
    """Two rooms of 40 x 40 joined by a neck 30 long."""
    low, high = 20 - neck / 2, 20 + neck / 2
    return polyline([(0, 0), (40, 0), (40, low), (70, low), (70, 0), (110, 0), (110, 40), (70, 40), (70, high),
                     (40, high), (40, 40), (0, 40)])  # fmt: skip


def bent_dado(width: float) -> Contour:
    """A groove round a bend of radius 60."""
    inner, outer, turn = 60.0, 60.0 + width, 1.2
    (c, s) = (math.cos(turn), math.sin(turn))
    return Contour(
        (
            Arc((outer, 0), (outer * c, outer * s), (0, 0), False),
            Line((outer * c, outer * s), (inner * c, inner * s)),
            Arc((inner * c, inner * s), (inner, 0), (0, 0), True),
            Line((inner, 0), (outer, 0)),
        )
    )


SHAPES = {
    "rectangle": Region(rectangle(100, 60)),
    "turned rectangle": Region(Transform(degrees=33).contour(rectangle(100, 60))),
    "disc": Region(circle((0, 0), 40)),
    "L": Region(ell(120, 90, 30)),
    "star": Region(star(5, 60, 30)),
    "dumbbell": Region(dumbbell(10)),
    "rectangle with an island": Region(rectangle(100, 60), (at(rectangle(20, 15), 30, 20),)),
    "three islands": Region(
        rectangle(150, 90), (circle((40, 45), 15), circle((100, 40), 20), circle((70, 75), 5))
    ),
    "annulus": Region(circle((0, 0), 45), (circle((0, 0), 20),)),
    "island near a wall": Region(rectangle(100, 60), (at(rectangle(20, 15), 4, 20),)),
    "dado": Region(rectangle(150, 12)),
    "dado across": Region(rectangle(12, 150)),
    "dado askew": Region(Transform(degrees=37).contour(rectangle(150, 8))),
    "dado of the cutter's width": Region(rectangle(150, 2 * RADIUS)),
    "dado 0.001 wider": Region(Transform(degrees=37).contour(rectangle(150, 2 * RADIUS + 0.001))),
    "bent dado": Region(bent_dado(15.0)),
    "slot": Region(slot(80, 20)),
}  # fmt: skip


def run(area: Region, **more: object) -> Cleared:
    options = {"radius": RADIUS, "stepover": 2.54, "allowance": 0.3, "counter_clockwise_walls": True,
               "along": "outward"}  # fmt: skip
    return clear(area, **{**options, **more})  # type: ignore[arg-type]


@pytest.mark.parametrize("along", WAYS)
@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("stepover", [1.2, 2.54, RADIUS])
def test_a_floor_is_cleared_by_ways_no_longer_than_fair(name: str, along: str, stepover: float) -> None:
    area = SHAPES[name]
    cleared = run(area, along=along, stepover=stepover)
    check(cleared, area, radius=RADIUS)
    assert length(cleared) <= LONGER * fair_length(area, stepover)
    # That gap of 4 is narrower than the cutter.
    assert any(one.lost for one in cleared.unreached) == (name == "island near a wall")


@given(
    st.one_of(rectilinear(), rounded()),
    st.sampled_from([1.5, 3.0, RADIUS]),
    st.sampled_from([0.4, 0.8, 1.0]),
    st.sampled_from([0.0, 0.3, 1.0]),
    st.sampled_from(WAYS),
    st.booleans(),
)
@settings(max_examples=40, deadline=None)
def test_any_floor_is_cleared(
    area: Region, radius: float, step: float, allowance: float, along: str, left: bool
) -> None:
    cleared = run(
        area, radius=radius, stepover=step * radius, allowance=allowance, along=along, counter_clockwise_walls=left
    )
    check(cleared, area, radius=radius)
    assert length(cleared) <= LONGER * fair_length(area, step * radius)


@pytest.mark.parametrize("middle", [16.0, 18.0])
def test_a_way_round_an_island_that_touches_itself(middle: float) -> None:
    # Where the cutter's middle may be is so narrow beside the island that its edge touches itself there.
    corners = [(0, 0), (20, 0), (20, 28), (41, 28), (41, 67), (39, 67), (39, 89), (0, 89), (0, 62), (10, 62), (10, 37)]
    island = circle((middle, 71.79741613556602), 10.8608972032271).turned(counter_clockwise=False)
    area = Region(polyline([*corners, (0, 37)]), (island,))
    check(run(area, radius=RADIUS, stepover=0.4 * RADIUS, allowance=0.3), area, radius=RADIUS)


@pytest.mark.parametrize("along", WAYS)
def test_the_deviation_of_an_outline_keeps_the_cutter_further_off(along: str) -> None:
    area = SHAPES["three islands"]
    check(run(area, deviation=0.05, along=along), area, radius=RADIUS, deviation=0.05)


@pytest.mark.parametrize("left", [True, False])
@pytest.mark.parametrize("along", WAYS)
def test_walls_and_rings_run_the_way_asked_for(left: bool, along: str) -> None:
    cleared = run(SHAPES["three islands"], counter_clockwise_walls=left, along=along)
    outline, *islands = cleared.walls
    assert (outline.signed_area > 0) == left
    assert len(islands) == 3
    assert all((island.signed_area < 0) == left for island in islands)
    # The rough way keeps the wall on the same side: its last round is the largest it makes.
    if along == "outward":
        assert all((way.entry.signed_area > 0) == left for way in cleared.clearings)


def test_a_simple_floor_is_one_way_from_the_middle_outward() -> None:
    for name in ("rectangle", "disc", "L", "annulus", "dado", "slot"):
        area = SHAPES[name]
        (way,) = run(area).clearings
        shape = to_polygon(area)
        off = [shape.boundary.distance(shapely.Point(segment.start)) for segment in way.path]
        assert off[0] == pytest.approx(max(off), abs=0.01)
        assert off[-1] == pytest.approx(RADIUS + 0.3, abs=0.01)


def test_every_middle_of_a_floor_has_its_own_way_the_common_ring_in_the_last() -> None:
    first, last = run(Region(dumbbell(10))).clearings
    low, high = (shapely.union_all([chain(way.path), shapely.Point(way.path[0].start)]).bounds for way in (first, last))
    assert high[0] == pytest.approx(RADIUS + 0.3, abs=0.01)
    assert high[2] == pytest.approx(110 - RADIUS - 0.3, abs=0.01)
    assert low[2] - low[0] < 40


def test_links_between_rings_are_no_longer_than_the_stepover_on_a_simple_floor() -> None:
    area = SHAPES["rectangle"]
    (way,) = run(area).clearings
    rings = math.floor((60 / 2 - RADIUS - 0.3) / 2.54)
    whole = sum(2 * (100 + 60) - 8 * (RADIUS + 0.3 + number * 2.54) for number in range(rings + 1))
    assert sum(segment.length for segment in way.path) == pytest.approx(whole + rings * 2.54, abs=0.1)


@pytest.mark.parametrize("more", [0.0, 0.0003, 0.001, 0.01, 0.1])
@pytest.mark.parametrize("shape", ["straight", "bent"])
def test_a_dado_a_hair_wider_than_the_cutter_gets_its_own_width(more: float, shape: str) -> None:
    width = 2 * RADIUS + more
    area = Region(rectangle(120, width) if shape == "straight" else bent_dado(width))
    cleared = run(area)
    check(cleared, area, radius=RADIUS)
    (wall,) = cleared.walls
    # The way is as much wider than a line as the dado is than the cutter, or by twice the hair that its centre may come
    # nearer to walls.
    wide = wall.signed_area / (wall.length / 2)
    assert more - 0.0005 <= wide <= more + (0.0005 if shape == "straight" and more >= 0.001 else 0.008)
    assert not any(one.lost for one in cleared.unreached)
    assert cleared.allowance <= max(more / 2, 1e-9)


def test_a_room_with_a_branch_of_the_cutters_width_keeps_the_branch() -> None:
    area = Region(polyline([(0, 0), (40, 0), (40, 10), (80, 10), (80, 10 + 2 * RADIUS), (40, 10 + 2 * RADIUS),
                            (40, 40), (0, 40)]))  # fmt: skip
    cleared = run(area)
    check(cleared, area, radius=RADIUS)
    assert max(wall.bounds[2] for wall in cleared.walls) == pytest.approx(80 - RADIUS, abs=0.01)
    assert not any(one.lost for one in cleared.unreached)


def test_less_wood_is_left_on_walls_where_all_would_close_a_branch() -> None:
    for width, left in ((20.0, 0.3), (2 * RADIUS + 0.4, 0.15), (2 * RADIUS + 0.1, 0.0375), (2 * RADIUS, 0.0)):
        assert run(Region(rectangle(100, width))).allowance == pytest.approx(left)


def test_a_branch_that_all_the_allowance_would_close_is_cleared_roughly_too() -> None:
    wide = 2 * RADIUS + 0.4
    area = Region(polyline([(0, 0), (40, 0), (40, 10), (80, 10), (80, 10 + wide), (40, 10 + wide), (40, 40), (0, 40)]))
    cleared = run(area)
    assert cleared.allowance == pytest.approx(0.15)
    assert max(chain(way.path).bounds[2] for way in cleared.clearings) == pytest.approx(80 - RADIUS - 0.15, abs=0.01)


def test_no_link_leads_through_a_wall() -> None:
    """Two rings in the legs of a U, 14 apart; the wall between them is 4 thick."""
    room = Region(polyline([(0, 0), (44, 0), (44, 40), (24, 40), (24, 10), (20, 10), (20, 40), (0, 40)]))
    left, right = Loop(circle((10, 30), 5)), Loop(circle((34, 30), 5))
    assert Room([room]).link(left, 0.0, right, stepover=20.0) is None
    link = Room([Region(rectangle(44, 40))]).link(left, 3.0, right, stepover=20.0)
    assert link is not None
    assert link.line.start == pytest.approx(left.point(link.leave))
    assert link.line.end == pytest.approx(right.point(link.arrive))
    assert 14 <= link.line.length < 30


def test_square_corners_are_told_with_their_size_and_are_no_loss() -> None:
    cleared = run(SHAPES["rectangle"])
    assert len(cleared.unreached) == 4
    for one in cleared.unreached:
        assert not one.lost
        # Chords and the hair by which what is cut is taken larger, along the corner's arc.
        assert one.area == pytest.approx(corner_rest(RADIUS), abs=0.006 * RADIUS * math.pi / 2 + 0.01)
        assert one.depth == pytest.approx(RADIUS * (math.sqrt(2) - 1), abs=0.02)


def test_a_neck_too_narrow_is_lost_and_told_with_its_place_and_width() -> None:
    area = Region(dumbbell(5))
    cleared = run(area)
    check(cleared, area, radius=RADIUS)
    (neck,) = [one for one in cleared.unreached if one.lost]
    assert neck.width == pytest.approx(5.0, abs=0.2)
    assert 40 < neck.at[0] < 70
    assert neck.at[1] == pytest.approx(20, abs=0.2)
    # Between the rooms' discs, which reach a little into the neck.
    assert 100 < neck.area < 150
    assert len(cleared.walls) == 2


def test_a_pocket_too_narrow_for_the_cutter_is_lost_whole() -> None:
    cleared = run(Region(rectangle(50, 5)))
    assert cleared.clearings == ()
    assert cleared.walls == ()
    (whole,) = cleared.unreached
    assert whole.lost
    assert whole.area == pytest.approx(250)
    assert whole.width == pytest.approx(5, abs=0.05)


def test_the_widest_cutter_that_loses_only_corners() -> None:
    sizes = [3.175, 6.35, 12.7, 25.4]
    assert widest_reaching(Region(rectangle(100, 60)), diameters=sizes) == 25.4
    assert widest_reaching(Region(rectangle(100, 12.7)), diameters=sizes) == 12.7
    assert widest_reaching(Region(dumbbell(10)), diameters=sizes) == 6.35
    assert widest_reaching(Region(rectangle(100, 60), (at(rectangle(20, 15), 4, 20),)), diameters=sizes) == 3.175
    assert widest_reaching(Region(rectangle(100, 3)), diameters=sizes) is None


def test_arcs_stay_arcs() -> None:
    (way,) = run(SHAPES["disc"]).clearings
    assert sum(isinstance(segment, Arc) for segment in way.path) > 0.9 * len(way.path) - 20
    assert len(way.path) < 100
    crossed = run(Region(rectangle(100, 60), (circle((90, 30), 8),)))
    assert sum(len(wall.segments) for wall in crossed.walls) < 12


@pytest.mark.parametrize(("keys", "word"), [({"stepover": 4.0}, "stepover"), ({"allowance": 4.0}, "allowance")])
def test_a_step_over_the_radius_is_refused(keys: dict[str, float], word: str) -> None:
    with pytest.raises(ValueError, match=word):
        run(SHAPES["rectangle"], **keys)


@pytest.mark.parametrize("angle", [10.0, 20.0, 30.0])
def test_the_sharp_tip_of_a_pocket_is_left_round_and_a_narrow_branch_is_lost(angle: float) -> None:
    """A triangle whose tip keeps r (1 / sin(a/2) - 1)."""
    half = math.radians(angle) / 2
    area = Region(polyline([(0, 0), (60, 0), (30, 30 / math.tan(half))]))
    cleared = run(area)
    check(cleared, area, radius=RADIUS)
    tip = cleared.unreached[0]
    assert tip.depth == pytest.approx(RADIUS * (1 / math.sin(half) - 1), rel=0.02)
    assert not any(one.lost for one in cleared.unreached)
    branch = run(Region(polyline([(0, 0), (60, 0), (60, 40), (33, 40), (33, 90), (28, 90), (28, 40), (0, 40)])))
    assert any(one.lost for one in branch.unreached)
