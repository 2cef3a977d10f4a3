"""Decides whether one part fits an empty board, and where: by areas of positions, without a search. Lengths mm.

The positions of a part in a given turn at which it is too near an obstacle are the Minkowski sum of the obstacle and
of the part reflected in its origin, grown by the clear wood between them. (R. Cuninghame-Green, "Geometry, shoemaking
and the milk tray problem", New Scientist, 1989 [M].) Where the board's outline is convex, half planes are enough.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeAlias

import numpy as np
import pyclipper
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from cutjob.geometry.contour import Contour, circle
from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Arc, Point
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.clear_space import DEVIATION, clear_area
from cutjob.layout.rules import Clearance
from cutjob.layout.search.outline import UNITS, Extent, Ring
from cutjob.parts.part import ShapedPart
from cutjob.tolerances import TOLERANCES

_SLACK = TOLERANCES.gap / 5  # a part as large as its board is at most this much too near every edge
# Chords deviate less and less until the answer is certain; with the last, the sum of errors is below TOLERANCES.gap.
_DEVIATIONS = (0.05, 0.005, TOLERANCES.gap / 10)
_LIKELY = 9  # turns: before trying more than this on a slow board, check whether any can fit
_LEAST_POCKET = 1e-9  # mm2
_LEAST_ZONE = 1e-10  # mm2: smaller areas of positions come from rounding; one made of slack only has 1e-8

Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Obstacle:
    """An obstacle that a part keeps `clearance` mm away from: a polygon, or a point with the radius of a round one
    added.
    """

    ring: Floats
    clearance: float
    knot: Contour | None = None  # the keep-out that it is made of; it may be in a hole


@dataclass(frozen=True, slots=True)
class _Container:
    """A polygon to fit something in: its convex hull as half planes normal . point >= offset, and its pockets."""

    normals: Floats
    offsets: Floats
    pockets: tuple[Floats, ...]


def fits_alone(
    part: ShapedPart, board: Board, *, clearance: Clearance, angles: Iterable[tuple[float, bool]]
) -> Transform | None:
    """Return a place for the part on the empty board in the first of the given turns (degrees, mirrored) in which it
    fits; None if it fits in none. A keep-out may be in a hole of the part.

    Exact to TOLERANCES.gap: a part that fits is always found to fit; one that does not may be, if it misses by less.
    """
    if part.region.outline.signed_area > board.outline.signed_area + TOLERANCES.gap * board.outline.length:
        return None
    reach, room = Extent(part.region.outline), board.outline.bounds
    plain = is_plain(board)
    tried = 0
    for degrees, mirrored in angles:
        turn = Transform(degrees=degrees, mirrored=mirrored)
        box = _box_of_positions(reach, turn, room, clearance)
        if box is None:
            continue
        tried += 1
        if not plain and tried == _LIKELY and _too_thick(part, board, clearance):
            return None
        at = (box[0], box[1]) if plain else _position(part, board, clearance, turn, box)
        if at is not None:
            return Transform(x=at[0], y=at[1], degrees=degrees, mirrored=mirrored)
    return None


def is_plain(board: Board) -> bool:
    """Whether the board is a rectangle along x and y without keep-outs."""
    if board.keep_outs or any(isinstance(segment, Arc) for segment in board.outline.segments):
        return False
    return abs(board.outline.signed_area) >= board.length * board.width - TOLERANCES.same_point


def _inner_radius(part: ShapedPart) -> float:
    """A lower bound on the radius of the largest circle of wood, which takes up the same room in any turn."""
    wood = shapely.simplify(to_polygon(part.region, deviation=_DEVIATIONS[0]), _DEVIATIONS[0])
    with np.errstate(all="ignore"):  # GEOS sometimes divides by 0, without harm
        circle_ = shapely.maximum_inscribed_circle(wood, tolerance=_DEVIATIONS[0])
    return float(shapely.length(circle_)) - 4 * _DEVIATIONS[0]


def _too_thick(part: ShapedPart, board: Board, clearance: Clearance) -> bool:
    """Whether there is no room for the largest circle of wood in the part, which takes up the same room in any turn."""
    radius = 0.98 * _inner_radius(part)  # for the limited accuracy of GEOS in hollows
    area = clear_area(board, gap=clearance.gap, edge_margin=clearance.edge_margin)
    return bool(shapely.area(shapely.buffer(area, 4 * DEVIATION - radius)) == 0) if radius > 4 * DEVIATION else False


def _box_of_positions(
    reach: Extent, turn: Transform, room: tuple[float, float, float, float], clearance: Clearance
) -> tuple[float, float, float, float] | None:
    """Least and greatest shift that keep the part in the room's box; the middle for both where it
    fits only by slack.
    """
    margin = clearance.edge_margin
    (cos, sin), (across, up) = _axes(turn)
    low_x, high_x = reach.least((cos, sin)), -reach.least((-cos, -sin))
    low_y, high_y = reach.least((across, up)), -reach.least((-across, -up))
    x0, x1 = room[0] + margin - low_x, room[2] - margin - high_x
    y0, y1 = room[1] + margin - low_y, room[3] - margin - high_y
    if x1 < x0 - 2 * _SLACK or y1 < y0 - 2 * _SLACK or high_x - low_x > clearance.longest + _SLACK:
        return None
    if x1 < x0:
        x0 = x1 = (x0 + x1) / 2
    if y1 < y0:
        y0 = y1 = (y0 + y1) / 2
    return x0, y0, x1, y1


def _axes(turn: Transform) -> tuple[Point, Point]:
    """The board's axes seen from the part: rows of the turn's matrix."""
    (x, y), (u, v) = turn.point((1.0, 0.0)), turn.point((0.0, 1.0))
    return (x, u), (y, v)


def _position(
    part: ShapedPart,
    board: Board,
    clearance: Clearance,
    turn: Transform,
    box: tuple[float, float, float, float],
) -> Point | None:
    curved = any(
        isinstance(segment, Arc)
        for contour in (part.region.outline, *part.region.holes, board.outline, *(one.area for one in board.keep_outs))
        for segment in contour.segments
    )
    for deviation in _DEVIATIONS if curved else _DEVIATIONS[-1:]:
        last = deviation == _DEVIATIONS[-1]
        # Each polygon is within a deviation of its region, and so are the arcs of the growth.
        error = 3 * deviation if curved else 0.0
        if not last and _zone(part, board, clearance, turn, box, deviation, -error) is None:
            return None
        for extra in (error, 0.0, -error - _SLACK) if last else (error,):
            at = _zone(part, board, clearance, turn, box, deviation, extra)
            if at is not None:
                return at
    return None


def _zone(
    part: ShapedPart,
    board: Board,
    clearance: Clearance,
    turn: Transform,
    box: tuple[float, float, float, float],
    deviation: float,
    extra: float,
) -> Point | None:
    """A position with `extra` mm more clear wood all round than required, on polygons with chords of `deviation`."""
    shape = turn.region(part.region)
    body = _ring(shape.outline, deviation)
    container, obstacles = _prepared(board, clearance, deviation)
    wide = max(0.0, -extra) + _SLACK
    x0, y0, x1, y1 = box[0] - wide, box[1] - wide, box[2] + wide, box[3] + wide
    start = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    inside = _clipped(start, container, body, clearance.edge_margin + extra)
    if inside is None:
        return None
    zone: shapely.Geometry = Polygon(inside)
    for obstacle in obstacles:
        forbidden = _forbidden(obstacle, body, obstacle.clearance + extra, deviation)
        if obstacle.knot is not None:
            for hole in shape.holes:
                allowed = _shifts_in_hole(hole, obstacle.knot, clearance.gap + extra, deviation)
                forbidden = shapely.difference(forbidden, allowed)
        zone = shapely.difference(zone, forbidden)
        if zone.area < _LEAST_ZONE:
            return None
    largest = max(polygons_of(zone), key=lambda polygon: polygon.area, default=None)
    if largest is None or largest.area < _LEAST_ZONE:
        return None
    point = shapely.point_on_surface(largest)
    return float(point.x), float(point.y)


@lru_cache(maxsize=32)
def _prepared(board: Board, clearance: Clearance, deviation: float) -> tuple[_Container, tuple[_Obstacle, ...]]:
    container = _container(_ring(board.outline, deviation))
    obstacles = [_Obstacle(pocket, clearance.edge_margin) for pocket in container.pockets]
    for knot in (one.area for one in board.keep_outs):
        round_one = knot.circle()
        if round_one is not None:
            obstacles.append(_Obstacle(np.array([round_one[0]]), clearance.gap + round_one[1], knot))
        else:
            obstacles.append(_Obstacle(_ring(knot, deviation), clearance.gap, knot))
    return container, tuple(obstacles)


def _ring(contour: Contour, deviation: float) -> Floats:
    return np.array(contour.turned(counter_clockwise=True).points(deviation))


def _container(ring: Floats) -> _Container:
    polygon = Polygon(ring)
    hull = shapely.get_coordinates(shapely.normalize(shapely.convex_hull(polygon)))[-1:0:-1]  # counter-clockwise
    along = np.roll(hull, -1, axis=0) - hull
    normals = np.stack([-along[:, 1], along[:, 0]], axis=1) / np.hypot(along[:, 0], along[:, 1])[:, None]
    pockets = shapely.difference(Polygon(hull), polygon)
    rings = [shapely.get_coordinates(shapely.normalize(one).exterior)[-1:0:-1] for one in polygons_of(pockets)]
    kept = tuple(one for one in rings if Polygon(one).area > _LEAST_POCKET)
    return _Container(normals, np.einsum("ij,ij->i", normals, hull), kept)


def _clipped(start: Floats, container: _Container, body: Floats, clearance: float) -> Floats | None:
    """The corners of the convex polygon `start` without the shifts at which the body is too near the hull's edges."""
    offsets = container.offsets + clearance - (container.normals @ body.T).min(axis=1)
    corners, normals = start, container.normals
    while True:
        depths = corners @ normals.T - offsets
        cutting = depths.min(axis=0) < 0  # a half plane that does not cut now never will
        if not cutting.any():
            return corners
        normals, offsets, depths = normals[cutting], offsets[cutting], depths[:, cutting]
        worst = int(np.argmin(depths.min(axis=0)))
        if depths[:, worst].max() <= 0:
            return None
        corners = _cut(corners, depths[:, worst])
        normals, offsets = np.delete(normals, worst, axis=0), np.delete(offsets, worst)


def _cut(corners: Floats, depth: Floats) -> Floats:
    """The part of a convex polygon with depth of 0 or more."""
    first = int(np.flatnonzero((depth >= 0) & (np.roll(depth, 1) < 0))[0])
    corners, depth = np.roll(corners, -first, axis=0), np.roll(depth, -first)
    count = int(np.argmax(depth < 0))
    ends = [(corners[i - 1] * depth[i] - corners[i] * depth[i - 1]) / (depth[i] - depth[i - 1]) for i in (0, count)]
    return np.concatenate([corners[:count], [ends[1], ends[0]]])


def _forbidden(obstacle: _Obstacle, body: Floats, clearance: float, deviation: float) -> shapely.Geometry:
    """The shifts at which the body is nearer to the obstacle than `clearance`."""
    reflected = -body
    point = len(obstacle.ring) == 1
    rings = [_whole(reflected + obstacle.ring[0])] if point else _sum(obstacle.ring, reflected)
    grower = pyclipper.PyclipperOffset(2.0, deviation * UNITS)
    grower.AddPaths(rings, pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    return _polygons(grower.Execute(clearance * UNITS))


def _sum(one: Floats, other: Floats) -> list[Ring]:
    """The Minkowski sum of the areas in two counter-clockwise rings, as rings; holes are clockwise."""
    if _is_convex(one) and _is_convex(other):
        return [_whole(_convex_sum(one, other))]
    # Sums of the borders leave out positions away from the borders: one area wholly inside the other.
    few, many = sorted((one, other), key=len)
    borders = pyclipper.MinkowskiSum(_whole(few), _whole(many), True)
    joiner = pyclipper.Pyclipper()
    joiner.AddPaths([*borders, _whole(one + other[0]), _whole(other + one[0])], pyclipper.PT_SUBJECT, True)
    rings: list[Ring] = joiner.Execute(pyclipper.CT_UNION, pyclipper.PFT_NONZERO, pyclipper.PFT_NONZERO)
    return rings


def _is_convex(ring: Floats) -> bool:
    along = np.roll(ring, -1, axis=0) - ring
    before = np.roll(along, 1, axis=0)
    bends = before[:, 0] * along[:, 1] - before[:, 1] * along[:, 0]
    return bool((bends >= -1e-9).all())


def _convex_sum(one: Floats, other: Floats) -> Floats:
    """Both rings' edges, by direction, from the sum of their lowest corners."""
    edges = []
    start = np.zeros(2)
    for ring in (one, other):
        lowest = np.lexsort((ring[:, 0], ring[:, 1]))[0]
        turned = np.roll(ring, -lowest, axis=0)
        start = start + turned[0]
        edges.append(np.roll(turned, -1, axis=0) - turned)
    both = np.concatenate(edges)
    angles = np.arctan2(both[:, 1], both[:, 0]) % (2 * math.pi)
    return start + np.cumsum(both[np.argsort(angles, kind="stable")], axis=0)


def _shifts_in_hole(hole: Contour, knot: Contour, clearance: float, deviation: float) -> shapely.Geometry:
    """The shifts of a part at which its hole contains the keep-out with that clearance."""
    round_hole, round_knot = hole.circle(), knot.circle()
    if round_hole is not None and round_knot is not None:
        play = round_hole[1] - round_knot[1] - clearance
        if play <= 0:
            return Polygon()
        (hx, hy), (kx, ky) = round_hole[0], round_knot[0]
        return Polygon(_ring(circle((kx - hx, ky - hy), play), deviation))
    container, body = _container(_ring(hole, deviation)), _ring(knot, deviation)
    low, high = hole.bounds[:2] - body.max(axis=0), hole.bounds[2:] - body.min(axis=0)
    start = np.array([low, (high[0], low[1]), high, (low[0], high[1])])
    inside = _clipped(start, container, body, clearance)
    if inside is None:
        return Polygon()
    area: shapely.Geometry = Polygon(-inside)
    for pocket in container.pockets:
        forbidden = _forbidden(_Obstacle(pocket, clearance), body, clearance, deviation)
        area = shapely.difference(area, shapely.transform(forbidden, lambda points: -points))
    return area


def _whole(ring: Floats) -> Ring:
    return [(int(x), int(y)) for x, y in np.rint(ring * UNITS)]


def _polygons(rings: list[Ring]) -> shapely.Geometry:
    """The area of the clipping library's rings, with each hole inside its outline."""
    made = [Polygon(np.array(ring) / UNITS) for ring in rings if len(ring) > 2]
    if len(made) == 1:
        return made[0] if made[0].is_valid else made[0].buffer(0)
    area: shapely.Geometry = Polygon()
    for one in sorted(made, key=lambda polygon: -polygon.area):
        area = shapely.symmetric_difference(area, one if one.is_valid else one.buffer(0))
    return area
