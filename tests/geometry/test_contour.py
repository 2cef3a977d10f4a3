"""Closed chains: area, perimeter, direction, and what is no contour."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.contour import Contour, Region, circle, closed, polyline, rectangle, regular_angles
from cutjob.geometry.segment import Arc, Line
from cutjob.tolerances import TOLERANCES
from tests.assertions import fine_polygon
from tests.strategies import convex, star_shaped


@given(st.one_of(convex(), star_shaped()))
@settings(max_examples=60, deadline=None)
def test_area_and_perimeter_are_those_of_a_fine_polygon(contour: Contour) -> None:
    """GEOS measures the polygon; its chords of 1e-5 mm lie off by no more than that all along."""
    polygon = fine_polygon(contour)
    assert abs(contour.signed_area) == pytest.approx(polygon.area, abs=1e-5 * contour.length + 1e-6)
    assert contour.length == pytest.approx(polygon.length, rel=1e-6)
    assert contour.bounds == pytest.approx(polygon.bounds, abs=2e-5)


@given(star_shaped())
def test_direction(contour: Contour) -> None:
    back = contour.reversed()
    assert back.signed_area == pytest.approx(-contour.signed_area)
    assert back.length == pytest.approx(contour.length)
    assert contour.turned(counter_clockwise=True).signed_area > 0 > contour.turned(counter_clockwise=False).signed_area
    assert contour.turned(counter_clockwise=contour.signed_area > 0) is contour


@given(st.floats(-100, 100), st.floats(-100, 100), st.floats(0.01, 500))
def test_a_circle_is_exact(x: float, y: float, radius: float) -> None:
    ring = circle((x, y), radius)
    assert ring.signed_area == pytest.approx(math.pi * radius**2, rel=1e-6)
    assert ring.length == pytest.approx(2 * math.pi * radius, rel=1e-6)
    found = ring.reversed().circle()
    assert found is not None
    assert found[0] == (x, y)
    assert found[1] == pytest.approx(radius, rel=1e-9)


def test_what_is_no_circle() -> None:
    assert rectangle(10, 5).circle() is None
    half = Arc((10.0, 0.0), (-10.0, 0.0), (0.0, 0.0), False)
    assert Contour((half, Line((-10.0, 0.0), (10.0, 0.0)))).circle() is None
    lens = Contour((half, Arc((-10.0, 0.0), (10.0, 0.0), (0.0, 0.1), False)))
    assert lens.circle() is None


def test_what_is_no_contour() -> None:
    with pytest.raises(ValueError, match="at least two"):
        Contour((Line((0, 0), (1, 0)),))
    with pytest.raises(ValueError, match="open between"):
        Contour((Line((0, 0), (1, 0)), Line((1, 1e-4), (0, 0))))
    with pytest.raises(ValueError, match="three different points"):
        polyline([(0, 0), (1, 1), (0, 0), (0, 0)])


def test_repeated_points_are_dropped() -> None:
    corners = [(0.0, 0.0), (0.0, 0.0), (10.0, 0.0), (10.0, 5.0), (10.0, 5.0 + 5e-7), (0.0, 5.0), (0.0, 0.0)]
    assert len(polyline(corners).segments) == 4
    assert polyline(corners).signed_area == pytest.approx(50.0)


def test_ends_that_almost_meet_are_joined() -> None:
    off = TOLERANCES.same_point / 4
    chain = [Line((0, 0), (10, off)), Line((10, 0), (10 + off / 2, 0)), Line((10, 0), (5, 8)), Line((5, 8), (-off, 0))]
    contour = closed(chain)
    assert len(contour.segments) == 3
    assert all(a.end == b.start for a, b in zip(contour.segments, contour.segments[1:], strict=False))
    assert contour.segments[-1].end == contour.segments[0].start


def test_a_region_turns_its_contours() -> None:
    hole = circle((5, 5), 2)
    region = Region(rectangle(10, 10).reversed(), (hole,))
    assert region.outline.signed_area == 100
    assert region.holes[0].signed_area == pytest.approx(-4 * math.pi)
    assert region.area == pytest.approx(100 - 4 * math.pi)
    assert region.contours == (region.outline, *region.holes)
    assert region.bounds == (0, 0, 10, 10)


def test_equal_steps_round_a_circle() -> None:
    assert regular_angles(4) == pytest.approx([math.pi / 2, math.pi, 3 * math.pi / 2, 2 * math.pi])
    assert regular_angles(3, 0.0) == pytest.approx([0, 2 * math.pi / 3, 4 * math.pi / 3])
