"""Tasks on several boards at once: filling them one part after the other, and emptying some into the others.

Every function may run in another thread or process: arguments and results can be sent, and equal arguments give equal
results. Bundles are items that must be in the same space.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from cutjob.layout.search.arrangement import Arrangement, Limit
from cutjob.layout.search.bodies import Problem
from cutjob.layout.search.separation import SearchState

_BRIEF_SAMPLES, _BRIEF_WINDOW = 4, 4
_GIVING, _GIVING_PATIENCE = 40_000, 15  # positions and rounds without gain for giving away one group of items
_MOST_REFUSED = 40  # groups in a row that no board took
_SAME = 1e-6  # mm2
_LESS = 0.9  # of a group's area: what makes room for it is smaller

Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """An item to lay: `lot` and `bundle` name the items it stays with (-1: none), `demand` the part."""

    lot: int
    bundle: int
    demand: int


def part_of_problem(
    whole: Problem, entries: Sequence[Entry], spaces: Sequence[int], holds: Flags, at: Arrangement | None = None
) -> Problem:
    """Return the problem of laying the entries in the spaces, given by their numbers in the problem of all shapes.

    The latter has an item for each demand and a space for each kind of board; bodies and no-fit polygons are shared.
    `holds` says which demand fits a kind of board. With `at`, items of a bundle stay in their space of that
    arrangement.
    """
    fixed_pose: list[int] = []
    fixed_space: list[int] = []
    for number, space in enumerate(spaces):
        for k in np.nonzero(whole.fixed_space == space)[0]:
            fixed_pose.append(int(whole.fixed_pose[k]))
            fixed_space.append(number)
    demands = np.array([entry.demand for entry in entries], np.int64)
    allowed = np.ascontiguousarray(holds[demands][:, list(spaces)])
    for i, entry in enumerate(entries if at is not None else ()):
        if entry.bundle >= 0 and at is not None:
            allowed[i, :] = False
            allowed[i, at.space[i]] = True
    return replace(
        whole,
        item_poses=tuple(whole.item_poses[entry.demand] for entry in entries),
        areas=tuple(whole.areas[entry.demand] for entry in entries),
        fixed_pose=np.array(fixed_pose, np.int64),
        fixed_space=np.array(fixed_space, np.int64),
        spaces=np.ascontiguousarray(whole.spaces[list(spaces)]),
        allowed=allowed,
    )


def filled(
    problem: Problem,
    entries: Sequence[Entry],
    order: Sequence[Sequence[int]],
    *,
    room: Sequence[float],
    most_poses: int,
    seed: int,
    samples: int,
    window: int = 0,
    enough: int | None = None,
) -> tuple[Arrangement, int]:
    """Lay items in the order given, each group in the first space that takes it; some may stay without a place.

    `room` is the area of each space. An item that failed in a space is not tried there again. With a `window` only this
    many spaces with the most room left are tried, and the first empty one. After `enough` positions the remaining items
    are laid with few samples and in few spaces.
    """
    top = SearchState(problem, None, seed)
    few = [poses[:most_poses] for poses in problem.item_poses]
    top.rules = top.rules._replace(
        poses_at=np.cumsum([0, *(len(poses) for poses in few)]).astype(np.int64),
        poses=np.array([pose for poses in few for pose in poses], np.int64),
    )
    left = np.array(room, np.float64)
    first_plan = np.zeros(len(left), np.bool_)
    failed: set[tuple[tuple[int, ...], int]] = set()
    for group in order:
        if enough is not None and top.tried >= enough:
            samples, window = min(samples, _BRIEF_SAMPLES), window or _BRIEF_WINDOW
        kind = tuple(entries[i].demand for i in group)
        area = sum(problem.areas[i] for i in group)
        able = np.logical_and.reduce([problem.allowed[i] for i in group]) & (left >= area)
        for space in range(len(left)):
            able[space] &= (kind, space) not in failed
        if window:
            able &= _most_room(left, able, first_plan, window)
        if len(group) == 1:
            space = _insert(top, group[0], able, max(samples, 6 * samples // len(few[group[0]])))
        else:
            space = _insert_together(top, group, able, 2 * samples)
        failed |= {(kind, int(s)) for s in np.nonzero(able)[0] if space < 0 or s < space}
        if space >= 0:
            left[space] -= area
            first_plan[space] = True
    return top.arrangement(), top.tried


def _most_room(left: Floats, able: Flags, first_plan: Flags, window: int) -> Flags:
    roomiest = np.zeros(len(left), np.bool_)
    order = [space for space in np.argsort(-left, kind="stable") if able[space]]
    roomiest[[space for space in order if first_plan[space]][:window]] = True
    roomiest[[space for space in range(len(left)) if able[space] and not first_plan[space]][:1]] = True
    return roomiest


def _insert(top: SearchState, item: int, able: Flags, samples: int) -> int:
    if not able.any():
        return -1
    top.rules.allowed[item, :] = able
    return int(top.places.space[item]) if top.insert(item, samples=samples) else -1


def _insert_together(top: SearchState, group: Sequence[int], able: Flags, samples: int) -> int:
    for space in np.nonzero(able)[0]:
        here = np.zeros(len(able), np.bool_)
        here[space] = True
        if all(_insert(top, item, here, samples) >= 0 for item in group):
            return int(space)
        for item in group:
            if top.places.space[item] >= 0:
                _put(top, item, int(top.places.pose[item]), -1, 0.0, 0.0)
    return -1


def _put(top: SearchState, item: int, pose: int, space: int, x: float, y: float) -> None:
    top.move(item, pose, space, x, y)


def emptied(
    problem: Problem,
    start: Arrangement,
    entries: Sequence[Entry],
    *,
    leave: Sequence[int],
    room: Sequence[float],
    seed: int,
    limit: Limit,
) -> tuple[Arrangement | None, int]:
    """Return an arrangement with nothing in the spaces to `leave`, found from `start`; None if none is found.

    Items in these spaces, or without a place, are put on other spaces, emptier ones more often; then all are separated.
    """
    top = SearchState(problem, None, seed)
    chance = random.Random(seed)
    left = np.array(room, np.float64)
    left[list(leave)] = 0.0
    for i in range(problem.movable):
        if start.space[i] >= 0:
            left[start.space[i]] -= problem.areas[i]
    groups: dict[tuple[int, int], list[int]] = {}
    for i, entry in enumerate(entries):
        if start.space[i] < 0 or start.space[i] in leave:
            key = (entry.lot, entry.bundle) if entry.bundle >= 0 else (-1, -1 - i)
            groups.setdefault(key, []).append(i)
        else:
            _put(top, i, int(start.pose[i]), int(start.space[i]), float(start.x[i]), float(start.y[i]))
            if entry.bundle >= 0:
                top.rules.allowed[i, :] = False
                top.rules.allowed[i, start.space[i]] = True
    top.rules.allowed[:, list(leave)] = False
    for group in sorted(groups.values(), key=lambda group: (-sum(problem.areas[i] for i in group), group)):
        able = np.logical_and.reduce([top.rules.allowed[i] for i in group])
        choices = [int(space) for space in np.nonzero(able)[0]]
        if not choices:
            return None, 0
        area = sum(problem.areas[i] for i in group)
        weights = [max(left[space], 0.02 * area) ** 2 for space in choices]
        space = chance.choices(choices, weights)[0]
        left[space] -= area
        for i in group:
            if not _throw(top, i, space, chance):
                return None, 0
            if entries[i].bundle >= 0:
                top.rules.allowed[i, :] = False
                top.rules.allowed[i, space] = True
    loss = top.separate(limit)
    return (top.arrangement() if loss == 0.0 else None), top.tried


def drained(
    problem: Problem,
    start: Arrangement,
    entries: Sequence[Entry],
    *,
    room: Sequence[float],
    seed: int,
    limit: Limit,
) -> tuple[Arrangement, int]:
    """Return an arrangement with less in the first space, found from `start`, or `start` where none was found.

    A group of items is put on one of the other spaces, and smaller items of that space may leave it for any other, the
    first one too. What does not overlap after a little separating, and leaves less in the first space, is kept: so
    the other spaces get fuller step by step.
    """
    top = SearchState(problem, start, seed)
    chance = random.Random(seed)
    allowed, areas = top.rules.allowed.copy(), np.array(problem.areas)
    bundled = np.array([entry.bundle >= 0 for entry in entries])
    best, refused = start, 0
    while refused < _MOST_REFUSED and not limit.over(top.tried):
        groups: dict[tuple[int, int], list[int]] = {}
        for i in np.nonzero(best.space == 0)[0]:
            entry = entries[int(i)]
            groups.setdefault((entry.lot, entry.bundle) if entry.bundle >= 0 else (-1, int(i)), []).append(int(i))
        if not groups:
            break
        giving = list(groups.values())
        group = chance.choices(giving, [sum(areas[i] for i in one) for one in giving])[0]
        area = float(areas[group].sum())
        able = [space for space in range(1, len(room)) if allowed[group, space].all()]
        top.tried += 1  # so that groups that fit nowhere also end
        if not able:
            refused += 1
            continue
        free = [max(0.0, room[space] - float(areas[best.space == space].sum())) for space in able]
        space = chance.choices(able, [one + 0.1 * room[where] for one, where in zip(free, able, strict=True)])[0]
        top.lay(best)
        top.rules.allowed[:] = False
        top.rules.allowed[np.arange(len(areas)), best.space] = True
        leaving = (best.space == space) & (areas < _LESS * area) & ~bundled
        top.rules.allowed[leaving] = allowed[leaving]
        top.rules.allowed[group] = False
        top.rules.allowed[group, space] = True
        refused += 1
        if not all(_throw(top, i, space, chance) for i in group):
            continue
        most = Limit(positions=min(limit.positions, top.tried + _GIVING), deadline=limit.deadline)
        if top.separate(most, patience=_GIVING_PATIENCE, strikes=1) == 0.0:
            found = top.arrangement()
            if areas[found.space == 0].sum() < areas[best.space == 0].sum() - _SAME:
                best, refused = found, 0
    return best, top.tried


def _throw(top: SearchState, item: int, space: int, chance: random.Random) -> bool:
    """Lay an item anywhere in a space, over others if necessary."""
    x0, y0, x1, y1 = top.rules.spaces[space]
    box, eps = top.problem.bodies.box, top.rules.eps
    fitting = [
        pose
        for pose in top.problem.item_poses[item]
        if box[pose, 2] - box[pose, 0] <= x1 - x0 + eps and box[pose, 3] - box[pose, 1] <= y1 - y0 + eps
    ]
    if not fitting:
        return False
    pose = chance.choice(fitting)
    low_x, low_y, high_x, high_y = box[pose]
    x = x0 - low_x + chance.random() * max(0.0, (x1 - x0) - (high_x - low_x))
    y = y0 - low_y + chance.random() * max(0.0, (y1 - y0) - (high_y - low_y))
    _put(top, item, pose, space, x, y)
    return True
