"""Reads a DXF file into its shapes: model space, with blocks in their places, without hidden layers.

Each entity becomes segments in mm, seen from above. Circles, arcs and bulges are in their own plane, which an extrusion
vector gives (the DXF reference's object coordinates); lines, ellipses, splines and 3D polylines are in space. All are
placed by the matrix of the blocks round them.
"""

from __future__ import annotations

import io
import itertools
import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from cutjob.drawings.drawing import DEEPEST, FAR, MM_PER_UNIT, MOST_SHAPES, Findings, Shape, Units, is_near
from cutjob.errors import CutjobError
from cutjob.geometry.affine import Affine, ellipse_arc
from cutjob.geometry.nurbs import Nurbs, fit_nurbs
from cutjob.geometry.segment import Line, Point, Segment, arc_through_bulge
from cutjob.tolerances import TOLERANCES
from cutjob.units import unmarked

if TYPE_CHECKING:
    from ezdxf.document import Drawing as DxfDocument
    from ezdxf.entities.dxfentity import DXFEntity
    from ezdxf.entities.insert import Insert
    from ezdxf.entities.lwpolyline import LWPolyline
    from ezdxf.entities.polyline import Polyline
    from ezdxf.math import Matrix44, Vec3


# Heights in one entity may differ by this much, mm: seen from above, a line is shorter by d^2 / 2 L.
_LEVEL = 0.01

Drawn = tuple[tuple[Segment, ...], bool, float]  # segments, closed, deviation


class NotFlatError(ValueError):
    """The entity is not parallel to the plane of the drawing."""


def drawn(entity: DXFEntity, matrix: Matrix44) -> Drawn | None:
    """Return the entity's segments, or None for a kind that draws no outline.

    Raises NotFlatError where it is tilted, ValueError where it makes no sense, CurveFitError where no fit is found.
    """
    read = _READERS.get(entity.dxftype())
    return None if read is None else read(entity, matrix)


def points_of(entity: DXFEntity) -> int:
    """Return the number of points that the file gives for an entity; 1 for a kind with few points."""
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
        raise NotFlatError("is not flat: its points have different heights")
    return [(p.x, p.y) for p in placed]


def _plane(entity: DXFEntity, matrix: Matrix44, elevation: float, size: float) -> Affine:
    """Return the map from the entity's own plane to the drawing; `size` is the entity's extent in it."""
    ocs = entity.ocs()  # type: ignore[attr-defined]
    origin, x, y = (
        matrix.transform(ocs.to_wcs(point)) for point in ((0, 0, elevation), (1, 0, elevation), (0, 1, elevation))
    )
    ux, uy = x - origin, y - origin
    if not (abs(ux.z) + abs(uy.z)) * size <= _LEVEL:
        raise NotFlatError("is not flat: it is drawn on a tilted plane")
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
    # Equal angles mean a full circle.
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
    # Bit 16 of a vertex marks a control point of a spline, which is not on the curve (DXF reference, VERTEX).
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


# $INSUNITS codes (DXF reference, header variables) with the exact length of each in mm.
_UNIT_CODES: dict[int, tuple[str, float]] = {
    1: ("in", 25.4),
    2: ("ft", 304.8),
    4: ("mm", 1.0),
    5: ("cm", 10.0),
    6: ("m", 1000.0),
    9: ("mil", 0.0254),
    10: ("yd", 914.4),
    14: ("dm", 100.0),
}
MOST_TAGS = 60_000  # entities and their ends in a file; the library takes a second for every 20,000
MOST_BINARY = 2_000_000  # bytes of the binary form, in which entities can't be counted beforehand
# For each of its points, fitting a spline takes as long as this many lines, and it may fail in the end.
_WORK_OF_A_SPLINE = 2
_NAME_OF_ERROR = re.compile(r"^[A-Za-z]+Error: ")
_STATE_UNITS = 'state them with the drawing: units = "in" or units = "mm"'


def read_dxf(path: Path, *, units: Units | None, unstated: Units | None = None, scale: float = 1.0) -> Findings:
    """Return the shapes of a DXF file in mm, `scale` times as large as drawn, and its problems.

    `units` overrides the file's; `unstated` is used where the file names none.
    """
    from ezdxf.math import Matrix44

    found = Findings(file=str(path))
    document = _document(path, found)
    if document is None:
        return found
    if not _units(document, units, unstated, found):
        return found
    found.enlarge(scale)
    walk = _Walk(document, found)
    size = found.mm_per_unit
    walk.entities(document.modelspace(), _Place(Matrix44.scale(size, size, size), None, ()))
    if (
        not found.shapes
        and not found.problems
        and any(len(layout) for layout in document.layouts if layout.is_any_paperspace)
    ):
        found.problem("has lines only in its paper layouts", "draw the parts in model space, at full size")
    return found


def _document(path: Path, found: Findings) -> DxfDocument | None:
    from ezdxf.filemanagement import read, readfile

    try:
        data = path.read_bytes()
        binary = data.startswith(b"AutoCAD Binary DXF")
        if not binary and _begun(data) > MOST_TAGS:
            found.problem(f"has more than {MOST_TAGS} entities", "delete lines that are not to be cut")
            return None
        if binary and len(data) > MOST_BINARY:
            message = f"is in the binary form and larger than {MOST_BINARY // 1_000_000} MB"
            found.problem(message, "delete lines that are not to be cut, or export it as text")
            return None
        if data.startswith(b"\xef\xbb\xbf"):  # a byte order mark, which some editors write first
            return read(io.StringIO(data[3:].decode("utf-8", errors="surrogateescape"), newline=None))
        if not binary and b"\0" in data:
            found.problem("is not a DXF file", "export the drawing as DXF")
            return None
        document = readfile(path)
        document.modelspace()  # missing in some damaged files
    except Exception as error:  # the library raises many kinds of error on damaged files
        words = _words_of(error)
        found.problem(
            f"is damaged, cut short or no DXF file{': ' + words if words else ''}", "export the drawing as DXF again"
        )
        return None
    return document


def _words_of(error: Exception) -> str:
    """The library's message on a damaged file; empty where the error has no message for a reader."""
    from ezdxf.lldxf.const import DXFError

    if not isinstance(error, (DXFError, OSError)):
        return ""
    text = _NAME_OF_ERROR.sub("", unmarked(" ".join(str(error).split())))
    return text.rstrip(".")[:120]


def _begun(data: bytes) -> int:
    """The number of entities in a file: every other line is a code, and 0 begins an entity (DXF reference, group
    codes).
    """
    return sum(code.strip() == b"0" for code in data.split(b"\n")[::2])


def _units(document: DxfDocument, units: Units | None, unstated: Units | None, found: Findings) -> bool:
    code = int(document.header.get("$INSUNITS", 0))
    units = units or (unstated if code == 0 else None)
    if units is not None:
        found.set_units(units, MM_PER_UNIT[units])
        return True
    if code in _UNIT_CODES:
        found.set_units(*_UNIT_CODES[code])
        return True
    if code == 0:
        found.problem("does not state its units", _STATE_UNITS)
    else:
        found.problem(f"has units that are not used for wood ($INSUNITS {code})", _STATE_UNITS)
    return False


@dataclass(frozen=True, slots=True)
class _Place:
    """The frame of entities: the matrix to mm, the layer of the block reference, the blocks round them."""

    matrix: Matrix44
    layer: str | None
    blocks: tuple[str, ...]


def _value(entity: DXFEntity, name: str, default: object) -> object:
    """Return a property; entities of a kind that the library doesn't know have none."""
    return entity.dxf.get(name, default) if entity.dxf.is_supported(name) else default


class _Walk:
    def __init__(self, document: DxfDocument, found: Findings) -> None:
        self.document, self.found = document, found

    def entities(self, entities: Iterable[DXFEntity], place: _Place) -> None:
        for entity in entities:
            if not self.found.visit():
                return
            self.entity(entity, place)

    def entity(self, entity: DXFEntity, place: _Place) -> None:
        kind = unmarked(entity.dxftype())
        own = unmarked(str(_value(entity, "layer", "0")))
        # Layer 0 in a block means the layer that the block is put on (DXF reference, INSERT).
        layer = place.layer if own == "0" and place.layer is not None else own
        hidden = self.hidden(entity, layer, block=kind == "INSERT")
        if hidden:
            self.found.ignored[f"{kind} {hidden}"] += 1
        else:
            self.shown(entity, layer, place)

    def shown(self, entity: DXFEntity, layer: str, place: _Place) -> None:
        from ezdxf.lldxf.const import DXFError

        kind = unmarked(entity.dxftype())
        words = f'{kind} {_value(entity, "handle", "")} on layer "{layer}"'.replace("  ", " ")
        try:
            if kind == "INSERT":
                self.insert(entity, layer, place)  # type: ignore[arg-type]
            else:
                self.drawn(entity, layer, place, words)
        except CutjobError as error:
            self.found.unfit(error, place=words)
        except (DXFError, AttributeError, LookupError, TypeError):  # the entity is not complete
            self.found.problem("is not complete", "draw it again", place=words)
        except (ValueError, ArithmeticError) as error:
            plain = str(error) == FAR or isinstance(error, NotFlatError)
            said = str(error).rstrip(".")
            self.found.problem(said if plain else f"makes no sense: {said}", "draw it again", place=words)

    def hidden(self, entity: DXFEntity, layer: str, *, block: bool) -> str:
        if _value(entity, "invisible", 0):
            return "that is invisible"
        if not self.document.layers.has_entry(layer):
            return ""
        entry = self.document.layers.get(layer)
        if entry.is_frozen():
            return f'on layer "{layer}", which is frozen'
        # Lines of a block on other layers show even where the block's own layer is off.
        if entry.is_off() and not block:
            return f'on layer "{layer}", which is off'
        return ""

    def insert(self, insert: Insert, layer: str, place: _Place) -> None:
        name = unmarked(str(insert.dxf.get("name", "")))
        words = f'block "{name}"'
        block = insert.block()
        if block is None:
            self.found.problem("is used but not defined", "export the drawing again", place=words)
            return
        if name.lower() in place.blocks:
            self.found.problem("contains itself", "explode it in the drawing, or take it out of itself", place=words)
            return
        if len(place.blocks) >= DEEPEST:
            self.found.problem(f"is inside more than {DEEPEST} other blocks", "explode it in the drawing", place=words)
            return
        if block.block is not None and block.block.is_xref:
            self.found.ignored[f'reference to another file, "{name}"'] += 1
            return
        count = max(1, insert.dxf.get("row_count", 1)) * max(1, insert.dxf.get("column_count", 1))
        if count > MOST_SHAPES:
            self.found.problem(f"is repeated {count} times", "delete copies that are not to be cut", place=words)
            return
        for copy in insert.multi_insert() if count > 1 else [insert]:
            inner = copy.matrix44() * place.matrix
            self.entities(block, _Place(inner, layer, (*place.blocks, name.lower())))

    def drawn(self, entity: DXFEntity, layer: str, place: _Place, words: str) -> None:
        points = points_of(entity)
        if not self.found.room_for(points, place=words):
            return
        if entity.dxftype() in ("SPLINE", "HELIX"):
            self.found.segments += _WORK_OF_A_SPLINE * points
        result = drawn(entity, place.matrix)
        if result is None:
            self.found.ignored[unmarked(entity.dxftype())] += 1
            return
        segments, closed, deviation = result
        self.found.add(Shape(layer=layer, segments=segments, closed=closed, deviation=deviation, place=words))
