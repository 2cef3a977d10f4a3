"""A filled panel judged before it is written, from its pieces alone: nothing here is shared with how it was filled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import shapely
from shapely import Polygon, STRtree

from cutjob.panels.field import Filling, Laid


def panel_faults(filling: Filling) -> tuple[str, ...]:
    """Return what is wrong with a filling, in words: gaps, overlaps, pieces that are not there or do not come out of
    theirs, corners where four pieces meet, joints that run on too far. Nothing for a sound one.
    """
    return (*_cover(filling), *_corners(filling), *_joints(filling), *_wood(filling))


_ROUND = 1.001


def _cell(one: Laid, gap: int) -> tuple[int, int, int, int]:
    """A piece with the gap above it and to its right: left, low, right, high."""
    return one.x, one.y, one.x + one.width + gap, one.y + one.height + gap


def _cells(filling: Filling) -> list[tuple[int, int, int, int]]:
    return [_cell(one, filling.field.gap) for one in filling.laid]


def _cover(filling: Filling) -> Iterator[str]:
    """Cells fill the field but for its openings, and lie side by side."""
    field, gap = filling.field, filling.field.gap
    whole = shapely.box(0, 0, field.width + gap, field.height + gap)
    cells = [shapely.box(*cell) for cell in _cells(filling)]
    square = [shapely.box(o.x, o.y, o.x + o.width, o.y + o.height) for o in field.openings if not o.round]
    spread = [shapely.box(o.x, o.y, o.x + o.width + gap, o.y + o.height + gap) for o in field.openings if not o.round]
    # A little wider than round, so that the chords of the drawn circle hold it.
    rounds = [
        shapely.Point(o.x + o.width / 2, o.y + o.width / 2).buffer(o.width / 2 * _ROUND, quad_segs=64)
        for o in field.openings
        if o.round
    ]
    covered = shapely.union_all([*cells, *spread, *rounds])
    if whole.difference(covered).area > 0:
        yield "some of the field is left open"
    if any(not whole.covers(cell) for cell in cells):
        yield "a piece reaches out of the field"
    pairs = STRtree(cells).query(cells, predicate="intersects").T if cells else ()
    if any(a < b and cells[a].intersection(cells[b]).area > 0 for a, b in pairs):
        yield "two pieces overlap"
    if any(_in_one(cell, gap, square) for cell in _cells(filling)):
        yield "a piece lies wholly in an opening"


def _in_one(cell: tuple[int, int, int, int], gap: int, openings: list[Polygon]) -> bool:
    left, low, right, high = cell
    wood = shapely.box(left, low, right - gap, high - gap)
    return any(opening.covers(wood) for opening in openings)


def _corners(filling: Filling) -> Iterator[str]:
    field = filling.field
    found = Counter((x, y) for left, low, right, high in _cells(filling) for x in (left, right) for y in (low, high))
    inside = ((place, count) for place, count in found.items() if 0 < place[0] < field.width + field.gap)
    if any(count > 2 for (_, y), count in inside if 0 < y < field.height + field.gap):
        yield "four corners meet"


def _joints(filling: Filling) -> Iterator[str]:
    """Edges that touch end to end on one line are one joint."""
    field, gap = filling.field, filling.field.gap
    lines: dict[tuple[bool, int], list[tuple[int, int]]] = {}
    for left, low, right, high in _cells(filling):
        for x in (left, right):
            if 0 < x < field.width + gap:
                lines.setdefault((True, x), []).append((low, high))
        for y in (low, high):
            if 0 < y < field.height + gap:
                lines.setdefault((False, y), []).append((left, right))
    for spans in lines.values():
        first, last = 0, -1
        for start, end in sorted(spans):
            first, last = (start, end) if start > last else (first, max(last, end))
            if last - first - gap > field.longest_joint:
                yield "a joint runs straight on for too long"
                return


def _wood(filling: Filling) -> Iterator[str]:
    """Every piece comes out of one of the inventory, or of what another leaves."""
    field = filling.field
    taken = Counter(one.kind for one in filling.own)
    if any(kind is not None and count > filling.pieces[kind].count for kind, count in taken.items()):
        yield "more pieces of a kind are laid than there are"
    if any(min(one.width, one.height) < field.least for one in filling.laid):
        yield "a piece is narrower than the least"
    if any(one.across and not field.turn and one.kind is not None for one in filling.laid):
        yield "a piece is turned"
    used: set[tuple[int, bool]] = set()
    for one in filling.laid:
        if one.kind is None:
            continue
        piece = filling.pieces[one.kind]
        length, width = piece.length, piece.width
        if one.offcut_of is not None:
            source, kerf = filling.laid[one.offcut_of], field.kerf or 0
            if (one.offcut_of, one.from_end) in used or source.kind != one.kind or source.offcut_of is not None:
                yield "an offcut is used that is not there"
            used.add((one.offcut_of, one.from_end))
            # Ripped first: the strip is as long as the piece, the end as wide as what is laid of it.
            if one.from_end:
                length, width = piece.length - source.along_grain - kerf, source.across_grain
            else:
                width = piece.width - source.across_grain - kerf
        if one.along_grain > length or one.across_grain > width:
            yield "a piece does not come out of its own"
