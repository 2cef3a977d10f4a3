"""Reads SVG path data into segments in mm, by the grammar and the arc formulas of SVG 2, chapter 9 and appendix B.2.

A viewer draws a faulty path up to the fault. Here a fault is an error, as nobody wants half an outline.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from cutjob.drawings.drawing import FAR, FITTED, MOST_SEGMENTS, TooManyError, is_near
from cutjob.geometry.affine import Affine, ellipse_arc, ended, fit_bezier
from cutjob.geometry.segment import Line, Point, Segment
from cutjob.tolerances import TOLERANCES

_NUMBER = re.compile(r"[\s,]*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)", re.ASCII)
_FLAG = re.compile(r"[\s,]*([01])", re.ASCII)
_COMMAND = re.compile(r"[\s,]*([A-Za-z])", re.ASCII)
_REST = re.compile(r"[\s,]*$", re.ASCII)
_ARGUMENTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}


@dataclass(slots=True)
class Subpath:
    """One stretch of a path from a move to the next: its segments, placed."""

    segments: list[Segment] = field(default_factory=list)
    closed: bool = False
    exact: bool = True


@dataclass(frozen=True, slots=True)
class Pen:
    """Turns lines, curves and arcs in user units into placed segments."""

    matrix: Affine

    def place(self, point: Point) -> Point:
        """The point in mm. Raises ValueError for one too far away or not finite."""
        placed = self.matrix.point(point)
        if not is_near(placed):
            raise ValueError(FAR)
        return placed

    def line(self, start: Point, end: Point) -> list[Segment]:
        """A straight line; nothing where its ends are the same."""
        a, b = self.place(start), self.place(end)
        return [Line(a, b)] if a != b else []

    def bezier(self, *control: Point) -> list[Segment]:
        """A Bezier curve of degree two or three, fitted."""
        return list(fit_bezier([self.place(point) for point in control]))

    def arc(self, start: Point, end: Point, radii: Point, degrees: float, large: bool, sweep: bool) -> list[Segment]:
        """An elliptical arc by its ends (SVG 2, B.2.4 and B.2.5): exact where it is round."""
        rx, ry = abs(radii[0]), abs(radii[1])
        if start == end:
            return []
        if rx == 0 or ry == 0:
            return self.line(start, end)
        cos, sin = math.cos(math.radians(degrees % 360)), math.sin(math.radians(degrees % 360))
        if degrees % 90 == 0:
            cos, sin = float(round(cos)), float(round(sin))
        hx, hy = (start[0] - end[0]) / 2, (start[1] - end[1]) / 2
        x, y = (
            (cos * hx + sin * hy) / rx,
            (cos * hy - sin * hx) / ry,
        )  # half the chord, where the ellipse is a unit circle
        size = math.hypot(x, y)
        if size > 1:  # too small to reach both ends: scaled up until it does
            rx, ry, x, y, size = rx * size, ry * size, x / size, y / size, 1.0
        off = math.sqrt(max(0.0, 1 - size * size)) / size
        if large == sweep:
            off = -off
        cx, cy = off * y, -off * x
        first = math.atan2(y - cy, x - cx)
        turn = math.atan2(-y - cy, -x - cx) - first
        turn = turn % (2 * math.pi) if sweep else -(-turn % (2 * math.pi))
        middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        centre = (middle[0] + cos * rx * cx - sin * ry * cy, middle[1] + sin * rx * cx + cos * ry * cy)
        return self.ellipse(centre, (cos * rx, sin * rx), (-sin * ry, cos * ry), first, first + turn, (start, end))

    def ellipse(
        self, centre: Point, u: Point, v: Point, first: float, last: float, ends: tuple[Point, Point] | None = None
    ) -> list[Segment]:
        """The points centre + cos(t) u + sin(t) v, with the given `ends` for the first and the last."""
        at, u, v = self.place(centre), self.matrix.vector(u), self.matrix.vector(v)
        if not (is_near(u) and is_near(v)):
            raise ValueError(FAR)
        if max(math.hypot(*u), math.hypot(*v)) <= TOLERANCES.same_point:
            return []
        pieces = ellipse_arc(at, u, v, first, last)
        return list(pieces if ends is None else ended(pieces, self.place(ends[0]), self.place(ends[1])))

    def is_exact(self, u: Point, v: Point) -> bool:
        """True where these half axes are still those of a circle once placed."""
        u, v = self.matrix.vector(u), self.matrix.vector(v)
        along, across = math.hypot(*u), math.hypot(*v)
        return abs(u[0] * v[0] + u[1] * v[1]) <= 1e-9 * along * across and abs(along - across) <= 1e-9 * along


def read_path(text: str, matrix: Affine) -> list[Subpath]:
    """Return the subpaths of path data, placed by `matrix`. Raises ValueError that names the place of a fault."""
    reader = _PathReader(Pen(matrix))
    for number, (command, numbers) in enumerate(_commands(text)):
        reader.step(command, numbers)
        if number > MOST_SEGMENTS or reader.drawn > MOST_SEGMENTS:
            raise TooManyError
    return [subpath for subpath in reader.subpaths if subpath.segments]


def _commands(text: str) -> Iterator[tuple[str, list[float]]]:
    """Yield each command with its numbers; repeated groups of numbers make repeated commands."""
    at, begun = 0, False
    while not _REST.match(text, at):
        match = _COMMAND.match(text, at)
        if match is None or match[1].upper() not in _ARGUMENTS:
            raise ValueError(f"path data can't be read at {_shown(text, at)}")
        command, at = match[1], match.end()
        if not begun and command not in "Mm":
            raise ValueError("path data must start with M")
        begun = True
        count = _ARGUMENTS[command.upper()]
        first = True
        while count and (first or _NUMBER.match(text, at)):
            numbers, at = _numbers(text, at, command.upper(), count)
            yield command, numbers
            first = False
            command = {"M": "L", "m": "l"}.get(command, command)
        if not count:
            yield command, []


def _numbers(text: str, at: int, command: str, count: int) -> tuple[list[float], int]:
    numbers: list[float] = []
    for index in range(count):
        # Nothing need separate the two flags of an arc from each other and from the next number.
        match = (_FLAG if command == "A" and index in (3, 4) else _NUMBER).match(text, at)
        if match is None:
            raise ValueError(f"path data lack a number at {_shown(text, at)}")
        numbers.append(float(match[1]))
        at = match.end()
    if not all(math.isfinite(number) for number in numbers):
        raise ValueError(f"path data have a number without bounds before {_shown(text, at)}")
    return numbers, at


def _shown(text: str, at: int) -> str:
    following = text[at : at + 20].strip()
    return f"{following!r} (character {at + 1})" if following else "their end"


class _PathReader:
    """Follows the commands of one path, in user units."""

    def __init__(self, pen: Pen) -> None:
        self.pen = pen
        self.subpaths: list[Subpath] = []
        self.here: Point = (0.0, 0.0)
        self.start: Point = (0.0, 0.0)
        self.control: Point | None = None  # the last control point, for the smooth commands
        self.last = ""
        self.drawn = 0  # segments so far

    def step(self, command: str, numbers: list[float]) -> None:
        kind = command.upper()
        ox, oy = self.here if command.islower() else (0.0, 0.0)
        if kind == "Z":
            self.close()
        elif kind == "A":
            end = (numbers[5] + ox, numbers[6] + oy)
            self.arc(end, numbers)
        elif kind in "HV":
            end = (numbers[0] + ox, self.here[1]) if kind == "H" else (self.here[0], numbers[0] + oy)
            self.draw(self.pen.line(self.here, end), end)
        else:
            self.curve(kind, _pairs(numbers, ox, oy))
        self.last = kind

    def curve(self, kind: str, points: list[Point]) -> None:
        end = points[-1]
        if kind == "M":
            self.here = self.start = end
            self.subpaths.append(Subpath())
            return
        if kind == "L":
            self.draw(self.pen.line(self.here, end), end)
            return
        if kind in "ST":  # the first control point is the last one mirrored, if the last command had one
            same = "CS" if kind == "S" else "QT"
            back = self.control if self.control is not None and self.last in same else self.here
            points = [(2 * self.here[0] - back[0], 2 * self.here[1] - back[1]), *points]
        segments = self.pen.bezier(self.here, *points)
        self.control = points[-2]
        self.draw(segments, end, exact=all(isinstance(segment, Line) for segment in segments))

    def arc(self, end: Point, numbers: list[float]) -> None:
        rx, ry, degrees, large, sweep = numbers[:5]
        segments = self.pen.arc(self.here, end, (rx, ry), degrees, bool(large), bool(sweep))
        exact = abs(rx) == abs(ry) and self.pen.is_exact((1.0, 0.0), (0.0, 1.0))
        self.draw(segments, end, exact=exact)

    def draw(self, segments: list[Segment], end: Point, *, exact: bool = True) -> None:
        if self.last == "Z":  # a command after Z starts again from the same place
            self.subpaths.append(Subpath())
        subpath = self.subpaths[-1]
        subpath.segments.extend(segments)
        self.drawn += len(segments) * (1 if exact else FITTED)
        subpath.exact = subpath.exact and exact
        self.here = end

    def close(self) -> None:
        subpath = self.subpaths[-1]
        subpath.segments.extend(self.pen.line(self.here, self.start))
        subpath.closed = True
        self.here = self.start


def _pairs(numbers: list[float], ox: float, oy: float) -> list[Point]:
    return [(x + ox, y + oy) for x, y in zip(numbers[::2], numbers[1::2], strict=True)]
