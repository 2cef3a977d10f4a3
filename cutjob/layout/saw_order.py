"""In which order pieces come off boards at the saw, as values: what is cut where, from the square end on. mm.

The longest piece is taken first from each board: should a cut go wrong, what is left still gives the shorter ones.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SawCut:
    """One piece off a board: it begins `at` mm from the board's own square end; `waste` is cut off before it, to square
    the end or to come clear of a keep-out.
    """

    item: str
    part: str
    length: float
    at: float
    waste: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SawnBoard:
    """`count` equal boards of a kind and what is sawn off each, in order, from its `end`."""

    board: str
    end: str
    count: int
    cuts: tuple[SawCut, ...]


def saw_order(
    boards: Iterable[tuple[str, str, Iterable[tuple[float, str, str, float]]]], *, kerf: float
) -> tuple[SawnBoard, ...]:
    """Return the cuts of each board by its name, its square end, and its pieces as (at, item, part, length), with equal
    boards counted together.
    """
    found: Counter[tuple[str, str, tuple[SawCut, ...]]] = Counter()
    for board, end, pieces in boards:
        cuts, reached = [], 0.0
        for at, item, part, length in sorted(pieces):
            # What lies before a piece is cut off with a kerf of its own.
            waste = at - reached - kerf
            cuts.append(SawCut(item=item, part=part, length=length, at=at, waste=waste if waste > _NOTHING else 0.0))
            reached = at + length + kerf
        found[board, end, tuple(cuts)] += 1
    return tuple(SawnBoard(board=board, end=end, count=count, cuts=cuts) for (board, end, cuts), count in found.items())


_NOTHING = 1e-6
