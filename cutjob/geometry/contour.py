"""Closed chains of lines and arcs, and regions made of them. Immutable; mm."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cutjob.geometry.segment import Arc, Bounds, Line, Point, Segment, around, distance
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class Contour:
    """A closed chain: each segment starts where the one before ends. A counter-clockwise contour has positive area."""

    segments: tuple[Segment, ...]

    def __post_init__(self) -> None:
        if len(self.segments) < 2:
            raise ValueError("a contour needs at least two segments")
        last = self.segments[-1].end
        for segment in self.segments:
            if distance(last, segment.start) > TOLERANCES.same_point:
                raise ValueError(f"contour is open between {last} and {segment.start}")
            last = segment.end

    @property
    def length(self) -> float:
        """Perimeter in mm."""
        return sum(segment.length for segment in self.segments)

    @property
    def signed_area(self) -> float:
        """Exact area in mm2, positive where counter-clockwise."""
        return sum(segment.area_under for segment in self.segments) / 2

    @property
    def bounds(self) -> Bounds:
        """The box along x and y round the contour."""
        return around([segment.bounds for segment in self.segments])

    def reversed(self) -> Contour:
        """The same contour in the other direction."""
        return Contour(tuple(segment.reversed() for segment in reversed(self.segments)))

    def turned(self, *, counter_clockwise: bool) -> Contour:
        """The contour in the wanted direction."""
        return self if (self.signed_area > 0) == counter_clockwise else self.reversed()

    def points(self, deviation: float) -> list[Point]:
        """Vertices of a polygon within `deviation` of the contour, the first not repeated at the end."""
        points: list[Point] = []
        for segment in self.segments:
            points.append(segment.start)
            points.extend(segment.chords(deviation)[:-1])
        return points

    def circle(self) -> tuple[Point, float] | None:
        """Centre and radius in mm where the whole contour is one circle, else None."""
        first = self.segments[0]
        if not isinstance(first, Arc):
            return None
        centre, radius = first.centre, first.radius
        for segment in self.segments:
            if not isinstance(segment, Arc) or segment.clockwise != first.clockwise:
                return None
            if distance(segment.centre, centre) > TOLERANCES.same_point or (
                abs(segment.radius - radius) > TOLERANCES.same_point
            ):
                return None
        return centre, radius


@dataclass(frozen=True, slots=True)
class Region:
    """An area: an outside contour (made counter-clockwise) and the contours of its holes (made clockwise)."""

    outline: Contour
    holes: tuple[Contour, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "outline", self.outline.turned(counter_clockwise=True))
        object.__setattr__(self, "holes", tuple(hole.turned(counter_clockwise=False) for hole in self.holes))

    @property
    def contours(self) -> tuple[Contour, ...]:
        """The outline, then the holes."""
        return (self.outline, *self.holes)

    @property
    def area(self) -> float:
        """Area in mm2 without the holes."""
        return sum(contour.signed_area for contour in self.contours)

    @property
    def bounds(self) -> Bounds:
        """The box along x and y round the region."""
        return self.outline.bounds


def polyline(points: Sequence[Point]) -> Contour:
    """Return the closed contour through `points`; repeated neighbours are dropped. Raises ValueError for fewer than
    three.
    """
    kept: list[Point] = []
    for point in points:
        if not kept or distance(kept[-1], point) > TOLERANCES.same_point:
            kept.append(point)
    if len(kept) > 1 and distance(kept[0], kept[-1]) <= TOLERANCES.same_point:
        kept.pop()
    if len(kept) < 3:
        raise ValueError("a contour of straight lines needs three different points")
    return Contour(tuple(Line(a, b) for a, b in zip(kept, kept[1:] + kept[:1], strict=True)))


def circle(centre: Point, radius: float) -> Contour:
    """Return a counter-clockwise circle as two half turns, starting at the right."""
    right, left = (centre[0] + radius, centre[1]), (centre[0] - radius, centre[1])
    return Contour((Arc(right, left, centre, False), Arc(left, right, centre, False)))


def rectangle(length: float, width: float) -> Contour:
    """Return a counter-clockwise rectangle with its lower left corner at the origin."""
    return polyline([(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)])


def closed(segments: Iterable[Segment]) -> Contour:
    """Return the contour of `segments`; ends that almost meet are made equal, and segments shorter than a point
    dropped.
    """
    chain = [segment for segment in segments if segment.length > TOLERANCES.same_point]
    joined: list[Segment] = []
    for here, after in zip(chain, chain[1:] + chain[:1], strict=True):
        if here.end == after.start:
            joined.append(here)
        elif isinstance(here, Line):
            joined.append(Line(here.start, after.start))
        else:
            joined.append(Arc(here.start, after.start, here.centre, here.clockwise))
    return Contour(tuple(joined))


def regular_angles(count: int, first: float = math.pi / 2) -> list[float]:
    """Return `count` equal steps round a circle, counter-clockwise from `first`, radians."""
    return [first + 2 * math.pi * step / count for step in range(count)]
