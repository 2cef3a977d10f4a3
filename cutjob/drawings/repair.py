"""Repairs contours that cross themselves: loops and spikes up to `TOLERANCES.repair` are cut off,
larger ones reported.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutjob.drawings.near_pairs import TangledError, near_pairs
from cutjob.geometry.contour import Contour, closed
from cutjob.geometry.crossing import Meeting, meetings
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.tolerances import TOLERANCES

_MOST_LOOPS = 2000  # meetings other than joints, smooth ones too; each is checked against the whole chain
_FEW = 4  # segments, such as those of a circle or a square; checking all pairs is faster than finding the near ones
_MOST_CUTS = 200  # tiny loops in one contour; more are no slips of the pen
# Segments that meet smoothly stay within `same_point` for a while: an area per length below this is no loop.
_NO_AREA = 2 * TOLERANCES.same_point
_SMOOTH_STRETCH = 1.0  # mm

Corners = NDArray[np.float64]  # four places to each segment


@dataclass(frozen=True, slots=True)
class Crossing:
    """A place where a contour meets itself or another one; `along` where they run together for a stretch."""

    point: Point
    along: bool


@dataclass(frozen=True, slots=True)
class Mended:
    """A contour with its tiny loops cut off, the crossings to report, the distance it was moved,
    mm, and the cuts made.
    """

    contour: Contour | None
    crossings: tuple[Crossing, ...]
    moved: float
    cuts: int


def mended(segments: Sequence[Segment]) -> Mended:
    """Return the contour of a closed chain without loops, spikes and touches smaller than the repair limit.

    The contour is None where nothing is left of it. Raises TangledError where it meets itself nearly everywhere.
    """
    chain = [segment for segment in segments if segment.length > TOLERANCES.same_point]
    moved, cuts = 0.0, 0
    while True:
        if len(chain) < 2 or (len(chain) == 2 and all(isinstance(s, Line) for s in chain)):
            return Mended(None, (), moved, cuts)
        found = _self_meetings(chain)
        small = [loop for loop in found if loop.size <= TOLERANCES.repair]
        if not small or cuts >= _MOST_CUTS:
            break
        apart = _each_by_itself(small)
        if len(apart) > 1:
            for loop in apart:
                chain = _cut_out(chain, loop)
        else:
            apart = small[:1]
            chain = _cut(chain, small[0])
        moved, cuts = max(moved, *(loop.size for loop in apart)), cuts + len(apart)
    crossings = tuple(Crossing(meeting.at.point, meeting.at.along) for meeting in found)
    return Mended(closed(chain), crossings, moved, cuts)


@dataclass(frozen=True, slots=True)
class _Loop:
    """A place where segment `first` meets the later segment `second`; `size` is the reach of the smaller loop from
    there.

    `inner` is True where the smaller loop goes from the first to the second, not round the chain's end.
    """

    first: int
    second: int
    at: Meeting
    size: float
    inner: bool


def _self_meetings(chain: list[Segment]) -> list[_Loop]:
    found: list[_Loop] = []
    looked_at = 0
    corners = np.array([_corners(segment) for segment in chain])
    few = len(chain) <= _FEW
    for i, j in itertools.combinations(range(len(chain)), 2) if few else near_pairs(chain):
        for meeting in meetings(chain[i], chain[j]):
            if _is_joint(len(chain), i, j, meeting):
                continue
            looked_at += 1
            if looked_at > _MOST_LOOPS or len(found) > _MOST_CUTS:
                raise TangledError
            loop = _loop_at(chain, corners, i, j, meeting)
            if not _goes_on_smoothly(chain, loop):
                found.append(loop)
    return _apart(found)


def _is_joint(count: int, i: int, j: int, meeting: Meeting) -> bool:
    """True for the point shared by two neighbours in the chain."""
    return (j == i + 1 and meeting.first == 1 and meeting.second == 0) or (
        i == 0 and j == count - 1 and meeting.first == 0 and meeting.second == 1
    )


def _loop_at(chain: list[Segment], corners: Corners, i: int, j: int, meeting: Meeting) -> _Loop:
    inner = _reach(_piece(chain, i, meeting.first, j, meeting.second, between=False), corners[i + 1 : j], meeting)
    around = np.concatenate([corners[j + 1 :], corners[:i]])
    outer = _reach(_piece(chain, j, meeting.second, i, meeting.first, between=False), around, meeting)
    return _Loop(i, j, meeting, min(inner, outer), inner <= outer)


def _piece(chain: list[Segment], i: int, a: float, j: int, b: float, *, between: bool = True) -> list[Segment]:
    """Return the chain from share `a` of segment i to share `b` of segment j, round the end where j < i.

    Without `between` it has only the parts of these two segments.
    """
    whole = [] if not between else chain[i + 1 : j] if j > i else [*chain[i + 1 :], *chain[:j]]
    head = [chain[i].part(a, 1)] if a < 1 else []
    tail = [chain[j].part(0, b)] if b > 0 else []
    return [*head, *whole, *tail]


def _reach(parts: list[Segment], between: Corners, meeting: Meeting) -> float:
    """Return how far parts of segments, and whole segments by their corners, reach from the point where they meet."""
    corners = np.concatenate([between, *(np.array([_corners(part)]) for part in parts)])
    off = corners - np.array(meeting.point)
    return float(np.sqrt(np.max(off[..., 0] ** 2 + off[..., 1] ** 2, initial=0.0)))


def _corners(segment: Segment) -> tuple[Point, Point, Point, Point]:
    """The corners of an arc's box, which bound its reach from above, or the ends of a line."""
    if isinstance(segment, Arc):
        x0, y0, x1, y1 = segment.bounds
        return (x0, y0), (x0, y1), (x1, y0), (x1, y1)
    return segment.start, segment.end, segment.start, segment.end


def _goes_on_smoothly(chain: list[Segment], loop: _Loop) -> bool:
    """True where the two segments meet only because one leads into the other in the same direction."""
    i, j, meeting = loop.first, loop.second, loop.at
    piece = (
        _piece(chain, i, meeting.first, j, meeting.second)
        if loop.inner
        else _piece(chain, j, meeting.second, i, meeting.first)
    )
    length = sum(segment.length for segment in piece)
    if length > _SMOOTH_STRETCH:
        return False
    u, v = chain[i].direction_at(meeting.first), chain[j].direction_at(meeting.second)
    x, y = meeting.point
    area = abs(sum(s.area_under - (x * (s.end[1] - s.start[1]) - y * (s.end[0] - s.start[0])) for s in piece))
    return u[0] * v[0] + u[1] * v[1] > 0 and area <= _NO_AREA * max(length, TOLERANCES.repair)


def _each_by_itself(loops: list[_Loop]) -> list[_Loop]:
    """Return the loops that can be cut out of a chain together, as they share no segment; the last first."""
    kept: list[_Loop] = []
    for loop in loops:
        inside = loop.inner and loop.first > 0 and loop.at.first > 0 and loop.at.second < 1
        if inside and all(loop.second < other.first or loop.first > other.second for other in kept):
            kept.append(loop)
    return sorted(kept, key=lambda loop: -loop.first)


def _cut_out(chain: list[Segment], loop: _Loop) -> list[Segment]:
    """Return the chain without an inner loop, with its other segments in place."""
    i, j, meeting = loop.first, loop.second, loop.at
    before, after = chain[i].part(0, meeting.first), chain[j].part(meeting.second, 1)
    kept = [piece for piece in (before, after) if piece.length > TOLERANCES.same_point]
    joined = [*chain[:i], *kept, *chain[j + 1 :]]
    at = i + (1 if before in kept else 0)
    # Where nothing is left of one of them, its neighbour takes its place, a hair further.
    if at > 0:
        joined[at - 1] = _ended(joined[at - 1], meeting.point)
    if at < len(joined):
        joined[at] = _started(joined[at], meeting.point)
    return joined


def _cut(chain: list[Segment], loop: _Loop) -> list[Segment]:
    """Return the chain without the smaller loop."""
    i, j, meeting = loop.first, loop.second, loop.at
    if loop.inner:
        kept = _piece(chain, j, meeting.second, i, meeting.first)
    else:
        kept = _piece(chain, i, meeting.first, j, meeting.second)
    kept = [segment for segment in kept if segment.length > TOLERANCES.same_point]
    if kept:  # both ends are at the meeting point; make them equal
        kept[0], kept[-1] = _started(kept[0], meeting.point), _ended(kept[-1], meeting.point)
    return kept


def _started(segment: Segment, start: Point) -> Segment:
    if isinstance(segment, Line):
        return Line(start, segment.end)
    return Arc(start, segment.end, segment.centre, segment.clockwise)


def _ended(segment: Segment, end: Point) -> Segment:
    if isinstance(segment, Line):
        return Line(segment.start, end)
    return Arc(segment.start, end, segment.centre, segment.clockwise)


def _apart(found: list[_Loop]) -> list[_Loop]:
    """Return the meetings, the smallest loops first, each place once."""
    kept: list[_Loop] = []
    for loop in sorted(found, key=lambda loop: loop.size):
        if all(distance(loop.at.point, other.at.point) > TOLERANCES.repair for other in kept):
            kept.append(loop)
    return kept
