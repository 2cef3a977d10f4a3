"""Shorter air moves by local search on a sequence of places, compiled. mm.

Iterated local search (Lourenco, Martin and Stutzle 2003) with 2-opt and moves of up to three places (Or 1976) along
lists of near neighbours: two neighbouring stretches of the order change places (a double bridge kept short), what that
spoils is mended, and all is put back if it came out longer. Every change is a chain of reversals, so putting back is
running them again the other way. Work is counted, never timed, and only + - x / and roots are used: the same order on
any machine.

A place has a start and an end; where they differ for some (`even` false), going through places the other way round
costs something else, which is then added up. No change puts a place before one that it must come after.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NEAR = 10  # neighbours looked at
_MOVED = 3  # places moved at once
_BRIDGE = 50  # places in a stretch of a double bridge, at most
_LOG = 100_000


@njit(cache=True)
def neighbours(x: Floats, y: Floats, count: int) -> Any:
    """Return for each place the `count` nearest others, nearest first, as rows; -1 where there are fewer."""
    n = len(x)
    near = np.full((n, count), -1, np.int64)
    x0, y0 = x.min(), y.min()
    side = max(x.max() - x0, y.max() - y0, 1e-9)
    cells = max(1, int(np.sqrt(n / 3.0)))
    size = side / cells * (1 + 1e-12) + 1e-12
    head = np.full(cells * cells, -1, np.int64)
    following = np.full(n, -1, np.int64)
    for i in range(n):
        cell = int((y[i] - y0) / size) * cells + int((x[i] - x0) / size)
        following[i] = head[cell]
        head[cell] = i
    best = np.empty(count, np.float64)
    for i in range(n):
        found = 0
        ci, cj = int((x[i] - x0) / size), int((y[i] - y0) / size)
        ring = 0
        while ring <= cells:
            for gj in range(cj - ring, cj + ring + 1):
                if gj < 0 or gj >= cells:
                    continue
                edge = gj == cj - ring or gj == cj + ring
                step = 1 if edge or ring == 0 else 2 * ring
                for gi in range(ci - ring, ci + ring + 1, step):
                    if gi < 0 or gi >= cells:
                        continue
                    other = head[gj * cells + gi]
                    while other >= 0:
                        if other != i:
                            d = (x[i] - x[other]) ** 2 + (y[i] - y[other]) ** 2
                            if found < count or d < best[found - 1]:
                                k = found if found < count else count - 1
                                while k > 0 and (best[k - 1] > d or (best[k - 1] == d and near[i, k - 1] > other)):
                                    best[k] = best[k - 1]
                                    near[i, k] = near[i, k - 1]
                                    k -= 1
                                best[k] = d
                                near[i, k] = other
                                if found < count:
                                    found += 1
                        other = following[other]
            # Whatever lies beyond this ring is at least so far away.
            if found == count and best[count - 1] <= (ring * size) ** 2:
                break
            ring += 1
    return near


@njit(cache=True)
def choose_options(
    order: Ints, first: Ints, sx: Floats, sy: Floats, ex: Floats, ey: Floats, home_x: float, home_y: float
) -> Any:
    """Return the best option of each task for an order of tasks, and the length of air moves: by dynamic programming.

    Options of task t are rows `first[t]` up to but without `first[t + 1]`.
    """
    n = len(order)
    rows = first[-1]
    cost = np.empty(rows, np.float64)
    back = np.full(rows, -1, np.int64)
    for k in range(n):
        t = order[k]
        for a in range(first[t], first[t + 1]):
            if k == 0:
                cost[a] = np.sqrt((sx[a] - home_x) ** 2 + (sy[a] - home_y) ** 2)
                continue
            u = order[k - 1]
            best = np.inf
            for b in range(first[u], first[u + 1]):
                d = cost[b] + np.sqrt((sx[a] - ex[b]) ** 2 + (sy[a] - ey[b]) ** 2)
                if d < best:
                    best = d
                    back[a] = b
            cost[a] = best
    chosen = np.zeros(n, np.int64)
    if n == 0:
        return chosen, 0.0
    t = order[n - 1]
    end = first[t]
    for a in range(first[t], first[t + 1]):
        if cost[a] < cost[end]:
            end = a
    length = cost[end]
    for k in range(n - 1, -1, -1):
        chosen[order[k]] = end
        end = back[end]
    return chosen, length


@njit(cache=True, inline="always")
def _way(sx: Floats, sy: Floats, ex: Floats, ey: Floats, a: int, b: int) -> float:
    way: float = np.sqrt((sx[b] - ex[a]) ** 2 + (sy[b] - ey[a]) ** 2)
    return way


@njit(cache=True)
def _reverse(order: Ints, pos: Ints, i: int, j: int) -> int:
    steps = j - i + 1
    while i < j:
        a, b = order[i], order[j]
        order[i], order[j] = b, a
        pos[b], pos[a] = i, j
        i += 1
        j -= 1
    return steps


@njit(cache=True)
def _turnable(order: Ints, pos: Ints, head: Ints, after: Ints, i: int, j: int) -> bool:
    """Whether nothing from place i to j in the order must come after something else there."""
    for k in range(i, j + 1):
        t = order[k]
        for a in range(head[t], head[t + 1]):
            p = pos[after[a]]
            if i <= p <= j:
                return False
    return True


@njit(cache=True)
def _passable(order: Ints, pos: Ints, head: Ints, after: Ints, i: int, j: int, k: int) -> bool:
    """Whether nothing from place j + 1 to k must come after something from i to j."""
    for m in range(j + 1, k + 1):
        t = order[m]
        for a in range(head[t], head[t + 1]):
            p = pos[after[a]]
            if i <= p <= j:
                return False
    return True


@njit(cache=True)
def _inner(order: Ints, sx: Floats, sy: Floats, ex: Floats, ey: Floats, i: int, j: int) -> float:
    """By how much the ways inside i to j get longer when they are gone through the other way."""
    change = 0.0
    for k in range(i, j):
        a, b = order[k], order[k + 1]
        change += _way(sx, sy, ex, ey, b, a) - _way(sx, sy, ex, ey, a, b)
    return change


@njit(cache=True)
def improve(
    order: Ints,
    sx: Floats,
    sy: Floats,
    ex: Floats,
    ey: Floats,
    near: Ints,
    head: Ints,
    after: Ints,
    closed: bool,
    even: bool,
    work: int,
    seed: int,
) -> float:
    """Shorten the way through `order` in place, its first place held fast; return by how much.

    `after[head[t]:head[t + 1]]` are the places that t must come after. `work` counts places looked at and turned.
    """
    n = len(order)
    waits = len(after) > 0
    pos = np.empty(n, np.int64)
    for k in range(n):
        pos[order[k]] = k
    queue = np.empty(n, np.int64)
    queued = np.zeros(n, np.bool_)
    log = np.empty((_LOG, 2), np.int64)
    state = np.uint64(seed * 2654435761 + 88172645463325252)
    waiting = 0
    for k in range(n):
        queue[waiting] = order[n - 1 - k]
        queued[order[n - 1 - k]] = True
        waiting += 1
    saved, gained, logged = 0.0, 0.0, 0
    bridging = False
    while True:
        # Mend until nothing near a changed place gets shorter.
        while waiting > 0 and work > 0:
            waiting -= 1
            u = queue[waiting]
            queued[u] = False
            better = True
            while better and work > 0 and logged < _LOG - 8:
                better = False
                i = pos[u]
                for way in range(2):
                    # way 0: the move after u is given up; way 1: the move before it.
                    if way == 0 and (i == n - 1 and not closed):
                        other, old = -1, 0.0
                        continue
                    if way == 1 and i == 0:
                        continue
                    if way == 0:
                        other = order[i + 1] if i < n - 1 else order[0]
                        old = _way(sx, sy, ex, ey, u, other)
                    else:
                        other = order[i - 1]
                        old = _way(sx, sy, ex, ey, other, u)
                    for m in range(near.shape[1]):
                        v = near[u, m]
                        if v < 0:
                            break
                        work -= 1
                        new = _way(sx, sy, ex, ey, u, v) if way == 0 else _way(sx, sy, ex, ey, v, u)
                        if even and new >= old - 1e-10:
                            break
                        j = pos[v]
                        if way == 0:
                            a, b = (i + 1, j) if j > i else (j + 1, i)
                        else:
                            a, b = (j, i - 1) if j < i else (i, j - 1)
                        if a < 1 or a >= b:
                            continue
                        p, q = order[a - 1], order[a]
                        r = order[b]
                        change = _way(sx, sy, ex, ey, p, r) - _way(sx, sy, ex, ey, p, q)
                        last = b == n - 1
                        if not last or closed:
                            s = order[b + 1] if not last else order[0]
                            change += _way(sx, sy, ex, ey, q, s) - _way(sx, sy, ex, ey, r, s)
                        if not even:
                            if b - a > 200:
                                continue
                            work -= (b - a) // 4
                            change += _inner(order, sx, sy, ex, ey, a, b)
                        if change >= -1e-9 or (waits and not _turnable(order, pos, head, after, a, b)):
                            continue
                        work -= _reverse(order, pos, a, b) // 8
                        log[logged, 0], log[logged, 1] = a, b
                        logged += 1
                        gained += change
                        for t in (p, q, r, order[b + 1] if b < n - 1 else order[0]):
                            if not queued[t]:
                                queued[t] = True
                                queue[waiting] = t
                                waiting += 1
                        better = True
                        break
                    if better:
                        break
                if better:
                    continue
                # One to three places from u on, or up to u, go elsewhere.
                for size in range(1, _MOVED + 1):
                    for side in range(2 if size > 1 else 1):
                        a = i if side == 0 else i - size + 1
                        b = a + size - 1
                        if a < 1 or b > n - 1:
                            continue
                        p, q, r = order[a - 1], order[a], order[b]
                        last = b == n - 1
                        s = -1 if last and not closed else (order[b + 1] if not last else order[0])
                        out = -_way(sx, sy, ex, ey, p, q)
                        if s >= 0:
                            out += _way(sx, sy, ex, ey, p, s) - _way(sx, sy, ex, ey, r, s)
                        if out >= -1e-9:
                            continue
                        turned = 0.0 if even else _inner(order, sx, sy, ex, ey, a, b)
                        for m in range(near.shape[1]):
                            v = near[u, m]
                            if v < 0:
                                break
                            work -= 1
                            j = pos[v]
                            if a <= j <= b:
                                continue
                            if even and _way(sx, sy, ex, ey, u, v) >= -out:
                                break
                            for place in range(2):
                                # place 0: between v and what follows it; place 1: between it and what it follows.
                                k = j if place == 0 else j - 1
                                if k < 0 or a - 1 <= k <= b:
                                    continue
                                c = order[k]
                                tail = k == n - 1
                                d = -1 if tail and not closed else (order[k + 1] if not tail else order[0])
                                ways = _way(sx, sy, ex, ey, c, d) if d >= 0 else 0.0
                                straight = _way(sx, sy, ex, ey, c, q) - ways
                                around = _way(sx, sy, ex, ey, c, r) - ways + turned
                                if d >= 0:
                                    straight += _way(sx, sy, ex, ey, r, d)
                                    around += _way(sx, sy, ex, ey, q, d)
                                flip = around < straight and size > 1
                                change = out + (around if flip else straight)
                                if change >= -1e-9:
                                    continue
                                if waits:
                                    if flip and not _turnable(order, pos, head, after, a, b):
                                        continue
                                    if k > b and not _passable(order, pos, head, after, a, b, k):
                                        continue
                                    if k < a and not _passable(order, pos, head, after, k + 1, a - 1, b):
                                        continue
                                # The stretch and all that it passes are turned, then each back.
                                if k > b:
                                    lo, hi = a, k
                                    cut = lo + (k - b) - 1
                                    mine = (cut + 1, hi)
                                    rest = (lo, cut)
                                else:
                                    lo, hi = k + 1, b
                                    cut = lo + size - 1
                                    mine = (lo, cut)
                                    rest = (cut + 1, hi)
                                work -= _reverse(order, pos, lo, hi) // 8
                                log[logged, 0], log[logged, 1] = lo, hi
                                logged += 1
                                work -= _reverse(order, pos, rest[0], rest[1]) // 8
                                log[logged, 0], log[logged, 1] = rest[0], rest[1]
                                logged += 1
                                if not flip:
                                    _reverse(order, pos, mine[0], mine[1])
                                    log[logged, 0], log[logged, 1] = mine[0], mine[1]
                                    logged += 1
                                gained += change
                                for t in (p, q, r, s, c, d):
                                    if t >= 0 and not queued[t]:
                                        queued[t] = True
                                        queue[waiting] = t
                                        waiting += 1
                                better = True
                                break
                            if better:
                                break
                        if better:
                            break
                    if better:
                        break
        if bridging and gained > 1e-9:
            for k in range(logged - 1, -1, -1):
                _reverse(order, pos, log[k, 0], log[k, 1])
        else:
            saved -= gained
        gained, logged = 0.0, 0
        for k in range(waiting):
            queued[queue[k]] = False
        waiting = 0
        if work <= 0 or n < 6:
            return saved
        bridging = True
        # Two neighbouring stretches change places.
        state ^= state << np.uint64(13)
        state ^= state >> np.uint64(7)
        state ^= state << np.uint64(17)
        one = 1 + int(state % np.uint64(_BRIDGE))
        state ^= state << np.uint64(13)
        state ^= state >> np.uint64(7)
        state ^= state << np.uint64(17)
        two = 1 + int(state % np.uint64(_BRIDGE))
        state ^= state << np.uint64(13)
        state ^= state >> np.uint64(7)
        state ^= state << np.uint64(17)
        most = (n - 1) // 2
        one, two = min(one, most), min(two, most)
        a = 1 + int(state % np.uint64(n - one - two)) if n - one - two > 0 else 1
        b = a + one - 1
        k = b + two
        work -= 4
        if k > n - 1 or (waits and not _passable(order, pos, head, after, a, b, k)):
            work -= 4
            continue
        p, q, r, c = order[a - 1], order[a], order[b], order[b + 1]
        e = order[k]
        d = -1 if k == n - 1 and not closed else (order[k + 1] if k < n - 1 else order[0])
        gained = _way(sx, sy, ex, ey, p, c) - _way(sx, sy, ex, ey, p, q)
        gained += _way(sx, sy, ex, ey, e, q) - _way(sx, sy, ex, ey, r, c)
        if d >= 0:
            gained += _way(sx, sy, ex, ey, r, d) - _way(sx, sy, ex, ey, e, d)
        bridge = ((a, k), (a, a + two - 1), (a + two, k))
        for number in range(3):
            i, j = bridge[number]
            _reverse(order, pos, i, j)
            log[number, 0], log[number, 1] = i, j
        logged = 3
        for t in (p, q, r, c, e, d):
            if t >= 0 and not queued[t]:
                queued[t] = True
                queue[waiting] = t
                waiting += 1
