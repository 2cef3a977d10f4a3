"""Board after board filled by the library that lays strips, to compare numbers of boards on plain rectangles.

It knows no boards, so each one is the longest run of the parts left, in one of a few orders, that it packs into a strip
no longer than the board; then small parts are added while they fit. What fits one board is repeated while parts last.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from tests.benchmarks.instances import Instance, StripItem
from tests.benchmarks.library_strips import lay_by_library
from tests.benchmarks.strip_check import faults, length_of, polygons_of

_USUAL = 0.6  # share of a board that parts take up as a rule: the run of parts tried first
_FAILED_ADDITIONS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Plain:
    """A plain board's usable length and width, the gap between parts, and the seconds of one attempt."""

    length: float
    width: float
    gap: float
    seconds: float
    seed: int = 0


def boards_filled(items: Sequence[StripItem], board: Plain) -> list[Counter[int]]:
    """Return what lies on each board: how many of each item, by index. Raises ValueError for a part that never fits."""
    left = Counter({index: item.count for index, item in enumerate(items)})
    filled: list[Counter[int]] = []
    while left.total():
        chosen = _one_board(items, left, board)
        if not chosen:
            raise ValueError("the library lays no part on an empty board")
        while all(left[index] >= count for index, count in chosen.items()):
            left -= chosen
            filled.append(chosen)
    return filled


def _one_board(items: Sequence[StripItem], left: Counter[int], board: Plain) -> Counter[int]:
    def holds(chosen: Iterable[int]) -> bool:
        return fits_one(items, Counter(chosen), board)

    def area(chosen: Iterable[int]) -> float:
        return float(sum(items[index].polygon.area for index in chosen))

    parts = list(left.elements())
    runs = []
    for order in _orders(items, parts):
        runs.append(longest_run(order, holds, guess=_guess(items, order, board)))
        if len(runs[-1]) == len(parts):
            return Counter(parts)
    best = max(runs, key=area)
    spare = left - Counter(best)
    failed = 0
    for index in sorted(spare, key=lambda index: items[index].polygon.area):
        while spare[index] and failed < _FAILED_ADDITIONS:
            if not holds([*best, index]):
                failed += 1
                break
            best = [*best, index]
            spare[index] -= 1
    return Counter(best)


def _orders(items: Sequence[StripItem], parts: Sequence[int]) -> list[list[int]]:
    """Largest first, longest first, and in turn one of each item (a mix of large and small)."""

    def extent(index: int) -> float:
        x0, _, x1, _ = items[index].polygon.bounds
        return float(x1 - x0)

    numbers: Counter[int] = Counter()
    turns = []
    for index in parts:
        numbers[index] += 1
        turns.append((numbers[index], index))
    orders = [
        sorted(parts, key=lambda index: -items[index].polygon.area),
        sorted(parts, key=lambda index: -extent(index)),
        [index for _, index in sorted(turns)],
    ]
    return [order for number, order in enumerate(orders) if order not in orders[:number]]


def _guess(items: Sequence[StripItem], order: Sequence[int], board: Plain) -> int:
    room = board.length * board.width * _USUAL
    for number, index in enumerate(order):
        room -= items[index].polygon.area
        if room < 0:
            return number
    return len(order)


def longest_run(order: Sequence[int], holds: Callable[[Sequence[int]], bool], *, guess: int) -> list[int]:
    """The longest run from the start of an order that a board holds: doubling steps from a guess, then bisection."""
    good, bad, step = 0, len(order) + 1, 1
    at = min(max(guess, 1), len(order))
    while bad - good > 1:
        if holds(order[:at]):
            good = at
        else:
            bad = at
        if bad > len(order):
            at = min(good + step, len(order))
        elif good == 0:
            at = max(bad - step, 1)
        else:
            at = (good + bad) // 2
        step *= 2
    return list(order[:good])


def fits_one(items: Sequence[StripItem], chosen: Counter[int], board: Plain) -> bool:
    """Whether the library packs the chosen parts on one board, judged by the parts as they lie."""
    subset = tuple(replace(items[index], count=count) for index, count in sorted(chosen.items()))
    strip = Instance(name="board", width=board.width, items=subset, unit_mm=1.0)
    if strip.area > board.length * board.width:
        return False
    laid = lay_by_library(
        subset, strip.width, gap=board.gap, seconds=board.seconds, seed=board.seed, enough=board.length
    )
    if laid.failure and not laid.gave_up:
        raise RuntimeError(laid.failure)
    if laid.failure or faults(strip, laid.placements, gap=board.gap):
        return False
    return length_of(polygons_of(strip, laid.placements)) <= board.length
