"""Outlines for the placer: rings with few corners that are never inside the wood they cover.

A ring is a counter-clockwise list of corners; whole numbers of 1/UNITS mm wherever no-fit areas are made of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TypeAlias

import numpy as np
from shapely import Polygon

from cutjob.geometry.contour import Contour
from cutjob.geometry.segment import Arc, Point

UNITS = 100_000
"""Whole units per mm: a hundredth of TOLERANCES.gap, and boards to 10 m stay in the clipping library's fast range."""

Ring: TypeAlias = list[tuple[int, int]]

ROUGHNESS = 0.1
"""A simplified ring is outside its contour by at most about this, mm; lines that are kept are exact."""


def ring_points(contour: Contour, deviation: float, *, grow: bool) -> list[Point]:
    """Return corners of a counter-clockwise polygon that covers the contour's inside (`grow`) or is within it.

    Arcs on the wrong side of their chords are replaced by their tangents, r / cos(step / 2) from the centre.
    """
    points: list[Point] = []
    for segment in contour.turned(counter_clockwise=True).segments:
        points.append(segment.start)
        if not isinstance(segment, Arc):
            continue
        if segment.clockwise == grow:
            points.extend(segment.chords(deviation)[:-1])
        else:
            points.extend(_tangent_corners(segment, deviation))
    return points


def _tangent_corners(arc: Arc, deviation: float) -> list[Point]:
    radius, sweep, start = arc.radius, arc.sweep, arc.start_angle
    widest = 2 * math.acos(radius / (radius + deviation))
    count = max(1, math.ceil(abs(sweep) / min(widest, math.pi / 4) - 1e-9))
    reach = radius / math.cos(sweep / count / 2)
    angles = [start + sweep * (i + 0.5) / count for i in range(count)]
    return [(arc.centre[0] + reach * math.cos(a), arc.centre[1] + reach * math.sin(a)) for a in angles]


def simplified(points: Sequence[Point], tolerance: float) -> list[Point]:
    """Return a ring with fewer corners that covers the given counter-clockwise one and is within about `tolerance` of
    it.
    """
    ring = _without_straight_corners(points)
    for share in (0.125, 0.25, 0.5, 1.0):
        count = len(ring) + 1
        while len(ring) < count and len(ring) > 4:
            count = len(ring)
            ring = _grown_pass(ring, tolerance * share)
    result, given = Polygon(ring), Polygon(points)
    # A filled notch may close a slot onto itself; then the exact ring is used.
    if result.is_valid and result.buffer(1e-6, join_style="mitre").covers(given):
        return ring
    return list(points)


def _without_straight_corners(points: Sequence[Point]) -> list[Point]:
    kept: list[Point] = []
    for i, here in enumerate(points):
        before, after = kept[-1] if kept else points[i - 1], points[(i + 1) % len(points)]
        if _off_line(here, before, after) > 1e-9 or math.dist(before, after) < math.dist(before, here):
            kept.append(here)
    return kept if len(kept) > 2 else list(points)


def _off_line(point: Point, a: Point, b: Point) -> float:
    length = math.dist(a, b)
    return math.dist(point, a) if length == 0 else abs(_cross(a, b, point)) / length


def _cross(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _grown_pass(ring: list[Point], tolerance: float) -> list[Point]:
    """Fill shallow notches and extend the neighbours of short edges until they meet; no corner is used twice."""
    count = len(ring)
    used, dropped, moved = [False] * count, set[int](), dict[int, Point]()
    for i, here in enumerate(ring):
        around = [(i + step) % count for step in (-1, 0, 1, 2)]
        before, after = ring[around[0]], ring[around[2]]
        if any(used[k] for k in around[:3]) or count - len(dropped) <= 4:
            continue
        if _cross(before, here, after) <= 0:
            if _off_line(here, before, after) <= tolerance:
                dropped.add(i)
                for k in around[:3]:
                    used[k] = True
        elif not used[around[3]]:
            meeting = _meeting(before, here, after, ring[around[3]])
            if meeting is not None and _off_line(meeting, here, after) <= tolerance:
                moved[i] = meeting
                dropped.add(around[2])
                for k in around:
                    used[k] = True
    return [moved.get(i, here) for i, here in enumerate(ring) if i not in dropped]


def _meeting(a: Point, b: Point, c: Point, d: Point) -> Point | None:
    """The point where a-b extended beyond b meets d-c extended beyond c, for a convex edge b-c."""
    if _cross(b, c, d) <= 0:
        return None
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], c[0] - d[0], c[1] - d[1]
    turn = ux * vy - uy * vx
    if abs(turn) < 1e-12:
        return None
    share = ((c[0] - b[0]) * vy - (c[1] - b[1]) * vx) / turn
    other = ((c[0] - b[0]) * uy - (c[1] - b[1]) * ux) / turn
    return (b[0] + share * ux, b[1] + share * uy) if share > 0 and other > 0 else None


def whole(points: Iterable[Point]) -> Ring:
    """Return the corners in whole units."""
    return [(round(x * UNITS), round(y * UNITS)) for x, y in points]


class Extent:
    """Exact reach of a contour in any direction, for parts that fill a board from edge to edge."""

    def __init__(self, contour: Contour) -> None:
        """Prepare the contour's corners and arcs."""
        self._corners = np.array([segment.start for segment in contour.segments])
        self._arcs = [
            (arc.centre, arc.radius, arc.start_angle, arc.sweep) for arc in contour.segments if isinstance(arc, Arc)
        ]

    def least(self, direction: Point) -> float:
        """Return the least of direction . point over the contour, mm for a unit direction."""
        nx, ny = direction
        least = float((self._corners @ np.array(direction)).min())
        towards = math.atan2(-ny, -nx)
        for (cx, cy), radius, start, sweep in self._arcs:
            from_start = (towards - start) % (2 * math.pi) if sweep > 0 else (start - towards) % (2 * math.pi)
            if from_start <= abs(sweep):
                least = min(least, cx * nx + cy * ny - radius * math.hypot(nx, ny))
        return least
