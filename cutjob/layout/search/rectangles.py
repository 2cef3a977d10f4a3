"""Lays rectangles in a plain box one after the other on a skyline, and looks for better orders by annealing.

At each step the lowest stretch of the skyline takes the rectangle that fits it best, in the order given among equals
(Leung, Zhang and Sim 2011, "A two-stage intelligent search algorithm for the two-dimensional strip packing problem").
Orders are changed by exchanging two; a worse order is taken if it is worse by less than a falling threshold
(Dueck and Scheuer 1990), which needs no exponential and so gives the same on any machine.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from cutjob.compiled import compiled
from cutjob.layout.search.arrangement import Arrangement, Limit
from cutjob.layout.search.bodies import Problem
from cutjob.layout.search.kernel import Floats, Ints, next_random

_CYCLE = 30_000  # orders tried while the threshold falls once
_SAME = 1e-7  # share of a side by which corners may differ from a rectangle's
_CHUNK = 1000  # orders tried between checks of the limit
_THRESHOLD = 0.03  # at its start, as a share of the length


@compiled(nogil=True)
def lay_on_skyline(
    along: Floats,
    across: Floats,
    options: Ints,
    order: Ints,
    width: float,
    eps: float,
    x: Floats,
    y: Floats,
    option: Ints,
    length: float,
) -> float:
    """Lay rectangle i, of extents along[i, k] by across[i, k] in its k-th option, at x[i], y[i] of a strip.

    Arrays are (n, 2) and (n,); the strip is `width` across and `length` long; a rectangle without room has option -1.
    Returns the value to minimise: the length reached and the mean height of the skyline.
    """
    n = order.shape[0]
    place, size, top = np.empty(n + 2), np.empty(n + 2), np.empty(n + 2)
    place[0], size[0], top[0] = 0.0, width, 0.0
    many = 1
    done = np.zeros(n, np.bool_)
    reach = 0.0
    left = n
    option[:] = -1
    while left > 0:
        s = 0
        for k in range(1, many):
            if top[k] < top[s]:
                s = k
        before = top[s - 1] if s > 0 else 1e300
        after = top[s + 1] if s + 1 < many else 1e300
        best, best_fit, best_option = -1, -1, 0
        last = -1
        for t in range(n):
            i = order[t]
            if done[i]:
                continue
            if last >= 0 and along[i, 0] == along[last, 0] and across[i, 0] == across[last, 0]:
                continue  # the same as the one before
            last = i
            for k in range(options[i]):
                if across[i, k] > size[s] + eps or top[s] + along[i, k] > length + eps:
                    continue
                high = top[s] + along[i, k]
                level = abs(high - before) <= eps or abs(high - after) <= eps
                if abs(across[i, k] - size[s]) <= eps:
                    fit = 4 if level else (3 if high < max(before, after) else 2)
                else:
                    fit = 1 if level else 0
                if fit > best_fit:
                    best, best_fit, best_option = i, fit, k
            if best_fit == 4:
                break
        if best < 0 and many == 1:
            break
        if best < 0:
            top[s] = min(before, after)
        else:
            high, room = top[s] + along[best, best_option], across[best, best_option]
            # Beside the neighbour it is level with, else beside the higher one.
            if abs(high - before) <= eps or abs(high - after) <= eps:
                low_side = abs(high - before) <= eps
            else:
                low_side = before >= after
            x[best], option[best] = top[s], best_option
            y[best] = place[s] if low_side else place[s] + size[s] - room
            done[best] = True
            left -= 1
            reach = max(reach, high)
            if size[s] - room <= eps:
                top[s] = high
            else:
                for k in range(many, s + 1, -1):
                    place[k], size[k], top[k] = place[k - 1], size[k - 1], top[k - 1]
                many += 1
                spare = size[s] - room
                if low_side:
                    place[s + 1], size[s + 1], top[s + 1] = place[s] + room, spare, top[s]
                    size[s], top[s] = room, high
                else:
                    place[s + 1], size[s + 1], top[s + 1] = place[s] + spare, room, high
                    size[s] = spare
        # Neighbouring stretches of the same height are joined.
        k = 1
        while k < many:
            if abs(top[k] - top[k - 1]) <= eps:
                size[k - 1] += size[k]
                for m in range(k, many - 1):
                    place[m], size[m], top[m] = place[m + 1], size[m + 1], top[m + 1]
                many -= 1
            else:
                k += 1
    mean = 0.0
    for k in range(many):
        mean += size[k] * top[k]
    return reach + mean / width


@compiled(nogil=True)
def anneal(
    along: Floats,
    across: Floats,
    options: Ints,
    order: Ints,
    width: float,
    eps: float,
    rng: NDArray[np.uint64],
    tries: int,
    begun: int,
) -> tuple[float, Ints]:
    """Change the order, `tries` times; return the least value of `lay_on_skyline` seen and its order.

    `begun` is the number of tries made before, so that the threshold goes on falling. `order` ends as the last one
    taken.
    """
    n = order.shape[0]
    x, y, option = np.empty(n), np.empty(n), np.zeros(n, np.int64)
    now = lay_on_skyline(along, across, options, order, width, eps, x, y, option, 1e300)
    best, best_order = now, order.copy()
    for number in range(begun, begun + tries):
        threshold = _THRESHOLD * best * max(0.0, 1.0 - (number % _CYCLE) / (0.9 * _CYCLE)) ** 2
        a, b = int(next_random(rng) * n), int(next_random(rng) * n)
        order[a], order[b] = order[b], order[a]
        value = lay_on_skyline(along, across, options, order, width, eps, x, y, option, 1e300)
        if value <= now + threshold:
            now = value
            if now < best - eps:
                best = now
                best_order[:] = order
        else:
            order[a], order[b] = order[b], order[a]
        if (number + 1) % _CYCLE == 0:
            order[:] = best_order
            now = best
    return best, best_order


def rectangles_shortened(
    problem: Problem, start: Arrangement, *, space: int, seed: int, limit: Limit
) -> tuple[Arrangement | None, int]:
    """Return the items of a space laid again on a skyline, where that is shorter; None where it is not.

    Returns None at once unless the space has no obstacles and every item in it is a rectangle. Also returns the work
    done, in positions.
    """
    items = np.nonzero(start.space == space)[0]
    if len(items) < 2 or np.any(problem.fixed_space == space):
        return None, 0
    choices = [_options(problem, int(i), space) for i in items]
    if any(not options for options in choices):
        return None, 0
    bodies = problem.bodies
    gap = _gap(problem, choices[0][0])
    x0, y0, _, y1 = problem.spaces[space]
    along, across, options_of = _extents(problem, choices, gap)
    order = np.argsort(-along[:, 0] * across[:, 0], kind="stable").astype(np.int64)
    width, eps = float(y1 - y0 + gap), problem.eps * 10
    best, value, tried = order.copy(), np.inf, 0
    rng = np.array([(seed * 2 + 1) * 0x9E3779B97F4A7C15 & (2**64 - 1)], np.uint64)
    while not limit.over(tried * len(items)):
        found, candidate = anneal(along, across, options_of, order, width, eps, rng, _CHUNK, tried)
        tried += _CHUNK
        if found < value:
            best, value = candidate, found
    x, y, option = np.zeros(len(items)), np.zeros(len(items)), np.zeros(len(items), np.int64)
    lay_on_skyline(along, across, options_of, best, width, eps, x, y, option, 1e300)
    pose = np.array([choices[row][k] for row, k in enumerate(option.tolist())], np.int64)
    reach = float((x + bodies.box[pose, 2] - bodies.box[pose, 0]).max()) + x0
    before = float((start.x[items] + bodies.box[start.pose[items], 2]).max())
    if reach >= before or np.any(y + bodies.box[pose, 3] - bodies.box[pose, 1] > y1 - y0 + eps):
        return None, tried * len(items)
    result = Arrangement(pose=start.pose.copy(), space=start.space, x=start.x.copy(), y=start.y.copy())
    result.pose[items] = pose
    result.x[items] = x + x0 - bodies.box[pose, 0]
    result.y[items] = np.minimum(y + y0, y1 - (bodies.box[pose, 3] - bodies.box[pose, 1])) - bodies.box[pose, 1]
    return result, tried * len(items)


def filled_rows(problem: Problem) -> tuple[Arrangement, int]:
    """Fill one space after the other with rectangles on a skyline, each in the best of a few orders.

    For problems that `are_rectangles`. Some items may stay without a place. Also returns the work done, in positions.
    """
    n, box = problem.movable, problem.bodies.box
    gap = _gap(problem, problem.item_poses[0][0])
    pose = np.array([poses[0] for poses in problem.item_poses], np.int64)
    at = Arrangement(pose=pose, space=np.full(n, -1, np.int64), x=np.zeros(n), y=np.zeros(n))
    tried = 0
    for space in range(len(problem.spaces)):
        choices = {int(i): _options(problem, int(i), space) for i in np.nonzero(at.space < 0)[0]}
        items = [i for i, options in choices.items() if options and problem.allowed[i, space]]
        if not items:
            continue
        x0, y0, x1, y1 = problem.spaces[space]
        best, most = None, 0.0
        for first in (0, -1):
            options = [choices[i] if first == 0 else choices[i][::-1] for i in items]
            along, across, many = _extents(problem, options, gap)
            for key in (along[:, 0] * across[:, 0], across[:, 0], along[:, 0]):
                order = np.lexsort((across[:, 0], along[:, 0], -key)).astype(np.int64)
                x, y, option = np.zeros(len(items)), np.zeros(len(items)), np.zeros(len(items), np.int64)
                width, length = float(y1 - y0 + gap), float(x1 - x0 + gap)
                lay_on_skyline(along, across, many, order, width, problem.eps * 10, x, y, option, length)
                tried += len(items)
                area = sum(problem.areas[i] for i, k in zip(items, option.tolist(), strict=True) if k >= 0)
                if area > most:
                    best, most = (x, y, option, options), area
        if best is None:
            continue
        for i, x_i, y_i, k, own in zip(items, *best, strict=True):
            if k >= 0:
                low_x, low_y, high_x, high_y = box[own[k]]
                at.pose[i], at.space[i] = own[k], space
                at.x[i] = min(x0 + x_i, x1 - (high_x - low_x)) - low_x
                at.y[i] = min(y0 + y_i, y1 - (high_y - low_y)) - low_y
    return at, tried


def are_rectangles(problem: Problem) -> bool:
    """Whether there are no obstacles and every item is a rectangle."""
    if len(problem.fixed_pose) or not problem.item_poses:
        return False
    return all(any(_is_upright(problem, pose) for pose in poses) for poses in set(problem.item_poses))


def _gap(problem: Problem, pose: int) -> float:
    return float(problem.bodies.box[pose, 0] - problem.bodies.grown_box[pose, 0])


def _extents(problem: Problem, choices: Sequence[Sequence[int]], gap: float) -> tuple[Floats, Floats, Ints]:
    """Extents along and across of each item in its options (n, 2), with the gap, and its number of options."""
    along, across = np.zeros((len(choices), 2)), np.zeros((len(choices), 2))
    for row, options in enumerate(choices):
        for k, number in enumerate(options):
            low_x, low_y, high_x, high_y = problem.bodies.box[number]
            along[row, k], across[row, k] = high_x - low_x + gap, high_y - low_y + gap
    return along, across, np.array([len(options) for options in choices], np.int64)


def _is_upright(problem: Problem, pose: int) -> bool:
    bodies = problem.bodies
    x0, y0, x1, y1 = bodies.box[pose]
    first, last = bodies.raw_at[bodies.piece[pose]], bodies.raw_at[bodies.piece[pose + 1]]
    corners = sorted((float(x), float(y)) for x, y in bodies.raw[first:last])
    upright = [(x0, y0), (x0, y1), (x1, y0), (x1, y1)]
    return len(corners) == 4 and bool(np.allclose(corners, upright, rtol=0.0, atol=_SAME * max(x1 - x0, y1 - y0)))


def _options(problem: Problem, item: int, space: int) -> list[int]:
    """The poses of an item on the skyline, two at most: along and across; none unless it is a rectangle."""
    looks: dict[tuple[float, float], int] = {}
    for pose in problem.item_poses[item]:
        if not _is_upright(problem, pose):
            continue
        x0, y0, x1, y1 = problem.bodies.box[pose]
        if y1 - y0 <= problem.spaces[space, 3] - problem.spaces[space, 1] + problem.eps:
            looks.setdefault((round(x1 - x0, 6), round(y1 - y0, 6)), pose)
    return list(looks.values())[:2]
