"""Prices: what to ask for a wanted margin or wage, and what a price leaves, for every way of selling.

With c for the cost of one, F for the fees of a sale (fixed, listing, postage), p the percentage, t the tax, m the
wanted margin (all as shares) and r the price without tax:

- what a sale leaves is r - f r - F - c, with f = p (1 + t) where the percentage is taken of the tax too, else p. The
  margin is that divided by r, the markup that divided by c.
- for a margin: r = (c + F) / (1 - f - m). Where f + m reaches 1 no price will do.
- for a wage w: the same with all costs but labour, plus w x hours, and no margin: r = (c' + F + w h) / (1 - f).
- the price is r (1 + t) where the tax is within it, else r. Prices are rounded up to the shop's endings.
- break-even: costs paid once / (r - f r - F - c), rounded up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from cutjob.costs.account import Account
from cutjob.costs.figure import Figure, entered, made
from cutjob.costs.money import decimal, to_cents, up_to_ending
from cutjob.job.model import FixedCost, SetEntry
from cutjob.job.read_shop import Shop
from cutjob.job.shop import Channel

_ONE, _HUNDRED = Decimal(1), Decimal(100)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sale:
    """What one sale at a price brings: without tax `revenue`, `fees` of all kinds, what it `leaves` after all costs,
    `margin` and `markup` in percent (None: not defined), and what an hour of work brings (None: no hours).
    """

    price: Decimal
    revenue: Decimal
    fees: Decimal
    leaves: Decimal
    margin: Decimal | None
    markup: Decimal | None
    per_hour: Decimal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelPrice:
    """The prices of one thing in one channel: for the wanted margin, exact and as asked; for the wanted wage; what the
    price leaves, what it leaves with the discount off, and how many sales pay what is paid once (None: none do).
    `given` is the sale at the price the job asks. `exact` has the figures it comes from.
    """

    channel: str
    exact: Figure
    asked: Sale
    for_wage: Sale
    discounted: Sale
    given: Sale | None
    break_even: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """A thing to sell, an item or a set, with its cost and hours and its price in every channel."""

    name: str
    cost: Figure
    without_labour: Decimal
    hours: Decimal
    prices: tuple[ChannelPrice, ...]


def prices_of(
    account: Account,
    *,
    asked: dict[str, float | None],
    sets: Sequence[SetEntry] = (),
    fixed: Sequence[FixedCost] = (),
) -> tuple[Priced, ...]:
    """Return the prices of every item, then of every set. `asked` has the job's own price of an item, by name."""
    once = sum((decimal(one.price) for one in fixed), Decimal(0))
    by_name = {one.name: one for one in account.items}
    found = []
    for one in account.items:
        found.append(
            _priced(one.name, one.cost, one.without_labour, one.hours, asked.get(one.name), account.shop, once)
        )
    for group in sets:
        parts = [by_name[name] for name in group.items]
        cost = made(
            "cost", sum((part.cost.value for part in parts), Decimal(0)), "sum of the items", *(p.cost for p in parts)
        )
        without = sum((part.without_labour for part in parts), Decimal(0))
        hours = sum((part.hours for part in parts), Decimal(0))
        found.append(_priced(group.name, cost, without, hours, group.price, account.shop, once))
    return tuple(found)


def _percentage(channel: Channel, source: str, tax: str) -> Figure:
    """The percentage, as a share of the price without tax."""
    rate = entered("percentage", decimal(channel.percentage), "percent", source)
    if channel.share * _HUNDRED == rate.value:
        return rate
    of_tax = entered("tax", decimal(channel.tax), "percent", tax)
    return made("percentage, of the tax too", channel.share * _HUNDRED, "percentage x (1 + tax)", rate, of_tax,
                kind="percent")  # fmt: skip


def _of_a_sale(channel: Channel) -> Decimal:
    return decimal(channel.fixed_fee) + decimal(channel.listing_fee) + decimal(channel.postage)


def _with_tax(channel: Channel) -> Decimal:
    """What the price is of what is left without tax."""
    return _ONE + decimal(channel.tax) / _HUNDRED if channel.tax_in_price else _ONE


def _priced(
    name: str, cost: Figure, without: Decimal, hours: Decimal, given: float | None, shop: Shop, once: Decimal
) -> Priced:
    def in_channel(index: int, channel: Channel) -> ChannelPrice:
        share, fees, tax = channel.share, _of_a_sale(channel), _with_tax(channel)
        endings = shop.file.endings if channel.endings is None else channel.endings
        currency = shop.file.currency
        margin = entered("wanted margin", decimal(shop.file.wanted.margin), "percent", shop.said("wanted", "margin"))
        exact = made(
            f"price, {channel.name}",
            least_price(cost.value, channel, margin=margin.value / _HUNDRED),
            "(cost + fees of a sale) / (1 - percentage - margin)" + (" x (1 + tax)" if tax != _ONE else ""),
            cost,
            entered("fees of a sale", fees, "money", shop.said("channel", index, "name")),
            _percentage(channel, shop.said("channel", index, "percentage"), shop.said("channel", index, "tax")),
            margin,
            *(
                [entered("tax", decimal(channel.tax), "percent", shop.said("channel", index, "tax"))]
                if channel.tax
                else []
            ),
        )
        wage = (without + fees + decimal(shop.file.wanted.wage) * hours) / (_ONE - share)
        price = up_to_ending(exact.value, endings, currency)

        def sale(at: Decimal) -> Sale:
            return sold(at, channel, cost=cost.value, without_labour=without, hours=hours)

        best = sale(price)
        off = _ONE - decimal(shop.file.wanted.discount) / _HUNDRED
        paid_once = once + decimal(channel.season_costs)
        enough = (paid_once / best.leaves).to_integral_value(ROUND_CEILING) if best.leaves > 0 else None
        return ChannelPrice(
            channel=channel.name,
            exact=exact,
            asked=best,
            for_wage=sale(up_to_ending(wage * tax, endings, currency)),
            discounted=sale(to_cents(price * off, currency)),
            given=None if given is None else sale(decimal(given)),
            break_even=None if enough is None else int(enough),
        )

    return Priced(
        name=name,
        cost=cost,
        without_labour=without,
        hours=hours,
        prices=tuple(in_channel(index, channel) for index, channel in enumerate(shop.file.channel)),
    )


def least_price(cost: Decimal, channel: Channel, *, margin: Decimal) -> Decimal:
    """Return the lowest price, exact, that leaves a margin (a share) in a channel."""
    return (cost + _of_a_sale(channel)) / (_ONE - channel.share - margin) * _with_tax(channel)


def sold(price: Decimal, channel: Channel, *, cost: Decimal, without_labour: Decimal, hours: Decimal) -> Sale:
    """Return what a sale at a price brings in a channel."""
    revenue = price / _with_tax(channel)
    fees = revenue * channel.share + _of_a_sale(channel)
    leaves = revenue - fees - cost
    return Sale(
        price=price,
        revenue=revenue,
        fees=fees,
        leaves=leaves,
        margin=leaves / revenue * _HUNDRED if revenue else None,
        markup=leaves / cost * _HUNDRED if cost else None,
        per_hour=(revenue - fees - without_labour) / hours if hours else None,
    )
