"""First plans: boards filled one part after the other, for each promising way of repeating layouts."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutjob.layout.search.arrangement import Arrangement
from cutjob.layout.search.batches import Chain, Piece, Sheet, Step
from cutjob.layout.search.board_groups import (
    BoardGroup,
    Plan,
    part_of_group,
    problem_of,
    put_back,
    without,
    without_empty,
)
from cutjob.layout.search.board_search import Entry, emptied, filled, part_of_problem
from cutjob.layout.search.crew import OVERDRAFT, Crew, Task
from cutjob.layout.search.packing_problem import PackingProblem
from cutjob.layout.search.rectangles import are_rectangles, filled_rows

_ORDERS, _FEW_ORDERS = 4, 2
_SPARE = 1.9  # area of boards to try, as a multiple of the area of parts
_MORE = 2.0
_WELL = 0.75  # of the fill of the other boards: an emptier board is removed where it is made many times
_SAMPLES, _MANY_SAMPLES = 10, 4
_MANY = 120  # items
_WINDOW = 3  # boards tried for each of many items
_RESCUE = 800_000  # positions for parts without a place


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstPlan:
    """A plan and the number of missing lots of each kind. The search was `unfinished` if it ended with its effort while
    fewer boards might still be found.
    """

    plan: Plan
    missing: tuple[int, ...]
    unfinished: bool = False


def first_plan_of(packing: PackingProblem, crew: Crew, chain: Chain, *, seed: int, thorough: bool = False) -> FirstPlan:
    """Return the plan of a chain of steps, and the number of each lot without a board.

    Boards are filled with care until the budget is exceeded, and from then on in haste unless `thorough`.
    """
    missing = [lot.count for lot in packing.lots]
    left = [board.count for board in packing.boards]
    groups: list[BoardGroup] = []
    for number, step in enumerate(chain):
        entries = _entries(packing, missing, step)
        if not entries:
            continue
        group = _fill(packing, crew, entries, step, left, seed=seed * 31 + number, thorough=thorough)
        if group is None or not group.spaces:
            continue
        group = _cheaper(packing, crew, group, left, seed=seed * 31 + number)
        if step.drop:
            group = _without_emptiest(packing, group)
        if not group.spaces:
            continue
        groups.append(group)
        for space in group.spaces:
            left[space // 2] -= step.times
        for lot, count in _lots_on(packing, group).items():
            missing[lot] -= count * step.times
    plan = Plan(groups=tuple(groups))
    if any(missing):
        plan, missing = _alone(packing, plan, missing, left)
    return FirstPlan(plan=plan, missing=tuple(missing))


def _entries(packing: PackingProblem, missing: Sequence[int], step: Step) -> list[Entry]:
    entries = []
    for number, lot in enumerate(packing.lots):
        if step.plain and not lot.stackable:
            continue
        for copy in range(missing[number] // step.times):
            bundle = copy if len(lot.parts) > 1 else -1
            entries += [Entry(lot=number, bundle=bundle, demand=demand) for demand in lot.parts]
    return entries


def _lots_on(packing: PackingProblem, group: BoardGroup) -> Counter[int]:
    counts: Counter[int] = Counter()
    for i, entry in enumerate(group.entries):
        if group.at.space[i] >= 0:
            counts[entry.lot] += 1
    return Counter({lot: count // len(packing.lots[lot].parts) for lot, count in counts.items()})


def _groups(entries: Sequence[Entry]) -> list[tuple[int, ...]]:
    groups: dict[tuple[int, int], list[int]] = {}
    for i, entry in enumerate(entries):
        groups.setdefault((entry.lot, entry.bundle) if entry.bundle >= 0 else (-1, i), []).append(i)
    return [tuple(group) for group in groups.values()]


def _fill(
    packing: PackingProblem,
    crew: Crew,
    entries: list[Entry],
    step: Step,
    left: Sequence[int],
    *,
    seed: int,
    thorough: bool,
) -> BoardGroup | None:
    """The best of the boards filled in several orders; items are without a place only where there
    were too few boards.
    """
    area = sum(packing.whole.areas[entry.demand] for entry in entries)
    spare, before = _SPARE, -1
    best: BoardGroup | None = None
    while True:
        spaces = _opened(packing, entries, step, left, area * spare)
        if not spaces or len(spaces) == before:
            return best
        before = len(spaces)
        whole = packing.rough if packing.rough is not None and len(entries) > _MANY else packing.whole
        problem = part_of_problem(whole, entries, spaces, packing.holds)
        room = [packing.room[space] for space in spaces]
        many = len(entries) > _MANY
        brief = not thorough and crew.overdrawn
        orders = _orders(packing, entries, spaces, seed)[: _FEW_ORDERS if many or brief else _ORDERS]
        tasks = [
            Task(
                filled,
                (problem, entries, order),
                {
                    "room": room,
                    "most_poses": (4 if many else 8) * (1 if number < 3 else 3),
                    "seed": seed * 1009 + number,
                    "samples": _MANY_SAMPLES if many else _SAMPLES,
                    "window": _WINDOW if many else 0,
                    "enough": _enough(crew, len(orders)) if not thorough else None,
                },
            )
            for number, order in enumerate(orders)
        ]
        if are_rectangles(problem) and all(entry.bundle < 0 for entry in entries):
            tasks.append(Task(filled_rows, (problem,), {}))
        results = crew.run(tasks, "filling boards")
        groups = [BoardGroup(times=step.times, entries=tuple(entries), spaces=spaces, at=at) for at in results]
        best = min(groups, key=lambda group: _group_score(packing, group))
        nowhere = {i for i in range(len(entries)) if best.at.space[i] < 0}
        if not nowhere:
            return without_empty(best)
        if step.times == 1 and len(_opened(packing, entries, step, left, area * spare * _MORE)) == len(spaces):
            saved = _rescued(packing, crew, best, seed)
            if saved is not None:
                return without_empty(saved)
        best = _whole_lots(best, nowhere)
        spare *= _MORE


def _enough(crew: Crew, tasks: int) -> int | None:
    """The positions after which each of some tasks must hurry; None where the clock limits the work."""
    if crew.seconds is not None:
        return None
    return 0 if crew.overdrawn else OVERDRAFT * crew.positions // tasks


def _whole_lots(group: BoardGroup, nowhere: set[int]) -> BoardGroup:
    torn = {(group.entries[i].lot, group.entries[i].bundle) for i in nowhere if group.entries[i].bundle >= 0}
    parts = {i for i, entry in enumerate(group.entries) if (entry.lot, entry.bundle) in torn}
    return without(group, nowhere | parts)


def _opened(
    packing: PackingProblem, entries: Sequence[Entry], step: Step, left: Sequence[int], area: float
) -> tuple[int, ...]:
    """Spaces of the boards in the order to use them, until their area is enough and each demand has one."""
    demands = sorted({entry.demand for entry in entries})
    spaces: list[int] = []
    opened = 0.0
    kinds = [
        kind
        for kind in packing.rank
        if left[kind] >= step.times
        and packing.holds[demands, 2 * kind].any()
        and not (step.free and packing.price[kind] > 0)
        and not (step.bought and packing.price[kind] <= 0)
    ]
    for kind in kinds:
        lone = [d for d in demands if packing.holds[d, 2 * kind] and not any(packing.holds[d, s] for s in spaces)]
        for _ in range(min(left[kind] // step.times, len(entries))):
            if opened >= area and not lone:
                break
            spaces.append(2 * kind)
            opened += packing.room[2 * kind]
            if opened >= area:
                needed = sum(packing.whole.areas[e.demand] for e in entries if e.demand in lone)
                lone = lone if sum(packing.room[s] for s in spaces if s == 2 * kind) < needed * _MORE else []
    return tuple(spaces)


def _orders(
    packing: PackingProblem, entries: Sequence[Entry], spaces: Sequence[int], seed: int
) -> list[list[tuple[int, ...]]]:
    """The order of items: about large before small and long before short, but first those that fit
    few of the boards.
    """
    box, poses = packing.whole.bodies.box, packing.whole.item_poses
    groups = _groups(entries)
    number = np.array(spaces)

    def scarce(group: tuple[int, ...]) -> float:
        return float(min(packing.room_of(number[packing.holds[entries[i].demand][number]]) for i in group))

    def size(i: int) -> tuple[float, float, float]:
        x0, y0, x1, y1 = box[poses[entries[i].demand][0]]
        return packing.whole.areas[entries[i].demand], max(x1 - x0, y1 - y0), (x1 - x0) * (y1 - y0)

    sizes = [tuple(sum(values) for values in zip(*(size(i) for i in group), strict=True)) for group in groups]
    first = [scarce(group) for group in groups]
    chance = random.Random(seed)
    rough = [sizes[k][2] * chance.uniform(0.6, 1.4) for k in range(len(groups))]
    keys = [[s[2] for s in sizes], [s[1] for s in sizes], [s[0] for s in sizes], rough]
    return [[groups[k] for k in sorted(range(len(groups)), key=lambda k: (first[k], -key[k], k))] for key in keys]


def _group_score(packing: PackingProblem, group: BoardGroup) -> tuple[float, float, float]:
    """Area of the items without a place, price of the boards, and the fill of the emptiest board with a price."""
    lost = sum(packing.whole.areas[e.demand] for i, e in enumerate(group.entries) if group.at.space[i] < 0)
    used = sorted({int(space) for space in group.at.space if space >= 0})
    paid = [space for space in used if packing.price[group.spaces[space] // 2] > 0] or used
    price = sum(packing.price[group.spaces[space] // 2] for space in used)
    return lost, price, min((group.area(packing, space) for space in paid), default=0.0)


def _rescued(packing: PackingProblem, crew: Crew, group: BoardGroup, seed: int) -> BoardGroup | None:
    """The items without a place put among the others, and all separated."""
    if len(group.entries) > 2 * _MANY:
        return None
    room = [packing.room[space] for space in group.spaces]
    if sum(packing.whole.areas[entry.demand] for entry in group.entries) > sum(room):
        return None
    tasks = [
        Task(
            emptied,
            (problem_of(packing, group), group.at, group.entries),
            {"leave": (), "room": room, "seed": seed * 77 + number, "limit": crew.limit(_RESCUE)},
        )
        for number in range(4)
    ]
    results = crew.run(tasks, "finding space for the last parts")
    found = next((at for at in results if at is not None), None)
    return replace(group, at=found) if found is not None else None


def _cheaper(packing: PackingProblem, crew: Crew, group: BoardGroup, left: Sequence[int], *, seed: int) -> BoardGroup:
    """The group with the emptiest boards exchanged for cheaper ones that take all their items."""
    if len(packing.boards) < 2:
        return group
    emptiest = sorted(range(len(group.spaces)), key=lambda space: group.area(packing, space))
    for space in emptiest[:2]:
        small, items = part_of_group(group, [space])
        price, area = packing.price[group.spaces[space] // 2], group.area(packing, space)
        used = Counter(other // 2 for other in group.spaces)
        demands = [entry.demand for entry in small.entries]
        able = [
            kind
            for kind in range(len(packing.boards))
            if left[kind] // group.times > used[kind]
            and packing.price[kind] < price
            and packing.room[2 * kind] >= area
            and packing.holds[demands, 2 * kind].all()
        ]
        able.sort(key=lambda kind: (packing.price[kind], packing.room[2 * kind], kind))
        for kind in able[:3]:
            found = refilled(packing, crew, small, (2 * kind,), seed=seed)
            if found is not None:
                return _cheaper(packing, crew, put_back(group, [space], items, (2 * kind,), found), left, seed=seed)
    return group


def refilled(
    packing: PackingProblem, crew: Crew, group: BoardGroup, spaces: tuple[int, ...], *, seed: int
) -> Arrangement | None:
    """Lay all items of a group in other spaces, in several orders; return the shortest result, None
    if there is none.
    """
    problem = part_of_problem(packing.whole, group.entries, spaces, packing.holds)
    room = [packing.room[space] for space in spaces]
    tasks = [
        Task(
            filled,
            (problem, group.entries, order),
            {"room": room, "most_poses": 8, "seed": seed * 13 + number, "samples": _SAMPLES},
        )
        for number, order in enumerate(_orders(packing, group.entries, spaces, seed))
    ]
    whole = [at for at in crew.run(tasks, "trying other boards") if (at.space >= 0).all()]
    reach = [float(np.max(at.x + packing.whole.bodies.box[at.pose, 2])) for at in whole]
    return whole[int(np.argmin(reach))] if whole else None


def _without_emptiest(packing: PackingProblem, group: BoardGroup) -> BoardGroup:
    """The group without its emptiest board where that is much emptier than the others."""
    shares = [group.area(packing, space) / packing.room[group.spaces[space]] for space in range(len(group.spaces))]
    worst = int(np.argmin(shares))
    if len(shares) < 2 or shares[worst] >= _WELL * (sum(shares) - shares[worst]) / (len(shares) - 1):
        return group
    return without(group, set(group.on(worst)))


def _alone(packing: PackingProblem, plan: Plan, missing: list[int], left: list[int]) -> tuple[Plan, list[int]]:
    """Parts without a place, each on a board of its own, at a place known to fit."""
    sheets: list[Sheet] = []
    for number, lot in enumerate(packing.lots):
        for _ in range(missing[number] if len(lot.parts) == 1 else 0):
            demand = lot.parts[0]
            kind = next((k for k in packing.rank if left[k] > 0 and (demand, k) in packing.fits), None)
            if kind is None:
                break
            piece = Piece(lot=number, bundle=0, demand=demand, transform=packing.fits[demand, kind])
            sheets.append(Sheet(kind=kind, times=1, pieces=(piece,)))
            left[kind] -= 1
            missing[number] -= 1
    return replace(plan, alone=(*plan.alone, *sheets)), missing
