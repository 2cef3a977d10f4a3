"""The contents of a drawing file as values: the lines in it, and the closed contours made of them. mm, Y up.

Colours are spelled as `#rrggbb`, so that they can be compared with those of a job.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from cutjob.errors import CutjobError, Location, Problem
from cutjob.geometry.affine import Affine
from cutjob.geometry.contour import Contour
from cutjob.geometry.segment import Arc, Line, Point, Segment, chord_count
from cutjob.tolerances import TOLERANCES

# The basic colour keywords (CSS Color 4, 6.1, the sixteen of HTML 4.01), and a few more of that list in common use.
_NAMED = {
    "aqua": "#00ffff",
    "black": "#000000",
    "blue": "#0000ff",
    "brown": "#a52a2a",
    "cyan": "#00ffff",
    "fuchsia": "#ff00ff",
    "gray": "#808080",
    "green": "#008000",
    "grey": "#808080",
    "lime": "#00ff00",
    "magenta": "#ff00ff",
    "maroon": "#800000",
    "navy": "#000080",
    "olive": "#808000",
    "orange": "#ffa500",
    "pink": "#ffc0cb",
    "purple": "#800080",
    "red": "#ff0000",
    "silver": "#c0c0c0",
    "teal": "#008080",
    "white": "#ffffff",
    "yellow": "#ffff00",
}
_HEX = re.compile(r"#(?:[0-9a-f]{3}|[0-9a-f]{6})")
# CSS Color 4, 5.1: numbers to 255 or percentages, with commas or spaces between.
_SHARE = r"(\d{0,9}\.?\d{1,9}%?)"
_BETWEEN = r"(?:\s*,\s*|\s+)"
_RGB = re.compile(rf"rgb\(\s*{_SHARE}{_BETWEEN}{_SHARE}{_BETWEEN}{_SHARE}\s*\)")


def colour_of(text: str) -> str:
    """Return a colour as `#rrggbb`, an unknown word in small letters, or "" for no colour."""
    word = text.strip().lower()
    if word in ("none", "transparent", ""):
        return ""
    if _HEX.fullmatch(word):
        return word if len(word) == 7 else "#" + "".join(2 * digit for digit in word[1:])
    found = _RGB.fullmatch(word)
    if found is not None:
        return "#" + "".join(f"{_share(text):02x}" for text in found.groups())
    return _NAMED.get(word, word)


def _share(text: str) -> int:
    """A share of 255, to the nearest whole number, halves up (CSS Color 4 on serializing sRGB values)."""
    value = float(text[:-1]) * 255 / 100 if text.endswith("%") else float(text)
    return min(int(value + 0.5), 255)


LARGEST_FILE = 10_000_000  # bytes; a drawing of wooden parts has some thousands of lines
MOST_SEGMENTS = 20_000  # lines and arcs; more come from a picture traced dot by dot, and take minutes
FITTED = 4  # lines and arcs that one piece of a fitted curve counts as; finding it takes a hundred times as long
MOST_CHORDS = 1_500_000  # of all arcs: 10,000 holes of 20 mm have fewer, 500 arcs as large as a house have more
WORK_OF_A_FAILURE = 2500  # lines and arcs that a curve counts as where no fit is found, after a third of a second
MOST_SHAPES = 50_000  # with blocks and groups counted wherever they are used
MOST_OUTLINES = 5000  # closed contours; parts, holes and pockets together
DEEPEST = 64  # blocks within blocks, groups within groups
FAR = "has coordinates that are not numbers, or are more than a kilometre away"
_FURTHEST = 1e6  # mm; at a kilometre from the origin doubles are exact to 1e-10 mm, and no workshop is larger


class TooManyError(ValueError):
    """One entity has more lines and arcs than a whole drawing may have."""


Units = Literal["in", "mm", "px"]  # px: 1/96 in, as CSS has it
MM_PER_UNIT: dict[Units, float] = {"in": 25.4, "mm": 1.0, "px": 25.4 / 96}


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnContour:
    """A closed contour, and how far fitting and repair may have moved it from the drawn lines, mm; 0 where exact."""

    layer: str
    contour: Contour
    deviation: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPath:
    """A chain of segments that is not closed, on a layer where lines may be open."""

    layer: str
    segments: tuple[Segment, ...]
    deviation: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """The contours of a file. `ignored` lists what was left out, `notes` what was repaired, both for the job sheet."""

    source: Path
    units: str
    mm_per_unit: float
    contours: tuple[DrawnContour, ...]
    open_paths: tuple[DrawnPath, ...]
    ignored: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """One drawn shape: a chain of segments in mm, closed or not, before anything is joined. `colour` is that of its
    line as `colour_of` spells it, where the reader knows it.
    """

    layer: str
    segments: tuple[Segment, ...]
    closed: bool
    deviation: float
    place: str
    line: int | None = None
    colour: str = ""


@dataclass(slots=True)
class Findings:
    """The results that a reader collects from one file."""

    file: str
    shapes: list[Shape] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    ignored: Counter[str] = field(default_factory=Counter)
    units: str = ""
    mm_per_unit: float = 1.0
    frame: Affine = field(default_factory=Affine)
    visited: int = 0
    segments: int = 0
    chords: int = 0

    def problem(self, message: str, advice: str, *, place: str = "", line: int | None = None) -> None:
        """Note a mistake in the file."""
        self.problems.append(
            Problem(message=message, advice=advice, place=place, location=Location(file=self.file, line=line))
        )

    def add(self, shape: Shape) -> None:
        """Add a shape, unless its coordinates are too large or not finite."""
        self.segments += len(shape.segments) * (FITTED if shape.deviation else 1)
        if self.segments > MOST_SEGMENTS:
            self.too_many(place=shape.place, line=shape.line)
        elif not shape.segments:
            self.ignored[f"{shape.place.split(' ')[0]} of no size"] += 1
        elif all(_sound(segment) for segment in shape.segments):
            self.take(shape)
        else:
            self.problem(
                FAR,
                "draw it again near the origin",
                place=shape.place,
                line=shape.line,
            )

    def take(self, shape: Shape) -> None:
        """Add a shape with valid coordinates, unless its arcs and those before are too large to check."""
        arcs = (segment for segment in shape.segments if isinstance(segment, Arc))
        self.chords += sum(chord_count(arc.radius, arc.sweep, TOLERANCES.chord) for arc in arcs)
        if self.chords <= MOST_CHORDS:
            self.shapes.append(shape)
            return
        self.segments = MOST_SEGMENTS + 1  # ends the reading
        self.problem(
            f"with this the drawing's arcs are too large, or too many: they need more than {MOST_CHORDS} chords",
            "check its units, or delete lines that are not to be cut",
            place=shape.place,
            line=shape.line,
        )

    def unfit(self, error: CutjobError, *, place: str, line: int | None = None) -> None:
        """Count a curve that can't be fitted as many lines, as the attempt takes as long."""
        self.segments += WORK_OF_A_FAILURE
        for problem in error.problems:
            self.problem(problem.message, problem.advice, place=place, line=line)

    def visit(self) -> bool:
        """Count one thing in the file; False, and a problem once, where there are too many."""
        self.visited += 1
        if self.visited == MOST_SHAPES + 1:
            self.problem(
                f"has more than {MOST_SHAPES} shapes, with repeated ones counted each time",
                "delete shapes that are not to be cut",
            )
        return self.visited <= MOST_SHAPES and self.segments <= MOST_SEGMENTS

    def room_for(self, count: int, *, place: str, line: int | None = None) -> bool:
        """Whether `count` more segments are allowed; False, and a problem once, where they are not."""
        if self.segments + count <= MOST_SEGMENTS:
            return True
        self.segments += count
        self.too_many(place=place, line=line)
        return False

    def too_many(self, *, place: str, line: int | None = None) -> None:
        """Add one problem: the file has more lines than can be checked."""
        pieces = MOST_SEGMENTS // FITTED
        message = f"with this the drawing has more than {MOST_SEGMENTS} lines and arcs, or {pieces} pieces of curves"
        if not any(problem.message == message for problem in self.problems):
            self.problem(message, "simplify its curves, or delete lines that are not to be cut", place=place, line=line)

    def set_units(self, units: str, mm_per_unit: float, frame: Affine | None = None) -> None:
        """Set the file's units, and the map from places in mm to its own coordinates."""
        self.units, self.mm_per_unit = units, mm_per_unit
        self.frame = frame or Affine(1 / mm_per_unit, 0.0, 0.0, 1 / mm_per_unit, 0.0, 0.0)

    def enlarge(self, scale: float) -> None:
        """Set the scale at which everything is read."""
        self.mm_per_unit *= scale
        self.frame = self.frame @ Affine(1 / scale, 0.0, 0.0, 1 / scale, 0.0, 0.0)

    def where(self, point: Point) -> str:
        """A place in the file's own coordinates, and in mm where these differ."""
        in_mm = f"{_pair(point[0], point[1], 3)} mm"
        if self.units == "mm":
            return in_mm
        x, y = self.frame.point(point)
        return f"{_pair(x, y, 4)} {self.units} = {in_mm}"


def _pair(x: float, y: float, decimals: int) -> str:
    return f"({_plain(x, decimals)}, {_plain(y, decimals)})"


def _plain(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _sound(segment: Segment) -> bool:
    points = [segment.start, segment.end]
    if isinstance(segment, Arc):
        if not math.isfinite(segment.radius):
            return False
    else:
        assert isinstance(segment, Line)
    return all(is_near(point) for point in points)


def is_near(point: Point) -> bool:
    """True for a place less than a kilometre away; False for one farther or not finite."""
    return abs(point[0]) <= _FURTHEST and abs(point[1]) <= _FURTHEST
