"""Whole cuttings near the fractional optimum: what it takes often is fixed, and the rest is a smaller task of its own.

Ways are generated anew for each rest, as the sticks that come last need ways the optimum has no use for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutjob.layout.sticks.columns import Generated, generate, rounded_up
from cutjob.layout.sticks.greedy import greedy
from cutjob.layout.sticks.task import Cutting, Limit, Task, Way


@dataclass(frozen=True, slots=True, kw_only=True)
class Dived:
    """The best cutting met, if any, and all ways generated on the way, those that came first in front."""

    cutting: Cutting | None
    ways: tuple[Way, ...]


def dive(task: Task, generated: Generated, *, enough: int, passed_over: int = 0) -> Dived:
    """Fix ways until nothing is missing, or until a cutting costs no more than `enough`.

    Where nothing is taken once or more, the way taken most is fixed once; the first `passed_over` times it is the one
    taken second to most, which leads elsewhere. Raises TooManyError.
    """
    pool = dict.fromkeys(generated.ways)
    fixed: list[tuple[Way, int]] = []
    best: Cutting | None = None
    rest, now = task, generated
    while any(rest.wanted):
        chosen, unsure = _chosen(now, passed_over=passed_over > 0)
        passed_over -= unsure
        for way, times in chosen:
            times = min(times, _useful(rest, way))
            if times:
                fixed.append((way, times))
                rest = _rest(rest, way, times)
        last = greedy(rest)
        if last is None:
            break
        whole = Cutting.of([*fixed, *last])
        if not whole.faults(task) and (best is None or whole.cost(task) < best.cost(task)):
            best = whole
        if not any(rest.wanted) or (best is not None and best.cost(task) <= enough):
            break
        small, pieces = _without_none(rest)
        now = _spread(generate(small, _narrow(last, pieces), known=_narrow_ways(pool, rest, pieces)), pieces, task)
        pool.update(dict.fromkeys(now.ways))
        if best is not None and sum(task.costs[w.kind] * t for w, t in fixed) + rounded_up(now.bound) >= best.cost(
            task
        ):
            break
    return Dived(cutting=best, ways=tuple(pool))


def _chosen(now: Generated, *, passed_over: bool) -> tuple[list[tuple[Way, int]], bool]:
    """The ways to fix and how often, and whether that was a choice between fractions."""
    often = [(way, math.floor(times + 1e-6)) for way, times in zip(now.ways, now.times, strict=True)]
    sure = [(way, times) for way, times in often if times]
    if sure:
        return sure, False
    order = sorted(range(len(now.ways)), key=lambda index: (-round(float(now.times[index]), 6), now.ways[index]))
    return [(now.ways[order[min(int(passed_over), len(order) - 1)]], 1)], True


def _useful(rest: Task, way: Way) -> int:
    """How often a way can be taken before nothing of it is missing, at most as the limits allow."""
    times = max(
        (-(-wanted // count) for wanted, count in zip(rest.wanted, way.counts, strict=True) if count), default=0
    )
    for limit in rest.limits:
        if limit.weights[way.kind]:
            times = min(times, max(0, limit.most) // limit.weights[way.kind])
    return times


def _rest(task: Task, way: Way, times: int) -> Task:
    wanted = tuple(max(0, there - times * count) for there, count in zip(task.wanted, way.counts, strict=True))
    limits = tuple(Limit(weights=one.weights, most=one.most - times * one.weights[way.kind]) for one in task.limits)
    return replace(task, wanted=wanted, limits=limits)


def _without_none(task: Task) -> tuple[Task, list[int]]:
    """The task without lengths that nothing is wanted of, and which pieces it still has."""
    pieces = [index for index, wanted in enumerate(task.wanted) if wanted]
    lengths, wanted = (tuple(values[i] for i in pieces) for values in (task.lengths, task.wanted))
    return replace(task, lengths=lengths, wanted=wanted), pieces


def _narrow(cutting: Cutting, pieces: Sequence[int]) -> Cutting:
    return Cutting.of((Way(way.kind, tuple(way.counts[i] for i in pieces)), times) for way, times in cutting)


def _narrow_ways(pool: dict[Way, None], rest: Task, pieces: Sequence[int]) -> list[Way]:
    """The known ways that give nothing but what is missing."""
    fit = [way for way in pool if all(count <= there for count, there in zip(way.counts, rest.wanted, strict=True))]
    return [Way(way.kind, tuple(way.counts[i] for i in pieces)) for way in fit]


def _spread(small: Generated, pieces: Sequence[int], task: Task) -> Generated:
    """Ways of the smaller task as ways of the whole one."""

    def wide(way: Way) -> Way:
        counts = [0] * len(task.lengths)
        for place, count in zip(pieces, way.counts, strict=True):
            counts[place] = count
        return Way(way.kind, tuple(counts))

    return replace(small, ways=tuple(wide(way) for way in small.ways))
