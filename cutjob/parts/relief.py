"""Adds corner reliefs to a part, so that a square mate fits into its inside corners. mm.

A round cutter leaves the inside corners of notches, openings and pockets round, so that a square tenon would not go in.
A round relief a hair wider than the cutter (by `SPARE` of radius, so that the cutter's way does not vanish) is built
into the part's own lines and arcs. So layout, cuts and proof all see it.

A corner is taken with its waste on the right of both sides, as outlines and openings run. The cutter's way ends at the
relief's *centre*, from which its circle reaches the corner. It comes there in a straight line from a place where a
cutter fits between the sides. So the relief is the area that a disc sweeps on that way: a half circle and two straight
edges.
`diagonal`: the way is on the bisector of the corner; its centre is one radius from the corner.
`side`: the way runs along the longer side, one radius away from it, into the wall of the shorter side, until the circle
touches the corner, where the side ends. An ordinary cutter would stop r cot(a/2) short of it.

In coordinates: the corner is the origin, the longer side goes along +x, the waste is above it, and the other side is at
the angle a. For `diagonal` the centre is (r cos(a/2), r sin(a/2)), and the way starts r/sin(a/2) from the corner. For
`side` the centre is (0, r), right above the corner, and the way starts at (r cot(a/2), r). At either start a disc of
radius r touches both sides.

With the angle a of the waste, the wood taken is, for a >= 90 degrees, r^2 (pi - a - sin a) for `diagonal` and
r^2 (pi - a + sin a cos a) for `side`; for a < 90 degrees, where the straight edges count, r^2 (pi/2 - 2 + cot(a/2))
and r^2 (pi/2 + 2 cot a). All four follow from segments of circles and triangles.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import shapely
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.contour import Contour, Region, closed
from cutjob.geometry.crossing import meetings
from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.parts.part import ShapedPart
from cutjob.tolerances import TOLERANCES

Way = Literal["side", "diagonal"]

# Between lines the first is enough; beside an arc that narrows towards the corner the way starts further out.
_LONGER = (1.0, 1.3, 1.7, 2.2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place on a chain of segments: the number of the segment, and the share of its length."""

    number: int
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Relief:
    """The edge of the swept area, with the waste on its right, and the places where it leaves and meets the two sides.

    `used` is the length that it takes from each side; `start` is the middle of the disc at the start of the way.
    """

    edge: tuple[Segment, ...]
    first: Place
    last: Place
    used: tuple[float, float]
    start: Point

    @property
    def swept(self) -> shapely.Polygon:
        """The area that the disc sweeps, within the chord tolerance."""
        back, ahead = self.edge[-1].end, self.edge[0].start
        return to_polygon(closed((*self.edge, Line(back, ahead))))


def angle_of(before: Segment, after: Segment) -> float:
    """Return the angle of the waste on the right between two sides, radians: pi where they go straight on, 0 where they
    turn back.
    """
    (ax, ay), (bx, by) = before.direction_at(1.0), after.direction_at(0.0)
    return math.pi + math.atan2(ax * by - ay * bx, ax * bx + ay * by)


def reliefs(before: Segment, after: Segment, *, way: Way, radius: float) -> list[Relief]:
    """Return the possible reliefs of the corner between two sides, the smallest first; none where a side is too short.

    A relief along a side needs a straight side: of a line and an arc the line is taken; two arcs have none.
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
    """The side along which the cutter runs: 0 the one before the corner, 1 the one after it."""
    lines = [isinstance(side, Line) for side in (before, after)]
    if not any(lines):
        return None
    if all(lines):
        return 0 if before.length >= after.length - TOLERANCES.same_point else 1
    return lines.index(True)


def _edge(
    before: Segment, after: Segment, *, along: int | None, radius: float, longer: float
) -> tuple[Line, Arc, Line]:
    """The edge of the swept area: towards the corner, round the centre, and back."""
    corner, half = before.end, angle_of(before, after) / 2
    ux, uy = before.direction_at(1.0)
    vx, vy = after.direction_at(0.0)
    if along is None:
        # The direction from the corner into the waste: the side before, reversed, turned by half the angle.
        dx, dy = -(ux * math.cos(half) - uy * math.sin(half)), -(uy * math.cos(half) + ux * math.sin(half))
        centre = (corner[0] + radius * dx, corner[1] + radius * dy)
        length = radius / math.sin(half) - radius
    else:
        dx, dy = (-ux, -uy) if along == 0 else (vx, vy)
        nx, ny = (uy, -ux) if along == 0 else (vy, -vx)
        centre = (corner[0] + radius * nx, corner[1] + radius * ny)
        length = radius / math.tan(half)
    # Slightly longer than 0, so that the edges never vanish.
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
    """The place where a side that runs away from the corner first leaves the swept area, and its distance along the
    side.
    """
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


SPARE = 0.05
"""The difference between the radius of a relief and the cutter's, mm."""

LEAST_WALL = 25.4 / 16
"""The least wood between a relief and the next edge, hole or pocket, mm; thinner wood splits. Common practice, no
source.
"""

# Two outlines nearer to each other than this are the same, mm.
_AT = 0.01
# The area of a relief by polygons may differ from the exact one by their chords along this many radii.
_ROUND = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Relieved:
    """The part with reliefs, and the inside corners that need one but have no room for it."""

    part: ShapedPart
    skipped: tuple[Point, ...]


def relieved(part: ShapedPart, *, way: Way, cutter_diameter: float) -> Relieved:
    """Return the part with a relief in every inside corner that a cutter of the diameter (mm) can't reach.

    Corners between lines, and between a line and an arc, of the outline, the openings and the pockets are checked.
    Corners rounder than the cutter, or so blunt that almost no wood is left in them, need no relief; nor do corners of
    pockets at the part's edge, where the cutter runs out. A corner without room stays as it is and is named: where a
    side is shorter than the relief, where less than `LEAST_WALL` would be left to another edge, hole or pocket, where
    the cutter can't get in, or where it is rounded, but less than the cutter. Raises ValueError for a diameter that is
    not positive.
    """
    if not cutter_diameter > 0:
        raise ValueError(f"a cutter can't be {cutter_diameter} mm wide")
    region = to_polygon(part.region)
    holes = [shapely.Point(hole.at).buffer(hole.diameter / 2) for hole in part.round_holes]
    floors = [to_polygon(pocket.region) for pocket in part.pockets]
    skipped: list[Point] = []
    kept: list[BaseGeometry] = []
    corners = _Corners(region, region, (*holes, *floors), way, cutter_diameter / 2, kept)
    contours = [corners.relieved(contour, skipped) for contour in part.region.contours]
    pockets = []
    for index, pocket in enumerate(part.pockets):
        others = (*holes, *floors[:index], *floors[index + 1 :])
        corners = _Corners(region.difference(floors[index]), region, others, way, cutter_diameter / 2, kept)
        # Reversed, so that the floor, which is the waste, is on the right.
        walls = [corners.relieved(wall.reversed(), skipped).reversed() for wall in pocket.region.contours]
        pockets.append(replace(pocket, region=Region(walls[0], tuple(walls[1:]))))
    new = replace(part, region=Region(contours[0], tuple(contours[1:])), pockets=tuple(pockets))
    return Relieved(part=new, skipped=tuple(skipped))


class _Corners:
    """Relieves contours that have their waste on the right: `wood` is on their left, `part` the whole face, and `other`
    everything else that is cut. `kept` collects the areas of all reliefs so far.
    """

    def __init__(
        self,
        wood: BaseGeometry,
        part: shapely.Polygon,
        other: Sequence[BaseGeometry],
        way: Way,
        cutter_radius: float,
        kept: list[BaseGeometry],
    ) -> None:
        self.wood, self.other, self.way, self.cutter, self.kept = wood, other, way, cutter_radius, kept
        self.pocket = wood is not part
        self.rim = shapely.Polygon(part.exterior)
        self.radius = cutter_radius + SPARE
        shapely.prepare(self.wood)

    def relieved(self, contour: Contour, skipped: list[Point]) -> Contour:
        """Return the contour with its reliefs; corners without room are added to `skipped`."""
        if contour.circle() is not None:
            return contour
        sides = _whole_lines(contour.segments)
        found: list[Relief | None] = []
        tight = []
        for index, after in enumerate(sides):
            before = sides[index - 1]
            needs = self._is_tight(before, after) and not self._runs_out(after.start)
            tight.append(needs)
            found.append(self._relief(before, after) if needs else None)
        self._keep_apart(sides, found, tight)
        for index, side in enumerate(sides):
            if tight[index] and found[index] is None:
                skipped.append(side.start)
            if self._is_tight_arc(side):
                skipped.append(side.point_at(0.5))
        return _built(sides, found) if any(found) else contour

    def _is_tight(self, before: Segment, after: Segment) -> bool:
        """Whether the cutter leaves enough wood in a corner to be worth a warning: r / sin(a/2) - r."""
        angle = angle_of(before, after)
        if angle >= math.pi:
            return False
        return self.cutter / max(math.sin(angle / 2), 1e-9) - self.cutter > TOLERANCES.worth_telling

    def _is_tight_arc(self, side: Segment) -> bool:
        if not isinstance(side, Arc) or not side.clockwise or self._runs_out(side.point_at(0.5)):
            return False
        half = min(abs(side.sweep), math.pi) / 2
        left = (self.cutter - side.radius) * (1 / max(math.cos(half), 0.1) - 1)
        return left > TOLERANCES.worth_telling

    def _runs_out(self, corner: Point) -> bool:
        """Whether a pocket's corner is on the part's edge or beyond it."""
        if not self.pocket:
            return False
        point = shapely.Point(corner)
        return not self.rim.contains(point) or self.rim.exterior.distance(point) <= _AT

    def _relief(self, before: Segment, after: Segment) -> Relief | None:
        for relief in reliefs(before, after, way=self.way, radius=self.radius):
            if self.wood.distance(shapely.Point(relief.start)) < self.radius - TOLERANCES.chord:
                continue
            if self._has_room(relief, before, after):
                return relief
        return None

    def _has_room(self, relief: Relief, before: Segment, after: Segment) -> bool:
        taken = relief.swept.intersection(self.wood)
        exact = _area_taken(relief, before, after)
        if abs(taken.area - exact) > TOLERANCES.chord * _ROUND * self.radius:
            return False
        corner = shapely.Point(after.start)
        other = [area for area in self.other if area.distance(corner) > _AT]
        wood = self.wood.difference(shapely.union_all(other)) if other else self.wood
        around = taken.buffer(LEAST_WALL).difference(wood)
        # All waste around must belong to the corner: a second piece would be behind a wall that is too thin.
        return len([one for one in polygons_of(around) if one.area > _AT * _AT]) == 1

    def _keep_apart(self, sides: Sequence[Segment], found: list[Relief | None], tight: Sequence[bool]) -> None:
        """Drop reliefs that leave no wood at a side's far end, or that come too near to a corner that stays."""
        for index, side in enumerate(sides):
            after = (index + 1) % len(sides)
            for at, end, other in ((index, 1, after), (after, 0, index)):
                relief = found[at]
                if relief is not None and not tight[other] and 0 < side.length - LEAST_WALL < relief.used[end]:
                    found[at] = None
            one, two = found[index], found[after]
            if one is None or two is None or one.used[1] + two.used[0] <= side.length - LEAST_WALL:
                continue
            if one.used[1] + two.used[0] > side.length and _joint(one, two, side) is None:
                found[index] = found[after] = None
        own: dict[int, BaseGeometry] = {}
        for index, relief in enumerate(found):
            if relief is None:
                continue
            taken = relief.swept.intersection(self.wood)
            # Two reliefs on the same side may run into each other; the wood between them is still held by its own wall.
            neighbours = ((index - 1) % len(sides), (index + 1) % len(sides))
            others = [*self.kept, *(area for at, area in own.items() if at not in neighbours)]
            if any(area.distance(taken) < LEAST_WALL for area in others):
                found[index] = None
            else:
                own[index] = taken
        self.kept += own.values()


def _whole_lines(segments: Sequence[Segment]) -> list[Segment]:
    """The segments, with lines that go straight on joined."""
    whole: list[Segment] = []
    for segment in segments:
        if whole and _goes_on(whole[-1], segment):
            whole[-1] = Line(whole[-1].start, segment.end)
        else:
            whole.append(segment)
    if len(whole) > 3 and _goes_on(whole[-1], whole[0]):
        whole[0] = Line(whole.pop().start, whole[0].end)
    return whole


def _goes_on(before: Segment, after: Segment) -> bool:
    if not (isinstance(before, Line) and isinstance(after, Line)):
        return False
    (ax, ay), (bx, by) = before.direction_at(1.0), after.direction_at(0.0)
    return abs(ax * by - ay * bx) < 1e-9 and ax * bx + ay * by > 0


def _area_taken(relief: Relief, before: Segment, after: Segment) -> float:
    """The exact area of wood that a relief takes: between its edge and the two sides up to the corner."""
    edge = piece(relief.edge, relief.first, relief.last)
    first, last = relief.used
    back = [
        before.part(1 - first / before.length, 1.0) if first else None,
        after.part(0.0, last / after.length) if last else None,
    ]
    around = sum(one.area_under for one in edge) - sum(one.area_under for one in back if one is not None)
    return -around / 2


def _joint(one: Relief, two: Relief, side: Segment) -> tuple[Place, Place] | None:
    """The place where two reliefs that share a whole side run into each other, on the wood's side of it."""
    (ux, uy), (x, y) = side.direction_at(0.0), side.start
    for number, first in enumerate(one.edge):
        for other, second in enumerate(two.edge):
            for meeting in meetings(first, second):
                px, py = meeting.point
                if not meeting.along and ux * (py - y) - uy * (px - x) > _AT:
                    return Place(number=number, share=meeting.first), Place(number=other, share=meeting.second)
    return None


def _built(sides: Sequence[Segment], found: Sequence[Relief | None]) -> Contour:
    """The new contour: reliefs in place of corners, joined by the remaining parts of the sides."""
    count = len(sides)
    firsts = [relief.first if relief else None for relief in found]
    lasts = [relief.last if relief else None for relief in found]
    whole = [True] * count
    for index, side in enumerate(sides):
        one, two = found[index], found[(index + 1) % count]
        if one is not None and two is not None and one.used[1] + two.used[0] > side.length - TOLERANCES.same_point:
            joint = _joint(one, two, side)
            if joint is not None:
                lasts[index], firsts[(index + 1) % count] = joint
                whole[index] = False
    chain: list[Segment] = []
    for index, side in enumerate(sides):
        relief, first, last = found[index], firsts[index], lasts[index]
        if relief is not None and first is not None and last is not None:
            chain += piece(relief.edge, first, last)
        if whole[index]:
            after = found[(index + 1) % count]
            start = relief.used[1] / side.length if relief else 0.0
            end = 1.0 - (after.used[0] / side.length if after else 0.0)
            chain.append(side.part(start, end) if (start, end) != (0.0, 1.0) else side)
    return closed(chain)
