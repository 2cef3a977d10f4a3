"""A DXF drawing to contours by layer, in mm: an independent reader of group codes, for R12 and R2000 in ASCII.

It reads $ACADVER, $INSUNITS and $MEASUREMENT, the LAYER table, and the entities LWPOLYLINE, POLYLINE, LINE, ARC, CIRCLE
and POINT. Group codes and the bulge are as in the published DXF reference: a bulge is tan(included angle / 4), negative
for clockwise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from cutjob.errors import Location, Problem
from cutjob.geometry.contour import circle
from cutjob.geometry.segment import Arc, Line, Point, Segment, arc_through_bulge, distance
from cutjob.tolerances import TOLERANCES

Pair: TypeAlias = tuple[int, str]
_MM = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0}  # $INSUNITS
_DRAWN = frozenset({"LWPOLYLINE", "POLYLINE", "LINE", "ARC", "CIRCLE", "POINT"})
_MOST_PROBLEMS = 100


@dataclass(frozen=True, slots=True)
class DrawnChain:
    """The drawing of one entity: its layer, its segments in order (none for a point), and whether it is closed."""

    layer: str
    segments: tuple[Segment, ...]
    closed: bool
    point: Point | None
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A drawing as read, in mm. `units` is $INSUNITS as written, 0 for none stated, `measurement` $MEASUREMENT (None
    where it is not stated); `comments` are its 999 groups.
    """

    version: str | None
    units: int
    measurement: int | None
    comments: tuple[str, ...]
    layers: tuple[str, ...]
    chains: tuple[DrawnChain, ...]
    problems: tuple[Problem, ...]


class _BrokenError(ValueError):
    """A drawing that can't be read, with the line."""

    def __init__(self, line: int, message: str) -> None:
        super().__init__(message)
        self.line = line


@dataclass(frozen=True, slots=True)
class _Record:
    """A group 0 with the groups after it, up to the next."""

    kind: str
    groups: tuple[Pair, ...]
    line: int

    def text(self, code: int) -> str | None:
        return next((value for found, value in self.groups if found == code), None)

    def number(self, code: int, default: float | None = None) -> float:
        value = self.text(code)
        if value is None:
            if default is None:
                raise _BrokenError(self.line, f"{self.kind} lacks group {code}")
            return default
        return _number(value, self.line)


def _number(text: str, line: int) -> float:
    try:
        value = float(text)
    except ValueError:
        raise _BrokenError(line, f"{text[:30]!r} is not a number") from None
    if not math.isfinite(value):
        raise _BrokenError(line, f"{text[:30]!r} is not a number")
    return value


def read_drawing(data: bytes, *, name: str, unit: Literal["mm", "in"] = "mm") -> Drawing:
    """Return the drawing of a DXF file; coordinates are in `unit` if the file states none, as in R12.

    A place that can't be read becomes a `Problem`; nothing is raised.
    """
    problems: list[Problem] = []
    chains: list[DrawnChain] = []
    layers: tuple[str, ...] = ()
    version: str | None = None
    units, measurement = 0, None
    comments: tuple[str, ...] = ()
    try:
        records = _records(data)
        comments = tuple(value for record in records for code, value in record.groups if code == 999)
        sections = _sections(records)
        version, units, measurement = _header(sections.get("HEADER", ()))
        layers = tuple(record.text(2) or "" for record in sections.get("TABLES", ()) if record.kind == "LAYER")
        scale = _MM.get(units or (1 if unit == "in" else 4))
        if scale is None:
            raise _BrokenError(1, f"$INSUNITS {units} is not a known unit of length")
        if "ENTITIES" not in sections:
            raise _BrokenError(1, "the drawing has no ENTITIES section")
        for entity in _entities(sections["ENTITIES"]):
            try:
                chains.append(_chain(entity, scale))
            except _BrokenError as error:
                problems.append(_problem(name, error))
    except _BrokenError as error:
        problems.append(_problem(name, error))
    return Drawing(
        version=version,
        units=units,
        measurement=measurement,
        comments=comments,
        layers=layers,
        chains=tuple(chains),
        problems=tuple(problems[:_MOST_PROBLEMS]),
    )


def _problem(name: str, error: _BrokenError) -> Problem:
    return Problem(message=str(error), location=Location(file=name, line=error.line))


def _records(data: bytes) -> list[_Record]:
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:  # files up to R2004 are in a code page, most often this one
        text = data.decode("cp1252", errors="replace")
    lines = text.splitlines()
    records: list[_Record] = []
    kind, begin = "", 1
    groups: list[Pair] = []
    for index in range(0, len(lines) - 1, 2):
        try:
            code = int(lines[index])
        except ValueError:
            raise _BrokenError(index + 1, f"{lines[index][:30]!r} is not a group code") from None
        value = lines[index + 1].strip()
        if code == 0:
            records.append(_Record(kind, tuple(groups), begin))
            kind, begin, groups = value, index + 1, []
        else:
            groups.append((code, value))
    records.append(_Record(kind, tuple(groups), begin))
    if records[-1].kind != "EOF":
        raise _BrokenError(len(lines), "the drawing doesn't end with EOF")
    return records


def _sections(records: Sequence[_Record]) -> dict[str, tuple[_Record, ...]]:
    sections: dict[str, list[_Record]] = {}
    current: list[_Record] | None = None
    for record in records:
        if record.kind == "SECTION":
            current = sections.setdefault(record.text(2) or "", [])
            current.append(record)  # a HEADER keeps its variables on the record that opens it
        elif record.kind == "ENDSEC":
            current = None
        elif current is not None:
            current.append(record)
    return {name: tuple(found) for name, found in sections.items()}


def _header(records: Sequence[_Record]) -> tuple[str | None, int, int | None]:
    version: str | None = None
    units, measurement = 0, None
    variable = ""
    for record in records:
        for code, value in record.groups:
            if code == 9:
                variable = value
            elif variable == "$ACADVER" and code == 1:
                version = value
            elif variable == "$INSUNITS" and code == 70:
                units = int(_number(value, record.line))
            elif variable == "$MEASUREMENT" and code == 70:
                measurement = int(_number(value, record.line))
    return version, units, measurement


def _entities(records: Sequence[_Record]) -> list[tuple[_Record, tuple[_Record, ...]]]:
    """Return each entity with the vertices that belong to it (of a POLYLINE; none for the others)."""
    entities: list[tuple[_Record, tuple[_Record, ...]]] = []
    vertices: list[_Record] = []
    polyline: _Record | None = None
    for record in records[1:]:
        if record.kind == "POLYLINE":
            polyline, vertices = record, []
        elif record.kind == "VERTEX":
            vertices.append(record)
        elif record.kind == "SEQEND":
            if polyline is not None:
                entities.append((polyline, tuple(vertices)))
            polyline = None
        else:
            entities.append((record, ()))
    if polyline is not None:
        raise _BrokenError(polyline.line, "a POLYLINE without its SEQEND")
    return entities


def _chain(entity: tuple[_Record, tuple[_Record, ...]], scale: float) -> DrawnChain:
    record, vertices = entity
    layer = record.text(8) or "0"
    if record.kind not in _DRAWN:
        raise _BrokenError(
            record.line, f"{record.kind} on layer {layer!r} is not an outline: lines, arcs and points only"
        )
    closed = False
    point: Point | None = None
    segments: tuple[Segment, ...] = ()
    match record.kind:
        case "LWPOLYLINE":
            closed = bool(int(record.number(70, 0.0)) & 1)
            segments = _polyline(_lw_points(record, scale), closed=closed)
        case "POLYLINE":
            closed = bool(int(record.number(70, 0.0)) & 1)
            points = [
                (vertex.number(10) * scale, vertex.number(20) * scale, vertex.number(42, 0.0)) for vertex in vertices
            ]
            segments = _polyline(points, closed=closed)
        case "LINE":
            segments = (
                Line(
                    (record.number(10) * scale, record.number(20) * scale),
                    (record.number(11) * scale, record.number(21) * scale),
                ),
            )
        case "CIRCLE":
            closed = True
            centre = (record.number(10) * scale, record.number(20) * scale)
            segments = circle(centre, record.number(40) * scale).segments
        case "ARC":
            segments = (_arc(record, scale),)
        case _:
            point = (record.number(10) * scale, record.number(20) * scale)
    return DrawnChain(layer, segments, closed, point, record.line)


def _lw_points(record: _Record, scale: float) -> list[tuple[float, float, float]]:
    points: list[tuple[float, float, float]] = []
    for code, value in record.groups:
        if code == 10:
            points.append((_number(value, record.line) * scale, math.nan, 0.0))
        elif code == 20 and points:
            points[-1] = (points[-1][0], _number(value, record.line) * scale, points[-1][2])
        elif code == 42 and points:
            points[-1] = (points[-1][0], points[-1][1], _number(value, record.line))
    if any(math.isnan(y) for _, y, _ in points):
        raise _BrokenError(record.line, "a vertex without its group 20")
    return points


def _polyline(points: Sequence[tuple[float, float, float]], *, closed: bool) -> tuple[Segment, ...]:
    ends = [*points[1:], points[0]] if closed else list(points[1:])
    return tuple(
        arc_through_bulge((x, y), (end[0], end[1]), bulge)
        for (x, y, bulge), end in zip(points, ends, strict=False)
        if distance((x, y), (end[0], end[1])) > TOLERANCES.same_point
    )


def _arc(record: _Record, scale: float) -> Arc:
    centre = (record.number(10) * scale, record.number(20) * scale)
    radius = record.number(40) * scale
    first, last = math.radians(record.number(50)), math.radians(record.number(51))
    start = (centre[0] + radius * math.cos(first), centre[1] + radius * math.sin(first))
    end = (centre[0] + radius * math.cos(last), centre[1] + radius * math.sin(last))
    return Arc(start, end, centre, False)
