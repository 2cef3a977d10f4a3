"""Finds the most valuable fillings of sticks of any room: a bounded knapsack for all rooms at once.

Lists of (room taken, value) without fillings that another one beats are merged piece by piece (G. Nemhauser and
Z. Ullmann, Discrete dynamic programming and capital allocation, Management Science 15, 1969). Unlike a table by length,
they are exact for lengths of any fineness.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# Values nearer than this are equal; prices in a linear program are less exact.
_SAME = 1e-13
# Longer lists take minutes; they are thousands of times as long as a workshop's.
MOST_STATES = 200_000


class TooManyError(Exception):
    """There are more fillings than can be searched."""


@dataclass(frozen=True, slots=True)
class Stairs:
    """The best values by room: `values[i]` is the best in a room from `rooms[i]` on; both rise."""

    rooms: Ints
    values: Floats

    def at(self, room: int) -> int:
        """Return the index of the best value in a room of 0 or more."""
        return int(np.searchsorted(self.rooms, room, side="right")) - 1

    def best(self, room: Ints) -> Floats:
        """Return the best value in each of several rooms of 0 or more."""
        found: Floats = self.values[np.searchsorted(self.rooms, room, side="right") - 1]
        return found


@dataclass(frozen=True, slots=True)
class _Step:
    """`times` more pieces of a length, or none: `origin` maps the states after the step to those before; numbers from
    `before` on mean a state with the pieces added.
    """

    piece: int
    times: int
    before: int
    origin: Ints


NOTHING = Stairs(np.zeros(1, np.int64), np.zeros(1))


def added(stairs: Stairs, length: int, value: float, times: int, room: int) -> tuple[Stairs, Ints]:
    """Return the stairs with `times` more pieces allowed, all or none, and the origin of each state."""
    top = int(np.searchsorted(stairs.rooms, room - times * length, side="right"))
    rooms = np.concatenate([stairs.rooms, stairs.rooms[:top] + times * length])
    values = np.concatenate([stairs.values, stairs.values[:top] + times * value])
    order = np.argsort(rooms, kind="stable")
    rooms, values = rooms[order], values[order]
    keep = np.ones(len(order), bool)
    keep[1:] = values[1:] > np.maximum.accumulate(values)[:-1] + _SAME
    kept = np.flatnonzero(keep)
    # Of equal rooms the last is the best.
    kept = kept[np.append(rooms[kept][1:] != rooms[kept][:-1], True)]
    if len(kept) > MOST_STATES:
        raise TooManyError
    return Stairs(rooms[kept], values[kept]), order[kept]


def shares(count: int) -> list[int]:
    """Split a count into shares whose sums give every number up to it: 1, 2, 4, ... and the remainder."""
    parts, share = [], 1
    while count > 0:
        parts.append(min(share, count))
        count -= share
        share *= 2
    return parts


@dataclass(frozen=True, slots=True)
class Fillings:
    """The best fillings with the first pieces only, by the number of these, each with its stairs and steps."""

    pieces: int
    steps: tuple[_Step, ...]
    stages: tuple[tuple[int, Stairs], ...]  # number of steps done, and the stairs after them

    def counts(self, stage: int, room: int) -> tuple[int, ...]:
        """Return the count of each piece in the best filling of a room, with the pieces of that stage only."""
        done, stairs = self.stages[stage]
        place, found = stairs.at(room), [0] * self.pieces
        for step in reversed(self.steps[:done]):
            place = int(step.origin[place])
            if place >= step.before:
                found[step.piece] += step.times
                place -= step.before
        return tuple(found)


def best_fillings(lengths: Sequence[int], most: Sequence[int], values: Sequence[float], room: int) -> Fillings:
    """Return the best fillings of every room up to `room`, with a greatest count and a value for each piece.

    Raises TooManyError.
    """
    stairs, steps, stages = NOTHING, list[_Step](), [(0, NOTHING)]
    for piece, (length, count, value) in enumerate(zip(lengths, most, values, strict=True)):
        if value <= _SAME:
            continue
        for times in shares(min(count, room // length)):
            before = len(stairs.rooms)
            stairs, origin = added(stairs, length, value, times, room)
            steps.append(_Step(piece, times, before, origin))
        stages.append((len(steps), stairs))
    return Fillings(len(lengths), tuple(steps), tuple(stages))


def stairs_from(lengths: Sequence[int], most: Sequence[int], values: Sequence[float], room: int) -> list[Stairs]:
    """Return the stairs of the last pieces, from each piece on: the first with all pieces, the last with none.

    Raises TooManyError.
    """
    found = [NOTHING]
    for length, count, value in reversed(list(zip(lengths, most, values, strict=True))):
        stairs = found[-1]
        for times in shares(min(count, room // length)) if value > _SAME else ():
            stairs, _ = added(stairs, length, value, times, room)
        found.append(stairs)
    return found[::-1]
