"""Prices: margin and markup, fees, tax, wages, break-even and sets, by substitution and by published examples."""

from __future__ import annotations

from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from cutjob.costs.figure import entered
from cutjob.costs.prices import Priced, prices_of, sold
from cutjob.errors import InputError
from cutjob.job.model import FixedCost, SetEntry
from cutjob.job.read_shop import Shop
from cutjob.job.shop import Channel
from tests.costs.shops import shop

NEAR = Decimal("1e-12")  # of a few divisions of 28 digits


def account(own: Shop, **costs: tuple[float, float, float]) -> Any:
    """Items by name, each with its cost, its cost without labour, and its hours."""
    items = tuple(
        SimpleNamespace(
            name=name,
            count=1,
            cost=entered("cost", Decimal(repr(cost)), "money", "test"),
            without_labour=Decimal(repr(without)),
            hours=Decimal(repr(hours)),
        )
        for name, (cost, without, hours) in costs.items()
    )
    return SimpleNamespace(shop=own, items=items)


def priced(own: Shop, cost: float, *, without: float = 0.0, hours: float = 1.0, **more: Any) -> Priced:
    return prices_of(account(own, gate=(cost, without, hours)), asked=more.pop("asked", {}), **more)[0]


def test_margin_and_markup_are_not_the_same() -> None:
    """Bought for 40 and sold for 100: a margin of 60 % and a markup of 150 % (a standard example of bookkeeping)."""
    sale = sold(Decimal(100), Channel(name="stall"), cost=Decimal(40), without_labour=Decimal(0), hours=Decimal(1))
    assert (sale.margin, sale.markup) == (60, 150)
    markup = sale.markup / 100
    assert sale.margin / 100 == markup / (1 + markup)


def test_the_price_for_a_margin_with_fees() -> None:
    """(cost + fixed fees) / (1 - percentage - margin): (10 + 2) / (1 - 0.1 - 0.5) = 30."""
    own = shop(
        wanted={"margin": 50},
        channel=[{"name": "online", "percentage": 10, "fixed_fee": 0.5, "listing_fee": 0.25, "postage": 1.25}],
    )
    (one,) = priced(own, 10.0).prices
    assert one.asked.price == 30
    assert one.asked.fees == 5
    assert (one.asked.leaves, one.asked.margin) == (15, 50)


def test_a_published_worked_example() -> None:
    """A cost of 156.975 with 10 % of profit on it, 172.6725 (a woodworking magazine, 2005, as the project's notes of
    reference values have it): a markup of 10 % is a margin of 10 / 110.
    """
    own = shop(wanted={"margin": 100 / 11})
    (one,) = priced(own, 156.975).prices
    assert float(one.exact.value) == pytest.approx(172.6725, abs=1e-9)
    assert one.asked.price == Decimal("172.68")
    assert float(one.asked.markup or 0) == pytest.approx(10, abs=0.01)


@pytest.mark.parametrize(
    ("fixed", "price", "variable", "units"),
    [
        # Principles of Accounting, Volume 2 (OpenStax), break-even: a contribution of 150, 133.3 units.
        (20_000, 400, 250, 134),
        (20_000, 25, 5, 1000),  # a standard example
    ],
)
def test_break_even(fixed: float, price: int, variable: float, units: int) -> None:
    margin = 100 - 100 * variable / price
    own = shop(wanted={"margin": margin}, channel=[{"name": "stall", "season_costs": fixed / 2}])
    (one,) = priced(own, variable, fixed=[FixedCost(name="template", price=fixed / 2)]).prices
    assert one.asked.price == price
    assert one.break_even == units


def test_nothing_breaks_even_where_a_sale_leaves_nothing() -> None:
    (one,) = priced(shop(wanted={"margin": 0}, channel=[{"name": "stall", "season_costs": 9}]), 10.0).prices
    assert one.break_even is None
    (free,) = priced(shop(), 10.0).prices
    assert free.break_even == 0


def test_tax_within_the_price_and_on_top_of_it() -> None:
    """20 % of tax: of 120 with the tax in it 100 is left; on top of it the price is 100. The buyer pays the same."""
    within = shop(wanted={"margin": 40}, channel=[{"name": "stall", "tax": 20}])
    on_top = shop(wanted={"margin": 40}, channel=[{"name": "stall", "tax": 20, "tax_in_price": False}])
    (one,), (other,) = priced(within, 60.0).prices, priced(on_top, 60.0).prices
    assert (one.asked.price, other.asked.price) == (120, 100)
    assert one.asked.revenue == other.asked.revenue == 100
    assert one.asked.margin == other.asked.margin == 40


def test_fees_on_the_tax_or_not() -> None:
    """10 % of 120 or of 100."""
    for fee_on_tax, fees in ((True, 12), (False, 10)):
        channel = Channel(name="online", percentage=10, tax=20, fee_on_tax=fee_on_tax)
        sale = sold(Decimal(120), channel, cost=Decimal(50), without_labour=Decimal(0), hours=Decimal(1))
        assert sale.fees == fees


def test_the_price_for_a_wage() -> None:
    """Material and all else 12, two hours at 25, 10 % to the shop: (12 + 50) / 0.9 = 68.89; an hour then brings 25."""
    own = shop(wanted={"wage": 25.0}, channel=[{"name": "garden shop", "percentage": 10}])
    (one,) = priced(own, 40.0, without=12.0, hours=2.0).prices
    assert one.for_wage.price == Decimal("68.89")
    assert one.for_wage.per_hour is not None
    assert abs(one.for_wage.per_hour - 25) < Decimal("0.01")


def test_a_price_that_the_job_asks_and_a_discount() -> None:
    """At 42.00: margin (42 - 21) / 42. With 10 % off the price of 35.00 for a margin of 40 %: 31.50 leaves 10.50."""
    (one,) = priced(shop(), 21.0, without=1.0, hours=0.5, asked={"gate": 42.0}).prices
    assert one.given is not None
    assert (one.given.margin, one.given.per_hour) == (50, 82)
    assert (one.asked.price, one.discounted.price, one.discounted.leaves) == (35, Decimal("31.5"), Decimal("10.5"))


def test_prices_end_as_the_shop_wants_them() -> None:
    own = shop(endings=[".95", "9.00"], channel=[{"name": "stall"}, {"name": "fair", "endings": [".50"]}])
    stall, fair = priced(own, 21.1).prices  # 35.1667 for a margin of 40 %
    assert (stall.asked.price, fair.asked.price) == (Decimal("35.95"), Decimal("35.5"))
    assert stall.asked.margin is not None
    assert stall.asked.margin > 40


def test_a_set_pays_its_fees_once() -> None:
    """Three sizes at 10, 20 and 30 with 2.00 of fees a sale: 60 + 2 at a margin of 50 % is 124, not 132."""
    own = shop(wanted={"margin": 50}, channel=[{"name": "online", "fixed_fee": 2}])
    found = prices_of(
        account(own, small=(10.0, 5.0, 0.2), medium=(20.0, 10.0, 0.3), large=(30.0, 15.0, 0.5)),
        asked={},
        sets=[SetEntry(name="family of three", items=("small", "medium", "large"), price=163.0)],
    )
    assert [one.name for one in found] == ["small", "medium", "large", "family of three"]
    (family,) = found[-1].prices
    assert family.asked.price == 124
    assert family.given is not None
    assert family.given.leaves == 163 - 2 - 60
    assert family.given.per_hour == 163 - 2 - 30


@given(
    cost=st.decimals("0.01", 5000, places=2),
    margin=st.integers(0, 80),
    percentage=st.integers(0, 60),
    fixed=st.decimals(0, 30, places=2),
    tax=st.integers(0, 30),
    within=st.booleans(),
    on_tax=st.booleans(),
)
def test_the_exact_price_gives_the_margin_by_substitution(
    cost: Decimal, margin: int, percentage: int, fixed: Decimal, tax: int, within: bool, on_tax: bool
) -> None:
    """Put back into what a sale leaves, the price for a margin gives that margin."""
    channel = {"name": "online", "percentage": percentage, "fixed_fee": float(fixed), "tax": tax,
               "tax_in_price": within,
               "fee_on_tax": on_tax}  # fmt: skip
    own_channel = Channel.model_validate(channel)
    assume(own_channel.share + Decimal(margin) / 100 < 1)
    own = shop(wanted={"margin": margin}, channel=[channel])
    (one,) = priced(own, float(cost)).prices
    sale = sold(one.exact.value, own_channel, cost=cost, without_labour=Decimal(0), hours=Decimal(1))
    assert sale.margin is not None
    assert abs(sale.margin - margin) < Decimal("1e-9")
    assert abs(sale.revenue - sale.fees - cost - sale.leaves) < NEAR * 10**6
    assert one.asked.price >= one.exact.value - Decimal("1e-9")


def test_fees_and_a_margin_that_leave_nothing_are_refused() -> None:
    with pytest.raises(InputError, match=r'channel "online": fees of 60 % and a margin of 40 % leave nothing'):
        shop(wanted={"margin": 40}, channel=[{"name": "online", "percentage": 60}])
