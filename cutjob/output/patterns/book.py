"""A job's patterns to patterns.pdf: first how to use them and where each part is, then the pages at true size."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from cutjob.errors import InputError, Problem
from cutjob.job.machine import Machine
from cutjob.job.paper import PaperName, PatternsWanted, papers
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.output.cautions import board_cautions
from cutjob.output.patterns.cover import CUTTING, GLUING, HALVES, PRINTING, Cover, Row
from cutjob.output.patterns.looks import EDGES, LOOKS, NAMES, UNDER_WORDS
from cutjob.output.patterns.marks import draw_bars, draw_frame, draw_little_map, draw_place
from cutjob.output.patterns.pattern import Pattern, count_words, patterns_of
from cutjob.output.patterns.picture import Picture
from cutjob.output.patterns.sheets import Sheet, board_sheet, part_sheets
from cutjob.output.patterns.tiles import Tile, Tiling, tile_name, tiling
from cutjob.output.pdf.book import Book, Look
from cutjob.parts.part import Item
from cutjob.units import Unit

_MOST_PAGES = 200  # of one pattern: nobody glues more
_HEADING = "paper patterns at true size"
_WHITE = Look(stroke=None, fill=(255, 255, 255))


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternBook:
    """The PDF, and what is on its pages: of each sheet its tiles follow each other from page `first` (from 1) on."""

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

    Lines are true within `TOLERANCES.curve`. The same job gives the same bytes. Raises InputError for parts of far too
    many pages, ValueError where nothing at all is wanted or there.
    """
    tiles = tiling(papers()[paper])
    _refuse_huge(layout, wanted, tiles)
    patterns = patterns_of(layout, items, halves=wanted.halves) if wanted.parts else ()
    sheets = [*part_sheets(patterns, layout=tiles, unit=units)]
    boards = layout.boards if wanted.layout else ()
    sheets += [board_sheet(board, layout=tiles, unit=units) for board in boards]
    if not sheets:
        raise ValueError("there is nothing to make a pattern of")
    total = sum(len(sheet.tiles) for sheet in sheets)
    # Written twice: only then is it known how many pages there are.
    for known in (False, True):
        book = Book(title=f"{title}: {_HEADING}", paper=tiles.paper)
        cover = Cover(book, tiles, title=title, heading=_HEADING, total=total if known else 0)
        _fill(cover, paper, patterns, sheets, layout, machine=machine, title=title, units=units)
        total += 0 if known else book.pages
    first = book.pages + 1
    for number, sheet in enumerate(sheets, start=1):
        for tile in sheet.tiles:
            _page(book, tiles, number, sheet, tile, title=title, total=total)
    return PatternBook(data=book.data(), sheets=tuple(sheets), tiles=tiles, first=first)


def _refuse_huge(layout: Layout, wanted: PatternsWanted, tiles: Tiling) -> None:
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
                        place=f'patterns: {what} "{name}"',
                        message=f"a pattern of it takes {columns * rows} pages, and at most {_MOST_PAGES} are written",
                        advice="have the DXF printed at true size, or leave patterns out with --only",
                    )
                )
    if problems:
        raise InputError(problems)


def _fill(
    cover: Cover,
    paper: PaperName,
    patterns: Sequence[Pattern],
    sheets: Sequence[Sheet],
    layout: Layout,
    *,
    machine: Machine,
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
    if any(pattern.fold for pattern in patterns):
        cover.texts(HALVES)
    cover.texts(_cautions(layout.boards, machine))
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
            item=pattern.item,
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
    """Draw a picture's lines, style after style, and its words over them, on white that covers no edge of a part."""
    _draw_lines(book, picture, UNDER_WORDS)
    for block in picture.blocks:
        with book.placed(block.at, block.degrees):
            book.box(-block.width / 2, -block.height / 2, block.width, block.height, _WHITE)
    _draw_lines(book, picture, EDGES)
    for block in picture.blocks:
        # Words that would stand on their head are turned round.
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
