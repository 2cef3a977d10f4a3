"""All ways of sawing whose loss, at fair prices, is small: every cutting cheaper than one known is made of them.

With prices that are fair (see columns.py) a cutting costs the bound and the losses of its ways, so that no way in a
cutting of at most a given cost loses more than that cost is above the bound.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from cutjob.layout.sticks.columns import EXACT, Generated, kind_costs
from cutjob.layout.sticks.fillings import Ints, Stairs, TooManyError, stairs_from
from cutjob.layout.sticks.task import Task, Way


def ways_within(task: Task, generated: Generated, *, cost: int, most: int, full: bool) -> list[Way]:
    """Return all ways that a cutting of at most `cost` can be made of.

    With `full`, only those that no other missing piece fits into, which do when more pieces than wanted may be made;
    else all that hold anything. Raises TooManyError when there are more than `most`.
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
    """The counts of all fillings of a room worth at least `least`.

    Piece after piece all partial fillings are extended together, and only those kept that can still become worth
    enough, so that there are never more than come out in the end. (With `full` there may be: those are left out last.)
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
