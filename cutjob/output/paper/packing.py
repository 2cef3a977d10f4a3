"""Lays shapes on sheets with as few pages as a search of this size finds: small shapes share a page. mm.

1. Each shape gets the turn in which it needs the fewest pages; the largest come first.
2. A shape of one page goes into the first page, of those begun, that has room for all of it. A shape of several pages
   goes onto the first sheet that is wide and high enough, if that takes fewer new pages than a sheet of its own.
3. Room is searched for on a grid of cells: a Fourier transform gives all places that overlap nothing at once, and the
   lowest or leftmost of these is taken.
4. This is done in a few ways, which prefer other places and turns, and the way with the fewest pages is kept.

Paper is divided into tiles: the window of a sheet that each page shows, with its overlap and name.

Tile (column, row) counts from the lower left. Neighbours share a strip of the width `OVERLAP`. The page to the right,
or above, is cut along its left, or lower, edge and laid on that strip.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.segment import Bounds, Point
from cutjob.geometry.transform import Transform
from cutjob.job.paper import Paper

Tile: TypeAlias = tuple[int, int]

# Common practice, no source: printers leave 5 to 7 mm blank, and a glued strip of half an inch holds.
MARGIN = 10.0
FOOT = 34.0  # below the window: check bars and the page's name
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
        """The box of the sheet that a tile shows."""
        x, y = tile[0] * self.step[0], tile[1] * self.step[1]
        return x, y, x + self.window[0], y + self.window[1]

    def own(self, tile: Tile, size: Tile) -> Bounds:
        """The box of the sheet that is seen on this tile once all are glued; `size` is the number of columns
        and rows.
        """
        x0, y0, x1, y1 = self.box(tile)
        right = x0 + self.step[0] if tile[0] < size[0] - 1 else x1
        top = y0 + self.step[1] if tile[1] < size[1] - 1 else y1
        return x0, y0, right, top

    def shift(self, tile: Tile) -> Point:
        """How far the sheet is moved to lie on the page of a tile."""
        return self.corner[0] - tile[0] * self.step[0], self.corner[1] - tile[1] * self.step[1]

    def room(self, size: Tile) -> Point:
        """Width and height that this many columns and rows show together, within the inset."""
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

    They are on the line that the upper paper is cut along, so that its half meets the half seen below.
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


Cells: TypeAlias = npt.NDArray[np.bool_]

_GAP = 3.0  # least paper between two shapes, about
_PAD = 2  # cells around a shape for its share of the gap
_SQUARE = (0.0, 90.0, 180.0, 270.0)
_SLANTED = tuple(float(degrees) for degrees in range(3, 180, 3) if degrees != 90)
_SLANTED_LOOKED_AT = 6
_SLANTED_MOST = 30  # pages: for larger shapes only square turns are tried
_SOME = 30  # shapes: with more, not all ways are tried
_MANY = 100  # shapes: with more, only the last pages begun are tried
_LAST = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """A sheet: its columns and rows, the shapes on it (by index) with their places, and the tiles printed."""

    size: Tile
    placed: tuple[tuple[int, Transform], ...]
    tiles: tuple[Tile, ...]


@dataclass(frozen=True, slots=True)
class _Way:
    """How places are chosen: the lowest or the leftmost; and which turn that fits: the lowest, an upright or a
    lying one.
    """

    leftmost: bool
    turn: Literal["low", "upright", "lying"]


_WAYS = tuple(_Way(leftmost, turn) for turn in ("low", "upright", "lying") for leftmost in (False, True))


@dataclass(frozen=True, slots=True)
class _Turned:
    """A turned shape: the cells it takes with its share of the gap, its size, and the place of its lower left
    corner.
    """

    degrees: float
    cells: Cells
    corner: Point
    width: float
    height: float


@dataclass(slots=True)
class _Sheet:
    size: Tile
    taken: Cells
    tiles: set[Tile]
    placed: list[tuple[int, Transform]] = field(default_factory=list)


def pack(shapes: Sequence[BaseGeometry], layout: Tiling) -> tuple[Packed, ...]:
    """Return sheets that hold every shape once, in the order in which they were begun."""
    turns = [_turns(shape, layout) for shape in shapes]
    order = sorted(range(len(shapes)), key=lambda index: (-turns[index][0], -shapes[index].area, index))
    room = layout.window[0] * layout.window[1]
    least = max([1, math.ceil(sum(shape.area for shape in shapes) / room), *(pages for pages, _ in turns)])
    best: list[_Sheet] = []
    for way in _WAYS if len(shapes) <= _SOME else _WAYS[: 2 if len(shapes) <= _MANY else 1]:
        sheets = _packed(order, turns, way, layout)
        if not best or _count(sheets) < _count(best):
            best = sheets
        if _count(best) <= least:
            break
    return tuple(
        Packed(size=sheet.size, placed=tuple(sheet.placed), tiles=tuple(reading_order(sheet.tiles))) for sheet in best
    )


def _count(sheets: Sequence[_Sheet]) -> int:
    return sum(len(sheet.tiles) for sheet in sheets)


def _packed(
    order: Sequence[int], turns: Sequence[tuple[int, list[_Turned]]], way: _Way, layout: Tiling
) -> list[_Sheet]:
    sheets: list[_Sheet] = []
    for index in order:
        pages, shapes = turns[index]
        shapes = sorted(shapes, key=lambda shape: _preference(shape, way))
        begun = sheets if len(order) <= _MANY else sheets[-_LAST:]
        if not (
            _in_page(index, shapes, begun, way, layout)
            if pages == 1
            else _in_sheet(index, pages, shapes, begun, way, layout)
        ):
            sheets.append(_new_sheet(index, shapes[0], layout))
    return sheets


def _preference(shape: _Turned, way: _Way) -> float:
    match way.turn:
        case "low":
            return 0.0
        case "upright":
            return shape.width
        case "lying":
            return shape.height


def _turns(shape: BaseGeometry, layout: Tiling) -> tuple[int, list[_Turned]]:
    """The fewest pages a shape needs, and the turns in which it needs no more, the best first."""
    found = [(_pages(one, layout), one) for one in (_turned(shape, degrees) for degrees in _SQUARE)]
    if 1 < min(pages for pages, _ in found) <= _SLANTED_MOST:
        found += [(_pages(one, layout), one) for one in (_turned(shape, degrees) for degrees in _slants(shape, layout))]
    fewest = min(pages for pages, _ in found)
    return fewest, [one for pages, one in found if pages == fewest]


def _slants(shape: BaseGeometry, layout: Tiling) -> list[float]:
    """The slanting turns whose boxes take the fewest pages, and of these the ones with the smallest boxes."""

    def cost(degrees: float) -> tuple[int, float]:
        x0, y0, x1, y1 = affinity.rotate(shape, degrees, origin=(0.0, 0.0)).bounds
        columns, rows = layout.size_for(x1 - x0, y1 - y0)
        return columns * rows, (x1 - x0) * (y1 - y0)

    return sorted(_SLANTED, key=cost)[:_SLANTED_LOOKED_AT]


def _turned(shape: BaseGeometry, degrees: float) -> _Turned:
    moved = affinity.rotate(shape, degrees, origin=(0.0, 0.0))
    x0, y0, x1, y1 = moved.bounds
    columns = math.ceil((x1 - x0) / CELL) + 2 * _PAD
    rows = math.ceil((y1 - y0) / CELL) + 2 * _PAD
    xs = x0 + (np.arange(columns) - _PAD + 0.5) * CELL
    ys = y0 + (np.arange(rows) - _PAD + 0.5) * CELL
    # Half a cell more than half the gap, so that no place between two centres is missed.
    wide = moved.buffer(_GAP / 2 + CELL / 2, quad_segs=4)
    shapely.prepare(wide)
    across, up = np.meshgrid(xs, ys)
    return _Turned(degrees, np.asarray(shapely.contains_xy(wide, across, up)), (x0, y0), x1 - x0, y1 - y0)


def _pages(shape: _Turned, layout: Tiling) -> int:
    size = layout.size_for(shape.width, shape.height)
    return len(_tiles_of(shape, (0, 0), size, layout))


def _tiles_of(shape: _Turned, at: tuple[int, int], size: Tile, layout: Tiling) -> set[Tile]:
    """The tiles on which a shape with its corner at a cell (column, row) is seen, once glued."""
    inner = shape.cells[_PAD:-_PAD, _PAD:-_PAD]
    rows, columns = np.nonzero(inner)
    across = ((columns + at[0] + 0.5) * CELL + INSET) // layout.step[0]
    up = ((rows + at[1] + 0.5) * CELL + INSET) // layout.step[1]
    seen = {(int(min(x, size[0] - 1)), int(min(y, size[1] - 1))) for x, y in zip(across, up, strict=True)}
    return seen or {(0, 0)}


def _grid(size: Tile, layout: Tiling) -> Cells:
    """The cells of an empty sheet, padded so that a shape's gap may reach over the edge."""
    across, up = layout.room(size)
    return np.zeros((int(up // CELL) + 2 * _PAD + 1, int(across // CELL) + 2 * _PAD + 1), dtype=np.bool_)


def _new_sheet(index: int, shape: _Turned, layout: Tiling) -> _Sheet:
    size = layout.size_for(shape.width, shape.height)
    sheet = _Sheet(size, _grid(size, layout), set())
    _put(sheet, index, shape, (0, 0), _tiles_of(shape, (0, 0), size, layout))
    return sheet


def _put(sheet: _Sheet, index: int, shape: _Turned, at: tuple[int, int], tiles: set[Tile]) -> None:
    rows, columns = shape.cells.shape
    sheet.taken[at[1] : at[1] + rows, at[0] : at[0] + columns] |= shape.cells
    x, y = at[0] * CELL + INSET - shape.corner[0], at[1] * CELL + INSET - shape.corner[1]
    sheet.placed.append((index, Transform(x=x, y=y, degrees=shape.degrees)))
    sheet.tiles |= tiles


def _in_page(index: int, shapes: Sequence[_Turned], sheets: Sequence[_Sheet], way: _Way, layout: Tiling) -> bool:
    """Put a whole shape into one page that is printed anyway; return whether there was room."""
    for sheet in sheets:
        for tile in reading_order(sheet.tiles):
            first = (round(tile[0] * layout.step[0] / CELL), round(tile[1] * layout.step[1] / CELL))
            rows, columns = _grid((1, 1), layout).shape
            taken = sheet.taken[first[1] : first[1] + rows, first[0] : first[0] + columns]
            best: tuple[float, tuple[int, int], _Turned] | None = None
            for shape in shapes:
                at = _place(taken, shape, layout.room((1, 1)), way)
                reach = 0.0 if at is None else _reach(at, shape, way)
                if at is not None and (best is None or reach < best[0]):
                    best = (reach, at, shape)
                if best is not None and way.turn != "low":
                    break
            if best is not None:
                _, at, shape = best
                _put(sheet, index, shape, (first[0] + at[0], first[1] + at[1]), set())
                return True
    return False


def _reach(at: tuple[int, int], shape: _Turned, way: _Way) -> float:
    return at[0] * CELL + shape.width if way.leftmost else at[1] * CELL + shape.height


def _in_sheet(
    index: int, pages: int, shapes: Sequence[_Turned], sheets: Sequence[_Sheet], way: _Way, layout: Tiling
) -> bool:
    """Put a shape of several pages onto a sheet where that takes fewer new pages than it would need alone."""
    for sheet in sheets:
        for shape in shapes:
            at = _place(sheet.taken, shape, layout.room(sheet.size), way)
            if at is None:
                continue
            tiles = _tiles_of(shape, at, sheet.size, layout)
            if len(tiles - sheet.tiles) < pages:
                _put(sheet, index, shape, at, tiles)
                return True
    return False


def _place(taken: Cells, shape: _Turned, room: Point, way: _Way) -> tuple[int, int] | None:
    """The best cell (column, row) for a shape's corner: it overlaps nothing and stays in the room."""
    across, up = room[0] - shape.width, room[1] - shape.height
    if across < 0 or up < 0:
        return None
    rows, columns = int(up // CELL) + 1, int(across // CELL) + 1
    if taken.size - np.count_nonzero(taken) < np.count_nonzero(shape.cells[_PAD:-_PAD, _PAD:-_PAD]):
        return None
    free = _overlaps(taken, shape.cells)[:rows, :columns] == 0
    places = np.flatnonzero(free.T if way.leftmost else free)
    if not places.size:
        return None
    if way.leftmost:
        column, row = divmod(int(places[0]), free.shape[0])
    else:
        row, column = divmod(int(places[0]), free.shape[1])
    return column, row


def _overlaps(taken: Cells, cells: Cells) -> npt.NDArray[np.int64]:
    """How many cells a shape shares with those taken, for each place of its first cell."""
    rows, columns = taken.shape[0] - cells.shape[0] + 1, taken.shape[1] - cells.shape[1] + 1
    if rows < 1 or columns < 1:
        return np.ones((0, 0), dtype=np.int64)
    size = taken.shape  # the places used never wrap round
    spectrum = np.fft.rfft2(taken, size) * np.conj(np.fft.rfft2(cells, size))
    counts = np.rint(np.fft.irfft2(spectrum, size)).astype(np.int64)
    return counts[:rows, :columns]
