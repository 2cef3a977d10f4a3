"""Turns the basic shapes and paths of SVG into segments in mm (SVG 2, chapters 9 and 10).

It also reads lengths, transforms and viewports, which turn coordinates into places. User units are CSS pixels, 1/96 in.

Sources: SVG 2 chapter 8 (coordinate systems), CSS Values and Units for the lengths.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from cutjob.drawings.drawing import MOST_SEGMENTS, TooManyError
from cutjob.drawings.svg_path import Pen, Subpath, read_path
from cutjob.geometry.affine import Affine
from cutjob.geometry.segment import Line, Point

MM_PER_PX = 25.4 / 96
_PX = {
    "": 1.0,
    "px": 1.0,
    "in": 96.0,
    "mm": 96 / 25.4,
    "cm": 960 / 25.4,
    "q": 24 / 25.4,
    "pt": 96 / 72,
    "pc": 16.0,
}
# Digits can only be matched in one way; otherwise a long row of them would take for ever to be refused.
_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_LENGTH = re.compile(rf"\s*({_NUMBER})\s*([A-Za-z]*|%)\s*", re.ASCII)
_FUNCTION = re.compile(r"[\s,]*([A-Za-z]+)\s*\(([^()]*)\)[\s,]*", re.ASCII)
_LONGEST_TRANSFORM = 10_000  # characters
_COUNTS = {"matrix": (6,), "translate": (1, 2), "scale": (1, 2), "rotate": (1, 3), "skewx": (1,), "skewy": (1,)}


@dataclass(frozen=True, slots=True)
class Viewport:
    """The width and height in user units that percentages refer to."""

    width: float
    height: float

    @property
    def diagonal(self) -> float:
        """The length that a percentage refers to where it is neither a width nor a height."""
        return math.hypot(self.width, self.height) / math.sqrt(2)


def length(text: str, *, whole: float) -> float:
    """Return a length in user units; percentages are shares of `whole`. Raises ValueError."""
    match = _LENGTH.fullmatch(text)
    if match is None:
        raise ValueError(f"{text[:30]!r} is not a length")
    value, unit = float(match[1]), match[2].lower()
    if not math.isfinite(value):
        raise ValueError(f"{text[:30]!r} is not a length")
    if unit == "%":
        return value / 100 * whole
    if unit not in _PX:
        raise ValueError(f"{text[:30]!r} is in a unit that depends on letters; write it in mm, in or px")
    return value * _PX[unit]


def has_unit(text: str | None) -> bool:
    """Whether a length has a unit of its own."""
    match = _LENGTH.fullmatch(text or "")
    return match is not None and match[2] not in ("", "%")


def has_size(text: str) -> bool:
    """Whether a page's side is a length of its own, not a percentage or left to the viewer."""
    return not text.strip().endswith("%") and text.strip() != "auto"


def numbers(text: str) -> list[float]:
    """Return the numbers of a list separated by blanks or commas. Raises ValueError for anything else in it."""
    found = re.findall(_NUMBER, text, re.ASCII)
    if re.sub(rf"{_NUMBER}|[\s,]", "", text, flags=re.ASCII):
        raise ValueError(f"{text[:30]!r} is not a list of numbers")
    values = [float(word) for word in found]
    if not all(math.isfinite(value) for value in values):
        raise ValueError(f"{text[:30]!r} has a number that is too large")
    return values


def transform(text: str) -> Affine:
    """Return the map of a transform attribute. Raises ValueError where it can't be read."""
    if len(text) > _LONGEST_TRANSFORM:
        raise ValueError(f"transform {text[:40]!r}... is too long")
    result, at = Affine(), 0
    while at < len(text):
        match = _FUNCTION.match(text, at)
        if match is None:
            if not text[at:].strip():
                break
            raise ValueError(f"transform {text[:40]!r} can't be read")
        name, values = match[1].lower(), _transform_numbers(match[2], text)
        if name not in _COUNTS or len(values) not in _COUNTS[name]:
            raise ValueError(f"transform {text[:40]!r} can't be read")
        result, at = result @ _function(name, values), match.end()
    return result


def _transform_numbers(words: str, text: str) -> list[float]:
    try:
        return numbers(words)
    except ValueError as error:
        raise ValueError(f"transform {text[:40]!r} can't be read: {error}") from None


def _function(name: str, values: list[float]) -> Affine:
    first = values[0]
    match name:
        case "matrix":
            return Affine(*values)
        case "translate":
            return Affine(e=first, f=values[1] if len(values) > 1 else 0.0)
        case "scale":
            return Affine(a=first, d=values[1] if len(values) > 1 else first)
        case "skewx":
            return Affine(c=math.tan(math.radians(first)))
        case "skewy":
            return Affine(b=math.tan(math.radians(first)))
        case _:
            turn = _rotation(first)
            if len(values) == 1:
                return turn
            x, y = values[1:]
            return Affine(e=x, f=y) @ turn @ Affine(e=-x, f=-y)


def _rotation(degrees: float) -> Affine:
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    if degrees % 90 == 0:
        cos, sin = float(round(cos)), float(round(sin))
    return Affine(cos, sin, -sin, cos)


def fitted_view(box: list[float], port: Viewport, aspect: str) -> Affine:
    """Return the map of a viewBox into its viewport by preserveAspectRatio (SVG 2, 8.6). Raises ValueError."""
    if len(box) != 4 or not (box[2] > 0 and box[3] > 0):
        raise ValueError("viewBox needs four numbers, the last two positive")
    x, y, width, height = box
    words = aspect.split() or ["xMidYMid"]
    sx, sy = port.width / width, port.height / height
    if words[0] != "none":
        sx = sy = max(sx, sy) if "slice" in words[1:] else min(sx, sy)
    shares = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    name = re.fullmatch(r"x(Min|Mid|Max)Y(Min|Mid|Max)", words[0])
    across, down = (shares[name[1]], shares[name[2]]) if name else (0.0, 0.0)
    return Affine(
        a=sx,
        d=sy,
        e=across * (port.width - width * sx) - x * sx,
        f=down * (port.height - height * sy) - y * sy,
    )


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
