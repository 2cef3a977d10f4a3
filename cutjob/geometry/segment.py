"""Lines and arcs: their length, points, tangents, bounds and chords. Immutable; mm and radians."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

Point: TypeAlias = tuple[float, float]
Bounds: TypeAlias = tuple[float, float, float, float]  # least x, least y, greatest x, greatest y


def around(boxes: Sequence[Bounds]) -> Bounds:
    """Return the box along x and y round some boxes. Raises ValueError for none."""
    return (
        min(box[0] for box in boxes),
        min(box[1] for box in boxes),
        max(box[2] for box in boxes),
        max(box[3] for box in boxes),
    )


def distance(a: Point, b: Point) -> float:
    """Return the distance between two points."""
    return math.hypot(b[0] - a[0], b[1] - a[1])


@dataclass(frozen=True, slots=True)
class Line:
    """A straight segment."""

    start: Point
    end: Point

    def __reduce__(self) -> tuple[type[Line], tuple[Point, Point]]:
        """Pickle as a call: segments go to other processes by the thousand."""
        return Line, (self.start, self.end)

    @property
    def length(self) -> float:
        """Length in mm."""
        return math.hypot(self.end[0] - self.start[0], self.end[1] - self.start[1])

    @property
    def area_under(self) -> float:
        """Twice the signed area between the segment and the origin (shoelace term)."""
        return self.start[0] * self.end[1] - self.end[0] * self.start[1]

    @property
    def bounds(self) -> Bounds:
        """The box along x and y round the segment."""
        (x0, y0), (x1, y1) = self.start, self.end
        return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)

    def reversed(self) -> Line:
        """The same segment in the other direction."""
        return Line(self.end, self.start)

    def point_at(self, share: float) -> Point:
        """The point at `share` (0 start, 1 end) of the length."""
        (x0, y0), (x1, y1) = self.start, self.end
        return x0 + (x1 - x0) * share, y0 + (y1 - y0) * share

    def direction_at(self, share: float) -> Point:
        """Unit tangent in the direction of travel; `share` is taken for symmetry with Arc."""
        length = self.length
        return (self.end[0] - self.start[0]) / length, (self.end[1] - self.start[1]) / length

    def part(self, first: float, last: float) -> Line:
        """The piece between two shares of the length."""
        return Line(
            self.start if first == 0 else self.point_at(first),
            self.end if last == 1 else self.point_at(last),
        )

    def chords(self, deviation: float) -> list[Point]:
        """Points after the start, including the end, whose chords deviate by no more than `deviation`."""
        return [self.end]


@dataclass(frozen=True, slots=True)
class Arc:
    """An arc of less than a full turn; the ends must differ and lie equally far from the centre."""

    start: Point
    end: Point
    centre: Point
    clockwise: bool
    # Worked out once, as they are needed again and again.
    _radius: float | None = field(init=False, default=None, repr=False, compare=False)
    _start_angle: float | None = field(init=False, default=None, repr=False, compare=False)
    _sweep: float | None = field(init=False, default=None, repr=False, compare=False)

    def __reduce__(self) -> tuple[type[Arc], tuple[Point, Point, Point, bool]]:
        """Pickle as a call, without the values worked out."""
        return Arc, (self.start, self.end, self.centre, self.clockwise)

    @property
    def radius(self) -> float:
        """Radius in mm, measured at the start."""
        radius = self._radius
        if radius is None:
            radius = math.hypot(self.start[0] - self.centre[0], self.start[1] - self.centre[1])
            object.__setattr__(self, "_radius", radius)
        return radius

    @property
    def start_angle(self) -> float:
        """Angle of the start seen from the centre, radians."""
        angle = self._start_angle
        if angle is None:
            angle = math.atan2(self.start[1] - self.centre[1], self.start[0] - self.centre[0])
            object.__setattr__(self, "_start_angle", angle)
        return angle

    @property
    def sweep(self) -> float:
        """Signed included angle in radians, positive counter-clockwise, of magnitude below a full turn."""
        sweep = self._sweep
        if sweep is None:
            sweep = self._turn()
            object.__setattr__(self, "_sweep", sweep)
        return sweep

    def _turn(self) -> float:
        ux, uy = self.start[0] - self.centre[0], self.start[1] - self.centre[1]
        vx, vy = self.end[0] - self.centre[0], self.end[1] - self.centre[1]
        angle = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
        if self.clockwise:
            return angle if angle < 0 else angle - 2 * math.pi
        return angle if angle > 0 else angle + 2 * math.pi

    @property
    def length(self) -> float:
        """Length in mm."""
        return self.radius * abs(self.sweep)

    @property
    def area_under(self) -> float:
        """Twice the signed area between the segment and the origin."""
        sweep, radius = self.sweep, self.radius
        chord = self.start[0] * self.end[1] - self.end[0] * self.start[1]
        return chord + radius * radius * (sweep - math.sin(sweep))

    @property
    def bounds(self) -> Bounds:
        """The box along x and y round the segment."""
        (x0, y0), (x1, y1), (cx, cy) = self.start, self.end, self.centre
        xs, ys, radius = [x0, x1], [y0, y1], self.radius
        start, sweep = self.start_angle, self.sweep
        low, high = (start, start + sweep) if sweep > 0 else (start + sweep, start)
        quarter = math.pi / 2
        for step in range(math.ceil(low / quarter), math.floor(high / quarter) + 1):
            match step % 4:
                case 0:
                    xs.append(cx + radius)
                case 1:
                    ys.append(cy + radius)
                case 2:
                    xs.append(cx - radius)
                case _:
                    ys.append(cy - radius)
        return min(xs), min(ys), max(xs), max(ys)

    def reversed(self) -> Arc:
        """The same segment in the other direction."""
        return Arc(self.end, self.start, self.centre, not self.clockwise)

    def point_at(self, share: float) -> Point:
        """The point at `share` (0 start, 1 end) of the length."""
        angle, radius = self.start_angle + self.sweep * share, self.radius
        return self.centre[0] + radius * math.cos(angle), self.centre[1] + radius * math.sin(angle)

    def direction_at(self, share: float) -> Point:
        """Unit tangent in the direction of travel at `share` of the length."""
        if share in (0.0, 1.0):
            # Square to the radius, which is the same without the angle.
            x, y = self.start if share == 0.0 else self.end
            across, along = x - self.centre[0], y - self.centre[1]
            radius = math.hypot(across, along)
            return (along / radius, -across / radius) if self.clockwise else (-along / radius, across / radius)
        angle = self.start_angle + self.sweep * share
        sign = -1.0 if self.clockwise else 1.0
        return -sign * math.sin(angle), sign * math.cos(angle)

    def part(self, first: float, last: float) -> Arc:
        """The piece between two shares of the length."""
        start = self.start if first == 0 else self.point_at(first)
        end = self.end if last == 1 else self.point_at(last)
        return Arc(start, end, self.centre, self.clockwise)

    def chords(self, deviation: float) -> list[Point]:
        """Points after the start, including the end, whose chords deviate by no more than `deviation`.

        From the sagitta r (1 - cos(t/2)). The points are on the arc, so the chords are inside its circle.
        """
        radius, sweep, start = self.radius, self.sweep, self.start_angle
        count = chord_count(radius, sweep, deviation)
        (cx, cy), cos, sin = self.centre, math.cos, math.sin
        angles = [start + sweep * i / count for i in range(1, count)]
        points = [(cx + radius * cos(angle), cy + radius * sin(angle)) for angle in angles]
        points.append(self.end)
        return points


Segment: TypeAlias = Line | Arc


def chord_count(radius: float, sweep: float, deviation: float) -> int:
    """Return the number of equal chords within `deviation` of an arc: the sagitta r (1 - cos(t/2)) solved for t."""
    if radius <= deviation:
        return max(1, math.ceil(abs(sweep) / (math.pi / 2)))
    step = 2 * math.acos(1 - deviation / radius)
    return max(1, math.ceil(abs(sweep) / min(step, math.pi / 2) - 1e-9))


def arc_through_bulge(start: Point, end: Point, bulge: float) -> Segment:
    """Return the segment of a DXF bulge, tan(included angle / 4), negative clockwise (DXF reference, LWPOLYLINE)."""
    if bulge == 0:
        return Line(start, end)
    dx, dy = end[0] - start[0], end[1] - start[1]
    # The centre is (1 - b^2) / (4 b) chords from the chord's middle, to the left where positive.
    off = (1 - bulge * bulge) / (4 * bulge)
    centre = ((start[0] + end[0]) / 2 - dy * off, (start[1] + end[1]) / 2 + dx * off)
    return Arc(start, end, centre, bulge < 0)


def bulge_of(segment: Segment) -> float:
    """Return the DXF bulge of a segment, 0 for a line."""
    return 0.0 if isinstance(segment, Line) else math.tan(segment.sweep / 4)
