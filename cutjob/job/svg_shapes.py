"""The basic shapes and paths of SVG to segments in mm (SVG 2, chapters 9 and 10)."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from cutjob.geometry.affine import Affine
from cutjob.geometry.segment import Line, Point
from cutjob.job.drawing import MOST_SEGMENTS, TooManyError
from cutjob.job.svg_frame import Viewport, length, numbers
from cutjob.job.svg_path import Pen, Subpath, read_path


@dataclass(frozen=True, slots=True)
class Frame:
    """The map from user units to mm, and the viewport that percentages refer to."""

    matrix: Affine
    port: Viewport


def _read_path(attributes: Mapping[str, str], frame: Frame) -> list[Subpath]:
    return read_path(attributes.get("d", ""), frame.matrix)


def _read_rect(attributes: Mapping[str, str], frame: Frame) -> list[Subpath]:
    wide, high = frame.port.width, frame.port.height
    x, y = length(attributes.get("x", "0"), whole=wide), length(attributes.get("y", "0"), whole=high)
    w, h = length(attributes.get("width", "0"), whole=wide), length(attributes.get("height", "0"), whole=high)
    if w < 0 or h < 0:
        raise ValueError("has a negative width or height")
    if w == 0 or h == 0:
        return []
    rx, ry = _corner(attributes, "rx", wide), _corner(attributes, "ry", high)
    rx, ry = ry if rx is None else rx, rx if ry is None else ry
    rx, ry = min(rx or 0.0, w / 2), min(ry or 0.0, h / 2)
    if not rx or not ry:
        rx = ry = 0.0
    pen, path = Pen(frame.matrix), Subpath(closed=True)
    path.exact = not rx or pen.is_exact((rx, 0.0), (0.0, ry))
    # The corners in the order drawn; each runs from its first point to its second.
    corners = [
        ((x + w - rx, y), (x + w, y + ry)),
        ((x + w, y + h - ry), (x + w - rx, y + h)),
        ((x + rx, y + h), (x, y + h - ry)),
        ((x, y + ry), (x + rx, y)),
    ]
    before = corners[-1][1]
    for first, second in corners:
        path.segments += pen.line(before, first)
        path.segments += pen.arc(first, second, (rx, ry), 0.0, False, True)
        before = second
    return [path]


def _corner(attributes: Mapping[str, str], name: str, whole: float) -> float | None:
    text = attributes.get(name, "auto")
    if text == "auto":
        return None
    value = length(text, whole=whole)
    if value < 0:
        raise ValueError("has a negative corner radius")
    return value


def _read_circle(attributes: Mapping[str, str], frame: Frame) -> list[Subpath]:
    radius = length(attributes.get("r", "0"), whole=frame.port.diagonal)
    return _round(attributes, frame, radius, radius)


def _read_ellipse(attributes: Mapping[str, str], frame: Frame) -> list[Subpath]:
    rx, ry = _corner(attributes, "rx", frame.port.width), _corner(attributes, "ry", frame.port.height)
    rx, ry = ry if rx is None else rx, rx if ry is None else ry
    return _round(attributes, frame, rx or 0.0, ry or 0.0)


def _round(attributes: Mapping[str, str], frame: Frame, rx: float, ry: float) -> list[Subpath]:
    if rx < 0 or ry < 0:
        raise ValueError("has a negative radius")
    if rx == 0 or ry == 0:
        return []
    cx = length(attributes.get("cx", "0"), whole=frame.port.width)
    cy = length(attributes.get("cy", "0"), whole=frame.port.height)
    pen = Pen(frame.matrix)
    segments = pen.ellipse((cx, cy), (rx, 0.0), (0.0, ry), 0.0, 2 * math.pi)
    return [Subpath(segments, True, pen.is_exact((rx, 0.0), (0.0, ry)))]


def _read_line(attributes: Mapping[str, str], frame: Frame) -> list[Subpath]:
    wide, high = frame.port.width, frame.port.height
    (x1, x2), (y1, y2) = (
        (length(attributes.get(f"{axis}1", "0"), whole=whole), length(attributes.get(f"{axis}2", "0"), whole=whole))
        for axis, whole in (("x", wide), ("y", high))
    )
    return _chain(frame, [(x1, y1), (x2, y2)], closed=False)


def _read_polyline(attributes: Mapping[str, str], frame: Frame) -> list[Subpath]:
    return _chain(frame, _points(attributes), closed=False)


def _read_polygon(attributes: Mapping[str, str], frame: Frame) -> list[Subpath]:
    return _chain(frame, _points(attributes), closed=True)


def _points(attributes: Mapping[str, str]) -> list[Point]:
    values = numbers(attributes.get("points", ""))
    if len(values) > 2 * MOST_SEGMENTS:
        raise TooManyError
    if len(values) % 2:
        raise ValueError("has an odd number of coordinates")
    return list(zip(values[::2], values[1::2], strict=True))


def _chain(frame: Frame, points: list[Point], *, closed: bool) -> list[Subpath]:
    placed = [frame.matrix.point(point) for point in points]
    ends = placed[1:] + placed[:1] if closed else placed[1:]
    segments = [Line(a, b) for a, b in zip(placed, ends, strict=False) if a != b]
    return [Subpath(list(segments), closed)] if segments else []


SHAPES: dict[str, Callable[[Mapping[str, str], Frame], list[Subpath]]] = {
    "path": _read_path,
    "rect": _read_rect,
    "circle": _read_circle,
    "ellipse": _read_ellipse,
    "line": _read_line,
    "polyline": _read_polyline,
    "polygon": _read_polygon,
}
