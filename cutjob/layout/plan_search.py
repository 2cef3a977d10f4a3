"""The search for a plan: first plans for several ways of repeating layouts, then the best of them made better."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cutjob.layout.batches import Chain, Step, chains
from cutjob.layout.benches import Plan, filled_share
from cutjob.layout.crew import Crew
from cutjob.layout.first_plans import Begun, begin
from cutjob.layout.improve import Contender, Patience, contender, enlarge_leftover, save_boards
from cutjob.layout.shop import Shop
from cutjob.stages import Effort

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
