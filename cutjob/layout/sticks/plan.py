"""Lengths in mm to a plan of sawing: the cheapest wood, then the fewest sticks, then a long rest in few different
ways of sawing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import reduce

import numpy as np

from cutjob.layout.sticks.solve import Solved, solve
from cutjob.layout.sticks.task import Cutting, Limit, Task, Way
from cutjob.layout.sticks.tidy import tidied
from cutjob.tolerances import TOLERANCES

_PER_MM = 1_000_000  # whole numbers to a mm: inches and their fractions to 1/64 are exact
# Sticks at no cost are wood that is there once; more of them are bought only where nothing else is long enough.
_NOT_TO_BE_HAD = 10
_DECIMALS, _MOST_COST = 10_000, 10**6  # of prices; larger numbers are too coarse for linear programs


@dataclass(frozen=True, slots=True, kw_only=True)
class Sticks:
    """Sticks of one length: `count` of them are there, at a price each (None: not stated)."""

    length: float
    count: int
    price: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sawing:
    """`times` sticks of a kind are sawn alike: into so many pieces of each length wanted, and `left` mm are left."""

    kind: int
    counts: tuple[int, ...]
    times: int
    left: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StickPlan:
    """What to saw. `too_long` are the lengths, by index, that no stick gives; `more` says by kind how many sticks are
    needed beyond those that are there.

    No plan takes fewer sticks than `least_sticks` or costs less than `least_cost`; where the plan is that good, it is
    `proven` to be the best. Costs are sums of the prices; see `_costs` for sticks without one.
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
        """How many sticks are sawn."""
        return sum(sawing.times for sawing in self.sawings)


def plan_sticks(kinds: Sequence[Sticks], wanted: Sequence[tuple[float, int]], *, kerf: float) -> StickPlan:
    """Return the plan for lengths and how many are wanted of each, mm. The same input gives the same plan.

    n pieces take n - 1 kerfs of their stick, and one more unless the last of them ends at the stick's end; a stick may
    be overfull by `TOLERANCES.stick`. Where the sticks do not do, as little as possible is planned to be added: of the
    cheapest wood that does. Raises ValueError for lengths and counts of 0 and less.
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
    """The input in whole numbers: by length wanted its size with a kerf, by kind its room."""

    kinds: Sequence[Sticks]
    wanted: Sequence[tuple[float, int]]
    sizes: tuple[int, ...]
    rooms: tuple[int, ...]

    @staticmethod
    def of(kinds: Sequence[Sticks], wanted: Sequence[tuple[float, int]], kerf: float) -> _Base:
        """Sizes as multiples of their greatest common measure, so that numbers are small where lengths are even."""
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
        """The sizes that a stick gives, the longest first, each once."""
        most = max(self.rooms, default=0)
        return sorted({size for size in self.sizes if size <= most}, reverse=True)

    def task(self) -> tuple[Task, Fraction]:
        """The cheapest wood, from any number of sticks; and what a cost of 1 stands for."""
        lengths = self.lengths
        wanted = dict.fromkeys(lengths, 0)
        for size, (_, count) in zip(self.sizes, self.wanted, strict=True):
            if size in wanted:
                wanted[size] += count
        costs, unit = _whole_costs(self.kinds)
        return Task(lengths=tuple(lengths), wanted=tuple(wanted.values()), rooms=self.rooms, costs=costs), unit

    def sawing(self, way: Way, times: int, kerf: float) -> Sawing:
        """A way with its counts by index of the lengths wanted (the first of equal ones stands for all), and what is
        left after the cut behind the last piece.
        """
        by_size = dict(zip(self.lengths, way.counts, strict=True))
        counts = tuple(by_size.pop(size, 0) for size in self.sizes)
        sawn = sum(count * (length + kerf) for count, (length, _) in zip(counts, self.wanted, strict=True))
        left = self.kinds[way.kind].length - sawn
        return Sawing(kind=way.kind, counts=counts, times=times, left=left if left > TOLERANCES.stick else 0.0)


def _whole_costs(kinds: Sequence[Sticks]) -> tuple[tuple[int, ...], Fraction]:
    """Costs as whole numbers and what 1 stands for: prices to a ten-thousandth, or the dearest to a millionth of it."""
    exact = _costs(kinds)
    scale = Fraction(_DECIMALS)
    if max(exact) * scale > _MOST_COST:
        scale = _MOST_COST / max(exact)
    whole = [round(cost * scale) if cost == 0 else max(1, round(cost * scale)) for cost in exact]
    unit = math.gcd(*whole) or 1
    return tuple(cost // unit for cost in whole), unit / scale


def _costs(kinds: Sequence[Sticks]) -> list[Fraction]:
    """What a stick of each kind costs: its price; where none is stated, as much for its length as the others cost on
    the average, or the length itself where no price above 0 is stated at all. So do sticks that are all free.
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
    """What one more stick of each kind costs."""
    dear = _NOT_TO_BE_HAD * max(1, *costs)
    return tuple(cost or dear for cost in costs)


def _within_stock(task: Task, counts: tuple[int, ...], *, buyable: tuple[int, ...]) -> tuple[Task, Solved]:
    """The task limited to the sticks there are and the least that must be added, and its cheapest cutting."""
    free = _solved(task, None)
    kinds = range(len(counts))
    if all(used <= count for used, count in zip(free.cutting.by_kind(len(counts)), counts, strict=True)):
        # That the limits cost nothing is a price for them that is fair.
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
    """The fewest sticks at the cost found; the same task where all sticks cost alike."""
    if len(set(task.costs)) == 1:
        return task, first
    budget = Limit(weights=task.costs, most=first.cost)
    fewest = replace(task, costs=(1,) * len(task.costs), limits=(*task.limits, budget))
    return fewest, _solved(fewest, first.cutting)


def _solved(task: Task, start: Cutting | None) -> Solved:
    solved = solve(task, start=start)
    if solved is None:
        raise RuntimeError("there are always sticks to be added, or a cutting that is known")
    return solved
