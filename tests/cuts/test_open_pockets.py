"""Pockets opened where they meet the part's edge: the cutter runs out, corners stay beyond it, no wood is lost."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.clearing import clear, widest_reaching
from cutjob.cuts.open_pockets import opened
from cutjob.geometry.contour import Contour, Region, circle, polyline, rectangle
from cutjob.geometry.offset import offset
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Arc, Line
from cutjob.geometry.transform import Transform
from cutjob.parts.edge_pockets import ON_EDGE, with_trimmed_pockets
from cutjob.parts.part import Pocket, ShapedPart
from tests.cuts.pocket_shapes import FINE, chain, swept
from tests.strategies import star_shaped

RADIUS = 3.175
HAIR = 0.05
PUSH = RADIUS + HAIR
# mm2 that chords and rounding may make of no area at all, along edges of a few hundred mm.
NOTHING = 0.05

BOARD = Region(rectangle(300, 100))
DISC = Region(circle((0, 0), 60))


def rounded(length: float, width: float, radius: float) -> Region:
    (inner,) = offset(rectangle(length, width), -radius)
    (whole,) = offset(inner, radius)
    return Region(whole)


ROUNDED = rounded(200, 100, 12)


def at(contour: Contour, x: float, y: float) -> Contour:
    return Transform(x=x, y=y).contour(contour)


def pocket(outline: Contour, *islands: Contour) -> Pocket:
    return Pocket(region=Region(outline, islands), depth=5.0)


def trimmed(one: Pocket, part: Region) -> Pocket:
    """A pocket drawn beyond its part, as the cuts see it."""
    (found,) = with_trimmed_pockets(ShapedPart(name="part", region=part, pockets=(one,))).pockets
    return found


def leaning(angle: float, width: float = 30.0) -> Contour:
    """A dado across the board's 100 at an angle to its edge."""
    run = 100 / math.tan(math.radians(angle))
    return polyline([(50, 0), (50 + width, 0), (50 + width + run, 100), (50 + run, 100)])


def across_disc(half: float, radius: float = 60.0) -> Contour:
    x = math.sqrt(radius**2 - half**2)
    return Contour(
        (
            Line((-x, -half), (x, -half)),
            Arc((x, -half), (x, half), (0, 0), False),
            Line((x, half), (-x, half)),
            Arc((-x, half), (-x, -half), (0, 0), False),
        )
    )


def cut_floor(area: Region) -> shapely.Geometry:
    """All that a cutter sweeps of an area."""
    cleared = clear(area, radius=RADIUS, stepover=2.5, allowance=0.3, counter_clockwise_walls=True, along="outward")
    lines = [chain(way.path) for way in cleared.clearings] + [chain(wall.segments) for wall in cleared.walls]
    return swept(lines, RADIUS)


OPEN = {
    "dado across": (at(rectangle(20, 100), 100, 0), BOARD),
    "dado of the cutter's width": (at(rectangle(2 * RADIUS, 100), 100, 0), BOARD),
    "rebate along": (rectangle(300, 15), BOARD),
    "whole face": (rectangle(300, 100), BOARD),
    "dado across a disc": (across_disc(10), DISC),
    "whole disc": (circle((0, 0), 60), DISC),
    "dado drawn beyond": (at(rectangle(20, 140), 100, -20), BOARD),
    "dado drawn a little beyond": (at(rectangle(20, 102), 100, -1), BOARD),
    "rebate square over rounded corners": (rectangle(17, 100), ROUNDED),
    "narrow rebate over rounded corners": (rectangle(7, 100), ROUNDED),
    "rebate over rounded corners, drawn beyond": (at(rectangle(20, 104), -3, -2), ROUNDED),
    "square round a disc": (at(rectangle(120, 120), -60, -60), DISC),
    "half of a disc": (at(rectangle(70, 140), -70, -70), DISC),
    **{f"dado at {angle}": (leaning(angle), Region(rectangle(400, 100))) for angle in (30, 45, 60, 75, 120)},
}


@pytest.mark.parametrize("name", OPEN)
def test_all_of_an_open_pocket_is_cut_and_nothing_else_of_the_part(name: str) -> None:
    outline, part = OPEN[name]
    area = opened(trimmed(pocket(outline), part), part, by=PUSH)
    wood, floor = to_polygon(part, deviation=FINE), to_polygon(outline, deviation=FINE)
    cut = cut_floor(area)
    assert floor.intersection(wood).difference(cut).area < NOTHING
    # 0.01 for a groove of the cutter's own width, and the chords.
    assert cut.intersection(wood).difference(floor.buffer(0.01)).area < NOTHING
    beyond = shapely.distance(shapely.points(shapely.get_coordinates(cut)), wood).max()
    assert beyond <= 2 * PUSH


def test_a_square_dado_is_pushed_by_just_what_is_asked_at_both_ends() -> None:
    area = opened(pocket(at(rectangle(20, 100), 100, 0)), BOARD, by=PUSH)
    assert area.bounds == pytest.approx((100, -PUSH, 120, 100 + PUSH))
    assert area.area == pytest.approx(20 * (100 + 2 * PUSH))


def test_a_rebate_along_an_edge_is_mitred_at_the_parts_corners() -> None:
    area = opened(pocket(rectangle(300, 15)), BOARD, by=PUSH)
    assert area.bounds == pytest.approx((-PUSH, -PUSH, 300 + PUSH, 15))
    assert area.area == pytest.approx((300 + 2 * PUSH) * (15 + PUSH))


def test_arcs_on_the_edge_stay_arcs_about_their_centre() -> None:
    area = opened(pocket(across_disc(10)), DISC, by=PUSH)
    arcs = [segment for segment in area.outline.segments if isinstance(segment, Arc)]
    assert len(arcs) == 2
    assert all(arc.radius == pytest.approx(60 + PUSH) and arc.centre == (0, 0) for arc in arcs)
    # The two ends: a slice of the ring between the radii, as wide as the dado is seen from the centre.
    ends = 2 * math.asin(10 / 60) * ((60 + PUSH) ** 2 - 60**2)
    assert area.area == pytest.approx(Region(across_disc(10)).area + ends, rel=1e-9)
    whole = opened(pocket(circle((0, 0), 60)), DISC, by=PUSH).outline.circle()
    assert whole == ((0, 0), pytest.approx(60 + PUSH))


def test_a_pocket_within_the_part_is_returned_as_it_is() -> None:
    inner = pocket(at(rectangle(20, 50), 100, 20), at(rectangle(5, 5), 105, 30))
    assert opened(inner, BOARD, by=PUSH) is inner.region


@pytest.mark.parametrize("beyond", [0.005, 1.0, PUSH, 20.0])
def test_what_is_drawn_beyond_the_edge_is_pushed_as_if_it_ended_there(beyond: float) -> None:
    dado = pocket(at(rectangle(20, 100 + 2 * beyond), 100, -beyond))
    drawn = opened(trimmed(dado, BOARD), BOARD, by=PUSH)
    assert drawn.area == pytest.approx(20 * (100 + 2 * PUSH), abs=40 * ON_EDGE)
    rebate = pocket(at(rectangle(17 + beyond, 100 + 2 * beyond), -beyond, -beyond))
    over = opened(trimmed(rebate, ROUNDED), ROUNDED, by=PUSH)
    arcs = {(one.centre, round(one.radius, 6)) for one in over.outline.segments if isinstance(one, Arc)}
    if beyond > ON_EDGE:  # nearer than that there is a step from the drawing's line to the part's: polygons are taken
        assert arcs == {((12, 12), 12 + PUSH), ((12, 88), 12 + PUSH)}
    assert over.area == pytest.approx(
        (17 + PUSH) * (100 + 2 * PUSH) - 2 * (1 - math.pi / 4) * (12 + PUSH) ** 2, abs=200 * ON_EDGE
    )


def test_islands_stay() -> None:
    island = at(rectangle(5, 30), 107, 30)
    area = opened(pocket(at(rectangle(20, 100), 100, 0), island), BOARD, by=PUSH)
    assert area.holes == (island.reversed(),)


@pytest.mark.parametrize("off", [0.009, -0.009])
def test_an_outline_a_hair_off_the_edge_lies_on_it(off: float) -> None:
    area = opened(pocket(polyline([(100, off), (120, off), (120, 50), (100, 50)])), BOARD, by=PUSH)
    assert area.bounds[1] == pytest.approx(off - PUSH, abs=1e-9)


def test_an_outline_well_off_the_edge_or_facing_it_does_not() -> None:
    near = pocket(polyline([(100, 0.05), (120, 0.05), (120, 50), (100, 50)]))
    assert opened(near, BOARD, by=PUSH) is near.region
    # Lies beyond the part: its own inside is on the other side of the edge.
    back = pocket(polyline([(100, -20), (120, -20), (120, 0), (100, 0)]))
    assert opened(back, BOARD, by=PUSH) is back.region


def test_only_the_shared_stretch_of_a_line_is_pushed() -> None:
    """The part's edge ends in the middle of the pocket's."""
    part = Region(polyline([(0, 0), (100, 0), (100, -30), (200, -30), (200, 60), (0, 60)]))
    area = opened(pocket(polyline([(80, 0), (120, 0), (120, 40), (80, 40)])), part, by=PUSH)
    assert to_polygon(area).difference(shapely.box(80, 0, 120, 40)).bounds == pytest.approx(
        (80, -PUSH, 100, 0), abs=1e-6
    )


@pytest.mark.parametrize("push", [PUSH, 6.0])
def test_the_far_side_of_a_narrow_bay_is_not_cut(push: float) -> None:
    part = Region(polyline([(0, 0), (100, 0), (100, 80), (52, 80), (52, 20), (48, 20), (48, 80), (0, 80)]))
    area = opened(pocket(polyline([(0, 40), (48, 40), (48, 60), (0, 60)])), part, by=push)
    wood = to_polygon(part).difference(shapely.box(0, 40, 48, 60))
    assert to_polygon(area).intersection(wood).area < NOTHING
    assert area.bounds[0] == pytest.approx(-push)
    assert area.bounds[2] == pytest.approx(min(48 + push, 52), abs=0.001)


def test_a_round_bay_too_tight_for_the_push_is_filled() -> None:
    bay = Arc((52, 60), (48, 60), (50, 60), True)
    part = Region(
        Contour((Line((0, 0), (100, 0)), Line((100, 0), (100, 60)), Line((100, 60), (52, 60)), bay,
                 Line((48, 60), (0, 60)), Line((0, 60), (0, 0))))
    )  # fmt: skip
    shape = Contour((Line((20, 30), (80, 30)), Line((80, 30), (80, 60)), Line((80, 60), (52, 60)), bay,
                     Line((48, 60), (20, 60)), Line((20, 60), (20, 30))))  # fmt: skip
    area = opened(pocket(shape), part, by=PUSH)
    assert to_polygon(area).area == pytest.approx(60 * (30 + PUSH), abs=NOTHING)


@given(st.floats(20, 160), st.floats(2 * RADIUS + 0.001, 40), st.floats(0, 360), st.booleans(), st.floats(RADIUS, 8))
@settings(max_examples=40, deadline=None)
def test_any_dado_across_a_board_however_it_lies(
    angle: float, width: float, turn: float, mirrored: bool, push: float
) -> None:
    place = Transform(x=30, y=-20, degrees=turn, mirrored=mirrored)
    part = place.region(Region(at(rectangle(900, 100), -300, 0)))
    outline = place.contour(leaning(angle, width / math.sin(math.radians(angle))))
    area = opened(Pocket(region=Region(outline), depth=5.0), part, by=push + HAIR)
    wood, floor, whole = to_polygon(part), to_polygon(outline), to_polygon(area)
    assert floor.difference(whole.buffer(1e-6)).area < NOTHING
    assert whole.difference(floor).intersection(wood).area < NOTHING
    cleared = clear(
        area, radius=push, stepover=push, allowance=0, counter_clockwise_walls=True, along="outward"
    ) if width > 2 * push + 0.01 else None  # fmt: skip
    if cleared is not None:
        # Corners the cutter leaves all lie beyond the edge, but for chords.
        uncut_corners = [one for one in cleared.unreached if wood.distance(shapely.Point(one.at)) == 0]
        assert uncut_corners == []


@given(star_shaped(), st.floats(0, 180), st.floats(0.05, 12), st.sampled_from([1.5875, RADIUS, 4.7625]))
@settings(max_examples=60, deadline=None)
def test_a_dado_over_any_edge_is_reached_to_the_ends_of_its_walls(
    outline: Contour, turn: float, more: float, radius: float
) -> None:
    part, width = Region(outline), 2 * radius + more
    strip = Transform(degrees=turn).contour(at(rectangle(400, width), -200, -width / 2))
    pockets = with_trimmed_pockets(ShapedPart(name="part", region=part, pockets=(pocket(strip),))).pockets
    wood = to_polygon(part, deviation=FINE)
    for one in pockets:
        area = to_polygon(opened(one, part, by=radius + HAIR), deviation=FINE)
        floor = to_polygon(one.region, deviation=FINE)
        # Grown by a cutter's radius from wherever its middle may be, by a hair less for the chords of round corners.
        reached = area.buffer(-radius + 0.01, quad_segs=64).buffer(radius, quad_segs=64)
        lost = floor.difference(reached)
        assert lost.area < NOTHING
        assert area.difference(floor.buffer(ON_EDGE)).intersection(wood).area < NOTHING


def test_a_corner_that_is_open_for_less_than_the_cutter_is_no_plain_corner() -> None:
    """The part's edge cuts 1 mm off a pocket's corner: the cutter can't run out there, nor round it off."""
    part = Region(polyline([(0, 0), (100, 0), (100, 28), (78, 50), (0, 50)]))
    one = trimmed(pocket(polyline([(20, 20), (80, 20), (80, 50 - 0.001), (20, 50 - 0.001)])), part)
    chamfered = polyline([(20, 20), (80, 20), (80, 47), (79, 48), (20, 48)])
    cut = Region(polyline([(0, 0), (100, 0), (100, 27), (79, 48), (79, 80), (0, 80)]))
    both = pocket(chamfered)
    wood = to_polygon(cut)
    wide, thin = 2 * RADIUS, 1.0
    area = opened(both, cut, by=RADIUS + HAIR)
    assert widest_reaching(area, diameters=[wide], wood=wood) is None
    area = opened(both, cut, by=thin / 2 + HAIR)
    assert widest_reaching(area, diameters=[thin], wood=wood) == thin
    # Where the whole end is open it is not lost, however little of the corners beyond the edge is reached.
    area = opened(one, part, by=RADIUS + HAIR)
    assert widest_reaching(area, diameters=[wide], wood=to_polygon(part)) == wide
