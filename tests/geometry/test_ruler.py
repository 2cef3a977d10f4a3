"""Lengths along a chain: places, pieces, and going round again."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.contour import Contour, circle, rectangle
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Line, distance
from cutjob.tolerances import TOLERANCES
from tests.strategies import star_shaped

CLOSE = 2 * TOLERANCES.same_point  # slivers shorter than that are left out at either end


@given(star_shaped(), st.floats(-300, 900), st.floats(1e-4, 300))
@settings(max_examples=150, deadline=None)
def test_a_piece_is_as_long_as_asked_and_begins_and_ends_there(path: Contour, first: float, run: float) -> None:
    ruler = Ruler(path.segments)
    run = min(run, ruler.length)
    piece = ruler.piece(first, first + run)
    assert sum(segment.length for segment in piece) == pytest.approx(run, abs=CLOSE)
    assert distance(piece[0].start, ruler.point(first)) <= CLOSE
    assert distance(piece[-1].end, ruler.point(first + run)) <= CLOSE
    for before, after in itertools.pairwise(piece):
        assert distance(before.end, after.start) <= CLOSE
    assert min(segment.length for segment in piece) > 0


@given(star_shaped(), st.floats(0, 2000))
@settings(max_examples=60, deadline=None)
def test_lengths_beyond_the_perimeter_go_round_again(path: Contour, along: float) -> None:
    ruler = Ruler(path.segments)
    assert ruler.closed
    assert ruler.length == pytest.approx(path.length)
    assert distance(ruler.point(along), ruler.point(along + ruler.length)) <= CLOSE
    dx, dy = ruler.direction(along)
    assert dx * dx + dy * dy == pytest.approx(1.0)


def test_an_open_chain_stops_at_its_ends() -> None:
    ruler = Ruler([Line((0, 0), (10, 0)), Line((10, 0), (10, 5))])
    assert not ruler.closed
    assert (ruler.point(-3), ruler.point(12), ruler.point(99)) == ((0, 0), (10, 2), (10, 5))
    assert sum(segment.length for segment in ruler.piece(8, 13)) == pytest.approx(5)
    assert sum(segment.length for segment in ruler.piece(8, 99)) == pytest.approx(7)


def test_corners_and_starts() -> None:
    ruler = Ruler(rectangle(10, 5).segments)
    assert [ruler.start_of(index) for index in range(4)] == [0, 10, 15, 25]
    assert ruler.direction(3) == (1, 0)
    assert ruler.direction(10) == (0, 1)
    assert ruler.point(10) == (10, 0)
    assert ruler.piece(4.0, 4.0) == []
    whole = ruler.piece(2.0, 32.0)
    assert [segment.length for segment in whole] == pytest.approx([8, 5, 10, 5, 2])


def test_a_whole_turn_from_any_place_is_a_whole_turn() -> None:
    ring = circle((0, 0), 20)
    for along in (0.0, 1e-7, 12.3, ring.length - 1e-7, 500.0):
        ruler = Ruler(ring.segments)
        assert sum(s.length for s in ruler.piece(along, along + ruler.length)) == pytest.approx(ruler.length, abs=CLOSE)


@given(star_shaped(), st.lists(st.floats(-300, 900), min_size=1, max_size=9))
@settings(max_examples=60, deadline=None)
def test_many_places_at_once_are_those_one_by_one(path: Contour, along: list[float]) -> None:
    ruler = Ruler(path.segments)
    points, directions = ruler.places(along)
    for one, point, direction in zip(along, points, directions, strict=True):
        expected, way = ruler.place(one)
        assert tuple(point) == pytest.approx(expected, abs=1e-9)
        assert tuple(direction) == pytest.approx(way, abs=1e-9)


@given(star_shaped(), st.floats(-80, 80), st.floats(-80, 80))
def test_the_place_beside_a_point_is_its_nearest_on_that_segment(path: Contour, x: float, y: float) -> None:
    ruler = Ruler(path.segments)
    every = np.arange(len(path.segments))
    along = ruler.beside(np.tile((x, y), (len(every), 1)), every)
    for index, segment in enumerate(path.segments):
        assert ruler.start_of(index) <= along[index] <= ruler.start_of(index + 1) + TOLERANCES.same_point
        found = distance(ruler.point(float(along[index])), (x, y))
        # No place of a thousand on the segment is nearer.
        assert found <= min(distance(segment.point_at(k / 1000), (x, y)) for k in range(1001)) + 1e-9
