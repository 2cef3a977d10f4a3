"""A first cutting: stick after stick is filled with the longest pieces that still fit."""

from __future__ import annotations

from collections.abc import Sequence

from cutjob.layout.sticks.task import Cutting, Task, Way


def greedy(task: Task, *, begun: Cutting | None = None) -> Cutting | None:
    """Return a cutting, or None where the limits leave no stick for what is missing.

    Filling stick after stick so is first-fit decreasing. Of several kinds each stick is the one that costs least for
    the length it gives; that, and each kind by itself, are tried. What is `begun` stays as it is.
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
        # The same again gives the same as long as there is enough of every piece in it.
        times = min(missing[index] // count for index, count in enumerate(way.counts) if count)
        times = min(times, _left(task, used, kind))
        missing = [there - times * count for there, count in zip(missing, way.counts, strict=True)]
        used[kind] += times
        pairs.append((way, times))
    return Cutting.of(pairs)


def filled(task: Task, kind: int, missing: Sequence[int]) -> Way:
    """Return a stick of a kind filled with what is missing, the longest first."""
    room, counts = task.rooms[kind], []
    for length, there in zip(task.lengths, missing, strict=True):
        count = min(there, room // length)
        room -= count * length
        counts.append(count)
    return Way(kind, tuple(counts))


def _left(task: Task, used: Sequence[int], kind: int) -> int:
    """How many more sticks of a kind the limits allow; at most one of each piece wanted is needed."""
    left = sum(task.wanted)
    for limit in task.limits:
        if limit.weights[kind]:
            rest = limit.most - sum(weight * count for weight, count in zip(limit.weights, used, strict=True))
            left = min(left, max(0, rest) // limit.weights[kind])
    return left
