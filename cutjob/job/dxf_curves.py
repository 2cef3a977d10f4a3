"""One entity of a DXF file to segments, in mm, seen from above.

Circles, arcs and bulges lie in their own plane, given by an extrusion vector (the DXF reference's object coordinates);
lines, ellipses, splines and 3D polylines are given in space. All are placed by the matrix of the blocks they stand in.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from cutjob.geometry.affine import Affine, ellipse_arc
from cutjob.geometry.nurbs import Nurbs, fit_nurbs
from cutjob.geometry.segment import Line, Point, Segment, arc_through_bulge
from cutjob.job.drawing import FAR, is_near
from cutjob.tolerances import TOLERANCES

if TYPE_CHECKING:
    from ezdxf.entities.dxfentity import DXFEntity
    from ezdxf.entities.lwpolyline import LWPolyline
    from ezdxf.entities.polyline import Polyline
    from ezdxf.math import Matrix44, Vec3

# Heights within one entity may differ by this much, mm: seen from above, a line loses d^2 / 2 L of its length.
_LEVEL = 0.01

Drawn = tuple[tuple[Segment, ...], bool, float]  # segments, closed, deviation


class NotFlatError(ValueError):
    """The entity does not lie parallel to the plane of the drawing."""


def drawn(entity: DXFEntity, matrix: Matrix44) -> Drawn | None:
    """Return what the entity draws, or None for a kind that draws no outline.

    Raises NotFlatError for one that is tilted, ValueError for one that makes no sense, CurveFitError.
    """
    read = _READERS.get(entity.dxftype())
    return None if read is None else read(entity, matrix)


def points_of(entity: DXFEntity) -> int:
    """Return how many points the file gives for an entity; 1 where it can't have many."""
    kind = entity.dxftype()
    if kind == "LWPOLYLINE":
        return len(entity)  # type: ignore[arg-type]
    if kind == "POLYLINE":
        return len(entity.vertices)  # type: ignore[attr-defined]
    if kind in ("SPLINE", "HELIX"):
        return len(entity.control_points) + len(entity.fit_points)  # type: ignore[attr-defined]
    return 1


def _flat(points: list[Vec3], matrix: Matrix44) -> list[Point]:
    placed = list(matrix.transform_vertices(points))
    if not all(is_near((p.x, p.y)) and math.isfinite(p.z) for p in placed):
        raise ValueError(FAR)
    heights = [p.z for p in placed]
    if heights and not max(heights) - min(heights) <= _LEVEL:
        raise NotFlatError("does not lie flat: its points have different heights")
    return [(p.x, p.y) for p in placed]


def _plane(entity: DXFEntity, matrix: Matrix44, elevation: float, size: float) -> Affine:
    """Return the map from the entity's own plane to the drawing; `size` is how far the entity reaches in it."""
    ocs = entity.ocs()  # type: ignore[attr-defined]
    origin, x, y = (
        matrix.transform(ocs.to_wcs(point)) for point in ((0, 0, elevation), (1, 0, elevation), (0, 1, elevation))
    )
    ux, uy = x - origin, y - origin
    if not (abs(ux.z) + abs(uy.z)) * size <= _LEVEL:
        raise NotFlatError("does not lie flat: it is drawn on a tilted plane")
    return Affine(ux.x, ux.y, uy.x, uy.y, origin.x, origin.y)


def _placed(segments: list[Segment], plane: Affine) -> tuple[tuple[Segment, ...], float]:
    placed = tuple(piece for segment in segments for piece in plane.segment(segment))
    exact = all(isinstance(segment, Line) for segment in segments) or _keeps_circles(plane)
    return placed, 0.0 if exact else TOLERANCES.curve


def _keeps_circles(plane: Affine) -> bool:
    size = math.hypot(plane.a, plane.b)
    return abs(plane.a * plane.c + plane.b * plane.d) <= 1e-9 * size * size and (
        abs(size - math.hypot(plane.c, plane.d)) <= 1e-9 * size
    )


def _line(entity: DXFEntity, matrix: Matrix44) -> Drawn:
    start, end = _flat([entity.dxf.start, entity.dxf.end], matrix)
    return _lines([start, end]), False, 0.0


def _lines(points: list[Point]) -> tuple[Segment, ...]:
    return tuple(Line(a, b) for a, b in itertools.pairwise(points) if a != b)


def _circle(entity: DXFEntity, matrix: Matrix44) -> Drawn:
    return _round(entity, matrix, 0.0, 2 * math.pi)


def _arc(entity: DXFEntity, matrix: Matrix44) -> Drawn:
    start = math.radians(entity.dxf.start_angle)
    turn = math.radians(entity.dxf.end_angle) - start
    if not math.isfinite(turn):
        raise ValueError("has angles that are not numbers")
    turn %= 2 * math.pi
    # Equal angles mean the whole circle.
    return _round(entity, matrix, start, start + (turn if turn > 1e-9 else 2 * math.pi))


def _round(entity: DXFEntity, matrix: Matrix44, start: float, end: float) -> Drawn:
    centre, radius = entity.dxf.center, abs(entity.dxf.radius)
    if not (is_near((centre.x, centre.y)) and is_near((radius, centre.z))):
        raise ValueError(FAR)
    plane = _plane(entity, matrix, centre.z, radius)
    at = plane.point((centre.x, centre.y))
    u, v = plane.vector((radius, 0.0)), plane.vector((0.0, radius))
    if not math.hypot(*u) > TOLERANCES.same_point or not math.hypot(*v) > TOLERANCES.same_point:
        return (), False, 0.0
    full = end - start >= 2 * math.pi * (1 - 1e-12)
    return ellipse_arc(at, u, v, start, end), full, 0.0 if _keeps_circles(plane) else TOLERANCES.curve


def _ellipse(entity: DXFEntity, matrix: Matrix44) -> Drawn:
    dxf = entity.dxf
    centre, major = dxf.center, dxf.major_axis
    minor = dxf.extrusion.normalize().cross(major) * dxf.ratio
    at, end_u, end_v = _flat([centre, centre + major, centre + minor], matrix)
    u, v = (end_u[0] - at[0], end_u[1] - at[1]), (end_v[0] - at[0], end_v[1] - at[1])
    if max(math.hypot(*u), math.hypot(*v)) <= TOLERANCES.same_point:
        return (), False, 0.0
    start, turn = dxf.start_param, dxf.end_param - dxf.start_param
    if not math.isfinite(start + turn + u[0] + u[1] + v[0] + v[1]):
        raise ValueError("has numbers that are not finite")
    full = abs(turn) >= 2 * math.pi * (1 - 1e-9)
    turn = 2 * math.pi if full else turn % (2 * math.pi)
    if turn <= 1e-9:
        turn, full = 2 * math.pi, True
    pieces = ellipse_arc(at, u, v, start, start + turn)
    return pieces, full, TOLERANCES.curve


def _lwpolyline(entity: LWPolyline, matrix: Matrix44) -> Drawn:
    rows = [(float(x), float(y), float(bulge)) for x, y, bulge in entity.get_points("xyb")]
    return _bulged(entity, rows, bool(entity.closed), float(entity.dxf.elevation), matrix)


def _bulged(
    entity: DXFEntity, rows: list[tuple[float, float, float]], closed: bool, elevation: float, matrix: Matrix44
) -> Drawn:
    if not all(is_near((x, y)) and math.isfinite(bulge) for x, y, bulge in rows):
        raise ValueError(FAR)
    ends = rows[1:] + rows[:1] if closed else rows[1:]
    segments = [
        arc_through_bulge((x, y), (after[0], after[1]), bulge if abs(bulge) > 1e-12 else 0.0)
        for (x, y, bulge), after in zip(rows, ends, strict=False)
        if (x, y) != (after[0], after[1])
    ]
    reach = max((abs(value) for row in rows for value in row[:2]), default=0.0)
    placed, deviation = _placed(segments, _plane(entity, matrix, elevation, reach))
    return placed, closed, deviation


def _polyline(entity: Polyline, matrix: Matrix44) -> Drawn | None:
    # Bit 16 of a vertex marks a corner of a spline's frame, which is not on the curve (DXF reference, VERTEX).
    vertices = [v for v in entity.vertices if not v.dxf.flags & 16]
    closed = bool(entity.is_closed)
    if entity.is_2d_polyline:
        elevation = entity.dxf.elevation.z if entity.dxf.hasattr("elevation") else 0.0
        rows = [(v.dxf.location.x, v.dxf.location.y, float(v.dxf.get("bulge", 0.0))) for v in vertices]
        return _bulged(entity, rows, closed, float(elevation), matrix)
    if entity.is_3d_polyline:
        points = _flat([v.dxf.location for v in vertices], matrix)
        return _lines(points + points[:1] if closed else points), closed, 0.0
    return None  # a mesh


def _spline(entity: DXFEntity, matrix: Matrix44) -> Drawn:
    tool = entity.construction_tool()  # type: ignore[attr-defined]
    control = _flat(list(tool.control_points), matrix)
    weights = tuple(float(w) for w in tool.weights()) or (1.0,) * len(control)
    curve = Nurbs(tool.order - 1, tuple(control), tuple(float(k) for k in tool.knots()), weights)
    start, end = curve.position(curve.first), curve.position(curve.last)
    closed = math.dist(start, end) <= TOLERANCES.same_point
    return fit_nurbs(curve), closed, TOLERANCES.curve


_READERS: dict[str, Callable[..., Drawn | None]] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
    "HELIX": _spline,
}
