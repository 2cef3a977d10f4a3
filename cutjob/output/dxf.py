"""A board's drawing to a DXF file: R2000 or R12, true scale, a layer per operation, arcs as bulges."""

from __future__ import annotations

import io
import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from textwrap import wrap

from ezdxf import colors
from ezdxf._options import options  # the package exports it without saying so, which mypy refuses
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import new

from cutjob.geometry.segment import Point, bulge_of
from cutjob.job.machine import Machine
from cutjob.output.drawing import BoardDrawing, DrawnShape
from cutjob.output.gcode.comments import plain_ascii
from cutjob.output.numbers import fixed, rounded
from cutjob.output.operations import Rgb
from cutjob.units import MM_PER

_CONTRAST_ACI = 7  # black on white paper, white on a dark screen
# Decimals of drawn coordinates: a nanometre in mm and 25 in inches, far below any limit, with no tails of binary.
_DECIMALS = 6
_BULGE_DECIMALS = 12
# $INSUNITS and $MEASUREMENT of the DXF reference, by drawing unit. R12 has neither: there a comment states the unit.
_UNITS = {"mm": (4, 1), "in": (1, 0)}
_NO_UNITS = (0, 0)
# Group codes whose values are real numbers (DXF reference, group code value types).
_REALS = ((10, 59), (110, 149), (210, 239), (460, 469), (1010, 1059))
_LONGEST_COMMENT = 200  # of 255 characters (DXF reference)
_UNASKED = "Defpoints"  # a layer that a new document of the library has
_metadata_lock = threading.Lock()


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


def write_dxf(drawing: BoardDrawing, *, machine: Machine, says: str) -> bytes:
    """Return the DXF file of a drawing in the version and unit of `machine.drawing`; always the same bytes. There is no
    layer with nothing on it but `0`, which every file has. What the drawing `says` stands in comments at its head.
    """
    wanted = machine.drawing
    with _fixed_metadata():
        document = new(wanted.version)
        units, measurement = _UNITS[wanted.units] if wanted.version == "R2000" else _NO_UNITS
        document.header["$INSUNITS"], document.header["$MEASUREMENT"] = units, measurement
        if _UNASKED in document.layers:
            document.layers.remove(_UNASKED)
        for layer in drawing.layers:
            if layer.name not in document.layers:
                document.layers.add(layer.name, color=nearest_aci(layer.colour))
        pen = _Pen(document, MM_PER[wanted.units])
        for shape in drawing.shapes:
            pen.draw(shape)
        if drawing.bounds is not None:
            pen.extents(*drawing.bounds)
        stream = io.StringIO()
        document.write(stream)
    comments = [f"coordinates in {wanted.units}", *wrap(plain_ascii(says), _LONGEST_COMMENT)]
    text = "".join(f"999\n{line}\n" for line in comments) + _without_exponents(stream.getvalue())
    return text.encode(document.output_encoding, errors="dxfreplace")


class _Pen:
    """Draws into a document."""

    def __init__(self, document: Document, mm_per_unit: float) -> None:
        self._document, self._mm_per_unit = document, mm_per_unit
        self._space = document.modelspace()

    def draw(self, shape: DrawnShape) -> None:
        attributes = {"layer": shape.layer}
        if shape.circle is not None:
            centre, radius = shape.circle
            self._space.add_circle(self._point(centre), self._length(radius), dxfattribs=attributes)
            return
        segments = shape.segments
        points = [(*self._point(segment.start), rounded(bulge_of(segment), _BULGE_DECIMALS)) for segment in segments]
        if not shape.closed:
            points.append((*self._point(segments[-1].end), 0.0))
        match self._document.dxfversion:
            case "AC1009":
                self._space.add_polyline2d(points, format="xyb", close=shape.closed, dxfattribs=attributes)
            case "AC1015":
                self._space.add_lwpolyline(points, format="xyb", close=shape.closed, dxfattribs=attributes)
            case other:
                raise ValueError(f"DXF version {other} is not written")

    def extents(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """Write the corners of all that was drawn into the header."""
        low, high = self._point((x0, y0)), self._point((x1, y1))
        # Both: what the layout holds overrides the header, but not where its corner is the origin.
        self._space.reset_extents((*low, 0.0), (*high, 0.0))
        self._document.header["$EXTMIN"], self._document.header["$EXTMAX"] = (*low, 0.0), (*high, 0.0)

    def _point(self, point: Point) -> Point:
        return self._length(point[0]), self._length(point[1])

    def _length(self, mm: float) -> float:
        return rounded(mm / self._mm_per_unit, _DECIMALS)


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
