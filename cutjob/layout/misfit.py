"""What to tell a user whose parts don't fit: which part, the largest space there is, and what would help."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from cutjob.errors import Problem
from cutjob.geometry.polygons import to_polygon
from cutjob.job.stock import Board
from cutjob.layout.demand import Demand
from cutjob.layout.place import Placer, Wanted
from cutjob.layout.rules import Clearance
from cutjob.parts.part import ShapedPart
from cutjob.units import Unit, format_length

_WELL_FILLED = 0.65  # share of a board's area that parts take up as a rule


def fits(placer: Placer, part: ShapedPart, board: Board) -> bool:
    """Say whether the part fits the bare board."""
    return bool(placer.fill(board, [Wanted(part=part, count=1)], budget=0, seed=0))


def too_large(
    demand: Demand,
    boards: Sequence[Board],
    *,
    clearance: Clearance,
    engine: Callable[[Clearance], Placer],
    unit: Unit,
) -> Problem:
    """Say that a part fits no board, with the largest space any board offers."""
    x0, y0, x1, y1 = demand.part.region.bounds
    place = f'item "{demand.item}"'
    size = f'part "{demand.part.name}" is {_size(x1 - x0, y1 - y0, unit)}'
    if not boards:
        return Problem(
            place=place,
            message=f"{size}, and there is no board to cut it from",
            advice="add a board",
            location=demand.location,
        )
    margin = 2 * clearance.edge_margin
    largest = max(boards, key=lambda board: to_polygon(board.outline).area)
    space = _size(max(0.0, largest.length - margin), max(0.0, largest.width - margin), unit)
    less = " less its keep-outs" if largest.keep_outs else ""
    return Problem(
        place=place,
        message=f'{size} and fits no board; the largest space is {space} on board "{largest.name}"{less}',
        advice=_what_helps(demand.part, boards, clearance, engine, unit),
        location=demand.location,
    )


def _what_helps(
    part: ShapedPart,
    boards: Sequence[Board],
    clearance: Clearance,
    engine: Callable[[Clearance], Placer],
    unit: Unit,
) -> str:
    help_: list[str] = []
    usual = engine(clearance)
    across = replace(part, grain="none")
    if part.grain == "length" and any(fits(usual, across, board) for board in boards):
        help_.append("let it lie across the grain")
    close = engine(Clearance(gap=clearance.gap, edge_margin=0.0))
    if clearance.edge_margin > 0 and any(fits(close, part, board) for board in boards):
        help_.append("make the edge margin smaller")
    clear = [replace(board, keep_outs=()) for board in boards if board.keep_outs]
    if any(fits(usual, part, board) for board in clear):
        help_.append("take a board without keep-outs there")
    x0, y0, x1, y1 = part.region.bounds
    margin = 2 * clearance.edge_margin
    need = _size(x1 - x0 + margin, y1 - y0 + margin, unit)
    help_.append(f"add a board of at least {need}, or make the part smaller")
    return "; or ".join(help_)


def boards_ran_out(
    demand: Sequence[Demand], remaining: Sequence[int], boards: Sequence[Board], *, unit: Unit
) -> list[Problem]:
    """Say how many of which parts are left over, and about how many more boards of the best kind would be needed.

    `boards` are those the parts fit, the best kind first.
    """
    left = [(entry, count) for entry, count in zip(demand, remaining, strict=True) if count]
    names = ", ".join(f'{count} of part "{entry.part.name}" of item "{entry.item}"' for entry, count in left[:6])
    more = f" and {len(left) - 6} kinds more" if len(left) > 6 else ""
    total = sum(count for _, count in left)
    area = sum(entry.part.region.area * count for entry, count in left)
    best = boards[0]
    per_board = to_polygon(best.outline).area * _WELL_FILLED
    needed = max(1, -int(-area // per_board))
    size = _size(best.length, best.width, unit)
    return [
        Problem(
            place=f'item "{left[0][0].item}"',
            message=f"all boards are full and {total} part{'s are' if total > 1 else ' is'} left over: {names}{more}",
            advice=f'add about {needed} more of board "{best.name}" ({size}), or make fewer',
            location=left[0][0].location,
        )
    ]


def _size(length: float, width: float, unit: Unit) -> str:
    return f"{format_length(length, unit=unit)} x {format_length(width, unit=unit)}"
