"""What each item of a job costs: material, work by hand, the machine, overhead and spoilage, from a shop's figures.

All figures of an item are for one of it, and keep the figures they are made from. With n for the count of an item:

- boards: price x boards used, less what the offcuts are worth, x the item's share of the area of the parts off that
  kind / n. Whole boards are shared, so the items also pay for the waste.
- sticks: price of the sticks sawn of a section x the item's share of the length of all pieces / n.
- bought things and supplies: what is used of a pack, price / pack x number. The list of things to buy has whole packs.
- work by hand: minutes each x number / n; the machine: its seconds for the item / n. For its attended share somebody
  stands by, who is paid like work by hand.
- overhead: monthly / hours a month x the hours by hand and attended.
- spoilage: of 100 made, 100 - s can be sold, so one costs 100 / (100 - s) of what making one costs.

Figures for one item are rounded to a hundred millionth. A batch is the sum of count x one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from cutjob.costs.figure import Figure, Kind, entered, made, total
from cutjob.costs.money import decimal, fine
from cutjob.costs.wood_used import board_shares, boards_used
from cutjob.costs.work import Amounts
from cutjob.job.finish import usual_coats
from cutjob.job.job import Job
from cutjob.job.read_shop import Shop
from cutjob.job.shop import WORKS
from cutjob.job.stock import Board
from cutjob.layout.layout import Layout
from cutjob.layout.leftovers import Leftover
from cutjob.parts.part import Item
from cutjob.sticks.lists import StickList, stick_words
from cutjob.units import Unit, spelled

_HUNDRED, _HOUR = Decimal(100), Decimal(3600)

# What each kind of work is called where people read it.
WORK_WORDS: Mapping[str, str] = {
    "program": "loading files, setting zero",
    "board": "laying boards down and taking them off",
    "cutter_change": "changing cutters",
    "window": "sliding long boards",
    "saw_cut": "sawing pieces off boards",
    "stick_cut": "sawing rods and strips",
    "hole": "drilling by hand",
    "bridge": "sawing bridges off",
    "pattern": "fixing patterns",
    "saw_outline": "sawing outlines",
    "sand_edge": "sanding edges",
    "sand_face": "sanding faces",
    "glue": "gluing",
    "assemble": "assembling",
    "fit": "fitting bought things",
    "coat": "painting",
    "pack": "packing",
}
_UNITS: Mapping[str, Kind] = {"saw_outline": "m", "sand_edge": "m", "sand_face": "m2", "coat": "m2"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemAccount:
    """What one item costs, each figure with those it is made from. `not_counted` names what has no price, and
    `drying_hours` is how long its coats dry, one after the other: waiting, not work.
    """

    name: str
    count: int
    material: Figure
    hands_hours: Figure
    machine_hours: Figure
    attended_hours: Figure
    labour: Figure
    machine: Figure
    overhead: Figure
    spoilage: Figure
    cost: Figure
    not_counted: tuple[str, ...] = ()
    drying_hours: Decimal = Decimal(0)

    @property
    def without_labour(self) -> Decimal:
        """The cost but for the pay of the hours by hand and attended, with its spoilage."""
        made_ = self.cost.value - self.spoilage.value
        return self.cost.value * (made_ - self.labour.value) / made_ if made_ else Decimal(0)

    @property
    def hours(self) -> Decimal:
        """The hours somebody spends on one that can be sold: by hand and attended, with those for spoiled ones."""
        return (self.hands_hours.value + self.attended_hours.value) * self.made_for_one

    @property
    def made_for_one(self) -> Decimal:
        """How many are made for one that can be sold."""
        made_ = self.cost.value - self.spoilage.value
        return self.cost.value / made_ if made_ else Decimal(1)

    @property
    def shares(self) -> tuple[Figure, ...]:
        """What the cost is the sum of."""
        return (self.material, self.labour, self.machine, self.overhead, self.spoilage)


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """The costs of a job's items, in order."""

    shop: Shop
    items: tuple[ItemAccount, ...]

    @property
    def waiting_hours(self) -> Decimal:
        """The time in which all coats dry, those of different items side by side; nobody works in it."""
        return max((one.drying_hours for one in self.items), default=Decimal(0))

    @property
    def currency(self) -> str:
        """The code of ISO 4217."""
        return self.shop.file.currency

    def batch(self, what: str) -> Decimal:
        """The sum over all items of count x one, of a figure by its attribute's name."""
        return sum((one.count * getattr(one, what).value for one in self.items), Decimal(0))

    @property
    def not_counted(self) -> tuple[str, ...]:
        """All that has no price, each once."""
        return tuple(dict.fromkeys(name for one in self.items for name in one.not_counted))


@dataclass(frozen=True, slots=True, kw_only=True)
class Goods:
    """All that an account is made from, beside the shop: the job, its items, layout and offcuts, its sticks, and the
    amounts of work.
    """

    job: Job
    items: tuple[Item, ...]
    layout: Layout
    stock: tuple[Board, ...]
    leftovers: tuple[Leftover, ...]
    sticks: tuple[StickList, ...]
    amounts: Mapping[str, Amounts]
    unit: Unit = "mm"


def coats_of(job: Job, shop: Shop) -> dict[str, int]:
    """Return how often each item of a job is painted, by name. A finish that the job names gets the usual number where
    neither the job nor the shop has one.
    """
    shops = shop.file.paint.coats
    return {
        make.name: (shops or (usual_coats() if make.finish is not None else 0)) if make.coats is None else make.coats
        for make in job.file.make
    }


def account_of(goods: Goods, shop: Shop) -> Account:
    """Return the account of a job."""
    materials = _Materials(goods, shop)
    coats = coats_of(goods.job, shop)
    return Account(
        shop=shop,
        items=tuple(
            _item(item, goods.amounts[item.name], materials, shop, coats=coats[item.name]) for item in goods.items
        ),
    )


def _item(item: Item, amounts: Amounts, materials: _Materials, shop: Shop, *, coats: int) -> ItemAccount:
    pay, overhead = shop.file.pay, shop.file.overhead
    material = total("material", [*materials.of(item)])
    hands = total("work by hand", [*_hours(item, amounts, shop)], "hours")
    seconds = entered("on the machine, all", fine(decimal(amounts.seconds) / _HOUR), "hours", "the moves of the files")
    count = entered("items", Decimal(item.count), "number", f'count of "{item.name}"')
    machine_hours = made(
        "machine", fine(decimal(amounts.seconds) / _HOUR / item.count), "hours / items", seconds, count, kind="hours"
    )
    share = entered("attended", decimal(pay.attended), "percent", shop.said("pay", "attended"))
    attended = made(
        "attended", fine(machine_hours.value * share.value / _HUNDRED), "hours x percent", machine_hours, share,
        kind="hours",
    )  # fmt: skip
    wage = entered("pay of an hour by hand", decimal(pay.by_hand), "money", shop.said("pay", "by_hand"))
    labour = made(
        "labour", fine((hands.value + attended.value) * wage.value), "(by hand + attended) x pay", hands, attended, wage
    )
    rate = entered("an hour of the machine", decimal(pay.machine), "money", shop.said("pay", "machine"))
    machine = made("machine", fine(machine_hours.value * rate.value), "hours x rate", machine_hours, rate)
    monthly = entered("a month", decimal(overhead.monthly), "money", shop.said("overhead", "monthly"))
    hours = entered("hours of work a month", decimal(overhead.hours), "hours", shop.said("overhead", "hours"))
    burden = made(
        "overhead",
        fine((hands.value + attended.value) * monthly.value / hours.value),
        "(by hand + attended) x a month / hours a month",
        hands,
        attended,
        monthly,
        hours,
    )
    sound = material.value + labour.value + machine.value + burden.value
    spoiled = entered("spoilage", decimal(overhead.spoilage), "percent", shop.said("overhead", "spoilage"))
    lost = fine(sound * spoiled.value / (_HUNDRED - spoiled.value))
    spoilage = made("spoilage", lost, "making one x percent / (100 - percent)", spoiled)
    return ItemAccount(
        name=item.name,
        count=item.count,
        material=material,
        hands_hours=hands,
        machine_hours=machine_hours,
        attended_hours=attended,
        labour=labour,
        machine=machine,
        overhead=burden,
        spoilage=spoilage,
        cost=total("cost", [material, labour, machine, burden, spoilage]),
        not_counted=tuple(dict.fromkeys(materials.unpriced(item))),
        drying_hours=decimal(shop.file.paint.drying) * coats,
    )


def _hours(item: Item, amounts: Amounts, shop: Shop) -> Iterator[Figure]:
    """The hours of each kind of work on one item."""
    for work in WORKS:
        amount = amounts.work.get(work, 0.0)
        if not amount:
            continue
        minutes, source = minutes_each(shop, work)
        each = entered("minutes each", minutes, "minutes", source)
        number = entered("of one item", fine(decimal(amount) / item.count), _UNITS.get(work, "number"), "the job")
        yield made(WORK_WORDS[work], fine(minutes * decimal(amount) / item.count / 60), "minutes x number / 60", each,
                   number, kind="hours")  # fmt: skip


def minutes_each(shop: Shop, work: str) -> tuple[Decimal, str]:
    """Return the minutes of one piece of work, and where they come from: what was timed comes before what was
    written.
    """
    timed = [(index, one) for index, one in enumerate(shop.file.timed) if one.work == work]
    if not timed:
        return decimal(getattr(shop.file.minutes, work)), shop.said("minutes", work)
    minutes = sum((decimal(one.minutes) for _, one in timed), Decimal(0))
    count = sum((decimal(one.count) for _, one in timed), Decimal(0))
    return minutes / count, f"timed, {shop.said('timed', timed[0][0])}"


class _Materials:
    """The prices of a job's material, and each item's share of it."""

    def __init__(self, goods: Goods, shop: Shop) -> None:
        self._goods, self._shop = goods, shop
        self._used, self._shares = boards_used(goods.layout), board_shares(goods.layout)
        self._entries = {entry.board.name: entry for entry in goods.job.entries}
        self._all = sum(item.count for item in goods.items)
        job, own = goods.job, {one.name for one in goods.job.file.bought if one.price is not None}
        self._bought: dict[str, tuple[Decimal, str]] = {}
        for index, usual in enumerate(shop.file.bought):
            if usual.name not in own:
                self._bought[usual.name] = (decimal(usual.price) / usual.pack, shop.said("bought", index, "price"))
        for index, one in enumerate(job.file.bought):
            if one.price is not None:
                where = job.source.at(("bought", index, "price"))
                self._bought[one.name] = (decimal(one.price) / one.pack, _short(where))

    def of(self, item: Item) -> Iterator[Figure]:
        """What one of an item takes."""
        tax = decimal(self._shop.file.material.tax)
        bare = [*self._boards(item), *self._sticks(item), *self._things(item), *self._supplies(item)]
        yield from bare
        if tax:
            rate = entered("tax", tax, "percent", self._shop.said("material", "tax"))
            sum_ = sum((one.value for one in bare), Decimal(0))
            yield made("tax on material", fine(sum_ * tax / _HUNDRED), "material x percent", rate)

    def unpriced(self, item: Item) -> Iterator[str]:
        """What an item needs that has no price."""
        for kind, shares in self._shares.items():
            board = next(one for one in self._goods.stock if one.name == kind)
            if item.name in shares and not board.priced:
                yield kind
        for one in self._goods.sticks:
            cuts = [each for each in one.settings if any(part.item == item.name for part in each.parts)]
            if cuts and (one.cost is None or any(not each.sticks for each in cuts)):
                yield self._stick(one)
        for thing in item.build.bought:
            if thing.name not in self._bought:
                yield thing.name
        for own in self._goods.job.file.bought:
            if own.count is not None and own.item in (None, item.name) and own.name not in self._bought:
                yield own.name

    def _boards(self, item: Item) -> Iterator[Figure]:
        worth = decimal(self._shop.file.material.offcut_value)
        for kind, count in self._used.items():
            share = self._shares.get(kind, {}).get(item.name, 0.0)
            board = next(one for one in self._goods.stock if one.name == kind)
            if not share or not board.price:
                continue
            entry = self._entries.get(kind)
            price = entered("price of one", decimal(board.price), "money", _short(entry.at("price")) if entry else "")
            number = entered("boards used", Decimal(count), "number", "the layout")
            whole = abs(board.outline.signed_area)
            kept = sum(one.area * one.board.count for one in self._goods.leftovers if one.board.name == kind) / whole
            back = fine(price.value * decimal(kept) * worth / _HUNDRED)
            credit = made(
                "worth of offcuts", back, "price x share of a board x percent", price,
                entered("offcuts kept, in boards", fine(decimal(kept)), "number", "the layout"),
                entered("worth", worth, "percent", self._shop.said("material", "offcut_value")),
            )  # fmt: skip
            part = entered("share of the wood of its parts", fine(decimal(share)), "number", "areas of the parts")
            value = fine((price.value * count - back) * decimal(share) / item.count)
            yield made(
                f"boards, {kind}", value, "(price x boards - offcuts) x share / items", price, number, credit, part
            )

    def _sticks(self, item: Item) -> Iterator[Figure]:
        for one in self._goods.sticks:
            if not one.cost:
                continue
            lengths: dict[str, float] = {}
            for setting in one.settings:
                for part in setting.parts if setting.sticks else ():
                    lengths[part.item] = lengths.get(part.item, 0.0) + part.length * part.count
            share = lengths.get(item.name, 0.0) / sum(lengths.values())
            if not share:
                continue
            cost = entered("price of the sticks sawn", decimal(one.cost), "money", "prices of the sticks")
            long = entered("share of the length", fine(decimal(share)), "number", "lengths of the pieces")
            value = fine(cost.value * decimal(share) / item.count)
            yield made(f"sticks, {self._stick(one)}", value, "price x share / items", cost, long)

    def _stick(self, one: StickList) -> str:
        return spelled(stick_words(one.section), self._goods.unit)

    def _things(self, item: Item) -> Iterator[Figure]:
        for thing in item.build.bought:
            if thing.name in self._bought:
                yield self._thing(thing.name, Decimal(thing.count))
        for one in self._goods.job.file.bought:
            if one.name not in self._bought:
                continue
            if one.count is not None and one.item == item.name:
                yield self._thing(one.name, Decimal(one.count))
            elif one.count is not None and one.item is None:
                yield self._thing(one.name, Decimal(one.count) / self._all)

    def _thing(self, name: str, count: Decimal) -> Figure:
        each, source = self._bought[name]
        price = entered("price of one", fine(each), "money", source)
        return made(
            name, fine(each * count), "price x number", price, entered("number", fine(count), "number", "the job")
        )

    def _supplies(self, item: Item) -> Iterator[Figure]:
        covered = self._goods.amounts[item.name].covered
        for index, one in enumerate(self._shop.file.supply):
            amount = covered.get(one.of, 0.0)
            if not amount or not one.price:
                continue
            said = self._shop.said("supply", index, "price")
            price = entered("price of a pack", decimal(one.price), "money", said)
            enough = entered(f"{one.of}s a pack is enough for", decimal(one.covers), "number", said)
            used = entered("of one item", fine(decimal(amount) / item.count), "number", "the job")
            value = fine(price.value / enough.value * decimal(amount) / item.count)
            yield made(one.name, value, "price / pack x number", price, enough, used)


def _short(where: object) -> str:
    """`spring.toml:12` of a location."""
    text = str(where)
    return text.rsplit("/", 1)[-1] if where is not None else ""
