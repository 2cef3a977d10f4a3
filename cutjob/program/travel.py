"""How far a program's moves reach, against the machine's travel. mm."""

from __future__ import annotations

from collections.abc import Iterable

from cutjob.errors import InputError, Problem
from cutjob.geometry.segment import Arc, Bounds
from cutjob.job.machine import Travel
from cutjob.layout.layout import BoardLayout
from cutjob.program.moves import Move


def extent(moves: Iterable[Move]) -> Bounds | None:
    """Return the smallest upright box around all places the cutter's centre goes to; None for no moves."""
    xs: list[float] = []
    ys: list[float] = []
    here: tuple[float, float] | None = None
    for move in moves:
        xs.append(move.x)
        ys.append(move.y)
        if move.centre is not None and here is not None:
            x0, y0, x1, y1 = Arc(here, (move.x, move.y), move.centre, move.clockwise).bounds
            xs += (x0, x1)
            ys += (y0, y1)
        here = (move.x, move.y)
    return (min(xs), min(ys), max(xs), max(ys)) if xs else None


def check_travel(moves: Iterable[Move], layout: BoardLayout, travel: Travel | None) -> None:
    """Raise InputError when the moves go over more than the machine's travel: the cutter runs beyond the board."""
    box = extent(moves)
    if box is None or travel is None:
        return
    problems = [
        Problem(
            location=layout.board.location,
            place=f'board "{layout.board.name}"',
            message=f"with the cutter running beside the parts the moves go over {reach:.1f} mm {way}; "
            f"the machine reaches {limit:.1f} mm",
            advice="give a larger edge_margin, or a smaller board",
        )
        for reach, limit, way in (
            (box[2] - box[0], travel.x, "along the board"),
            (box[3] - box[1], travel.y, "across the board"),
        )
        if reach > limit
    ]
    if problems:
        raise InputError(problems)
