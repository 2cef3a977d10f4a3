"""Sharp inside corners are left round, whatever their angle; what a cutter can't enter at all is lost."""

from __future__ import annotations

import math

import pytest

from cutjob.cuts.reach import UncutCorner, uncut_corners
from cutjob.geometry.contour import Contour, Region, polyline, rectangle
from cutjob.geometry.segment import Arc
from cutjob.geometry.transform import Transform
from cutjob.tolerances import TOLERANCES
from tests.layout.makers import star

HOST = Region(rectangle(400, 400))


def opening(contour: Contour, radius: float) -> tuple[UncutCorner, ...]:
    return uncut_corners(Region(HOST.outline, (Transform(x=150, y=150).contour(contour),)), radius=radius)


@pytest.mark.parametrize("radius", [0.05, 0.1, 0.4, 1.5875, 3.175])
@pytest.mark.parametrize("angle", [3.0, 5.0, 10.0, 20.0, 38.0, 39.0, 60.0])
def test_a_tip_is_left_round_however_sharp(angle: float, radius: float) -> None:
    """A triangle six times as wide at its base as the cutter: the tip keeps r (1 / sin(a/2) - 1)."""
    half = math.radians(angle) / 2
    base = 12 * radius
    found = opening(polyline([(0, 0), (base, 0), (base / 2, base / 2 / math.tan(half))]), radius)
    depth = radius * (1 / math.sin(half) - 1)
    assert not any(rest.lost for rest in found)
    assert bool(found) == (depth > TOLERANCES.worth_telling)
    if found:
        assert found[0].depth == pytest.approx(depth, rel=0.02, abs=0.02)


@pytest.mark.parametrize("radius", [0.1, 0.4, 3.0])
def test_a_star_of_many_points_loses_none(radius: float) -> None:
    found = uncut_corners(Region(star(24, 80, 55)), radius=radius)
    assert found
    assert not any(rest.lost for rest in found)


@pytest.mark.parametrize("radius", [0.1, 0.8])
def test_a_leaf_with_bent_sides_ends_in_two_tips(radius: float) -> None:
    """Two arcs of 40 that meet at 30 degrees."""
    end = (80 * math.sin(math.radians(15)), 0.0)
    middle = (end[0] / 2, 0.0)
    low = 40 * math.cos(math.radians(15))
    leaf = Contour(
        (
            Arc((0.0, 0.0), end, (middle[0], low), clockwise=False),
            Arc(end, (0.0, 0.0), (middle[0], -low), clockwise=False),
        )
    )
    found = opening(leaf, radius)
    assert len(found) == 2
    assert not any(rest.lost for rest in found)


@pytest.mark.parametrize("radius", [0.1, 3.0])
def test_tips_between_walls_that_bulge(radius: float) -> None:
    """The corner left between two rounds that touch, as under the branches of a letter."""
    r = 60 * radius
    cusp = Contour(
        (
            Arc((0.0, 0.0), (r, r), (r, 0.0), clockwise=True),
            *polyline([(r, r), (r, 1.5 * r), (-r, 1.5 * r), (-r, r)]).segments[:3],
            Arc((-r, r), (0.0, 0.0), (-r, 0.0), clockwise=True),
        )
    )
    (worst, *_) = uncut_corners(Region(rectangle(5, 5), (cusp,)), radius=radius)
    assert not worst.lost


@pytest.mark.parametrize("share", [0.5, 0.9, 0.98])
@pytest.mark.parametrize("radius", [0.1, 3.0])
def test_a_notch_too_narrow_for_the_cutter_is_lost(radius: float, share: float) -> None:
    """Straight or pointed: the cutter lies on the corners of its entry."""
    wide, deep = 2 * radius * share, 20 * radius
    straight = polyline([(0, 0), (deep, 0), (deep, 3 * deep), (deep / 2 + wide, 3 * deep), (deep / 2 + wide, 2 * deep),
                         (deep / 2, 2 * deep), (deep / 2, 3 * deep), (0, 3 * deep)])  # fmt: skip
    (rest,) = uncut_corners(Region(straight), radius=radius)
    assert rest.lost
    pointed = polyline([(0, 0), (deep, 0), (deep, 3 * deep), (deep / 2 + wide / 2, 3 * deep), (deep / 2, 2 * deep),
                        (deep / 2 - wide / 2, 3 * deep), (0, 3 * deep)])  # fmt: skip
    (rest,) = uncut_corners(Region(pointed), radius=radius)
    if share < 0.9:  # else it all but fits: either will do
        assert rest.lost


def test_a_slot_at_the_end_of_a_funnel_is_lost() -> None:
    """The cutter touches both walls of the funnel; the slot of 3 behind it is for no cutter of 6."""
    funnel = polyline([(0, 0), (100, 0), (100, 100), (80, 100), (51.5, 60), (51.5, 20), (48.5, 20), (48.5, 60),
                       (20, 100), (0, 100)])  # fmt: skip
    (worst, *_) = uncut_corners(Region(funnel), radius=3.0)
    assert worst.lost
    assert not any(rest.lost for rest in uncut_corners(Region(funnel), radius=1.5 - TOLERANCES.acceptance))
