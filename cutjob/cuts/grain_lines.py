"""Clears a floor by lines along x, the grain, to and fro, then once round its edge to take off the scallops. mm."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, field

import shapely

from cutjob.cuts.cut import Clearing
from cutjob.cuts.insets import inset
from cutjob.cuts.loops import Loop, Room, with_ends
from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Line, Segment

# Between two lines the way follows the edge if that is no longer than this many steps; else the cutter lifts.
_SHORT = 20.0
# The cutter comes down to and fro along the first stretch of a way, this many steps long if there is room.
_ENTRY = 20.0
# A line through a corner or along an edge is moved aside in steps of this, mm, until it is half a step clear of all.
_ASIDE = 0.0002
_SURE = 0.01  # mm: how far lines may be moved aside, and how exactly a largest inscribed circle is found


def along_grain(rooms: Sequence[Region], *, radius: float, stepover: float, counter_clockwise: bool) -> list[Clearing]:
    """Return ways over the floor under `rooms`, where the centre may be: lines, then round outlines and islands.

    Lines lie a stepover or less apart, the first and the last half of that from the end, on the area that is more than
    radius - stepover / 2 inside the edge. Nothing stays uncut. From a place in that area, go square to the lines
    towards the nearest one: within half a stepover you meet it, or come to a place no more than radius - stepover / 2
    from the ring round the edge. All places nearer to the edge are within a radius of the ring.
    """
    ways: list[Clearing] = []
    for region in rooms:
        chains: list[list[Segment]] = []
        for inner in inset(region, max(radius - stepover / 2 - _SURE, 0.0)):
            shape = to_polygon(inner)
            if float(shapely.maximum_inscribed_circle(shape, tolerance=_SURE).length) > stepover / 2 - 2 * _SURE:
                chains.extend(_Lines(inner, stepover).chains())
        loops = [Loop(one if counter_clockwise else one.reversed()) for one in region.contours]
        ways.extend(_with_rings(chains, loops, Room(rooms), stepover))
    return ways


def _with_rings(chains: Sequence[list[Segment]], loops: Sequence[Loop], room: Room, stepover: float) -> list[Clearing]:
    """Lines as ways; the last one takes the rings too, where straight links lead to them."""
    ways = [Clearing(entry=_to_and_fro(chain, stepover), path=tuple(chain)) for chain in chains[:-1]]
    entry: Contour | None = None
    path: list[Segment] = []
    if chains:
        path = list(chains[-1])
        entry = _to_and_fro(path, stepover)
    for loop in loops:
        at = 0.0
        if entry is not None:
            here = path[-1].end
            at = loop.foot(here)
            there = loop.point(at)
            if room.holds(here, there) and math.dist(here, there) <= _SHORT * stepover:
                if here != there:
                    path.append(Line(here, there))
            else:
                ways.append(Clearing(entry=entry, path=tuple(path)))
                entry, at, path = None, 0.0, []
        if entry is None:
            entry = loop.contour
        path.extend(loop.round_from(at))
    assert entry is not None
    return [*ways, Clearing(entry=entry, path=tuple(path))]


def _to_and_fro(chain: Sequence[Segment], stepover: float) -> Contour:
    """The first stretch of a chain, there and back."""
    ruler = Ruler(chain)
    if ruler.closed:
        return Contour(tuple(chain))
    there = ruler.piece(0.0, min(ruler.length, _ENTRY * stepover))
    return Contour((*there, *(segment.reversed() for segment in reversed(there))))


@dataclass(slots=True)
class _End:
    """Where a line meets an edge: `along` mm on loop `loop`."""

    level: int
    loop: int
    along: float
    x: float
    line: _LineOver | None = None


@dataclass(slots=True)
class _LineOver:
    """One line from edge to edge."""

    y: float
    ends: tuple[_End, _End]
    done: bool = field(default=False)

    def from_end(self, end: _End) -> tuple[Line, _End]:
        """The line run from one of its ends, and its other end."""
        other = self.ends[1] if end is self.ends[0] else self.ends[0]
        return Line((end.x, self.y), (other.x, self.y)), other


class _Lines:
    """All lines over one region."""

    def __init__(self, region: Region, stepover: float) -> None:
        self._loops = [Loop(contour) for contour in region.contours]
        self._longest = _SHORT * stepover
        _, low, _, high = region.bounds
        count = math.ceil((high - low) / stepover)
        avoid = sorted(y for contour in region.contours for segment in contour.segments for y in _turns(segment))
        step = (high - low) / count
        self._lines: list[_LineOver] = []
        for level in range(count):
            self._lines.extend(self._level(level, _clear_of(avoid, low + (level + 0.5) * step)))
        self._round: list[list[_End]] = [[] for _ in self._loops]
        for line in self._lines:
            for end in line.ends:
                end.line = line
                self._round[end.loop].append(end)
        for ends in self._round:
            ends.sort(key=lambda end: end.along)

    def _level(self, level: int, y: float) -> list[_LineOver]:
        ends = [
            _End(level, number, loop.ruler.start_of(index) + share * segment.length, segment.point_at(share)[0])
            for number, loop in enumerate(self._loops)
            for index, segment in enumerate(loop.contour.segments)
            for share in _crossings(segment, y)
        ]
        ends.sort(key=lambda end: end.x)
        return [_LineOver(y, (left, right)) for left, right in zip(ends[::2], ends[1::2], strict=True)]

    def chains(self) -> list[list[Segment]]:
        """Lines and links between them, from one lift of the cutter to the next."""
        chains = []
        for first in self._lines:
            if first.done:
                continue
            chain: list[Segment] = []
            end = first.ends[0]
            line: _LineOver | None = first
            while line is not None:
                line.done = True
                piece, end = line.from_end(end)
                chain.append(piece)
                link = self._link(end)
                if link is None:
                    break
                way, end = link
                chain.extend(with_ends(way, chain[-1].end, (end.x, _y(end))))
                line = end.line
            chains.append(chain)
        return chains

    def _link(self, end: _End) -> tuple[list[Segment], _End] | None:
        """The shorter way along the edge to a neighbouring line that is still to be run."""
        ends, loop = self._round[end.loop], self._loops[end.loop]
        index = next(i for i, one in enumerate(ends) if one is end)
        found: list[tuple[float, bool, _End]] = []
        for forward in (True, False):
            other = ends[(index + (1 if forward else -1)) % len(ends)]
            length = ((other.along - end.along) if forward else (end.along - other.along)) % loop.length
            assert other.line is not None
            if not other.line.done and abs(other.level - end.level) == 1 and length <= self._longest:
                found.append((length, forward, other))
        if not found:
            return None
        length, forward, other = min(found, key=lambda one: one[0])
        return loop.along(end.along, end.along + (length if forward else -length)), other


def _y(end: _End) -> float:
    assert end.line is not None
    return end.line.y


def _turns(segment: Segment) -> list[float]:
    """Heights at which a line along x would touch a segment or meet its end, and not cross it."""
    _, low, _, high = segment.bounds
    return [segment.start[1], low, high]


def _clear_of(avoid: Sequence[float], y: float) -> float:
    """The height nearest to `y` at which the edge does not turn."""
    for step in range(round(_SURE / _ASIDE)):
        for aside in (step * _ASIDE, -step * _ASIDE):
            index = bisect_left(avoid, y + aside - _ASIDE / 2)
            if index == len(avoid) or avoid[index] > y + aside + _ASIDE / 2:
                return y + aside
    return y


def _crossings(segment: Segment, y: float) -> list[float]:
    """Shares of a segment's length at which it crosses a height where the edge does not turn."""
    if isinstance(segment, Line):
        before, after = segment.start[1] - y, segment.end[1] - y
        return [before / (before - after)] if (before > 0) != (after > 0) else []
    height = (y - segment.centre[1]) / segment.radius
    if abs(height) >= 1:
        return []
    shares = []
    for angle in (math.asin(height), math.pi - math.asin(height)):
        turn = (angle - segment.start_angle) * math.copysign(1.0, segment.sweep) % (2 * math.pi)
        if turn < abs(segment.sweep):
            shares.append(turn / abs(segment.sweep))
    return shares
