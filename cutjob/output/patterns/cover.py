"""The first pages of a book of patterns: how to print, cut and glue, what the lines mean, where each part is. mm."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.segment import Point
from cutjob.output.operations import BLACK
from cutjob.output.patterns.looks import DARK, LIGHT, LOOKS, NAMES
from cutjob.output.patterns.marks import draw_bars, draw_place
from cutjob.output.patterns.sheets import Sheet
from cutjob.output.patterns.tiles import Tiling, tile_name
from cutjob.output.pdf.book import Book, Look
from cutjob.output.pdf.letters import fitted, wrapped

PRINTING = (
    "Print at 100 % (actual size), never fitted to the page, on {paper} paper.",
    "Measure both bars on every page: 100 mm and 4 in. If either is off by more than 0.5 mm (1/64 in), change the "
    "printer's settings and print again.",
)
GLUING = (
    "Pages with the same sheet number go together, as in the key: cut each along its dashed left and lower edges and "
    "glue it on the strip of its neighbour so that the half crosses close. Start at the lower left, on a flat table.",
)
CUTTING = (
    "Cut round a pattern with about 10 mm of paper to spare and stick it on the wood, the arrow along the grain: spray "
    "glue on masking tape comes off again. On a stack, stick it on the top board.",
    "Drill holes and openings first. The outline is the middle of its line: saw beside it, in the waste, and finish to "
    "the line. Inside an opening start from a drilled hole.",
)
HALVES = (
    "Halves: fold the paper along the line named FOLD and cut both layers at once. Where the page is too small for the "
    "other half, lay that line on the fold of a larger sheet; or trace the half, turn it over there, trace again.",
)
_SIZE = 2.9
_LINE = 4.1
_HEAD = 5.2
_KEY_HEIGHT = 42.0  # of one sheet's key, about
_KEY_GAP = 6.0
_COLUMNS = (0.05, 0.30, 0.22, 0.31, 0.12)  # number, part, item, pieces, where


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A line of the list of patterns."""

    number: str
    part: str
    item: str
    pieces: str
    where: str


class Cover:
    """Writes down the first pages, one line after the other, and goes on to a new page where one is full."""

    def __init__(self, book: Book, layout: Tiling, *, title: str, heading: str, total: int) -> None:
        """Begin the first page; `total` is how many pages there will be, 0: not known yet."""
        self._book, self._layout = book, layout
        self._title, self._heading, self._total = title, heading, total
        self._left = layout.corner[0]
        self._width = layout.window[0]
        self._begin()

    def _begin(self) -> None:
        book = self._book
        book.page()
        draw_bars(book)
        page = f"page {book.pages}" + (f" of {self._total}" if self._total else "")
        draw_place(book, (self._title, self._heading, page), width=0.0)
        self._y = self._layout.corner[1] + self._layout.window[1]

    def _room(self, height: float) -> None:
        if self._y - height < self._layout.corner[1]:
            self._begin()

    def head(self, words: str, *, size: float = _HEAD) -> None:
        """Add a heading."""
        self._room(size * 1.6 + 2 * _LINE)
        self._y -= size * 1.25
        self._book.words(fitted(words, size=size, width=self._width), (self._left, self._y), size=size, bold=True)
        self._y -= size * 0.35

    def texts(self, texts: Iterable[str]) -> None:
        """Add paragraphs with a dash before each."""
        indent = 3.5
        for text in texts:
            lines = wrapped(text, size=_SIZE, width=self._width - indent)
            for number, line in enumerate(lines):
                self._room(_LINE)
                self._y -= _LINE
                if number == 0:
                    self._book.words("–", (self._left, self._y), size=_SIZE)
                self._book.words(line, (self._left + indent, self._y), size=_SIZE)
            self._y -= 0.8

    def samples(self, styles: Sequence[str]) -> None:
        """Add a sample of every style in use with what it means, in three columns."""
        column = self._width / 3
        for number, style in enumerate(styles):
            if number % 3 == 0:
                self._room(_LINE * 1.2)
                self._y -= _LINE * 1.2
            x = self._left + number % 3 * column
            middle = self._y + _SIZE * 0.36
            self._book.lines([[(x, middle), (x + 12.0, middle)]], LOOKS[style])
            words = fitted(NAMES[style], size=_SIZE, width=column - 16.0)
            self._book.words(words, (x + 14.0, self._y), size=_SIZE)
        self._y -= 1.5

    def rows(self, rows: Sequence[Row]) -> None:
        """Add the list of patterns under its headings."""
        head = Row(number="", part="part", item="item", pieces="pieces", where="sheet")
        for number, row in enumerate([head, *rows]):
            self._room(_LINE)
            self._y -= _LINE
            x = self._left
            for words, share in zip((row.number, row.part, row.item, row.pieces, row.where), _COLUMNS, strict=True):
                width = share * self._width
                lines = fitted(words, size=_SIZE, width=width - 1.5)
                self._book.words(lines, (x, self._y), size=_SIZE, bold=number == 0)
                x += width
            self._book.lines(
                [[(self._left, self._y - 1.1), (self._left + self._width, self._y - 1.1)]],
                Look(stroke=LIGHT if number else BLACK, width=0.12),
            )
        self._y -= 1.0

    def keys(self, sheets: Sequence[tuple[int, Sheet]]) -> None:
        """Add a small drawing of every sheet of several pages: how they lie, and what is on them."""
        x = self._left
        tallest = 0.0
        for number, sheet in sheets:
            width, height, scale = _key_size(sheet, self._layout, self._width)
            if x > self._left and x + width > self._left + self._width:
                self._y -= tallest
                x, tallest = self._left, 0.0
            needed = height + _LINE * 1.4 + 1.0
            if x == self._left:
                self._room(needed)
            elif needed > tallest and self._y - needed < self._layout.corner[1]:
                self._y -= tallest
                x, tallest = self._left, 0.0
                self._room(needed)
            self._key(number, sheet, (x, self._y - _LINE - height), scale)
            tallest = max(tallest, needed)
            x += max(width, 22.0) + _KEY_GAP
        self._y -= tallest

    def _key(self, number: int, sheet: Sheet, at: Point, scale: float) -> None:
        book, layout = self._book, self._layout
        x, y = at
        top = y + (layout.window[1] + (sheet.size[1] - 1) * layout.step[1]) * scale
        book.words(f"sheet {number}", (x, top + 1.2), size=_SIZE, bold=True)
        for outline in sheet.outlines:
            rings = [ring for polygon in shapely.get_parts(outline) for ring in (polygon.exterior, *polygon.interiors)]
            runs = [[(x + a * scale, y + b * scale) for a, b in _thinned(ring, scale)] for ring in rings]
            book.lines(runs, Look(stroke=DARK, width=0.12, fill=(225, 225, 225)), closed=True)
        for tile in sheet.tiles:
            x0, y0, x1, y1 = (value * scale for value in layout.own(tile, sheet.size))
            book.box(x + x0, y + y0, x1 - x0, y1 - y0, Look(width=0.2))
            size = min(4.0, (y1 - y0) * 0.3, (x1 - x0) * 0.3)
            name = tile_name(tile, sheet.size)
            middle = (x + (x0 + x1) / 2, y + (y0 + y1) / 2 - size * 0.36)
            book.words(name, middle, size=size, anchor="middle", bold=True)


def _thinned(ring: BaseGeometry, scale: float) -> list[Point]:
    simple = shapely.simplify(ring, 0.1 / scale)
    return [(float(x), float(y)) for x, y in simple.coords]


def _key_size(sheet: Sheet, layout: Tiling, widest: float) -> tuple[float, float, float]:
    """Width and height of a sheet's key on paper, and its scale."""
    across = layout.window[0] + (sheet.size[0] - 1) * layout.step[0]
    up = layout.window[1] + (sheet.size[1] - 1) * layout.step[1]
    # A page in the key is at least so high that its name can be read, unless there are very many.
    scale = max(_KEY_HEIGHT / up, 7.0 / layout.step[1])
    scale = min(scale, widest / across, (layout.window[1] - 2 * _LINE) / up)
    return across * scale, up * scale, scale
