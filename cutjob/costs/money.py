"""Money as exact decimals: rounding to cents and to the endings of prices, and how sums are written."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from functools import cache

from cutjob.job.shop import currency_places

# Figures for one item are kept to this, so that count times one is the sum to the cent for a hundred thousand items.
FINE = Decimal("1e-8")


def decimal(value: float) -> Decimal:
    """Return a number of a file, or a measured one, as the decimal that is written for it."""
    return Decimal(repr(float(value)))


def fine(value: Decimal) -> Decimal:
    """Return a figure for one item, rounded to `FINE`."""
    return value.quantize(FINE, ROUND_HALF_UP)


@cache
def cent_of(currency: str) -> Decimal:
    """Return the smallest amount of a currency of ISO 4217: 0.01, or 1 where it has no smaller unit."""
    return Decimal(1).scaleb(-currency_places(currency))


def to_cents(amount: Decimal, currency: str) -> Decimal:
    """Return an amount rounded to the currency's smallest unit, halves up."""
    return amount.quantize(cent_of(currency), ROUND_HALF_UP)


def up_to_ending(amount: Decimal, endings: Iterable[str], currency: str) -> Decimal:
    """Return the lowest price of at least `amount` that ends in one of `endings`; to the cent where there are none.

    An ending of `.95` fits any whole number before it, `9.00` any whole number that ends in 9, `5` the same with no
    cents.
    """
    cent = cent_of(currency)
    least = amount.quantize(cent, ROUND_CEILING)
    found = []
    for ending in endings:
        whole, _, _part = ending.partition(".")
        tail = Decimal(ending if whole else f"0{ending}")
        step = Decimal(10) ** len(whole)
        times = ((least - tail) / step).to_integral_value(ROUND_CEILING)
        found.append(max(times, Decimal(0)) * step + tail)
    fitting = [one for one in found if one >= least]
    return min(fitting) if fitting else least


def words(amount: Decimal, currency: str, *, decimal_mark: str = ".", thousands_mark: str = "") -> str:
    """Return an amount to the cent as it is written in a shop: `1,234.50`; without the currency's name."""
    rounded = to_cents(amount, currency)
    sign, text = ("-" if rounded < 0 else ""), f"{abs(rounded):f}"
    whole, _, part = text.partition(".")
    groups: list[str] = []
    while len(whole) > 3:
        whole, group = whole[:-3], whole[-3:]
        groups.insert(0, group)
    grouped = thousands_mark.join([whole, *groups])
    return f"{sign}{grouped}{decimal_mark}{part}" if part else f"{sign}{grouped}"
