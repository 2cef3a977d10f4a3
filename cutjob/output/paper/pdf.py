"""Pages in mm to the bytes of a PDF: Y up from the paper's lower left corner. The file has no dates and nothing random.

Arcs become cubic Bezier curves, the only curves a PDF has, within a stated deviation.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Literal, TypeAlias

from reportlab.pdfbase.pdfdoc import PDFDictionary, PDFInfo, PDFString
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from cutjob.geometry.segment import Arc, Line, Point, Segment
from cutjob.job.paper import Paper
from cutjob.output.operations import BLACK, Rgb
from cutjob.output.paper.letters import ready_face, width_of, written
from cutjob.tolerances import TOLERANCES

# Two control points and the end.
Cubic: TypeAlias = tuple[Point, Point, Point]

_MOST_PIECES = 10_000


def bezier_error(radius: float, angle: float) -> float:
    """Return the greatest distance of a Bezier curve with handles 4/3 tan(angle/4) from a circular arc, mm.

    2/27 sin^6(a/4) / cos^2(a/4) of the radius (M. Goldapp, *Approximation of circular arcs by cubic polynomials*, 1991:
    the radial error of the curve that touches the arc at its ends and in its middle), `angle` in radians.
    """
    quarter = abs(angle) / 4
    return float(radius * 2 / 27 * math.sin(quarter) ** 6 / math.cos(quarter) ** 2)


def cubics(arc: Arc, *, deviation: float) -> tuple[Cubic, ...]:
    """Return the curves that stand for an arc, none farther from it than `deviation` mm; the ends are the arc's own.

    Raises ValueError where that would take far too many curves.
    """
    radius, sweep = arc.radius, arc.sweep
    count = max(1, math.ceil(abs(sweep) / (math.pi / 2) - 1e-9))
    while bezier_error(radius, sweep / count) > deviation:
        count += 1
        if count > _MOST_PIECES:
            raise ValueError(f"an arc of radius {radius:g} can't be drawn within {deviation:g} mm")
    handle = 4 / 3 * math.tan(sweep / count / 4)
    curves: list[Cubic] = []
    start = arc.start
    for number in range(1, count + 1):
        end = arc.end if number == count else arc.point_at(number / count)
        a = (start[0] - arc.centre[0], start[1] - arc.centre[1])
        b = (end[0] - arc.centre[0], end[1] - arc.centre[1])
        first = (start[0] - handle * a[1], start[1] + handle * a[0])
        second = (end[0] + handle * b[1], end[1] - handle * b[0])
        curves.append((first, second, end))
        start = end
    return tuple(curves)


POINTS_PER_MM = 72 / 25.4

Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """The look of lines and areas: colours, width and dashes in mm; `fill` leaves areas inside an even number
    of lines free.
    """

    stroke: Rgb | None = BLACK
    width: float = 0.2
    dashes: tuple[float, ...] = ()
    fill: Rgb | None = None


class _Info(PDFInfo):
    """The document's data without the dates."""

    def format(self, document: object) -> bytes:
        entries = {"Title": PDFString(self.title), "Producer": PDFString("cutjob")}
        return PDFDictionary(entries).format(document)


class Book:
    """A PDF in the making: pages are opened one after the other, and everything drawn goes on the last one."""

    def __init__(self, *, title: str, paper: Paper) -> None:
        """Begin a document whose pages are all of this paper, upright."""
        self.paper = paper
        self._data = io.BytesIO()
        size = (paper.width * POINTS_PER_MM, paper.height * POINTS_PER_MM)
        self._canvas = Canvas(self._data, pagesize=size, invariant=1, pageCompression=1)
        info = _Info()
        info.title = title
        self._canvas._doc.info = info  # type: ignore[attr-defined]  # no other way leaves the dates out
        self._open = False
        self.pages = 0
        # The file asks printers not to fit the pages to the paper.
        self._canvas.setViewerPreference("PrintScaling", "None")

    def page(self) -> None:
        """Begin a new page."""
        if self._open:
            self._canvas.showPage()
        self._open = True
        self.pages += 1

    def data(self) -> bytes:
        """Return the whole document. Nothing can be added after it. Raises ValueError where there is no page."""
        if not self._open:
            raise ValueError("a document needs a page")
        self._canvas.save()
        return self._data.getvalue()

    @contextmanager
    def within(self, box: tuple[float, float, float, float], *, shift: Point = (0.0, 0.0)) -> Iterator[None]:
        """Draw with the origin shifted; only lines in the box (x, y, width, height, on the paper) are shown."""
        canvas = self._canvas
        canvas.saveState()
        path = canvas.beginPath()
        path.rect(*(value * POINTS_PER_MM for value in box))
        canvas.clipPath(path, stroke=0, fill=0)
        canvas.translate(shift[0] * POINTS_PER_MM, shift[1] * POINTS_PER_MM)
        yield
        canvas.restoreState()

    @contextmanager
    def placed(self, at: Point, degrees: float) -> Iterator[None]:
        """Draw with the origin moved and turned."""
        self._canvas.saveState()
        self._canvas.translate(*_points(at))
        self._canvas.rotate(degrees)
        yield
        self._canvas.restoreState()

    def chains(self, chains: Iterable[Sequence[Segment]], look: Look, *, closed: bool = False) -> None:
        """Draw chains of segments as one path, arcs within `TOLERANCES.curve`."""
        path = self._canvas.beginPath()
        for chain in chains:
            _add(path, chain)
            if closed:
                path.close()
        self._draw(path, look)

    def lines(self, runs: Iterable[Sequence[Point]], look: Look, *, closed: bool = False) -> None:
        """Draw runs of straight lines as one path."""
        path = self._canvas.beginPath()
        for run in runs:
            path.moveTo(*_points(run[0]))
            for point in run[1:]:
                path.lineTo(*_points(point))
            if closed:
                path.close()
        self._draw(path, look)

    def box(self, x: float, y: float, width: float, height: float, look: Look) -> None:
        """Draw a rectangle from its lower left corner."""
        self.lines([[(x, y), (x + width, y), (x + width, y + height), (x, y + height)]], look, closed=True)

    def words(
        self,
        text: str,
        at: Point,
        *,
        size: float,
        anchor: Anchor = "start",
        degrees: float = 0.0,
        bold: bool = False,
        colour: Rgb = BLACK,
    ) -> None:
        """Write a line of text at the left end, the middle or the right end of its base line; `size` in mm."""
        canvas, shown = self._canvas, written(text)
        if not shown:
            return
        back = {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * width_of(text, size=size)
        canvas.saveState()
        canvas.translate(*_points(at))
        if degrees:
            canvas.rotate(degrees)
        canvas.setFillColorRGB(*_shares(colour))
        made = canvas.beginText(-back * POINTS_PER_MM, 0)
        made.setFont(ready_face(), size * POINTS_PER_MM)
        if bold:
            # The face has one weight; heavier letters are the same with a rim.
            canvas.setStrokeColorRGB(*_shares(colour))
            canvas.setLineWidth(size * 0.035 * POINTS_PER_MM)
            made.setTextRenderMode(2)
        made.textOut(shown)
        canvas.drawText(made)
        canvas.restoreState()

    def _draw(self, path: PDFPathObject, look: Look) -> None:
        canvas = self._canvas
        if look.stroke is not None:
            canvas.setStrokeColorRGB(*_shares(look.stroke))
            canvas.setLineWidth(look.width * POINTS_PER_MM)
            canvas.setDash([dash * POINTS_PER_MM for dash in look.dashes])
        if look.fill is not None:
            canvas.setFillColorRGB(*_shares(look.fill))
        canvas.drawPath(path, stroke=int(look.stroke is not None), fill=int(look.fill is not None), fillMode=0)


def _add(path: PDFPathObject, chain: Sequence[Segment]) -> None:
    path.moveTo(*_points(chain[0].start))
    for segment in chain:
        if isinstance(segment, Line):
            path.lineTo(*_points(segment.end))
        else:
            for curve in cubics(segment, deviation=TOLERANCES.curve):
                path.curveTo(*(value for point in curve for value in _points(point)))


def _points(at: Point) -> Point:
    return at[0] * POINTS_PER_MM, at[1] * POINTS_PER_MM


def _shares(colour: Rgb) -> tuple[float, float, float]:
    return colour[0] / 255, colour[1] / 255, colour[2] / 255
