"""Corner relief: a part with square inside corners in, the same part with room in them for a square mate out. mm.

A round cutter leaves the inside corners of notches, openings and pockets round, and a square tenon would not go home.
A round relief a hair wider than the cutter (`SPARE` of radius, so that the cutter's way does not vanish) is built into
the part's own lines and arcs, so that layout, cuts and proof all see it. `relief_shape` has the construction.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.contour import Contour, Region, closed
from cutjob.geometry.crossing import meetings
from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Arc, Line, Point, Segment
from cutjob.parts.part import ShapedPart
from cutjob.parts.relief_shape import Place, Relief, Way, angle_of, piece, reliefs
from cutjob.tolerances import TOLERANCES

SPARE = 0.05
"""How much larger the radius of a relief is than the cutter's, mm."""

LEAST_WALL = 25.4 / 16
"""The least wood between a relief and the next edge, hole or pocket, mm: thinner splits. Common practice, no source."""

# Two outlines nearer to each other than this are one, mm.
_AT = 0.01
# What a relief takes, measured by polygons and exactly, may differ by their chords along this many radii.
_ROUND = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Relieved:
    """The part with reliefs, and the inside corners the cutter can't reach that had no room for one."""

    part: ShapedPart
    skipped: tuple[Point, ...]


def relieved(part: ShapedPart, *, way: Way, cutter_diameter: float) -> Relieved:
    """Return the part with a relief in every inside corner that a cutter of the diameter (mm) can't reach.

    Looked at are corners between lines, and between a line and an arc, of the outline, the openings and the pockets.
    Corners rounder than the cutter or so blunt that next to nothing is left in them need none, nor do those of pockets
    at the part's edge, where the cutter runs out. A corner stays as it is and is named where a side is shorter than the
    relief, where less than `LEAST_WALL` would be left to another edge, hole or pocket, where the cutter can't get in,
    or where it is rounded, but less than the cutter. Raises ValueError for a diameter that is not positive.
    """
    if not cutter_diameter > 0:
        raise ValueError(f"a cutter is wider than {cutter_diameter} mm")
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
        # The other way round: then the floor, which is the waste, lies on the right.
        walls = [corners.relieved(wall.reversed(), skipped).reversed() for wall in pocket.region.contours]
        pockets.append(replace(pocket, region=Region(walls[0], tuple(walls[1:]))))
    new = replace(part, region=Region(contours[0], tuple(contours[1:])), pockets=tuple(pockets))
    return Relieved(part=new, skipped=tuple(skipped))


class _Corners:
    """Looks at contours that have their waste on the right: `wood` is on their left, `part` the whole face, and `other`
    what is cut besides. `kept` is what all reliefs so far take, and grows.
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
        """Whether the cutter leaves wood in a corner that is worth telling of: r / sin(a/2) - r."""
        angle = angle_of(before, after)
        if angle >= math.pi:
            return False
        return self.cutter / max(math.sin(angle / 2), 1e-9) - self.cutter > TOLERANCES.worth_telling

    def _is_tight_arc(self, side: Segment) -> bool:
        if not isinstance(side, Arc) or not side.clockwise or self._runs_out(side.point_at(0.5)):
            return False
        half = min(abs(side.sweep), math.pi) / 2
        rest = (self.cutter - side.radius) * (1 / max(math.cos(half), 0.1) - 1)
        return rest > TOLERANCES.worth_telling

    def _runs_out(self, corner: Point) -> bool:
        """Whether a pocket's corner lies on the part's edge or beyond it."""
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
        # All the waste around is the corner's own: a second piece lies behind a wall too thin.
        return len([one for one in polygons_of(around) if one.area > _AT * _AT]) == 1

    def _keep_apart(self, sides: Sequence[Segment], found: list[Relief | None], tight: Sequence[bool]) -> None:
        """Give up reliefs that leave no wood at a side's far end, or that come too near to one that stays."""
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
            # Neighbours on one side may run into each other: what is left between them stands on its own wall.
            neighbours = ((index - 1) % len(sides), (index + 1) % len(sides))
            others = [*self.kept, *(area for at, area in own.items() if at not in neighbours)]
            if any(area.distance(taken) < LEAST_WALL for area in others):
                found[index] = None
            else:
                own[index] = taken
        self.kept += own.values()


def _whole_lines(segments: Sequence[Segment]) -> list[Segment]:
    """The segments with lines that go straight on made one."""
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
    """The wood a relief takes, exactly: between its edge and the two sides up to the corner."""
    edge = piece(relief.edge, relief.first, relief.last)
    first, last = relief.used
    back = [
        before.part(1 - first / before.length, 1.0) if first else None,
        after.part(0.0, last / after.length) if last else None,
    ]
    around = sum(one.area_under for one in edge) - sum(one.area_under for one in back if one is not None)
    return -around / 2


def _joint(one: Relief, two: Relief, side: Segment) -> tuple[Place, Place] | None:
    """Where two reliefs that share all of a side run into each other, on the wood's side of it."""
    (ux, uy), (x, y) = side.direction_at(0.0), side.start
    for number, first in enumerate(one.edge):
        for other, second in enumerate(two.edge):
            for meeting in meetings(first, second):
                px, py = meeting.point
                if not meeting.along and ux * (py - y) - uy * (px - x) > _AT:
                    return Place(number=number, share=meeting.first), Place(number=other, share=meeting.second)
    return None


def _built(sides: Sequence[Segment], found: Sequence[Relief | None]) -> Contour:
    """The contour anew: reliefs in place of corners, and what is left of the sides between them."""
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
