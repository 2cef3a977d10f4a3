"""The pieces that items are made of, for the choice of counts: equal parts of an item are one kind of piece."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import shapely

from cutjob.geometry.polygons import to_polygon
from cutjob.layout.clear_space import padded_area
from cutjob.layout.layout import Layout
from cutjob.parts.part import Build, Item, SawnPart, ShapedPart
from cutjob.resolved import ResolvedWood

P = TypeVar("P", ShapedPart, SawnPart)
_SECONDS = 60.0  # in a minute, as feeds are in mm/min


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A kind of piece off the boards of a wood (an index): a part of an item, or all parts of an item that lie on one
    board. One item needs `per_item` of it. Areas in mm2, the area with half the gap round each part in `padded`.
    """

    wood: int
    item: str
    shaped: tuple[ShapedPart, ...] = ()
    sawn: tuple[SawnPart, ...] = ()
    per_item: int = 1
    whole: bool = False
    area: float = 0.0
    padded: float = 0.0


def pieces_of(woods: Sequence[ResolvedWood]) -> tuple[Piece, ...]:
    """Return every kind of piece of all items, wood by wood."""
    return tuple(piece for index, wood in enumerate(woods) for piece in _pieces(index, wood))


def _pieces(index: int, wood: ResolvedWood) -> Iterator[Piece]:
    widest = max(board.width for board in wood.boards)

    def made(item: Item, shaped: Sequence[ShapedPart], sawn: Sequence[SawnPart], number: int, *, whole: bool) -> Piece:
        ripped = sum(part.length * (part.width or widest) for part in sawn)
        return Piece(
            wood=index,
            item=item.name,
            shaped=tuple(shaped),
            sawn=tuple(sawn),
            per_item=number,
            whole=whole,
            area=sum(part.region.area for part in shaped) + ripped,
            padded=sum(padded_area(part, gap=wood.gap) for part in shaped) + ripped,
        )

    for item in wood.items:
        build = item.build
        if item.together and len(build.shaped) > 1:
            yield made(item, build.shaped, build.sawn, 1, whole=True)
            continue
        for part, number in _alike(build.shaped):
            yield made(item, [part], [], number, whole=False)
        for sawn, number in _alike(build.sawn):
            yield made(item, [], [sawn], number, whole=False)


def _alike(parts: Sequence[P]) -> Iterator[tuple[P, int]]:
    """Parts that differ in nothing but their names, each with its number."""
    counts = Counter(_bare(part) for part in parts)
    first = {_bare(part): part for part in reversed(parts)}
    for bare, number in counts.items():
        yield first[bare], number


def _bare(part: P) -> P:
    """A part without its name."""
    return replace(part, name="")


def items_with(wood: ResolvedWood, pieces: Sequence[Piece], counts: Sequence[int]) -> tuple[Item, ...]:
    """Return items of a wood that are made of so many of each piece: what lies on one board."""
    found: list[Item] = []
    for item in wood.items:
        own = [(piece, count) for piece, count in zip(pieces, counts, strict=True) if piece.item == item.name and count]
        whole = sum(count for piece, count in own if piece.whole)
        if whole:
            found.append(replace(item, count=whole))
        elif own:
            build = Build(
                shaped=tuple(part for piece, count in own for part in piece.shaped * count),
                sawn=tuple(part for piece, count in own for part in piece.sawn * count),
            )
            found.append(replace(item, count=1, build=build))
    return tuple(found)


def given_by(layout: Layout, pieces: Sequence[Piece]) -> tuple[int, ...]:
    """Return how many of each piece a layout gives."""
    made: Counter[tuple[str, ShapedPart | SawnPart | str]] = Counter()
    for board in layout.boards:
        for one in board.placements:
            made[one.item, _bare(one.part)] += board.stack * board.copies
    for cut in layout.sawn:
        made[cut.item, cut.part] += cut.count
    return tuple(
        min(made[piece.item, part] // each for part, each in Counter(map(_bare, piece.shaped)).items())
        if piece.shaped
        else made[piece.item, piece.sawn[0].name]
        for piece in pieces
    )


def least_seconds(piece: Piece, wood: ResolvedWood) -> float:
    """Return a time below which the machine cuts none of a piece, s: round the convex hull of each part, at the highest
    feed and the greatest depth of a pass of any of its boards, without ramps and leads.

    A skin may take less than a pass, so that only whole passes count; of a stack, each board has its share.
    """
    machine = wood.machine
    if not machine.runs_gcode or machine.by_hand:
        return 0.0
    rows = [row for board in wood.boards if (row := wood.cutters.outline.feed_for(board.material)) is not None]
    if not rows:
        return 0.0
    thin = min(board.thickness for board in wood.boards)
    deep = max((row.depth_per_pass or 0.0 for row in rows), default=0.0)
    passes = 1.0 if not deep else min(max(1, int(high * thin / deep)) / high for high in range(1, wood.stack + 1))
    around = sum(float(shapely.length(shapely.convex_hull(to_polygon(part.region)))) for part in piece.shaped)
    return passes * around / max(row.feed for row in rows) * _SECONDS
