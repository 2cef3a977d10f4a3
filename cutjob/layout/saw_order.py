"""In which order pieces come off boards at the saw, as values: what is cut where, from the square end on. mm.

Where no keep-out is in the way the longest piece is taken first from each board: should a cut go wrong, what is left
still gives the shorter ones.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

_NOTHING = 1e-6  # mm: what sums of lengths and kerfs come to in place of none


@dataclass(frozen=True, slots=True, kw_only=True)
class SawCut:
    """One piece off a board: it begins `at` mm from the board's own square end; `waste` is cut off before it, to square
    the end or, `past_keep_out`, to come clear of one. A blank for narrower pieces has these as `rips`: item, part,
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
    """A piece while a board is being sawn: where it begins, whether a keep-out lies right before it, and what has been
    ripped out of it so far.
    """

    at: float
    item: str
    part: str
    length: float
    past_keep_out: bool = False
    rips: list[tuple[str, str, float]] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class SawnBoard:
    """`count` equal boards of a kind and what is sawn off each, in order, from its `end`."""

    board: str
    end: str
    count: int
    cuts: tuple[SawCut, ...]


def saw_order(boards: Iterable[tuple[str, str, Iterable[Taken]]], *, kerf: float) -> tuple[SawnBoard, ...]:
    """Return the cuts of each board by its name, its square end, and its pieces, with equal boards counted together."""
    found: Counter[tuple[str, str, tuple[SawCut, ...]]] = Counter()
    for board, end, pieces in boards:
        cuts, reached = [], 0.0
        for piece in sorted(pieces, key=lambda piece: piece.at):
            # What lies before a piece is cut off with a kerf of its own.
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
