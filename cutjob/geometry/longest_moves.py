"""Makes a path of the longest moves that the tolerance allows: one line or arc replaces a run of lines and arcs. mm.

From every node, one move goes to the farthest later node it can reach (`one_move`). This gives the fewest moves, as
long as every shorter run can be replaced too. The reach is sought for many nodes at once: three trials for each,
farther and farther, then in between.

All arcs through two nodes are one family with a single parameter: the height s of their middle over the chord (c long,
along x, its middle at the origin). A place (x, y) of the run is within t of the arc when
|s p - (s^2 - c^2/4) y| <= (s^2 + c^2/4) t, with p = x^2 + y^2 - c^2/4; at s = 0, the chord, that is |y| <= t. To first
order in s each place allows an interval of s, and so do the directions of the chain. In the intersection of all
intervals, the arc that changes the chain's directions least is taken. Its greatest distance from the run is then worked
out exactly, segment by segment.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from cutjob.geometry.segment import Arc, Line, Segment, distance

Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]
Whole = NDArray[np.intp]

CORNER = math.radians(5.0)  # a sharper turn is intended, and stays a node
_ASIDE = math.radians(0.5)  # how far a move may turn from the chain's direction at either end
_GREATEST_RADIUS = 1e5  # mm: a flatter arc becomes a line or stays as it is
_FLAT = (
    1 / 3
)  # share of the tolerance: an arc no higher than this over its chord becomes a line where the tolerance allows
_PLACES = 8  # on each segment,
_LOOKED_AT = 32  # and at most on a run, from which heights are sought
_SPARE = 0.1  # share of the heights left out at both ends, as the distance may be a little greater between the places
_ROUNDS = 2


def turn(before: Segment, after: Segment) -> float:
    """The angle by which a chain turns from one segment to the next, radians, positive to the left."""
    (ax, ay), (bx, by) = before.direction_at(1.0), after.direction_at(0.0)
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)


class Columns:
    """The data of a chain's segments, one row each."""

    def __init__(self, chain: Sequence[Segment], *, closed: bool) -> None:
        """Take the segments of a chain; none may have the length 0."""
        shares = (np.arange(_PLACES) + 1.0) / _PLACES
        arcs = [segment if isinstance(segment, Arc) else None for segment in chain]
        self.start = np.array([segment.start for segment in chain])
        self.end = np.array([segment.end for segment in chain])
        self.arc: Truths = np.array([arc is not None for arc in arcs])
        self.centre = np.array([arc.centre if arc else (0.0, 0.0) for arc in arcs])
        self.radius = np.array([arc.radius if arc else 0.0 for arc in arcs])
        first = np.array([arc.start_angle if arc else 0.0 for arc in arcs])
        sweep = np.array([arc.sweep if arc else 0.0 for arc in arcs])
        middle = first + sweep / 2
        self.outward = np.stack([np.cos(middle), np.sin(middle)], axis=1)  # from an arc's centre to its middle
        self.cosine = np.cos(sweep / 2)
        along = self.end - self.start
        chord = np.hypot(along[:, 0], along[:, 1])
        self.along = along / chord[:, None]
        self.length = np.where(self.arc, self.radius * np.abs(sweep), chord)
        self.travelled = np.append(0.0, np.cumsum(self.length))
        angles = first[:, None] + sweep[:, None] * shares
        round_ = self.centre[:, None] + self.radius[:, None, None] * np.stack([np.cos(angles), np.sin(angles)], axis=2)
        straight = self.start[:, None] + along[:, None] * shares[:, None]
        places = np.where(self.arc[:, None, None], round_, straight)
        places[:, -1] = self.end
        self.places = places.reshape(-1, 2)
        self._directions(chain, closed)

    def _directions(self, chain: Sequence[Segment], closed: bool) -> None:
        """The direction at each node, the mean where it turns, and how far a move may differ from it.

        At a corner and at the ends of an open chain any direction is allowed.
        """
        turns = np.array([turn(chain[index - 1], segment) for index, segment in enumerate(chain)])
        out = np.array([segment.direction_at(0.0) for segment in chain])
        free = np.abs(turns) > CORNER
        free[0] |= not closed
        heading = np.arctan2(out[:, 1], out[:, 0]) - turns / 2
        aside = np.where(free, np.inf, _ASIDE + np.abs(turns) / 2)
        self.heading = np.append(heading, heading[0])
        self.aside = np.append(aside, aside[0])


@dataclass(frozen=True, slots=True)
class _Runs:
    """Runs of segments, one row each, and some of their places in the frames of their chords."""

    columns: Columns
    first: Whole
    count: Whole
    chord: Floats
    along: Floats
    middle: Floats
    x: Floats
    y: Floats

    def only(self, some: Whole) -> _Runs:
        """The runs with these numbers."""
        own = (self.chord, self.along, self.middle, self.x, self.y)
        return _Runs(self.columns, self.first[some], self.count[some], *(column[some] for column in own))


def _runs(columns: Columns, first: Whole, count: Whole) -> _Runs:
    start, end = columns.start[first], columns.end[first + count - 1]
    way = end - start
    chord = np.hypot(way[:, 0], way[:, 1])
    along = way / np.maximum(chord, 1e-300)[:, None]
    middle = (start + end) / 2
    # Evenly spread by number, the last one is the end; on short runs some are taken twice.
    numbers = (np.arange(_LOOKED_AT) + 1) * (count * _PLACES)[:, None] // _LOOKED_AT - 1
    off = columns.places[np.maximum(numbers, 0) + (first * _PLACES)[:, None]] - middle[:, None]
    u, v = along[:, :1], along[:, 1:]
    x, y = off[:, :, 0] * u + off[:, :, 1] * v, off[:, :, 1] * u - off[:, :, 0] * v
    return _Runs(columns, first, count, chord, along, middle, x, y)


def heights_of_moves(columns: Columns, first: Whole, count: Whole, tolerance: float) -> Floats:
    """The height over the chord, mm, of an arc that can replace each run, 0 for a line, NaN where none can.

    Run n is the `count[n]` segments from number `first[n]` on. A positive height is to the left: a clockwise arc.
    """
    runs = _runs(columns, first, count)
    result = np.full(len(first), np.nan)
    low, high, wanted = _by_direction(runs)
    least, most = _by_places(runs, tolerance)
    low, high = np.maximum(low, least), np.minimum(high, most)
    middle, spare = (low + high) / 2, _SPARE * (high - low)
    best = np.where(np.isnan(wanted), middle, np.clip(wanted, low + spare, high - spare))
    left = np.flatnonzero((runs.chord > tolerance) & (low <= high))
    for choice in (best, middle):
        if len(left):
            s = choice[left]
            flat = 2 * np.abs(s) * _GREATEST_RADIUS < s * s + runs.chord[left] ** 2 / 4
            slight = (flat | (np.abs(s) <= _FLAT * tolerance)) & (low[left] <= 0) & (high[left] >= 0)
            s[slight] = 0.0
            good = (slight | ~flat) & _in_order(runs.only(left), s)
            good[good] = _strays(runs.only(left[good]), s[good]) <= tolerance
            result[left[good]] = s[good]
            left = left[~good]
    return result


def _by_direction(runs: _Runs) -> tuple[Floats, Floats, Floats]:
    """The heights that the chain's directions at both ends allow, and the one that fits them best (NaN: any).

    A move leaves its start at the angle 2 atan(2 s / c) to its chord, and meets its end at the same on the other side.
    """
    columns, last = runs.columns, runs.first + runs.count
    chord = np.arctan2(runs.along[:, 1], runs.along[:, 0])
    leave, meet = _wrapped(columns.heading[runs.first] - chord), _wrapped(chord - columns.heading[last])
    aside, askew = columns.aside[runs.first], columns.aside[last]
    half_turn = np.pi / 2  # the angle to the chord of an arc of half a turn
    low = np.maximum(np.maximum(leave - aside, meet - askew), -half_turn)
    high = np.minimum(np.minimum(leave + aside, meet + askew), half_turn)
    none = low > high
    low[none], high[none] = half_turn, -half_turn
    wanted = np.where(np.isinf(aside), meet, np.where(np.isinf(askew), leave, (leave + meet) / 2))
    low, high, wanted = runs.chord / 2 * np.tan(np.clip([low, high, wanted], -half_turn, half_turn) / 2)
    wanted[np.isinf(aside) & np.isinf(askew)] = np.nan
    return low, high, wanted


def _wrapped(angle: Floats) -> Floats:
    wrapped: Floats = np.mod(angle + np.pi, 2 * np.pi) - np.pi
    return wrapped


def _by_places(runs: _Runs, near: float) -> tuple[Floats, Floats]:
    """The heights between which every place is within `near` of the arc; the first is the higher where there are none.

    It starts from the circle through the place nearest the chord's middle.
    """
    x, y, quarter = runs.x, runs.y, runs.chord[:, None] ** 2 / 4
    p = x * x + y * y - quarter
    at = np.argmin(np.abs(x), axis=1)[:, None]
    p0, y0 = np.take_along_axis(p, at, axis=1), np.take_along_axis(y, at, axis=1)
    s = 2 * quarter * y0 / np.maximum(np.sqrt(p0 * p0 + 4 * quarter * y0 * y0) - p0, 1e-300)
    for _ in range(_ROUNDS):
        # On the arc the slope is -|y| (s^2 + c^2/4) / |s|: it vanishes only at the ends, which are on every arc.
        slope = np.maximum(2 * s * y - p, 1e-12)
        wide = (s * s + quarter) * near / slope
        off = (s * p - (s * s - quarter) * y) / slope
        low = s + (off - wide).max(axis=1, keepdims=True)
        high = s + (off + wide).min(axis=1, keepdims=True)
        s = (low + high) / 2
    return low[:, 0], high[:, 0]


def _in_order(runs: _Runs, s: Floats) -> Truths:
    """Whether the places are in order along moves of heights `s`, and don't go round more than once."""
    half, height = runs.chord[:, None] / 2, s[:, None]
    round_ = height != 0
    centre = np.divide(height**2 - half**2, 2 * height, out=np.zeros_like(height), where=round_)
    x, y = np.hstack([-half, runs.x]), np.hstack([0 * half, runs.y]) - centre
    turning = (y[:, :-1] * x[:, 1:] - x[:, :-1] * y[:, 1:]) * np.sign(height)
    on = np.where(round_, turning, np.diff(x, axis=1))
    length = np.where(round_, np.abs(4 * np.arctan(height / half) * (height - centre)), 2 * half)[:, 0]
    travelled = runs.columns.travelled[runs.first + runs.count] - runs.columns.travelled[runs.first]
    result: Truths = (on >= 0).all(axis=1) & (travelled < 2 * length)
    return result


def _strays(runs: _Runs, s: Floats) -> Floats:
    """The exact greatest distance of each run from its move of height `s`, without regard to the move's ends.

    A segment is farthest from and nearest to a line or a circle's centre at its ends or where it is square to the
    direction there: at the foot on a line, in line with both centres on an arc.
    """
    columns = runs.columns
    rows = runs.first[:, None] + np.minimum(np.arange(runs.count.max(initial=1)), runs.count[:, None] - 1)
    round_ = s != 0
    across = np.stack([-runs.along[:, 1], runs.along[:, 0]], axis=1)
    off = np.divide(s * s - runs.chord**2 / 4, 2 * s, out=np.zeros_like(s), where=round_)
    radius, round_ = np.abs(s - off)[:, None], round_[:, None]
    centre, across = (runs.middle + across * off[:, None])[:, None], across[:, None]

    def away(points: Floats) -> Floats:
        seen = points - centre
        flat = np.abs((seen * across).sum(axis=2))
        beside: Floats = np.where(round_, np.abs(np.hypot(seen[:, :, 0], seen[:, :, 1]) - radius), flat)
        return beside

    start, along, arc = columns.start[rows], columns.along[rows], columns.arc[rows]
    worst: Floats = away(start).max(axis=1, initial=0)
    share = ((centre - start) * along).sum(axis=2)
    foot = ~arc & round_ & (share > 0) & (share < columns.length[rows])
    worst = np.maximum(worst, np.where(foot, away(start + along * share[:, :, None]), 0).max(axis=1, initial=0))
    if not arc.any():
        return worst
    way = np.where(round_[:, :, None], columns.centre[rows] - centre, across)
    way = way / np.maximum(np.hypot(way[:, :, 0], way[:, :, 1]), 1e-300)[:, :, None]
    turned = (way * columns.outward[rows]).sum(axis=2)
    for side in (1.0, -1.0):
        extreme = columns.centre[rows] + way * (side * columns.radius[rows])[:, :, None]
        there = arc & (side * turned > columns.cosine[rows])
        worst = np.maximum(worst, np.where(there, away(extreme), 0).max(axis=1))
    return worst


_FIRST_STARTS = 32  # starts whose reach is sought together: this many at first,
_MOST_STARTS = 512  # later at most this many,
_LOOKED_AHEAD = 2048  # and no more than have this many segments in their runs together


def longest_moves(
    segments: Sequence[Segment], *, tolerance: float, closed: bool = False, keep: Collection[int] = ()
) -> tuple[Segment, ...]:
    """Return a chain of fewer lines and arcs from the same start to the same end. Run by run, both chains are within
    `tolerance` of each other.

    Nodes of the result are nodes of the chain. Corners of more than 5 degrees stay, and so do the starts of the
    segments numbered in `keep`. The result turns at a node by at most a degree more than the chain does. New arcs are
    at most half turns, with a radius of at most 100 m. A closed chain may begin at another of its nodes: the first in
    `keep`, else the first corner, else the first that must stay. Raises ValueError for a negative tolerance.
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
    """The number of the best first segment of a closed chain."""
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
    """Whether two neighbours can be one move at all.

    Where curvatures differ by d, no parabola comes nearer than d l^2 / 23.3 over a length l on both sides of the joint
    (x |x| less the best line deviates by (3 - 8^0.5) l^2); a third more is allowed for arcs that turn far. Together
    they turn by at most half a turn, as the move would.
    """
    if abs(_sweep(before) + _sweep(after)) > math.pi + 2 * CORNER:
        return False
    short = min(before.length, after.length)
    if abs(_curvature(before) - _curvature(after)) * short * short > 32 * tolerance:
        return False
    return abs(turn(before, after)) <= CORNER


class _Search:
    """Looks for the farthest node that one move reaches from a node; `joints` belong to the node
    before each segment.
    """

    def __init__(self, chain: Sequence[Segment], joints: Sequence[bool], tolerance: float, *, closed: bool) -> None:
        self._chain = chain
        self._columns = Columns(chain, closed=closed)
        self._tolerance = tolerance
        count = len(chain)
        self._most = np.ones(count, dtype=np.intp)  # segments up to the next node that must stay
        for index in range(count - 2, -1, -1):
            if joints[index + 1]:
                self._most[index] = self._most[index + 1] + 1
        self._reach = np.ones(count, dtype=np.intp)
        self._height = np.zeros(count)

    def walk(self) -> tuple[Segment, ...]:
        """The chain with the farthest move from each node."""
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
        """Find the reach of one move from each start: three trials at once, farther each time, then in between."""
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
