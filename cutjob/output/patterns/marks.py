"""What stands on every page beside the patterns: check bars, frame, crosses, what the page is, where it belongs. mm."""

from __future__ import annotations

from collections.abc import Collection

from cutjob.geometry.contour import circle
from cutjob.geometry.segment import Point
from cutjob.output.operations import BLACK
from cutjob.output.patterns.looks import DARK, LIGHT
from cutjob.output.patterns.tiles import MARGIN, Tile, Tiling, crosses, tile_name
from cutjob.output.pdf.book import Book, Look
from cutjob.output.pdf.letters import fitted

BARS = ((100.0, 10.0, "100 mm"), (101.6, 12.7, "4 in"))  # length, from tick to tick, what it says
_BAR_LINE = Look(width=0.2)
_LOWEST = 9.0  # of the lower bar over the paper's edge
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
    """Add what the page is, to the right of the bars; the first line is heavier."""
    left = MARGIN + 101.6 + 6.0
    room = book.paper.width - MARGIN - left - width
    for number, line in enumerate(lines):
        size = 3.4 if number == 0 else 2.6
        shown = fitted(line, size=size, width=room)
        book.words(shown, (left, 21.5 - number * 4.6), size=size, bold=number == 0)


def draw_frame(book: Book, tile: Tile, size: Tile, tiles: Collection[Tile], layout: Tiling) -> None:
    """Add the window's frame: dashed where the page is cut to lie on a neighbour, and the crosses on the seams."""
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
