"""Patterns, or a board's layout, to sheets: each is one grid of pages. mm."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout
from cutjob.output.paper.packing import INSET, Tile, Tiling, pack, reading_order
from cutjob.output.paper.pattern import Pattern, board_words
from cutjob.output.paper.picture import Drawn, Picture, clear_of, drawn, joined, with_words
from cutjob.output.paper.plotter import board_picture
from cutjob.output.paper.wording import Block, free_place
from cutjob.units import Unit

_NAME_SIZES = (3.4, 2.6)
_BESIDE_SEAM = 1.5  # how far words keep off the line that a page is cut along


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One grid of pages: the picture, the tiles printed, and the patterns that each tile shows.

    `outlines` are its parts for the key on the first page. `placed` are the patterns on it, each with its move onto the
    sheet; or `board` is the layout it shows, moved by `move`.
    """

    name: str
    size: Tile
    tiles: tuple[Tile, ...]
    picture: Picture
    shown: dict[Tile, tuple[int, ...]]
    outlines: tuple[BaseGeometry, ...]
    placed: tuple[tuple[Pattern, Transform], ...] = ()
    board: BoardLayout | None = None
    move: Transform | None = None


def part_sheets(patterns: Sequence[Pattern], *, layout: Tiling, unit: Unit) -> tuple[Sheet, ...]:
    """Return the patterns on as few pages as the search finds; one search covers sheets of one page and of several."""
    page = layout.room((1, 1))
    ready = [drawn(pattern, unit=unit, page=page) for pattern in patterns]
    sheets = []
    for packed in pack([one.paper for one in ready], layout):
        seams = _seams(packed.size, layout)
        pictures, outlines, numbers = [], [], []
        papers = {index: _moved(ready[index].paper, move) for index, move in packed.placed}
        for index, move in sorted(packed.placed):
            one = ready[index]
            others = shapely.union_all([paper for other, paper in papers.items() if other != index])
            picture = clear_of(with_words(one, unit=unit, seams=_into_frame(seams, move)).moved(move), others)
            pictures.append(picture)
            outlines.append(_moved(one.wood, move))
            if len(packed.tiles) > 1:
                pictures.append(_names(one, picture, move, packed.size, packed.tiles, layout))
            numbers.append(one.pattern.number)
        shown = dict(_shown(numbers, outlines, packed.size, packed.tiles, layout))
        sheets.append(
            Sheet(
                name="parts",
                size=packed.size,
                tiles=packed.tiles,
                picture=joined(pictures),
                shown=shown,
                outlines=tuple(outlines),
                placed=tuple((ready[index].pattern, move) for index, move in sorted(packed.placed)),
            )
        )
    return tuple(sheets)


def _names(one: Drawn, picture: Picture, move: Transform, size: Tile, tiles: Sequence[Tile], layout: Tiling) -> Picture:
    """The pattern's name again on every tile that shows some of it but not its words."""
    area = _moved(one.area.difference(one.centre_lines.buffer(0.6)), move)
    arrows = [
        shapely.LineString([chain[0].start, chain[-1].end]).buffer(2.5)
        for stroke in picture.strokes
        if stroke.style == "grain"
        for chain in stroke.chains
    ]
    area = area.difference(shapely.union_all(arrows))
    words = [shapely.Point(block.at) for block in picture.blocks[:1]]
    name = f"{one.pattern.number}  {one.pattern.part.name}"
    found = []
    for tile in tiles:
        own = shapely.box(*layout.own(tile, size))
        if any(own.covers(at) for at in words) or not _touches(area, tile, size, layout):
            continue
        free = area.intersection(own.buffer(-_BESIDE_SEAM))
        blocks = (
            free_place(free, Block(lines=(line,), at=(0.0, 0.0), size=high, degrees=0.0))
            for line in (name, str(one.pattern.number))
            for high in _NAME_SIZES
        )
        found += [block for block in [next((block for block in blocks if block is not None), None)] if block]
    return Picture(blocks=tuple(found))


def board_sheet(board: BoardLayout, *, layout: Tiling, unit: Unit) -> Sheet:
    """Return a board's whole layout as one long pattern, turned so that it takes the fewest pages."""
    x0, y0, x1, y1 = board.board.outline.bounds
    length, width = x1 - x0, y1 - y0
    lying, standing = layout.size_for(length, width), layout.size_for(width, length)
    turned = standing[0] * standing[1] < lying[0] * lying[1]
    size = standing if turned else lying
    move = Transform(x=INSET + width, y=INSET, degrees=90.0) if turned else Transform(x=INSET, y=INSET)
    seams = _seams(size, layout)
    picture, areas = board_picture(board, unit=unit, seams=_into_frame(seams, move))
    outlines = [_moved(area, move) for area in areas]
    # No page is printed for the bare ends of a board, nor where none of it shows: beside a slant or a dog-ear.
    used = outlines[0].intersection(shapely.box(*shapely.union_all(outlines[1:]).bounds))
    every = [(column, row) for column in range(size[0]) for row in range(size[1])]
    tiles = tuple(reading_order([tile for tile in every if _touches(used, tile, size, layout)]))
    numbers = range(1, len(outlines))
    return Sheet(
        name=f"{board.id}, the whole layout: {board_words(board, unit=unit)}",
        size=size,
        tiles=tiles,
        picture=picture.moved(move),
        shown=dict(_shown(numbers, outlines[1:], size, tiles, layout)),
        outlines=tuple(outlines),
        board=board,
        move=move,
    )


def _touches(area: BaseGeometry, tile: Tile, size: Tile, layout: Tiling) -> bool:
    return bool(shapely.area(shapely.intersection(area, shapely.box(*layout.own(tile, size)))) > 0)


def _shown(
    numbers: Sequence[int], areas: Sequence[BaseGeometry], size: Tile, tiles: Sequence[Tile], layout: Tiling
) -> Iterator[tuple[Tile, tuple[int, ...]]]:
    for tile in tiles:
        yield (
            tile,
            tuple(number for number, area in zip(numbers, areas, strict=True) if _touches(area, tile, size, layout)),
        )


def _seams(size: Tile, layout: Tiling) -> BaseGeometry | None:
    """The lines that pages are cut along, widened; None on a single page."""
    across, up = layout.room(size)
    lines = [
        shapely.box(column * layout.step[0] - _BESIDE_SEAM, -1.0, column * layout.step[0] + _BESIDE_SEAM, up + 9.0)
        for column in range(1, size[0])
    ]
    lines += [
        shapely.box(-1.0, row * layout.step[1] - _BESIDE_SEAM, across + 9.0, row * layout.step[1] + _BESIDE_SEAM)
        for row in range(1, size[1])
    ]
    return shapely.union_all(lines) if lines else None


def _moved(area: BaseGeometry, move: Transform) -> BaseGeometry:
    turned = affinity.rotate(area, move.degrees, origin=(0.0, 0.0))
    return affinity.translate(turned, move.x, move.y)


def _into_frame(area: BaseGeometry | None, move: Transform) -> BaseGeometry | None:
    """An area of the sheet, in the frame of a pattern moved onto it."""
    if area is None:
        return None
    back = affinity.translate(area, -move.x, -move.y)
    return affinity.rotate(back, -move.degrees, origin=(0.0, 0.0))
