"""Closed ways of a cutter's centre, prepared for finding how to get from one to another. mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from cutjob.cuts.insets import FINE
from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.crossing import share_at
from cutjob.geometry.nearest import NearestSegment
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.tolerances import TOLERANCES

# A link may run along the very edge of where the centre may be; chords on either side may seem to cut it off.
_EDGE = 0.002
_JOINT = 0.002  # mm: places on a loop nearer to a joint than this count as on it
# A link is at most as long as this many times the least distance of the loops, plus half a step.
_HARDLY = 1.2
# Where the cutter would have to go more than this many steps along a loop, it is lifted.
_REACH = 60.0
# Going across cuts the full width, so a mm of it counts this many times as much as going along a loop again, which
# cuts nothing.
_ACROSS = 4.0
_TRIED = 40  # places looked at in full for a link


class Loop:
    """One closed way and its ruler."""

    def __init__(self, contour: Contour) -> None:
        """Take the way in the direction it is run."""
        self.contour = contour
        self.ruler = Ruler(contour.segments)
        self.line = shapely.LinearRing(contour.points(TOLERANCES.chord))
        self._nearest = NearestSegment(contour.segments)
        self._joints = np.array([self.ruler.start_of(index) for index in range(len(contour.segments) + 1)])

    @property
    def length(self) -> float:
        """Once round, mm."""
        return self.ruler.length

    def round_from(self, along: float) -> list[Segment]:
        """Once round from `along` mm."""
        return self._piece(along, along + self.length)

    def along(self, first: float, last: float) -> list[Segment]:
        """From one place to another on the loop, backwards when `last` is less."""
        if last >= first:
            return self._piece(first, last)
        return [segment.reversed() for segment in reversed(self._piece(last, first))]

    def _piece(self, first: float, last: float) -> list[Segment]:
        """Whole segments are taken as they are: an arc's own end may lie a hair off its circle."""
        turn = first // self.length * self.length
        begin, finish = first - turn, last - turn
        chain: list[Segment] = []
        for lap in (0.0, self.length):
            for segment, a, b in zip(self.contour.segments, self._joints + lap, self._joints[1:] + lap, strict=False):
                low, high = max(float(a), begin), min(float(b), finish)
                if high - low > TOLERANCES.same_point:
                    start = 0.0 if low - a < TOLERANCES.same_point else (low - float(a)) / float(b - a)
                    end = 1.0 if b - high < TOLERANCES.same_point else (high - float(a)) / float(b - a)
                    chain.append(segment if (start, end) == (0.0, 1.0) else segment.part(start, end))
        return with_ends(chain, self.point(first), self.point(last))

    def point(self, along: float) -> Point:
        """The point at a settled place."""
        turned = along % self.length
        index = int(np.abs(self._joints - turned).argmin())
        if abs(self._joints[index] - turned) < TOLERANCES.same_point:
            return self.contour.segments[index % len(self.contour.segments)].start
        return self.ruler.point(turned)

    def settled(self, along: float) -> float:
        """The place, moved onto a joint of two segments where one is as good as there. An arc's own end may lie a hair
        off its circle, and a way that begins there must begin where the last one ended.
        """
        turn = along // self.length * self.length
        index = int(np.searchsorted(self._joints, along - turn))
        near = self._joints[max(index - 1, 0) : index + 1]
        joint = float(near[np.abs(near - (along - turn)).argmin()])
        return turn + joint if abs(turn + joint - along) < _JOINT else along

    def foot(self, point: Point) -> float:
        """The place (mm along) nearest to a point."""
        index, _ = self._nearest.find(np.array([point]), reach=float(shapely.Point(point).distance(self.line)) + 0.01)
        number = int(index[0])
        segment = self.contour.segments[number]
        return self.settled(self.ruler.start_of(number) + _share(segment, point) * segment.length)


def with_ends(chain: list[Segment], start: Point, end: Point) -> list[Segment]:
    """The chain with its ends set to exactly these points, from which they differ by rounding."""
    if not chain:
        return []
    first = chain[0]
    chain[0] = (
        Line(start, first.end) if isinstance(first, Line) else Arc(start, first.end, first.centre, first.clockwise)
    )
    last = chain[-1]
    chain[-1] = Line(last.start, end) if isinstance(last, Line) else Arc(last.start, end, last.centre, last.clockwise)
    return chain


def _share(segment: Segment, point: Point) -> float:
    """Share of the segment's length at which its nearest point lies."""
    if isinstance(segment, Line):
        dx, dy = segment.end[0] - segment.start[0], segment.end[1] - segment.start[1]
        share = ((point[0] - segment.start[0]) * dx + (point[1] - segment.start[1]) * dy) / (dx * dx + dy * dy)
        return min(max(share, 0.0), 1.0)
    away = distance(segment.centre, point) or 1.0
    (x, y), scale = segment.centre, segment.radius / away
    found = share_at(segment, (x + (point[0] - x) * scale, y + (point[1] - y) * scale), within=FINE)
    if found is not None:
        return found
    return 0.0 if distance(point, segment.start) <= distance(point, segment.end) else 1.0


@dataclass(frozen=True, slots=True)
class Link:
    """A straight way from a place on one loop, both in mm along, to one on another."""

    leave: float
    arrive: float
    line: Line

    @property
    def out(self) -> list[Segment]:
        """From the first loop to the other; empty where they touch."""
        return [self.line] if self.line.length > TOLERANCES.same_point else []

    @property
    def back(self) -> list[Segment]:
        """The same way back."""
        return [segment.reversed() for segment in self.out]


class Room:
    """Where the cutter's centre may be while it clears."""

    def __init__(self, regions: Sequence[Region]) -> None:
        """Take the regions its centre has to stay in."""
        shape = shapely.union_all([to_polygon(region, deviation=FINE) for region in regions])
        self._shape = shapely.buffer(shape, _EDGE)
        shapely.prepare(self._shape)

    def holds(self, start: Point, end: Point) -> bool:
        """Whether the centre may go straight from one point to another."""
        return bool(shapely.covers(self._shape, shapely.LineString([start, end])))

    def link(self, here: Loop, at: float, there: Loop, *, stepover: float) -> Link | None:
        """The way from one loop, where the cutter is at `at` mm, to another: along the first to a place where the two
        are nearly as close as anywhere, then straight across. None when there is none within reach.
        """
        nearest = shapely.shortest_line(here.line, there.line)
        count = max(16, min(400, round(2 * here.length / stepover)))
        aside = np.linspace(-0.5, 0.5, count, endpoint=False) * here.length
        closest = here.foot((float(nearest.coords[0][0]), float(nearest.coords[0][1]))) - at
        closest -= round(closest / here.length) * here.length
        leaves = [at, *(here.settled(at + float(one)) for one in (closest, *aside))]
        places = [here.point(leave) for leave in leaves]
        across = shapely.distance(shapely.points(places), there.line)
        along = np.abs(np.array(leaves) - at)
        fits = (across <= _HARDLY * nearest.length + stepover / 2) & (along <= _REACH * stepover)
        for index in sorted(np.flatnonzero(fits), key=lambda one: along[one] + _ACROSS * across[one])[:_TRIED]:
            arrive = there.foot(places[index])
            end = there.point(arrive)
            if self.holds(places[index], end):
                return Link(leaves[index], arrive, Line(places[index], end))
        return None


def quad_segments(radius: float) -> int:
    """Return how many chords a quarter of a circle needs to be within `FINE` of it: the sagitta r t^2 / 8."""
    return max(4, math.ceil(math.pi / 4 * math.sqrt(radius / (2 * FINE))))
