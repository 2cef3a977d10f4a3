"""Puts tasks in the order with short air moves: tasks that must come first do, and each task may start in several ways.
mm.

For a few tasks all orders are tried, without compiled code, so the result is exact. For more, the nearest next start
gives a first order; a local search improves it (`tour_search`); then the best starts are chosen for the order found
(`tour_moves`). Free starts never come out longer than first starts only, because starts are chosen for the order found
for first starts too.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING

import numpy as np

from cutjob.compiling import wait_for_help
from cutjob.geometry.segment import Point, distance

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


# Places looked at for each task, and in all, so that ten thousand tasks take seconds.
_WORK = 6_000
_GREATEST_WORK = 12_000_000
_FEW_INSIDE = 16  # starts: for so few, cells are of no use


@dataclass(frozen=True, slots=True)
class Start:
    """A way to do a task: how far along its path it starts, the place of that, and the cutter's place when it
    is done.
    """

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

    `after[i]` are the tasks that must come before task i; `starts[i]` are the ways to do it, at least one. `moves` is
    the number of places the search may look at (None: by the number of tasks). With `closed` the way back to `home`
    counts too. Time grows as n log n for evenly spread starts. Raises ValueError when tasks wait for each other.
    """
    if not starts:
        return []
    if are_few(starts):
        return best_of_all(after, starts, home=home, closed=closed)
    work = min(_WORK * len(starts), _GREATEST_WORK) if moves is None else moves
    search = _Search(after, starts, home, closed=closed)
    found = [search.improved(_nearest_next(after, starts, home=home), work)]
    if any(len(options) > 1 for options in starts):
        only = sequence(after, [options[:1] for options in starts], home=home, moves=work, closed=closed)
        found.append(search.improved(only, work // 2))
    return min(found, key=lambda one: one[0])[1]


class _Search:
    """The tables that the search uses, made once."""

    def __init__(
        self, after: Sequence[Collection[int]], starts: Sequence[Sequence[Start]], home: Point, *, closed: bool
    ) -> None:
        wait_for_help()
        from cutjob.program.tour_moves import neighbours
        from cutjob.program.tour_search import NEAR

        # Home is place 0 of the search. It has one row and waits for nothing. Task t is place t + 1.
        self._rows = [(0, Start(0.0, home, home))]
        self._rows += [(place, start) for place, options in enumerate(starts, start=1) for start in options]
        self._closed = closed
        first = np.array([0, 1, *(1 + row for row in accumulate(map(len, starts)))], dtype=np.int64)
        ends = np.array([(*start.point, *start.end) for _, start in self._rows], dtype=np.float64)
        waits = [sorted(set(before)) for before in after]
        head = np.array([0, 0, *accumulate(map(len, waits))], dtype=np.int64)
        behind = np.array([1 + before for each in waits for before in each], dtype=np.int64)
        mate = _mates(self._rows)
        near, gap = neighbours(*self._points(first, ends, mate), places=len(first) - 1, count=NEAR)
        self._tables = first, ends, mate, near, gap, head, behind

    def _points(self, first: Ints, ends: Floats, mate: Ints) -> tuple[Ints, Floats, Floats]:
        """Places with the points where they start and where they end; ends near a start (loops) are left out."""
        places = np.array([place for place, _ in self._rows], dtype=np.int64)
        starts = ends[:, :2]
        extent = np.maximum.reduceat(starts, first[:-1]) - np.minimum.reduceat(starts, first[:-1])
        far = (mate < 0) & (np.abs(ends[:, 2:] - starts) > extent[places] / 4).any(axis=1)
        points = np.concatenate([starts, ends[far, 2:]])
        owner = np.concatenate([places, places[far]])
        by_place = np.argsort(owner, kind="stable")
        return owner[by_place], points[by_place, 0], points[by_place, 1]

    def improved(self, given: Sequence[tuple[int, Start]], work: int) -> tuple[float, list[tuple[int, Start]]]:
        """The length of air moves, and the tasks with their starts, after a search from the given order; never
        longer than it.
        """
        from cutjob.program.tour_moves import choose_rows, way_of
        from cutjob.program.tour_search import improve

        first, ends = self._tables[:2]
        order = np.array([0, *(1 + task for task, _ in given)], dtype=np.int64)
        row = first[:-1].copy()
        length = choose_rows(order, first, ends, self._closed, row)
        trial, tried = order.copy(), row.copy()
        improve(way_of(trial, tried, self._tables, closed=self._closed), work)
        reached = choose_rows(trial, first, ends, self._closed, tried)
        if reached < length:
            order, row, length = trial, tried, reached
        return float(length), [(int(place) - 1, self._rows[row[place]][1]) for place in order[1:]]


def _mates(rows: Sequence[tuple[int, Start]]) -> Ints:
    """For each row, the row of the same place run the other way: the row itself if it ends where it starts, -1
    for none.
    """
    known = {(place, start.point, start.end): row for row, (place, start) in enumerate(rows)}
    return np.array([known.get((place, start.end, start.point), -1) for place, start in rows], dtype=np.int64)


def _nearest_next(
    after: Sequence[Collection[int]], starts: Sequence[Sequence[Start]], *, home: Point
) -> list[tuple[int, Start]]:
    """Every task once: each next one is the nearest start among the tasks whose `after` are done."""
    waiting = [len(set(before)) for before in after]
    followers: list[list[int]] = [[] for _ in after]
    for index, each in enumerate(after):
        for before in set(each):
            followers[before].append(index)
    grid = _Grid([start.point for options in starts for start in options])
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
    """Starts in square cells, searched ring by ring; the cells get finer or coarser with the number of starts."""

    def __init__(self, points: Sequence[Point]) -> None:
        xs, ys = [x for x, _ in points], [y for _, y in points]
        self._x0, self._y0 = min(xs), min(ys)
        self._extent = max(max(xs) - self._x0, max(ys) - self._y0, 1.0)
        self._inside = 0
        self._cells: dict[tuple[int, int], dict[int, list[Start]]] = {}
        self._set_size()

    def _set_size(self) -> None:
        self._size = self._extent / max(1.0, math.sqrt(self._inside))
        self._rings = math.ceil(self._extent / self._size) + 1
        self._sized_for = max(self._inside, _FEW_INSIDE)

    def _cell(self, point: Point) -> tuple[int, int]:
        return int((point[0] - self._x0) // self._size), int((point[1] - self._y0) // self._size)

    def add(self, index: int, starts: Sequence[Start]) -> None:
        """Make a task's starts eligible."""
        for start in starts:
            self._cells.setdefault(self._cell(start.point), {}).setdefault(index, []).append(start)
        self._inside += len(starts)
        if self._inside > 4 * self._sized_for:
            self._recell()

    def remove(self, index: int, starts: Sequence[Start]) -> None:
        """Take a task's starts away for good."""
        for start in starts:
            key = self._cell(start.point)
            cell = self._cells.get(key)
            if cell is not None:
                cell.pop(index, None)
                if not cell:
                    del self._cells[key]
        self._inside -= len(starts)
        if _FEW_INSIDE < self._sized_for > 4 * self._inside:
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


_FEW = 80_000  # steps from one start to the next, at most: about ten milliseconds


def are_few(starts: Sequence[Sequence[Start]]) -> bool:
    """Whether there are few enough starts to try all orders."""
    rows = sum(map(len, starts))
    return rows * rows << min(len(starts), 20) <= _FEW


def best_of_all(
    after: Sequence[Collection[int]], starts: Sequence[Sequence[Start]], *, home: Point, closed: bool = False
) -> list[tuple[int, Start]]:
    """Return the shortest order, by dynamic programming over what is done and the last start (Held and Karp 1962).

    Raises ValueError when tasks wait for each other.
    """
    needs = [sum(1 << before for before in set(each)) for each in after]
    rows = [(task, start) for task, options in enumerate(starts) for start in options]
    legs = [[distance(start.end, other.point) for _, other in rows] for _, start in rows]
    first = {
        (1 << task, row): (distance(home, start.point), -1) for row, (task, start) in enumerate(rows) if not needs[task]
    }
    layers = [first]
    for _ in starts[1:]:
        layer: dict[tuple[int, int], tuple[float, int]] = {}
        for (done, last), (length, _) in layers[-1].items():
            for row, (task, _) in enumerate(rows):
                if done >> task & 1 or needs[task] & ~done:
                    continue
                key, reached = (done | 1 << task, row), length + legs[last][row]
                if key not in layer or reached < layer[key][0]:
                    layer[key] = reached, last
        layers.append(layer)
    if not layers[-1]:
        raise ValueError("cuts wait for each other")
    (done, row), _ = min(
        layers[-1].items(), key=lambda item: item[1][0] + (distance(rows[item[0][1]][1].end, home) if closed else 0.0)
    )
    order = []
    for layer in reversed(layers):
        order.append(rows[row])
        done, row = done & ~(1 << rows[row][0]), layer[done, row][1]
    return order[::-1]
