"""The order in which pieces are sawn off boards: the place of every cut, from the square end on. mm.

The longest piece is taken first from each board unless a keep-out is in the way: if a cut goes wrong, the shorter
pieces can still be cut from the remainder.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

_NOTHING = 1e-6  # mm: a sum of lengths and kerfs below this is 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SawCut:
    """One piece off a board: it begins `at` mm from the board's own square end. `waste` is cut off before it, to square
    the end or, `past_keep_out`, to get past a keep-out. A blank for narrower pieces has these as `rips`: item, part,
    width.
    """

    item: str
    part: str
    length: float
    at: float
    waste: float = 0.0
    past_keep_out: bool = False
    rips: tuple[tuple[str, str, float], ...] = ()


@dataclass(slots=True)
class Taken:
    """A piece while a board is being sawn: its start, whether a keep-out is right before it, and the pieces ripped out
    of it so far.
    """

    at: float
    item: str
    part: str
    length: float
    past_keep_out: bool = False
    rips: list[tuple[str, str, float]] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class SawnBoard:
    """`count` equal boards of a kind, and the pieces sawn off each, in order, from its `end`."""

    board: str
    end: str
    count: int
    cuts: tuple[SawCut, ...]


def saw_order(boards: Iterable[tuple[str, str, Iterable[Taken]]], *, kerf: float) -> tuple[SawnBoard, ...]:
    """Return the cuts of each board, given its name, its square end, and its pieces; equal boards
    are counted together.
    """
    found: Counter[tuple[str, str, tuple[SawCut, ...]]] = Counter()
    for board, end, pieces in boards:
        cuts, reached = [], 0.0
        for piece in sorted(pieces, key=lambda piece: piece.at):
            # The waste before a piece is cut off with a kerf of its own.
            waste = piece.at - reached - kerf
            cuts.append(
                SawCut(
                    item=piece.item,
                    part=piece.part,
                    length=piece.length,
                    at=piece.at,
                    waste=waste if waste > _NOTHING else 0.0,
                    past_keep_out=piece.past_keep_out and waste > _NOTHING,
                    rips=tuple(piece.rips),
                )
            )
            reached = piece.at + piece.length + kerf
        found[board, end, tuple(cuts)] += 1
    return tuple(SawnBoard(board=board, end=end, count=count, cuts=cuts) for (board, end, cuts), count in found.items())
