"""Shorter air moves by local search on an order of places, compiled. mm.

Iterated local search (Lourenco, Martin and Stutzle 2003) with 2-opt (Croes 1958), moves of up to three places (Or
1976), exchanges of neighbouring stretches (Gambardella and Dorigo 2000) and other choices of rows, along lists of near
neighbours. Two neighbouring stretches change places at random, the way near them is improved again, and everything is
put back if the way came out longer. Work is counted, never timed, and only + - x / and roots are used, so the order is
the same on any machine.

No change puts a place before one that it must come after.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cutjob.compiled import compiled, compiled_inside
from cutjob.program.tour_moves import (
    LOG,
    LOGGED,
    WAITING,
    WORK,
    Way,
    before,
    behind,
    inside,
    is_free,
    leg,
    look_again,
    mate_of,
    note,
    put_back,
    shift,
    turn,
)

NEAR = 10  # neighbours looked at
_MOVED = 3  # places moved at once
_BRIDGE = 30  # the most places in each of two stretches that change places at random
_LEAST = 1e-9  # mm: anything less is not a gain
_SEED = 88172645463325252  # any number but 0


@compiled_inside()
def _other_row(way: Way, u: int) -> float:
    """Do place u by the row that suits its neighbours best; return the gain."""
    if way.first[u + 1] - way.first[u] < 2:
        return 0.0
    i = way.pos[u]
    p, s = before(way, i), behind(way, i)
    best = now = leg(way.ends, p, way.row[u]) + leg(way.ends, way.row[u], s) - _LEAST
    chosen = way.row[u]
    for a in range(way.first[u], way.first[u + 1]):
        d = leg(way.ends, p, a) + leg(way.ends, a, s)
        if d < best:
            best, chosen = d, a
    way.tally[WORK] -= way.first[u + 1] - way.first[u]
    if chosen == way.row[u]:
        return 0.0
    note(way, -1 - u, way.row[u])
    way.row[u] = chosen
    for k in range(max(0, i - 1), i + 2):
        look_again(way, k)
    return now - best


@compiled_inside()
def _two_opt(way: Way, u: int, onward: bool) -> float:
    """Replace the air move from place u, or the one to it, by one to or from a near place; return the gain."""
    i, n = way.pos[u], len(way.order)
    other = behind(way, i) if onward else before(way, i)
    if other < 0 or (i == 0 and not onward):
        return 0.0
    mine = way.row[u]
    old = leg(way.ends, mine, other) if onward else leg(way.ends, other, mine)
    for m in range(way.near.shape[1]):
        v = way.near[u, m]
        if v < 0 or way.gap[u, m] >= old:
            break
        way.tally[WORK] -= 1
        j, theirs = way.pos[v], mate_of(way, way.row[v])
        if (leg(way.ends, mine, theirs) if onward else leg(way.ends, theirs, mine)) >= old:
            continue
        a, b = min(i, j), max(i, j)
        a, b = (a + 1, b) if onward else (a, b - 1)
        if a < 1 or a >= b:
            continue
        p, q, r, s = way.row[way.order[a - 1]], way.row[way.order[a]], way.row[way.order[b]], behind(way, b)
        gain = leg(way.ends, p, q) + leg(way.ends, r, s)
        gain -= leg(way.ends, p, mate_of(way, r)) + leg(way.ends, mate_of(way, q), s)
        if gain <= _LEAST or not is_free(way, a, b, a, b):
            continue
        gain -= inside(way, a, b)
        if gain > _LEAST:
            turn(way, a, b)
            for k in (a - 1, a, b, b + 1):
                if k < n or way.closed:
                    look_again(way, k)
            return gain
    return 0.0


@compiled_inside()
def _best_between(way: Way, t: int, c: int, d: int) -> tuple[float, int]:
    """Length of the way from row c through place t to row d, and the row of t that makes it shortest."""
    best, chosen = np.inf, -1
    ends = way.ends
    for a in range(way.first[t], way.first[t + 1]):
        length = leg(ends, c, a) + leg(ends, a, d)
        if length < best:
            best, chosen = length, a
    return best, chosen


@compiled_inside()
def _insert(way: Way, u: int, a: int, b: int) -> float:
    """Move positions a to b, of which place u is the first or last, next to a near place of u; return the gain."""
    n = len(way.order)
    p, q, r, s = before(way, a), way.row[way.order[a]], way.row[way.order[b]], behind(way, b)
    out = leg(way.ends, p, q) + leg(way.ends, r, s) - leg(way.ends, p, s)
    if out <= _LEAST:
        return 0.0
    turned = inside(way, a, b)
    for m in range(way.near.shape[1]):
        v = way.near[u, m]
        if v < 0 or way.gap[u, m] >= out:
            break
        way.tally[WORK] -= 1
        if a <= way.pos[v] <= b:
            continue
        # Between v and the place after it; between v and the place before it.
        for k in (way.pos[v], way.pos[v] - 1):
            if k < 0 or a - 1 <= k <= b:
                continue
            c, d = way.row[way.order[k]], behind(way, k)
            flip, chosen = False, q
            if a == b:
                way.tally[WORK] -= way.first[u + 1] - way.first[u]
                length, chosen = _best_between(way, u, c, d)
            else:
                length = leg(way.ends, c, q) + leg(way.ends, r, d)
                around = leg(way.ends, c, mate_of(way, r)) + leg(way.ends, mate_of(way, q), d) + turned
                if around < length and is_free(way, a, b, a, b):
                    length, flip = around, True
            gain = out + leg(way.ends, c, d) - length
            if gain <= _LEAST:
                continue
            if not (is_free(way, a, b, b + 1, k) if k > b else is_free(way, k + 1, a - 1, a, b)):
                continue
            if flip:
                turn(way, a, b)
            shift(way, a, b, k)
            if chosen != way.row[u] and a == b:
                note(way, -1 - u, way.row[u])
                way.row[u] = chosen
            at = way.pos[u]
            for near in (a - 1, a, b, b + 1, k, k + 1, at - 1, at, at + 1):
                if 0 <= near < n or way.closed:
                    look_again(way, near)
            return gain
    return 0.0


@compiled_inside()
def _swapped(way: Way, a: int, b: int, k: int) -> float:
    """The gain when positions a to b and those behind them up to k change places."""
    ends, order, row = way.ends, way.order, way.row
    p, q, r = row[order[a - 1]], row[order[a]], row[order[b]]
    c, e, d = row[order[b + 1]], row[order[k]], behind(way, k)
    gain = leg(ends, p, q) + leg(ends, r, c) + leg(ends, e, d)
    return gain - leg(ends, p, c) - leg(ends, e, q) - leg(ends, r, d)


@compiled_inside()
def _swap_now(way: Way, a: int, b: int, k: int) -> None:
    shift(way, a, b, k)
    for at in (a - 1, a, a + k - b - 1, a + k - b, k, k + 1):
        if at < len(way.order) or way.closed:
            look_again(way, at)


@compiled_inside()
def _swap(way: Way, u: int) -> float:
    """Let two neighbouring stretches change places, so that place u is followed by a near one; return the gain.

    No stretch is turned, so this exchange suits tasks that wait for others (Gambardella and Dorigo 2000).
    """
    i, pos = way.pos[u], way.pos
    onward = behind(way, i)
    old = leg(way.ends, way.row[u], onward)
    for m in range(way.near.shape[1]):
        v = way.near[u, m]
        if v < 0 or way.gap[u, m] >= old:
            break
        way.tally[WORK] -= 1
        first = old - leg(way.ends, way.row[u], way.row[v])
        j = pos[v]
        if first <= _LEAST or j == i + 1 or j == 0:
            continue
        first += leg(way.ends, way.row[way.order[j - 1]], way.row[v])
        # u is the last of the second stretch, whose first is v (j < i); or u is before both stretches, and v is the
        # first of the second; or u is the last of the first stretch, and v is behind both. A place near `root` joins
        # it.
        for kind in range(2 if j > i else 1):
            root = way.order[j - 1] if j < i else way.order[i + 1]
            for near in range(way.near.shape[1]):
                w = way.near[root, near]
                if w < 0 or way.gap[root, near] >= first:
                    break
                way.tally[WORK] -= 1
                if j < i:
                    a, b, k = j, pos[w] - 1, i
                elif kind == 0:
                    a, b, k = i + 1, j - 1, pos[w]
                else:
                    a, b, k = pos[w] + 1, i, j - 1
                if not 1 <= a <= b < k:
                    continue
                gain = _swapped(way, a, b, k)
                if gain > _LEAST and is_free(way, a, b, b + 1, k):
                    _swap_now(way, a, b, k)
                    return gain
    return 0.0


@compiled_inside()
def _shorten(way: Way) -> float:
    """Shorten the way near all queued places until nothing gains; return the gain."""
    total = 0.0
    while way.tally[WAITING] > 0 and way.tally[WORK] > 0 and way.tally[LOGGED] < LOG - 8:
        way.tally[WAITING] -= 1
        u = way.queue[way.tally[WAITING]]
        way.queued[u] = 0
        gain = _other_row(way, u)
        for onward in (True, False):
            if gain == 0.0:
                gain = _two_opt(way, u, onward)
        if gain == 0.0:
            gain = _swap(way, u)
        for size in range(1, _MOVED + 1):
            for side in range(2 if size > 1 else 1):
                a = way.pos[u] - side * (size - 1)
                if gain == 0.0 and a >= 1 and a + size <= len(way.order):
                    gain = _insert(way, u, a, a + size - 1)
        if gain > 0.0:
            look_again(way, way.pos[u])
        total += gain
    for k in range(way.tally[WAITING]):
        way.queued[way.queue[k]] = 0
    way.tally[WAITING] = 0
    return total


@compiled_inside()
def _next(state: NDArray[np.uint64], below: int) -> int:
    """The next of a xorshift64 stream, below a number."""
    x = state[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    state[0] = x
    return int(x % np.uint64(below))


@compiled_inside()
def _bridge(way: Way, state: NDArray[np.uint64]) -> float:
    """Let two neighbouring stretches change places, if that is allowed; return the gain, mostly a loss."""
    n = len(way.order)
    most = min(_BRIDGE, (n - 1) // 2)
    one, two = 1 + _next(state, most), 1 + _next(state, most)
    a = 1 + _next(state, n - one - two)
    b, k = a + one - 1, a + one + two - 1
    way.tally[WORK] -= 4
    if not is_free(way, a, b, b + 1, k):
        way.tally[WORK] -= 4
        return 0.0
    gain = _swapped(way, a, b, k)
    _swap_now(way, a, b, k)
    return gain


@compiled()
def improve(way: Way, work: int) -> None:
    """Shorten the way in place, without moving home; `work` is the number of places that may be looked at and
    turned.
    """
    n = len(way.order)
    way.tally[WORK], way.tally[LOGGED] = work, -1
    for k in range(n - 1, -1, -1):
        look_again(way, k)
    _shorten(way)
    state = np.array([_SEED], np.uint64)
    while way.tally[WORK] > 0 and n >= 3:
        way.tally[LOGGED] = 0
        gain = _bridge(way, state)
        gain += _shorten(way)
        if gain < -_LEAST:
            put_back(way)
