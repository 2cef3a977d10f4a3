"""Contours that run into themselves: loops and spikes up to `TOLERANCES.repair` are cut off, larger ones are told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from cutjob.geometry.contour import Contour, closed
from cutjob.geometry.crossing import Meeting, meetings
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.tolerances import TOLERANCES

_MOST_CUTS = 200  # tiny loops in one contour; more are no slips of the pen
# Segments that lead smoothly into each other stay within `same_point` for a while: this area per length is nothing.
_NO_AREA = 2 * TOLERANCES.same_point
_SMOOTH_STRETCH = 1.0  # mm


@dataclass(frozen=True, slots=True)
class Crossing:
    """A place where a contour meets itself, or another: `along` where the two run together for a stretch."""

    point: Point
    along: bool


@dataclass(frozen=True, slots=True)
class Mended:
    """A contour with its tiny loops cut off, what is left to tell, how far it was moved, and how often."""

    contour: Contour | None
    crossings: tuple[Crossing, ...]
    moved: float
    cuts: int


def mended(segments: Sequence[Segment]) -> Mended:
    """Return the contour of a closed chain without loops, spikes and touches that are smaller than the repair limit.

    The contour is None where nothing is left of it.
    """
    chain = [segment for segment in segments if segment.length > TOLERANCES.same_point]
    moved, cuts = 0.0, 0
    while True:
        if len(chain) < 2 or (len(chain) == 2 and all(isinstance(s, Line) for s in chain)):
            return Mended(None, (), moved, cuts)
        found = _self_meetings(chain)
        small = next((meeting for meeting in found if meeting.size <= TOLERANCES.repair), None)
        if small is None or cuts == _MOST_CUTS:
            break
        chain = _cut(chain, small)
        moved, cuts = max(moved, small.size), cuts + 1
    crossings = tuple(Crossing(meeting.at.point, meeting.at.along) for meeting in found)
    return Mended(closed(chain), crossings, moved, cuts)


@dataclass(frozen=True, slots=True)
class _Loop:
    """Where segment `first` meets the later segment `second`; `size` is how far the smaller loop reaches from there.

    `inner` says that the smaller loop is the one from the first to the second, not the one round the chain's end.
    """

    first: int
    second: int
    at: Meeting
    size: float
    inner: bool


def _self_meetings(chain: list[Segment]) -> list[_Loop]:
    found: list[_Loop] = []
    for i, j in near_pairs(chain):
        for meeting in meetings(chain[i], chain[j]):
            if _is_joint(len(chain), i, j, meeting):
                continue
            loop = _loop_at(chain, i, j, meeting)
            if not _goes_on_smoothly(chain, loop):
                found.append(loop)
    return _apart(found)


def near_pairs(segments: Sequence[Segment]) -> list[tuple[int, int]]:
    """Return the pairs of segments, the lower index first, whose boxes meet."""
    x0, y0, x1, y1 = np.array([segment.bounds for segment in segments], dtype=np.float64).T
    near = TOLERANCES.same_point
    boxes = shapely.box(x0 - near, y0 - near, x1 + near, y1 + near)
    pairs = shapely.STRtree(boxes).query(boxes)
    return sorted((int(i), int(j)) for i, j in zip(*pairs, strict=True) if i < j)


def _is_joint(count: int, i: int, j: int, meeting: Meeting) -> bool:
    """True for the point that neighbours in the chain share."""
    return (j == i + 1 and meeting.first == 1 and meeting.second == 0) or (
        i == 0 and j == count - 1 and meeting.first == 0 and meeting.second == 1
    )


def _loop_at(chain: list[Segment], i: int, j: int, meeting: Meeting) -> _Loop:
    inner = _piece(chain, i, meeting.first, j, meeting.second)
    outer = _piece(chain, j, meeting.second, i, meeting.first)
    inner_size, outer_size = (_reach(piece, meeting.point) for piece in (inner, outer))
    return _Loop(i, j, meeting, min(inner_size, outer_size), inner_size <= outer_size)


def _piece(chain: list[Segment], i: int, a: float, j: int, b: float) -> list[Segment]:
    """Return the chain from share `a` of segment i to share `b` of segment j, round the end where j < i."""
    between = chain[i + 1 : j] if j > i else [*chain[i + 1 :], *chain[:j]]
    head = [chain[i].part(a, 1)] if a < 1 else []
    tail = [chain[j].part(0, b)] if b > 0 else []
    return [*head, *between, *tail]


def _reach(piece: list[Segment], point: Point) -> float:
    """Return how far the piece goes from a point; the boxes' corners bound it from above, ends from below."""
    reach = 0.0
    for segment in piece:
        if isinstance(segment, Arc):
            x0, y0, x1, y1 = segment.bounds
            reach = max(reach, *(distance(point, corner) for corner in ((x0, y0), (x0, y1), (x1, y0), (x1, y1))))
        else:
            reach = max(reach, distance(point, segment.start), distance(point, segment.end))
    return reach


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


def _cut(chain: list[Segment], loop: _Loop) -> list[Segment]:
    """Return the chain without the smaller loop."""
    i, j, meeting = loop.first, loop.second, loop.at
    if loop.inner:
        kept = _piece(chain, j, meeting.second, i, meeting.first)
    else:
        kept = _piece(chain, i, meeting.first, j, meeting.second)
    kept = [segment for segment in kept if segment.length > TOLERANCES.same_point]
    if kept:  # both ends lie at the meeting point; make them the same
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
    """Return the meetings, the smallest loops first, without those at a place already named."""
    kept: list[_Loop] = []
    for loop in sorted(found, key=lambda loop: loop.size):
        if all(distance(loop.at.point, other.at.point) > TOLERANCES.repair for other in kept):
            kept.append(loop)
    return kept
