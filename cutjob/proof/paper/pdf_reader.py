"""A PDF's pages to the paths painted on them, mm from the paper's lower left corner: the proof's own reader.

pypdf opens the file and its streams; the operators are read here (ISO 32000-1, 8.2 to 8.5 and annex A). Text is passed
over. An operator that could paint something this reader does not know is an error, never passed over.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from cutjob.proof import limits

Floats: TypeAlias = npt.NDArray[np.float64]
Box: TypeAlias = tuple[float, float, float, float]
Rgb: TypeAlias = tuple[int, int, int]
_Matrix: TypeAlias = tuple[float, float, float, float, float, float]
_Point: TypeAlias = tuple[float, float]

_MM = 25.4 / 72
# The pieces of a curve are as long as those of an arc with this chord error, mm; their own error is a fifth of it.
_FLAT = 0.02
_TOKEN = re.compile(
    rb"\((?:[^()\\]|\\.)*\)|<<.*?>>|<[0-9A-Fa-f\s]*>|\[[^\]]*\]|/[^\s()<>\[\]/%]*|[^\s()<>\[\]/%]+|%[^\r\n]*", re.DOTALL
)
_OPERANDS = frozenset(b"(<[/+-.0123456789")  # operands begin with one of these
_NUMBER = re.compile(rb"[+-]?(?:\d+\.?\d*|\.\d+)$")
_MOST_TEXT_MODE = 3  # from 4 on drawing is clipped to the letters
# Text, marked content, and looks of lines that don't change their place.
_PASSED = frozenset(b"BT ET Tc Tw Tz TL Tf Ts Td TD Tm T* Tj TJ ' \" BMC BDC EMC MP DP J j M i ri".split())
# Stroked, filled, closed first.
_PAINTS = {
    operator: (operator[:1] in b"SsBb", operator[:1] in b"fFBb", operator[:1] in b"sb")
    for operator in (b"S", b"s", b"f", b"F", b"f*", b"B", b"B*", b"b", b"b*", b"n")
}


class UnreadablePdfError(ValueError):
    """The file is not a PDF that this reader can follow."""


@dataclass(frozen=True, slots=True)
class Look:
    """How a line looks: its colour, its width and its dashes, mm."""

    colour: Rgb
    width: float
    dashes: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class PaintedPath:
    """One path: runs of points, how it is stroked and filled (None: not), and the box it is shown in."""

    runs: tuple[Floats, ...]
    stroke: Look | None
    fill: Rgb | None
    clip: Box


@dataclass(frozen=True, slots=True)
class PdfPage:
    """A page's width and height, mm, and its paths in the order of painting."""

    width: float
    height: float
    paths: tuple[PaintedPath, ...]


def read_pdf(data: bytes) -> tuple[PdfPage, ...]:
    """Return the pages. Raises UnreadablePdfError."""
    from pypdf import PdfReader
    from pypdf.errors import PyPdfError

    try:
        return tuple(_page(page) for page in PdfReader(io.BytesIO(data), strict=True).pages)
    except UnreadablePdfError:
        raise
    except (PyPdfError, ValueError, TypeError, KeyError, IndexError, AttributeError, RecursionError) as error:
        raise UnreadablePdfError(f"it can't be read as a PDF ({type(error).__name__}: {error})") from None


def _page(page: object) -> PdfPage:
    box, contents = page.mediabox, page.get_contents()  # type: ignore[attr-defined]
    if page.rotation or page.user_unit != 1 or (box.left, box.bottom) != (0, 0):  # type: ignore[attr-defined]
        raise UnreadablePdfError("a page is turned, scaled or moved")
    size = float(box.width) * _MM, float(box.height) * _MM
    reader = _Reader((0.0, 0.0, *size))
    reader.read(b"" if contents is None else contents.get_data())
    return PdfPage(width=size[0], height=size[1], paths=tuple(reader.paths))


@dataclass(frozen=True, slots=True)
class _State:
    matrix: _Matrix
    clip: Box
    stroke: Rgb = (0, 0, 0)
    fill: Rgb = (0, 0, 0)
    width: float = 1.0
    dashes: tuple[float, ...] = ()

    @property
    def scale(self) -> float:
        a, b, c, d, _, _ = self.matrix
        return math.sqrt(abs(a * d - b * c))


@dataclass(slots=True)
class _Run:
    """A sub-path in the making: its points, and the curves among them by the place they end at."""

    points: list[_Point]
    closed: bool = False
    curves: list[tuple[int, _Point, _Point]] = field(default_factory=list)

    def flat(self, clip: Box) -> Floats:
        """The run's points, with points along its curves; curves that are not shown stay straight."""
        points = [*self.points, self.points[0]] if self.closed else self.points
        if not self.curves:
            return np.array(points, float)
        pieces, done = [], 0
        for end, first, second in self.curves:
            pieces.append(np.array(points[done:end], float))
            start = points[end - 1]
            if _seen((start, first, second, points[end]), clip):
                pieces.append(_between(start, first, second, points[end]))
            done = end
        pieces.append(np.array(points[done:], float))
        return np.vstack([piece.reshape(-1, 2) for piece in pieces])


def _seen(corners: tuple[_Point, ...], clip: Box) -> bool:
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    return max(xs) >= clip[0] and min(xs) <= clip[2] and max(ys) >= clip[1] and min(ys) <= clip[3]


def _between(start: _Point, first: _Point, second: _Point, end: _Point) -> Floats:
    """Points of a cubic Bezier curve between its ends."""
    long = math.dist(start, first) + math.dist(first, second) + math.dist(second, end)
    t = np.linspace(0.0, 1.0, 3 + math.ceil(math.sqrt(long / _FLAT)))[1:-1, None]
    a, b, c, d = (np.array(point) for point in (start, first, second, end))
    curve: Floats = (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d
    return curve


class _Reader:
    def __init__(self, page: Box) -> None:
        self.paths: list[PaintedPath] = []
        self._state = _State(matrix=(_MM, 0.0, 0.0, _MM, 0.0, 0.0), clip=page)
        self._saved: list[_State] = []
        self._runs: list[_Run] = []
        self._clipping = False

    def read(self, data: bytes) -> None:
        for operator, operands in _operations(data):
            if operator in _PASSED:
                continue
            if operator in _PAINTS:
                self._paint(*_PAINTS[operator])
            elif operator == b"d":
                self._state = replace(self._state, dashes=_dashes(operands, self._state.scale))
            else:
                self._other(operator, [_value(one) for one in operands])

    def _other(self, operator: bytes, values: list[float]) -> None:
        if operator in (b"m", b"l", b"c", b"v", b"y", b"re", b"h"):
            self._build(operator, values)
        elif operator in (b"W", b"W*"):
            self._clipping = True
        elif operator == b"q":
            self._saved.append(self._state)
        elif operator == b"Q":
            self._state = self._saved.pop()
        elif operator == b"cm":
            self._state = replace(self._state, matrix=_times(values, self._state.matrix))
        elif operator == b"w":
            self._state = replace(self._state, width=values[0] * self._state.scale)
        elif operator == b"Tr":
            if values[0] > _MOST_TEXT_MODE:
                raise UnreadablePdfError("the drawing is clipped to letters")
        elif operator in (b"RG", b"G"):
            self._state = replace(self._state, stroke=_rgb(values))
        elif operator in (b"rg", b"g"):
            self._state = replace(self._state, fill=_rgb(values))
        else:
            raise UnreadablePdfError(f"operator {operator.decode('latin-1')!r} is not one that patterns are drawn with")

    def _build(self, operator: bytes, values: list[float]) -> None:
        points = [self._at(x, y) for x, y in zip(values[::2], values[1::2], strict=True)] if operator != b"re" else []
        if operator == b"m":
            self._runs.append(_Run(points))
        elif operator == b"re":
            x, y, wide, high = values
            corners = ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))
            self._runs.append(_Run([self._at(*corner) for corner in corners], closed=True))
        elif operator == b"h":
            self._runs[-1].closed = True
        else:
            run = self._runs[-1]
            if operator != b"l":
                first = run.points[-1] if operator == b"v" else points[0]
                second = points[-1] if operator == b"y" else points[-2]
                run.curves.append((len(run.points), first, second))
            run.points.append(points[-1])

    def _at(self, x: float, y: float) -> _Point:
        a, b, c, d, e, f = self._state.matrix
        return a * x + c * y + e, b * x + d * y + f

    def _paint(self, stroked: bool, filled: bool, closing: bool) -> None:
        state = self._state
        if closing:
            self._runs[-1].closed = True
        runs = tuple(run.flat(state.clip) for run in self._runs)
        if runs and (stroked or filled):
            look = Look(state.stroke, state.width, state.dashes) if stroked else None
            self.paths.append(PaintedPath(runs, look, state.fill if filled else None, state.clip))
        if self._clipping and runs:
            self._state = replace(state, clip=_common(state.clip, runs))
        self._runs, self._clipping = [], False


def _operations(data: bytes) -> Iterator[tuple[bytes, list[bytes]]]:
    operands: list[bytes] = []
    for token in _TOKEN.findall(data):
        if token[0] in _OPERANDS:
            operands.append(token)
        elif token[:1] != b"%":
            yield token, operands
            operands = []


def _value(token: bytes) -> float:
    if not _NUMBER.match(token):
        raise UnreadablePdfError(f"{token[:20]!r} is where a number should be")
    return float(token)


def _dashes(operands: list[bytes], scale: float) -> tuple[float, ...]:
    return tuple(_value(one) * scale for one in operands[0].strip(b"[]").split())


def _rgb(values: list[float]) -> Rgb:
    red, green, blue = values if len(values) == 3 else values * 3
    return round(red * 255), round(green * 255), round(blue * 255)


def _times(values: list[float], onto: _Matrix) -> _Matrix:
    """The matrix of `values` used first, then `onto` (ISO 32000-1, 8.3.4)."""
    a, b, c, d, e, f = values
    p, q, r, s, t, u = onto
    return a * p + b * r, a * q + b * s, c * p + d * r, c * q + d * s, e * p + f * r + t, e * q + f * s + u


def _common(clip: Box, runs: tuple[Floats, ...]) -> Box:
    """The overlap of a clip and a path to be clipped to. Raises UnreadablePdfError for a path that isn't a box."""
    points = runs[0][:-1] if len(runs[0]) > 4 else runs[0]
    low, high = runs[0].min(axis=0), runs[0].max(axis=0)
    sides = np.abs(np.diff(runs[0], axis=0, append=runs[0][:1]))
    at_corner = np.minimum(points - low, high - points) < limits.BOX_SQUARE
    if len(runs) > 1 or len(points) != 4 or not at_corner.all() or not (sides.min(axis=1) < limits.BOX_SQUARE).all():
        raise UnreadablePdfError("the drawing is clipped to a shape that isn't an upright box")
    return (
        max(clip[0], float(low[0])),
        max(clip[1], float(low[1])),
        min(clip[2], float(high[0])),
        min(clip[3], float(high[1])),
    )
