"""Where one shape may not lie beside another, as areas of positions: no-fit areas and fits inside rooms.

The no-fit area of A and B holds every position of B's origin, seen from A's, at which B comes nearer to A than the gap.
It is the Minkowski sum of A grown by the gap and of B reflected in its origin, less the positions at which one lies
within a hole of the other. (For the method: M. Bennell, J. Oliveira, "The geometry of nesting problems", 2008 [M].)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

import pyclipper
import shapely
from shapely import Polygon

from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.polygons import polygons_of
from cutjob.geometry.segment import Point
from cutjob.layout.convex import convex_pieces, convex_sum, from_lowest
from cutjob.layout.outline import (
    ROUGHNESS,
    UNITS,
    Extent,
    Ring,
    hull_ring,
    inflated,
    ring_points,
    simplified,
    turned,
    whole,
)
from cutjob.layout.rules import Turn

Paths: TypeAlias = list[Ring]

SLACK = 0.0002
"""Freedom in mm beyond the edge margin, where parts fit only so: as large as the board, alone or in a row."""

_LEAST_AREA = 10_000  # square units: smaller openings come from rounding
_LEAST_WIDTH = 10  # units: so do narrower ones, which may be long where edges of both shapes are parallel
_LEAST_POCKET = 1e-4  # mm2
_PIECE_COST = 8  # two convex pieces take about as long to sum and join as so many pairs of corners
_PAIR_WORK = 8  # and a pair of corners as long as clipping so many


class Solid:
    """A ring without holes, and its convex pieces (none where it could not be cut into any)."""

    def __init__(self, ring: Ring, pieces: list[Ring] | None = None) -> None:
        """Take a counter-clockwise ring, and its pieces where they are known."""
        self.ring = ring
        self._pieces = pieces if pieces is not None else convex_pieces(ring) or []
        self.pieces = [from_lowest(piece) for piece in self._pieces]
        self.reflected_pieces = [from_lowest(_reflected(piece)) for piece in self._pieces]

    def turned(self, turn: Turn) -> Solid:
        """The solid turned about the origin."""
        return Solid(turned(self.ring, turn), [turned(piece, turn) for piece in self._pieces])


class Shape:
    """A part or a keep-out, ready for no-fit areas: a simplified covering ring, its exact reach, and its holes."""

    def __init__(self, number: int, region: Region, *, gap: float) -> None:
        """Prepare a region, mm; `number` tells shapes apart and `gap` is the clear wood round them."""
        self.number = number
        self.area = region.area
        width = min(region.bounds[2] - region.bounds[0], region.bounds[3] - region.bounds[1])
        tolerance = min(ROUGHNESS, width / 100)
        ring = whole(simplified(ring_points(region.outline, tolerance / 2, grow=True), tolerance))
        self.solid = Solid(ring)
        self.grown = Solid(_outer(inflated(ring, gap))) if gap > 0 else self.solid
        self.extent = Extent(region.outline)
        self.holes = tuple(Room(_inside(hole, tolerance / 2), clearance=gap, slack=0.0) for hole in region.holes)
        self._turned: dict[Turn, Solid] = {}

    def turned(self, turn: Turn) -> Solid:
        """The covering ring, turned about the shape's origin."""
        if turn not in self._turned:
            self._turned[turn] = self.solid.turned(turn)
        return self._turned[turn]

    def least(self, direction: Point, turn: Turn) -> float:
        """Least of direction . point over the turned outline, exactly, mm."""
        a, b, c, d = turn.matrix
        return self.extent.least((a * direction[0] + c * direction[1], b * direction[0] + d * direction[1]))


def _inside(contour: Contour, deviation: float) -> list[Point]:
    return ring_points(contour, deviation, grow=False)


@dataclass(frozen=True, slots=True)
class _Edge:
    """Half plane normal . point >= offset, with a unit normal."""

    normal: Point
    offset: float


class Room:
    """An area a shape may lie in: a convex hull, kept `clearance` mm away from, less the pockets that the outline cuts
    into the hull, kept as far away from. `slack` mm more is allowed at the hull.
    """

    def __init__(self, points: Sequence[Point], *, clearance: float, slack: float) -> None:
        """Take the corners of a polygon within the room, counter-clockwise, mm."""
        hull = hull_ring(points)
        self.edges: list[_Edge] = []
        for (x0, y0), (x1, y1) in zip(hull, hull[1:] + hull[:1], strict=True):
            length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
            normal = ((y0 - y1) / length, (x1 - x0) / length)
            self.edges.append(_Edge(normal, normal[0] * x0 + normal[1] * y0 + clearance - slack))
        xs, ys = [x for x, _ in hull], [y for _, y in hull]
        for normal, line in (((1, 0), min(xs)), ((0, 1), min(ys)), ((-1, 0), -max(xs)), ((0, -1), -max(ys))):
            self.edges.append(_Edge((float(normal[0]), float(normal[1])), line + clearance - slack))
        self.pockets = [_grown(pocket, clearance) for pocket in _pockets(hull, points)]

    def fit(self, shape: Shape, turn: Turn) -> Paths:
        """Positions of the turned shape's origin at which it lies in the room, whole units."""
        offsets = [edge.offset - shape.least(edge.normal, turn) for edge in self.edges]
        x0, y0, x1, y1 = offsets[-4], offsets[-3], -offsets[-2], -offsets[-1]
        if x0 >= x1 or y0 >= y1:
            return []
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        for edge, offset in zip(self.edges[:-4], offsets[:-4], strict=True):
            corners = _cut(corners, edge.normal, offset)
        ring = whole(corners)
        if len(ring) < 3 or pyclipper.Area(ring) <= 0:
            return []
        against = [path for pocket in self.pockets for path in solid_no_fit(pocket, shape.turned(turn))]
        return difference([ring], against) if against else [ring]


def _pockets(hull: list[Point], points: Sequence[Point]) -> list[list[Point]]:
    rest = shapely.difference(Polygon(hull), Polygon(points))
    return [
        [(float(x), float(y)) for x, y in pocket.exterior.coords[:-1]]
        for pocket in polygons_of(rest)
        if pocket.area > _LEAST_POCKET
    ]


def _grown(points: list[Point], distance: float) -> Solid:
    ring = whole(points)
    ring = ring if pyclipper.Orientation(ring) else ring[::-1]
    return Solid(_outer(inflated(ring, distance)) if distance > 0 else ring)


def _cut(corners: list[Point], normal: Point, offset: float) -> list[Point]:
    """The part of a convex polygon on the inner side of a line."""
    result: list[Point] = []
    heights = [normal[0] * x + normal[1] * y - offset for x, y in corners]
    for i, here in enumerate(corners):
        before, low, high = corners[i - 1], heights[i - 1], heights[i]
        if (low < 0) != (high < 0):
            share = low / (low - high)
            result.append((before[0] + (here[0] - before[0]) * share, before[1] + (here[1] - before[1]) * share))
        if high >= 0:
            result.append(here)
    return result


def _outer(raw: Ring) -> Ring:
    """The largest ring round the area that a raw offset winds round positively."""
    clipper = pyclipper.Pyclipper()
    clipper.AddPath(raw, pyclipper.PT_SUBJECT, True)
    paths = clipper.Execute(pyclipper.CT_UNION, pyclipper.PFT_POSITIVE, pyclipper.PFT_POSITIVE)
    return max(_rings(paths), key=pyclipper.Area)


def difference(subject: Paths, against: Paths) -> Paths:
    """Return the subject less the areas wound round by `against`; openings of rounding size are left out."""
    clipper = pyclipper.Pyclipper()
    clipper.AddPaths(subject, pyclipper.PT_SUBJECT, True)
    clipper.AddPaths(against, pyclipper.PT_CLIP, True)
    return clipper.Execute(pyclipper.CT_DIFFERENCE, pyclipper.PFT_NONZERO, pyclipper.PFT_NONZERO)  # type: ignore[no-any-return]


def solid_no_fit(fixed: Solid, moving: Solid) -> Paths:
    """Return the positions at which two solids overlap; clockwise openings are positions without overlap."""
    if not _few_pieces(fixed, moving):
        return summed_outlines(fixed.ring, moving.ring)
    sums = [convex_sum(one, other) for one in fixed.pieces for other in moving.reflected_pieces]
    if len(sums) == 1:
        return sums
    clipper = pyclipper.Pyclipper()
    clipper.AddPaths(sums, pyclipper.PT_SUBJECT, True)
    paths = clipper.Execute(pyclipper.CT_UNION, pyclipper.PFT_NONZERO, pyclipper.PFT_NONZERO)
    return [ring for ring in _rings(paths) if pyclipper.Area(ring) > _LEAST_AREA or _is_open(ring)]


def _few_pieces(one: Solid, other: Solid) -> bool:
    """Say whether sums of convex pieces will be quicker than the library's sum of the outlines."""
    return 0 < len(one.pieces) * len(other.pieces) * _PIECE_COST <= len(one.ring) * len(other.ring)


def summed_outlines(fixed: Ring, moving: Ring) -> Paths:
    """Return the same by the library's sum of two outlines: slower, and for any ring."""
    result: Paths = []
    for ring in _rings(pyclipper.MinkowskiSum(_reflected(moving), fixed, True)):
        area = pyclipper.Area(ring)
        # What opens inside the summed outlines is free only where neither shape contains the other.
        if area > 0 or (_is_open(ring) and not _contained(fixed, moving, ring)):
            result.append(ring)
    return result


def _is_open(opening: Ring) -> bool:
    """Say whether a ring is wide enough for a free position; a sliver's width is twice its area by its length round."""
    around = sum(abs(x1 - x0) + abs(y1 - y0) for (x0, y0), (x1, y1) in pairwise([*opening, opening[0]]))
    return bool(abs(pyclipper.Area(opening)) > max(_LEAST_AREA, around / 2 * _LEAST_WIDTH))


def _rings(paths: Sequence[Sequence[Sequence[int]]]) -> Paths:
    return [[(x, y) for x, y in path] for path in paths]


def _contained(fixed: Ring, moving: Ring, opening: Ring) -> bool:
    """Say whether, at a position within the opening, one ring lies inside the other; their outlines don't touch."""
    at = Polygon(opening).representative_point()
    dx, dy = round(at.x), round(at.y)
    moved = [(x + dx, y + dy) for x, y in moving]
    return _first_side(moved, fixed) or _first_side(fixed, moved)


def _first_side(corners: Ring, ring: Ring) -> bool:
    for corner in corners:
        side = pyclipper.PointInPolygon(corner, ring)
        if side >= 0:  # -1: on the line, by rounding
            return bool(side == 1)
    return False


class NoFits:
    """No-fit areas of pairs of shapes, each worked out once. `work` measures the effort so far."""

    def __init__(self) -> None:
        """Start with nothing remembered."""
        self.work = 0
        self._unturned: dict[tuple[int, int, Turn], Paths] = {}
        self._turned: dict[tuple[int, Turn, int, Turn], Paths] = {}

    def between(self, fixed: Shape, fixed_turn: Turn, moving: Shape, moving_turn: Turn) -> Paths:
        """Positions of `moving`, seen from `fixed`, that are nearer than the gap; outsides counter-clockwise."""
        key = (fixed.number, fixed_turn, moving.number, moving_turn)
        if key not in self._turned:
            if fixed.number <= moving.number:
                relative = fixed_turn.inverse().after(moving_turn)
                paths = [turned(path, fixed_turn) for path in self._base(fixed, moving, relative)]
            else:
                relative = moving_turn.inverse().after(fixed_turn)
                paths = [_reflected(turned(path, moving_turn)) for path in self._base(moving, fixed, relative)]
            self._turned[key] = paths
        return self._turned[key]

    def _base(self, fixed: Shape, moving: Shape, turn: Turn) -> Paths:
        key = (fixed.number, moving.number, turn)
        if key not in self._unturned:
            self.work += _sum_work(fixed.grown, moving.solid)
            paths = solid_no_fit(fixed.grown, moving.turned(turn))
            inside = [path for hole in fixed.holes for path in hole.fit(moving, turn)]
            for hole in moving.holes:
                # Positions of `fixed` in the hole of `moving`, seen from there; turned and reflected back.
                inside += [_reflected(turned(path, turn)) for path in hole.fit(fixed, turn.inverse())]
            self._unturned[key] = difference(paths, inside) if inside else paths
        return self._unturned[key]


def _sum_work(one: Solid, other: Solid) -> int:
    corners = len(one.ring) * len(other.ring)
    pairs = len(one.pieces) * len(other.pieces) * _PIECE_COST
    return _PAIR_WORK * (pairs if _few_pieces(one, other) else corners) + 100


def _reflected(ring: Ring) -> Ring:
    return [(-x, -y) for x, y in ring]


__all__ = [
    "SLACK",
    "UNITS",
    "NoFits",
    "Paths",
    "Room",
    "Shape",
    "Solid",
    "difference",
    "solid_no_fit",
    "summed_outlines",
]
