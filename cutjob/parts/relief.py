"""Corner relief: inside corners made so that a round cutter reaches their very point and a square piece fits in. mm.

A corner has two sides from its point V, with the waste between them at an angle a. A circle of the relief's radius R,
a hair more than the cutter's, is taken out with it, on its rim the point V:

- "diagonal": its centre lies on the bisector, R from V. It takes a little wood of both sides, up to 2 R cos(a/2) from V.
- "side": its centre lies R off the longer side, square to it at V. The cutter runs on along the longer side until it
  touches V, and takes wood of the shorter side only, up to 2 R sin(a) from V; the longer side stays whole.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import shapely

from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Arc, Line, Point, Segment
from cutjob.parts.part import Pocket, ShapedPart

Way = Literal["side", "diagonal"]

_HAIR = 0.05  # by which a relief is wider than the cutter, which then moves a little in it and leaves its full round
_BLUNT = math.radians(150.0)  # in wider corners a cutter leaves next to nothing
_WALL = 1.0  # wood left between a relief and another edge
_SPARE = 0.01  # of a side, beside a relief


@dataclass(frozen=True, slots=True, kw_only=True)
class Relieved:
    """The part with its reliefs, and the corners that had no room for one."""

    part: ShapedPart
    skipped: tuple[Point, ...]


def relieved(part: ShapedPart, *, way: Way, cutter_diameter: float) -> Relieved:
    """Return the part with a relief in every inside corner between two straight sides: of its outline, its openings
    and its pockets. Corners with too little room stay as they are; rounded ones, and those wider than 150 degrees, do
    too, and are not told of.
    """
    radius = cutter_diameter / 2 + _HAIR
    skipped: list[Point] = []
    wood = to_polygon(part.region)
    contours = [_relieved(contour, wood, way, radius, "right", skipped) for contour in part.region.contours]
    region = Region(contours[0], tuple(contours[1:]))
    pockets = tuple(_pocket(pocket, wood, way, radius, skipped) for pocket in part.pockets)
    return Relieved(part=replace(part, region=region, pockets=pockets), skipped=tuple(skipped))


def _pocket(pocket: Pocket, wood: shapely.Polygon, way: Way, radius: float, skipped: list[Point]) -> Pocket:
    # What stays round the floor of a pocket, as far as the part goes.
    rest = shapely.difference(wood, to_polygon(pocket.region))
    within = wood.buffer(-_SPARE)
    contours = [_relieved(contour, rest, way, radius, "left", skipped, within) for contour in pocket.region.contours]
    return replace(pocket, region=Region(contours[0], tuple(contours[1:])))


def _relieved(
    contour: Contour,
    wood: shapely.Geometry,
    way: Way,
    radius: float,
    waste: Literal["left", "right"],
    skipped: list[Point],
    within: shapely.Geometry | None = None,
) -> Contour:
    """The contour with its inside corners relieved. `waste` is the side of it, as it is run, that the waste lies on.

    Only those `within` an area are, if it is given: at the open end of a pocket there is nothing to relieve.
    """
    segments = contour.segments
    count = len(segments)
    corners = [
        _corner(segments[i - 1], segments[i], waste)
        if within is None or within.contains(shapely.Point(segments[i].start))
        else None
        for i in range(count)
    ]
    starts: list[Point] = [segment.start for segment in segments]
    ends: list[Point] = [segment.end for segment in segments]
    arcs: list[Arc | None] = [None] * count
    for i, angle in enumerate(corners):
        if angle is None:
            continue
        before, after = segments[i - 1], segments[i]
        made = _relief(before, after, angle, way, radius, waste)
        busy = [corners[i - 1] is not None, corners[(i + 1) % count] is not None]
        if _has_room(made, before, after, busy) and _leaves_wood(made, wood, radius):
            ends[i - 1], starts[i], arcs[i] = made.start, made.end, made
        elif wood.distance(shapely.Point(before.end)) <= _SPARE:
            skipped.append(before.end)
    result: list[Segment] = []
    for i, segment in enumerate(segments):
        arc = arcs[i]
        if arc is not None:
            result.append(arc)
        result.append(_between(segment, starts[i], ends[i]))
    return Contour(tuple(result))


def _between(segment: Segment, start: Point, end: Point) -> Segment:
    """Return a line between other ends; an arc, whose ends never change here, as it is."""
    return Line(start, end) if isinstance(segment, Line) else segment


def _corner(before: Segment, after: Segment, waste: Literal["left", "right"]) -> float | None:
    """The angle of the waste between two straight sides, where it is an inside corner; else None."""
    if not (isinstance(before, Line) and isinstance(after, Line)):
        return None
    (ux, uy), (wx, wy) = before.direction_at(1.0), after.direction_at(0.0)
    turn = math.atan2(ux * wy - uy * wx, ux * wx + uy * wy)
    inward = turn if waste == "left" else -turn
    angle = math.pi - inward
    return angle if inward > 0 and angle < _BLUNT else None


def _relief(
    before: Segment, after: Segment, angle: float, way: Way, radius: float, waste: Literal["left", "right"]
) -> Arc:
    """The arc from the side before the corner, round through its point, to the side after it."""
    (vx, vy) = before.end
    (ux, uy), (wx, wy) = before.direction_at(1.0), after.direction_at(0.0)
    sign = 1.0 if waste == "left" else -1.0
    if way == "diagonal":
        bx, by = wx - ux, wy - uy
        length = math.hypot(bx, by)
        centre = (vx + radius * bx / length, vy + radius * by / length)
        reach = 2 * radius * math.cos(angle / 2)
        start, end = (vx - ux * reach, vy - uy * reach), (vx + wx * reach, vy + wy * reach)
    else:
        reach = 2 * radius * math.sin(angle)
        if before.length >= after.length:
            centre = (vx - sign * radius * uy, vy + sign * radius * ux)
            start, end = (vx, vy), (vx + wx * reach, vy + wy * reach)
        else:
            centre = (vx - sign * radius * wy, vy + sign * radius * wx)
            start, end = (vx - ux * reach, vy - uy * reach), (vx, vy)
    return Arc(start, end, centre, waste == "right")


def _has_room(arc: Arc, before: Segment, after: Segment, busy: Sequence[bool]) -> bool:
    """Whether both sides are long enough; one with another corner to relieve at its far end gives half of its length."""
    taken = (math.dist(arc.start, before.end), math.dist(arc.end, after.start))
    return all(
        length <= side.length * (0.5 if shared else 1.0) - _SPARE
        for length, side, shared in zip(taken, (before, after), busy, strict=True)
    )


def _leaves_wood(arc: Arc, wood: shapely.Geometry, radius: float) -> bool:
    """Whether the relief stays clear of every other edge: without it, and a wall round it, the wood is as whole."""
    without = shapely.difference(wood, shapely.Point(arc.centre).buffer(radius + _WALL))
    pieces, left = polygons_of(wood), polygons_of(without)
    holes = [sum(len(piece.interiors) for piece in found) for found in (pieces, left)]
    return len(pieces) == len(left) and holes[0] == holes[1]
