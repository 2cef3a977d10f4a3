"""What one of each item brings and costs by itself, and what a laid-out board costs: from the shop's figures, as the
account of a job has them.

The cost of a job is the sum of two kinds of shares. One goes with the items, however they lie on boards: bought things,
sanding, gluing, packing. The other goes with the boards: their price less offcuts, setting up, the machine's time. The
first is the account of the items without a layout, the second what the account of one board adds to that of its parts.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from cutjob.costs.account import Account, Goods, account_of, coats_of
from cutjob.costs.chosen import Offer, hours_of
from cutjob.costs.money import decimal, up_to_ending
from cutjob.costs.prices import least_price, sold
from cutjob.costs.work import amounts_of
from cutjob.errors import Problem
from cutjob.job.job import Job
from cutjob.job.shop import Channel
from cutjob.layout.layout import Layout
from cutjob.layout.leftovers import Leftover
from cutjob.parts.part import Build, Item
from cutjob.program.moves import Program
from cutjob.resolved import ResolvedJob, ResolvedWood
from cutjob.sticks.lists import stick_lists

_NONE = Layout(boards=(), gap=0.0, edge_margin=0.0, seed=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """Money, and hours by hand and on the machine; those for spoiled pieces are in them."""

    money: float
    by_hand: float
    machine: float

    def less(self, other: Spent) -> Spent:
        """The difference."""
        return Spent(
            money=self.money - other.money, by_hand=self.by_hand - other.by_hand, machine=self.machine - other.machine
        )


def spent_on(account: Account) -> Spent:
    """Return what all items of an account take together."""
    by_hand, machine = hours_of(account)
    return Spent(money=float(account.batch("cost")), by_hand=float(by_hand), machine=float(machine))


def own_costs(resolved: ResolvedJob) -> dict[str, Spent]:
    """Return what one of each item takes by itself, without boards and sticks, by name. Things that are bought once for
    the whole batch are not in it.
    """
    job = resolved.job
    single = job.file.model_copy(
        update={"bought": tuple(one for one in job.file.bought if one.count is None or one.item is not None)}
    )
    found: dict[str, Spent] = {}
    for item in resolved.items:
        one = replace(item, count=1)
        sticks = [
            replace(each, cost=None)
            for each in stick_lists([one], (*job.rods, *job.strips), saw_kerf=resolved.machine.saw_kerf)
        ]
        amounts = amounts_of([one], _NONE, (), sticks, resolved.machine, coats=coats_of(job, job.shop))
        goods = Goods(
            job=replace(job, file=single),
            items=(one,),
            layout=_NONE,
            stock=job.boards,
            leftovers=(),
            sticks=tuple(sticks),
            amounts=amounts,
        )
        found[item.name] = spent_on(account_of(goods, job.shop))
    return found


def board_cost(
    wood: ResolvedWood,
    items: Sequence[Item],
    layout: Layout,
    programs: Sequence[Program],
    leftovers: Sequence[Leftover],
) -> Spent:
    """Return what a board with the parts of some items takes, beyond what these parts take by themselves."""
    bare = [replace(item, build=Build(shaped=item.build.shaped, sawn=item.build.sawn)) for item in items]

    def spent(layout: Layout, programs: Sequence[Program], leftovers: Sequence[Leftover]) -> Spent:
        job = wood.job
        amounts = amounts_of(bare, layout, programs, (), wood.machine, coats=coats_of(job, job.shop))
        goods = Goods(
            job=replace(job, file=job.file.model_copy(update={"bought": ()})),
            items=tuple(bare),
            layout=layout,
            stock=job.boards,
            leftovers=tuple(leftovers),
            sticks=(),
            amounts=amounts,
        )
        return spent_on(account_of(goods, job.shop))

    return spent(layout, programs, leftovers).less(spent(_NONE, (), ()))


def stated_offers(job: Job) -> dict[str, Offer]:
    """Return how the items are sold whose price the job states, by name."""
    return {
        make.name: _best([(channel, decimal(make.price)) for channel in job.shop.file.channel], asked=True)
        for make in job.file.make
        if make.price is not None
    }


def wished_offer(job: Job, cost: float) -> Offer:
    """Return how an item of that cost is sold for the shop's wanted margin: in the way that asks the lowest price."""
    shop = job.shop.file
    found = []
    for channel in shop.channel:
        exact = least_price(decimal(cost), channel, margin=decimal(shop.wanted.margin) / 100)
        endings = shop.endings if channel.endings is None else channel.endings
        found.append((channel, up_to_ending(exact, endings, shop.currency)))
    lowest = min(price for _, price in found)
    return _best([(channel, price) for channel, price in found if price == lowest], asked=False)


def brings(job: Job, offer: Offer) -> float:
    """Return what a sale brings, without fees and tax."""
    return float(_brought(offer.price, next(one for one in job.shop.file.channel if one.name == offer.channel)))


def unpriced(job: Job, open_counts: Container[str]) -> Iterator[Problem]:
    """Yield a problem for every open count of an item whose price nobody knows."""
    for index, make in enumerate(job.file.make if job.shop.source is None else ()):
        if make.name in open_counts and make.price is None:
            yield Problem(
                message="what it sells for is not known, so nobody can say what brings most",
                advice="add price = 12.50 to its [[make]], or a shop file, by whose wanted margin a price is worked "
                "out: cutjob new shop > shop.toml",
                place=f'make "{make.name}": count',
                location=job.source.at(("make", index, "count")),
            )


def _brought(price: Decimal, channel: Channel) -> Decimal:
    none = Decimal(0)
    return sold(price, channel, cost=none, without_labour=none, hours=none).leaves


def _best(ways: Sequence[tuple[Channel, Decimal]], *, asked: bool) -> Offer:
    """The way of selling that brings most; the first of several."""
    channel, price = max(ways, key=lambda one: _brought(one[1], one[0]))
    return Offer(price=price, channel=channel.name, asked=asked)
