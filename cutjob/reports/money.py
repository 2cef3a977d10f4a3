"""Costs and prices as data, as CSV, as lines to read, and as the chain from a price back to what was entered.

Money is in the shop's currency. In data all figures of an item are for one of it; those of the batch are sums of count
times one.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import TypeAlias

from cutjob.costs.account import WORK_WORDS, Account, ItemAccount
from cutjob.costs.figure import Figure, chain
from cutjob.costs.money import to_cents, words
from cutjob.costs.prices import ChannelPrice, Priced, Sale
from cutjob.job.read_shop import SHOP_FILE
from cutjob.job.shop import Channel, ShopFile
from cutjob.output.picture.svg_shapes import printable
from cutjob.result import JobResult

# The heads of a table, and its rows.
Rows: TypeAlias = tuple[tuple[str, ...], list[tuple[str, ...]]]

COSTS_FILE = "costs.csv"
_FIGURES = ("material", "hands_hours", "machine_hours", "attended_hours", "labour", "machine", "overhead", "spoilage",
            "cost")  # fmt: skip


def money_data(result: JobResult) -> dict[str, object] | None:
    """Return costs and prices as data; None where nothing was worked out."""
    account = result.account
    if account is None:
        return None
    priced = {one.name: one for one in result.priced}
    return {
        "currency": account.currency,
        "shop": None if account.shop.source is None else account.shop.source.name.rsplit("/", 1)[-1],
        "usual": list(account.shop.usual),
        "not_counted": list(account.not_counted),
        "waiting_hours": float(account.waiting_hours),
        "items": [
            {
                "name": one.name,
                "count": one.count,
                **{name: float(getattr(one, name).value) for name in _FIGURES},
                "of_material": {part.name: float(part.value) for part in one.material.of},
                "of_hours": {part.name: float(part.value) for part in one.hands_hours.of},
                "not_counted": list(one.not_counted),
                "prices": _prices(priced[one.name], account) if one.name in priced else {},
            }
            for one in account.items
        ],
        "sets": [
            {"name": one.name, "cost": float(one.cost.value), "prices": _prices(one, account)}
            for one in result.priced[len(account.items) :]
        ],
        "batch": {name: _batch(account, name) for name in _FIGURES},
    }


def _batch(account: Account, name: str) -> float:
    value = account.batch(name)
    return float(value if name.endswith("_hours") else to_cents(value, account.currency))


def _prices(priced: Priced, account: Account) -> dict[str, object]:
    return {
        one.channel: {
            "price": float(one.asked.price),
            "exact": float(one.exact.value),
            **_sale(one.asked),
            "for_wage": {"price": float(one.for_wage.price), **_sale(one.for_wage)},
            "discounted": {"price": float(one.discounted.price), **_sale(one.discounted)},
            "given": None if one.given is None else {"price": float(one.given.price), **_sale(one.given)},
            "break_even": one.break_even,
        }
        for one in priced.prices
    }


def _sale(sale: Sale) -> dict[str, object]:
    return {
        "fees": float(sale.fees),
        "leaves": float(sale.leaves),
        "margin": None if sale.margin is None else float(sale.margin),
        "markup": None if sale.markup is None else float(sale.markup),
        "per_hour": None if sale.per_hour is None else float(sale.per_hour),
    }


def costs_csv(result: JobResult) -> bytes:
    """Return costs and prices as CSV (RFC 4180): a row for each item and way of selling, then for each set; UTF-8.

    Empty where nothing was worked out. Figures have a decimal point, whatever the shop's marks are.
    """
    account = result.account
    if account is None:
        return b""
    text = io.StringIO()
    rows = csv.writer(text)
    sale = ("price", "margin %", "markup %", "leaves", "per hour", "price for the wanted wage", "break-even",
            "given price", "given leaves")  # fmt: skip
    rows.writerow(["name", "count", "currency", *(f"{name} each" for name in _FIGURES), "sold by", *sale])
    items = {one.name: one for one in account.items}
    for place, priced in enumerate(result.priced):
        item = items[priced.name] if place < len(account.items) else None
        figures = ["", *([""] * (len(_FIGURES) - 1)), _cents(priced.cost.value, account)]
        if item is not None:
            figures = [str(item.count), *(_plain(getattr(item, name), account) for name in _FIGURES)]
        for one in priced.prices:
            best = one.asked
            rows.writerow(
                [
                    _safe(priced.name),
                    figures[0],
                    account.currency,
                    *figures[1:],
                    _safe(one.channel),
                    _cents(best.price, account),
                    _percent(best.margin),
                    _percent(best.markup),
                    _cents(best.leaves, account),
                    "" if best.per_hour is None else _cents(best.per_hour, account),
                    _cents(one.for_wage.price, account),
                    "" if one.break_even is None else str(one.break_even),
                    "" if one.given is None else _cents(one.given.price, account),
                    "" if one.given is None else _cents(one.given.leaves, account),
                ]
            )
    return text.getvalue().encode("utf-8", errors="backslashreplace")


def _safe(text: str) -> str:
    """Text that a spreadsheet takes as text: one that starts like a formula gets a quote before it."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@") else text


def _plain(figure: Figure, account: Account) -> str:
    return f"{figure.value:.4f}" if figure.kind == "hours" else _cents(figure.value, account)


def _cents(value: Decimal, account: Account) -> str:
    return f"{to_cents(value, account.currency):f}"


def _percent(value: Decimal | None) -> str:
    return "" if value is None else f"{value.quantize(Decimal('0.1'), ROUND_HALF_UP):f}"


def sum_words(value: Decimal, shop: ShopFile) -> str:
    """Return an amount with the shop's marks, without its currency."""
    return words(value, shop.currency, decimal_mark=shop.decimal_mark, thousands_mark=shop.thousands_mark)


def hours_words(hours: Decimal) -> str:
    """Return hours for reading: `1 h 20 min`, `12 min`, `less than 1 min`."""
    minutes = int((hours * 60).to_integral_value(ROUND_HALF_UP))
    whole, rest = divmod(minutes, 60)
    if whole:
        return f"{whole} h {rest} min" if rest else f"{whole} h"
    return f"{minutes} min" if minutes or not hours else "less than 1 min"


def percent_words(value: Decimal | None) -> str:
    """Return a percentage to the whole percent, or a dash."""
    return "-" if value is None else f"{value.quantize(Decimal(1), ROUND_HALF_UP):f} %"


def cost_rows(result: JobResult) -> Rows:
    """Return heads and rows of what one of each item takes and costs, and of the batch; no rows where unknown."""
    heads = (
        "item",
        "count",
        "by hand",
        "machine",
        "material cost",
        "labour",
        "machine cost",
        "overhead",
        "spoilage",
        "cost",
    )
    account = result.account
    if account is None:
        return heads, []
    shop = account.shop.file
    rows: list[tuple[str, ...]] = [
        (
            printable(one.name),
            str(one.count),
            hours_words(one.hands_hours.value),
            hours_words(one.machine_hours.value),
            *(sum_words(part.value, shop) for part in (*one.shares, one.cost)),
        )
        for one in account.items
    ]
    sums = ("material", "labour", "machine", "overhead", "spoilage", "cost")
    whole: tuple[str, ...] = (
        "the batch",
        str(sum(one.count for one in account.items)),
        hours_words(account.batch("hands_hours")),
        hours_words(account.batch("machine_hours")),
        *(sum_words(account.batch(name), shop) for name in sums),
    )
    return heads, [*rows, whole]


def price_rows(result: JobResult) -> Rows:
    """Return heads and rows of the prices of each item and set in each way of selling; no rows where unknown."""
    account = result.account
    if account is None:
        return ("item",), []
    shop = account.shop.file
    taxes = {one.name: _tax_words(one) for one in shop.channel}
    heads = (
        "item",
        "sold by",
        "price",
        "tax",
        "margin",
        "markup",
        "leaves",
        "brings an hour",
        f"price for {_wage(shop)} an hour",
        f"{shop.wanted.discount:g} % off brings",
        "paid-once costs",
    )
    rows: list[tuple[str, ...]] = [
        (
            printable(one.name),
            printable(each.channel),
            sum_words(each.asked.price, shop),
            taxes.get(each.channel, ""),
            percent_words(each.asked.margin),
            percent_words(each.asked.markup),
            sum_words(each.asked.leaves, shop),
            _hourly(each.asked, shop),
            sum_words(each.for_wage.price, shop),
            _hourly(each.discounted, shop),
            "never back" if each.break_even is None else f"back with {each.break_even}" if each.break_even else "",
        )
        for one in result.priced
        for each in one.prices
    ]
    return heads, rows


def _tax_words(channel: Channel) -> str:
    """`19 % within` the price, or `on top` of it."""
    return f"{channel.tax:g} % {'within' if channel.tax_in_price else 'on top'}" if channel.tax else ""


MEANS = (
    '"leaves": what is left of one sale after fees, tax and the cost of one; "brings an hour": what an hour of work '
    "then earns, all other costs paid; paid-once costs (a stall, templates) are in neither"
)


def batch_lines(result: JobResult) -> Iterator[str]:
    """Yield for each way of selling what the whole batch brings, less what is paid once."""
    account = result.account
    if account is None:
        return
    shop = account.shop.file
    priced = result.priced[: len(account.items)]
    fixed = sum((Decimal(repr(one.price)) for one in result.fixed), Decimal(0))
    for number, channel in enumerate(shop.channel):
        once = fixed + Decimal(repr(channel.season_costs))
        sales = [(item, one.prices[number].asked) for item, one in zip(account.items, priced, strict=True)]
        leaves = sum((item.count * sale.leaves for item, sale in sales), Decimal(0)) - once
        hours = sum((item.count * item.hours for item, _ in sales), Decimal(0))
        pay = sum((item.count * (sale.revenue - sale.fees - item.without_labour) for item, sale in sales), Decimal(0))
        what = f"leaves {sum_words(leaves, shop)}" if leaves >= 0 else f"loses {sum_words(-leaves, shop)}"
        less = f", with {sum_words(once, shop)} paid once" if once else ""
        hourly = f"; an hour brings {sum_words((pay - once) / hours, shop)}" if hours else ""
        yield f"the whole batch sold, {channel.name}: {what}{less}{hourly}"


def given_lines(result: JobResult) -> Iterator[str]:
    """Yield what the prices that the job asks leave."""
    account = result.account
    if account is None:
        return
    shop = account.shop.file
    for one in result.priced:
        for each in one.prices:
            if each.given is not None:
                yield (
                    f"{one.name} at {sum_words(each.given.price, shop)}, {each.channel}: leaves "
                    f"{sum_words(each.given.leaves, shop)}, margin {percent_words(each.given.margin)}, markup "
                    f"{percent_words(each.given.markup)}, {_hourly(each.given, shop)} an hour"
                    + ("; this is a loss" if each.given.leaves < 0 else "")
                )


def _hourly(sale: Sale, shop: ShopFile) -> str:
    return "-" if sale.per_hour is None else sum_words(sale.per_hour, shop)


def _wage(shop: ShopFile) -> str:
    return sum_words(Decimal(repr(shop.wanted.wage)), shop)


def notes(result: JobResult) -> Iterator[str]:
    """Yield what a reader of the figures must know: usual figures in use, what has no price, what waits."""
    account = result.account
    if account is None:
        return
    if account.shop.source is None:
        yield (
            f"there is no {SHOP_FILE}: wages, minutes and rates are usual figures without a source. Time your own: "
            f"cutjob new shop > {SHOP_FILE}"
        )
    elif account.shop.usual:
        words_ = [usual_words(key) for key in account.shop.usual]
        shown = "; ".join(words_[:6]) + (f" and {len(words_) - 6} more" if len(words_) > 6 else "")
        yield f"usual figures without a source, not your own: {shown}"
    if account.shop.usual_channels:
        yield "the shop file names no [[channel]]: prices are for a sale without fees and tax"
    yield from (warning for warning in result.warnings if warning.startswith('bought "'))
    if account.not_counted:
        names = account.not_counted
        shown = f"{', '.join(names[:6])} and {len(names) - 6} more" if len(names) > 7 else ", ".join(names)
        yield f"not counted, because no price is stated: {shown}"
    if account.waiting_hours:
        yield f"coats dry for {hours_words(account.waiting_hours)}; this is waiting, not work"


def usual_words(key: str) -> str:
    """Return what a key of the shop file is about, such as `minutes.hole`."""
    table, _, name = key.partition(".")
    if table == "week":
        return f"hours on {name.capitalize()}"
    return WORK_WORDS[name] if table == "minutes" else f"{name} of [{table}]"


def summary_words(result: JobResult, *, without: str = "") -> str:
    """Return hours, cost and price each in a line: nothing that flatters. `without` names what is not counted."""
    account = result.account
    if account is None:
        return ""
    shop = account.shop.file
    by_hand, machine = hours_words(account.batch("hands_hours")), hours_words(account.batch("machine_hours"))
    priced = {one.name: one for one in result.priced}
    each = ", ".join(
        f"{one.name} {sum_words(one.cost.value, shop)}, to sell at {_best(priced[one.name], shop)}"
        for one in account.items
    )
    usual = "" if account.shop.source is not None else "; usual figures, see cutjob price"
    return (
        f"{sum_words(account.batch('cost'), shop)} {account.currency}{without}, with {by_hand} by hand and {machine} "
        f"of the machine; each: {each}{usual}"
    )


def _best(priced: Priced, shop: ShopFile) -> str:
    """The prices of a thing in all ways of selling: `42`, or `42 to 55`."""
    found = sorted({one.asked.price for one in priced.prices})
    low, high = sum_words(found[0], shop), sum_words(found[-1], shop)
    return low if low == high else f"{low} to {high}"


def explain_lines(result: JobResult) -> Iterator[str]:
    """Yield the chain from every price back to what was entered: each figure with its formula or its source."""
    account = result.account
    if account is None:
        return
    shop = account.shop.file
    for number, one in enumerate(result.priced):
        yield f"{one.name}, one" if number < len(account.items) else f"{one.name}, the set"
        for depth, figure, again in chain(one.cost):
            yield f"{'  ' * (depth + 1)}{_explained(figure, shop, shortly=again)}"
        for each in one.prices:
            yield from _price_chain(one, each, shop)


def _price_chain(one: Priced, each: ChannelPrice, shop: ShopFile) -> Iterator[str]:
    yield f"  {_explained(each.exact, shop)}"
    for figure in each.exact.of:
        # The cost is explained above.
        yield f"    {_explained(figure, shop, shortly=figure.name == 'cost')}"
    yield f"    rounded up to {sum_words(each.asked.price, shop)}"
    best, wage, off = each.asked, each.for_wage, each.discounted
    yield (
        f"    leaves {sum_words(best.leaves, shop)}: {sum_words(best.revenue, shop)} without tax - fees "
        f"{sum_words(best.fees, shop)} - cost {sum_words(one.cost.value, shop)}"
    )
    if best.per_hour is not None:
        rest, hours = sum_words(one.without_labour, shop), f"{one.hours:.4f} h"
        yield (
            f"    brings an hour {_hourly(best, shop)}: ({sum_words(best.revenue, shop)} - fees - all costs but labour "
            f"{rest}) / {hours}"
        )
        yield (
            f"  price for {_wage(shop)} an hour {sum_words(wage.price, shop)}: (all costs but labour {rest} + fees of "
            f"a sale + {_wage(shop)} x {hours}) / (1 - percentage), with the tax, rounded up"
        )
    yield (
        f"  {shop.wanted.discount:g} % off {sum_words(off.price, shop)}: leaves {sum_words(off.leaves, shop)}, "
        f"brings an hour {_hourly(off, shop)}"
    )
    if each.break_even:
        yield f"  paid-once costs are back with {each.break_even}: paid once / leaves, rounded up"


def _explained(figure: Figure, shop: ShopFile, *, shortly: bool = False) -> str:
    said = figure.source or figure.how
    text = f"{figure.name} {_valued(figure, shop)}"
    return text if shortly or not said else f"{text}: {said}"


def _valued(figure: Figure, shop: ShopFile) -> str:
    if figure.kind == "money":
        exact = sum_words(figure.value, shop)
        return exact if abs(figure.value) >= 1 or not figure.value else f"{figure.value.quantize(Decimal('0.0001')):f}"
    value = figure.value.quantize(Decimal("0.0001"), ROUND_HALF_UP).normalize()
    unit = {"hours": " h", "minutes": " min", "percent": " %", "m": " m", "m2": " m2", "number": ""}[figure.kind]
    return f"{value:f}{unit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One item of a changed job: `what` is changed, the boards the job takes, hours for one item, its cost and the
    lowest and highest of its prices. `why` says why it can't be made; then nothing else is known.
    """

    what: str
    item: str
    boards: int = 0
    hands_hours: Decimal = Decimal(0)
    machine_hours: Decimal = Decimal(0)
    cost: Decimal = Decimal(0)
    prices: tuple[Decimal, Decimal] = (Decimal(0), Decimal(0))
    why: str = ""

    def data(self) -> dict[str, object]:
        """The variant as data."""
        if self.why:
            return {"what": self.what, "item": self.item, "why": self.why}
        return {
            "what": self.what,
            "item": self.item,
            "boards": self.boards,
            "hands_hours": float(self.hands_hours),
            "machine_hours": float(self.machine_hours),
            "cost": float(self.cost),
            "prices": [float(price) for price in self.prices],
        }


def variant_rows(variants: Sequence[Variant]) -> Rows:
    """Return heads and rows of what changed jobs would cost; figures are for one item, boards for the whole job."""
    heads = ("changed", "item", "boards", "by hand", "machine", "cost", "price", "")
    rows: list[tuple[str, ...]] = []
    for one in variants:
        if one.why:
            rows.append((one.what, printable(one.item), "", "", "", "", "", printable(one.why)))
            continue
        low, high = one.prices
        prices = f"{low:.2f}" if low == high else f"{low:.2f} to {high:.2f}"
        figures = (str(one.boards), hours_words(one.hands_hours), hours_words(one.machine_hours), f"{one.cost:.2f}")
        rows.append((one.what, printable(one.item), *figures, prices, ""))
    return heads, rows


def share_widths(account: ItemAccount) -> Sequence[tuple[str, float]]:
    """Return what the cost is the sum of, each with its share of it."""
    whole = account.cost.value
    return [(part.name, float(part.value / whole)) for part in account.shares if part.value] if whole else []
