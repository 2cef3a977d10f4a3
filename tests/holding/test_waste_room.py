from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from cutjob.holding.hold_downs import WasteRoom

CLEAR, EDGE = 11.0, 6.0
NEAR = 0.5  # mm
EXACT = 1e-6  # mm: sums and differences of floats up to some hundreds
STEP = 1.0  # mm
BOARD = shapely.box(0, 0, 300, 100).difference(shapely.box(0, 0, 40, 20))


def mm(least: float, most: float) -> st.SearchStrategy[float]:
    """Lengths to 1/8 mm, so that edges meet; no smaller numbers, by which GEOS divides."""
    return st.integers(math.ceil(least * 8), math.floor(most * 8)).map(lambda eighths: eighths / 8)


AREAS = st.lists(
    st.tuples(mm(-20, 300), mm(-20, 100), mm(3, 150), mm(3, 80), mm(0, 90)),
    max_size=5,
).map(lambda rows: [shapely.affinity.rotate(shapely.box(x, y, x + a, y + b), turn) for x, y, a, b, turn in rows])


def grid(x0: float, x1: float, y0: float, y1: float) -> np.ndarray:
    xs, ys = np.meshgrid(np.arange(x0, x1 + EXACT, STEP), np.arange(y0, y1 + EXACT, STEP))
    return np.stack([xs.ravel(), ys.ravel()], axis=1)


def rooms(busy: list[Polygon], points: np.ndarray) -> np.ndarray:
    """By plain distances: the nearest rim, and how deep inside."""
    at = shapely.points(points)
    taken = shapely.union_all(busy)
    depth = shapely.distance(shapely.boundary(taken), at) if busy else np.inf
    from_taken = np.where(shapely.contains(taken, at), -depth, depth)
    from_rim = shapely.distance(shapely.boundary(BOARD), at) * np.where(shapely.contains(BOARD, at), 1, -1)
    return np.minimum(from_taken - CLEAR, from_rim - EDGE)


@given(AREAS)
@settings(max_examples=25)
def test_the_room_is_that_of_plain_distances(busy: list[Polygon]) -> None:
    points = grid(-10, 310, -10, 110)[::37]
    assert WasteRoom(BOARD, busy, clear=CLEAR, edge=EDGE).at(points) == pytest.approx(rooms(busy, points), abs=EXACT)


@given(AREAS)
@settings(max_examples=25)
def test_what_is_free_has_room_and_what_has_room_is_free(busy: list[Polygon]) -> None:
    room = WasteRoom(BOARD, busy, clear=CLEAR, edge=EDGE)
    corners = shapely.get_coordinates(room.free)
    assert (room.at(corners) >= 0).all()
    points = grid(-10, 310, -10, 110)[::37]
    free = shapely.contains_xy(room.free, points)
    assert free[rooms(busy, points) > 0.01].all()
    assert not free[rooms(busy, points) < 0].any()


@given(AREAS, mm(0, 200), mm(20, 100))
@settings(max_examples=25)
def test_no_point_of_a_grid_is_roomier_than_the_roomiest(busy: list[Polygon], first: float, length: float) -> None:
    room = WasteRoom(BOARD, busy, clear=CLEAR, edge=EDGE)
    most = rooms(busy, grid(first, first + length, 0, 100)).max()
    assert room.most(first, first + length, near=NEAR) >= most - NEAR - EXACT
    found = room.roomiest(np.array([[first, first + length, 0, 100]]), near=NEAR, enough=np.inf)
    if most > NEAR:
        assert len(found) == 1
    if len(found):
        assert first <= found[0, 0] <= first + length
        assert rooms(busy, found)[0] >= max(0, most - NEAR) - EXACT
    if most > NEAR:
        (enough,) = rooms(busy, room.roomiest(np.array([[first, first + length, 0, 100]]), near=NEAR, enough=NEAR))
        assert enough >= min(NEAR, most - NEAR) - EXACT


@given(AREAS)
@settings(max_examples=25)
def test_along_the_stretches_that_have_something_free_lie_free_points(busy: list[Polygon]) -> None:
    room = WasteRoom(BOARD, busy, clear=CLEAR, edge=EDGE)
    spans = room.spans()
    assert all(one[1] < other[0] for one, other in pairwise(spans))
    xs = [x for a, b in spans for x in (a, (a + b) / 2, b)]
    found = room.along(xs)
    assert len(found) == len(xs)
    assert (room.at(found) >= -EXACT).all()
    free = grid(0, 300, 0, 100)
    free = free[rooms(busy, free) > 0.01]
    assert all(any(a <= x <= b for a, b in spans) for x in np.unique(free[:, 0]))


def test_several_busy_areas_apart_all_count() -> None:
    busy = [shapely.box(60, 40, 80, 60), shapely.box(200, 40, 220, 60)]
    room = WasteRoom(BOARD, busy, clear=CLEAR, edge=EDGE)
    found = room.at(np.array([[70, 50], [210, 45], [140, 50], [100, 50]]))
    assert found == pytest.approx([-10 - CLEAR, -5 - CLEAR, 50 - EDGE, 20 - CLEAR], abs=EXACT)
