"""An SVG drawing to contours by layer, in mm: an independent reader of the few elements that cutting files have.

It reads the page (width and height in mm, the same as the viewBox, so that one user unit is 1 mm), groups of one level,
each with a title and a stroke, and in them circles, and paths of M, L, A and Z in absolute coordinates. Anything that
moves, hides, fills or styles is a mistake here. Elements and arcs are as in SVG 2 (chapters 8 to 10); y runs down, and
is turned up from the page's lower edge.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from xml.parsers import expat

from cutjob.errors import Location, Problem
from cutjob.geometry.segment import Arc, Line, Point, Segment
from cutjob.proof.drawing.dxf_reader import DrawnChain
from cutjob.tolerances import TOLERANCES

_NUMBER = r"-?[0-9]+(?:\.[0-9]+)?"
_MM = re.compile(rf"({_NUMBER})mm")
_BOX = re.compile(rf"0 0 ({_NUMBER}) ({_NUMBER})")
_STEP = re.compile(
    rf"\s*(?:([ML]) ({_NUMBER}) ({_NUMBER})|(Z)|A ({_NUMBER}) ({_NUMBER}) 0 0 ([01]) ({_NUMBER}) ({_NUMBER}))"
)
_MAY_HAVE = {
    "svg": {"version", "width", "height", "viewBox", "fill", "stroke-width"},
    "g": {"id", "stroke"},
    "path": {"d"},
    "circle": {"cx", "cy", "r"},
    "title": set(),
    "desc": set(),
}
_INSIDE = {"svg": {""}, "g": {"svg"}, "path": {"g"}, "circle": {"g"}, "title": {"svg", "g"}, "desc": {"svg"}}
_SVG = "http://www.w3.org/2000/svg "
_MOST_PROBLEMS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class SvgDrawing:
    """A drawing as read, in mm, y up from the page's lower left: the page's size, the colour of each layer as
    `#rrggbb`, its description, and its contours.
    """

    size: tuple[float, float]
    comments: tuple[str, ...]
    colours: Mapping[str, str]
    chains: tuple[DrawnChain, ...]
    problems: tuple[Problem, ...]


class _BrokenError(Exception):
    """A place that can't be read."""


def read_svg_drawing(data: bytes, *, name: str) -> SvgDrawing:
    """Return the drawing of an SVG file. A place that can't be read becomes a `Problem`; nothing is raised."""
    reader = _Reader(name)
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartElementHandler, parser.EndElementHandler = reader.begin, reader.end
    parser.CharacterDataHandler = reader.text
    parser.StartDoctypeDeclHandler = reader.doctype
    reader.line = lambda: parser.CurrentLineNumber
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        reader.problem(f"is not XML: {expat.ErrorString(error.code)}", error.lineno)
    except _BrokenError as error:
        reader.problem(str(error), parser.CurrentLineNumber)
    return SvgDrawing(
        size=reader.size,
        comments=tuple(reader.comments),
        colours=reader.colours,
        chains=tuple(reader.chains),
        problems=tuple(reader.problems[:_MOST_PROBLEMS]),
    )


class _Reader:
    def __init__(self, name: str) -> None:
        self.name = name
        self.size = (0.0, 0.0)
        self.comments: list[str] = []
        self.colours: dict[str, str] = {}
        self.chains: list[DrawnChain] = []
        self.problems: list[Problem] = []
        self.open: list[str] = []
        self.layer: str | None = None
        self.words = ""
        self.stroke = ""
        self.line: Callable[[], int] = int

    def problem(self, message: str, line: int) -> None:
        self.problems.append(Problem(message=message, location=Location(file=self.name, line=line)))

    def doctype(self, *_: object) -> None:
        raise _BrokenError("the drawing has a document type, which cutting files don't have")

    def begin(self, full: str, attributes: dict[str, str]) -> None:
        name = full.removeprefix(_SVG)
        parent = self.open[-1] if self.open else ""
        if not full.startswith(_SVG) or parent not in _INSIDE.get(name, set()):
            raise _BrokenError(f"an element {name[:40]!r} where cutting files have none")
        more = sorted(set(attributes) - _MAY_HAVE[name])
        if more:
            raise _BrokenError(f"{name} has {more[0][:40]!r}, which cutting files don't have")
        self.open.append(name)
        self.words = ""
        match name:
            case "svg":
                self.page(attributes)
            case "g":
                self.layer, self.stroke = None, attributes.get("stroke", "").lower()
                if not re.fullmatch("#[0-9a-f]{6}", self.stroke):
                    raise _BrokenError("a group has no stroke like #rrggbb")
            case "path" | "circle":
                if self.layer is None:
                    raise _BrokenError("a group draws before its title names its layer")
                segments, closed = self.path(attributes) if name == "path" else (self.circle(attributes), True)
                self.chains.append(DrawnChain(self.layer, segments, closed, None, self.line()))

    def text(self, words: str) -> None:
        self.words += words

    def end(self, _: str) -> None:
        name = self.open.pop()
        if name == "desc":
            self.comments.append(self.words)
        if name == "title" and self.open[-1] == "g":
            self.layer = self.words
            if self.layer in self.colours:
                raise _BrokenError(f"two groups of the layer {self.layer!r}")
            self.colours[self.layer] = self.stroke

    def page(self, attributes: Mapping[str, str]) -> None:
        sides = [_MM.fullmatch(attributes.get(side, "")) for side in ("width", "height")]
        box = _BOX.fullmatch(attributes.get("viewBox", ""))
        if None in sides or box is None:
            raise _BrokenError("the page states no width and height in mm with a viewBox from 0 0")
        wide, high = (float(side[1]) for side in sides if side is not None)
        if abs(wide - float(box[1])) > TOLERANCES.same_point or abs(high - float(box[2])) > TOLERANCES.same_point:
            raise _BrokenError("the page is not drawn at real size: its viewBox is not its width and height")
        if attributes.get("fill") != "none":
            raise _BrokenError("the drawing would be filled; a cutting file has only lines")
        self.size = (wide, high)

    def place(self, x: str, y: str) -> Point:
        return float(x), self.size[1] - float(y)

    def circle(self, attributes: Mapping[str, str]) -> tuple[Segment, ...]:
        for key in ("cx", "cy", "r"):
            if not re.fullmatch(_NUMBER, attributes.get(key, "")):
                raise _BrokenError(f"a circle's {key} is not a number")
        (x, y), radius = self.place(attributes["cx"], attributes["cy"]), float(attributes["r"])
        if radius <= 0:
            raise _BrokenError("a circle has no size")
        left, right = (x - radius, y), (x + radius, y)
        return Arc(right, left, (x, y), clockwise=False), Arc(left, right, (x, y), clockwise=False)

    def path(self, attributes: Mapping[str, str]) -> tuple[tuple[Segment, ...], bool]:
        segments: list[Segment] = []
        here: Point | None = None
        closed = False
        for step in _steps(attributes.get("d", "")):
            move, x, y, shut, radius, other, sweep, end_x, end_y = step.groups()
            if closed or (move == "M") != (here is None):
                raise _BrokenError("a path is not one line from M to its end")
            if move == "M":
                here = self.place(x, y)
                continue
            assert here is not None
            if shut:
                closed = True
                start = segments[0].start if segments else here
                if math.dist(here, start) > TOLERANCES.same_point:
                    segments.append(Line(here, start))
                continue
            end = self.place(x or end_x, y or end_y)
            if math.dist(here, end) <= TOLERANCES.same_point:
                raise _BrokenError("a path has a piece of no length")
            segments.append(Line(here, end) if move else _arc(here, end, radius, other, clockwise=sweep == "1"))
            here = end
        if not segments:
            raise _BrokenError("a path draws nothing")
        return tuple(segments), closed


def _steps(text: str) -> Iterator[re.Match[str]]:
    at = 0
    while at < len(text):
        step = _STEP.match(text, at)
        if step is None:
            raise _BrokenError(f"a path has {text[at : at + 20]!r}, which is not read here")
        yield step
        at = step.end()


def _arc(start: Point, end: Point, radius: str, other: str, *, clockwise: bool) -> Arc:
    """The smaller of the two arcs of a radius between two points (SVG 2, B.2.4), y up."""
    size, half = float(radius), math.dist(start, end) / 2
    if radius != other or size < half - TOLERANCES.acceptance / 10:
        raise _BrokenError("an arc's radii don't fit its ends")
    rise = math.sqrt(max(0.0, size * size - half * half))
    along = (end[0] - start[0]) / (2 * half), (end[1] - start[1]) / (2 * half)
    side = rise if clockwise else -rise  # the middle is to the right of a clockwise arc
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    return Arc(start, end, (middle[0] + along[1] * side, middle[1] - along[0] * side), clockwise=clockwise)
