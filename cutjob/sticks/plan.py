"""Turns lengths in mm into a plan of sawing: the cheapest wood, then the fewest sticks, then a long offcut and few
ways.

Of cuttings with the same cost, the best has a long offcut on one stick, and few different ways of sawing. An offcut as
long as the longest stick counts as much as ten ways fewer: common practice, no source. A long offcut is useful for
another job, and every further way is a chance to saw the wrong stick.

Where all ways can be searched, the fewest are found; else the plan is the best of those tried.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import reduce

import numpy as np

from cutjob.sticks.columns import Generated, by_length, kind_costs, ways_within
from cutjob.sticks.fillings import TooManyError
from cutjob.sticks.programs import tidiest
from cutjob.sticks.solve import Solved, solve
from cutjob.sticks.task import Cutting, Limit, Task, Way
from cutjob.tolerances import TOLERANCES

_MOST_WAYS = 20_000  # that are compared by their loss
_MIXED = 100  # ways of the least loss that are combined with those of the cutting
_WORK = 60_000  # checks of the search times its columns
_ROUNDS = 200
_WORTH_OF_A_STICK = 10.0


def tidied(task: Task, solved: Solved) -> Cutting:
    """Return a cutting of the same cost that makes exactly what is wanted."""
    cutting = longer_offcut(task, exact(task, solved.cutting))
    fixed = replace(task, limits=(*task.limits, Limit(weights=task.costs, most=cutting.cost(task))))
    ways = _promising(task, solved, cutting)
    if len(cutting.times) < 2 or not ways:
        return cutting
    offcuts = [_worth(task, _offcut(task, way)) for way in ways]
    found = tidiest(fixed, ways, offcuts=offcuts, known=cutting, work=_WORK)
    others = [] if found is None else [longer_offcut(task, found)]
    return min([cutting, *others], key=lambda one: _key(task, one))


def exact(task: Task, cutting: Cutting) -> Cutting:
    """Return the cutting without surplus pieces, which are left out where the offcut is longest already."""
    times = dict(cutting)
    for piece, (made, wanted) in enumerate(zip(cutting.made(task), task.wanted, strict=True)):
        surplus = made - wanted
        while surplus > 0:
            way = max((way for way in times if way.counts[piece]), key=lambda way: (_offcut(task, way), way))
            sticks = min(times[way], surplus)
            # The same number from each stick, so that it stays one way.
            each = max(1, min(way.counts[piece], surplus // times[way]))
            _move(times, way, _changed(way, piece, -each), sticks)
            surplus -= each * sticks
    return Cutting.of((way, count) for way, count in times.items() if any(way.counts))


def longer_offcut(task: Task, cutting: Cutting) -> Cutting:
    """Return a cutting, with the same sticks, that no single move of a piece off the stick with the longest offcut, nor
    an exchange of two pieces, can improve.
    """
    for _ in range(_ROUNDS):
        worth = _key(task, cutting)
        others = (_exchanged(cutting, *move[1:]) for move in sorted(_moves(task, cutting), reverse=True))
        found = next((one for one in others if _key(task, one) < worth), None)
        if found is None:
            break
        cutting = found
    return cutting


def _moves(task: Task, cutting: Cutting) -> Iterator[tuple[int, Way, Way, int, int]]:
    """Moves of a piece from the stick with the longest offcut to another, in exchange for a shorter piece or none (-1):
    the gain in the offcut's length, the two sticks, and the two pieces.
    """
    source = max(cutting.times, key=lambda way: (_offcut(task, way), way), default=None)
    for target, times in cutting:
        if source is None or (target == source and times < 2):
            continue
        room = _offcut(task, target)
        for out, length in enumerate(task.lengths):
            if source.counts[out]:
                shorter = [back for back in range(out + 1, len(task.lengths)) if target.counts[back]]
                gains = [(-1, length), *((back, length - task.lengths[back]) for back in shorter)]
                yield from ((gain, source, target, out, back) for back, gain in gains if gain <= room)


def _exchanged(cutting: Cutting, source: Way, target: Way, out: int, back: int) -> Cutting:
    left, filled = _changed(source, out, -1), _changed(target, out, 1)
    if back >= 0:
        left, filled = _changed(left, back, 1), _changed(filled, back, -1)
    times = dict(cutting)
    _move(times, source, left, 1)
    _move(times, target, filled, 1)
    return Cutting.of((way, count) for way, count in times.items() if any(way.counts))


def _promising(task: Task, solved: Solved, cutting: Cutting) -> list[Way]:
    """All ways that can be in a cutting of the same cost, or where they are too many, those of the least loss and the
    cutting's own.
    """
    prices = solved.generated or by_length(task)
    try:
        ways = ways_within(task, prices, cost=cutting.cost(task), most=_MOST_WAYS, full=False)
    except TooManyError:
        return []
    if len(ways) <= _MIXED:
        return ways
    least = sorted(ways, key=lambda way: (round(_loss(task, prices, way), 9), way))[:_MIXED]
    return list(dict.fromkeys([*cutting.times, *least]))


def _loss(task: Task, prices: Generated, way: Way) -> float:
    return kind_costs(task, prices.limits)[way.kind] - float(np.dot(prices.pieces, way.counts))


def _key(task: Task, cutting: Cutting) -> tuple[float, int, Sequence[Way]]:
    longest = max((_offcut(task, way) for way in cutting.times), default=0)
    return round(len(cutting.times) - _worth(task, longest), 9), -longest, tuple(cutting.times)


def _worth(task: Task, offcut: int) -> float:
    """The value of an offcut, in ways."""
    return _WORTH_OF_A_STICK * offcut / max(task.rooms)


def _offcut(task: Task, way: Way) -> int:
    return task.rooms[way.kind] - way.used(task)


def _changed(way: Way, piece: int, by: int) -> Way:
    return Way(way.kind, (*way.counts[:piece], way.counts[piece] + by, *way.counts[piece + 1 :]))


def _move(times: dict[Way, int], old: Way, new: Way, count: int) -> None:
    times[old] -= count
    if not times[old]:
        del times[old]
    times[new] = times.get(new, 0) + count


_PER_MM = 1_000_000  # whole numbers in a mm, so that inches and their fractions to 1/64 are exact
# Sticks that cost nothing are offcuts, of which no more can be had; more are planned only where nothing else is long
# enough.
_NOT_TO_BE_HAD = 10
_DECIMALS, _MOST_COST = 10_000, 10**6  # of prices; larger numbers are not exact enough in linear programs


@dataclass(frozen=True, slots=True, kw_only=True)
class Sticks:
    """Sticks of one length: their `count` in stock, and the price of one (None: not stated)."""

    length: float
    count: int
    price: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sawing:
    """`times` sticks of a kind that are sawn in the same way: the number of pieces of each length wanted, and `left` mm
    of offcut.
    """

    kind: int
    counts: tuple[int, ...]
    times: int
    left: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StickPlan:
    """The sticks to saw. `too_long` are the lengths, by index, that are longer than every stick; `more` is the number
    of sticks of each kind needed beyond those in stock.

    No plan takes fewer sticks than `least_sticks` or costs less than `least_cost`; a plan that reaches both is `proven`
    to be the best. Costs are sums of the prices; see `_costs` for sticks without a price.
    """

    sawings: tuple[Sawing, ...]
    too_long: tuple[int, ...]
    more: tuple[int, ...]
    cost: float
    least_cost: float
    least_sticks: int
    proven: bool

    @property
    def sticks(self) -> int:
        """The number of sticks sawn."""
        return sum(sawing.times for sawing in self.sawings)


def plan_sticks(kinds: Sequence[Sticks], wanted: Sequence[tuple[float, int]], *, kerf: float) -> StickPlan:
    """Return the plan for lengths, mm, and the number wanted of each. The same input gives the same plan.

    n pieces take n - 1 kerfs of their stick, and one more unless the last piece ends at the stick's end; a stick may be
    overfull by `TOLERANCES.stick`. Where the sticks are not enough, the plan adds the cheapest wood that is. Raises
    ValueError for lengths and counts of 0 and less.
    """
    if any(length <= 0 or count < 1 for length, count in wanted) or kerf < 0:
        raise ValueError("lengths and counts must be more than 0, and the kerf not less")
    base = _Base.of(kinds, wanted, kerf)
    most = max(base.rooms, default=0)
    too_long = tuple(index for index, (length, _) in enumerate(wanted) if base.sizes[index] > most)
    if len(too_long) == len(wanted):
        return StickPlan(
            sawings=(), too_long=too_long, more=(0,) * len(kinds), cost=0.0, least_cost=0.0, least_sticks=0, proven=True
        )
    task, unit = base.task()
    counts = tuple(kind.count for kind in kinds)
    task, first = _within_stock(task, counts, buyable=_buyable(kinds, task.costs))
    last, solved = _fewest(task, first)
    cutting = tidied(last, solved)
    used = cutting.by_kind(len(kinds))
    return StickPlan(
        sawings=tuple(base.sawing(way, times, kerf) for way, times in cutting),
        too_long=too_long,
        more=tuple(max(0, u - c) for u, c in zip(used, counts, strict=True)),
        cost=float(cutting.cost(task) * unit),
        least_cost=float(first.bound * unit),
        least_sticks=solved.bound if last is not task else -(-first.bound // max(task.costs)),
        proven=first.proven and solved.proven,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Base:
    """The input in whole numbers: the size of each length wanted, with a kerf, and the room of each kind."""

    kinds: Sequence[Sticks]
    wanted: Sequence[tuple[float, int]]
    sizes: tuple[int, ...]
    rooms: tuple[int, ...]

    @staticmethod
    def of(kinds: Sequence[Sticks], wanted: Sequence[tuple[float, int]], kerf: float) -> _Base:
        """Sizes as multiples of their greatest common divisor, so that numbers are small where lengths are round."""
        blade = round(kerf * _PER_MM)
        sizes = [round(length * _PER_MM) + blade for length, _ in wanted]
        measure = reduce(math.gcd, sizes, 0) or 1
        play = round(TOLERANCES.stick * _PER_MM)
        return _Base(
            kinds=kinds,
            wanted=wanted,
            sizes=tuple(size // measure for size in sizes),
            rooms=tuple((round(kind.length * _PER_MM) + blade + play) // measure for kind in kinds),
        )

    @property
    def lengths(self) -> list[int]:
        """The sizes that fit on a stick, the longest first, each once."""
        most = max(self.rooms, default=0)
        return sorted({size for size in self.sizes if size <= most}, reverse=True)

    def task(self) -> tuple[Task, Fraction]:
        """The cheapest wood from any number of sticks, and the price that a cost of 1 means."""
        lengths = self.lengths
        wanted = dict.fromkeys(lengths, 0)
        for size, (_, count) in zip(self.sizes, self.wanted, strict=True):
            if size in wanted:
                wanted[size] += count
        costs, unit = _whole_costs(self.kinds)
        return Task(lengths=tuple(lengths), wanted=tuple(wanted.values()), rooms=self.rooms, costs=costs), unit

    def sawing(self, way: Way, times: int, kerf: float) -> Sawing:
        """A way with its counts by index of the lengths wanted (equal lengths have the index of the first), and the
        offcut behind the last cut.
        """
        by_size = dict(zip(self.lengths, way.counts, strict=True))
        counts = tuple(by_size.pop(size, 0) for size in self.sizes)
        sawn = sum(count * (length + kerf) for count, (length, _) in zip(counts, self.wanted, strict=True))
        left = self.kinds[way.kind].length - sawn
        return Sawing(kind=way.kind, counts=counts, times=times, left=left if left > TOLERANCES.stick else 0.0)


def _whole_costs(kinds: Sequence[Sticks]) -> tuple[tuple[int, ...], Fraction]:
    """Costs as whole numbers, and the price that 1 means: a ten-thousandth, or a millionth of the highest price."""
    exact = _costs(kinds)
    scale = Fraction(_DECIMALS)
    if max(exact) * scale > _MOST_COST:
        scale = _MOST_COST / max(exact)
    whole = [round(cost * scale) if cost == 0 else max(1, round(cost * scale)) for cost in exact]
    unit = math.gcd(*whole) or 1
    return tuple(cost // unit for cost in whole), unit / scale


def _costs(kinds: Sequence[Sticks]) -> list[Fraction]:
    """The cost of a stick of each kind: its price; without one, its length at the average price of the others; and
    where no price above 0 is stated, its length, also for free sticks.
    """
    if all(kind.price == 0 for kind in kinds):
        return [Fraction(kind.length) for kind in kinds]
    priced = [kind for kind in kinds if kind.price]
    each = Fraction(1)
    if priced:
        each = sum((Fraction(kind.price or 0.0) for kind in priced), Fraction(0)) / sum(
            (Fraction(kind.length) for kind in priced), Fraction(0)
        )
    return [Fraction(kind.length) * each if kind.price is None else Fraction(kind.price) for kind in kinds]


def _buyable(kinds: Sequence[Sticks], costs: Sequence[int]) -> tuple[int, ...]:
    """The cost of one more stick of each kind."""
    dear = _NOT_TO_BE_HAD * max(1, *costs)
    return tuple(cost or dear for cost in costs)


def _within_stock(task: Task, counts: tuple[int, ...], *, buyable: tuple[int, ...]) -> tuple[Task, Solved]:
    """The task limited to the sticks in stock and the fewest that must be added, and its cheapest cutting."""
    free = _solved(task, None)
    kinds = range(len(counts))
    if all(used <= count for used, count in zip(free.cutting.by_kind(len(counts)), counts, strict=True)):
        # A cost of 0 for the limits is a fair price.
        limits = tuple(_one_kind(kind, counts[kind], len(counts)) for kind in kinds)
        known = free.generated and replace(free.generated, limits=np.zeros(len(counts)))
        return replace(task, limits=limits), replace(free, generated=known)
    none = (0,) * len(counts)
    there = tuple(_one_kind(kind, count, 2 * len(counts)) for kind, count in enumerate(counts))
    both = replace(task, rooms=task.rooms * 2, costs=none + buyable, limits=there)
    added = _solved(both, None).cutting
    used = added.by_kind(2 * len(counts))[len(counts) :]
    limits = tuple(_one_kind(kind, counts[kind] + used[kind], len(counts)) for kind in kinds)
    start = Cutting.of((Way(way.kind % len(counts), way.counts), times) for way, times in added)
    limited = replace(task, limits=limits)
    return limited, _solved(limited, start)


def _one_kind(kind: int, most: int, kinds: int) -> Limit:
    return Limit(weights=tuple(int(one == kind) for one in range(kinds)), most=most)


def _fewest(task: Task, first: Solved) -> tuple[Task, Solved]:
    """The fewest sticks at the cost found; the same task where all sticks have the same cost."""
    if len(set(task.costs)) == 1:
        return task, first
    budget = Limit(weights=task.costs, most=first.cost)
    fewest = replace(task, costs=(1,) * len(task.costs), limits=(*task.limits, budget))
    return fewest, _solved(fewest, first.cutting)


def _solved(task: Task, start: Cutting | None) -> Solved:
    solved = solve(task, start=start)
    if solved is None:
        raise RuntimeError("no cutting was found, although sticks can be added or a cutting is known")
    return solved
