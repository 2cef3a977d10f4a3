"""The order of tasks with the shortest air moves: what must come first does, and where a task starts is free. mm.

First the nearest next start, then a local search (`tour_search`), in turns with the best choice of starts for the order
found, which dynamic programming gives. The same with the first start of every task only is never shorter in the end:
its order is one of those that the free starts are chosen for.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING

import numpy as np

from cutjob.geometry.segment import Point, distance

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

# Places looked at, for a task, and in all, so that ten thousand take seconds.
_WORK = 6_000
_GREATEST_WORK = 12_000_000
_ROUNDS = 2


@dataclass(frozen=True, slots=True)
class Start:
    """A way to do a task: how far along its path it starts, where that is, and where the cutter is when it is done."""

    along: float
    point: Point
    end: Point


def sequence(
    after: Sequence[Collection[int]],
    starts: Sequence[Sequence[Start]],
    *,
    home: Point,
    moves: int | None = None,
    closed: bool = False,
) -> list[tuple[int, Start]]:
    """Return every task once, with its start, in an allowed order whose air moves from `home` on are short.

    `after[i]` are the tasks that must come before task i; `starts[i]`, at least one, the ways to do it. `moves` is how
    many places the search may look at (None: by the number of tasks). With `closed` the way back to `home` counts too.
    Time grows as n log n for evenly spread starts. Raises ValueError when tasks wait for each other.
    """
    nearest = _nearest_next(after, starts, home=home)
    if len(starts) < 2:
        return nearest
    work = min(_WORK * len(starts), _GREATEST_WORK) if moves is None else moves
    rows = _Rows(after, starts, home)
    found = [rows.searched(rows.order_of(nearest), rows.given(nearest), work, closed=closed)]
    if any(len(options) > 1 for options in starts):
        only = sequence(after, [options[:1] for options in starts], home=home, moves=work, closed=closed)
        found.append(rows.searched(rows.order_of(only), rows.given(only), work // _ROUNDS, closed=closed))
    _, order, chosen = min(found, key=lambda one: one[0])
    return [(int(task), starts[task][int(chosen[task] - rows.first[task])]) for task in order]


class _Rows:
    """The starts of all tasks as columns, and what each task must come after."""

    def __init__(self, after: Sequence[Collection[int]], starts: Sequence[Sequence[Start]], home: Point) -> None:
        flat = [start for options in starts for start in options]
        self.first: Ints = np.array([0, *accumulate(map(len, starts))], dtype=np.int64)
        self.sx: Floats = np.array([start.point[0] for start in flat])
        self.sy: Floats = np.array([start.point[1] for start in flat])
        self.ex: Floats = np.array([start.end[0] for start in flat])
        self.ey: Floats = np.array([start.end[1] for start in flat])
        self.home = home
        waits = [sorted(set(before)) for before in after]
        # Home is place 0 of the search, and waits for nothing.
        self.head: Ints = np.array([0, 0, *accumulate(map(len, waits))], dtype=np.int64)
        self.after: Ints = np.array([1 + before for each in waits for before in each], dtype=np.int64)

    def order_of(self, chosen: Sequence[tuple[int, Start]]) -> Ints:
        """The tasks in order."""
        return np.array([index for index, _ in chosen], dtype=np.int64)

    def given(self, chosen: Sequence[tuple[int, Start]]) -> Ints:
        """The rows of the starts that were chosen, by task."""
        rows = self.first[:-1].copy()
        for index, start in chosen:
            row = int(rows[index])
            while (self.sx[row], self.sy[row], self.ex[row], self.ey[row]) != (*start.point, *start.end):
                row += 1
            rows[index] = row
        return rows

    def searched(self, order: Ints, rows: Ints, work: int, *, closed: bool) -> tuple[float, Ints, Ints]:
        """The length of air moves, the order and the rows of starts after a search from an order and starts."""
        from cutjob.program.tour_search import NEAR, choose_options, improve, neighbours

        x, y = self.home
        columns = (self.first, self.sx, self.sy, self.ex, self.ey, x, y)
        if not closed:
            rows, length = choose_options(order, *columns)
        else:
            length = self._round_trip(order, rows)
        for number in range(_ROUNDS):
            sx, sy = np.append(x, self.sx[rows]), np.append(y, self.sy[rows])
            ex, ey = np.append(x, self.ex[rows]), np.append(y, self.ey[rows])
            even = bool((sx == ex).all() and (sy == ey).all())
            near = neighbours((sx + ex) / 2, (sy + ey) / 2, NEAR)
            places = np.append(0, order + 1)
            share = work // _ROUNDS
            improve(places, sx, sy, ex, ey, near, self.head, self.after, closed, even, share, number + 1)
            trial = places[1:] - 1
            tried, reached = (rows, self._round_trip(trial, rows)) if closed else choose_options(trial, *columns)
            if reached <= length:
                order, rows, length = trial, tried, reached
        return float(length), order, rows

    def _round_trip(self, order: Ints, rows: Ints) -> float:
        """The way from home through all tasks and back."""
        done = rows[order]
        x, y = np.append(self.sx[done], self.home[0]), np.append(self.sy[done], self.home[1])
        left_x, left_y = np.append(self.home[0], self.ex[done]), np.append(self.home[1], self.ey[done])
        return float(np.sqrt((x - left_x) ** 2 + (y - left_y) ** 2).sum())


def _nearest_next(
    after: Sequence[Collection[int]], starts: Sequence[Sequence[Start]], *, home: Point
) -> list[tuple[int, Start]]:
    """Every task once: always the nearest start among the tasks whose `after` are done."""
    waiting = [len(set(before)) for before in after]
    followers: list[list[int]] = [[] for _ in after]
    for index, each in enumerate(after):
        for before in set(each):
            followers[before].append(index)
    grid = _Grid([(index, start) for index, options in enumerate(starts) for start in options])
    for index, count in enumerate(waiting):
        if count == 0:
            grid.add(index, starts[index])
    order: list[tuple[int, Start]] = []
    here = home
    while len(order) < len(after):
        found = grid.nearest(here)
        if found is None:
            raise ValueError("cuts wait for each other")
        index, start = found
        order.append((index, start))
        here = start.end
        grid.remove(index, starts[index])
        for follower in followers[index]:
            waiting[follower] -= 1
            if waiting[follower] == 0:
                grid.add(follower, starts[follower])
    return order


class _Grid:
    """Starts in square cells, looked through ring by ring; made coarser as they are used up."""

    def __init__(self, entries: Sequence[tuple[int, Start]]) -> None:
        xs = [start.point[0] for _, start in entries] or [0.0]
        ys = [start.point[1] for _, start in entries] or [0.0]
        self._x0, self._y0 = min(xs), min(ys)
        self._extent = max(max(xs) - self._x0, max(ys) - self._y0, 1.0)
        self._left = len(entries)
        self._inside = 0
        self._cells: dict[tuple[int, int], dict[int, list[Start]]] = {}
        self._set_size()

    def _set_size(self) -> None:
        self._size = self._extent / max(1.0, math.sqrt(self._left))
        self._rings = math.ceil(self._extent / self._size) + 1
        self._coarsen_at = self._left // 4

    def _cell(self, point: Point) -> tuple[int, int]:
        return int((point[0] - self._x0) // self._size), int((point[1] - self._y0) // self._size)

    def add(self, index: int, starts: Sequence[Start]) -> None:
        """Make a task's starts eligible."""
        for start in starts:
            self._cells.setdefault(self._cell(start.point), {}).setdefault(index, []).append(start)
        self._inside += len(starts)

    def remove(self, index: int, starts: Sequence[Start]) -> None:
        """Take a task's starts away for good."""
        for start in starts:
            key = self._cell(start.point)
            cell = self._cells.get(key)
            if cell is not None:
                cell.pop(index, None)
                if not cell:
                    del self._cells[key]
        self._left -= len(starts)
        self._inside -= len(starts)
        if self._left < self._coarsen_at:
            self._recell()

    def _recell(self) -> None:
        entries = [(index, list(starts)) for cell in self._cells.values() for index, starts in cell.items()]
        self._cells = {}
        self._set_size()
        for index, starts in entries:
            for start in starts:
                self._cells.setdefault(self._cell(start.point), {}).setdefault(index, []).append(start)

    def nearest(self, point: Point) -> tuple[int, Start] | None:
        """The eligible start nearest to `point`; ties go to the lower index, so the order never depends on chance."""
        if self._inside == 0:
            return None
        ci, cj = self._cell(point)
        # Outside the field (the first time, from home) the rings start at its edge.
        outside = max(0, -ci, -cj, ci - self._rings, cj - self._rings)
        best: tuple[float, int, float, Start] | None = None
        ring = outside if outside > 1 else 0
        while best is None or (ring - 1) * self._size <= best[0]:
            for key in _ring(ci, cj, ring):
                for index, starts in self._cells.get(key, {}).items():
                    for start in starts:
                        rank = (distance(point, start.point), index, start.along)
                        if best is None or rank < best[:3]:
                            best = (*rank, start)
            ring += 1
        return best[1], best[3]


def _ring(ci: int, cj: int, ring: int) -> list[tuple[int, int]]:
    if ring == 0:
        return [(ci, cj)]
    edge = [(ci + i, cj + side) for i in range(-ring, ring + 1) for side in (-ring, ring)]
    edge += [(ci + side, cj + j) for j in range(-ring + 1, ring) for side in (-ring, ring)]
    return edge
