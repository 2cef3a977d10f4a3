"""What a round cutter leaves in corners and slots, against closed forms."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.reach import goes_all_round, uncut_corners
from cutjob.geometry.contour import Contour, Region, circle, polyline, rectangle
from cutjob.geometry.offset import offset
from cutjob.geometry.transform import Transform
from cutjob.tolerances import TOLERANCES
from tests.layout.makers import ell, slot, star
from tests.strategies import convex, star_shaped

# Polygons of circles lie within this of them; along the two sides and the arc of a corner that adds up to little area.
CHORD = TOLERANCES.reach_chord


def corner_rest(radius: float, angle: float) -> float:
    """Wood left in an inside corner: r^2 (cot(a/2) - (pi - a)/2), the kite of two tangents less its sector."""
    return radius**2 * (1 / math.tan(angle / 2) - (math.pi - angle) / 2)


@pytest.mark.parametrize("angle", [30.0, 45.0, 60.0, 90.0])
@pytest.mark.parametrize("radius", [1.5, 3.175, 4.7625])
def test_rest_in_an_inside_corner(angle: float, radius: float) -> None:
    """A notch of `angle` as deep as it takes to be wider than the cutter at its mouth."""
    half = math.radians(angle) / 2
    depth = 8 * radius / math.sin(half)
    wide = depth * math.tan(half)
    notched = polyline([(-wide - 5, 0), (wide + 5, 0), (wide + 5, depth), (wide, depth), (0, 5), (-wide, depth),
                        (-wide - 5, depth)])  # fmt: skip
    true_half = math.atan2(wide, depth - 5)
    (rest,) = uncut_corners(Region(notched), radius=radius)
    assert rest.area == pytest.approx(corner_rest(radius, 2 * true_half), abs=4 * CHORD * radius)
    assert rest.depth == pytest.approx(radius / math.sin(true_half) - radius, abs=2 * CHORD)
    assert rest.at == pytest.approx((0.0, 5.0), abs=1e-9)
    assert not rest.lost


@pytest.mark.parametrize("radius", [1.5, 3.175, 4.7625])
def test_the_four_corners_of_a_window(radius: float) -> None:
    window = Transform(x=20, y=20).contour(rectangle(40, 30))
    found = uncut_corners(Region(rectangle(90, 80), (window,)), radius=radius)
    assert len(found) == 4
    assert {tuple(round(c, 6) for c in rest.at) for rest in found} == {(20, 20), (60, 20), (60, 50), (20, 50)}
    for rest in found:
        assert rest.area == pytest.approx(corner_rest(radius, math.pi / 2), abs=4 * CHORD * radius)
        assert not rest.lost


@given(convex(), st.floats(0.5, 10))
@settings(max_examples=30, deadline=None)
def test_a_convex_outline_is_reached_everywhere(shape: Contour, radius: float) -> None:
    assert uncut_corners(Region(shape), radius=radius) == ()


def test_round_holes_and_rounded_windows_are_reached() -> None:
    host = Transform(x=-50, y=-50).contour(rectangle(100, 100))
    assert uncut_corners(Region(host, (circle((0, 0), 3.175),)), radius=3.175) == ()
    # Ends exactly as round as the cutter; a chord's error short of it may not be told as a corner.
    assert uncut_corners(Region(host, (slot(30, 6.4),)), radius=3.175) == ()


@pytest.mark.parametrize("scale", [0.5, 0.9, 0.99])
def test_a_slot_narrower_than_the_cutter_is_lost(scale: float) -> None:
    radius = 3.0
    host = Transform(x=-50, y=-50).contour(rectangle(100, 100))
    (rest,) = uncut_corners(Region(host, (slot(30, 2 * radius * scale),)), radius=radius)
    assert rest.lost
    assert rest.area == pytest.approx(30 * 2 * radius * scale + math.pi * (radius * scale) ** 2, rel=0.01)
    assert rest.at == pytest.approx((0.0, 0.0), abs=20)


def test_a_deep_bay_behind_a_narrow_mouth_is_lost() -> None:
    """A cutter of 6 can't enter a bay through a mouth of 5, though the bay itself is 20 wide."""
    bay = polyline([(0, 0), (60, 0), (60, 50), (32.5, 50), (32.5, 40), (40, 40), (40, 20), (20, 20), (20, 40),
                    (27.5, 40), (27.5, 50), (0, 50)])  # fmt: skip
    found = uncut_corners(Region(bay), radius=3.0)
    (mouth,) = [rest for rest in found if rest.lost]
    assert 40 < mouth.at[1] < 50
    assert mouth.area == pytest.approx(50, rel=0.2)
    assert len(found) == 1 + 4  # and the bay's corners


def test_a_waist_between_two_lobes_of_an_opening_is_lost() -> None:
    lobes = polyline([(0, 0), (20, 0), (20, 8), (35, 8), (35, 0), (55, 0), (55, 20), (35, 20), (35, 12), (20, 12),
                      (20, 20), (0, 20)])  # fmt: skip
    host = Transform(x=-20, y=-20).contour(rectangle(100, 60))
    found = uncut_corners(Region(host, (lobes,)), radius=3.0)
    (waist,) = [rest for rest in found if rest.lost]
    assert 20 < waist.at[0] < 35
    assert len([rest for rest in uncut_corners(Region(host, (lobes,)), radius=1.9) if rest.lost]) == 0


def test_depth_does_not_count_through_a_thin_wall() -> None:
    """A slot 30 deep that stops 4 short of the part's far side is lost, not 4 deep."""
    slotted = polyline([(0, 0), (40, 0), (40, 34), (22, 34), (22, 4), (18, 4), (18, 34), (0, 34)])
    (rest,) = uncut_corners(Region(slotted), radius=3.0)
    assert rest.lost
    assert rest.depth > 25


def test_rests_turn_and_mirror_with_the_part() -> None:
    shape = Region(ell(60, 40, 15))
    (before,) = uncut_corners(shape, radius=3.0)
    for transform in (Transform(degrees=90), Transform(degrees=180), Transform(mirrored=True)):
        (after,) = uncut_corners(transform.region(shape), radius=3.0)
        assert after.at == pytest.approx(transform.point(before.at), abs=1e-6)
        assert after.area == pytest.approx(before.area, rel=1e-6)


def test_every_notch_of_a_star_is_told() -> None:
    found = uncut_corners(Region(star(5, 50, 20)), radius=3.175)
    assert len(found) == 5
    assert all(math.hypot(*rest.at) == pytest.approx(20.0, abs=1e-6) for rest in found)
    assert max(r.area for r in found) == pytest.approx(min(r.area for r in found), rel=0.02)


def bent(inward: float, *, fillet: float = 0.0) -> Contour:
    """A wide piece whose upper edge turns inward by `inward` radians in its middle, with a fillet there if asked."""
    slope = math.tan(inward / 2) * 100
    sharp = polyline([(-100, 0), (100, 0), (100, 40 + slope), (0, 40), (-100, 40 + slope)])
    if not fillet:
        return sharp
    (opened,) = offset(sharp, fillet)
    (closed,) = offset(opened, -fillet)
    return closed


@pytest.mark.parametrize("radius", [1.5, 3.175, 6.0])
@pytest.mark.parametrize("depth", [0.03, 0.06, 0.2, 1.0])
def test_a_path_tells_by_its_length_whether_it_lost_a_corner(radius: float, depth: float) -> None:
    """A corner that turns inward by t keeps a cutter away by r (1 / cos(t/2) - 1)."""
    inward = 2 * math.acos(1 / (1 + depth / radius))
    paths = offset(bent(inward), radius)
    assert goes_all_round(bent(inward), paths, by=radius) == (depth < TOLERANCES.worth_telling / 2)
    # One rounded to more than the cutter is reached, however far it turns.
    rounded = bent(inward, fillet=radius + 0.5)
    assert goes_all_round(rounded, offset(rounded, radius), by=radius)


@given(star_shaped(), st.floats(0.5, 8))
@settings(max_examples=60, deadline=None)
def test_what_a_path_goes_all_round_has_no_rests(shape: Contour, radius: float) -> None:
    if goes_all_round(shape, offset(shape, radius), by=radius):
        assert uncut_corners(Region(shape), radius=radius) == ()


def test_a_bay_that_closes_up_is_not_gone_round() -> None:
    bay = polyline([(0, 0), (60, 0), (60, 50), (31, 50), (31, 40), (40, 40), (40, 20), (20, 20), (20, 40), (29, 40),
                    (29, 50), (0, 50)])  # fmt: skip
    assert not goes_all_round(bay, offset(bay, 3.0), by=3.0)
