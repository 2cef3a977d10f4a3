"""What was chosen to be made of a job whose counts were left open, and why: what it leaves, its hours, and a bound."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from cutjob.costs.account import Account
from cutjob.costs.prices import Sale, sold

HOURS_NOISE = 1e-6  # hours by which sums of rounded figures may exceed a limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """How an item is sold: its price, the way of selling, and whether the job states the price."""

    price: Decimal
    channel: str
    asked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenItem:
    """One item: how many are made, whether that was `open`, its offer, and what the sale of one leaves (None where none
    is made).
    """

    name: str
    count: int
    open: bool
    offer: Offer
    sale: Sale | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The numbers that were chosen, all items in the order of the job.

    No numbers of items from this wood, within these hours, leave more than `bound`, in money. `by_hand` and `machine`
    are the hours of all items, with those for spoiled ones, `limit` is the most there may be of each. `laid_out` is how
    many layouts of single boards it was chosen from, and `tried` how many choices were laid out as a whole: the last
    one fitted.
    """

    items: tuple[ChosenItem, ...]
    bound: float
    by_hand: Decimal
    machine: Decimal
    limit: float | None = None
    laid_out: int = 0
    tried: int = 1

    @property
    def leaves(self) -> Decimal:
        """What all items leave together when they are sold."""
        return sum((one.count * one.sale.leaves for one in self.items if one.sale is not None), Decimal(0))


def hours_of(account: Account) -> tuple[Decimal, Decimal]:
    """Return the hours by hand and on the machine of all items, with those for spoiled ones."""
    by_hand = sum((one.count * one.hours for one in account.items), Decimal(0))
    machine = sum((one.count * one.machine_hours.value * one.made_for_one for one in account.items), Decimal(0))
    return by_hand, machine


def sale_of(account: Account, name: str, offer: Offer) -> Sale | None:
    """Return what a sale of one item leaves in an account; None where none is made."""
    channel = next(one for one in account.shop.file.channel if one.name == offer.channel)
    for one in account.items:
        if one.name == name:
            return sold(offer.price, channel, cost=one.cost.value, without_labour=one.without_labour, hours=one.hours)
    return None
