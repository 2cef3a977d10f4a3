"""Rounded corners between two stretches of a path: the arc of a radius that leaves both without a kink. mm."""

from __future__ import annotations

import math
from collections.abc import Sequence

from cutjob.designs.own.quantity import SumError
from cutjob.geometry.crossing import share_at
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance

_MOST_TRIED = 40  # pieces of each stretch, next to the corner, that the arc may end on
_NEAR = 1e-6  # mm, and radians between two directions that count as one


def rounded_corner(
    before: Sequence[Segment], after: Sequence[Segment], radius: float
) -> tuple[list[Segment], Segment | None, list[Segment]]:
    """Return both stretches shortened, and the arc between them; None where they run on smoothly.

    `before` ends where `after` starts. The arc's centre lies a radius off both, on the side the path turns to. Raises
    SumError where they are too short for it.
    """
    (ux, uy), (vx, vy) = before[-1].direction_at(1.0), after[0].direction_at(0.0)
    cross, along = ux * vy - uy * vx, ux * vx + uy * vy
    if abs(cross) <= _NEAR:
        if along > 0:
            return list(before), None, list(after)
        raise SumError("the path turns right back here, which no radius rounds; leave round out")
    left = cross > 0
    tries = sorted(
        ((i, j) for i in range(min(len(before), _MOST_TRIED)) for j in range(min(len(after), _MOST_TRIED))),
        key=lambda pair: (pair[0] + pair[1], pair),
    )
    for i, j in tries:
        one, two = before[len(before) - 1 - i], after[j]
        found = _arc(one, two, radius, left=left)
        if found is not None:
            arc, first, last = found
            kept = [*before[: len(before) - 1 - i], *([one.part(0.0, first)] if first > 0 else [])]
            rest = [*([two.part(last, 1.0)] if last < 1 else []), *after[j + 1 :]]
            return kept, arc, rest
    raise SumError("the lines beside this corner are too short for so large a radius; take a smaller one")


def _arc(one: Segment, two: Segment, radius: float, *, left: bool) -> tuple[Arc, float, float] | None:
    corner = one.end
    best: tuple[Arc, float, float] | None = None
    nearest = math.inf
    for centre in _centres(one, two, radius, left=left):
        start, end = _foot(one, centre, radius, left=left), _foot(two, centre, radius, left=left)
        if start is None or end is None:
            continue
        first, last = share_at(one, start, within=_NEAR), share_at(two, end, within=_NEAR)
        if first is None or last is None or distance(start, end) <= _NEAR:
            continue
        if distance(centre, corner) < nearest:
            nearest = distance(centre, corner)
            best = Arc(start, end, centre, not left), first, last
    return best if best is None or abs(best[0].sweep) < math.pi + _NEAR else None


def _centres(one: Segment, two: Segment, radius: float, *, left: bool) -> list[Point]:
    """Where the two stretches, moved by the radius towards the side of the turn, cross."""
    a, b = _moved(one, radius, left=left), _moved(two, radius, left=left)
    if isinstance(a, Line) and isinstance(b, Line):
        (px, py), (qx, qy) = a.start, b.start
        ux, uy, vx, vy = a.end[0] - px, a.end[1] - py, b.end[0] - qx, b.end[1] - qy
        cross = ux * vy - uy * vx
        if cross == 0:
            return []
        share = ((qx - px) * vy - (qy - py) * vx) / cross
        return [(px + share * ux, py + share * uy)]
    if isinstance(a, Line) and not isinstance(b, Line):
        return _line_circle(a, *b)
    if isinstance(b, Line) and not isinstance(a, Line):
        return _line_circle(b, *a)
    assert not isinstance(a, Line)
    assert not isinstance(b, Line)
    (c0, r0), (c1, r1) = a, b
    apart = distance(c0, c1)
    if apart == 0 or apart > r0 + r1 or apart < abs(r0 - r1):
        return []
    along = (apart * apart + r0 * r0 - r1 * r1) / (2 * apart)
    half = math.sqrt(max(0.0, r0 * r0 - along * along))
    ux, uy = (c1[0] - c0[0]) / apart, (c1[1] - c0[1]) / apart
    x, y = c0[0] + along * ux, c0[1] + along * uy
    return [(x - half * uy, y + half * ux), (x + half * uy, y - half * ux)]


def _moved(segment: Segment, radius: float, *, left: bool) -> Line | tuple[Point, float]:
    side = 1.0 if left else -1.0
    if isinstance(segment, Line):
        dx, dy = segment.direction_at(0.0)
        x, y = -dy * radius * side, dx * radius * side
        return Line((segment.start[0] + x, segment.start[1] + y), (segment.end[0] + x, segment.end[1] + y))
    inwards = segment.clockwise != left
    return segment.centre, abs(segment.radius + (-radius if inwards else radius))


def _line_circle(line: Line, centre: Point, radius: float) -> list[Point]:
    dx, dy = line.direction_at(0.0)
    px, py = centre[0] - line.start[0], centre[1] - line.start[1]
    along, off = px * dx + py * dy, px * dy - py * dx
    if abs(off) > radius:
        return []
    half = math.sqrt(radius * radius - off * off)
    return [(line.start[0] + at * dx, line.start[1] + at * dy) for at in (along - half, along + half)]


def _foot(segment: Segment, centre: Point, radius: float, *, left: bool) -> Point | None:
    """The point of the segment nearest to the centre, if it is a radius off it, on the right side."""
    side = 1.0 if left else -1.0
    if isinstance(segment, Line):
        dx, dy = segment.direction_at(0.0)
        return centre[0] + dy * radius * side, centre[1] - dx * radius * side
    (cx, cy), apart = segment.centre, distance(segment.centre, centre)
    if apart <= _NEAR:
        return None
    reach = segment.radius / apart
    inwards = segment.clockwise != left
    # A radius larger than that of an arc it lies within would roll out of it.
    if inwards and radius > segment.radius:
        return None
    return cx + (centre[0] - cx) * reach, cy + (centre[1] - cy) * reach
