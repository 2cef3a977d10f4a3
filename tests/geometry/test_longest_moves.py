"""Fewer and longer moves: within the tolerance both ways, as few as can be, and the same path where nothing joins."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.batten import natural_spline
from cutjob.geometry.contour import Contour, circle, rectangle
from cutjob.geometry.longest_moves import longest_moves
from cutjob.geometry.offset import offset
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from tests.strategies import star_shaped

TOLERANCE = 0.003
CHORD = 1e-4  # mm, of the polylines compared


def line(segments: Sequence[Segment]) -> shapely.LineString:
    return shapely.LineString([segments[0].start, *(p for s in segments for p in s.chords(CHORD))])


def batten(pins: Sequence[Point], deviation: float) -> tuple[Segment, ...]:
    return natural_spline(pins).segments(pins[0][0], pins[-1][0], deviation=deviation)


def check(old: Sequence[Segment], new: Sequence[Segment], tolerance: float = TOLERANCE) -> None:
    assert len(new) <= len(old)
    for before, after in itertools.pairwise(new):
        assert before.end == after.start
    assert line(new).hausdorff_distance(line(old)) <= tolerance + 2 * CHORD


def test_what_can_not_join_stays_as_it_is() -> None:
    for contour in (rectangle(80, 50), circle((5, 5), 30), offset(rectangle(80, 50), 6.0)[0]):
        assert longest_moves(contour.segments, tolerance=TOLERANCE, closed=True) == contour.segments
    assert longest_moves((), tolerance=TOLERANCE) == ()
    with pytest.raises(ValueError, match="negative"):
        longest_moves(rectangle(8, 5).segments, tolerance=-1.0)


def test_pieces_of_one_line_or_arc_are_one_again() -> None:
    pieces = [Line((x, 2.0 * x), (x + 1.0, 2.0 * x + 2.0)) for x in range(9)]
    assert longest_moves(pieces, tolerance=TOLERANCE) == (Line((0, 0), (9.0, 18.0)),)
    whole = Arc((50, 0), (-50, 0), (0, 0), False)
    cut = [whole.point_at(share) for share in (0, 0.1, 0.35, 0.5, 0.9)] + [whole.end]
    arcs = [Arc(a, b, (0, 0), False) for a, b in itertools.pairwise(cut)]
    (joined,) = longest_moves(arcs, tolerance=TOLERANCE)
    assert isinstance(joined, Arc)
    assert joined.centre == pytest.approx((0, 0), abs=2 * TOLERANCE)
    assert joined.start == arcs[0].start
    assert joined.end == arcs[-1].end


def test_chords_of_a_circle_become_arcs() -> None:
    """Chords a degree apart at a radius of 10 bulge 0.0004 mm [sagitta r (1 - cos(t/2))]."""
    corners = [(10 * math.cos(math.radians(d)), 10 * math.sin(math.radians(d))) for d in range(0, 361)]
    chords = [Line(a, b) for a, b in itertools.pairwise(corners)]
    new = longest_moves(chords, tolerance=TOLERANCE)
    check(chords, new)
    assert len(new) <= 3
    assert all(isinstance(move, Arc) for move in new)
    # A corner of 5 degrees is meant.
    coarse = [Line(corners[d], corners[d + 5]) for d in range(0, 360, 5)]
    assert longest_moves(coarse, tolerance=TOLERANCE) == tuple(coarse)


PINS = st.lists(st.tuples(st.floats(15, 90), st.floats(-25, 25)), min_size=2, max_size=6)


@given(PINS, st.floats(0.5, 12))
@settings(max_examples=25, deadline=None)
def test_within_the_tolerance_both_ways(steps: list[tuple[float, float]], radius: float) -> None:
    pins, x = [(0.0, 0.0)], 0.0
    for step, y in steps:
        x += step
        pins.append((x, y))
    curve = batten(pins, 0.002)
    check(curve, longest_moves(curve, tolerance=TOLERANCE))
    low = y0 = min(y for _, y in pins) - 60
    contour = Contour((*curve, Line(pins[-1], (x, low)), Line((x, low), (0.0, y0)), Line((0.0, y0), (0.0, 0.0))))
    for path in offset(contour.turned(counter_clockwise=True), radius):
        new = longest_moves(path.segments, tolerance=TOLERANCE, closed=True)
        check(path.segments, new)
        assert distance(new[0].start, new[-1].end) <= 1e-6
        assert math.copysign(1, Contour(new).signed_area) == math.copysign(1, path.signed_area)


@given(star_shaped(), st.floats(0.0005, 0.05))
@settings(max_examples=25, deadline=None)
def test_any_path(path: Contour, tolerance: float) -> None:
    new = longest_moves(path.segments, tolerance=tolerance, closed=True)
    check(path.segments, new, tolerance)
    again = longest_moves(new, tolerance=tolerance, closed=True)
    assert len(again) <= len(new)


def reaches(chain: Sequence[Segment], first: int, last: int, tolerance: float) -> bool:
    """Whether any line or arc through the ends of a run stays within the tolerance: a search over all arcs."""
    start, end = np.array(chain[first].start), np.array(chain[last - 1].end)
    chord = end - start
    half = float(np.hypot(*chord)) / 2
    if half < 1e-9:
        return False
    u = chord / (2 * half)
    places = np.array([s.point_at(k / 40) for s in chain[first:last] for k in range(41)]) - (start + end) / 2
    x, y = places @ u, places @ np.array([-u[1], u[0]])

    def worst(s: float) -> float:
        if abs(s) < 1e-7 * half:
            return float(np.abs(y).max())
        middle = (s * s - half * half) / (2 * s)
        return float(np.abs(np.hypot(x, y - middle) - abs(s * s + half * half) / (2 * abs(s))).max())

    heights = np.linspace(-half, half, 81)
    best = min(heights, key=worst)
    low, high = best - half / 20, best + half / 20
    for _ in range(80):
        a, b = low + (high - low) / 3, high - (high - low) / 3
        low, high = (low, b) if worst(a) <= worst(b) else (a, high)
    return worst((low + high) / 2) <= tolerance


def fewest(chain: Sequence[Segment], tolerance: float) -> int:
    """The least number of moves between the chain's own nodes, by dynamic programming over every pair of them."""
    best = [0] + [10**6] * len(chain)
    for last in range(1, len(chain) + 1):
        for first in range(last):
            if best[first] + 1 < best[last] and (last - first == 1 or reaches(chain, first, last, tolerance)):
                best[last] = best[first] + 1
    return best[-1]


@pytest.mark.parametrize(
    "pins",
    [
        [(0, 0), (100, 20), (200, 0)],
        [(0, 0), (60, 18), (140, -6), (220, 10)],
        [(0, 0), (50, 8), (120, 30), (200, 34), (260, 0)],
        [(0, 0), (90, 3), (180, 0)],
    ],
)
def test_within_a_tenth_of_the_fewest_possible(pins: list[Point]) -> None:
    curve = batten(pins, 0.002)
    new = longest_moves(curve, tolerance=TOLERANCE)
    least = fewest(curve, TOLERANCE)
    assert least <= len(new) <= math.ceil(1.1 * least)
    # Fewer than the biarcs as coarse as the tolerance allows.
    assert len(new) < len(batten(pins, TOLERANCE))


def test_kinks_are_slight() -> None:
    curve = batten([(0, 0), (60, 18), (140, -6), (220, 10)], 0.002)
    new = longest_moves(curve, tolerance=TOLERANCE)
    kinks = []
    for before, after in itertools.pairwise(new):
        (ax, ay), (bx, by) = before.direction_at(1.0), after.direction_at(0.0)
        kinks.append(abs(math.degrees(math.atan2(ax * by - ay * bx, ax * bx + ay * by))))
    assert max(kinks) < 1.0
