"""Two arcs from one point to another with given directions at both, and the distance of points from segments.

A biarc is tangent-continuous at its joint. With d1 and d2 the lengths along the end tangents to the joint's tangent,
the condition |v - d1 t1 - d2 t2| = d1 + d2 (v from end to end, t1 and t2 unit tangents) leaves one value free, d2/d1.
For a curvature that grows evenly d1 = d2 is best and deviates by k' h^3 / 324 (h the span, k' the curvature's slope).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from cutjob.geometry.segment import Arc, Line, Point, Segment, distance

Floats = NDArray[np.float64]

# An arc whose height over its chord is less than this (mm) is taken as a line: a controller makes no difference, and
# the tangents differ by 4 times this over the length.
STRAIGHT = 1e-6
_ONE_CENTRE = 1e-7  # mm; arcs with centres this close are the same arc


def biarc(
    start: Point, start_direction: Point, end: Point, end_direction: Point, *, ratio: float = 1.0
) -> tuple[Segment, ...] | None:
    """Return one or two segments from `start` to `end` with the given unit tangents, or None where they would turn too
    far.

    `ratio` is d2/d1 of the module's formula. Each arc turns by less than 180 degrees.
    """
    vx, vy = end[0] - start[0], end[1] - start[1]
    square = vx * vx + vy * vy
    if square == 0:
        return None
    lead = vx * start_direction[0] + vy * start_direction[1]
    tail = vx * end_direction[0] + vy * end_direction[1]
    cosine = start_direction[0] * end_direction[0] + start_direction[1] * end_direction[1]
    if lead <= 0 or tail <= 0:  # the curve turns back on itself, so the span is too long
        return None
    middle = lead + ratio * tail
    first = square / (middle + math.sqrt(middle * middle + 2 * ratio * max(0.0, 1 - cosine) * square))
    last = ratio * first
    joint = (
        (last * (start[0] + first * start_direction[0]) + first * (end[0] - last * end_direction[0])) / (first + last),
        (last * (start[1] + first * start_direction[1]) + first * (end[1] - last * end_direction[1])) / (first + last),
    )
    if distance(start, joint) <= STRAIGHT or distance(joint, end) <= STRAIGHT:
        return None
    back = _arc_from(end, (-end_direction[0], -end_direction[1]), joint)
    return tuple(merged([_arc_from(start, start_direction, joint), back.reversed()]))


def _arc_from(start: Point, direction: Point, end: Point) -> Segment:
    """Return the arc (or line) that leaves `start` along `direction` and reaches `end`."""
    ux, uy = end[0] - start[0], end[1] - start[1]
    across = direction[0] * uy - direction[1] * ux  # distance of the end to the left of the tangent
    if abs(across) <= 4 * STRAIGHT:
        return Line(start, end)
    radius = (ux * ux + uy * uy) / (2 * across)
    return Arc(start, end, (start[0] - direction[1] * radius, start[1] + direction[0] * radius), across < 0)


def merged(segments: list[Segment]) -> list[Segment]:
    """Return the chain with neighbouring arcs of one centre, and lines of one direction, joined."""
    kept: list[Segment] = []
    for segment in segments:
        joined = _joined(kept[-1], segment) if kept else None
        if joined is None:
            kept.append(segment)
        else:
            kept[-1] = joined
    return kept


def _joined(first: Segment, second: Segment) -> Segment | None:
    if isinstance(first, Line) and isinstance(second, Line):
        whole = Line(first.start, second.end)
        if whole.length <= first.length or distances([first.end], whole)[0] > STRAIGHT:
            return None
        return whole
    if isinstance(first, Arc) and isinstance(second, Arc) and first.clockwise == second.clockwise:
        turn = abs(first.sweep) + abs(second.sweep)
        if distance(first.centre, second.centre) <= _ONE_CENTRE and turn < math.pi:
            return Arc(first.start, second.end, first.centre, first.clockwise)
    return None


def distances(points: list[Point] | Floats, segment: Segment) -> Floats:
    """Return the distance in mm of each point from the nearest point of the segment."""
    xy = np.asarray(points, dtype=np.float64)
    if isinstance(segment, Line):
        return _from_line(xy, np.array(segment.start), np.array(segment.end))
    off = xy - np.array(segment.centre)
    sweep = segment.sweep
    # Angle from the start, in the direction of travel, 0 to a full turn.
    turned = np.mod((np.arctan2(off[:, 1], off[:, 0]) - segment.start_angle) * math.copysign(1, sweep), 2 * math.pi)
    beside = np.abs(np.hypot(off[:, 0], off[:, 1]) - segment.radius)
    to_start, to_end = xy - np.array(segment.start), xy - np.array(segment.end)
    beyond = np.minimum(np.hypot(to_start[:, 0], to_start[:, 1]), np.hypot(to_end[:, 0], to_end[:, 1]))
    nearest: Floats = np.where(turned <= abs(sweep), beside, beyond)
    return nearest


def _from_line(xy: Floats, start: Floats, end: Floats) -> Floats:
    along = end - start
    square = float(along @ along)
    share = np.clip((xy - start) @ along / square, 0.0, 1.0) if square > 0 else np.zeros(len(xy))
    off = xy - (start + share[:, None] * along)
    result: Floats = np.hypot(off[:, 0], off[:, 1])
    return result
