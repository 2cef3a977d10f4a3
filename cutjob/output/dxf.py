"""The parts on a board to a DXF file: R12 or R2000, true scale, a layer per operation, arcs as bulges.

Outlines, pockets and their islands are closed polylines, whole circles of these, of openings and of holes are CIRCLE,
marks and lettering are open polylines. Holes for screws and pins that hold the board are drilled ones. A drawing has no
depths, so pockets of each depth have a layer of their own, unless the profile names one for pockets. Nothing is drawn
twice, and nothing is drawn that is no cut but the board's own outline, where the profile wants it.

Names and colours of a drawing's layers: one per operation, one per depth of pockets, as each DXF version can.

What a drawing shows of a board: its parts as contours and circles by operation, and holes for what holds it. mm.
"""

from __future__ import annotations

import io
import logging
import re
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TypeAlias

from ezdxf import colors
from ezdxf._options import options  # the package exports it without saying so, which mypy refuses
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from cutjob.geometry.contour import Contour
from cutjob.geometry.offset import offset
from cutjob.geometry.segment import Point, Segment, bulge_of, distance
from cutjob.job.machine import Machine, Operation
from cutjob.layout.layout import BoardLayout
from cutjob.output.gcode.comments import plain_ascii
from cutjob.output.numbers import Grid, fixed, rounded
from cutjob.output.operations import COLOURS, OPERATIONS, Rgb, hole_operation
from cutjob.parts.part import LineOperation
from cutjob.tolerances import TOLERANCES
from cutjob.units import MM_PER

# Symbol names (DXF reference): R12 takes letters, digits, $ - _, at most 31; R2000 nearly anything but these.
_IN_NAMES = "&_*"  # of a name; what R12 forbids of it is spelled with a dash
_R12_FORBIDDEN = re.compile(r"[^A-Za-z0-9$_-]+")
_R2000_FORBIDDEN = re.compile(r'[\x00-\x1f\x7f<>/\\":;?*|=`,]+')
_LONGEST_NAME = {"R12": 31, "R2000": 255}
_CONTRAST_ACI = 7  # black on white paper, white on a dark screen
# Of depths in the names of layers: a hundredth of a mm, about.
_DEPTH_DECIMALS = {"mm": 2, "in": 4}


def layer_names(machine: Machine) -> dict[Operation, str]:
    """Return the layer of each operation: plain English, or the service's own; in R12 `outside-cut` for `outside cut`.

    Two names that only the version's rules make equal are told apart by a number. That of `pocket` is only used where
    the profile gives it; for others see `pocket_layers`.
    """
    drawing = machine.drawing
    wished = {op: str(drawing.layers.get(op, op)) for op in OPERATIONS}
    given: dict[str, str] = {}  # wished name: written name
    for name in wished.values():
        if name not in given:
            given[name] = _free_name(_allowed(name, drawing.version), drawing.version, given.values())
    return {op: given[name] for op, name in wished.items()}


def pocket_layers(machine: Machine, depths: Iterable[float]) -> dict[float, str]:
    """Return the layers of pockets by their depths, mm: `pocket 6.35 mm`, in R12 `pocket-6-35-mm`.

    Depths are written in the drawing's unit. All pockets of a profile that names their layer lie on that.
    """
    drawing = machine.drawing
    names = layer_names(machine)
    if "pocket" in drawing.layers:
        return dict.fromkeys(depths, names["pocket"])
    others = [name for op, name in names.items() if op != "pocket"]
    given: dict[str, str] = {}  # by the depth as it is written
    found: dict[float, str] = {}
    for depth in depths:
        size = fixed(depth / MM_PER[drawing.units], _DEPTH_DECIMALS[drawing.units])
        if size not in given:
            name = _allowed(f"pocket {size} {drawing.units}", drawing.version)
            given[size] = _free_name(name, drawing.version, [*others, *given.values()])
        found[depth] = given[size]
    return found


def _allowed(name: str, version: str) -> str:
    name = (
        _R12_FORBIDDEN.sub("-", plain_ascii(name, also=_IN_NAMES))
        if version == "R12"
        else _R2000_FORBIDDEN.sub("-", name)
    )
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


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnCircle:
    """A round hole to draw, mm: `op` is `bore` or `drill`, or whatever layer it belongs on."""

    op: Operation
    at: Point
    diameter: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPocket:
    """The outline (counter-clockwise) and the islands (clockwise) of an area cleared `depth` mm deep."""

    depth: float
    contours: tuple[Contour, ...]


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """A line on a part, and the operation that cuts it."""

    op: LineOperation
    path: tuple[Segment, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPart:
    """One part as it is to be drawn, in the board's frame, mm; offset or not, as the caller decided."""

    outline: Contour
    holes: tuple[Contour, ...] = ()
    pockets: tuple[DrawnPocket, ...] = ()
    circles: tuple[DrawnCircle, ...] = ()
    lines: tuple[DrawnLine, ...] = ()


def as_drawn(layout: BoardLayout, *, cutter_diameter: float | None = None) -> tuple[DrawnPart, ...]:
    """Return the parts of a board with no offset. Holes of the cutter's own diameter are drilled, the others bored;
    those drilled by hand are not drawn.
    """
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
                if not hole.by_hand
            ),
            pockets=tuple(
                DrawnPocket(depth=pocket.depth, contours=placement.transform.region(pocket.region).contours)
                for pocket in placement.part.pockets
            ),
            lines=tuple(
                DrawnLine(mark.operation, tuple(placement.transform.segment(segment) for segment in mark.path))
                for mark in placement.part.marks
            ),
        )
        for placement in layout.placements
    )


def moved_into_waste(part: DrawnPart, by: float) -> DrawnPart:
    """Return a part drawn with an offset of `by` mm: its outline and islands outward, openings, holes and the outlines
    of pockets inward; marks stay. What is too narrow for that is gone. Raises ValueError for a part that is.
    """
    return DrawnPart(
        outline=max(offset(part.outline, by), key=lambda path: path.signed_area),
        holes=tuple(path for hole in part.holes for path in offset(hole, -by)),
        pockets=tuple(
            DrawnPocket(
                depth=pocket.depth,
                contours=tuple(
                    path for wall in pocket.contours for path in offset(wall, -by if wall.signed_area > 0 else by)
                ),
            )
            for pocket in part.pockets
        ),
        circles=tuple(replace(circle, diameter=circle.diameter - 2 * by) for circle in part.circles),
        lines=part.lines,
    )


def lost_by_moving(part: DrawnPart, by: float) -> tuple[str, ...]:
    """Return which kinds of details are too narrow to be drawn with an offset of `by` mm, in plain words."""
    circles = any(circle.diameter / 2 - by <= TOLERANCES.same_point for circle in part.circles)
    openings = any(not offset(hole, -by) for hole in part.holes)
    walls = [wall for pocket in part.pockets for wall in pocket.contours if wall.signed_area > 0]
    pockets = any(not offset(wall, -by) for wall in walls)
    found = {"a round hole": circles, "an opening": openings, "a pocket": pockets}
    return tuple(name for name, lost in found.items() if lost)


def holding_circles(layout: BoardLayout, machine: Machine) -> Iterator[DrawnCircle]:
    """Yield the holes drilled for the screws that hold a board, and those for the pins of a next window."""
    for down in layout.hold_downs:
        yield DrawnCircle(op="drill", at=down.at, diameter=down.diameter)
    for window in layout.windows:
        if machine.travel is not None:
            for at in window.holes:
                yield DrawnCircle(op="drill", at=at, diameter=machine.travel.pin)


# Decimals of drawn coordinates: a nanometre in mm and 25 in inches, far below any limit, with no tails of binary.
_DECIMALS = 6
_BULGE_DECIMALS = 12
# Lines are told apart in ten thousandths of a mm.
_APART = Grid(unit="mm", decimals=4)
# $INSUNITS and $MEASUREMENT of the DXF reference, by drawing unit. R12 has neither: there a comment states the unit.
_UNITS = {"mm": (4, 1), "in": (1, 0)}
_NO_UNITS = (0, 0)
# Group codes whose values are real numbers (DXF reference, group code value types).
_REALS = ((10, 59), (110, 149), (210, 239), (460, 469), (1010, 1059))
_metadata_lock = threading.Lock()

Key: TypeAlias = tuple[object, ...]


def write_dxf(layout: BoardLayout, *, machine: Machine, drawn: Sequence[DrawnPart]) -> bytes:
    """Return the DXF file of a board in the version, unit and layers of `machine.drawing`; always the same bytes.

    `drawn` are its parts; lettering and the holes for screws and pins are drawn as the layout has them.
    """
    drawing = machine.drawing
    with _fixed_metadata():
        document = new(drawing.version)
        units, measurement = _UNITS[drawing.units] if drawing.version == "R2000" else _NO_UNITS
        document.header["$INSUNITS"], document.header["$MEASUREMENT"] = units, measurement
        pen = _Pen(document, machine, [pocket.depth for part in drawn for pocket in part.pockets])
        if drawing.board:
            pen.contour(layout.board.outline, "board")
        for part in drawn:
            pen.part(part)
        for lettering in layout.lettering:
            for path in lettering.paths:
                pen.line(path)
        for circle in holding_circles(layout, machine):
            pen.circle(circle.at, circle.diameter / 2, circle.op)
        pen.state_extents()
        stream = io.StringIO()
        document.write(stream)
    text = _without_exponents(stream.getvalue())
    if drawing.version == "R12":
        text = f"999\ncoordinates in {drawing.units}\n{text}"
    return text.encode(document.output_encoding, errors="dxfreplace")


class _Pen:
    """Draws into a document and remembers what was drawn, so that nothing is drawn twice."""

    def __init__(self, document: Document, machine: Machine, pocket_depths: Iterable[float]) -> None:
        self._document = document
        self._space: Modelspace = document.modelspace()
        self._layers = layer_names(machine)
        self._pockets = pocket_layers(machine, pocket_depths)
        self._mm_per_unit = 25.4 if machine.drawing.units == "in" else 1.0
        self._drawn: set[Key] = set()
        self._bounds: list[Point] = []
        used = [(self._layers[op], op) for op in OPERATIONS if op != "pocket" or op in machine.drawing.layers]
        pockets: list[tuple[str, Operation]] = [(name, "pocket") for name in self._pockets.values()]
        for name, op in (*used, *pockets):
            if name not in document.layers:
                document.layers.add(name, color=nearest_aci(COLOURS[op]))

    def part(self, part: DrawnPart) -> None:
        self.contour(part.outline, "outside cut")
        for hole in part.holes:
            self.ring(hole, self._layers["inside cut"])
        for pocket in part.pockets:
            for wall in pocket.contours:
                self.ring(wall, self._pockets[pocket.depth])
        for circle in part.circles:
            self.circle(circle.at, circle.diameter / 2, circle.op)
        for line in part.lines:
            self.line(line.path, line.op)

    def ring(self, contour: Contour, layer: str) -> None:
        whole = contour.circle()
        if whole is None:
            self._closed(contour, layer)
        else:
            self._circle(*whole, layer)

    def contour(self, contour: Contour, op: Operation) -> None:
        self._closed(contour, self._layers[op])

    def circle(self, centre: Point, radius: float, op: Operation) -> None:
        self._circle(centre, radius, self._layers[op])

    def line(self, segments: tuple[Segment, ...], op: LineOperation = "mark") -> None:
        if segments and self._new(_chain_key(segments)):
            closed = distance(segments[0].start, segments[-1].end) <= TOLERANCES.same_point
            self._polyline(segments, self._layers[op], closed=closed)
            for x0, y0, x1, y1 in (segment.bounds for segment in segments):
                self._bounds += [(x0, y0), (x1, y1)]

    def _closed(self, contour: Contour, layer: str) -> None:
        if self._new(_chain_key(contour.segments)):
            self._polyline(contour.segments, layer, closed=True)
            x0, y0, x1, y1 = contour.bounds
            self._bounds += [(x0, y0), (x1, y1)]

    def _circle(self, centre: Point, radius: float, layer: str) -> None:
        if self._new(("circle", _place(centre), _APART.steps(radius))):
            self._space.add_circle(self._point(centre), self._length(radius), dxfattribs={"layer": layer})
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

    def _polyline(self, segments: Sequence[Segment], layer: str, *, closed: bool) -> None:
        points = [(*self._point(segment.start), rounded(bulge_of(segment), _BULGE_DECIMALS)) for segment in segments]
        if not closed:
            points.append((*self._point(segments[-1].end), 0.0))
        attributes = {"layer": layer}
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


__all__ = ["DrawnCircle", "DrawnPart", "DrawnPocket", "as_drawn", "layer_names", "moved_into_waste", "nearest_aci",
           "pocket_layers", "write_dxf"]  # fmt: skip
