"""Paper to tiles: the window each page shows of a sheet, how they overlap, what they are called. mm.

Tile (column, row) counts from the lower left. Each shows a window of the sheet; neighbours share a strip of
the width `OVERLAP`. The page to the right, or above, is cut along its left, or lower, edge and laid on that strip.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import TypeAlias

from cutjob.geometry.segment import Bounds, Point
from cutjob.job.paper import Paper

Tile: TypeAlias = tuple[int, int]

# Common practice, no source: printers leave 5 to 7 mm blank, and a glued strip of half an inch holds.
MARGIN = 10.0
FOOT = 34.0  # below the window: check bars and what the page is
OVERLAP = 12.0
CELL = 2.0  # windows and steps are whole numbers of these, the packing's cells
INSET = 2.0  # what is drawn keeps this far from the outer edge of the windows


@dataclass(frozen=True, slots=True, kw_only=True)
class Tiling:
    """How a paper is tiled: the window's size, its lower left corner on the page, and from one tile to the next."""

    paper: Paper
    window: Point
    corner: Point
    step: Point

    def box(self, tile: Tile) -> Bounds:
        """What of the sheet a tile shows."""
        x, y = tile[0] * self.step[0], tile[1] * self.step[1]
        return x, y, x + self.window[0], y + self.window[1]

    def own(self, tile: Tile, size: Tile) -> Bounds:
        """What of the sheet is seen on this tile once all are glued: `size` is how many columns and rows there are."""
        x0, y0, x1, y1 = self.box(tile)
        right = x0 + self.step[0] if tile[0] < size[0] - 1 else x1
        top = y0 + self.step[1] if tile[1] < size[1] - 1 else y1
        return x0, y0, right, top

    def shift(self, tile: Tile) -> Point:
        """How far the sheet is moved to lie on the page of a tile."""
        return self.corner[0] - tile[0] * self.step[0], self.corner[1] - tile[1] * self.step[1]

    def room(self, size: Tile) -> Point:
        """Width and height that so many columns and rows show between them, within the inset."""
        across, up = (self.window[axis] + (size[axis] - 1) * self.step[axis] - 2 * INSET for axis in (0, 1))
        return across, up

    def size_for(self, width: float, height: float) -> Tile:
        """The fewest columns and rows that a drawing of this width and height needs."""
        needed = [
            max(1, math.ceil((length + 2 * INSET - self.window[axis]) / self.step[axis] - 1e-9) + 1)
            for axis, length in ((0, width), (1, height))
        ]
        return needed[0], needed[1]


def tiling(paper: Paper) -> Tiling:
    """Return how a paper is tiled."""
    width = CELL * math.floor((paper.width - 2 * MARGIN) / CELL)
    height = CELL * math.floor((paper.height - MARGIN - FOOT) / CELL)
    return Tiling(
        paper=paper,
        window=(width, height),
        corner=((paper.width - width) / 2, FOOT),
        step=(width - OVERLAP, height - OVERLAP),
    )


def tile_name(tile: Tile, size: Tile) -> str:
    """Return a tile's name: a letter for its column, from the left, and a number for its row, from the top."""
    return f"{_letters(tile[0])}{size[1] - tile[1]}"


def _letters(number: int) -> str:
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def reading_order(tiles: Collection[Tile]) -> list[Tile]:
    """Return tiles row by row from the top, from left to right."""
    return sorted(tiles, key=lambda tile: (-tile[1], tile[0]))


def crosses(tiles: Collection[Tile], tile: Tile, layout: Tiling) -> Iterator[Point]:
    """Yield the register crosses of a tile in the sheet's frame: two on each seam with a neighbour that is printed.

    They lie on the line that the upper paper is cut along, so that its half closes with the half seen below.
    """
    column, row = tile
    x0, y0, x1, y1 = layout.box(tile)
    shares = (0.2, 0.8)
    for beside, x in (((column - 1, row), x0), ((column + 1, row), x0 + layout.step[0])):
        if beside in tiles:
            yield from ((x, y0 + share * (y1 - y0)) for share in shares)
    for above, y in (((column, row - 1), y0), ((column, row + 1), y0 + layout.step[1])):
        if above in tiles:
            yield from ((x0 + share * (x1 - x0), y) for share in shares)
