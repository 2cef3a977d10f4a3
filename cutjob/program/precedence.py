"""The order that cuts on a board must keep, and the sections of one cutter each that follow from it. mm.

A part's marks come before its other cuts of the same cutter, and all of these before its outline. They also come before
the outline of a neighbour so close that its slot runs along the part's own edge. A hole in a pocket's floor or under a
counterbore comes after the pocket or counterbore. A part in an opening of another comes before that opening is cut out.
Where parts hang on each other by bridges, those that are the most bridges away from a hold are cut free first.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely

from cutjob.cuts.board_cuts import BoardCuts, PlacedCuts
from cutjob.cuts.cut import Cut, HoleCut, MarkCut, PocketCut
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import distance
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """A cut of a placement (None: a hole that holds the board), its window, and the tasks, by index, that must be done
    first. Tasks of a lower `rank` come first as well; no task waits for one of a higher rank.
    """

    cut: Cut
    placement: int | None
    window: int = 0
    after: tuple[int, ...] = ()
    rank: int = 0


def tasks_of(board: BoardCuts, *, far_end_first: bool = False) -> tuple[Task, ...]:
    """Return all cuts of a board but its hold-downs, each with the cuts that must come before it.

    Tasks wait only for tasks of their own window: all windows before are done by then. With `far_end_first` the parts
    are cut free one after another towards x 0. Where the layout says how many bridges its parts are from a hold, the
    outlines have ranks; everything else, with the outlines it waits for, has rank 0.
    """
    windows = _windows(board)
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
        window = windows[index]
        for number, cut in enumerate(part.inner):
            after = [inner[index][before] for before in _before(part, number)]
            after += nested if cut.op == "inside cut" else []
            tasks.append(Task(cut=cut, placement=part.placement, window=window, after=tuple(after)))
        for number, loop in enumerate(part.outline):
            # Bays whose mouth closed up in the offset are cut while the part is still held.
            bays = outline[index][number + 1 :] if number == 0 else []
            waits = (*inner[index], *bays, *beside.get(index, ()))
            tasks.append(Task(cut=loop, placement=part.placement, window=window, after=waits))
    if far_end_first:
        tasks = _far_end_first(board, tasks, outline, {guest for guest, _ in hosts})
    tasks = _ranked(board, tasks, outline, far_end_first=far_end_first)
    for number, pins in enumerate(board.pins):
        tasks += [Task(cut=cut, placement=None, window=number) for cut in pins]
    return tuple(_within_windows(tasks))


def _windows(board: BoardCuts) -> list[int]:
    """The window of each of `board.parts`."""
    of = {placement: n for n, window in enumerate(board.layout.windows) for placement in window.placements}
    return [of.get(part.placement, 0) for part in board.parts]


def _before(part: PlacedCuts, number: int) -> list[int]:
    """The numbers of a part's inner cuts that come before one of them."""
    cut = part.inner[number]
    before = []
    if not isinstance(cut, MarkCut):
        before = [i for i, each in enumerate(part.inner) if isinstance(each, MarkCut) and each.cutter == cut.cutter]
    if isinstance(cut, HoleCut) and cut.top > 0:
        for i, each in enumerate(part.inner):
            wide = isinstance(each, HoleCut) and each.depth == cut.top and distance(each.at, cut.at) < _SAME_PLACE
            if i != number and (wide or (isinstance(each, PocketCut) and each.depth == cut.top)):
                before.append(i)
    return before


_SAME_PLACE = TOLERANCES.acceptance


def _far_end_first(board: BoardCuts, tasks: list[Task], outline: list[list[int]], guests: set[int]) -> list[Task]:
    """The loop that frees a part waits for that of the part that reaches next farther from x 0; a part in an opening is
    freed with its host.
    """
    placements = board.layout.placements
    order = sorted(
        (index for index in range(len(board.parts)) if index not in guests and outline[index]),
        key=lambda index: (-placements[board.parts[index].placement].region.bounds[2], index),
    )
    result = list(tasks)
    for before, index in itertools.pairwise(order):
        first = outline[index][0]
        result[first] = replace(result[first], after=(*result[first].after, outline[before][0]))
    return result


def _ranked(
    board: BoardCuts, tasks: list[Task], outline: Sequence[Sequence[int]], *, far_end_first: bool
) -> list[Task]:
    """The tasks with ranks: outlines come after everything else, first those of the parts farthest from a hold."""
    holding = board.layout.holding
    if holding is None or not holding.to_hold:
        return tasks
    farthest = max(holding.to_hold)
    ranks = [0] * len(tasks)
    for part, loops in zip(board.parts, outline, strict=True):
        for loop in loops:
            ranks[loop] = 1 if far_end_first else 1 + farthest - holding.to_hold[part.placement]
    # A task's rank is never lower than that of the tasks it waits for: parts in an opening with the insides, bays with
    # their part.
    changed = list(range(len(tasks)))
    while changed:
        task = changed.pop()
        for before in tasks[task].after:
            if ranks[before] > ranks[task]:
                ranks[before] = ranks[task]
                changed.append(before)
    return [replace(task, rank=rank) for task, rank in zip(tasks, ranks, strict=True)]


def _within_windows(tasks: Sequence[Task]) -> list[Task]:
    return [
        replace(task, after=tuple(before for before in task.after if tasks[before].window == task.window))
        for task in tasks
    ]


def _touching(board: BoardCuts) -> list[tuple[int, int]]:
    """Pairs (one, other) of indices into `board.parts`: the slot round the one runs along the edge of the other."""
    placements = [board.layout.placements[part.placement] for part in board.parts]
    shapes = [placement.polygon for placement in placements]
    deviation = max((placement.part.deviation for placement in placements), default=0.0)
    reach = board.cutters.outline.diameter + deviation + 2 * TOLERANCES.acceptance
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


def by_cutter(tasks: Sequence[Task], *, last: int) -> list[list[int]]:
    """Return the tasks, by index, in sections of one cutter each, with the fewest changes their order allows.

    Every section takes all tasks that may come by then. Among equally few sections, those that end with cutter `last`
    are preferred. The search is breadth first over the tasks done after each section: with few cutters there are only a
    handful of states. Raises ValueError when tasks wait for each other.
    """
    followers: list[list[int]] = [[] for _ in tasks]
    waiting = [len(set(task.after)) for task in tasks]
    for index, task in enumerate(tasks):
        for before in set(task.after):
            followers[before].append(index)
    numbers = sorted({task.cut.cutter for task in tasks})
    states: list[tuple[list[list[int]], list[int], frozenset[int]]] = [([], waiting, frozenset())]
    seen: set[tuple[frozenset[int], int]] = set()
    while states:
        done = [sections for sections, _, finished in states if len(finished) == len(tasks)]
        if done:
            return min(done, key=lambda sections: bool(sections) and tasks[sections[-1][0]].cut.cutter != last)
        following = []
        for sections, left, finished in states:
            for number in numbers:
                section, rest = _all_of(number, tasks, followers, left, finished)
                state = finished.union(section)
                if section and (state, number) not in seen:
                    seen.add((state, number))
                    following.append(([*sections, section], rest, state))
        states = following
    raise ValueError("cuts wait for each other")


def _all_of(
    number: int, tasks: Sequence[Task], followers: Sequence[Sequence[int]], left: Sequence[int], done: frozenset[int]
) -> tuple[list[int], list[int]]:
    """All tasks of a cutter that may come now, one after another; and how many tasks each task still waits for then."""
    rest = list(left)
    ready = [i for i, task in enumerate(tasks) if task.cut.cutter == number and rest[i] == 0 and i not in done]
    section = []
    while ready:
        index = ready.pop()
        section.append(index)
        for follower in followers[index]:
            rest[follower] -= 1
            if rest[follower] == 0 and tasks[follower].cut.cutter == number:
                ready.append(follower)
    return sorted(section), rest
