"""The relief of one inside corner: two sides and a radius in, the way round it that replaces the corner out. mm.

A corner is looked at with its waste on the right of both sides, as outlines and openings run. The cutter's way ends at
the relief's *centre*, from which its circle reaches the corner, and comes there straight from a place where a cutter
fits between the sides, so the relief is what a disc sweeps on that way: a half circle and two straight edges.

`diagonal`: the way lies on the bisector of the corner; its centre is one radius from the corner. `side`: the way runs
along the longer side, one radius away from it, into the wall of the shorter side, until the circle touches the corner,
where the side ends; an ordinary cutter would stop r cot(a/2) short of it.

As a figure: the corner is the origin, the longer side goes along +x, the waste is above it, and the other side goes
off at the angle a. Diagonally the centre is (r cos(a/2), r sin(a/2)), and the way comes from r/sin(a/2) out on it.
Along the side the centre is (0, r), right above the corner, and the way comes from (r cot(a/2), r). From either place
a disc of radius r touches both sides.

With the angle a of the waste, the wood taken is, for a >= 90 degrees, r^2 (pi - a - sin a) diagonally and
r^2 (pi - a + sin a cos a) along a side; for a < 90 degrees, where the straight edges count, r^2 (pi/2 - 2 + cot(a/2))
and r^2 (pi/2 + 2 cot a). All four follow from segments of circles and triangles.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import shapely

from cutjob.geometry.contour import closed
from cutjob.geometry.crossing import meetings
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.tolerances import TOLERANCES

Way = Literal["side", "diagonal"]

# Between lines the first is enough; beside an arc that closes in on the corner the way starts further out.
_LONGER = (1.0, 1.3, 1.7, 2.2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place on a chain of segments: the number of the segment, and the share of its length."""

    number: int
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Relief:
    """The edge of what is swept, run with the waste on its right, and where it leaves and meets the two sides.

    `used` is how much of the length of each side is gone; `start` is the middle of the disc the way starts from.
    """

    edge: tuple[Segment, ...]
    first: Place
    last: Place
    used: tuple[float, float]
    start: Point

    @property
    def swept(self) -> shapely.Polygon:
        """All that the disc sweeps, within the chord tolerance."""
        back, ahead = self.edge[-1].end, self.edge[0].start
        return to_polygon(closed((*self.edge, Line(back, ahead))))


def angle_of(before: Segment, after: Segment) -> float:
    """Return the angle of the waste on the right between two sides, radians: pi straight on, 0 back along the way."""
    (ax, ay), (bx, by) = before.direction_at(1.0), after.direction_at(0.0)
    return math.pi + math.atan2(ax * by - ay * bx, ax * bx + ay * by)


def reliefs(before: Segment, after: Segment, *, way: Way, radius: float) -> list[Relief]:
    """Return what may relieve the corner between two sides, the least first; nothing where a side is too short.

    Along a side takes a straight one: of a line and an arc the line, of two arcs none.
    """
    along = _running_side(before, after) if way == "side" else None
    if way == "side" and along is None:
        return []
    found = []
    straight = isinstance(before, Line) and isinstance(after, Line)
    for longer in _LONGER[:1] if straight else _LONGER:
        edge = _edge(before, after, along=along, radius=radius, longer=longer)
        relief = _between(edge, before, after, along=along)
        if relief is not None:
            found.append(relief)
    return found


def _running_side(before: Segment, after: Segment) -> int | None:
    """The side the cutter runs on along: 0 the one before the corner, 1 the one after it."""
    lines = [isinstance(side, Line) for side in (before, after)]
    if not any(lines):
        return None
    if all(lines):
        return 0 if before.length >= after.length - TOLERANCES.same_point else 1
    return lines.index(True)


def _edge(
    before: Segment, after: Segment, *, along: int | None, radius: float, longer: float
) -> tuple[Line, Arc, Line]:
    """The edge of what is swept: towards the corner, round the centre, and back."""
    corner, half = before.end, angle_of(before, after) / 2
    ux, uy = before.direction_at(1.0)
    vx, vy = after.direction_at(0.0)
    if along is None:
        # From the corner into the waste: the side before turned back, and on by half the angle.
        dx, dy = -(ux * math.cos(half) - uy * math.sin(half)), -(uy * math.cos(half) + ux * math.sin(half))
        centre = (corner[0] + radius * dx, corner[1] + radius * dy)
        length = radius / math.sin(half) - radius
    else:
        dx, dy = (-ux, -uy) if along == 0 else (vx, vy)
        nx, ny = (uy, -ux) if along == 0 else (vy, -vx)
        centre = (corner[0] + radius * nx, corner[1] + radius * ny)
        length = radius / math.tan(half)
    # A disc's width more than no length at all, so that the edges never vanish.
    length = max(length, 0.1 * radius) * longer
    sx, sy = radius * dy, -radius * dx
    near = corner if along == 0 else (centre[0] + sx, centre[1] + sy)
    far = corner if along == 1 else (centre[0] - sx, centre[1] - sy)
    return (
        Line((near[0] + length * dx, near[1] + length * dy), near),
        Arc(near, far, centre, True),
        Line(far, (far[0] + length * dx, far[1] + length * dy)),
    )


def _between(edge: tuple[Line, Arc, Line], before: Segment, after: Segment, *, along: int | None) -> Relief | None:
    corner = before.end
    first = (Place(number=1, share=0.0), 0.0) if along == 0 else _met(edge[:2], before.reversed(), corner, first=0)
    last = (Place(number=1, share=1.0), 0.0) if along == 1 else _met(edge[1:], after, corner, first=1)
    if first is None or last is None:
        return None
    (x0, y0), (x1, y1) = edge[0].start, edge[2].end
    return Relief(
        edge=edge,
        first=first[0],
        last=last[0],
        used=(first[1], last[1]),
        start=((x0 + x1) / 2, (y0 + y1) / 2),
    )


def _met(pieces: Sequence[Segment], side: Segment, corner: Point, *, first: int) -> tuple[Place, float] | None:
    """Where a side that runs away from the corner first leaves what is swept, and how far along it that is."""
    found = [
        (meeting.second * side.length, Place(number=first + index, share=meeting.first))
        for index, piece in enumerate(pieces)
        for meeting in meetings(piece, side)
        if distance(meeting.point, corner) > 10 * TOLERANCES.same_point and not meeting.along
    ]
    if not found:
        return None
    used, place = min(found, key=lambda one: one[0])
    return place, used


def piece(edge: Sequence[Segment], first: Place, last: Place) -> list[Segment]:
    """Return a chain from one place on it to a later one."""
    kept = []
    for number in range(first.number, last.number + 1):
        start = first.share if number == first.number else 0.0
        end = last.share if number == last.number else 1.0
        if (end - start) * edge[number].length > TOLERANCES.same_point:
            kept.append(edge[number].part(start, end))
    return kept
