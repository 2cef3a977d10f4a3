"""Money: cents of a currency, the endings of prices, marks in sums."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutjob.costs.money import cent_of, to_cents, up_to_ending, words


def test_the_smallest_amount_of_a_currency() -> None:
    """ISO 4217: the euro and the dollar have cents, the yen has none, the dinar of Kuwait has thousandths."""
    assert [cent_of(code) for code in ("EUR", "USD", "JPY", "KWD")] == [
        Decimal("0.01"),
        Decimal("0.01"),
        Decimal(1),
        Decimal("0.001"),
    ]
    assert to_cents(Decimal("2.345"), "EUR") == Decimal("2.35")
    assert to_cents(Decimal("2.5"), "JPY") == 3


@pytest.mark.parametrize(
    ("amount", "endings", "price"),
    [
        ("12.01", [".95"], "12.95"),
        ("12.95", [".95"], "12.95"),
        ("12.951", [".95"], "13.95"),
        ("41.20", ["9.00", "5"], "45"),
        ("46", ["9.00", "5"], "49"),
        ("49.01", ["9.00"], "59"),
        ("0.10", ["9.95"], "9.95"),
        ("12.341", [], "12.35"),
        ("99.96", [".95", ".50"], "100.50"),
    ],
)
def test_prices_go_up_to_the_next_ending(amount: str, endings: list[str], price: str) -> None:
    assert up_to_ending(Decimal(amount), endings, "EUR") == Decimal(price)


@given(
    st.decimals(0, 10**6, places=4), st.lists(st.sampled_from([".00", ".50", ".95", "9.00", "5", "99.90"]), max_size=3)
)
def test_no_price_is_below_what_is_needed_or_far_above_it(amount: Decimal, endings: list[str]) -> None:
    price = up_to_ending(amount, endings, "EUR")
    assert price >= amount
    step = max((Decimal(10) ** len(ending.partition(".")[0]) for ending in endings), default=Decimal("0.01"))
    assert price - amount <= step


def test_sums_are_written_with_the_shop_s_marks() -> None:
    assert words(Decimal("1234567.5"), "EUR", decimal_mark=",", thousands_mark=".") == "1.234.567,50"
    assert words(Decimal("-12.345"), "USD") == "-12.35"
    assert words(Decimal(1000), "JPY", thousands_mark="'") == "1'000"
