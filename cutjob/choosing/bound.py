"""A bound on what any choice of counts can leave: the same programme with boards as areas instead of layouts.

Parts and half the gaps round them take no more area than the boards have; parts too wide to lie side by side take no
more length. A board costs at least its price less the worth of all of it that no part covers, and the work of laying it
down; a part takes at least the time for once round its convex hull in each pass. Real layouts take more of everything.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutjob.choosing.boards import Kind
from cutjob.choosing.pieces import Piece, least_seconds
from cutjob.choosing.programme import Column, Programme
from cutjob.costs.account import minutes_each
from cutjob.job.read_shop import Shop
from cutjob.layout.bounds import piece_of
from cutjob.resolved import ResolvedWood
from cutjob.tolerances import TOLERANCES

_HOUR, _MINUTES = 3600.0, 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """What an hour by hand and an hour of the machine cost with overhead, the share of the machine's time in which
    somebody stands by, what material costs for its price, with tax, the worth of offcuts as a share, and how many are
    made for one that can be sold.
    """

    by_hand: float
    machine: float
    attended: float
    material: float
    worth: float
    made: float


def rates_of(shop: Shop) -> Rates:
    """Return the rates of a shop."""
    pay, overhead, material = shop.file.pay, shop.file.overhead, shop.file.material
    return Rates(
        by_hand=pay.by_hand + overhead.monthly / overhead.hours,
        machine=pay.machine,
        attended=pay.attended / 100,
        material=1 + material.tax / 100,
        worth=material.offcut_value / 100,
        made=100 / (100 - overhead.spoilage),
    )


def cutting_cost(seconds: float, rates: Rates) -> float:
    """Return what so much time of the machine costs."""
    return rates.made * seconds / _HOUR * (rates.machine + rates.attended * rates.by_hand)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """A measure that pieces take and boards have: `takes` of each piece, and `has` of each kind."""

    takes: tuple[float, ...]
    has: tuple[float, ...]


def relaxed(
    programme: Programme,
    woods: Sequence[ResolvedWood],
    pieces: Sequence[Piece],
    kinds: Sequence[Kind],
    shop: Shop,
) -> Programme:
    """Return the programme whose best mix no choice of the given one can pass, whatever its columns are."""
    rates = rates_of(shop)
    rows = [row for index, wood in enumerate(woods) for row in _rows(index, wood, pieces, kinds)]
    cheapest = [_cheapest(wood) for wood in woods]
    extra = [
        rates.made * rates.material * rates.worth * cheapest[piece.wood] * _bare(piece)
        + cutting_cost(least_seconds(piece, woods[piece.wood]), rates)
        for piece in pieces
    ]
    machine = [rates.made * least_seconds(piece, woods[piece.wood]) / _HOUR for piece in pieces]
    lines = []
    for line in programme.lines:
        own = sum(hours * need for hours, need in zip(machine, line.needs, strict=True))
        lines.append(
            replace(
                line,
                leaves=line.leaves - sum(cost * need for cost, need in zip(extra, line.needs, strict=True)),
                by_hand=line.by_hand + rates.attended * own,
                machine=line.machine + own,
                needs=tuple(sum(a * need for a, need in zip(row.takes, line.needs, strict=True)) for row in rows),
            )
        )
    columns = [_board(number, kind, rows, woods, pieces, rates, shop) for number, kind in enumerate(kinds)]
    return replace(programme, lines=tuple(lines), columns=tuple(columns))


def _cheapest(wood: ResolvedWood) -> float:
    """The least price of an area of wood, 1/mm2."""
    return min(board.price / abs(board.outline.signed_area) for board in wood.boards)


def _board(
    number: int,
    kind: Kind,
    rows: Sequence[_Row],
    woods: Sequence[ResolvedWood],
    pieces: Sequence[Piece],
    rates: Rates,
    shop: Shop,
) -> Column:
    """A whole board as a column: all that it has, and the least it costs."""
    wood = woods[kind.wood]
    hours = 0.0
    if wood.machine.runs_gcode and not wood.machine.by_hand and not _sawn(kind.wood, pieces):
        minutes = float(minutes_each(shop, "program")[0]) / wood.stack + float(minutes_each(shop, "board")[0])
        hours = rates.made * minutes / _MINUTES
    price = rates.made * rates.material * wood.boards[kind.place].price * (1 - rates.worth)
    return Column(
        board=number, gives=tuple(row.has[number] for row in rows), cost=price + hours * rates.by_hand, by_hand=hours
    )


def _sawn(index: int, pieces: Sequence[Piece]) -> bool:
    """Whether pieces are sawn off a wood."""
    return any(piece.sawn for piece in pieces if piece.wood == index)


def _rows(index: int, wood: ResolvedWood, pieces: Sequence[Piece], kinds: Sequence[Kind]) -> list[_Row]:
    """The area of a wood, and its length for parts too wide to lie side by side, as `layout/bounds.py` has them."""
    own = [piece if piece.wood == index else None for piece in pieces]
    sawn = _sawn(index, pieces)
    areas = _Row(
        # Half a gap may reach over what is sawn off, so that with sawn pieces only the wood itself counts.
        takes=tuple(0.0 if piece is None else (_bare(piece) if sawn else piece.padded) for piece in own),
        has=tuple(
            0.0 if kind.wood != index else abs(wood.boards[kind.place].outline.signed_area) if sawn else kind.room
            for kind in kinds
        ),
    )
    length = max(board.length for board in wood.boards) - 2 * wood.edge_margin + 2 * TOLERANCES.gap
    width = max(board.width for board in wood.boards) - 2 * wood.edge_margin
    along = all(board.grain == "length" for board in wood.boards)
    gap = max(0.0, wood.gap - TOLERANCES.gap)
    boxes = [
        []
        if piece is None
        else [piece_of(part, count=1, width=width, along=along) for part in piece.shaped if piece.shaped]
        for piece in own
    ]
    width += 2 * TOLERANCES.gap
    found = [areas]
    for least in sorted({one.width for each in boxes for one in each if 2 * one.width + gap > width}):
        beside = max(0.0, width - 2 * least)
        between = math.sqrt(gap * gap - beside * beside)
        found.append(
            _Row(
                takes=tuple(
                    sum(min(one.length, length) + between for one in each if one.width >= least) for each in boxes
                ),
                has=tuple(
                    wood.boards[kind.place].length - 2 * wood.edge_margin + 2 * TOLERANCES.gap + between
                    if kind.wood == index
                    else 0.0
                    for kind in kinds
                ),
            )
        )
    return found


def _bare(piece: Piece) -> float:
    """The area of the wood itself; of a sawn piece without a width of its own, none that is sure."""
    return sum(part.region.area for part in piece.shaped) + sum(
        part.length * (part.width or 0.0) for part in piece.sawn
    )
