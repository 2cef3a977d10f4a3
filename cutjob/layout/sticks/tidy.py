"""Of cuttings that cost the same: a long rest on one stick, in few different ways of sawing.

A rest as long as the longest stick is worth ten ways fewer: common practice, no source, as a long rest is good for
another job, and every way more a chance to saw the wrong stick.

Where the ways there are can all be looked through, the fewest are found; else it is the best of what was tried.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from cutjob.layout.sticks.columns import Generated, by_length, kind_costs
from cutjob.layout.sticks.enumerate import ways_within
from cutjob.layout.sticks.fillings import TooManyError
from cutjob.layout.sticks.programs import tidiest
from cutjob.layout.sticks.solve import Solved
from cutjob.layout.sticks.task import Cutting, Limit, Task, Way

_MOST_WAYS = 20_000  # that are weighed against each other by their loss
_MIXED = 100  # so many of the least loss, with those of the cutting, are mixed anew
_WORK = 60_000  # looks of the search times its columns
_ROUNDS = 200
_WORTH_OF_A_STICK = 10.0


def tidied(task: Task, solved: Solved) -> Cutting:
    """Return a cutting of the same cost that makes exactly what is wanted."""
    cutting = longer_rest(task, exact(task, solved.cutting))
    fixed = replace(task, limits=(*task.limits, Limit(weights=task.costs, most=cutting.cost(task))))
    ways = _promising(task, solved, cutting)
    if len(cutting.times) < 2 or not ways:
        return cutting
    rests = [_worth(task, _rest(task, way)) for way in ways]
    found = tidiest(fixed, ways, rests=rests, known=cutting, work=_WORK)
    others = [] if found is None else [longer_rest(task, found)]
    return min([cutting, *others], key=lambda one: _key(task, one))


def exact(task: Task, cutting: Cutting) -> Cutting:
    """Return the cutting without the pieces that are more than wanted, left out where the rest is longest already."""
    times = dict(cutting)
    for piece, (made, wanted) in enumerate(zip(cutting.made(task), task.wanted, strict=True)):
        surplus = made - wanted
        while surplus > 0:
            way = max((way for way in times if way.counts[piece]), key=lambda way: (_rest(task, way), way))
            sticks = min(times[way], surplus)
            # As many from each stick as leave it one way.
            each = max(1, min(way.counts[piece], surplus // times[way]))
            _move(times, way, _changed(way, piece, -each), sticks)
            surplus -= each * sticks
    return Cutting.of((way, count) for way, count in times.items() if any(way.counts))


def longer_rest(task: Task, cutting: Cutting) -> Cutting:
    """Return a cutting in which no one move of a piece, or exchange of two, off the stick with the longest rest is for
    the better. No other sticks are taken.
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
    """Pieces that go from the stick with the longest rest to another, in exchange for a shorter one or for none (-1):
    by how much that makes the rest longer, from where, to where, and which.
    """
    source = max(cutting.times, key=lambda way: (_rest(task, way), way), default=None)
    for target, times in cutting:
        if source is None or (target == source and times < 2):
            continue
        room = _rest(task, target)
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
    """All ways that could be in a cutting of the same cost, or those of the least loss and the cutting's own."""
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
    longest = max((_rest(task, way) for way in cutting.times), default=0)
    return round(len(cutting.times) - _worth(task, longest), 9), -longest, tuple(cutting.times)


def _worth(task: Task, rest: int) -> float:
    """How many ways a rest is worth."""
    return _WORTH_OF_A_STICK * rest / max(task.rooms)


def _rest(task: Task, way: Way) -> int:
    return task.rooms[way.kind] - way.used(task)


def _changed(way: Way, piece: int, by: int) -> Way:
    return Way(way.kind, (*way.counts[:piece], way.counts[piece] + by, *way.counts[piece + 1 :]))


def _move(times: dict[Way, int], old: Way, new: Way, count: int) -> None:
    times[old] -= count
    if not times[old]:
        del times[old]
    times[new] = times.get(new, 0) + count
