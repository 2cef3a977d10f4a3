"""The order of cuts: what must come before what, and then the nearest next start. mm.

A part's marks, holes and inside cuts come before its outline, and before that of a neighbour so close that its slot
runs along the part's own edge; a part that lies in an opening of another comes before that opening is cut out. Among
the cuts that are free to come, the one with the nearest start point follows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from cutjob.cuts.board_cuts import BoardCuts
from cutjob.cuts.cut import Cut
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Point, distance
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """A cut of a placement, and the tasks (by index) that must be done first."""

    cut: Cut
    placement: int
    after: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Start:
    """A place where a task may start: how far along its path, and where that is."""

    along: float
    point: Point


def tasks_of(board: BoardCuts) -> tuple[Task, ...]:
    """Return all cuts of a board with what must come before each."""
    hosts = _hosts(board)
    inner: list[list[int]] = []
    outline: list[list[int]] = []
    count = 0
    for part in board.parts:
        inner.append(list(range(count, count + len(part.inner))))
        count += len(part.inner)
        outline.append(list(range(count, count + len(part.outline))))
        count += len(part.outline)
    guests: dict[int, list[int]] = {}
    for guest, host in hosts:
        guests.setdefault(host, []).append(guest)
    nested_pairs = set(hosts)
    beside: dict[int, list[int]] = {}
    for one, other in _touching(board):
        if (one, other) not in nested_pairs and (other, one) not in nested_pairs:
            beside.setdefault(one, []).extend(inner[other])
    tasks: list[Task] = []
    for index, part in enumerate(board.parts):
        nested = [task for guest in guests.get(index, ()) for task in outline[guest]]
        for cut in part.inner:
            after = tuple(nested) if cut.op == "inside cut" else ()
            tasks.append(Task(cut=cut, placement=part.placement, after=after))
        for number, loop in enumerate(part.outline):
            # Bays that closed up behind their mouth are cut while the part is still held.
            bays = outline[index][number + 1 :] if number == 0 else []
            after = (*inner[index], *bays, *beside.get(index, ()))
            tasks.append(Task(cut=loop, placement=part.placement, after=after))
    return tuple(tasks)


def _touching(board: BoardCuts) -> list[tuple[int, int]]:
    """Pairs (one, other) of indices into `board.parts`: the slot round the one runs along the edge of the other."""
    placements = [board.layout.placements[part.placement] for part in board.parts]
    shapes = [placement.polygon for placement in placements]
    deviation = max((placement.part.deviation for placement in placements), default=0.0)
    reach = board.cutter.diameter + deviation + 2 * TOLERANCES.acceptance
    ones, others = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=reach)
    return sorted((int(one), int(other)) for one, other in zip(ones, others, strict=True) if one != other)


def _hosts(board: BoardCuts) -> list[tuple[int, int]]:
    """Pairs (guest, host): the guest lies in an opening of the host. Indices into `board.parts`."""
    placements = board.layout.placements
    openings = [
        (index, to_polygon(hole))
        for index, part in enumerate(board.parts)
        for hole in placements[part.placement].region.holes
    ]
    if not openings:
        return []
    marks = [shapely.Point(placements[part.placement].region.outline.segments[0].start) for part in board.parts]
    tree = shapely.STRtree(marks)
    pairs: list[tuple[int, int]] = []
    for host, opening in openings:
        pairs.extend((int(guest), host) for guest in tree.query(opening, predicate="contains") if guest != host)
    return sorted(set(pairs))


def sequence(tasks: Sequence[Task], starts: Sequence[Sequence[Start]], *, home: Point) -> list[tuple[int, Start]]:
    """Return every task once, with the start nearest to where the one before ended, in an allowed order.

    From `home` on, always the nearest start among the tasks whose `after` are done. Time grows as n log n for evenly
    spread starts. Raises ValueError when tasks wait for each other.
    """
    waiting = [len(set(task.after)) for task in tasks]
    followers: list[list[int]] = [[] for _ in tasks]
    for index, task in enumerate(tasks):
        for before in set(task.after):
            followers[before].append(index)
    grid = _Grid([(index, start) for index, options in enumerate(starts) for start in options])
    for index, count in enumerate(waiting):
        if count == 0:
            grid.add(index, starts[index])
    order: list[tuple[int, Start]] = []
    here = home
    while len(order) < len(tasks):
        found = grid.nearest(here)
        if found is None:
            raise ValueError("cuts wait for each other")
        index, start = found
        order.append((index, start))
        here = start.point
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
