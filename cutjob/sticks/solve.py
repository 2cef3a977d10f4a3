"""Finds the cheapest cutting of a task, and a bound on the cost of any cutting.

A first cutting fills stick after stick with the longest pieces that still fit.

Whole cuttings are sought near the fractional optimum: ways that it takes often are fixed, and the remaining pieces are
a smaller task. Ways are generated again for each smaller task, as the last sticks need ways that the optimum does not
use.

Only costs that some number of whole sticks can have are searched for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutjob.sticks.columns import Generated, by_length, generate, rounded_up, ways_within
from cutjob.sticks.fillings import TooManyError
from cutjob.sticks.programs import whole
from cutjob.sticks.task import Cutting, Limit, Task, Way


def greedy(task: Task, *, begun: Cutting | None = None) -> Cutting | None:
    """Return a cutting, or None where the limits leave no stick for the missing pieces.

    Sticks are filled by first-fit decreasing. Of several kinds, each stick is the one with the lowest cost for the
    length of its pieces; each kind alone is tried too. The cutting `begun` is kept as it is.
    """
    every = range(len(task.rooms))
    trials = [tuple(every)] if len(every) == 1 else [tuple(every), *((kind,) for kind in every)]
    found = [cutting for kinds in trials if (cutting := _filled(task, kinds, begun or Cutting())) is not None]
    return min(found, key=lambda cutting: (cutting.cost(task), cutting.sticks), default=None)


def _filled(task: Task, kinds: Sequence[int], begun: Cutting) -> Cutting | None:
    missing = [max(0, wanted - made) for wanted, made in zip(task.wanted, begun.made(task), strict=True)]
    used = list(begun.by_kind(len(task.rooms)))
    pairs = list(begun)
    while any(missing):
        choices = [
            (task.costs[kind] / size, -size, kind, way)
            for kind in kinds
            if _left(task, used, kind) and (size := (way := filled(task, kind, missing)).used(task))
        ]
        if not choices:
            return None
        _, _, kind, way = min(choices)
        # The same stick is repeated as long as enough of all its pieces are missing.
        times = min(missing[index] // count for index, count in enumerate(way.counts) if count)
        times = min(times, _left(task, used, kind))
        missing = [there - times * count for there, count in zip(missing, way.counts, strict=True)]
        used[kind] += times
        pairs.append((way, times))
    return Cutting.of(pairs)


def filled(task: Task, kind: int, missing: Sequence[int]) -> Way:
    """Return a stick of a kind filled with missing pieces, the longest first."""
    room, counts = task.rooms[kind], []
    for length, there in zip(task.lengths, missing, strict=True):
        count = min(there, room // length)
        room -= count * length
        counts.append(count)
    return Way(kind, tuple(counts))


def _left(task: Task, used: Sequence[int], kind: int) -> int:
    """The number of further sticks of a kind that the limits allow; at most one for each piece wanted is needed."""
    left = sum(task.wanted)
    for limit in task.limits:
        if limit.weights[kind]:
            allowed = limit.most - sum(weight * count for weight, count in zip(limit.weights, used, strict=True))
            left = min(left, max(0, allowed) // limit.weights[kind])
    return left


@dataclass(frozen=True, slots=True, kw_only=True)
class Dived:
    """The best cutting found, if any, and all ways generated, the earliest first."""

    cutting: Cutting | None
    ways: tuple[Way, ...]


def dive(task: Task, generated: Generated, *, enough: int, passed_over: int = 0) -> Dived:
    """Fix ways until no piece is missing, or until a cutting costs at most `enough`.

    Where no way is taken once or more, the way taken most is fixed once; the first `passed_over` times it is the second
    one instead, which gives another cutting. Raises TooManyError.
    """
    pool = dict.fromkeys(generated.ways)
    fixed: list[tuple[Way, int]] = []
    best: Cutting | None = None
    smaller, now = task, generated
    while any(smaller.wanted):
        chosen, unsure = _chosen(now, passed_over=passed_over > 0)
        passed_over -= unsure
        for way, times in chosen:
            times = min(times, _useful(smaller, way))
            if times:
                fixed.append((way, times))
                smaller = _smaller(smaller, way, times)
        last = greedy(smaller)
        if last is None:
            break
        whole = Cutting.of([*fixed, *last])
        if not whole.faults(task) and (best is None or whole.cost(task) < best.cost(task)):
            best = whole
        if not any(smaller.wanted) or (best is not None and best.cost(task) <= enough):
            break
        small, pieces = _without_none(smaller)
        now = _spread(generate(small, _narrow(last, pieces), known=_narrow_ways(pool, smaller, pieces)), pieces, task)
        pool.update(dict.fromkeys(now.ways))
        if best is not None and sum(task.costs[w.kind] * t for w, t in fixed) + rounded_up(now.bound) >= best.cost(
            task
        ):
            break
    return Dived(cutting=best, ways=tuple(pool))


def _chosen(now: Generated, *, passed_over: bool) -> tuple[list[tuple[Way, int]], bool]:
    """The ways to fix, how often, and whether this was a choice between fractions."""
    often = [(way, math.floor(times + 1e-6)) for way, times in zip(now.ways, now.times, strict=True)]
    sure = [(way, times) for way, times in often if times]
    if sure:
        return sure, False
    order = sorted(range(len(now.ways)), key=lambda index: (-round(float(now.times[index]), 6), now.ways[index]))
    return [(now.ways[order[min(int(passed_over), len(order) - 1)]], 1)], True


def _useful(smaller: Task, way: Way) -> int:
    """How often a way can be taken until none of its pieces is missing, within the limits."""
    times = max(
        (-(-wanted // count) for wanted, count in zip(smaller.wanted, way.counts, strict=True) if count), default=0
    )
    for limit in smaller.limits:
        if limit.weights[way.kind]:
            times = min(times, max(0, limit.most) // limit.weights[way.kind])
    return times


def _smaller(task: Task, way: Way, times: int) -> Task:
    wanted = tuple(max(0, there - times * count) for there, count in zip(task.wanted, way.counts, strict=True))
    limits = tuple(Limit(weights=one.weights, most=one.most - times * one.weights[way.kind]) for one in task.limits)
    return replace(task, wanted=wanted, limits=limits)


def _without_none(task: Task) -> tuple[Task, list[int]]:
    """The task without lengths of which none are wanted, and the indices of the pieces it still has."""
    pieces = [index for index, wanted in enumerate(task.wanted) if wanted]
    lengths, wanted = (tuple(values[i] for i in pieces) for values in (task.lengths, task.wanted))
    return replace(task, lengths=lengths, wanted=wanted), pieces


def _narrow(cutting: Cutting, pieces: Sequence[int]) -> Cutting:
    return Cutting.of((Way(way.kind, tuple(way.counts[i] for i in pieces)), times) for way, times in cutting)


def _narrow_ways(pool: dict[Way, None], smaller: Task, pieces: Sequence[int]) -> list[Way]:
    """The known ways that give missing pieces only."""
    fit = [way for way in pool if all(count <= there for count, there in zip(way.counts, smaller.wanted, strict=True))]
    return [Way(way.kind, tuple(way.counts[i] for i in pieces)) for way in fit]


def _spread(small: Generated, pieces: Sequence[int], task: Task) -> Generated:
    """Ways of the smaller task as ways of the whole one."""

    def wide(way: Way) -> Way:
        counts = [0] * len(task.lengths)
        for place, count in zip(pieces, way.counts, strict=True):
            counts[place] = count
        return Way(way.kind, tuple(counts))

    return replace(small, ways=tuple(wide(way) for way in small.ways))


# With more sums than this, every whole number counts as a sum.
_MOST_SUMS = 200_000


def sums_between(task: Task, low: int, high: int) -> Sequence[int]:
    """Return the costs from `low` to `high` that some numbers of sticks have, the lowest first.

    Where these are too many, all whole numbers in this range are returned. Limits on single kinds are respected.
    """
    sums = np.zeros(1, np.int64)
    kinds = sorted(range(len(task.rooms)), key=lambda kind: -task.costs[kind])
    for kind in kinds[:-1]:
        times = min(_most(task, kind), high // task.costs[kind] if task.costs[kind] else 0)
        if len(sums) * (times + 1) > _MOST_SUMS:
            return range(low, high + 1)
        with_kind = sums[:, None] + task.costs[kind] * np.arange(times + 1)
        sums = np.unique(with_kind[with_kind <= high])
    cost, most = task.costs[kinds[-1]], _most(task, kinds[-1])
    if not cost:
        return [int(one) for one in sums if low <= one <= high]
    least = np.maximum(0, -((sums - low) // cost))
    last = np.minimum((high - sums) // cost, most)
    if int(np.maximum(0, last - least + 1).sum()) > _MOST_SUMS:
        return range(low, high + 1)
    found = {
        int(one) + times * cost
        for one, first, end in zip(sums, least, last, strict=True)
        for times in range(int(first), int(end) + 1)
    }
    return sorted(found)


def _most(task: Task, kind: int) -> int:
    """The most sticks of a kind that can be used: each gives a piece, within the limits on that kind alone."""
    alone = [
        limit.most // limit.weights[kind]
        for limit in task.limits
        if limit.weights[kind] and sum(map(bool, limit.weights)) == 1
    ]
    return max(0, min([sum(task.wanted), *alone]))


# More lengths than this in one task take minutes; then only the first cutting and the bound by length are used.
_MOST_LENGTHS = 400
_WORK = 200_000  # checks of one search times its ways
_WORK_TO_FINISH = 250_000  # the same for all searches together
_MOST_WAYS = 2_000
_MOST_WAYS_AT_ONCE = 2_500  # without generating columns; this many are searched faster than generated
_DIVES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """A cutting, the bound on the cost of any cutting, and the results of the search for it."""

    cutting: Cutting
    cost: int
    bound: int
    generated: Generated | None = None

    @property
    def proven(self) -> bool:
        """Whether no cutting is cheaper."""
        return self.bound >= self.cost


def solve(task: Task, *, start: Cutting | None = None) -> Solved | None:
    """Return the cheapest cutting found; None where none was found within the limits.

    `start` is a known cutting within the limits.
    """
    if not task.lengths:
        return Solved(cutting=Cutting(), cost=0, bound=0)
    known = [cutting for cutting in (start, greedy(task)) if cutting is not None and not cutting.faults(task)]
    if not known:
        return None
    cutting = min(known, key=lambda one: one.cost(task))
    plain = by_length(task)
    solved = Solved(cutting=cutting, cost=cutting.cost(task), bound=max(0, rounded_up(plain.bound)))
    if solved.proven or len(task.lengths) > _MOST_LENGTHS:
        return solved
    solved = _finished(task, solved, plain, most=_MOST_WAYS_AT_ONCE)
    try:
        return solved if solved.proven else _generated(task, solved)
    except TooManyError:
        return solved


def _generated(task: Task, solved: Solved) -> Solved:
    """Column generation: the bound, a few dives, a mix of the ways found on them, and at last all ways."""
    generated = generate(task, solved.cutting)
    solved = replace(solved, bound=max(solved.bound, rounded_up(generated.bound)), generated=generated)
    ways = dict.fromkeys(generated.ways)
    for passed_over in range(_DIVES):
        if solved.proven:
            return solved
        dived = dive(task, generated, enough=solved.bound, passed_over=passed_over)
        ways.update(dict.fromkeys(dived.ways))
        solved = _better(task, solved, dived.cutting)
    if not solved.proven:
        found = whole(task, list(ways), at_most=solved.cost - 1, enough=solved.bound, work=_WORK)
        solved = _better(task, solved, found.cutting)
    return solved if solved.proven else _finished(task, solved, generated, most=_MOST_WAYS)


def _better(task: Task, solved: Solved, cutting: Cutting | None) -> Solved:
    if cutting is None or cutting.cost(task) >= solved.cost:
        return solved
    return replace(solved, cutting=cutting, cost=cutting.cost(task))


def _finished(task: Task, solved: Solved, generated: Generated, *, most: int) -> Solved:
    """Search all ways that can be part of a cheaper cutting: first for any lower cost, else for ever lower costs."""
    left = _WORK_TO_FINISH
    while not solved.proven and left > 0:
        sums = sums_between(task, solved.bound, solved.cost - 1)
        solved = replace(solved, bound=sums[0] if sums else solved.cost)
        if not sums:
            return solved
        place, ways = _looked_through(task, generated, sums, most)
        if ways is None:
            return solved
        if ways:
            found = whole(task, ways, at_most=sums[place], enough=solved.bound, work=_WORK)
            solved, left = _better(task, solved, found.cutting), left - found.work
        bound = sums[place] + 1 if not ways else rounded_up(min(max(found.bound, solved.bound), sums[place] + 1))
        if bound <= solved.bound and not solved.proven:
            return solved
        solved = replace(solved, bound=min(solved.cost, max(bound, solved.bound)))
    return solved


def _looked_through(task: Task, generated: Generated, sums: Sequence[int], most: int) -> tuple[int, list[Way] | None]:
    """The highest of the sums, tried at every second, fourth, ..., that does not have too many ways, and these ways."""
    place = len(sums) - 1
    while True:
        try:
            return place, ways_within(task, generated, cost=sums[place], most=most, full=True)
        except TooManyError:
            if not place:
                return place, None
            place //= 2
