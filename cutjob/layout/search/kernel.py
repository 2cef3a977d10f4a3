"""The compiled core of the layout search: it pushes overlapping parts in boxes apart, one move at a time.

Bodies are sets of convex pieces. The depth of their overlap comes from the no-fit polygons of their pieces (Minkowski
sums), which are worked out when first needed. The weight of pairs that keep colliding grows (guided local search, after
Umetani et al. 2009 and Gardeyn et al. 2025). Only plain arithmetic is used, so the same seed gives the same moves on
any machine.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from cutjob.compiled import compiled, compiled_inside, whole
from cutjob.layout.search.arrangement import Overlaps, Weights, no_overlaps, no_weights, pair_of, reweighed, weight_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Bodies(NamedTuple):
    """Every pose (a body in one of its turns) as convex pieces, corners counter-clockwise about the body's origin."""

    piece: Ints  # (P + 1,) pieces of pose p: piece[p] to piece[p + 1]
    raw_at: Ints  # (K + 1,) corners of piece k in `raw`
    raw: Floats  # (.., 2)
    grown_at: Ints  # (K + 1,) the same, grown by the gap
    grown: Floats
    box: Floats  # (P, 4) extents of the raw pose: x0, y0, x1, y1
    grown_box: Floats  # (P, 4)
    twin: Ints  # (P,) the pose that is this one turned by 180 degrees about the origin, or -1


class Pool(NamedTuple):
    """No-fit polygons worked out so far, one record after another, each read from its start.

    A plain record has the number of polygons, then for each its extents x0, y0, x1, y1, its number of half planes, and
    each half plane nx, ny, c (nx x + ny y <= c). A record of many polygons is a grid over their extents: -1, left,
    lower, cells per unit along x and along y, the start of each cell's list (from the record's start) and the end of
    the last. A list has, for each polygon that reaches into the cell, the number of half planes that matter there, and
    these.
    """

    at: NDArray[np.int64]  # (P, P) pair -> start of its record in `data`, -1 where not yet known
    data: Floats
    work: Floats  # the polygons of the pair being worked out
    used: NDArray[np.int64]  # (2,) the length of `data` in use, and whether grids were too large for it


class Places(NamedTuple):
    """The place of everything. Items from `movable` on are obstacles and never move."""

    pose: Ints  # (n,)
    space: Ints  # (n,)
    x: Floats
    y: Floats
    members: Ints  # (B, n) the items of each space, in any order
    many: Ints  # (B,) their number
    box: Floats  # (n, 4) extents of each item in its place, grown by its gap


class Rules(NamedTuple):
    """The allowed poses and spaces of each item."""

    movable: int
    poses_at: Ints  # (n + 1,) poses of item i: poses[poses_at[i] : poses_at[i + 1]]
    poses: Ints
    spaces: Floats  # (B, 4) boxes: x0, y0, x1, y1
    allowed: NDArray[np.bool_]  # (n, B)
    eps: float


class _Best(NamedTuple):
    """The best places of a move tried so far, `_KEPT` of them, the best first."""

    pose: Ints
    space: Ints
    x: Floats
    y: Floats
    cost: Floats


_CELLS = 8  # of a grid, along each side
_MANY, _TOO_MANY = 6, 150  # polygons of a pair between which a grid is worthwhile
_KEPT = 3  # best positions of a move, from which it slides on
# Half planes are read by unsigned numbers. A signed one might count from the end; to see that it doesn't takes a
# seventh of the time of a move.
_unsigned: Any = np.uint64
_U1, _U2, _U3 = _unsigned(1), _unsigned(2), _unsigned(3)
_X, _Y, _NONE, _ONE = whole(0), whole(1), whole(0), whole(1)
_SLIDES, _INSERT_SLIDES = whole(10), whole(12)  # steps of a slide
_FAST = {"nnan", "ninf", "nsz"}


@compiled(nogil=True)
def next_random(rng: NDArray[np.uint64]) -> float:
    """Return the next of a xorshift64* stream as a float in [0, 1)."""
    x = rng[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    rng[0] = x
    return float((x * np.uint64(2685821657736338717)) >> np.uint64(11)) / 9007199254740992.0


@compiled_inside(nogil=True)
def _no_fit(bodies: Bodies, k: int, m: int, data: Floats, o: int) -> int:
    """Write the no-fit polygon of grown piece k and raw piece m at data[o:]; return its end, -1 for no room."""
    g0, g1 = bodies.grown_at[k], bodies.grown_at[k + 1]
    r0, r1 = bodies.raw_at[m], bodies.raw_at[m + 1]
    na, nb = g1 - g0, r1 - r0
    if o + 5 + 3 * (na + nb) > data.shape[0]:
        return -1
    a = g0
    for i in range(g0 + 1, g1):
        if bodies.grown[i, 1] < bodies.grown[a, 1] or (
            bodies.grown[i, 1] == bodies.grown[a, 1] and bodies.grown[i, 0] < bodies.grown[a, 0]
        ):
            a = i
    b = r0
    for i in range(r0 + 1, r1):
        if bodies.raw[i, 1] > bodies.raw[b, 1] or (
            bodies.raw[i, 1] == bodies.raw[b, 1] and bodies.raw[i, 0] > bodies.raw[b, 0]
        ):
            b = i
    x = bodies.grown[a, 0] - bodies.raw[b, 0]
    y = bodies.grown[a, 1] - bodies.raw[b, 1]
    x0 = x1 = x
    y0 = y1 = y
    i = j = 0
    e = o + 5
    while i < na or j < nb:
        a1 = a + 1 if a + 1 < g1 else g0
        b1 = b + 1 if b + 1 < r1 else r0
        ax, ay = bodies.grown[a1, 0] - bodies.grown[a, 0], bodies.grown[a1, 1] - bodies.grown[a, 1]
        bx, by = bodies.raw[b, 0] - bodies.raw[b1, 0], bodies.raw[b, 1] - bodies.raw[b1, 1]
        if i >= na:
            turn = -1.0
        elif j >= nb:
            turn = 1.0
        else:
            upper_a = ay > 0 or (ay == 0 and ax > 0)
            upper_b = by > 0 or (by == 0 and bx > 0)
            turn = (1.0 if upper_a else -1.0) if upper_a != upper_b else ax * by - ay * bx
        ex = ey = 0.0
        if turn >= 0:
            ex, ey = ex + ax, ey + ay
            i += 1
            a = a1
        if turn <= 0:
            ex, ey = ex + bx, ey + by
            j += 1
            b = b1
        length = np.sqrt(ex * ex + ey * ey)
        if length > 0.0:
            data[e], data[e + 1] = ey / length, -ex / length
            data[e + 2] = (ey * x - ex * y) / length
            e += 3
        x, y = x + ex, y + ey
        x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
    data[o], data[o + 1], data[o + 2], data[o + 3] = x0, y0, x1, y1
    data[o + 4] = (e - o - 5) // 3
    return e


@compiled_inside(nogil=True)
def _grid(work: Floats, data: Floats, o: int) -> int:
    """Write the grid over the polygons in `work` at data[o:]; return its end, -1 for no room."""
    polygons = int(work[0])
    x0 = y0 = 1e300
    x1 = y1 = -1e300
    at = 1
    for _ in range(polygons):
        x0, y0 = min(x0, work[at]), min(y0, work[at + 1])
        x1, y1 = max(x1, work[at + 2]), max(y1, work[at + 3])
        at += 5 + 3 * int(work[at + 4])
    end = o + 6 + _CELLS * _CELLS
    if end > data.shape[0]:
        return -1
    data[o] = -1.0
    data[o + 1], data[o + 2], data[o + 3], data[o + 4] = x0, y0, _CELLS / (x1 - x0), _CELLS / (y1 - y0)
    # A hair wider than a cell, so that rounding never moves a point outside its list.
    half_x, half_y = 0.50001 * (x1 - x0) / _CELLS, 0.50001 * (y1 - y0) / _CELLS
    for row in range(_CELLS):
        y = y0 + (row + 0.5) * (y1 - y0) / _CELLS
        for column in range(_CELLS):
            x = x0 + (column + 0.5) * (x1 - x0) / _CELLS
            data[o + 5 + row * _CELLS + column] = end - o
            at = 1
            for _ in range(polygons):
                first, last = at + 5, at + 5 + 3 * int(work[at + 4])
                clear = (
                    x + half_x <= work[at]
                    or x - half_x >= work[at + 2]
                    or y + half_y <= work[at + 1]
                    or y - half_y >= work[at + 3]
                )
                at = last
                if clear:
                    continue
                # A half plane matters if it may be the nearest somewhere in the cell; one wholly outside excludes the
                # polygon.
                most = -1e300
                for e in range(first, last, 3):
                    d = work[e] * x + work[e + 1] * y - work[e + 2]
                    most = max(most, d - abs(work[e]) * half_x - abs(work[e + 1]) * half_y)
                if most >= 0.0:
                    continue
                if end + 1 + last - first > data.shape[0]:
                    return -1
                to = end + 1
                for e in range(first, last, 3):
                    d = work[e] * x + work[e + 1] * y - work[e + 2]
                    if d + abs(work[e]) * half_x + abs(work[e + 1]) * half_y >= most:
                        data[to], data[to + 1], data[to + 2] = work[e], work[e + 1], work[e + 2]
                        to += 3
                data[end] = (to - end - 1) // 3
                end = to
    data[o + 5 + _CELLS * _CELLS] = end - o
    return end


@compiled_inside(nogil=True)
def _work_out(bodies: Bodies, pool: Pool, p: int, q: int) -> int:
    """Work out the no-fit polygons of pose p (fixed, grown) and q (moving); a full pool is emptied first, and then used
    without grids.

    Returns the start of the record. The pool must have room for the polygons of any single pair.
    """
    polygons = 0
    end = _ONE
    for k in range(bodies.piece[p], bodies.piece[p + 1]):
        for m in range(bodies.piece[q], bodies.piece[q + 1]):
            end = _no_fit(bodies, k, m, pool.work, end)
            polygons += 1
    pool.work[0] = polygons
    for _ in range(2):
        o = int(pool.used[0])
        last = -1
        if _MANY <= polygons <= _TOO_MANY and pool.used[1] == 0:
            last = _grid(pool.work, pool.data, o)
        elif o + end <= pool.data.shape[0]:
            for k in range(end):
                pool.data[o + k] = pool.work[k]
            last = o + end
        if last >= 0:
            pool.used[0] = last
            pool.at[p, q] = o
            return o
        pool.at[:, :] = -1
        pool.used[0], pool.used[1] = 0, 1
    return o


@compiled_inside(nogil=True, fastmath=_FAST)
def _depth(bodies: Bodies, pool: Pool, p: int, q: int, dx: float, dy: float, eps: float) -> float:
    """Return the depth of pose q at (dx, dy) in pose p: the sum over pairs of pieces, 0 where they are clear."""
    flipped = 0 <= bodies.twin[p] < p and bodies.twin[q] >= 0
    if flipped:  # two poses turned together: what is known of the unturned ones, seen from the other side
        p, q, dx, dy = bodies.twin[p], bodies.twin[q], -dx, -dy
    o = pool.at[p, q]
    if o < 0:
        o = _work_out(bodies, pool, p, q)
    data = pool.data
    total = 0.0
    polygons = int(data[o])
    if polygons < 0:
        column = int((dx - data[o + 1]) * data[o + 3])
        row = int((dy - data[o + 2]) * data[o + 4])
        if column < 0 or row < 0 or column >= _CELLS or row >= _CELLS:
            return 0.0
        cell = o + 5 + row * _CELLS + column
        at, end = o + int(data[cell]), o + int(data[cell + 1])
        while at < end:
            first = at + 1
            at = first + 3 * int(data[at])
            most = -1e300
            for e in range(_unsigned(first), _unsigned(at), _U3):
                d = data[e] * dx + data[e + _U1] * dy - data[e + _U2]
                if d > most:
                    most = d
                    if d > -eps:
                        break
            if most < -eps:
                total -= most
        return total
    at = o + 1
    for _ in range(polygons):
        first = at + 5
        clear = dx <= data[at] or dy <= data[at + 1] or dx >= data[at + 2] or dy >= data[at + 3]
        at = first + 3 * int(data[at + 4])
        if clear:
            continue
        most = -1e300
        for e in range(_unsigned(first), _unsigned(at), _U3):
            d = data[e] * dx + data[e + _U1] * dy - data[e + _U2]
            if d > most:
                most = d
                if d > -eps:
                    break
        if most < -eps:
            total -= most
    return total


@compiled_inside(nogil=True)
def _cost(
    bodies: Bodies,
    pool: Pool,
    places: Places,
    rules: Rules,
    weights: Weights,
    i: int,
    pose: int,
    space: int,
    x: float,
    y: float,
    limit: float,
) -> float:
    """Return the weighted depth of item i at a place; stops at `limit`."""
    total = 0.0
    x0, y0 = x + bodies.box[pose, 0], y + bodies.box[pose, 1]
    x1, y1 = x + bodies.box[pose, 2], y + bodies.box[pose, 3]
    for at in range(places.many[space]):
        j = places.members[space, at]
        if x1 <= places.box[j, 0] or x0 >= places.box[j, 2] or y1 <= places.box[j, 1] or y0 >= places.box[j, 3]:
            continue
        if j == i:
            continue
        dx, dy = x - places.x[j], y - places.y[j]
        # The item with the lower index is fixed and grown; obstacles always are.
        p, q = places.pose[j], pose
        if i < j < rules.movable:
            p, q, dx, dy = q, p, -dx, -dy
        d = _depth(bodies, pool, p, q, dx, dy, rules.eps)
        if d > 0.0:
            total += weight_of(weights, pair_of(i, j, places.x.shape[0])) * d
            if total >= limit:
                return total
    return total


@compiled_inside(nogil=True, fastmath=_FAST)
def _push(bodies: Bodies, pool: Pool, p: int, q: int, dx: float, dy: float, eps: float) -> tuple[float, float, float]:
    """Return the depth as `_depth` does, and the way out for pose q along x and y: the sum of the normals."""
    flipped = 0 <= bodies.twin[p] < p and bodies.twin[q] >= 0
    if flipped:  # two poses turned together: what is known of the unturned ones, seen from the other side
        p, q, dx, dy = bodies.twin[p], bodies.twin[q], -dx, -dy
    o = pool.at[p, q]
    if o < 0:
        o = _work_out(bodies, pool, p, q)
    data = pool.data
    side = -1.0 if flipped else 1.0
    total = push_x = push_y = 0.0
    polygons = int(data[o])
    if polygons < 0:
        column = int((dx - data[o + 1]) * data[o + 3])
        row = int((dy - data[o + 2]) * data[o + 4])
        if column < 0 or row < 0 or column >= _CELLS or row >= _CELLS:
            return 0.0, 0.0, 0.0
        cell = o + 5 + row * _CELLS + column
        at, end = o + int(data[cell]), o + int(data[cell + 1])
        while at < end:
            first = at + 1
            at = first + 3 * int(data[at])
            most = -1e300
            near = _unsigned(first)
            for e in range(_unsigned(first), _unsigned(at), _U3):
                d = data[e] * dx + data[e + _U1] * dy - data[e + _U2]
                if d > most:
                    most = d
                    near = e
                    if d > -eps:
                        break
            if most < -eps:
                total -= most
                push_x += side * data[near]
                push_y += side * data[near + _U1]
        return total, push_x, push_y
    at = o + 1
    for _ in range(polygons):
        first = at + 5
        clear = dx <= data[at] or dy <= data[at + 1] or dx >= data[at + 2] or dy >= data[at + 3]
        at = first + 3 * int(data[at + 4])
        if clear:
            continue
        most = -1e300
        near = _unsigned(first)
        for e in range(_unsigned(first), _unsigned(at), _U3):
            d = data[e] * dx + data[e + _U1] * dy - data[e + _U2]
            if d > most:
                most = d
                near = e
                if d > -eps:
                    break
        if most < -eps:
            total -= most
            push_x += side * data[near]
            push_y += side * data[near + _U1]
    return total, push_x, push_y


@compiled_inside(nogil=True)
def _cost_push(
    bodies: Bodies,
    pool: Pool,
    places: Places,
    rules: Rules,
    weights: Weights,
    i: int,
    pose: int,
    space: int,
    x: float,
    y: float,
) -> tuple[float, float, float]:
    """Return the weighted depth of item i at a place, and the weighted way out along x and y."""
    total = out_x = out_y = 0.0
    x0, y0 = x + bodies.box[pose, 0], y + bodies.box[pose, 1]
    x1, y1 = x + bodies.box[pose, 2], y + bodies.box[pose, 3]
    for at in range(places.many[space]):
        j = places.members[space, at]
        if x1 <= places.box[j, 0] or x0 >= places.box[j, 2] or y1 <= places.box[j, 1] or y0 >= places.box[j, 3]:
            continue
        if j == i:
            continue
        dx, dy = x - places.x[j], y - places.y[j]
        still = not i < j < rules.movable
        p, q = places.pose[j], pose
        if not still:
            p, q, dx, dy = q, p, -dx, -dy
        d, push_x, push_y = _push(bodies, pool, p, q, dx, dy, rules.eps)
        if d <= 0.0:
            continue
        w = weight_of(weights, pair_of(i, j, places.x.shape[0]))
        total += w * d
        if not still:
            w = -w
        out_x += w * push_x
        out_y += w * push_y
    return total, out_x, out_y


@compiled_inside(nogil=True)
def _slide(
    bodies: Bodies,
    pool: Pool,
    places: Places,
    rules: Rules,
    weights: Weights,
    i: int,
    pose: int,
    space: int,
    x: float,
    y: float,
    steps: int,
) -> tuple[float, float, float, int]:
    """Slide along the way out: each step is just long enough to end the overlap if nothing else were near.

    Returns x, y, the cost there, and the positions tried.
    """
    x0, x1 = rules.spaces[space, 0] - bodies.box[pose, 0], rules.spaces[space, 2] - bodies.box[pose, 2]
    y0, y1 = rules.spaces[space, 1] - bodies.box[pose, 1], rules.spaces[space, 3] - bodies.box[pose, 3]
    cost, out_x, out_y = _cost_push(bodies, pool, places, rules, weights, i, pose, space, x, y)
    count = 1
    t = 1.0
    for _ in range(steps):
        if cost <= 0.0:
            break
        gx, gy = out_x, out_y
        # At the edge of the space an item can only move along it.
        if (x <= x0 and gx < 0.0) or (x >= x1 and gx > 0.0):
            gx = 0.0
        if (y <= y0 and gy < 0.0) or (y >= y1 and gy > 0.0):
            gy = 0.0
        g2 = gx * gx + gy * gy
        if g2 < 1e-18:
            break
        f = t * cost * (1.0 + 1e-9) / g2
        nx, ny = min(max(x + f * gx, x0), x1), min(max(y + f * gy, y0), y1)
        c, new_x, new_y = _cost_push(bodies, pool, places, rules, weights, i, pose, space, nx, ny)
        count += 1
        if c < cost:
            x, y, cost = nx, ny, c
            out_x, out_y = new_x, new_y
            t = min(1.0, t * 2.0)
        else:
            t *= 0.5
            if t < 0.05:
                break
    return x, y, cost, count


@compiled_inside(nogil=True)
def _flush(
    bodies: Bodies, places: Places, rng: NDArray[np.uint64], pose: int, space: int, axis: int, low: float, high: float
) -> float:
    """Return a place along an axis flush with one side of some item, or with an end of the space."""
    pick = int(next_random(rng) * (places.many[space] + 1))
    before = next_random(rng) < 0.5
    if pick == places.many[space]:
        return low if before else high
    j = places.members[space, pick]
    if before:
        return float(places.box[j, axis] - bodies.box[pose, axis + 2])
    return float(places.box[j, axis + 2] - bodies.box[pose, axis])


@compiled_inside(nogil=True)
def _search(
    bodies: Bodies,
    pool: Pool,
    places: Places,
    rules: Rules,
    weights: Weights,
    rng: NDArray[np.uint64],
    i: int,
    wide: int,
    near: int,
    kept: _Best,
) -> tuple[int, int, float, float, float, int]:
    """Return the best place found for item i: pose, space, x, y, cost, positions tried. `kept` is written over."""
    keep = _KEPT
    best_pose, best_space, best_x, best_y, best = kept
    for k in range(keep):
        best[k] = 1e300
    count = 0
    first, last = rules.poses_at[i], rules.poses_at[i + 1]
    boxes = rules.spaces.shape[0]
    for sample in range(wide + near + 1):
        if sample == 0:
            pose, space, x, y = places.pose[i], places.space[i], places.x[i], places.y[i]
        elif sample <= near:
            pose, space = places.pose[i], places.space[i]
            reach_x = 0.1 * (rules.spaces[space, 2] - rules.spaces[space, 0])
            reach_y = 0.1 * (rules.spaces[space, 3] - rules.spaces[space, 1])
            x = places.x[i] + (2.0 * next_random(rng) - 1.0) * reach_x
            y = places.y[i] + (2.0 * next_random(rng) - 1.0) * reach_y
        else:
            pose = rules.poses[first + int(next_random(rng) * (last - first))]
            space = int(next_random(rng) * boxes) if boxes > 1 else 0
            if not rules.allowed[i, space]:
                continue
            x = y = 0.0
        x0, x1 = rules.spaces[space, 0] - bodies.box[pose, 0], rules.spaces[space, 2] - bodies.box[pose, 2]
        y0, y1 = rules.spaces[space, 1] - bodies.box[pose, 1], rules.spaces[space, 3] - bodies.box[pose, 3]
        if x1 < x0 or y1 < y0:
            continue
        if sample > near:
            if sample % 2 == 0 and places.many[space] > 1:
                # Flush with the extents of others, or with the space's own edges, for shapes with right angles.
                x = _flush(bodies, places, rng, pose, space, _X, x0, x1)
                y = _flush(bodies, places, rng, pose, space, _Y, y0, y1)
            else:
                x = x0 + next_random(rng) * (x1 - x0)
                y = y0 + next_random(rng) * (y1 - y0)
        x, y = min(max(x, x0), x1), min(max(y, y0), y1)
        count += 1
        c = _cost(bodies, pool, places, rules, weights, i, pose, space, x, y, best[keep - 1])
        if c < best[keep - 1]:
            k = keep - 1
            while k > 0 and best[k - 1] > c:
                best[k], best_pose[k], best_space[k] = best[k - 1], best_pose[k - 1], best_space[k - 1]
                best_x[k], best_y[k] = best_x[k - 1], best_y[k - 1]
                k -= 1
            best[k], best_pose[k], best_space[k], best_x[k], best_y[k] = c, pose, space, x, y
            if c == 0.0:
                break
    if best[0] > 0.0:
        for k in range(keep):
            if best[k] < 1e299:
                best_x[k], best_y[k], best[k], more = _slide(
                    bodies,
                    pool,
                    places,
                    rules,
                    weights,
                    i,
                    best_pose[k],
                    best_space[k],
                    best_x[k],
                    best_y[k],
                    _SLIDES,
                )
                count += more
                if best[k] == 0.0:
                    break
        k = 0
        for other in range(1, keep):
            if best[other] < best[k]:
                k = other
    else:
        k = 0
    return best_pose[k], best_space[k], best_x[k], best_y[k], best[k], count


@compiled(nogil=True)
def overlaps_of(
    bodies: Bodies, pool: Pool, places: Places, rules: Rules, overlaps: Overlaps
) -> tuple[float, int, Overlaps]:
    """Return the total depth of all overlaps, the number of pairs that overlap, and these pairs, in `overlaps` or, if
    there are too many, in longer lists.
    """
    total = 0.0
    many = 0
    for space in range(places.many.shape[0]):
        for at in range(places.many[space]):
            for other in range(at):
                i, j = places.members[space, at], places.members[space, other]
                if i > j:
                    i, j = j, i
                if i >= rules.movable:
                    continue
                if (
                    places.box[i, 2] <= places.box[j, 0]
                    or places.box[i, 0] >= places.box[j, 2]
                    or places.box[i, 3] <= places.box[j, 1]
                    or places.box[i, 1] >= places.box[j, 3]
                ):
                    continue
                dx, dy = places.x[j] - places.x[i], places.y[j] - places.y[i]
                p, q = places.pose[i], places.pose[j]
                if j >= rules.movable:
                    p, q, dx, dy = q, p, -dx, -dy
                d = _depth(bodies, pool, p, q, dx, dy, rules.eps)
                if d > 0.0:
                    if many == overlaps.pair.shape[0]:
                        longer = no_overlaps(2 * many)
                        longer.pair[:many], longer.depth[:many] = overlaps.pair, overlaps.depth
                        overlaps = longer
                    overlaps.pair[many], overlaps.depth[many] = pair_of(i, j, places.x.shape[0]), d
                    many += 1
                    total += d
    return total, many, overlaps


def put(bodies: Bodies, places: Places, i: int, pose: int, space: int, x: float, y: float) -> None:
    """Move item i to another place; space -1 takes it out. Plain Python: compiled functions have `_put`."""
    old = places.space[i]
    if old != space:
        if old >= 0:
            for at in range(places.many[old]):
                if places.members[old, at] == i:
                    places.many[old] -= 1
                    places.members[old, at] = places.members[old, places.many[old]]
                    break
        if space >= 0:
            places.members[space, places.many[space]] = i
            places.many[space] += 1
    places.pose[i], places.space[i], places.x[i], places.y[i] = pose, space, x, y
    places.box[i, 0], places.box[i, 1] = x + bodies.grown_box[pose, 0], y + bodies.grown_box[pose, 1]
    places.box[i, 2], places.box[i, 3] = x + bodies.grown_box[pose, 2], y + bodies.grown_box[pose, 3]


_put = compiled_inside(nogil=True)(put)


@compiled(nogil=True)
def separate(
    bodies: Bodies,
    pool: Pool,
    places: Places,
    rules: Rules,
    weights: Weights,
    rng: NDArray[np.uint64],
    budget: int,
    patience: int,
    strikes: int,
    wide: int,
    near: int,
) -> tuple[float, int, bool, Weights]:
    """Move items until nothing overlaps; return the loss left (0: done), the positions tried, whether it finished, and
    the weights, with which to go on if it did not.

    It ends with the least loss found in `places` after `strikes` times `patience` rounds in a row without a gain, or
    when the budget of positions is used up.
    """
    n = places.x.shape[0]
    loss, many, overlaps = overlaps_of(bodies, pool, places, rules, no_overlaps(4 * n))
    best = loss
    best_pose, best_space = places.pose.copy(), places.space.copy()
    best_x, best_y = places.x.copy(), places.y.copy()
    order = np.empty(rules.movable, np.int64)
    colliding = np.zeros(n, np.bool_)
    kept = _Best(
        np.empty(_KEPT, np.int64), np.empty(_KEPT, np.int64), np.empty(_KEPT), np.empty(_KEPT), np.empty(_KEPT)
    )
    tried = 0
    struck = 0
    while best > 0.0 and struck < strikes and tried < budget:
        start = best
        stale = 0
        while stale < patience and tried < budget:
            # First the weights: those of the present collisions grow.
            if many > 0:
                weights = reweighed(weights, overlaps, many)
            colliding[:] = False
            for k in range(many):
                colliding[overlaps.pair[k] // n] = True
                colliding[overlaps.pair[k] % n] = True
            count = 0
            for i in range(rules.movable):
                if colliding[i]:
                    order[count] = i
                    count += 1
            for k in range(count - 1, 0, -1):
                m = int(next_random(rng) * (k + 1))
                order[k], order[m] = order[m], order[k]
            for k in range(count):
                i = order[k]
                current = _cost(
                    bodies,
                    pool,
                    places,
                    rules,
                    weights,
                    i,
                    places.pose[i],
                    places.space[i],
                    places.x[i],
                    places.y[i],
                    1e300,
                )
                tried += 1
                if current == 0.0:
                    continue
                pose, space, x, y, c, more = _search(bodies, pool, places, rules, weights, rng, i, wide, near, kept)
                tried += more
                if c < current:
                    _put(bodies, places, i, pose, space, x, y)
            loss, many, overlaps = overlaps_of(bodies, pool, places, rules, overlaps)
            if loss < best:
                stale = 0 if loss < 0.98 * best else stale + 1
                best = loss
                best_pose[:], best_space[:] = places.pose, places.space
                best_x[:], best_y[:] = places.x, places.y
                if best == 0.0:
                    break
            else:
                stale += 1
        for i in range(rules.movable):
            _put(bodies, places, i, best_pose[i], best_space[i], best_x[i], best_y[i])
        if best > 0.0:
            _, many, overlaps = overlaps_of(bodies, pool, places, rules, overlaps)
        struck = struck + 1 if best > 0.98 * start else 0
    return best, tried, best == 0.0 or struck >= strikes, weights


@compiled(nogil=True)
def insert(
    bodies: Bodies,
    pool: Pool,
    places: Places,
    rules: Rules,
    rng: NDArray[np.uint64],
    i: int,
    first_space: int,
    samples: int,
) -> tuple[int, int]:
    """Put item i, which has no place yet, into the first space from `first_space` on where a clear place is found.

    Of the clear places found there it takes the one nearest the left end. Returns the space or -1, and the positions
    tried.
    """
    weights = no_weights(_NONE)
    count = 0
    for space in range(first_space, rules.spaces.shape[0]):
        if not rules.allowed[i, space]:
            continue
        best = 1e300
        best_pose, best_x, best_y = rules.poses[rules.poses_at[i]], 0.0, 0.0
        for k in range(rules.poses_at[i], rules.poses_at[i + 1]):
            pose = rules.poses[k]
            x0, x1 = rules.spaces[space, 0] - bodies.box[pose, 0], rules.spaces[space, 2] - bodies.box[pose, 2]
            y0, y1 = rules.spaces[space, 1] - bodies.box[pose, 1], rules.spaces[space, 3] - bodies.box[pose, 3]
            if x1 < x0 - rules.eps or y1 < y0 - rules.eps:
                continue
            for sample in range(samples):
                # First the corners, then everywhere, more often to the left.
                u = next_random(rng)
                x = x0 + u * u * max(0.0, x1 - x0)
                v = next_random(rng)
                y = y0 + min(1.0, max(0.0, 1.4 * v - 0.2)) * max(0.0, y1 - y0)
                if sample < 2:
                    x, y = x0, y0 if sample == 0 else max(y0, y1)
                x, y, c, more = _slide(bodies, pool, places, rules, weights, i, pose, space, x, y, _INSERT_SLIDES)
                count += more
                if c == 0.0:
                    # Move to the left end in halving steps, as long as nothing is in the way.
                    step = 0.5 * (x - x0)
                    while step > 0.002 * (bodies.box[pose, 3] - bodies.box[pose, 1]):
                        if x - step >= x0:
                            count += 1
                            if _cost(bodies, pool, places, rules, weights, i, pose, space, x - step, y, 1e-300) == 0.0:
                                x -= step
                                continue
                        step *= 0.5
                    reach = x + bodies.box[pose, 2] + 0.01 * (y - y0)
                    if reach < best:
                        best, best_pose, best_x, best_y = reach, pose, x, y
        if best < 1e299:
            _put(bodies, places, i, best_pose, space, best_x, best_y)
            return space, count
    return -1, count
