"""A path in the longest moves the tolerance allows: runs of lines and arcs, each replaced by one line or arc. mm.

From every node on, the farthest later node is taken that one move reaches. All arcs through two nodes are one family,
told by the height s of their middle over the chord (c long, along x, its middle at the origin). A place (x, y) of the
run lies within t of the arc when |s p - (s^2 - c^2/4) y| <= (s^2 + c^2/4) t, with p = x^2 + y^2 - c^2/4: at s = 0, the
chord, that is |y| <= t. To first order in s each place leaves an interval for it; they are cut, and the middle of what
remains is taken, a few times over. Taking the farthest each time gives the fewest moves where what one move reaches, a
shorter one does too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from cutjob.geometry.segment import Arc, Line, Point, Segment, distance

Floats = NDArray[np.float64]

_CORNER = math.radians(2.0)  # a sharper turn is meant, and stays a node
_PLACES = 8  # on each segment, where its distance from a move is taken
# Between those places the distance, which changes evenly along a segment, may be this share larger.
_SPARE = 0.95
_GREATEST_RADIUS = 1e5  # mm: what is flatter than this is a line or stays as it is
_ROUNDS = 4


def longest_moves(segments: Sequence[Segment], *, tolerance: float, closed: bool = False) -> tuple[Segment, ...]:
    """Return a chain of fewer lines and arcs from the same start to the same end, no farther than `tolerance` from the
    chain given, and that no farther from it.

    Corners of 2 degrees and more stay; nodes of the result are nodes of the chain. Arcs are at most half turns. A
    closed chain may begin at another of its nodes: at a corner, where it has one. Raises ValueError for a negative
    tolerance.
    """
    if tolerance < 0:
        raise ValueError("a tolerance can't be negative")
    chain = tuple(segments)
    joints = [_may_join(a, b, tolerance) for a, b in pairwise(chain)]
    if not any(joints):
        return chain
    if closed:
        corner = _corner(chain)
        chain = (*chain[corner:], *chain[:corner])
        joints = [_may_join(a, b, tolerance) for a, b in pairwise(chain)]
    places = _Places(chain)
    result: list[Segment] = []
    first = 0
    while first < len(chain):
        last, move = _farthest(chain, places, first, joints, tolerance)
        result.append(move)
        first = last
    return tuple(result) if len(result) < len(chain) else chain


def _corner(chain: tuple[Segment, ...]) -> int:
    """The number of the first segment that begins at a corner; 0 where none does."""
    turns = (_turn(chain[index - 1], segment) > _CORNER for index, segment in enumerate(chain))
    return next((index for index, sharp in enumerate(turns) if sharp), 0)


def _turn(before: Segment, after: Segment) -> float:
    (ax, ay), (bx, by) = before.direction_at(1.0), after.direction_at(0.0)
    return abs(math.atan2(ax * by - ay * bx, ax * bx + ay * by))


def _curvature(segment: Segment) -> float:
    if isinstance(segment, Line):
        return 0.0
    return (-1.0 if segment.clockwise else 1.0) / segment.radius


def _may_join(before: Segment, after: Segment, tolerance: float) -> bool:
    """Whether two neighbours could be one move at all.

    Where curvatures differ by d, the best arc over a length l on both sides of the joint strays by d l^2 / 16.
    """
    if _turn(before, after) > _CORNER:
        return False
    short = min(before.length, after.length)
    return abs(_curvature(before) - _curvature(after)) * short * short <= 32 * tolerance


class _Places:
    """Places along a chain, `_PLACES` on each segment after its start, as columns."""

    def __init__(self, chain: Sequence[Segment]) -> None:
        shares = (np.arange(_PLACES) + 1.0) / _PLACES
        starts = np.array([segment.start for segment in chain])
        ends = np.array([segment.end for segment in chain])
        self.points = starts[:, None, :] + (ends - starts)[:, None, :] * shares[:, None]
        for index, segment in enumerate(chain):
            if isinstance(segment, Arc):
                a = math.atan2(segment.start[1] - segment.centre[1], segment.start[0] - segment.centre[0])
                angles = a + segment.sweep * shares
                self.points[index, :, 0] = segment.centre[0] + segment.radius * np.cos(angles)
                self.points[index, :, 1] = segment.centre[1] + segment.radius * np.sin(angles)
        self.points[:, -1] = ends
        self._whole: Floats = self.points.reshape(-1, 2)

    def of(self, first: int, last: int) -> Floats:
        """The places of segments `first` up to but without `last`."""
        part: Floats = self._whole[first * _PLACES : last * _PLACES]
        return part


def _farthest(
    chain: Sequence[Segment], places: _Places, first: int, joints: Sequence[bool], tolerance: float
) -> tuple[int, Segment]:
    """The number of the segment after the longest run from `first` that one move can stand for, and that move."""
    end = first + 1
    while end < len(chain) and joints[end - 1]:
        end += 1
    good, move = first + 1, chain[first]
    step = 1
    bad = end + 1
    while good < end:  # twice as far each time
        trial = min(good + step, end)
        found = _one_move(chain, places, first, trial, tolerance)
        if found is None:
            bad = trial
            break
        good, move = trial, found
        step *= 2
    while bad - good > 1 and bad <= end:  # and back by halves
        trial = (good + bad) // 2
        found = _one_move(chain, places, first, trial, tolerance)
        if found is None:
            bad = trial
        else:
            good, move = trial, found
    return good, move


def _one_move(chain: Sequence[Segment], places: _Places, first: int, last: int, tolerance: float) -> Segment | None:
    """The one line or arc that stands for a run of segments, or None."""
    start, end = chain[first].start, chain[last - 1].end
    chord = distance(start, end)
    if chord <= tolerance:
        return None
    ux, uy = (end[0] - start[0]) / chord, (end[1] - start[1]) / chord
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    around = places.of(first, last)[:-1] - middle
    x = around[:, 0] * ux + around[:, 1] * uy
    y = around[:, 1] * ux - around[:, 0] * uy
    near = tolerance * _SPARE
    quarter = chord * chord / 4
    if float(np.abs(y).max()) <= near:
        return Line(start, end) if _runs_on(x) else None
    s = _height(x, y, quarter, near)
    if s is None or s == 0.0:
        return None
    centre_y = (s * s - quarter) / (2 * s)
    radius = abs(s * s + quarter) / (2 * abs(s))
    if radius > _GREATEST_RADIUS or float(np.abs(np.hypot(x, y - centre_y) - radius).max()) > near:
        return None
    angles = np.unwrap(np.arctan2(y - centre_y, x)) * (-1.0 if s > 0 else 1.0)
    if not _runs_on(angles * radius):
        return None
    centre = (middle[0] - uy * centre_y, middle[1] + ux * centre_y)
    return _arc(start, end, centre, clockwise=s > 0)


def _height(x: Floats, y: Floats, quarter: float, near: float) -> float | None:
    """The height of an arc's middle over the chord at which every place lies within `near` of it; at most half a turn.

    It starts from the circle through the place in the middle.
    """
    p = x * x + y * y - quarter
    half = len(p) // 2
    if abs(y[half]) <= 1e-12:
        return None
    s = float((p[half] + math.sqrt(p[half] ** 2 + 4 * quarter * y[half] ** 2)) / (2 * y[half]))
    for _ in range(_ROUNDS):
        slope = p - 2 * s * y
        told = np.abs(slope) > 1e-12
        value = (s * p - (s * s - quarter) * y)[told]
        wide = (s * s + quarter) * near
        ends = np.stack([(-wide - value) / slope[told], (wide - value) / slope[told]])
        low, high = float(ends.min(axis=0).max()), float(ends.max(axis=0).min())
        if low > high:
            return None
        step = (low + high) / 2
        s += step
        if abs(step) < 1e-12:
            break
    most = math.sqrt(quarter)
    return max(-most, min(most, s))


def _runs_on(along: Floats) -> bool:
    """Whether places follow each other in order along a move."""
    return bool((np.diff(along) > 0).all())


def _arc(start: Point, end: Point, centre: Point, *, clockwise: bool) -> Arc:
    return Arc(start, end, centre, clockwise)
