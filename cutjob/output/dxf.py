"""The parts on a board to a DXF file: R12 or R2000, true scale, a layer per operation, arcs as bulges.

Outlines and pockets are closed polylines, whole circles of openings and holes are CIRCLE, marks are open polylines. Nothing is
drawn twice, and nothing is drawn that is no cut but the board's own outline, where the profile wants it.
"""

from __future__ import annotations

import io
import logging
import re
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TypeAlias

from ezdxf import colors
from ezdxf._options import options  # the package exports it without saying so, which mypy refuses
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from cutjob.geometry.contour import Contour
from cutjob.geometry.segment import Point, Segment, bulge_of, distance
from cutjob.job.machine import Machine, Operation
from cutjob.layout.layout import BoardLayout
from cutjob.output.comments import plain_ascii
from cutjob.output.numbers import Grid, fixed, rounded
from cutjob.output.operations import COLOURS, OPERATIONS, Rgb, hole_operation
from cutjob.tolerances import TOLERANCES

# Decimals of drawn coordinates: a nanometre in mm and 25 in inches, far below any limit, with no tails of binary.
_DECIMALS = 6
_BULGE_DECIMALS = 12
# Lines are told apart in ten thousandths of a mm.
_APART = Grid(unit="mm", decimals=4)
# $INSUNITS and $MEASUREMENT of the DXF reference, by drawing unit. R12 has neither: there a comment states the unit.
_UNITS = {"mm": (4, 1), "in": (1, 0)}
_NO_UNITS = (0, 0)
# Symbol names (DXF reference): R12 takes letters, digits, $ - _, at most 31; R2000 nearly anything but these.
_R12_FORBIDDEN = re.compile(r"[^A-Za-z0-9$_-]+")
_R2000_FORBIDDEN = re.compile(r'[\x00-\x1f\x7f<>/\\":;?*|=`,]+')
_LONGEST_NAME = {"R12": 31, "R2000": 255}
_CONTRAST_ACI = 7  # black on white paper, white on a dark screen
# Group codes whose values are real numbers (DXF reference, group code value types).
_REALS = ((10, 59), (110, 149), (210, 239), (460, 469), (1010, 1059))
_metadata_lock = threading.Lock()

Key: TypeAlias = tuple[object, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnCircle:
    """A round hole to draw, mm: `op` is `bore` or `drill`, or whatever layer it belongs on."""

    op: Operation
    at: Point
    diameter: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPart:
    """One part as it is to be drawn, in the board's frame, mm; offset or not, as the caller decided."""

    outline: Contour
    holes: tuple[Contour, ...] = ()
    pockets: tuple[Contour, ...] = ()  # outlines and islands
    circles: tuple[DrawnCircle, ...] = ()
    marks: tuple[tuple[Segment, ...], ...] = ()


def as_drawn(layout: BoardLayout, *, cutter_diameter: float | None = None) -> tuple[DrawnPart, ...]:
    """Return the parts of a board with no offset. Holes of the cutter's own diameter are drilled, the others bored."""
    return tuple(
        DrawnPart(
            outline=placement.region.outline,
            holes=placement.region.holes,
            circles=tuple(
                DrawnCircle(
                    op=hole_operation(hole.diameter, cutter_diameter=cutter_diameter),
                    at=placement.transform.point(hole.at),
                    diameter=hole.diameter,
                )
                for hole in placement.part.round_holes
            ),
            pockets=tuple(
                contour
                for pocket in placement.part.pockets
                for contour in placement.transform.region(pocket.region).contours
            ),
            marks=tuple(
                tuple(placement.transform.segment(segment) for segment in mark.path) for mark in placement.part.marks
            ),
        )
        for placement in layout.placements
    )


def write_dxf(layout: BoardLayout, *, machine: Machine, drawn: Sequence[DrawnPart]) -> bytes:
    """Return the DXF file of a board in the version, unit and layers of `machine.drawing`; always the same bytes."""
    drawing = machine.drawing
    with _fixed_metadata():
        document = new(drawing.version)
        units, measurement = _UNITS[drawing.units] if drawing.version == "R2000" else _NO_UNITS
        document.header["$INSUNITS"], document.header["$MEASUREMENT"] = units, measurement
        pen = _Pen(document, layer_names(machine), 25.4 if drawing.units == "in" else 1.0)
        if drawing.board:
            pen.contour(layout.board.outline, "board")
        for part in drawn:
            pen.part(part)
        pen.state_extents()
        stream = io.StringIO()
        document.write(stream)
    text = _without_exponents(stream.getvalue())
    if drawing.version == "R12":
        text = f"999\ncoordinates in {drawing.units}\n{text}"
    return text.encode(document.output_encoding, errors="dxfreplace")


def layer_names(machine: Machine) -> dict[Operation, str]:
    """Return the layer of each operation: plain English, or the service's own; in R12 `outside-cut` for `outside cut`.

    Two names that only the version's rules make equal are told apart by a number.
    """
    drawing = machine.drawing
    wished = {op: str(drawing.layers.get(op, op)) for op in OPERATIONS}
    given: dict[str, str] = {}  # wished name: written name
    for name in wished.values():
        if name not in given:
            given[name] = _free_name(_allowed(name, drawing.version), drawing.version, given.values())
    return {op: given[name] for op, name in wished.items()}


def _allowed(name: str, version: str) -> str:
    name = _R12_FORBIDDEN.sub("-", plain_ascii(name)) if version == "R12" else _R2000_FORBIDDEN.sub("-", name)
    return name.strip(" -")[: _LONGEST_NAME[version]] or "layer"


def _free_name(name: str, version: str, taken: Iterable[str]) -> str:
    # Layer names are compared without regard to case.
    used = {other.casefold() for other in taken}
    free, number = name, 2
    while free.casefold() in used:
        tail = f"-{number}"
        free, number = name[: _LONGEST_NAME[version] - len(tail)] + tail, number + 1
    return free


def nearest_aci(colour: Rgb) -> int:
    """Return the number, of the 255 colours every DXF version has, nearest to `colour` in RGB; black is 7.

    R12 and R2000 know no true colour (the DXF reference has group 420 from R2004 on).
    """
    if colour == (0, 0, 0):
        return _CONTRAST_ACI

    def apart(number: int) -> int:
        other = colors.aci2rgb(number)
        return sum((int(a) - int(b)) ** 2 for a, b in zip(colour, other, strict=True))

    return min((number for number in range(1, 256) if number != _CONTRAST_ACI), key=apart)


class _Pen:
    """Draws into a document and remembers what was drawn, so that nothing is drawn twice."""

    def __init__(self, document: Document, layers: dict[Operation, str], mm_per_unit: float) -> None:
        self._document = document
        self._space: Modelspace = document.modelspace()
        self._layers = layers
        self._mm_per_unit = mm_per_unit
        self._drawn: set[Key] = set()
        self._bounds: list[Point] = []
        for op in OPERATIONS:
            if layers[op] not in document.layers:
                document.layers.add(layers[op], color=nearest_aci(COLOURS[op]))

    def part(self, part: DrawnPart) -> None:
        self.contour(part.outline, "outside cut")
        for hole in part.holes:
            round_hole = hole.circle()
            if round_hole is None:
                self.contour(hole, "inside cut")
            else:
                self.circle(round_hole[0], round_hole[1], "inside cut")
        for pocket in part.pockets:
            self.contour(pocket, "pocket")
        for circle in part.circles:
            self.circle(circle.at, circle.diameter / 2, circle.op)
        for mark in part.marks:
            if mark:
                self.chain(mark, "mark", closed=distance(mark[0].start, mark[-1].end) <= TOLERANCES.same_point)

    def contour(self, contour: Contour, op: Operation) -> None:
        if self._new(_chain_key(contour.segments)):
            self._polyline(contour.segments, op, closed=True)
            x0, y0, x1, y1 = contour.bounds
            self._bounds += [(x0, y0), (x1, y1)]

    def chain(self, segments: tuple[Segment, ...], op: Operation, *, closed: bool) -> None:
        if self._new(_chain_key(segments)):
            self._polyline(segments, op, closed=closed)
            for x0, y0, x1, y1 in (segment.bounds for segment in segments):
                self._bounds += [(x0, y0), (x1, y1)]

    def circle(self, centre: Point, radius: float, op: Operation) -> None:
        if self._new(("circle", _place(centre), _APART.steps(radius))):
            self._space.add_circle(self._point(centre), self._length(radius), dxfattribs={"layer": self._layers[op]})
            self._bounds += [(centre[0] - radius, centre[1] - radius), (centre[0] + radius, centre[1] + radius)]

    def state_extents(self) -> None:
        """Write the corners of all that was drawn into the header."""
        if self._bounds:
            xs, ys = zip(*self._bounds, strict=True)
            low, high = self._point((min(xs), min(ys))), self._point((max(xs), max(ys)))
            # Both: what the layout holds overrides the header, but not where its corner is the origin.
            self._space.reset_extents((*low, 0.0), (*high, 0.0))
            self._document.header["$EXTMIN"], self._document.header["$EXTMAX"] = (*low, 0.0), (*high, 0.0)

    def _new(self, key: Key) -> bool:
        if key in self._drawn:
            return False
        self._drawn.add(key)
        return True

    def _polyline(self, segments: Sequence[Segment], op: Operation, *, closed: bool) -> None:
        points = [(*self._point(segment.start), rounded(bulge_of(segment), _BULGE_DECIMALS)) for segment in segments]
        if not closed:
            points.append((*self._point(segments[-1].end), 0.0))
        attributes = {"layer": self._layers[op]}
        match self._document.dxfversion:
            case "AC1009":
                self._space.add_polyline2d(points, format="xyb", close=closed, dxfattribs=attributes)
            case "AC1015":
                self._space.add_lwpolyline(points, format="xyb", close=closed, dxfattribs=attributes)
            case other:
                raise ValueError(f"DXF version {other} is not written")

    def _point(self, point: Point) -> Point:
        return self._length(point[0]), self._length(point[1])

    def _length(self, mm: float) -> float:
        return rounded(mm / self._mm_per_unit, _DECIMALS)


def _place(point: Point) -> tuple[int, int]:
    return _APART.steps(point[0]), _APART.steps(point[1])


def _chain_key(segments: Iterable[Segment]) -> Key:
    """What makes two chains the same line on the board, wherever they start and whichever way they run."""
    chain = tuple(segments)
    whole = Contour(chain).circle() if distance(chain[0].start, chain[-1].end) <= TOLERANCES.same_point else None
    if whole is not None:
        return "circle", _place(whole[0]), _APART.steps(whole[1])
    keys = []
    for segment in chain:
        start, end = _place(segment.start), _place(segment.end)
        keys.append((min(start, end), max(start, end), _place(segment.point_at(0.5))))
    return "chain", *sorted(keys)


@contextmanager
def _fixed_metadata() -> Iterator[None]:
    """Let ezdxf write no dates, versions or random identifiers, and not remark that R12 has no unit.

    Both switches are global and put back afterwards.
    """
    logger = logging.getLogger("ezdxf")
    with _metadata_lock:
        before, level = options.write_fixed_meta_data_for_testing, logger.level
        options.write_fixed_meta_data_for_testing = True
        logger.setLevel(logging.ERROR)
        try:
            yield
        finally:
            options.write_fixed_meta_data_for_testing = before
            logger.setLevel(level)


def _without_exponents(text: str) -> str:
    """Return a DXF text whose real numbers are plain decimals: not every reader takes 1e-05."""
    lines = text.split("\n")
    for number in range(1, len(lines), 2):
        if "e" in lines[number] and any(low <= int(lines[number - 1]) <= high for low, high in _REALS):
            lines[number] = fixed(float(lines[number]), _BULGE_DECIMALS)
    return "\n".join(lines)


__all__ = ["DrawnCircle", "DrawnPart", "as_drawn", "layer_names", "nearest_aci", "write_dxf"]
