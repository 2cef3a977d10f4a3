from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from cutjob.geometry.contour import Contour, circle, rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.layout.search.outline import UNITS, Extent, ring_points, simplified
from tests.layout.makers import contours, slot

# Shapely's polygons below follow arcs to FINE mm, from inside; whole units add a few hundred-thousandths.
FINE = 1e-4
ROUNDING = 3 / UNITS


@settings(max_examples=40, deadline=None)
@given(contours)
def test_a_grown_ring_covers_its_contour_and_a_shrunk_one_lies_within(contour: Contour) -> None:
    exact = to_polygon(contour, deviation=FINE)
    grown = Polygon(ring_points(contour, 0.05, grow=True))
    shrunk = Polygon(ring_points(contour, 0.05, grow=False))
    assert grown.buffer(FINE + ROUNDING).covers(exact)
    assert exact.buffer(FINE + ROUNDING).covers(shrunk)
    assert grown.hausdorff_distance(exact) < 0.06
    assert shrunk.hausdorff_distance(exact) < 0.06


@settings(max_examples=40, deadline=None)
@given(contours)
def test_a_simplified_ring_covers_what_it_was_and_stays_near(contour: Contour) -> None:
    points = ring_points(contour, 0.02, grow=True)
    ring = simplified(points, 0.1)
    assert Polygon(ring).is_valid
    assert Polygon(ring).buffer(ROUNDING).covers(Polygon(points))
    assert len(ring) <= len(points)
    # Each of four passes may move a line by its own share: 0.1 x (1 + 1/2 + 1/4 + 1/8), sharp corners a little more.
    assert Polygon(ring).area - Polygon(points).area < 0.25 * contour.length


def test_simplifying_leaves_fewer_corners_on_curves_and_straight_sides_alone() -> None:
    points = ring_points(circle((0, 0), 50), 0.01, grow=True)
    assert len(simplified(points, 0.1)) < len(points) / 2
    corners = ring_points(rectangle(80, 30), 0.01, grow=True)
    assert sorted(simplified(corners, 0.1)) == sorted(corners)


@settings(max_examples=40, deadline=None)
@given(contours, st.floats(0, 2 * math.pi))
def test_extent_is_exact_in_every_direction(contour: Contour, angle: float) -> None:
    direction = (math.cos(angle), math.sin(angle))
    dense = min(x * direction[0] + y * direction[1] for x, y in contour.points(1e-6))
    assert Extent(contour).least(direction) == pytest.approx(dense, abs=2e-6)
    assert Extent(contour).least(direction) <= dense + 1e-12


def test_extent_of_a_bar_with_round_ends() -> None:
    extent = Extent(slot(100, 30))
    assert extent.least((1.0, 0.0)) == pytest.approx(-15.0)
    assert extent.least((-1.0, 0.0)) == pytest.approx(-115.0)
