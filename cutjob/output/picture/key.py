"""The key under a board's picture: which number is which part, what the lines mean, and a scale bar.

Also hatches, and the signs for screws and pins, as straight runs and circles on a sheet. mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

import shapely
from shapely import LineString, Polygon

from cutjob.geometry.segment import Point
from cutjob.layout.layout import BoardLayout
from cutjob.layout.sets import NO_SETS, Sets
from cutjob.output.picture.svg_shapes import STYLES, Sheet, coordinate, printable, style_attributes
from cutjob.output.words.held import number_ranges
from cutjob.output.words.sets import pieces_for
from cutjob.parts.part import LINE_OPERATIONS
from cutjob.units import Unit, format_length

# The least size of a sign, in heights of the text: a screw's head on a long board would be a speck.
_LEAST_SIGN = 0.4
_DOT = 0.16  # radius of the dot at the end of a line from a number, in heights of the text


def runs_within(lines: Sequence[LineString], area: Polygon) -> list[list[Point]]:
    """Return the pieces of straight lines within an area."""
    pieces = [
        part
        for line in lines
        for part in shapely.get_parts(shapely.intersection(line, area))
        if isinstance(part, LineString)
    ]
    return [[(float(x), float(y)) for x, y in part.coords] for part in pieces if part.length > 0]


def hatch(area: Polygon, spacing: float, *, crossed: bool = False) -> list[list[Point]]:
    """Return lines that rise to the right over an area, `spacing` mm apart along x; crossed ones fall too."""
    x0, y0, x1, y1 = area.bounds
    rise = y1 - y0
    count = math.ceil((x1 - x0 + rise) / spacing)
    lines = [LineString([(x0 - rise + step * spacing, y0), (x0 + step * spacing, y1)]) for step in range(1, count + 1)]
    if crossed:
        lines += [
            LineString([(x0 - rise + step * spacing, y1), (x0 + step * spacing, y0)]) for step in range(1, count + 1)
        ]
    return runs_within(lines, area)


def draw_screw(sheet: Sheet, group: Element, at: Point, head: float) -> None:
    """Add a screw: a circle of the head's radius, large enough to be seen, with a cross in it."""
    x, y = at
    radius = max(head, _LEAST_SIGN * sheet.text)
    reach = radius * math.sqrt(0.5)
    sheet.circle(group, at, radius)
    corners = [[(x - reach, y - reach), (x + reach, y + reach)], [(x - reach, y + reach), (x + reach, y - reach)]]
    sheet.lines(group, corners)


def draw_pin_hole(sheet: Sheet, group: Element, at: Point) -> None:
    """Add the hole for a pin: a ring that can be seen round a dot, not to scale."""
    radius = _LEAST_SIGN * sheet.text
    sheet.circle(group, at, radius)
    sheet.lines(group, [[(at[0] - radius / 4, at[1]), (at[0] + radius / 4, at[1])]])


def draw_leader(sheet: Sheet, group: Element, start: Point, end: Point) -> None:
    """Add a line from a number to its part, with a dot at the end on the part."""
    sheet.lines(group, [[start, end]])
    sheet.circle(group, end, _DOT * sheet.text)


# Widths of letters differ; in a common sans serif a letter is about this share of its height wide.
LETTER = 0.56
# The classes a key explains, in its order, with their words.
CLASSES: dict[str, str] = {
    "outside-cut": "outside cut",
    "inside-cut": "inside cut",
    "pocket": "pocket",
    "bore": "bore",
    "drill": "drill",
    **{op: op for op in LINE_OPERATIONS},
    "lettering": "letters",
    "leader": "from a number to its part",
    "groove": "width of the cut",
    "tab": "tab",
    "bridge": "bridge of wood",
    "hanging": "waste on bridges",
    "clamp": "clamp",
    "screw": "screw",
    "pin-hole": "hole for a pin",
    "keep-out": "keep-out",
    "standing": "thing on the board",
    "window": "window on the bed",
    "leftover": "leftover",
    "grain": "grain",
    "cutter-path": "cutter path",
    "air-move": "air move",
    "found": "found in the proof",
}
# In a view of how the parts of a board hang: bridges between them and a hold.
HELD_CLASSES: dict[str, str] = {
    "near-hold": "1 bridge to the hold",
    "second-hold": "2 bridges",
    "third-hold": "3 bridges",
    "far-hold": "more than 3",
}
_WORDS = CLASSES | HELD_CLASSES
_ROW = 1.5  # height of a row, in heights of the text
_INCHES = (0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0, 36.0, 48.0)


def part_rows(layout: BoardLayout, sets: Sets = NO_SETS) -> list[str]:
    """Return `1-3, 7: name tag, porch set 1-4 of 8` for each kind of part on a board, its numbers counted from 1, with
    the items that its pieces are for.
    """
    numbers: dict[tuple[str, str], list[int]] = {}
    for number, placement in enumerate(layout.placements, start=1):
        numbers.setdefault((placement.part.name, placement.item), []).append(number)
    return [
        f"{number_ranges(group)}: {part}, {pieces_for(layout, [number - 1 for number in group], sets)}"
        for (part, _), group in numbers.items()
    ]


def nice_length(greatest: float, *, units: Unit) -> float:
    """Return the longest usual length, in mm, that is at most `greatest` mm: 1, 2, 5 and their tenfolds, or inches."""
    if units == "in":
        fitting = [inches for inches in _INCHES if inches * 25.4 <= greatest]
        return (fitting[-1] if fitting else _INCHES[0]) * 25.4
    power = 10.0 ** math.floor(math.log10(greatest))
    return max(power * share for share in (1, 2, 5) if power * share <= greatest * (1 + 1e-9))


def columns(texts: Sequence[str], *, width: float, text: float) -> tuple[int, float]:
    """Return how many columns of `texts` go side by side in `width` mm, and how wide one is."""
    widest = max((len(row) for row in texts), default=1) * LETTER * text + 2 * text
    count = max(1, int(width // widest))
    return count, width / count


def fitting(words: str, *, width: float, text: float) -> str:
    """Return words, cut short if they would take more than about `width` mm at the height `text`."""
    room = int(width / (LETTER * text))
    return words if len(words) <= room else f"{words[: max(room - 1, 1)]}…"


def key_height(
    layout: BoardLayout,
    classes: Sequence[str],
    *,
    width: float,
    text: float,
    notes: Sequence[str] = (),
    sets: Sets = NO_SETS,
) -> float:
    """Return the height in mm of everything that `draw_key` adds under the board."""
    rows = part_rows(layout, sets)
    count, _ = columns(rows, width=width, text=text)
    samples = samples_rows(classes, width=width, text=text)
    below = len(notes) + 0.5 if notes else 0
    return (2.4 + (samples + math.ceil(len(rows) / count) + below) * _ROW) * text


def draw_key(
    sheet: Sheet, layout: BoardLayout, classes: Sequence[str], *, width: float, units: Unit, y: float = 0.0,
    notes: Sequence[str] = (), sets: Sets = NO_SETS,
) -> None:  # fmt: skip
    """Add the scale bar, a sample of every class in `classes`, the numbers of the parts and the notes, below `y`."""
    text = sheet.text
    draw_scale(sheet, width=width, units=units, y=y - 1.6 * text)
    y -= 3.6 * text
    draw_samples(sheet, classes, width=width, y=y)
    y -= samples_rows(classes, width=width, text=text) * _ROW * text
    rows = part_rows(layout, sets)
    count, column = columns(rows, width=width, text=text)
    for number, words in enumerate(rows):
        shown = fitting(words, width=column - text, text=text)
        sheet.words(shown, (number % count * column, y - number // count * _ROW * text), size=text)
    y -= (math.ceil(len(rows) / count) + 0.5) * _ROW * text
    for number, words in enumerate(notes):
        sheet.words(fitting(words, width=width, text=text), (0.0, y - number * _ROW * text), size=text)


def samples_rows(classes: Sequence[str], *, width: float, text: float) -> int:
    """Return the number of rows of the samples of classes; a row is one and a half times as high as the text."""
    return max((row for row, _ in _places(classes, width=width, text=text)), default=0) + 1


def draw_samples(sheet: Sheet, classes: Sequence[str], *, width: float, y: float) -> None:
    """Add a sample of every class with its words, from `y` down."""
    for name, (row, x) in zip(classes, _places(classes, width=width, text=sheet.text), strict=True):
        _sample(sheet, name, (x, y - row * _ROW * sheet.text))


def _places(classes: Sequence[str], *, width: float, text: float) -> list[tuple[int, float]]:
    """The row of each sample, and its place in the row."""
    places: list[tuple[int, float]] = []
    row, x = 0, 0.0
    for name in classes:
        needed = (len(_WORDS[name]) * LETTER + 3.6) * text
        if x and x + needed > width:
            row, x = row + 1, 0.0
        places.append((row, x))
        x += needed
    return places


def sign(name: str) -> str:
    """Return the sample of a class without its words, as an SVG of its own for a key in a page."""
    text = 10.0
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "viewBox": "0 0 20 12", "aria-hidden": "true"})
    _sign(Sheet(root=root, left=0.0, bottom=12.0, text=text), name, (0.2 * text, 0.25 * text))
    return ElementTree.tostring(root, encoding="unicode")


def class_words(name: str) -> str:
    """Return a key's words for a class."""
    return _WORDS[name]


def _sample(sheet: Sheet, name: str, at: Point) -> None:
    _sign(sheet, name, at)
    sheet.words(printable(_WORDS[name]), (at[0] + 2.1 * sheet.text, at[1]), size=sheet.text)


def _sign(sheet: Sheet, name: str, at: Point) -> None:
    text = sheet.text
    x, y = at
    length, height = 1.6 * text, 0.7 * text
    group = SubElement(sheet.root, "g", {"class": f"sample {name}"} | style_attributes(STYLES[name], text))
    middle = (x + length / 2, y + height / 2)
    if name == "screw":
        draw_screw(sheet, group, middle, height / 2)
    elif name == "pin-hole":
        draw_pin_hole(sheet, group, middle)
    elif name == "leader":
        draw_leader(sheet, group, (x, middle[1]), (x + length, middle[1]))
    elif STYLES[name].fill is None:
        sheet.lines(group, [[(x, middle[1]), (x + length, middle[1])]])
    else:
        box = {
            "x": coordinate(x + sheet.left),
            "y": coordinate(sheet.bottom - y - height),
            "width": coordinate(length),
            "height": coordinate(height),
        }
        SubElement(group, "rect", box)
    if f"{name}-hatch" in STYLES:
        lines = SubElement(sheet.root, "g", {"class": "sample"} | style_attributes(STYLES[f"{name}-hatch"], text))
        area = shapely.box(x, y, x + length, y + height)
        sheet.lines(lines, hatch(area, text / 2, crossed=name == "standing"))


def draw_scale(sheet: Sheet, *, width: float, units: Unit, y: float) -> None:
    """Add a bar of a usual length, at most a quarter of `width` mm, with its length beside it."""
    text = sheet.text
    length = nice_length(width / 4, units=units)
    group = sheet.group("scale-bar")
    tick = text / 3
    ends = [[(x, y - tick), (x, y + tick)] for x in (0.0, length)]
    quarters = [[(length * share, y), (length * share, y + tick)] for share in (0.25, 0.5, 0.75)]
    sheet.lines(group, [[(0.0, y), (length, y)], *ends, *quarters])
    sheet.words(format_length(length, unit=units), (length + text * 0.6, y - text * 0.35), size=text)
