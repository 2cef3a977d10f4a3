"""A job's patterns to patterns.pdf: first how to use them and where each part is, then the pages at true size. mm.

The first pages say how to print, cut and glue, what the lines mean, and where each part is.

Every page has, beside the patterns, check bars, a frame, crosses, its name and its place.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import circle
from cutjob.geometry.segment import Point
from cutjob.job.machine import Machine
from cutjob.job.paper import PaperName, PatternsWanted, papers
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.output.operations import BLACK
from cutjob.output.paper.letters import fitted, wrapped
from cutjob.output.paper.packing import MARGIN, Tile, Tiling, crosses, tile_name, tiling
from cutjob.output.paper.pattern import Pattern, count_words, patterns_of
from cutjob.output.paper.pdf import Book, Look
from cutjob.output.paper.picture import DARK, EDGES, LIGHT, LOOKS, NAMES, UNDER_WORDS, Picture
from cutjob.output.paper.sheets import Sheet, board_sheet, part_sheets
from cutjob.output.words.cautions import board_cautions
from cutjob.parts.part import Item
from cutjob.units import Unit

HEADING = "paper patterns at true size"
BARS = ((100.0, 10.0, "100 mm"), (101.6, 12.7, "4 in"))  # length, from tick to tick, what it says
_BAR_LINE = Look(width=0.2)
_LOWEST = 9.0  # height of the lower bar over the paper's edge
_APART = 10.0
_TICK = 2.5
_FRAME = Look(stroke=LIGHT, width=0.15)
_CUT = Look(stroke=BLACK, width=0.25, dashes=(4.0, 2.0))
_CROSS = Look(stroke=BLACK, width=0.15)
_SMALL = 2.4
_KEY = 18.0  # room for the little map of the sheet


def draw_bars(book: Book) -> None:
    """Add the two check bars."""
    for number, (length, tick, words) in enumerate(BARS):
        y = _LOWEST + (len(BARS) - 1 - number) * _APART
        left = MARGIN
        ticks = [left + step * tick for step in range(1, round(length / tick))]
        book.lines([[(left, y), (left + length, y)]], _BAR_LINE)
        book.lines([[(x, y - _TICK), (x, y + _TICK)] for x in (left, left + length)], _BAR_LINE)
        book.lines([[(x, y), (x, y + _TICK * 0.6)] for x in ticks], _BAR_LINE)
        book.words(words, (left + 1.5, y + _TICK * 0.6 + 0.8), size=2.8, bold=True)
        said = "must measure this: print at 100 %, actual size" if number == 0 else "ticks 1/2 in, above 10 mm"
        book.words(said, (left + 21.0, y + _TICK * 0.6 + 0.9), size=2.2, colour=DARK)


def draw_place(book: Book, lines: Collection[str], *, width: float) -> None:
    """Add the page's name and contents to the right of the bars; the first line is heavier."""
    left = MARGIN + 101.6 + 6.0
    room = book.paper.width - MARGIN - left - width
    for number, line in enumerate(lines):
        size = 3.4 if number == 0 else 2.6
        shown = fitted(line, size=size, width=room)
        book.words(shown, (left, 21.5 - number * 4.6), size=size, bold=number == 0)


def draw_frame(book: Book, tile: Tile, size: Tile, tiles: Collection[Tile], layout: Tiling) -> None:
    """Add the window's frame, dashed where the page is cut and glued on a neighbour, and the crosses on the seams."""
    x0, y0 = layout.corner
    x1, y1 = x0 + layout.window[0], y0 + layout.window[1]
    column, row = tile
    left, below = (column - 1, row), (column, row - 1)
    right, above = (column + 1, row), (column, row + 1)
    book.lines([[(x0, y0), (x0, y1)]], _CUT if left in tiles else _FRAME)
    book.lines([[(x0, y0), (x1, y0)]], _CUT if below in tiles else _FRAME)
    book.lines([[(x0, y1), (x1, y1)], [(x1, y0), (x1, y1)]], _FRAME)
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    if left in tiles:
        words = f"cut here and glue on {tile_name(left, size)}"
        book.words(words, (x0 - 1.5, middle[1]), size=_SMALL, degrees=90.0, anchor="middle")
    if below in tiles:
        book.words(
            f"cut here and glue on {tile_name(below, size)}", (middle[0], y0 - 3.4), size=_SMALL, anchor="middle"
        )
    if right in tiles:
        book.words(
            f"{tile_name(right, size)} goes on here", (x1 + 3.2, middle[1]), size=_SMALL, degrees=90.0, anchor="middle"
        )
        book.lines([[(x0 + layout.step[0], y0), (x0 + layout.step[0], y1)]], _FRAME)
    if above in tiles:
        book.words(f"{tile_name(above, size)} goes on here", (middle[0], y1 + 1.2), size=_SMALL, anchor="middle")
        book.lines([[(x0, y0 + layout.step[1]), (x1, y0 + layout.step[1])]], _FRAME)
    across, up = layout.shift(tile)
    for x, y in crosses(tiles, tile, layout):
        draw_cross(book, (x + across, y + up))


def draw_cross(book: Book, at: Point) -> None:
    """Add a register cross."""
    x, y = at
    book.lines([[(x - 5, y), (x + 5, y)], [(x, y - 5), (x, y + 5)]], _CROSS)
    book.chains([circle(at, 2.5).segments], _CROSS, closed=True)


def draw_little_map(book: Book, tile: Tile, size: Tile, tiles: Collection[Tile]) -> float:
    """Add the sheet's tiles in small with this page's filled, at the lower right; returns the width it takes."""
    if len(tiles) < 2:
        return 0.0
    cell = min(_KEY / size[0], _KEY / size[1] / 1.3, 6.0)
    width, height = cell, cell * 1.3
    left = book.paper.width - MARGIN - size[0] * width
    for column, row in sorted(tiles):
        here = (column, row) == tile
        look = Look(width=0.2, fill=DARK if here else (255, 255, 255))
        book.box(left + column * width, 7.0 + row * height, width, height, look)
        if cell >= 3.2:
            colour = (255, 255, 255) if here else BLACK
            at = (left + (column + 0.5) * width, 7.0 + (row + 0.5) * height - cell * 0.14)
            book.words(tile_name((column, row), size), at, size=cell * 0.4, anchor="middle", colour=colour)
    return size[0] * width + 2.0


PRINTING = (
    "Print at 100 % (actual size), never fitted to the page, on {paper} paper.",
    "Measure both bars on every page: 100 mm and 4 in. If either is off by more than 0.5 mm (1/64 in), change the "
    "printer's settings and print again.",
)
GLUING = (
    "Pages with the same sheet number go together, as in the key. Cut each along its dashed left and lower edges and "
    "glue it on the strip of its neighbour so that the half crosses meet. Start at the lower left, on a flat table.",
)
CUTTING = (
    "Cut round a pattern with about 10 mm of paper to spare. Stick it on the wood, the arrow along the grain: spray "
    "glue on masking tape comes off again. On a stack, stick it on the top board.",
    "Drill holes and openings first. The outline is the middle of its line: saw beside it, in the waste, and finish to "
    "the line. Inside an opening start from a drilled hole.",
)
SETS = (
    "Write on each piece which item it is for, such as 3 of 8, and its part's name, so that the pieces of an item stay "
    "together.",
)
HALVES = (
    "Halves: fold the paper along the line named FOLD and cut both layers at once. Where the page is too small for the "
    "other half, lay that line on the fold of a larger sheet. Or trace the half, turn it over there, trace again.",
)
_SIZE = 2.9
_LINE = 4.1
_HEAD = 5.2
_KEY_HEIGHT = 42.0  # about the height of one sheet's key
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
    """Writes the first pages, one line after the other, and begins a new page when one is full."""

    def __init__(self, book: Book, layout: Tiling, *, title: str, heading: str, total: int) -> None:
        """Begin the first page; `total` is the number of pages there will be, 0 if not known yet."""
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
        """Add a sample of every style in use with its meaning, in three columns."""
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
        """Add a small drawing of every sheet of several pages: where they go, and what is on them."""
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
    # A page in the key is high enough for its name to be read, unless there are very many pages.
    scale = max(_KEY_HEIGHT / up, 7.0 / layout.step[1])
    scale = min(scale, widest / across, (layout.window[1] - 2 * _LINE) / up)
    return across * scale, up * scale, scale


_MOST_PAGES = 200  # for one pattern: nobody glues more
_WHITE = Look(stroke=None, fill=(255, 255, 255))


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternBook:
    """The PDF, and the contents of its pages: each sheet's tiles follow each other from page `first` (counted
    from 1) on.
    """

    data: bytes
    sheets: tuple[Sheet, ...]
    tiles: Tiling
    first: int


def write_patterns(
    layout: Layout,
    *,
    items: Sequence[Item],
    wanted: PatternsWanted,
    paper: PaperName,
    machine: Machine,
    title: str,
    units: Unit,
) -> PatternBook:
    """Return the PDF: every shaped part once, or whole layouts, or both, tiled over `paper`.

    Lines are true within `TOLERANCES.curve`. The same job gives the same bytes. Raises InputError for parts that take
    far too many pages, ValueError where there is nothing to draw.
    """
    tiles = tiling(papers()[paper])
    refuse_huge(layout, wanted, tiles, key="patterns")
    patterns = patterns_of(layout, items, halves=wanted.halves) if wanted.parts else ()
    sheets = [*part_sheets(patterns, layout=tiles, unit=units)]
    boards = layout.boards if wanted.layout else ()
    sheets += [board_sheet(board, layout=tiles, unit=units) for board in boards]
    if not sheets:
        raise ValueError("there is nothing to make a pattern of")
    section = PatternSection(
        patterns=patterns, sheets=tuple(sheets), layout=layout, paper=paper, machine=machine, title=title, units=units
    )
    book, first = written_twice(lambda book, total: section.add(book, total), title=f"{title}: {HEADING}", tiles=tiles)
    return PatternBook(data=book.data(), sheets=tuple(sheets), tiles=tiles, first=first)


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternSection:
    """The pages on how to use patterns, and those with the patterns; in a book by themselves or after other pages.
    `cautions` are given where they are not those of the machine.
    """

    patterns: Sequence[Pattern]
    sheets: tuple[Sheet, ...]
    layout: Layout
    paper: PaperName
    machine: Machine
    title: str
    units: Unit
    heading: str = HEADING
    cautions: tuple[str, ...] | None = None

    def add(self, book: Book, total: int) -> int:
        """Add the pages, with `total` as the number of pages of the whole book (0: not known yet, and only counted);
        return the number of the first page of a sheet.
        """
        tiles = tiling(papers()[self.paper])
        cover = Cover(book, tiles, title=self.title, heading=self.heading, total=total)
        _fill(
            cover,
            self.paper,
            self.patterns,
            self.sheets,
            _cautions(self.layout.boards, self.machine) if self.cautions is None else self.cautions,
            title=self.title,
            units=self.units,
        )
        first = book.pages + 1
        for number, sheet in enumerate(self.sheets, start=1):
            for tile in sheet.tiles:
                if total:
                    _page(book, tiles, number, sheet, tile, title=self.title, total=total)
                else:
                    book.page()
        return first


def written_twice(add: Callable[[Book, int], int], *, title: str, tiles: Tiling) -> tuple[Book, int]:
    """Return a book whose pages `add` writes, and what it returned. It is called twice: the first time to count the
    pages, without their number.
    """
    counted_book = Book(title=title, paper=tiles.paper)
    add(counted_book, 0)
    book = Book(title=title, paper=tiles.paper)
    return book, add(book, counted_book.pages)


def refuse_huge(layout: Layout, wanted: PatternsWanted, tiles: Tiling, *, key: str) -> None:
    """Raise InputError for parts, or layouts, whose pattern would take far too many pages; `key` is the job's."""
    parts = {one.part.name: one.part.region.bounds for board in layout.boards for one in board.placements}
    boards = {board.id: board.board.outline.bounds for board in layout.boards}
    asked = [("part", parts)] * wanted.parts + [("layout", boards)] * wanted.layout
    problems = []
    for what, sizes in asked:
        for name, (x0, y0, x1, y1) in sizes.items():
            columns, rows = tiles.size_for(x1 - x0, y1 - y0)
            if columns * rows > _MOST_PAGES:
                problems.append(
                    Problem(
                        place=f'{key}: {what} "{name}"',
                        message=f"its pattern would take {columns * rows} pages; at most {_MOST_PAGES} are written",
                        advice=f"have the DXF printed at true size, or leave {key} out with --only",
                    )
                )
    if problems:
        raise InputError(problems)


def _fill(
    cover: Cover,
    paper: PaperName,
    patterns: Sequence[Pattern],
    sheets: Sequence[Sheet],
    cautions: Sequence[str],
    *,
    title: str,
    units: Unit,
) -> None:
    """Write the first pages."""
    several = [(number, sheet) for number, sheet in enumerate(sheets, start=1) if len(sheet.tiles) > 1]
    cover.head(title, size=6.0)
    cover.head("Print, glue, saw")
    cover.texts(text.format(paper=paper) for text in PRINTING)
    if several:
        cover.texts(GLUING)
    cover.texts(CUTTING)
    if any(pattern.items > 1 for pattern in patterns):
        cover.texts(SETS)
    if any(pattern.fold for pattern in patterns):
        cover.texts(HALVES)
    cover.texts(cautions)
    used = {stroke.style for sheet in sheets for stroke in sheet.picture.strokes if stroke.chains}
    cover.samples([style for style in NAMES if style in used])
    if patterns:
        cover.head("Parts")
        cover.rows(list(_part_rows(patterns, sheets, units=units)))
    boards = [(number, sheet) for number, sheet in enumerate(sheets, start=1) if sheet.name != "parts"]
    if boards:
        cover.head("Whole layouts")
        cover.texts(f"sheet {number}: {sheet.name}" for number, sheet in boards)
    if several:
        cover.head("How the pages go together")
        cover.keys(several)


def _cautions(boards: Sequence[BoardLayout], machine: Machine) -> list[str]:
    cautions = [one for board in boards for one in board_cautions(board, machine=machine, programs=())]
    return list(dict.fromkeys(one.short for one in cautions))


def _part_rows(patterns: Sequence[Pattern], sheets: Sequence[Sheet], *, units: Unit) -> Iterator[Row]:
    for pattern in patterns:
        where = ""
        for number, sheet in enumerate(sheets, start=1):
            on = [tile for tile in sheet.tiles if pattern.number in sheet.shown[tile]]
            if sheet.name == "parts" and on:
                names = ", ".join(tile_name(tile, sheet.size) for tile in on)
                where = f"{number}: {names}" if len(sheet.tiles) > 1 else str(number)
                break
        yield Row(
            number=str(pattern.number),
            part=pattern.part.name,
            item=pattern.for_items,
            pieces=count_words(pattern, unit=units),
            where=where,
        )


def _page(book: Book, tiles: Tiling, number: int, sheet: Sheet, tile: Tile, *, title: str, total: int) -> None:
    book.page()
    x, y = tiles.corner
    with book.within((x, y, *tiles.window), shift=tiles.shift(tile)):
        draw_picture(book, sheet.picture)
    draw_frame(book, tile, sheet.size, sheet.tiles, tiles)
    draw_bars(book)
    width = draw_little_map(book, tile, sheet.size, sheet.tiles)
    name = f"sheet {number}"
    if len(sheet.tiles) > 1:
        name += f", tile {tile_name(tile, sheet.size)}"
    what = "parts " + ", ".join(map(str, sheet.shown[tile])) if sheet.name == "parts" else sheet.name
    draw_place(book, (name, what, title, f"page {book.pages} of {total}"), width=width)


def draw_picture(book: Book, picture: Picture) -> None:
    """Draw a picture's lines, style by style, and its words over them, on white that covers no edge of a part."""
    _draw_lines(book, picture, UNDER_WORDS)
    for block in picture.blocks:
        with book.placed(block.at, block.degrees):
            book.box(-block.width / 2, -block.height / 2, block.width, block.height, _WHITE)
    _draw_lines(book, picture, EDGES)
    for block in picture.blocks:
        # Words that would be upside down are turned round.
        degrees = block.degrees % 360
        flipped = degrees - 0.01 > 90 and degrees <= 270.01
        with book.placed(block.at, degrees + 180 * flipped):
            for number, (line, height) in enumerate(block.base_lines()):
                book.words(line, (0.0, height), size=block.size, anchor="middle", bold=number == 0)


def _draw_lines(book: Book, picture: Picture, styles: Sequence[str]) -> None:
    for style in styles:
        for closed in (True, False):
            chains = [
                chain
                for stroke in picture.strokes
                if stroke.style == style and stroke.closed == closed
                for chain in stroke.chains
                if chain
            ]
            if chains:
                book.chains(chains, LOOKS[style], closed=closed)
