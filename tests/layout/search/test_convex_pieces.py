"""Convex pieces against shapely: they cover the polygon, nothing more, and each is convex."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from cutjob.layout.search.bodies import convex_pieces

_AREA = 1e-7  # share of the area: corners are rounded to a thousand-millionth of the extent


def star(radii: list[float]) -> Polygon:
    """A polygon that never crosses itself: one corner at each radius, evenly round the origin."""
    step = 2 * math.pi / len(radii)
    return Polygon([(r * math.cos(k * step), r * math.sin(k * step)) for k, r in enumerate(radii)])


stars = st.lists(st.floats(1.0, 10.0), min_size=3, max_size=24).map(star)


@given(stars, st.booleans())
def test_pieces_cover_the_polygon_and_no_more(polygon: Polygon, with_hole: bool) -> None:
    if with_hole:
        polygon = polygon.difference(shapely.Point(0.05, 0.02).buffer(0.3, quad_segs=3))
        if not isinstance(polygon, Polygon):
            return
    pieces = [Polygon(corners) for corners in convex_pieces(polygon)]
    assert sum(piece.area for piece in pieces) == pytest.approx(polygon.area, rel=_AREA)
    assert shapely.union_all(pieces).symmetric_difference(polygon).area <= _AREA * polygon.area
    for piece in pieces:
        assert piece.exterior.is_ccw
        assert piece.convex_hull.area == pytest.approx(piece.area, rel=1e-6)


def test_a_convex_polygon_is_one_piece_without_corners_on_straight_edges() -> None:
    (piece,) = convex_pieces(Polygon([(0, 0), (5, 0), (10, 0), (10, 4), (0, 4)]))
    assert len(piece) == 4


def test_one_inside_corner_makes_two_pieces() -> None:
    pieces = convex_pieces(Polygon([(0, 0), (6, 0), (6, 2), (2, 2), (2, 5), (0, 5)]))
    assert len(pieces) == 2


def test_corners_run_counter_clockwise_whichever_way_the_ring_runs() -> None:
    ring = [(0.0, 0.0), (0.0, 3.0), (4.0, 3.0), (4.0, 0.0)]
    assert Polygon(ring).exterior.is_ccw is False
    (piece,) = convex_pieces(Polygon(ring))
    assert Polygon(piece).exterior.is_ccw
    assert np.allclose(sorted(map(tuple, piece)), sorted(ring))


def test_corners_that_nearly_coincide_are_one() -> None:
    """A slit that closes to a point, as differences of outlines leave it: no piece may lose a corner of its own."""
    shell = [(0.0, 0.0), (40.0, 0.0), (2.85, 101.2), (780.0, 135.5), (0.0, 135.5)]
    slit = [(2.1052303970441493, 103.21229468624655), (2.10523039704415, 103.21229468624655), (700.0, 133.0)]
    polygon = Polygon(shell, [slit])
    pieces = [Polygon(corners) for corners in convex_pieces(polygon)]
    assert sum(piece.area for piece in pieces) == pytest.approx(polygon.area, rel=1e-6)
