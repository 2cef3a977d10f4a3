"""What stands under a board's picture: which number is which part, what the lines mean, and a scale bar."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from xml.etree.ElementTree import SubElement

from cutjob.layout.layout import BoardLayout
from cutjob.output.svg_shapes import STYLES, Sheet, coordinate, printable, style_attributes
from cutjob.units import Unit, format_length

# Widths of letters differ; a common sans serif takes about this share of its height for one.
LETTER = 0.56
_ROW = 1.5  # height of a row over the text's
_INCHES = (0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0, 36.0, 48.0)


def part_rows(layout: BoardLayout) -> list[str]:
    """Return `1-3, 7: name tag, porch set` for each kind of part on a board, numbers counted from 1."""
    numbers: dict[tuple[str, str], list[int]] = {}
    for number, placement in enumerate(layout.placements, start=1):
        numbers.setdefault((placement.part.name, placement.item), []).append(number)
    return [f"{_ranges(group)}: {part}, {item}" for (part, item), group in numbers.items()]


def _ranges(numbers: Sequence[int]) -> str:
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(str(first) if first == last else f"{first}-{last}" for first, last in runs)


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
    """Return words, cut short where they would take more than about `width` mm at the height `text`."""
    room = int(width / (LETTER * text))
    return words if len(words) <= room else f"{words[: max(room - 1, 1)]}…"


def key_height(layout: BoardLayout, *, width: float, text: float) -> float:
    """Return the height in mm of all that `draw_key` adds under the board."""
    rows = part_rows(layout)
    count, _ = columns(rows, width=width, text=text)
    return (2.4 + (_sample_lines(width, text) + math.ceil(len(rows) / count)) * _ROW) * text


def _sample_lines(width: float, text: float) -> int:
    # All the samples a picture may need take 84 heights of the text side by side.
    return max(1, math.ceil(84 * text / width))


def draw_key(sheet: Sheet, layout: BoardLayout, classes: Iterable[str], *, width: float, units: Unit) -> None:
    """Add the scale bar, a sample of every class in `classes`, and the numbers of the parts, below y 0."""
    text = sheet.text
    _scale_bar(sheet, width=width, units=units, y=-1.6 * text)
    y = -2.6 * text - text
    y = _samples(sheet, classes, width=width, y=y)
    rows = part_rows(layout)
    count, column = columns(rows, width=width, text=text)
    for number, row in enumerate(rows):
        shown = fitting(row, width=column - text, text=text)
        sheet.words(shown, (number % count * column, y - number // count * _ROW * text), size=text)


def _samples(sheet: Sheet, classes: Iterable[str], *, width: float, y: float) -> float:
    text = sheet.text
    x = 0.0
    for name in classes:
        words = name.replace("-", " ").replace("keep out", "keep-out")
        needed = (len(words) * LETTER + 3.6) * text
        if x and x + needed > width:
            x, y = 0.0, y - _ROW * text
        box = {
            "x": coordinate(x + sheet.left),
            "y": coordinate(sheet.bottom - y - 0.7 * text),
            "width": coordinate(1.6 * text),
            "height": coordinate(0.7 * text),
        }
        group = SubElement(sheet.root, "g", {"class": f"sample {name}"} | style_attributes(STYLES[name], text))
        if STYLES[name].fill is None:
            middle = y + 0.35 * text
            sheet.lines(group, [[(x, middle), (x + 1.6 * text, middle)]])
        else:
            SubElement(group, "rect", box)
        sheet.words(printable(words), (x + 2.1 * text, y), size=text)
        x += needed
    return y - _ROW * text


def _scale_bar(sheet: Sheet, *, width: float, units: Unit, y: float) -> None:
    text = sheet.text
    length = nice_length(width / 4, units=units)
    group = sheet.group("scale-bar")
    tick = text / 3
    ends = [[(x, y - tick), (x, y + tick)] for x in (0.0, length)]
    quarters = [[(length * share, y), (length * share, y + tick)] for share in (0.25, 0.5, 0.75)]
    sheet.lines(group, [[(0.0, y), (length, y)], *ends, *quarters])
    sheet.words(format_length(length, unit=units), (length + text * 0.6, y - text * 0.35), size=text)
