"""An order of places that can be changed and put back, compiled. mm.

Every change of the order is a chain of turns, so putting back is turning again. When a stretch is gone through the
other way, a place that can be run both ways is; any other stays as it is, and its air moves inside the stretch are
added up anew.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from cutjob.compiled import compiled
from cutjob.program.tour_tables import leg

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LOG = 20_000  # lines
WORK, WAITING, LOGGED = range(3)  # places in `Way.tally`


class Way(NamedTuple):
    """An order of places being improved in place, home first, and what is known of the places (see `tour_tables`)."""

    order: Ints
    pos: Ints  # of each place in `order`
    row: Ints  # of each place, the one it is done by
    first: Ints
    ends: Floats
    mate: Ints
    near: Ints
    gap: Floats
    head: Ints  # place t must come after after[head[t] : head[t + 1]]
    after: Ints
    queue: Ints  # places to be looked at again
    queued: Ints
    log: Ints  # (.., 2): from and to of what was turned, or -1 - a place and the row it had
    tally: Ints  # (3,) work left, places waiting, lines of the log (-1: none is kept)
    closed: bool
    even: bool  # every row has a mate, so that turning a stretch costs nothing inside


def way_of(order: Ints, row: Ints, tables: tuple[Ints, Floats, Ints, Ints, Floats, Ints, Ints], *, closed: bool) -> Way:
    """Return a way to improve; `tables` are first, ends, mate, near, gap, head and after."""
    n = len(order)
    pos = np.empty(n, np.int64)
    pos[order] = np.arange(n)
    queue, queued, log = np.empty(n, np.int64), np.zeros(n, np.int64), np.empty((LOG, 2), np.int64)
    even = bool((tables[2] >= 0).all())
    return Way(order, pos, row, *tables, queue, queued, log, np.zeros(3, np.int64), closed, even)


@compiled()
def before(way: Way, i: int) -> int:
    """Row of the place before position i; -1: nothing."""
    if i > 0:
        return int(way.row[way.order[i - 1]])
    return int(way.row[way.order[-1]]) if way.closed else -1


@compiled()
def behind(way: Way, i: int) -> int:
    """Row of the place behind position i; -1: nothing."""
    if i + 1 < len(way.order):
        return int(way.row[way.order[i + 1]])
    return int(way.row[way.order[0]]) if way.closed else -1


@compiled()
def mate_of(way: Way, a: int) -> int:
    """The row as it is in a stretch that is turned."""
    return int(way.mate[a]) if a >= 0 and way.mate[a] >= 0 else a


@compiled()
def note(way: Way, one: int, other: int) -> None:
    """Keep a line of the log, if one is kept."""
    k = way.tally[LOGGED]
    if k >= 0:
        way.log[k, 0], way.log[k, 1] = one, other
        way.tally[LOGGED] = k + 1


@compiled()
def turn(way: Way, i: int, j: int) -> None:
    """Go through positions i to j the other way."""
    order, pos, row, mate = way.order, way.pos, way.row, way.mate
    way.tally[WORK] -= (j - i) // 4
    note(way, i, j)
    while i <= j:
        a, b = order[i], order[j]
        order[i], order[j] = b, a
        pos[b], pos[a] = i, j
        if mate[row[a]] >= 0:
            row[a] = mate[row[a]]
        if i < j and mate[row[b]] >= 0:
            row[b] = mate[row[b]]
        i += 1
        j -= 1


@compiled()
def put_back(way: Way) -> None:
    """Undo all that is in the log."""
    lines = way.tally[LOGGED]
    way.tally[LOGGED] = -1
    for k in range(lines - 1, -1, -1):
        if way.log[k, 0] < 0:
            way.row[-1 - way.log[k, 0]] = way.log[k, 1]
        else:
            turn(way, way.log[k, 0], way.log[k, 1])


@compiled()
def look_again(way: Way, i: int) -> None:
    """Queue the place at position i, if there is one."""
    i = i if i < len(way.order) else 0
    t = way.order[i]
    if way.queued[t] == 0:
        way.queued[t] = 1
        way.queue[way.tally[WAITING]] = t
        way.tally[WAITING] += 1


@compiled()
def is_free(way: Way, i: int, j: int, k: int, m: int) -> bool:
    """Whether no place from position k to m must come after one from i to j."""
    order, pos, head, after = way.order, way.pos, way.head, way.after
    if len(after) == 0:
        return True
    looked = 0
    for at in range(k, m + 1):
        t = order[at]
        looked += 1
        for a in range(head[t], head[t + 1]):
            looked += 1
            if i <= pos[after[a]] <= j:
                way.tally[WORK] -= looked // 4
                return False
    way.tally[WORK] -= looked // 4
    return True


@compiled()
def inside(way: Way, i: int, j: int) -> float:
    """By how much the ways inside positions i to j get longer when they are gone through the other way."""
    if way.even:
        return 0.0
    way.tally[WORK] -= (j - i) // 2
    change = 0.0
    for k in range(i, j):
        a, b = way.row[way.order[k]], way.row[way.order[k + 1]]
        if way.mate[a] < 0 or way.mate[b] < 0:
            change += leg(way.ends, mate_of(way, b), mate_of(way, a)) - leg(way.ends, a, b)
    return change


@compiled()
def shift(way: Way, a: int, b: int, k: int) -> None:
    """Put positions a to b behind the place at position k, which is outside of them.

    The stretch and all that it passes are turned, then each back.
    """
    lo, hi = min(a, k + 1), max(b, k)
    cut = lo + k - b if k > b else lo + b - a + 1
    turn(way, lo, hi)
    turn(way, lo, cut - 1)
    turn(way, cut, hi)
