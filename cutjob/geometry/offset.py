"""Makes exact offsets of contours: lines stay lines, arcs stay arcs, corners become arcs about the corner.

Clipper finds the topology of the offset on a fine polygon (what vanishes, splits or closes up). Each of its edges is
then traced to the segment or corner it came from, and the result is built from the exact offset curves and their
intersections, so that the polygon's chords leave no mark on it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pyclipper
from numpy.typing import NDArray

from cutjob.geometry.contour import Contour, closed
from cutjob.geometry.nearest import NearestSegment
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.tolerances import TOLERANCES

# Clipper uses whole numbers: 1e-5 mm is far below every tolerance, and 10 m are within its fast range.
_PER_MM = 1e5
# A corner that turns less than this (radians) needs no arc: skipping it moves the path by r t^2 / 8, under 0.0002 mm.
_SMOOTH = 0.01
# Chord error of the polygon for the topology; steps where curves only touch are at most twice this long.
_POLYGON = TOLERANCES.path / 2
# Results smaller than this in mm2 come from rounding and are no paths.
_SPECK = 1e-4


@dataclass(frozen=True, slots=True)
class _Curve:
    """An offset curve without ends: a circle, or a line through `at` along `direction` (radius None)."""

    at: Point
    radius: float | None
    direction: Point = (0.0, 0.0)

    def project(self, point: Point) -> Point:
        """The nearest point of the curve."""
        if self.radius is None:
            along = (point[0] - self.at[0]) * self.direction[0] + (point[1] - self.at[1]) * self.direction[1]
            return self.at[0] + along * self.direction[0], self.at[1] + along * self.direction[1]
        away = distance(self.at, point) or 1.0
        scale = self.radius / away
        return self.at[0] + (point[0] - self.at[0]) * scale, self.at[1] + (point[1] - self.at[1]) * scale


def offset(contour: Contour, by: float) -> tuple[Contour, ...]:
    """Return the edges of the area inside `contour`, grown by `by` mm (shrunk where negative).

    Outer edges are counter-clockwise, edges of holes (bays whose mouth closed up) clockwise. The result is empty where
    nothing is left. The paths are within `TOLERANCES.path` of the exact offset.
    """
    contour = contour.turned(counter_clockwise=True)
    if by == 0:
        return (contour,)
    rings = _clip(np.array(contour.points(_POLYGON)), by)
    if not rings:
        return ()
    tracer = _Tracer(contour, by)
    found = (tracer.trace(ring) for ring in rings)
    return tuple(path for path in found if path is not None)


def _clip(polygon: NDArray[np.float64], by: float) -> list[NDArray[np.float64]]:
    engine = pyclipper.PyclipperOffset(2.0, _POLYGON * _PER_MM)
    whole = np.rint(polygon * _PER_MM).astype(np.int64)
    engine.AddPath(whole.tolist(), pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    rings = [np.array(ring, dtype=np.float64) / _PER_MM for ring in engine.Execute(by * _PER_MM)]
    return [ring for ring in rings if len(ring) > 2 and abs(_area(ring)) > _SPECK]


def _area(ring: NDArray[np.float64]) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def _length(ring: NDArray[np.float64], first: int, last: int) -> float:
    """Length of the ring from one vertex to another; the whole ring where they are the same."""
    edges = (last - first) % len(ring) or len(ring)
    steps = np.diff(ring[(first + np.arange(edges + 1)) % len(ring)], axis=0)
    return float(np.hypot(steps[:, 0], steps[:, 1]).sum())


class _Tracer:
    """Replaces a polygon's edges by exact curves. Sources are numbered in the order of the contour: 2i for segment i,
    2i - 1 for the corner where it starts.
    """

    def __init__(self, contour: Contour, by: float) -> None:
        self._segments = contour.segments
        self._by = by
        self._count = len(contour.segments)
        self._nearest = NearestSegment(contour.segments)
        self._round = np.array([self._has_arc(index) for index in range(self._count)])
        self._curves: dict[int, _Curve] = {}

    def _has_arc(self, index: int) -> bool:
        """Whether the offset goes round the corner where segment `index` starts."""
        before = self._segments[index - 1].direction_at(1.0)
        after = self._segments[index].direction_at(0.0)
        turn = math.atan2(before[0] * after[1] - before[1] * after[0], before[0] * after[0] + before[1] * after[1])
        return turn * math.copysign(1.0, self._by) > _SMOOTH

    def _sources(self, ring: NDArray[np.float64]) -> NDArray[np.int64]:
        middle = (ring + np.roll(ring, -1, axis=0)) / 2
        segment, place = self._nearest.find(middle, reach=abs(self._by) + 10 * _POLYGON)
        following = (segment + 1) % self._count
        source = 2 * segment
        source = np.where((place < 0) & self._round[segment], (2 * segment - 1) % (2 * self._count), source)
        source = np.where((place > 0) & self._round[following], (2 * following - 1) % (2 * self._count), source)
        return np.asarray(source, dtype=np.int64)

    def trace(self, ring: NDArray[np.float64]) -> Contour | None:
        """Return the exact contour of one ring; None where nothing of it has length."""
        sources = self._sources(ring)
        changes = np.flatnonzero(sources != np.roll(sources, 1))
        if len(changes) < 2:
            changes = np.array([0, len(ring) // 2])
        names = [int(sources[index]) for index in changes]
        corners = [(float(ring[index][0]), float(ring[index][1])) for index in changes]
        chain: list[Segment] = []
        joints = [
            self._joint(names[i - 1], names[i], corner) for i, corner in enumerate(corners)
        ]  # fmt: skip
        total = len(names)
        for i, name in enumerate(names):
            begin, finish = joints[i][1], joints[(i + 1) % total][0]
            if joints[i][0] != begin:
                chain.append(Line(joints[i][0], begin))
            last = int(changes[(i + 1) % total])
            chain.append(self._piece(name, begin, finish, ring, int(changes[i]), last))
        chain = _merged([segment for segment in chain if segment.length > _POLYGON])
        return closed(chain) if len(chain) > 1 else None

    def _piece(
        self, name: int, begin: Point, finish: Point, ring: NDArray[np.float64], first: int, last: int
    ) -> Segment:
        curve = self._curve(name)
        if curve.radius is None or distance(begin, finish) <= TOLERANCES.same_point:
            return Line(begin, finish)
        # The offset has the direction of its source; round an outward corner it turns left, round an inward one right.
        source = None if name % 2 else self._segments[name // 2]
        clockwise = source.clockwise if isinstance(source, Arc) else self._by < 0
        arc = Arc(begin, finish, curve.at, clockwise)
        if abs(arc.sweep) > math.pi and arc.length > 2 * _length(ring, first, last):
            # The ends of a run with almost no length are in swapped order: it has no arc.
            return Line(begin, finish)
        return arc

    def _curve(self, name: int) -> _Curve:
        if name not in self._curves:
            self._curves[name] = self._make_curve(name)
        return self._curves[name]

    def _make_curve(self, name: int) -> _Curve:
        if name % 2:
            return _Curve(self._segments[(name + 1) // 2 % self._count].start, abs(self._by))
        segment = self._segments[name // 2]
        if isinstance(segment, Line):
            return _Curve(self._offset_end(segment, 0.0), None, segment.direction_at(0.0))
        return _Curve(segment.centre, segment.radius + (-self._by if segment.clockwise else self._by))

    def _offset_end(self, segment: Segment, share: float) -> Point:
        dx, dy = segment.direction_at(share)
        x, y = segment.start if share == 0 else segment.end
        return x + dy * self._by, y - dx * self._by

    def _joint(self, before: int, after: int, near: Point) -> tuple[Point, Point]:
        """The change from one source's curve to the next: the end of the first and the start of the second."""
        if before == after:
            point = self._curve(before).project(near)
            return point, point
        neighbour = self._neighbour_joint(before, after)
        if neighbour is not None and distance(neighbour, near) < 40 * _POLYGON:
            return neighbour, neighbour
        first, second = self._curve(before), self._curve(after)
        crossings = _crossings(first, second)
        if crossings:
            point = min(crossings, key=lambda candidate: distance(candidate, near))
            if distance(point, near) < 0.02 * abs(self._by) + 80 * _POLYGON:
                return point, point
        # For curves that touch or run side by side: a line across, no longer than the polygon's error.
        return first.project(near), second.project(near)

    def _neighbour_joint(self, before: int, after: int) -> Point | None:
        """The exact joint of successive sources on the contour, where the offset is continuous."""
        total = 2 * self._count
        step = (after - before) % total
        if step == 1:
            if before % 2:  # a corner, then the segment that starts there
                return self._offset_end(self._segments[after // 2], 0.0)
            return self._offset_end(self._segments[before // 2], 1.0)
        if step == 2 and before % 2 == 0:
            end = self._offset_end(self._segments[before // 2], 1.0)
            start = self._offset_end(self._segments[after // 2], 0.0)
            if distance(end, start) < TOLERANCES.path / 10:
                return end
        return None


def _crossings(first: _Curve, second: _Curve) -> list[Point]:
    """Points common to two curves without ends."""
    if first.radius is None and second.radius is None:
        return _line_line(first, second)
    if first.radius is None:
        return _line_circle(first, second)
    if second.radius is None:
        return _line_circle(second, first)
    return _circle_circle(first, second)


def _line_line(first: _Curve, second: _Curve) -> list[Point]:
    (ux, uy), (vx, vy) = first.direction, second.direction
    cross = ux * vy - uy * vx
    if abs(cross) < 1e-9:
        return []
    along = ((second.at[0] - first.at[0]) * vy - (second.at[1] - first.at[1]) * vx) / cross
    return [(first.at[0] + along * ux, first.at[1] + along * uy)]


def _line_circle(line: _Curve, circle: _Curve) -> list[Point]:
    assert circle.radius is not None
    foot = line.project(circle.at)
    height = distance(foot, circle.at)
    if height > circle.radius:
        return []
    half = math.sqrt(max(0.0, circle.radius**2 - height**2))
    (dx, dy) = line.direction
    return [(foot[0] + half * dx, foot[1] + half * dy), (foot[0] - half * dx, foot[1] - half * dy)]


def _circle_circle(first: _Curve, second: _Curve) -> list[Point]:
    assert first.radius is not None
    assert second.radius is not None
    apart = distance(first.at, second.at)
    if apart < TOLERANCES.same_point:
        return []
    along = (apart**2 + first.radius**2 - second.radius**2) / (2 * apart)
    square = first.radius**2 - along**2
    if square < 0:
        return []
    half = math.sqrt(square)
    ux, uy = (second.at[0] - first.at[0]) / apart, (second.at[1] - first.at[1]) / apart
    foot = (first.at[0] + along * ux, first.at[1] + along * uy)
    return [(foot[0] - half * uy, foot[1] + half * ux), (foot[0] + half * uy, foot[1] - half * ux)]


def _merged(chain: list[Segment]) -> list[Segment]:
    """Join neighbours on the same circle or line, but never into a full turn."""
    merged: list[Segment] = []
    for segment in chain:
        joined = _join(merged[-1], segment) if merged else None
        if joined is None:
            merged.append(segment)
        else:
            merged[-1] = joined
    return merged


def _join(before: Segment, after: Segment) -> Segment | None:
    if isinstance(before, Arc) and isinstance(after, Arc):
        same = before.clockwise == after.clockwise and distance(before.centre, after.centre) < TOLERANCES.same_point
        same = same and abs(before.radius - after.radius) < TOLERANCES.same_point
        if same and abs(before.sweep) + abs(after.sweep) < 1.5 * math.pi:
            return Arc(before.start, after.end, before.centre, before.clockwise)
        return None
    if isinstance(before, Line) and isinstance(after, Line):
        (ax, ay), (bx, by) = before.direction_at(0.0), after.direction_at(0.0)
        if abs(ax * by - ay * bx) < 1e-9 and ax * bx + ay * by > 0:
            return Line(before.start, after.end)
    return None
