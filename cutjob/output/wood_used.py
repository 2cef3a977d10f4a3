"""A layout and the job's kinds of board to what it uses up: boards of each kind, their price, the share in parts."""

from __future__ import annotations

from collections.abc import Sequence

from cutjob.job.stock import Board
from cutjob.layout.layout import Layout


def boards_used(layout: Layout) -> dict[str, int]:
    """Return how many boards of each kind, by name, are cut or sawn up: a board that is both counts once."""
    used = dict(layout.sawn_from)
    for board in layout.boards:
        if not board.board.sawn_off:
            name = board.board.name
            used[name] = used.get(name, 0) + board.stack * board.copies
    return used


def wood_cost(layout: Layout, stock: Sequence[Board]) -> float:
    """Return the price of the boards used. `stock` holds every kind there is, whole; KeyError for one it lacks."""
    kinds = {board.name: board for board in stock}
    return sum(kinds[name].price * count for name, count in boards_used(layout).items())


def wood_yield(layout: Layout, stock: Sequence[Board]) -> float | None:
    """Return the parts' area, sawn ones with them, over the area of the boards used; None where no board is.

    Openings in parts count as waste, as does what the saw and the cutter turn to dust. `stock` is as in `wood_cost`.
    """
    kinds = {board.name: board for board in stock}
    used = sum(abs(kinds[name].outline.signed_area) * count for name, count in boards_used(layout).items())
    if used <= 0:
        return None
    shaped = sum(
        board.stack * board.copies * sum(placement.part.region.area for placement in board.placements)
        for board in layout.boards
    )
    return (shaped + sum(piece.length * piece.width * piece.count for piece in layout.sawn)) / used
