"""Finds a lower bound on the cost of any cutting, and the ways of good cuttings, by column generation.

P. C. Gilmore and R. E. Gomory, A linear programming approach to the cutting-stock problem, Operations Research 9, 1961;
the bound before column generation has ended: A. A. Farley, A note on bounding a class of linear programming problems,
including cutting stock problems, Operations Research 38, 1990.

It also lists all ways of sawing with a small loss at fair prices. With fair prices a cutting costs the bound plus the
losses of its ways. So a cutting of at most a given cost only has ways whose loss is at most that cost less the bound.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from cutjob.sticks.fillings import Fillings, Floats, Ints, Stairs, TooManyError, best_fillings, stairs_from
from cutjob.sticks.programs import Mix, Worth
from cutjob.sticks.task import Cutting, Task, Way

# The linear program's prices are exact to about 1e-9 of the costs; smaller values count as 0.
EXACT = 1e-7
_NEW_WAYS = 40  # in each round; more slow the linear program down by more than they help
_ROUNDS = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Generated:
    """Useful ways, how often the fractional optimum takes each, and the bound it proves.

    `pieces` has the value of each piece and `limits` the cost of each limit, such that no way has more value than it
    costs. `bound` is the value of all wanted pieces less the costs of the limits; no cutting costs less.
    """

    ways: tuple[Way, ...]
    times: Floats
    pieces: Floats
    limits: Floats
    bound: float


def rounded_up(bound: float) -> int:
    """Return the least whole cost that a bound allows; costs are whole numbers, bounds exact to about a millionth."""
    return math.ceil(bound - max(1e-6, 1e-9 * abs(bound)))


def generate(task: Task, start: Cutting, *, known: Sequence[Way] = ()) -> Generated:
    """Return the bound and the ways that prove it. `start` is any cutting within the limits, `known` are more ways.

    Raises TooManyError.
    """
    ways = dict.fromkeys([*(way for way, _ in start), *known])
    cost, best = start.cost(task), -math.inf
    mix = Mix(task, ways)
    for _ in range(_ROUNDS):
        solved = mix.prices()
        fillings = best_fillings(task.lengths, task.wanted, list(solved.pieces), max(task.rooms))
        fair = _fair(task, solved, fillings)
        bound = float(fair @ task.wanted) - sum(
            cost * limit.most for cost, limit in zip(solved.limits, task.limits, strict=True)
        )
        if bound > best:
            best, found = bound, (fair, solved.limits)
        new = _worth_more(task, solved, fillings)
        fresh = [way for way in new if way not in ways]
        if not fresh or rounded_up(best) >= cost or solved.value - best < EXACT * max(1.0, abs(solved.value)):
            break
        mix.add(fresh[:_NEW_WAYS])
        ways.update(dict.fromkeys(fresh[:_NEW_WAYS]))
    return Generated(ways=tuple(ways), times=solved.times, pieces=found[0], limits=found[1], bound=best)


def by_length(task: Task) -> Generated:
    """Return the bound that prices every piece by its length, at the lowest price of room; it has no ways."""
    kinds = zip(task.costs, task.rooms, strict=True)
    price = min(cost / room for cost, room in kinds if room)  # a room of 0 is too short for any piece
    pieces = np.array(task.lengths, float) * price
    bound = float(pieces @ task.wanted)
    return Generated(ways=(), times=np.zeros(0), pieces=pieces, limits=np.zeros(len(task.limits)), bound=bound)


def kind_costs(task: Task, limits: Floats) -> list[float]:
    """Return the cost of a stick of each kind, with its share of the limits' costs."""
    return [
        cost + sum(float(price) * limit.weights[kind] for price, limit in zip(limits, task.limits, strict=True))
        for kind, cost in enumerate(task.costs)
    ]


def _fair(task: Task, solved: Worth, fillings: Fillings) -> Floats:
    """The values of the pieces, reduced so that no filling has more value than its stick costs."""
    stairs = fillings.stages[-1][1]
    share = 1.0
    for room, cost in zip(task.rooms, kind_costs(task, solved.limits), strict=True):
        value = float(stairs.values[stairs.at(room)])
        if value > cost:
            share = min(share, cost / value)
    return solved.pieces * share


def _worth_more(task: Task, solved: Worth, fillings: Fillings) -> list[Way]:
    """Fillings with more value than their sticks cost: the best of each kind and stage, those of all pieces first."""
    costs = kind_costs(task, solved.limits)
    found: dict[Way, None] = {}
    for stage in range(len(fillings.stages) - 1, 0, -1):
        stairs = fillings.stages[stage][1]
        for kind, (room, cost) in enumerate(zip(task.rooms, costs, strict=True)):
            if stairs.values[stairs.at(room)] > cost + EXACT * max(1.0, cost):
                found[Way(kind, fillings.counts(stage, room))] = None
        if len(found) > 2 * _NEW_WAYS:
            break
    return list(found)


def ways_within(task: Task, generated: Generated, *, cost: int, most: int, full: bool) -> list[Way]:
    """Return all ways that can be part of a cutting of at most `cost`.

    With `full` these are only ways without room for another missing piece, which is enough where surplus pieces are
    allowed; else all ways with a piece. Raises TooManyError where there are more than `most`.
    """
    stairs = stairs_from(task.lengths, task.wanted, list(generated.pieces), max(task.rooms))
    loss = cost - generated.bound + EXACT * max(1.0, abs(generated.bound))
    found: list[Way] = []
    for kind, price in enumerate(kind_costs(task, generated.limits)):
        for counts in _fillings(task, generated, stairs, task.rooms[kind], price - loss, most=most, full=full):
            found.append(Way(kind, tuple(map(int, counts))))
            if len(found) > most:
                raise TooManyError
    return found


def _fillings(
    task: Task, generated: Generated, stairs: list[Stairs], room: int, least: float, *, most: int, full: bool
) -> Iterator[npt.NDArray[np.int32]]:
    """The counts of all fillings of a room with a value of at least `least`.

    All partial fillings are extended together, piece by piece, and only those that can still reach the value are kept.
    So there are never more than in the result, except with `full`, where some are left out at the end.
    """
    rooms: Ints = np.array([room], np.int64)
    values = np.zeros(1)
    counts = np.zeros((1, len(task.lengths)), np.int32)
    for piece, (length, wanted) in enumerate(zip(task.lengths, task.wanted, strict=True)):
        value, after = float(generated.pieces[piece]), stairs[piece + 1]
        new = []
        for count in range(min(wanted, room // length) + 1):
            left = rooms - count * length
            there = np.flatnonzero(left >= 0)
            enough = there[values[there] + count * value + after.best(left[there]) >= least]
            if len(enough):
                extended = counts[enough]
                extended[:, piece] = count
                new.append((left[enough], values[enough] + count * value, extended))
        if not new:
            return
        rooms, values, counts = (np.concatenate([part[i] for part in new]) for i in range(3))
        if len(rooms) > (20 if full else 2) * most:
            raise TooManyError
    keep = counts.any(axis=1)
    if full:
        for piece, (length, wanted) in enumerate(zip(task.lengths, task.wanted, strict=True)):
            keep &= (rooms < length) | (counts[:, piece] >= wanted)
    yield from counts[keep]
