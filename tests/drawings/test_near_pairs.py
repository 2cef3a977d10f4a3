"""Pairs of lines that may meet, and points near each other: against every pair looked at one by one."""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutjob.drawings.near_pairs import TangledError, near_pairs, near_points
from cutjob.geometry.crossing import meetings
from cutjob.geometry.segment import Arc, Line, Segment, arc_through_bulge

_place = st.tuples(st.integers(0, 12), st.integers(0, 12)).map(lambda p: (float(p[0]), float(p[1])))


@st.composite
def _segments(draw: st.DrawFn) -> Segment:
    start, end = draw(st.lists(_place, min_size=2, max_size=2, unique=True))
    bulge = draw(st.sampled_from((0.0, 0.0, 0.2, -0.7, 1.0, 3.0)))
    return arc_through_bulge(start, end, bulge) if bulge else Line(start, end)


@given(st.lists(_segments(), max_size=30))
def test_no_pair_that_meets_is_left_out(segments: list[Segment]) -> None:
    near = set(near_pairs(segments))
    assert all(i < j for i, j in near)
    for i, j in itertools.combinations(range(len(segments)), 2):
        if meetings(segments[i], segments[j]):
            assert (i, j) in near


@given(st.lists(_place, max_size=40), st.sampled_from((0.0, 1.0, 1.5)))
def test_points(points: list[tuple[float, float]], reach: float) -> None:
    apart = {(i, j): math.dist(points[i], points[j]) for i, j in itertools.combinations(range(len(points)), 2)}
    assert near_points(points, reach) == sorted(pair for pair, gap in apart.items() if gap <= reach)


def test_arcs_of_a_mile_are_looked_at_by_their_boxes() -> None:
    wide = Arc((-400_000.0, 0.0), (400_000.0, 0.0), (0.0, 0.0), False)
    lines = [Line((0.0, -400_010.0), (0.0, -399_990.0)), Line((0.0, 1.0), (0.0, 9.0))]
    assert near_pairs([wide, *lines]) == [(0, 1)]


def test_a_tangle_is_told_soon() -> None:
    lines = [Line((0.0, n % 97.0), (100.0, (n * 37) % 89.0)) for n in range(3000)]
    with pytest.raises(TangledError):
        near_pairs(lines)
    with pytest.raises(TangledError):
        near_points([(0.0, n * 1e-9) for n in range(3000)], 0.1)


def test_many_lines_side_by_side_are_no_tangle() -> None:
    lines = [Line((float(n), 0.0), (float(n), 100.0)) for n in range(20_000)]
    assert near_pairs(lines) == []
    chain = [Line((float(n), 0.0), (float(n + 1), 0.0)) for n in range(20_000)]
    assert near_pairs(chain) == [(n, n + 1) for n in range(19_999)]
