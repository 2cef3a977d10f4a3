"""Reads a PDF's own paths and words with PDFium, a library that shares nothing with the writer. mm, Y up."""

from __future__ import annotations

import ctypes
from dataclasses import dataclass

import numpy as np
import pypdfium2
import pypdfium2.raw as raw

MM = 25.4 / 72


@dataclass(frozen=True)
class PaintedPath:
    """One path as it is painted: sub-paths of points (curves sampled), the stroke's colour and its width."""

    runs: tuple[np.ndarray, ...]
    closed: tuple[bool, ...]
    colour: tuple[int, int, int]
    width: float

    @property
    def points(self) -> np.ndarray:
        return np.vstack(self.runs)


def read_pages(data: bytes) -> list[list[PaintedPath]]:
    """Return every page's paths in the order of painting."""
    document = pypdfium2.PdfDocument(data)
    try:
        return [[_path(thing) for thing in page.get_objects([raw.FPDF_PAGEOBJ_PATH])] for page in document]
    finally:
        document.close()


def page_sizes(data: bytes) -> list[tuple[float, float]]:
    document = pypdfium2.PdfDocument(data)
    try:
        return [(width * MM, height * MM) for width, height in (page.get_size() for page in document)]
    finally:
        document.close()


def page_words(data: bytes) -> list[str]:
    """Return every page's text."""
    document = pypdfium2.PdfDocument(data)
    try:
        found = []
        for page in document:
            text = page.get_textpage()
            found.append(text.get_text_range())
            text.close()
        return found
    finally:
        document.close()


def word_boxes(data: bytes, page: int) -> list[tuple[float, float, float, float, str]]:
    """Return the boxes (x0, y0, x1, y1) of the pieces of text on a page, with what they say."""
    document = pypdfium2.PdfDocument(data)
    try:
        text = document[page].get_textpage()
        boxes = []
        for number in range(text.count_rects()):
            left, bottom, right, top = text.get_rect(number)
            said = text.get_text_bounded(left, bottom, right, top)
            boxes.append((left * MM, bottom * MM, right * MM, top * MM, said))
        text.close()
        return boxes
    finally:
        document.close()


def _path(thing) -> PaintedPath:
    matrix = thing.get_matrix()
    runs: list[list[tuple[float, float]]] = []
    closed: list[bool] = []
    pending: list[tuple[float, float]] = []
    for number in range(raw.FPDFPath_CountSegments(thing)):
        segment = raw.FPDFPath_GetPathSegment(thing, number)
        x, y = ctypes.c_float(), ctypes.c_float()
        raw.FPDFPathSegment_GetPoint(segment, x, y)
        at = matrix.on_point(x.value, y.value)
        kind = raw.FPDFPathSegment_GetType(segment)
        if kind == raw.FPDF_SEGMENT_MOVETO:
            runs.append([at])
            closed.append(False)
        elif kind == raw.FPDF_SEGMENT_LINETO:
            runs[-1].append(at)
        else:
            pending.append(at)
            if len(pending) == 3:
                runs[-1] += _sampled(runs[-1][-1], *pending)
                pending = []
        if raw.FPDFPathSegment_GetClose(segment):
            closed[-1] = True
    red, green, blue, alpha = (ctypes.c_uint() for _ in range(4))
    raw.FPDFPageObj_GetStrokeColor(thing, red, green, blue, alpha)
    width = ctypes.c_float()
    raw.FPDFPageObj_GetStrokeWidth(thing, width)
    arrays = tuple(np.array(run) * MM for run in runs)
    return PaintedPath(arrays, tuple(closed), (red.value, green.value, blue.value), width.value * MM)


def _sampled(start, first, second, end) -> list[tuple[float, float]]:
    t = np.linspace(1 / 64, 1.0, 64)[:, None]
    a, b, c, d = (np.array(point) for point in (start, first, second, end))
    points = (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d
    return [(float(x), float(y)) for x, y in points]
