"""The boards that a layout takes: how many, their price, the share of their area that is parts, and each item's share.

Sawn parts count with length x width. Whole boards are shared: the items also pay for the waste.
"""

from __future__ import annotations

from collections.abc import Sequence

from cutjob.job.stock import Board
from cutjob.layout.layout import Layout


def boards_used(layout: Layout) -> dict[str, int]:
    """Return the number of boards of each kind, by name, that are cut or sawn; a board that is both counts once."""
    used = dict(layout.sawn_from)
    for board in layout.boards:
        if not board.board.sawn_off:
            name = board.board.name
            used[name] = used.get(name, 0) + board.stack * board.copies
    return used


def wood_cost(layout: Layout, stock: Sequence[Board]) -> float:
    """Return the price of the boards used. `stock` has every kind of board, whole; raises KeyError for one it lacks."""
    kinds = {board.name: board for board in stock}
    return sum(kinds[name].price * count for name, count in boards_used(layout).items())


def wood_yield(layout: Layout, stock: Sequence[Board]) -> float | None:
    """Return the area of the parts, sawn ones too, divided by that of the boards used; None where no board is used.

    Openings in parts count as waste, as do the kerfs of saw and cutter. `stock` is as in `wood_cost`.
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


def board_shares(layout: Layout) -> dict[str, dict[str, float]]:
    """Return, for every kind of board by name, the share of each item in the area of the parts off it; they add up to
    1.
    """
    areas: dict[str, dict[str, float]] = {}
    for board in layout.boards:
        times = board.stack * board.copies
        for placement in board.placements:
            _add(areas, board.board.name, placement.item, placement.part.region.area * times)
    for piece in layout.sawn:
        _add(areas, piece.board, piece.item, piece.length * piece.width * piece.count)
    return {
        kind: {item: area / sum(of_kind.values()) for item, area in of_kind.items()} for kind, of_kind in areas.items()
    }


def _add(areas: dict[str, dict[str, float]], kind: str, item: str, area: float) -> None:
    of_kind = areas.setdefault(kind, {})
    of_kind[item] = of_kind.get(item, 0.0) + area
