"""An order of places that can be changed and put back, and the tables for its length; compiled. mm.

Every change of the order is a chain of turns, so turning again puts it back. When a stretch is run the other way, each
place in it that can be run both ways is turned too. Any other place stays as it is, and the air moves inside the
stretch are added up again.

Places (one for each task, and home as place 0) have rows, one for each way to do the task: its start and its end. Rows
of place t are `first[t]` up to but without `first[t + 1]`; `ends` has a start's x and y and an end's x and y.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from cutjob.compiled import compiled, compiled_inside

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_PER_CELL = 3  # points, when they are spread evenly


@compiled_inside()
def leg(ends: Floats, a: int, b: int) -> float:
    """Return the air move from the end of row a to the start of row b; none where one of them is -1."""
    if a < 0 or b < 0:
        return 0.0
    dx, dy = ends[b, 0] - ends[a, 2], ends[b, 1] - ends[a, 3]
    return float(np.sqrt(dx * dx + dy * dy))


class _Cells(NamedTuple):
    """Points in square cells, row by row: `members[begin[c] : begin[c + 1]]` are those of cell c."""

    column: Ints  # of each point
    row: Ints
    members: Ints
    begin: Ints
    columns: int
    rows: int
    size: float


def _cells(x: Floats, y: Floats) -> _Cells:
    left, low = x.min(), y.min()
    wide, high = x.max() - left, y.max() - low
    share = _PER_CELL / len(x)
    size = max(np.sqrt(wide * high * share), max(wide, high) * share, 1e-9)
    column, row = ((x - left) / size).astype(np.int64), ((y - low) / size).astype(np.int64)
    columns, rows = int(column.max()) + 1, int(row.max()) + 1
    cell = row * columns + column
    begin = np.append(0, np.cumsum(np.bincount(cell, minlength=columns * rows))).astype(np.int64)
    return _Cells(column, row, np.argsort(cell, kind="stable"), begin, columns, rows, float(size))


def neighbours(owner: Ints, x: Floats, y: Floats, *, places: int, count: int) -> tuple[Ints, Floats]:
    """Return for each place the `count` nearest others and the least distances to them, nearest first; -1 fills the
    list where there are fewer.

    Points (x, y) belong to place `owner`; the distance of two places is that of their nearest points.
    """
    near, gap = np.full((places, count), -1, np.int64), np.full((places, count), np.inf)
    _look_around(owner, x, y, _cells(x, y), near, gap)
    return near, gap


@compiled()
def _look_around(owner: Ints, x: Floats, y: Floats, cells: _Cells, near: Ints, gap: Floats) -> None:
    """Fill the lists of nearest places, ring of cells by ring of cells about each point."""
    for i in range(len(x)):
        t, ci, cj = owner[i], cells.column[i], cells.row[i]
        for ring in range(max(cells.columns, cells.rows) + 1):
            # Everything from this ring on is at least this far away.
            if ring > 0 and gap[t, -1] <= (ring - 1) * cells.size:
                break
            for gj in range(max(0, cj - ring), min(cells.rows - 1, cj + ring) + 1):
                step = 1 if ring == 0 or abs(gj - cj) == ring else 2 * ring
                for gi in range(ci - ring, ci + ring + 1, step):
                    if gi < 0 or gi >= cells.columns:
                        continue
                    cell = gj * cells.columns + gi
                    for k in range(cells.begin[cell], cells.begin[cell + 1]):
                        other = cells.members[k]
                        if gap[t, -1] <= 0.0:
                            break
                        if owner[other] != t:
                            dx, dy = x[i] - x[other], y[i] - y[other]
                            _keep(near[t], gap[t], owner[other], float(np.sqrt(dx * dx + dy * dy)))


@compiled_inside()
def _keep(near: Ints, gap: Floats, other: int, d: float) -> None:
    """Enter a place once into the list of the nearest; of equally near places the lower number comes first."""
    k = len(near) - 1
    if d > gap[k] or (d == gap[k] and other >= near[k]):
        return
    for m in range(len(near)):
        if near[m] == other:
            if d >= gap[m]:
                return
            k = m
            break
    while k > 0 and (gap[k - 1] > d or (gap[k - 1] == d and near[k - 1] > other)):
        gap[k], near[k] = gap[k - 1], near[k - 1]
        k -= 1
    gap[k], near[k] = d, other


@compiled()
def choose_rows(order: Ints, first: Ints, ends: Floats, closed: bool, chosen: Ints) -> float:
    """Write the best row of each place, for an order that begins with home, into `chosen`; return the length of air
    moves.

    Exact, by dynamic programming along the order; home has one row, so the way back is one more leg.
    """
    cost, back = np.empty(len(ends), np.float64), np.empty(len(ends), np.int64)
    cost[0], back[0] = 0.0, -1
    for k in range(1, len(order)):
        t, u = order[k], order[k - 1]
        for a in range(first[t], first[t + 1]):
            cost[a] = np.inf
            for b in range(first[u], first[u + 1]):
                d = cost[b] + leg(ends, b, a)
                if d < cost[a]:
                    cost[a], back[a] = d, b
    t, home = order[-1], first[0]
    best, length = first[t], np.inf
    for a in range(first[t], first[t + 1]):
        d = cost[a] + (leg(ends, a, home) if closed else 0.0)
        if d < length:
            best, length = a, d
    for k in range(len(order) - 1, -1, -1):
        chosen[order[k]] = best
        best = back[best]
    return length


LOG = 20_000  # lines
WORK, WAITING, LOGGED = range(3)  # places in `Way.tally`


class Way(NamedTuple):
    """An order of places that is improved in place, home first, and the tables of the places (see the module's
    head).
    """

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
    queue: Ints  # places to be tried again
    queued: Ints
    log: Ints  # (.., 2): first and last position turned, or -1 - place and the row that place had
    tally: Ints  # (3,) work left, places waiting, lines of the log (-1: none is kept)
    closed: bool
    even: bool  # every row has a mate, so that turning a stretch doesn't change the length inside


def way_of(order: Ints, row: Ints, tables: tuple[Ints, Floats, Ints, Ints, Floats, Ints, Ints], *, closed: bool) -> Way:
    """Return a way to improve; `tables` are first, ends, mate, near, gap, head and after."""
    n = len(order)
    pos = np.empty(n, np.int64)
    pos[order] = np.arange(n)
    queue, queued, log = np.empty(n, np.int64), np.zeros(n, np.int64), np.empty((LOG, 2), np.int64)
    even = bool((tables[2] >= 0).all())
    return Way(order, pos, row, *tables, queue, queued, log, np.zeros(3, np.int64), closed, even)


@compiled_inside()
def before(way: Way, i: int) -> int:
    """Row of the place before position i; -1: nothing."""
    if i > 0:
        return int(way.row[way.order[i - 1]])
    return int(way.row[way.order[-1]]) if way.closed else -1


@compiled_inside()
def behind(way: Way, i: int) -> int:
    """Row of the place behind position i; -1: nothing."""
    if i + 1 < len(way.order):
        return int(way.row[way.order[i + 1]])
    return int(way.row[way.order[0]]) if way.closed else -1


@compiled_inside()
def mate_of(way: Way, a: int) -> int:
    """The row to use in a stretch that is turned."""
    return int(way.mate[a]) if a >= 0 and way.mate[a] >= 0 else a


@compiled_inside()
def note(way: Way, one: int, other: int) -> None:
    """Keep a line of the log, if one is kept."""
    k = way.tally[LOGGED]
    if k >= 0:
        way.log[k, 0], way.log[k, 1] = one, other
        way.tally[LOGGED] = k + 1


@compiled_inside()
def turn(way: Way, i: int, j: int) -> None:
    """Turn positions i to j round."""
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


@compiled_inside()
def put_back(way: Way) -> None:
    """Undo all that is in the log."""
    lines = way.tally[LOGGED]
    way.tally[LOGGED] = -1
    for k in range(lines - 1, -1, -1):
        if way.log[k, 0] < 0:
            way.row[-1 - way.log[k, 0]] = way.log[k, 1]
        else:
            turn(way, way.log[k, 0], way.log[k, 1])


@compiled_inside()
def look_again(way: Way, i: int) -> None:
    """Queue the place at position i, if there is one."""
    i = i if i < len(way.order) else 0
    t = way.order[i]
    if way.queued[t] == 0:
        way.queued[t] = 1
        way.queue[way.tally[WAITING]] = t
        way.tally[WAITING] += 1


@compiled_inside()
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


@compiled_inside()
def inside(way: Way, i: int, j: int) -> float:
    """How much longer the ways inside positions i to j get when these are turned round."""
    if way.even:
        return 0.0
    way.tally[WORK] -= (j - i) // 2
    change = 0.0
    for k in range(i, j):
        a, b = way.row[way.order[k]], way.row[way.order[k + 1]]
        if way.mate[a] < 0 or way.mate[b] < 0:
            change += leg(way.ends, mate_of(way, b), mate_of(way, a)) - leg(way.ends, a, b)
    return change


@compiled_inside()
def shift(way: Way, a: int, b: int, k: int) -> None:
    """Move positions a to b behind the place at position k, which is outside of them.

    The stretch and everything it passes are turned together, then each is turned back.
    """
    lo, hi = min(a, k + 1), max(b, k)
    cut = lo + k - b if k > b else lo + b - a + 1
    turn(way, lo, hi)
    turn(way, lo, cut - 1)
    turn(way, cut, hi)
