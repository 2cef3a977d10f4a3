"""The search for a plan: first plans for several ways of repeating layouts, then the best of them made better.

Plans made better: boards emptied into others or exchanged for cheaper ones, and the largest leftover made larger.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from cutjob.layout.search.batches import Chain, Step, chains
from cutjob.layout.search.board_groups import (
    Bench,
    Plan,
    Score,
    boards_used,
    cost_of,
    filled_share,
    part_of_bench,
    problem_of,
    put_back,
    score,
)
from cutjob.layout.search.board_search import emptied, part_of_problem
from cutjob.layout.search.crew import Crew, Task
from cutjob.layout.search.first_plans import Begun, begin, refilled
from cutjob.layout.search.packing_problem import Shop
from cutjob.layout.search.separation import shortened
from cutjob.stages import Effort

_MOST_SPACES, _MOST_ITEMS = 7, 100  # that exchange parts at a time
_HOPELESS = 0.97  # fill above which nothing is tried: with half the gaps, parts seldom fill boards so well
_EMPTYING = 500_000  # positions of one try
_SHORTENING = 350_000
_SIDE_BY_SIDE = 2  # tasks in a round
_SAME = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """Rounds without gain after which no more are made: of one way to save a board, and of shortening."""

    emptying: int
    shortening: int


@dataclass(slots=True)
class Contender:
    """A plan in the running: tries made in vain, by what was tried."""

    plan: Plan
    score: Score
    cost: float
    least: float
    vain: Counter[tuple[int, int, int]] = field(default_factory=Counter)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Try:
    """Emptying a space of a bench into `others`, with one more space of a kind if that is not -1."""

    contender: int
    bench: int
    leave: int
    others: tuple[int, ...]
    more: int
    fill: float

    @property
    def key(self) -> tuple[int, int, int]:
        return self.bench, self.leave, self.more


def contender(shop: Shop, plan: Plan) -> Contender:
    """Return a plan ready for the running."""
    return Contender(plan, score(shop, plan), cost_of(shop, plan), _least_cost(shop, plan))


def _least_cost(shop: Shop, plan: Plan) -> float:
    """No less than this can come of exchanging parts within the benches, by area."""
    cost = sum(shop.price[sheet.kind] * sheet.times for sheet in plan.alone)
    for bench in plan.benches:
        area = sum(shop.whole.areas[entry.demand] for entry in bench.entries)
        prices = sorted((shop.price[space // 2] / shop.room[space], shop.room[space]) for space in bench.spaces)
        cheapest = 0.0
        for price, room in prices:
            taken = min(area, room)
            cheapest += price * taken
            area -= taken
        whole = [shop.price[space // 2] for space in bench.spaces]
        if len(set(whole)) == 1 and whole[0] > 0:
            cheapest = whole[0] * -int(-(cheapest / whole[0] - _SAME) // 1)
        cost += bench.times * cheapest
    return cost


def save_boards(
    shop: Shop, crew: Crew, running: list[Contender], *, seed: int, patience: Patience, until: float
) -> None:
    """Empty boards of the contenders, the likeliest first, until a share of the budget is used or nothing is left."""
    number = 0
    while not crew.stopped and crew.done < until:
        tries = _tries(shop, running, patience, seed * 7919 + number)
        if not tries:
            return
        picked = [tries[k % len(tries)] for k in range(_SIDE_BY_SIDE)]
        tasks = [_task(shop, crew, running, one, seed * 7919 + number * 10 + k) for k, one in enumerate(picked)]
        number += 1
        best = min(running, key=lambda one: one.score)
        boards, share = filled_share(shop, best.plan)
        crew.tell("fewer boards", boards=boards, filled=share)
        results = crew.run([task for task, _, _ in tasks], "fewer boards")
        changed: set[tuple[int, int]] = set()
        for one, at, (_, small, items) in zip(picked, results, tasks, strict=True):
            rival = running[one.contender]
            if (one.contender, one.bench) in changed:
                continue
            if at is None:
                rival.vain[one.key] += 1
                continue
            bench = rival.plan.benches[one.bench]
            plan = rival.plan.with_bench(one.bench, put_back(bench, (one.leave, *one.others), items, small.spaces, at))
            changed.add((one.contender, one.bench))
            fresh = contender(shop, plan)
            if fresh.cost < rival.cost - _SAME or fresh.score < rival.score:
                running[one.contender] = fresh
            else:
                rival.vain[one.key] += 1


def _tries(shop: Shop, running: Sequence[Contender], patience: Patience, seed: int) -> list[_Try]:
    """What is worth a try: first what leaves boards least full."""
    best = min(one.score for one in running)
    cheapest = min(one.cost for one in running)
    tries: list[_Try] = []
    for number, rival in enumerate(running):
        # Where boards are stacked a plan that comes to the same price may still need fewer runs.
        limit = cheapest + _SAME if shop.stack > 1 else cheapest - _SAME
        if rival.least > limit and rival.score > best:
            continue
        tries += [one for one in _of_plan(shop, number, rival, seed) if rival.vain[one.key] < 2 * patience.emptying]

    def hope(one: _Try) -> tuple[float, int, tuple[int, int, int]]:
        return one.fill + 0.01 * running[one.contender].vain[one.key], one.contender, one.key

    return sorted(tries, key=hope)


def _of_plan(shop: Shop, number: int, rival: Contender, seed: int) -> Iterator[_Try]:
    used = boards_used(shop, rival.plan)
    for at, bench in enumerate(rival.plan.benches):
        areas = [bench.area(shop, space) for space in range(len(bench.spaces))]
        for leave in range(len(bench.spaces)):
            kind = bench.spaces[leave] // 2
            if shop.price[kind] <= 0:
                continue
            others = _others(shop, bench, areas, leave, seed)
            room = sum(shop.room[bench.spaces[space]] for space in others)
            area = areas[leave] + sum(areas[space] for space in others)
            if others and area <= _HOPELESS * room:
                yield _Try(contender=number, bench=at, leave=leave, others=others, more=-1, fill=area / room)
            for more in range(len(shop.boards)):
                if shop.price[more] >= shop.price[kind] - _SAME:
                    continue
                if shop.boards[more].count - used[more] < bench.times:
                    continue
                wider = room + shop.room[2 * more]
                if area <= _HOPELESS * wider:
                    yield _Try(contender=number, bench=at, leave=leave, others=others, more=more, fill=area / wider)


def _others(shop: Shop, bench: Bench, areas: Sequence[float], leave: int, seed: int) -> tuple[int, ...]:
    """The boards that are to take in what lies on another: those with most wood left, and from time to time any."""
    rest = [space for space in range(len(bench.spaces)) if space != leave]
    chance = random.Random(seed * 31 + leave)
    if len(rest) >= _MOST_SPACES and seed % 2:
        chance.shuffle(rest)
    else:
        rest.sort(key=lambda space: areas[space] - shop.room[bench.spaces[space]])
    taken: list[int] = []
    items = len(bench.on(leave))
    for space in rest:
        items += len(bench.on(space))
        if len(taken) >= _MOST_SPACES - 1 or (taken and items > _MOST_ITEMS):
            break
        taken.append(space)
    return tuple(taken)


def _task(shop: Shop, crew: Crew, running: Sequence[Contender], one: _Try, seed: int) -> tuple[Task, Bench, list[int]]:
    bench = running[one.contender].plan.benches[one.bench]
    small, items = part_of_bench(bench, (one.leave, *one.others))
    if one.more >= 0:
        small = Bench(times=small.times, entries=small.entries, spaces=(*small.spaces, 2 * one.more), at=small.at)
    options = {
        "leave": (0,),
        "room": [shop.room[space] for space in small.spaces],
        "seed": seed,
        "limit": crew.limit(_EMPTYING),
    }
    return Task(emptied, (problem_of(shop, small), small.at, small.entries), options), small, items


def enlarge_leftover(shop: Shop, crew: Crew, plan: Plan, *, seed: int, patience: Patience) -> Plan:
    """Return the plan with a larger usable leftover, if one is found before the budget or the patience ends."""
    best, reached = plan, score(shop, plan)
    boards, share = filled_share(shop, plan)
    crew.tell("a larger leftover", boards=boards, filled=share)
    best, reached = _turned(shop, crew, best, reached, seed=seed)
    vain = number = 0
    while vain < patience.shortening and not crew.stopped and crew.done < 1.0:
        targets = _targets(shop, best)
        if not targets:
            break
        jobs = []
        for k in range(_SIDE_BY_SIDE):
            at, space = targets[(k * (number % 2)) % len(targets)]
            bench = best.benches[at]
            around = (space, *_others(shop, bench, [bench.area(shop, s) for s in range(len(bench.spaces))], space, 0))
            small, items = part_of_bench(bench, around)
            if len(items) < 2:  # nothing to be had from exchanging places
                continue
            problem = part_of_problem(shop.whole, small.entries, small.spaces, shop.holds, small.at)
            options = {"space": 0, "seed": seed * 104729 + number * 10 + k, "limit": crew.limit(_SHORTENING)}
            jobs.append((Task(shortened, (problem, small.at), options), at, around, small, items))
        number += 1
        if not jobs:
            vain += 1
            continue
        results = crew.run([job[0] for job in jobs], "a larger leftover")
        before = reached
        plans = []
        for found, (_, at, around, small, items) in zip(results, jobs, strict=True):
            plans.append(best.with_bench(at, put_back(best.benches[at], around, items, small.spaces, found)))
        for other in plans:
            value = score(shop, other)
            if value < reached:
                best, reached = other, value
        vain = 0 if _is_gain(before, reached) else vain + 1
    return best


def _is_gain(before: Score, after: Score) -> bool:
    """Whether a score is better by more than a thousandth of one of its values."""
    for old, new in zip(before, after, strict=True):
        if old != new:
            return old - new > 1e-3 * abs(old)
    return False


def _targets(shop: Shop, plan: Plan) -> list[tuple[int, int]]:
    """The two boards that could have the largest leftover, by the area not taken up by parts."""
    free = []
    for at, bench in enumerate(plan.benches):
        for space, number in enumerate(bench.spaces):
            left = shop.room[number] - bench.area(shop, space) / 0.8
            if _may_be_shorter(shop, bench, space):
                free.append((-left, at, space))
    return [(at, space) for _, at, space in sorted(free)[:2]]


def _may_be_shorter(shop: Shop, bench: Bench, space: int) -> bool:
    """Whether the parts reach further than the longest of them must."""
    on, box = bench.on(space), shop.whole.bodies.box
    left = shop.whole.spaces[bench.spaces[space], 0]
    reach = max(float(bench.at.x[i] + box[bench.at.pose[i], 2]) for i in on)
    least = max(
        min(float(box[pose, 2] - box[pose, 0]) for pose in shop.whole.item_poses[bench.entries[i].demand]) for i in on
    )
    return bool(reach - left > least + 0.01)


def _turned(shop: Shop, crew: Crew, plan: Plan, reached: Score, *, seed: int) -> tuple[Plan, Score]:
    """The plan with the boards that could have the largest leftover packed from their other end, where that is more."""
    for at, space in _targets(shop, plan):
        bench = plan.benches[at]
        number = bench.spaces[space]
        small, items = part_of_bench(bench, [space])
        turns = (number,) if _looks_alike(shop, number) else (number, number ^ 1)
        for turn in turns:
            found = refilled(shop, crew, small, (turn,), seed=seed)
            if found is None:
                continue
            other = plan.with_bench(at, put_back(plan.benches[at], [space], items, (turn,), found))
            value = score(shop, other)
            if value < reached:
                plan, reached = other, value
    return plan, reached


def _looks_alike(shop: Shop, space: int) -> bool:
    fixed = shop.whole.fixed_space
    return not np.any(fixed == space) and not np.any(fixed == (space ^ 1))


POSITIONS: dict[Effort, int] = {"quick": 2_500_000, "normal": 12_000_000, "best": 100_000_000}
"""Positions tried in all, about: one and a half, ten and sixty seconds of two cores."""

_PATIENCE: dict[Effort, Patience] = {
    "quick": Patience(emptying=2, shortening=2),
    "normal": Patience(emptying=12, shortening=9),
    "best": Patience(emptying=50, shortening=30),
}
_MOST_CONTENDERS = 6
_MOST_RANKINGS = 3
_FIRST_CHAINS = 5  # ways of repeating layouts that are tried whatever they take
_BEGINNING, _SAVING = 0.3, 0.7  # shares of the budget after which the next kind of work begins


def search(shop: Shop, crew: Crew, *, effort: Effort, seed: int) -> Begun:
    """Return the best plan found; it lacks lots only when none was found that has them all."""
    running, lacking = _first(shop, crew, seed=seed)
    if not running:
        assert lacking is not None  # there is a chain at least
        return lacking
    patience = _PATIENCE["best" if crew.seconds is not None else effort]
    if not crew.stopped:
        save_boards(shop, crew, running, seed=seed, patience=patience, until=_SAVING)
    best = min(running, key=lambda one: one.score)
    plan: Plan = best.plan
    if not crew.stopped:
        plan = enlarge_leftover(shop, crew, plan, seed=seed, patience=patience)
    return Begun(plan=plan, missing=(0,) * len(shop.lots))


def _first(shop: Shop, crew: Crew, *, seed: int) -> tuple[list[Contender], Begun | None]:
    """The best plans that lack nothing, and the one that lacks least."""
    one_by_one: Chain = (Step(times=1),)
    free = any(price <= 0 for price in shop.price)
    running: list[Contender] = []
    lacking: Begun | None = None
    ways = chains(shop.lots, stack=shop.stack, free=free)
    for number, chain in enumerate(ways):
        if running and (crew.stopped or _enough_tried(shop, crew, running, number)):
            break
        if running and _is_hopeless(shop, chain, min(one.cost for one in running)):
            continue
        begun = begin(shop, crew, chain, seed=seed * 101 + number)
        if not any(begun.missing):
            running.append(contender(shop, begun.plan))
            boards, share = filled_share(shop, min(running, key=lambda one: one.score).plan)
            crew.tell("other ways to repeat layouts", boards=boards, filled=share)
        elif lacking is None or sum(begun.missing) < sum(lacking.missing):
            lacking = begun
    if not running and not crew.stopped and crew.overdrawn:  # what was filled briefly may yet be filled well
        begun = begin(shop, crew, one_by_one if one_by_one in ways else ways[0], seed=seed, thorough=True)
        if not any(begun.missing):
            running.append(contender(shop, begun.plan))
    for other in _other_rankings(shop) if not crew.stopped and not (running and crew.overdrawn) else ():
        begun = begin(other, crew, one_by_one, seed=seed)
        if not any(begun.missing):
            running.append(contender(shop, begun.plan))
    if not running:
        return [], lacking
    best = min(running, key=lambda one: one.score)
    others = sorted((one for one in running if one is not best), key=lambda one: (one.least, one.score))
    return [best, *others[: _MOST_CONTENDERS - 1]], lacking


def _enough_tried(shop: Shop, crew: Crew, running: Sequence[Contender], chains_tried: int) -> bool:
    """Whether no more ways of repeating layouts are tried once a plan is there.

    With the budget overdrawn one plan is enough, but where boards are stacked, the best makes use of it.
    """
    best = min(running, key=lambda one: one.score).plan
    if crew.overdrawn and (shop.stack == 1 or any(bench.times > 1 for bench in best.benches)):
        return True
    return crew.done > _BEGINNING and chains_tried >= _FIRST_CHAINS


def _other_rankings(shop: Shop) -> list[Shop]:
    """The shop with each other kind of board that has a price used before the rest: fewer dear ones may cost less."""
    free = tuple(kind for kind in shop.rank if shop.price[kind] <= 0)
    bought = tuple(kind for kind in shop.rank if shop.price[kind] > 0)
    return [
        replace(shop, rank=(*free, kind, *(other for other in bought if other != kind)))
        for kind in bought[1 : 1 + _MOST_RANKINGS]
    ]


def _is_hopeless(shop: Shop, chain: Chain, cost: float) -> bool:
    """Whether a chain needs boards there aren't so many of, or must come to more than a cost, by the area of parts."""
    missing = [lot.count for lot in shop.lots]
    least = 0.0
    for step in chain:
        able = [kind for kind in shop.rank if shop.boards[kind].count >= step.times]
        taken = [
            count // step.times if lot.stackable or not step.plain else 0
            for lot, count in zip(shop.lots, missing, strict=True)
        ]
        if not any(taken) or step.free:
            continue
        if not able:
            return True
        area = sum(
            number * shop.whole.areas[demand]
            for lot, number in zip(shop.lots, taken, strict=True)
            for demand in lot.parts
        )
        by_area = area * min(shop.price[kind] / shop.room[2 * kind] for kind in able)
        if step.times > 1 or len(chain) == 1:
            least += step.times * max(by_area, 0.0 if step.drop else min(shop.price[kind] for kind in able))
        missing = [count - number * step.times for count, number in zip(missing, taken, strict=True)]
    return least > cost * (1 + 1e-9)
