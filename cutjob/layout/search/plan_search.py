"""The search for a plan: makes first plans for several ways of repeating layouts, then improves the best of them.

Plans are improved by emptying boards into others or exchanging them for cheaper ones, and by a larger largest leftover.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from cutjob.layout.search.arrangement import Arrangement
from cutjob.layout.search.batches import Chain, Step, chains
from cutjob.layout.search.board_groups import (
    BoardGroup,
    Plan,
    Score,
    boards_used,
    cost_of,
    filled_share,
    part_of_group,
    problem_of,
    put_back,
    score,
)
from cutjob.layout.search.board_search import drained, emptied, part_of_problem
from cutjob.layout.search.crew import Crew, Task
from cutjob.layout.search.first_plans import FirstPlan, first_plan_of, refilled
from cutjob.layout.search.packing_problem import PackingProblem
from cutjob.layout.search.separation import shortened
from cutjob.stages import Effort

_MOST_SPACES, _MOST_ITEMS = 10, 200  # that exchange parts at a time
_HOPELESS = 0.97  # fill, with half the gaps, above which nothing is tried, as parts seldom fill boards so well
_LITTLE_BETTER = 1.1  # times the fill of the fullest board: about what a longer search may reach on all
_DRAINING, _EMPTYING = 250_000, 500_000  # positions of one try, step by step and all at once
_EMPTIER = 0.01  # share by which a board must get emptier for a try not to be in vain
_LEAST_SHORTENING, _SHORTENING = 60_000, 350_000  # the fewest and the most positions of one round
_LITTLE = 0.1  # of a board
_FULLER, _IN_VAIN = 0.1, 0.01  # by which a fuller board, and each try in vain, count as filling the others more
_SIDE_BY_SIDE = 2  # tasks in a round
_SAME = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """Rounds without a gain after which a search ends: for one way to save a board, and for shortening.

    A round of shortening takes `each` times as many positions as it moves parts.
    """

    emptying: int
    shortening: int
    each: int


@dataclass(slots=True)
class Contender:
    """A plan among the best: its failed tries, by what was tried."""

    plan: Plan
    score: Score
    cost: float
    least: float
    vain: Counter[tuple[int, int, int]] = field(default_factory=Counter)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Try:
    """Emptying a space of a group into `others`, with one more space of a kind if that is not -1. `fill` is the share
    of these that would be filled, `share` that of the space that is filled now.
    """

    contender: int
    group: int
    leave: int
    others: tuple[int, ...]
    more: int
    fill: float
    share: float

    @property
    def key(self) -> tuple[int, int, int]:
        return self.group, self.leave, self.more


def contender(packing: PackingProblem, plan: Plan) -> Contender:
    """Return a plan prepared as a contender."""
    return Contender(plan, score(packing, plan), cost_of(packing, plan), _least_cost(packing, plan))


def _least_cost(packing: PackingProblem, plan: Plan) -> float:
    """A lower bound, by area, on the score that exchanging parts within the groups can reach."""
    cost = sum(packing.price[sheet.kind] * sheet.times for sheet in plan.alone)
    for group in plan.groups:
        area = sum(packing.whole.areas[entry.demand] for entry in group.entries)
        prices = sorted(
            (packing.price[space // 2] / packing.room[space], packing.room[space]) for space in group.spaces
        )
        cheapest = 0.0
        for price, room in prices:
            taken = min(area, room)
            cheapest += price * taken
            area -= taken
        whole = [packing.price[space // 2] for space in group.spaces]
        if len(set(whole)) == 1 and whole[0] > 0:
            cheapest = whole[0] * -int(-(cheapest / whole[0] - _SAME) // 1)
        cost += group.times * cheapest
    return cost


def save_boards(
    packing: PackingProblem, crew: Crew, running: list[Contender], *, seed: int, patience: Patience, until: float
) -> Contender:
    """Empty boards of the contenders, the likeliest first, until a share of the budget is used or nothing is left to
    try; return the best of all plans on the way.

    A contender with a board that got emptier takes the place of the one before it.
    """
    best = min(running, key=lambda one: one.score)
    number = 0
    while not crew.stopped and crew.done < until:
        tries = _tries(packing, running, patience, seed * 7919 + number)
        if not tries:
            break
        one = tries[0]
        rival = running[one.contender]
        tasks, small, items = _tasks(packing, crew, rival, one, seed * 7919 + number * 10)
        number += 1
        boards, share = filled_share(packing, best.plan)
        crew.tell("fewer boards", boards=boards, filled=share)
        found = [at for at in crew.run(tasks, "fewer boards") if at is not None]
        at = min(found, key=lambda at: _area_in(packing, small, at))
        rival.vain[one.key] += 1
        if _area_in(packing, small, at) > (1 - _EMPTIER) * _area_in(packing, small, small.at):
            continue
        group = put_back(rival.plan.groups[one.group], (one.leave, *one.others), items, small.spaces, at)
        fresh = contender(packing, rival.plan.with_group(one.group, group))
        if fresh.cost <= rival.cost + _SAME:  # a board exchanged for another is one more until it is empty
            running[one.contender] = fresh
            best = min(best, fresh, key=lambda each: each.score)
    return best


def _area_in(packing: PackingProblem, group: BoardGroup, at: Arrangement) -> float:
    """The area of a group's items in its first space."""
    return sum(
        packing.whole.areas[entry.demand] for entry, space in zip(group.entries, at.space, strict=True) if not space
    )


def _tries(packing: PackingProblem, running: Sequence[Contender], patience: Patience, seed: int) -> list[_Try]:
    """The promising tries: first those that leave boards least full, the emptiest board of a group first."""
    best = min(one.score for one in running)
    cheapest = min(one.cost for one in running)
    tries: list[_Try] = []
    for number, rival in enumerate(running):
        # Where boards are stacked, a plan with the same price may still need fewer runs.
        limit = cheapest + _SAME if packing.stack > 1 else cheapest - _SAME
        if rival.least > limit and rival.score > best:
            continue
        tries += [one for one in _of_plan(packing, number, rival, seed) if rival.vain[one.key] < patience.emptying]

    def hope(one: _Try) -> tuple[float, int, tuple[int, int, int]]:
        vain = running[one.contender].vain[one.key]
        return one.fill + _FULLER * one.share + _IN_VAIN * vain, one.contender, one.key

    return sorted(tries, key=hope)


def _of_plan(packing: PackingProblem, number: int, rival: Contender, seed: int) -> Iterator[_Try]:
    used = boards_used(packing, rival.plan)
    for at, group in enumerate(rival.plan.groups):
        areas = [group.area(packing, space) for space in range(len(group.spaces))]
        for leave in range(len(group.spaces)):
            kind = group.spaces[leave] // 2
            if packing.price[kind] <= 0:
                continue
            others = _others(packing, group, areas, leave, seed)
            room = sum(packing.room[group.spaces[space]] for space in others)
            area = areas[leave] + sum(areas[space] for space in others)
            share = areas[leave] / packing.room[group.spaces[leave]]
            if others and area <= _HOPELESS * room:
                fill = area / room
                yield _Try(contender=number, group=at, leave=leave, others=others, more=-1, fill=fill, share=share)
            for more in range(len(packing.boards)):
                if packing.price[more] >= packing.price[kind] - _SAME:
                    continue
                if packing.boards[more].count - used[more] < group.times:
                    continue
                wider = room + packing.room[2 * more]
                if area <= _HOPELESS * wider:
                    fill = area / wider
                    yield _Try(
                        contender=number, group=at, leave=leave, others=others, more=more, fill=fill, share=share
                    )


def _others(
    packing: PackingProblem, group: BoardGroup, areas: Sequence[float], leave: int, seed: int
) -> tuple[int, ...]:
    """The boards to take the parts of another: those with the most wood left, and from time to time any."""
    rest = [space for space in range(len(group.spaces)) if space != leave]
    chance = random.Random(seed * 31 + leave)
    if len(rest) >= _MOST_SPACES and seed % 2:
        chance.shuffle(rest)
    else:
        rest.sort(key=lambda space: areas[space] - packing.room[group.spaces[space]])
    taken: list[int] = []
    items = len(group.on(leave))
    for space in rest:
        items += len(group.on(space))
        if len(taken) >= _MOST_SPACES - 1 or (taken and items > _MOST_ITEMS):
            break
        taken.append(space)
    return tuple(taken)


def _tasks(
    packing: PackingProblem, crew: Crew, rival: Contender, one: _Try, seed: int
) -> tuple[list[Task], BoardGroup, list[int]]:
    """Two ways to empty a board step by step, where every step stays; one of them all at once where little is left on
    it, or tries were in vain.
    """
    small, items = part_of_group(rival.plan.groups[one.group], (one.leave, *one.others))
    if one.more >= 0:
        small = replace(small, spaces=(*small.spaces, 2 * one.more))
    room = [packing.room[space] for space in small.spaces]
    given = problem_of(packing, small), small.at, small.entries
    steps = {"room": room, "limit": crew.limit(_DRAINING)}
    at_once = {"leave": (0,), "room": room, "limit": crew.limit(_EMPTYING), "seed": seed + 1}
    little = one.share < _LITTLE or rival.vain[one.key]
    other = Task(emptied, given, at_once) if little else Task(drained, given, {**steps, "seed": seed + 1})
    return [Task(drained, given, {**steps, "seed": seed}), other], small, items


def enlarge_leftover(packing: PackingProblem, crew: Crew, plan: Plan, *, seed: int, patience: Patience) -> Plan:
    """Return the plan with a larger usable leftover, if one is found before the budget or the patience ends."""
    best, reached = plan, score(packing, plan)
    boards, share = filled_share(packing, plan)
    crew.tell("a larger leftover", boards=boards, filled=share)
    best, reached = _turned(packing, crew, best, reached, seed=seed)
    vain = number = 0
    while vain < patience.shortening and not crew.stopped and crew.done < 1.0:
        targets = _targets(packing, best)
        if not targets:
            break
        jobs = []
        for k in range(_SIDE_BY_SIDE):
            at, space = targets[(k * (number % 2)) % len(targets)]
            group = best.groups[at]
            around = (
                space,
                *_others(
                    packing,
                    group,
                    [group.area(packing, s) for s in range(len(group.spaces))],
                    space,
                    0,
                ),
            )
            small, items = part_of_group(group, around)
            if len(items) < 2:  # nothing to exchange
                continue
            problem = part_of_problem(packing.whole, small.entries, small.spaces, packing.holds, small.at)
            options = {
                "space": 0,
                "seed": seed * 104729 + number * 10 + k,
                "limit": crew.limit(_round(patience, len(items))),
            }
            jobs.append((Task(shortened, (problem, small.at), options), at, around, small, items))
        number += 1
        if not jobs:
            vain += 1
            continue
        results = crew.run([job[0] for job in jobs], "a larger leftover")
        before = reached
        plans = []
        for found, (_, at, around, small, items) in zip(results, jobs, strict=True):
            plans.append(best.with_group(at, put_back(best.groups[at], around, items, small.spaces, found)))
        for other in plans:
            value = score(packing, other)
            if value < reached:
                best, reached = other, value
        vain = 0 if _is_gain(before, reached) else vain + 1
    return best


def _round(patience: Patience, parts: int) -> int:
    """The positions of one round of shortening."""
    return min(_SHORTENING, max(_LEAST_SHORTENING, patience.each * parts))


def _is_gain(before: Score, after: Score) -> bool:
    """Whether a score is better by more than a thousandth of one of its values."""
    for old, new in zip(before, after, strict=True):
        if old != new:
            return old - new > 1e-3 * abs(old)
    return False


def _targets(packing: PackingProblem, plan: Plan) -> list[tuple[int, int]]:
    """The two boards that could have the largest leftover, by the area without parts."""
    free = []
    for at, group in enumerate(plan.groups):
        for space, number in enumerate(group.spaces):
            left = packing.room[number] - group.area(packing, space) / 0.8
            if _may_be_shorter(packing, group, space):
                free.append((-left, at, space))
    return [(at, space) for _, at, space in sorted(free)[:2]]


def _may_be_shorter(packing: PackingProblem, group: BoardGroup, space: int) -> bool:
    """Whether the parts reach further than the longest of them alone."""
    on, box = group.on(space), packing.whole.bodies.box
    left = packing.whole.spaces[group.spaces[space], 0]
    reach = max(float(group.at.x[i] + box[group.at.pose[i], 2]) for i in on)
    least = max(
        min(float(box[pose, 2] - box[pose, 0]) for pose in packing.whole.item_poses[group.entries[i].demand])
        for i in on
    )
    return bool(reach - left > least + 0.01)


def _turned(packing: PackingProblem, crew: Crew, plan: Plan, reached: Score, *, seed: int) -> tuple[Plan, Score]:
    """The plan with the boards that could have the largest leftover packed to their other end,
    where that leaves more.
    """
    for at, space in _targets(packing, plan):
        group = plan.groups[at]
        number = group.spaces[space]
        small, items = part_of_group(group, [space])
        turns = (number,) if _looks_alike(packing, number) else (number, number ^ 1)
        for turn in turns:
            found = refilled(packing, crew, small, (turn,), seed=seed)
            if found is None:
                continue
            other = plan.with_group(at, put_back(plan.groups[at], [space], items, (turn,), found))
            value = score(packing, other)
            if value < reached:
                plan, reached = other, value
    return plan, reached


def _looks_alike(packing: PackingProblem, space: int) -> bool:
    fixed = packing.whole.fixed_space
    return not np.any(fixed == space) and not np.any(fixed == (space ^ 1))


POSITIONS: dict[Effort, int] = {"quick": 2_500_000, "normal": 12_000_000, "best": 100_000_000}
"""Positions tried in all: about one and a half, ten and sixty seconds on two cores."""

_PATIENCE: dict[Effort, Patience] = {
    # Short rounds, each from the best of those before, are enough for a few parts.
    "quick": Patience(emptying=2, shortening=2, each=8_000),
    "normal": Patience(emptying=12, shortening=9, each=_SHORTENING),
    "best": Patience(emptying=50, shortening=30, each=_SHORTENING),
}
_MOST_CONTENDERS = 6
_MOST_RANKINGS = 3
_FIRST_CHAINS = 5  # ways of repeating layouts that are always tried
_BEGINNING, _SAVING = 0.3, 0.85  # shares of the budget after which the next kind of work begins


def search(packing: PackingProblem, crew: Crew, *, effort: Effort, seed: int) -> FirstPlan:
    """Return the best plan found; it lacks lots only where no complete plan was found."""
    running, lacking = _first(packing, crew, seed=seed)
    if not running:
        assert lacking is not None  # there is at least one chain
        return lacking
    patience = _PATIENCE["best" if crew.seconds is not None else effort]
    best = min(running, key=lambda one: one.score)
    if not crew.stopped:
        best = save_boards(packing, crew, running, seed=seed, patience=patience, until=_SAVING)
    plan: Plan = best.plan
    unfinished = _may_be_fewer(packing, plan)
    if not crew.stopped:
        plan = enlarge_leftover(packing, crew, plan, seed=seed, patience=patience)
    return FirstPlan(plan=plan, missing=(0,) * len(packing.lots), unfinished=unfinished)


def _may_be_fewer(packing: PackingProblem, plan: Plan) -> bool:
    """Whether a board less would be filled little better than the fullest one is now."""
    used = boards_used(packing, plan)
    bought = [kind for kind in used.elements() if packing.price[kind] > 0]
    if len(bought) < 2:
        return False
    fullest = max(
        (
            group.area(packing, space) / packing.room[group.spaces[space]]
            for group in plan.groups
            for space in range(len(group.spaces))
        ),
        default=0.0,
    )
    parts = sum(packing.whole.areas[demand] * lot.count for lot in packing.lots for demand in lot.parts)
    room = sum(packing.room[2 * kind] for kind in used.elements())
    smallest = min(packing.room[2 * kind] for kind in bought)
    return parts <= min(_HOPELESS, _LITTLE_BETTER * fullest) * (room - smallest)


def _first(packing: PackingProblem, crew: Crew, *, seed: int) -> tuple[list[Contender], FirstPlan | None]:
    """The best complete plans, and the incomplete one that lacks least."""
    one_by_one: Chain = (Step(times=1),)
    free = any(price <= 0 for price in packing.price)
    running: list[Contender] = []
    lacking: FirstPlan | None = None
    ways = chains(packing.lots, stack=packing.stack, free=free)
    for number, chain in enumerate(ways):
        if running and (crew.stopped or _enough_tried(packing, crew, running, number)):
            break
        if running and _is_hopeless(packing, chain, min(one.cost for one in running)):
            continue
        first_plan = first_plan_of(packing, crew, chain, seed=seed * 101 + number)
        if not any(first_plan.missing):
            running.append(contender(packing, first_plan.plan))
            boards, share = filled_share(packing, min(running, key=lambda one: one.score).plan)
            crew.tell("other ways to repeat layouts", boards=boards, filled=share)
        elif lacking is None or sum(first_plan.missing) < sum(lacking.missing):
            lacking = first_plan
    if not running and not crew.stopped and crew.overdrawn:  # boards filled in haste may be filled better
        first_plan = first_plan_of(
            packing, crew, one_by_one if one_by_one in ways else ways[0], seed=seed, thorough=True
        )
        if not any(first_plan.missing):
            running.append(contender(packing, first_plan.plan))
    for other in _other_rankings(packing) if not crew.stopped and not (running and crew.overdrawn) else ():
        first_plan = first_plan_of(other, crew, one_by_one, seed=seed)
        if not any(first_plan.missing):
            running.append(contender(packing, first_plan.plan))
    if not running:
        return [], lacking
    best = min(running, key=lambda one: one.score)
    others = sorted((one for one in running if one is not best), key=lambda one: (one.least, one.score))
    return [best, *others[: _MOST_CONTENDERS - 1]], lacking


def _enough_tried(packing: PackingProblem, crew: Crew, running: Sequence[Contender], chains_tried: int) -> bool:
    """Whether to stop trying ways of repeating layouts once there is a plan.

    Where the budget is exceeded, one plan is enough, but with stacked boards a better one is worth the work.
    """
    best = min(running, key=lambda one: one.score).plan
    if crew.overdrawn and (packing.stack == 1 or any(group.times > 1 for group in best.groups)):
        return True
    return crew.done > _BEGINNING and chains_tried >= _FIRST_CHAINS


def _other_rankings(packing: PackingProblem) -> list[PackingProblem]:
    """The problem with each other kind of priced board used first, as fewer expensive boards may cost less."""
    free = tuple(kind for kind in packing.rank if packing.price[kind] <= 0)
    bought = tuple(kind for kind in packing.rank if packing.price[kind] > 0)
    return [
        replace(packing, rank=(*free, kind, *(other for other in bought if other != kind)))
        for kind in bought[1 : 1 + _MOST_RANKINGS]
    ]


def _is_hopeless(packing: PackingProblem, chain: Chain, cost: float) -> bool:
    """Whether a chain needs more boards than in stock, or must cost more than a limit, by the area of parts."""
    missing = [lot.count for lot in packing.lots]
    least = 0.0
    for step in chain:
        able = [kind for kind in packing.rank if packing.boards[kind].count >= step.times]
        taken = [
            count // step.times if lot.stackable or not step.plain else 0
            for lot, count in zip(packing.lots, missing, strict=True)
        ]
        if not any(taken) or step.free:
            continue
        if not able:
            return True
        area = sum(
            number * packing.whole.areas[demand]
            for lot, number in zip(packing.lots, taken, strict=True)
            for demand in lot.parts
        )
        by_area = area * min(packing.price[kind] / packing.room[2 * kind] for kind in able)
        if step.times > 1 or len(chain) == 1:
            least += step.times * max(by_area, 0.0 if step.drop else min(packing.price[kind] for kind in able))
        missing = [count - number * step.times for count, number in zip(missing, taken, strict=True)]
    return least > cost * (1 + 1e-9)
