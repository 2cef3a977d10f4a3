"""Which costs whole sticks can sum up to: between them there is nothing to look for."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutjob.layout.sticks.task import Task

# More sums than this at once are told apart no longer: any whole number counts as one then.
_MOST_SUMS = 200_000


def sums_between(task: Task, low: int, high: int) -> Sequence[int]:
    """Return the costs from `low` to `high` that some numbers of sticks have, the lowest first.

    Where there are too many to look through, all whole numbers there are. Limits on single kinds are heeded.
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
    """How many sticks of a kind there can be use for: each gives a piece, and limits on that kind alone hold."""
    alone = [
        limit.most // limit.weights[kind]
        for limit in task.limits
        if limit.weights[kind] and sum(map(bool, limit.weights)) == 1
    ]
    return max(0, min([sum(task.wanted), *alone]))
