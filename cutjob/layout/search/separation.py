"""The layout search: first layouts, separating what overlaps, and shortening. Every function here can be a task of
its own: its arguments and results can be sent to another process, and equal arguments give equal results.

Work is counted in positions tried, never in seconds, unless a deadline is given.
"""

from __future__ import annotations

import random
import threading
from collections.abc import Sequence

import numpy as np

from cutjob.layout.search import kernel
from cutjob.layout.search.arrangement import Arrangement, Limit, no_overlaps, no_weights
from cutjob.layout.search.bodies import Problem, Shapes
from cutjob.layout.search.rectangles import rectangles_shortened

_ROOM = 9_000_000  # of a pool of no-fit polygons, in numbers: 72 MB when full
_CARRIED = 0.5  # of a pool's room: a fuller one is emptied where the problem changes
_STEPS = (0.001, 0.005)  # by which a length is shortened, in turn, after the first falling steps
_PATIENCE, _STRIKES = 80, 2  # rounds without gain before starting again from the best, and how often
_HASTE = 40  # the same while long steps still succeed, once
_RECTANGLES = 0.5  # share of the work of shortening for rectangles on a skyline
_WIDE, _NEAR = 24, 10  # positions tried for a move: all over the spaces, and near the old place
_CHUNK = 400_000  # positions between checks of the clock


class _Known(threading.local):
    """The no-fit polygons known to this thread, for the shapes it worked on last."""

    def __init__(self) -> None:
        self.shapes: Shapes | None = None
        self.pool: kernel.Pool | None = None


_known = _Known()


def _pool(problem: Problem) -> kernel.Pool:
    """A pool for a problem, with what this thread knows already of pairs of its poses.

    A polygon depends on its two poses alone, so that parts which stay the same keep theirs where others change.
    """
    shapes, before, pool = problem.shapes, _known.shapes, _known.pool
    if pool is None or before is None or before.key != shapes.key:
        count, work = len(shapes.poses), _most_of_a_pair(problem)
        at = np.full((count, count), -1, np.int64)
        data = np.empty(max(_ROOM, work)) if pool is None or len(pool.data) < work else pool.data
        used = np.zeros(2, np.int64)
        if before is not None and pool is not None and data is pool.data and pool.used[1] == 0:
            places = {key: number for number, key in enumerate(before.each)}
            same = [(number, places[key]) for number, key in enumerate(shapes.each) if key in places]
            if same and pool.used[0] <= _CARRIED * len(data):
                new, old = np.array(same).T
                at[np.ix_(new, new)] = pool.at[np.ix_(old, old)]
                used[0] = pool.used[0]
        _known.pool = pool = kernel.Pool(at=at, data=data, work=np.empty(work), used=used)
    _known.shapes = shapes
    return pool


def _most_of_a_pair(problem: Problem) -> int:
    """Room for the no-fit polygons of the two poses with the most corners."""
    bodies = problem.bodies
    pieces = np.diff(bodies.piece).max()
    corners = np.diff(bodies.raw_at).max() + np.diff(bodies.grown_at).max()
    return int(1 + pieces * pieces * (5 + 3 * corners))


class SearchState:
    """Items being moved about: the mutable state of one task."""

    def __init__(self, problem: Problem, start: Arrangement | None, seed: int) -> None:
        """Lay the items as in `start`, or give them no place."""
        self.problem = problem
        n, fixed, boxes = problem.movable, len(problem.fixed_pose), len(problem.spaces)
        self.rules = kernel.Rules(
            movable=n,
            poses_at=np.cumsum([0, *(len(p) for p in problem.item_poses)]).astype(np.int64),
            poses=np.array([pose for poses in problem.item_poses for pose in poses], np.int64),
            spaces=problem.spaces.copy(),
            allowed=problem.allowed.copy(),
            eps=problem.eps,
        )
        self.places = kernel.Places(
            pose=np.zeros(n + fixed, np.int64),
            space=np.full(n + fixed, -1, np.int64),
            x=np.zeros(n + fixed),
            y=np.zeros(n + fixed),
            members=np.zeros((boxes, n + fixed), np.int64),
            many=np.zeros(boxes, np.int64),
            box=np.zeros((n + fixed, 4)),
        )
        for k in range(fixed):
            self.move(n + k, problem.fixed_pose[k], problem.fixed_space[k], 0.0, 0.0)
        for i, poses in enumerate(problem.item_poses):
            self.places.pose[i] = poses[0]
        if start is not None:
            self.lay(start)
        self.pool = _pool(problem)
        self.random = random.Random(seed)
        self.rng = np.array([self.random.getrandbits(63) | 1], np.uint64)
        self.tried = 0

    def lay(self, arrangement: Arrangement) -> None:
        """Move every item to where the arrangement has it."""
        for i in range(self.problem.movable):
            self.move(i, arrangement.pose[i], arrangement.space[i], arrangement.x[i], arrangement.y[i])

    def move(self, item: int, pose: int, space: int, x: float, y: float) -> None:
        """Move an item to another place."""
        kernel.put(self.problem.bodies, self.places, item, int(pose), int(space), float(x), float(y))

    def put(self, item: int, pose: int, space: int, x: float, y: float) -> None:
        """Put an item in a space at the place nearest to x, y at which it is wholly inside."""
        box, room = self.problem.bodies.box[pose], self.rules.spaces[space]
        x = min(max(x, room[0] - box[0]), room[2] - box[2])
        y = min(max(y, room[1] - box[1]), room[3] - box[3])
        self.move(item, pose, space, x, y)

    def arrangement(self) -> Arrangement:
        """Return the present places of all items."""
        n = self.problem.movable
        return Arrangement(
            pose=self.places.pose[:n].copy(),
            space=self.places.space[:n].copy(),
            x=self.places.x[:n].copy(),
            y=self.places.y[:n].copy(),
        )

    def insert(self, item: int, *, samples: int, first_space: int = 0) -> bool:
        """Lay an item that has no place yet in the first space with a clear place for it."""
        space, tried = kernel.insert(
            self.problem.bodies, self.pool, self.places, self.rules, self.rng, item, first_space, samples
        )
        self.tried += tried
        return bool(space >= 0)

    def separate(self, limit: Limit, *, patience: int = _PATIENCE, strikes: int = _STRIKES) -> float:
        """Move items until nothing overlaps; return the depth left, 0 where done."""
        weights, loss = no_weights(len(self.places.x)), 1.0
        while loss > 0.0 and not limit.over(self.tried):
            budget = min(limit.positions - self.tried, _CHUNK)
            loss, tried, ended, weights = kernel.separate(
                self.problem.bodies,
                self.pool,
                self.places,
                self.rules,
                weights,
                self.rng,
                budget,
                patience,
                strikes,
                _WIDE,
                _NEAR,
            )
            self.tried += tried
            if ended:
                break
        return float(loss)

    def depth(self) -> float:
        """Return the total depth of all overlaps of items with each other and with obstacles: 0
        where nothing overlaps.
        """
        lists = no_overlaps(len(self.places.x))
        depth, _, _ = kernel.overlaps_of(self.problem.bodies, self.pool, self.places, self.rules, lists)
        return float(depth)

    def reach(self, space: int) -> float:
        """Return the greatest x of any item in a space; its left end where it is empty."""
        n = self.problem.movable
        there = np.nonzero(self.places.space[:n] == space)[0]
        box = self.problem.bodies.box
        ends = [float(self.places.x[i] + box[self.places.pose[i], 2]) for i in there]
        return max(ends, default=float(self.rules.spaces[space, 0]))

    def close_at(self, space: int, x: float) -> bool:
        """End a space at x and push the items beyond it inside; False where an item fits in no pose any more."""
        self.rules.spaces[space, 2] = x
        box, x0 = self.problem.bodies.box, self.rules.spaces[space, 0]
        height = self.rules.spaces[space, 3] - self.rules.spaces[space, 1]
        for i in range(self.problem.movable):
            if self.places.space[i] != space:
                continue
            pose = self.places.pose[i]
            if box[pose, 2] - box[pose, 0] > x - x0:
                fitting = [
                    p
                    for p in self.problem.item_poses[i]
                    if box[p, 2] - box[p, 0] <= x - x0 and box[p, 3] - box[p, 1] <= height
                ]
                if not fitting:
                    return False
                pose = fitting[0]
            self.put(i, pose, space, self.places.x[i], self.places.y[i])
        return True

    def swap_two_large(self) -> None:
        """Exchange the places of two of the larger items, where both are allowed in the other's."""
        if self.problem.movable < 2:
            return
        order = sorted(range(self.problem.movable), key=lambda i: (-self.problem.areas[i], i))
        one, other = self.random.sample(order[: max(2, len(order) // 2)], 2)
        box, places = self.problem.bodies.box, self.places
        spaces = int(places.space[one]), int(places.space[other])
        if not (self.rules.allowed[one, spaces[1]] and self.rules.allowed[other, spaces[0]]):
            return
        middles = [
            (places.x[i] + (b[0] + b[2]) / 2, places.y[i] + (b[1] + b[3]) / 2)
            for i, b in ((i, box[places.pose[i]]) for i in (one, other))
        ]
        for i, space, (x, y) in ((one, spaces[1], middles[1]), (other, spaces[0], middles[0])):
            room = self.rules.spaces[space]
            fitting = [
                p
                for p in self.problem.item_poses[i]
                if box[p, 2] - box[p, 0] <= room[2] - room[0] and box[p, 3] - box[p, 1] <= room[3] - room[1]
            ]
            if not fitting:
                return
            pose = self.random.choice(fitting)
            b = box[pose]
            self.put(i, pose, space, x - (b[0] + b[2]) / 2, y - (b[1] + b[3]) / 2)


def separated(
    problem: Problem, start: Arrangement, *, seed: int, limit: Limit, closed: Sequence[int] = ()
) -> tuple[Arrangement | None, int]:
    """Return an arrangement without overlaps found from `start`, with nothing in the `closed` spaces; None if not
    found.
    """
    top = SearchState(problem, start, seed)
    for space in closed:
        top.rules.allowed[:, space] = False
    loss = top.separate(limit)
    return (top.arrangement() if loss == 0.0 else None), top.tried


def shortened(
    problem: Problem, start: Arrangement, *, space: int, seed: int, limit: Limit, step: float = 0.01
) -> tuple[Arrangement, int]:
    """Return an arrangement that takes less length of a space, or `start` where none was found.

    The space is made shorter by `step` of its length and overlaps are separated, again and again, by smaller steps when
    that fails, and in the end by exchanging two large items (Gardeyn, Vanden Berghe, Wauters 2025).
    """
    # Rectangles in a plain box have their own method, which gets the first share of the work.
    laid, tried = rectangles_shortened(problem, start, space=space, seed=seed, limit=limit.part(_RECTANGLES))
    start = laid or start
    top = SearchState(problem, start, seed)
    top.tried = tried
    best, reach = start, top.reach(space)
    left = problem.spaces[space, 0]

    falling = step  # by halves, until the first shortening by the least step fails
    failed: list[tuple[float, Arrangement]] = []
    tries = 0
    while reach > left and not limit.over(top.tried):  # a space that got empty is as short as can be
        top.tried += 1  # so that steps without a move also end
        if not top.close_at(space, left + (reach - left) * (1.0 - step)):
            step = _STEPS[0]
            if not top.close_at(space, left + (reach - left) * (1.0 - step)):
                break
        coarse = falling > _STEPS[0]
        if top.separate(limit, patience=_HASTE if coarse else _PATIENCE, strikes=1 if coarse else _STRIKES) == 0.0:
            best, reach = top.arrangement(), top.reach(space)
            failed, tries = [], 0
            if not coarse:
                step = _STEPS[0]
            continue
        if limit.over(top.tried):
            break
        if coarse:
            step = falling = max(_STEPS[0], falling / 2)
            continue
        # A layout squeezed by a little can be a dead end; longer steps get out of it (outlines in whole numbers need
        # them).
        failed.append((top.depth(), top.arrangement()))
        failed.sort(key=lambda entry: entry[0])
        del failed[10:]
        tries += 1
        step = _STEPS[tries % len(_STEPS)]
        top.lay(failed[int(len(failed) * min(top.random.random(), top.random.random()))][1])
        top.swap_two_large()
    return best, top.tried
