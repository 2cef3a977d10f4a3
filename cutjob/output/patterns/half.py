"""Chains of segments to what of them lies on the lower or left side of a mirror line. mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.output.patterns.symmetry import Axis
from cutjob.tolerances import TOLERANCES

# Ends of pieces that are cut off meet within this.
MEET = 10 * TOLERANCES.same_point


def half_of(chain: Sequence[Segment], axis: Axis) -> tuple[tuple[Segment, ...], ...]:
    """Return the runs of a chain on the near side of a line (x or y no greater than its place), cut off on it."""
    runs: list[list[Segment]] = []
    open_run = False
    for segment in chain:
        for piece in _split(segment, axis):
            near = _place(piece.point_at(0.5), axis) <= TOLERANCES.same_point
            if near and open_run:
                runs[-1].append(piece)
            elif near:
                runs.append([piece])
            open_run = near
    # A closed chain that begins on the near side goes on at its start.
    if len(runs) > 1 and distance(runs[-1][-1].end, runs[0][0].start) <= MEET:
        runs[0] = runs.pop() + runs[0]
    return tuple(tuple(run) for run in runs)


def _place(point: Point, axis: Axis) -> float:
    return (point[0] if axis.way == "upright" else point[1]) - axis.at


def _split(segment: Segment, axis: Axis) -> list[Segment]:
    shares = [0.0, *(share for share in sorted(_crossings(segment, axis)) if 0 < share < 1), 1.0]
    # Measured by shares: an arc of no length can pass for a full turn.
    least = TOLERANCES.same_point / segment.length
    return [segment.part(first, last) for first, last in pairwise(shares) if last - first > least]


def _crossings(segment: Segment, axis: Axis) -> list[float]:
    """Shares of the segment's length at which it meets the line."""
    if isinstance(segment, Line):
        first, last = _place(segment.start, axis), _place(segment.end, axis)
        return [] if first == last else [first / (first - last)]
    return _arc_crossings(segment, axis)


def _arc_crossings(arc: Arc, axis: Axis) -> list[float]:
    off = -_place(arc.centre, axis)
    if abs(off) >= arc.radius:
        return []
    half = math.acos(off / arc.radius)
    middle = 0.0 if axis.way == "upright" else math.pi / 2
    found = []
    for angle in (middle + half, middle - half):
        turned = (angle - arc.start_angle) % (2 * math.pi)
        if arc.sweep < 0:
            turned -= 2 * math.pi
        found.append(turned / arc.sweep)
    return found
