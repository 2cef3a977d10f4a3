"""The parts on a board to a DXF file: R12 or R2000, true scale, a layer per operation, arcs as bulges.

Outlines, pockets and their islands are closed polylines, whole circles of these, of openings and of holes are CIRCLE,
marks and lettering are open polylines. Holes for screws and pins that hold the board are drilled ones. A drawing has no
depths, so pockets of each depth have a layer of their own, unless the profile names one for pockets. Nothing is drawn
twice, and nothing is drawn that is no cut but the board's own outline, where the profile wants it.
"""

from __future__ import annotations

import io
import logging
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TypeAlias

from ezdxf._options import options  # the package exports it without saying so, which mypy refuses
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from cutjob.geometry.contour import Contour
from cutjob.geometry.segment import Point, Segment, bulge_of, distance
from cutjob.job.machine import Machine, Operation
from cutjob.layout.layout import BoardLayout
from cutjob.output.drawn_parts import DrawnCircle, DrawnPart, DrawnPocket, as_drawn, holding_circles, moved_into_waste
from cutjob.output.dxf_layers import layer_names, nearest_aci, pocket_layers
from cutjob.output.numbers import Grid, fixed, rounded
from cutjob.output.operations import COLOURS, OPERATIONS
from cutjob.tolerances import TOLERANCES

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
                pen.mark(path)
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
        for mark in part.marks:
            self.mark(mark)

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

    def mark(self, segments: tuple[Segment, ...]) -> None:
        if segments and self._new(_chain_key(segments)):
            closed = distance(segments[0].start, segments[-1].end) <= TOLERANCES.same_point
            self._polyline(segments, self._layers["mark"], closed=closed)
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
