"""Finds the points where two segments meet: crossings, touches, and the ends of stretches they share. mm."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class Meeting:
    """A point on two segments, with its place on each as a share of the length; `along` where they run together."""

    point: Point
    first: float
    second: float
    along: bool = False


def meetings(first: Segment, second: Segment, *, within: float = TOLERANCES.same_point) -> list[Meeting]:
    """Return the points within `within` mm of both segments: crossings, touches, the ends of shared stretches."""
    candidates, along = _candidates(first, second, within)
    found: list[Meeting] = []
    for point in candidates:
        a, b = share_at(first, point, within=within), share_at(second, point, within=within)
        if a is None or b is None or any(distance(m.point, point) <= within for m in found):
            continue
        found.append(Meeting(point, a, b, along))
    # Two points are a stretch; a single one is an end that meets an end.
    if along and len(found) < 2:
        found = [Meeting(m.point, m.first, m.second) for m in found]
    return found


def share_at(segment: Segment, point: Point, *, within: float) -> float | None:
    """Return the share of the segment's length nearest to a point, or None where it is farther off than `within`."""
    if distance(point, segment.start) <= within:
        return 0.0
    if distance(point, segment.end) <= within:
        return 1.0
    if isinstance(segment, Line):
        dx, dy = segment.end[0] - segment.start[0], segment.end[1] - segment.start[1]
        px, py = point[0] - segment.start[0], point[1] - segment.start[1]
        square = dx * dx + dy * dy
        if square == 0 or abs(dx * py - dy * px) > within * math.sqrt(square):
            return None
        share = (dx * px + dy * py) / square
    else:
        if abs(distance(point, segment.centre) - segment.radius) > within:
            return None
        angle = math.atan2(point[1] - segment.centre[1], point[0] - segment.centre[0]) - segment.start_angle
        sweep = segment.sweep
        share = (angle % (2 * math.pi)) / sweep if sweep > 0 else (-angle % (2 * math.pi)) / -sweep
    return share if 0 <= share <= 1 else None


def _candidates(first: Segment, second: Segment, within: float) -> tuple[list[Point], bool]:
    if isinstance(first, Line) and isinstance(second, Line):
        return _line_line(first, second, within)
    if isinstance(first, Line) and isinstance(second, Arc):
        return _line_circle(first, second, within), False
    if isinstance(first, Arc) and isinstance(second, Line):
        return _line_circle(second, first, within), False
    assert isinstance(first, Arc)
    assert isinstance(second, Arc)
    return _circle_circle(first, second, within)


def _line_line(first: Line, second: Line, within: float) -> tuple[list[Point], bool]:
    ux, uy = first.end[0] - first.start[0], first.end[1] - first.start[1]
    vx, vy = second.end[0] - second.start[0], second.end[1] - second.start[1]
    wx, wy = second.start[0] - first.start[0], second.start[1] - first.start[1]
    cross = ux * vy - uy * vx
    # Parallel for these lengths: even the far ends are less than `within` apart.
    if abs(cross) <= within * max(math.hypot(ux, uy), math.hypot(vx, vy)):
        return [first.start, first.end, second.start, second.end], True
    share = (wx * vy - wy * vx) / cross
    ends = [first.start, first.end, second.start, second.end]  # touches at ends, which rounding may move just outside
    return [*ends, (first.start[0] + share * ux, first.start[1] + share * uy)], False


def _line_circle(line: Line, arc: Arc, within: float) -> list[Point]:
    length = line.length
    if length == 0:
        return [line.start]
    dx, dy = (line.end[0] - line.start[0]) / length, (line.end[1] - line.start[1]) / length
    px, py = arc.centre[0] - line.start[0], arc.centre[1] - line.start[1]
    along, off = px * dx + py * dy, abs(px * dy - py * dx)
    ends = [line.start, line.end, arc.start, arc.end]
    if off > arc.radius + within:
        return ends
    half = math.sqrt(max(0.0, arc.radius**2 - off**2))
    # A near touch is one point, not two a hair apart.
    steps = [along] if half < math.sqrt(2 * arc.radius * within) else [along - half, along + half]
    return [*ends, *((line.start[0] + s * dx, line.start[1] + s * dy) for s in steps)]


def _circle_circle(first: Arc, second: Arc, within: float) -> tuple[list[Point], bool]:
    ends = [first.start, first.end, second.start, second.end]
    (x0, y0), (x1, y1) = first.centre, second.centre
    r0, r1 = first.radius, second.radius
    apart = math.hypot(x1 - x0, y1 - y0)
    if apart <= within and abs(r0 - r1) <= within:
        return ends, True
    if apart == 0 or apart > r0 + r1 + within or apart < abs(r0 - r1) - within:
        return ends, False
    along = (apart * apart + r0 * r0 - r1 * r1) / (2 * apart)
    half = math.sqrt(max(0.0, r0 * r0 - along * along))
    ux, uy = (x1 - x0) / apart, (y1 - y0) / apart
    x, y = x0 + along * ux, y0 + along * uy
    if half < math.sqrt(2 * min(r0, r1) * within):
        touch = r0 if along > 0 else -r0
        return [*ends, (x0 + touch * ux, y0 + touch * uy)], False
    return [*ends, (x - half * uy, y + half * ux), (x + half * uy, y - half * ux)], False
