"""A path in the longest moves the tolerance allows: runs of lines and arcs, each replaced by one line or arc. mm.

From every node on, the farthest later node is taken that one move reaches (`one_move`). That gives the fewest moves
where what one move reaches, a shorter one does too. How far is sought for many nodes at once: three trials for each,
farther and farther, then in between.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from itertools import pairwise

import numpy as np

from cutjob.geometry.one_move import CORNER, Columns, Whole, heights_of_moves, turn
from cutjob.geometry.segment import Arc, Line, Segment, distance

_FIRST_STARTS = 32  # starts whose reach is sought at once: first this many,
_MOST_STARTS = 512  # later at most this many,
_LOOKED_AHEAD = 2048  # and no more than have this many segments in their runs together


def longest_moves(
    segments: Sequence[Segment], *, tolerance: float, closed: bool = False, keep: Collection[int] = ()
) -> tuple[Segment, ...]:
    """Return a chain of fewer lines and arcs from the same start to the same end, run by run no farther than
    `tolerance` from the chain given, and that no farther from it.

    Nodes of the result are nodes of the chain. Corners of more than 5 degrees stay, and so do the starts of the
    segments numbered in `keep`. The result turns at a node by at most a degree more than the chain does. New arcs are
    at most half turns, of a radius of at most 100 m. A closed chain may begin at another of its nodes: the first in
    `keep`, or else the first corner, or else the first that can't go. Raises ValueError for a negative tolerance.
    """
    if tolerance < 0:
        raise ValueError("a tolerance can't be negative")
    chain = tuple(segments)
    if len(chain) < 2:
        return chain
    joints = [closed and _may_join(chain[-1], chain[0], tolerance)]
    joints += [_may_join(a, b, tolerance) for a, b in pairwise(chain)]
    for node in keep:
        joints[node] = False
    if not any(joints):
        return chain
    first = _beginning(chain, joints, keep) if closed else 0
    search = _Search((*chain[first:], *chain[:first]), [*joints[first:], *joints[:first]], tolerance, closed=closed)
    result = search.walk()
    return result if len(result) < len(chain) else chain


def _beginning(chain: tuple[Segment, ...], joints: Sequence[bool], keep: Collection[int]) -> int:
    """The number of the segment with which a closed chain had best begin."""
    if keep:
        return min(keep)
    corners = (index for index, segment in enumerate(chain) if abs(turn(chain[index - 1], segment)) > CORNER)
    return next(corners, joints.index(False) if False in joints else 0)


def _curvature(segment: Segment) -> float:
    if isinstance(segment, Line):
        return 0.0
    return (-1.0 if segment.clockwise else 1.0) / segment.radius


def _sweep(segment: Segment) -> float:
    return 0.0 if isinstance(segment, Line) else segment.sweep


def _may_join(before: Segment, after: Segment, tolerance: float) -> bool:
    """Whether two neighbours could be one move at all.

    Where curvatures differ by d, no parabola comes nearer than d l^2 / 23.3 over a length l on both sides of the joint
    (x |x| less the best line strays by (3 - 8^0.5) l^2); a third more is left for arcs that turn far. Together they
    turn by half a turn at most, as the move would.
    """
    if abs(_sweep(before) + _sweep(after)) > math.pi + 2 * CORNER:
        return False
    short = min(before.length, after.length)
    if abs(_curvature(before) - _curvature(after)) * short * short > 32 * tolerance:
        return False
    return abs(turn(before, after)) <= CORNER


class _Search:
    """Looks for the farthest node that one move reaches from a node. `joints` are those before each segment."""

    def __init__(self, chain: Sequence[Segment], joints: Sequence[bool], tolerance: float, *, closed: bool) -> None:
        self._chain = chain
        self._columns = Columns(chain, closed=closed)
        self._tolerance = tolerance
        count = len(chain)
        self._most = np.ones(count, dtype=np.intp)  # segments up to the next node that has to stay
        for index in range(count - 2, -1, -1):
            if joints[index + 1]:
                self._most[index] = self._most[index + 1] + 1
        self._reach = np.ones(count, dtype=np.intp)
        self._height = np.zeros(count)

    def walk(self) -> tuple[Segment, ...]:
        """The chain in as few moves as taking the farthest each time gives."""
        result: list[Segment] = []
        first, known, reach, starts = 0, 0, 1, _FIRST_STARTS
        while first < len(self._chain):
            if first >= known:
                known = min(first + starts, len(self._chain))
                self._follow(np.arange(first, known), reach)
            reach = int(self._reach[first])
            starts = max(1, min(_MOST_STARTS, _LOOKED_AHEAD // reach))
            result.append(self._move(first, reach))
            first += reach
        return tuple(result)

    def _move(self, first: int, reach: int) -> Segment:
        if reach == 1:
            return self._chain[first]
        start, end, s = self._chain[first].start, self._chain[first + reach - 1].end, float(self._height[first])
        if s == 0.0:
            return Line(start, end)
        chord = distance(start, end)
        off = (s - chord * chord / 4 / s) / 2 / chord
        centre = (
            (start[0] + end[0]) / 2 - (end[1] - start[1]) * off,
            (start[1] + end[1]) / 2 + (end[0] - start[0]) * off,
        )
        return Arc(start, end, centre, s > 0)

    def _follow(self, starts: Whole, guess: int) -> None:
        """Find how far one move reaches from each start: three trials at once, farther each time, then in between."""
        end = self._most[starts]
        good, bad = np.ones_like(starts), end + 1
        trials = np.tile(np.array([2, max(3, guess), max(4, 2 * guess)]), (len(starts), 1))
        left = np.flatnonzero(good < end)
        while len(left):
            trial = np.minimum(trials[left], end[left, None])
            heights = heights_of_moves(self._columns, np.repeat(starts[left], 3), trial.ravel(), self._tolerance)
            heights = heights.reshape(-1, 3)
            reached = np.where(np.isnan(heights), 0, trial)
            at = reached.argmax(axis=1)[:, None]
            best = np.take_along_axis(reached, at, axis=1)
            better = best[:, 0] > good[left]
            self._height[starts[left[better]]] = np.take_along_axis(heights, at, axis=1)[better, 0]
            good[left] = np.maximum(good[left], best[:, 0])
            failed = np.isnan(heights) & (trial > good[left, None])
            bad[left] = np.where(failed, trial, bad[left, None]).min(axis=1)
            near, far = good[:, None], bad[:, None]
            between = np.minimum(near - (near - far) * np.array([1, 2, 3]) // 4, far - 1)
            trials = np.where(far > end[:, None], near * np.array([1, 2, 4]) + np.array([1, 1, 0]), between)
            left = np.flatnonzero((good < end) & (bad - good > 1))
        self._reach[starts] = good
