"""What is wrong with orders, notes and weeks: one clear error each, with file, line and what to do."""

from __future__ import annotations

import random
from datetime import date, timedelta

import pytest

from cutjob.days.make_dates import dates_of, dates_of_jobs
from cutjob.days.notes import Notes
from cutjob.errors import InputError
from tests.costs.shops import shop
from tests.days.season import START, account, item, notes, orders

GATE = item("gate", 60)


def refused(make) -> list[str]:
    with pytest.raises(InputError) as caught:
        make()
    return [str(one) for one in caught.value.problems]


def dates(text: str, *, noted: str = "", start: date = START, **week):
    read = notes(noted) if noted else Notes()
    return dates_of([account(GATE, **week)], orders(text), read, start=start, names=["job.toml"])


def test_a_due_day_that_is_past() -> None:
    assert refused(lambda: dates("A gate=1 2027-03-09\nB gate=1 2027-02-26")) == [
        'orders.toml:9: order "B": due: Fri 26 February 2027 is past on Mon 1 March 2027; agree on another day, note '
        "what was handed over, or delete the order"
    ]


def test_an_order_that_was_handed_over_may_be_past() -> None:
    noted = """
made = [{ day = 2027-02-20, item = "gate", count = 1 }]
sold = [{ day = 2027-02-25, item = "gate", count = 1, price = 9, channel = "stall", order = "B" }]
"""
    found = dates("A gate=1 2027-03-09\nB gate=1 2027-02-26", noted=noted).plan
    assert [one.wanted.mark for one in found.kept] == ["A"]


def test_an_order_for_nothing() -> None:
    text = '[[order]]\nmark = "A"\nitems = {}\ndue = 2027-03-09\n'
    from cutjob.days.orders import orders_of
    from cutjob.files.source import parse_source

    assert refused(lambda: orders_of(parse_source(text.encode(), name="orders.toml"))) == [
        'orders.toml:3: order "A": items: the order is for nothing; write { "wind stack" = 4 }, or delete it'
    ]
    text = text.replace("{}", "{ gate = 0 }")
    assert refused(lambda: orders_of(parse_source(text.encode(), name="orders.toml"))) == [
        'orders.toml:3: order "A": items: gate: 0 is too small; it must be at least 1'
    ]


def test_a_mark_that_is_there_twice() -> None:
    assert refused(lambda: orders("A gate=1 2027-03-09\nA gate=1 2027-03-09")) == [
        'orders.toml:7: order "A": mark: "A" is the mark of an order above too; give each order its own'
    ]


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("2027-02-30", '"2027-02-30" is not in the calendar; check month and day'),
        ("9 March", '"9 March" is not a date; write year, month and day: 2027-04-02'),
        ("1927-03-09", '"1927-03-09" is too far away; write a year from 2000 to 2199'),
    ],
)
def test_a_day_that_is_none(written: str, said: str) -> None:
    from cutjob.days.orders import orders_of
    from cutjob.files.source import parse_source

    text = f'[[order]]\nmark = "A"\nitems = {{ gate = 1 }}\ndue = "{written}"\n'
    assert refused(lambda: orders_of(parse_source(text.encode(), name="orders.toml"))) == [
        f'orders.toml:4: order "A": due: {said}'
    ]


def test_a_time_of_day_is_no_day() -> None:
    (said,) = refused(lambda: orders("A gate=1 2027-03-09T10:00:00"))
    assert said.startswith('orders.toml:4: order "A": due: 2027-03-09 10:00:00 is not a date')


def test_items_and_ways_of_selling_that_are_not_there() -> None:
    assert refused(lambda: dates("A gtae=1 2027-03-09\nB gate=1 2027-03-09 pots")) == [
        'orders.toml:3: order "A": items: gtae: no job makes "gtae"; did you mean "gate"?',
        'orders.toml:10: order "B": channel: "pots" is not a way of selling of the shop file; did you mean "post"?',
    ]


def test_a_week_without_hours() -> None:
    none = dict.fromkeys(("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"), 0)
    assert refused(lambda: shop(week=none)) == [
        "shop.toml: week: there are no hours of work on any day; give at least one day hours"
    ]


def test_a_season_that_is_over_and_one_that_is_all_days_off() -> None:
    assert refused(lambda: dates("A gate=1 2027-03-09", season_ends="2027-02-28")) == [
        "shop.toml: week: season_ends: the season ended on Sun 28 February 2027, before Mon 1 March 2027; set the end "
        "of the next one, or leave the key out"
    ]
    off = ["2027-03-01", "2027-03-02"]
    assert refused(lambda: dates("A gate=1 2027-03-09", season_ends="2027-03-02", days_off=off)) == [
        "shop.toml: week: there is no hour of work from Mon 1 March 2027 on; give the week hours, take days off out, "
        "or move season_ends"
    ]


def test_notes_of_what_is_not_there_and_of_more_sold_than_made() -> None:
    assert refused(
        lambda: dates("A gate=1 2027-03-09", noted='made = [{ day = 2027-02-20, item = "gat", count = 1 }]')
    ) == ['notes.toml:1: made no. 1: item: "gat" is not an item of the jobs; did you mean "gate"?']
    noted = 'sold = [{ day = 2027-02-25, item = "gate", count = 3, price = 9, channel = "stall" }]'
    assert refused(lambda: dates("A gate=1 2027-03-09", noted=noted)) == [
        'notes.toml:1: sold no. 1: 3 more of "gate" are noted as sold than as made; note what was made too'
    ]


def test_jobs_that_make_the_same_item_or_have_another_shop() -> None:
    two = [account(GATE), account(GATE, monday=8)]
    text = orders("A gate=1 2027-03-09")
    assert refused(lambda: dates_of(two, text, Notes(), start=START, names=["one.toml", "two.toml"])) == [
        "two.toml: its shop is not that of one.toml; name the same shop in both, or give one with --shop",
        'two.toml: another job makes "gate" too; give it another name in one of them, or leave the job out',
    ]


def test_no_file_of_orders(tmp_path) -> None:
    (said,) = refused(lambda: dates_of_jobs([tmp_path / "job.toml"], start=START))
    assert said == (
        f"{tmp_path / 'orders.toml'}: there are no orders; write them (cutjob new orders > orders.toml), or name their "
        "file with --orders"
    )


STAR, SET = item("star", 25), {"porch set": ("gate", "star", "star"), "pair": ("gate", "gate")}


def season(text: str, noted: str = "", sets=(SET,)):
    read = notes(noted) if noted else Notes()
    return dates_of([account(GATE, STAR)], orders(text), read, start=START, names=["job.toml"], sets=sets)


@pytest.mark.parametrize("seed", range(12))
def test_an_order_for_sets_is_one_for_its_items(seed: int) -> None:
    """Against the same orders with the items counted one by one."""
    dice = random.Random(seed)
    with_sets, by_item = [], []
    for place in range(6):
        due = START + timedelta(days=dice.randint(2, 20))
        asked = {
            name: dice.randint(1, 3) for name in dice.sample(["gate", "star", "porch_set", "pair"], dice.randint(1, 3))
        }
        counts: dict[str, int] = {}
        for name, count in asked.items():
            for _ in range(count):
                for one in SET.get(name.replace("_", " "), (name,)):
                    counts[one] = counts.get(one, 0) + 1
        for lines, wanted in ((with_sets, asked), (by_item, counts)):
            lines.append(f"O{place} {','.join(f'{name}={count}' for name, count in wanted.items())} {due}")
    sets = {name.replace(" ", "_"): parts for name, parts in SET.items()}
    assert season("\n".join(with_sets), sets=[sets]).plan == season("\n".join(by_item), sets=[]).plan


def test_items_of_a_set_that_were_handed_over_are_not_made_again() -> None:
    noted = """
made = [{ day = 2027-02-20, item = "gate", count = 2 }]
sold = [{ day = 2027-02-25, item = "gate", count = 1, price = 9, channel = "stall", order = "A" }]
"""
    text = "A pair=1,star=1 2027-03-09"
    (kept,) = season(text, noted).plan.kept
    assert kept.wanted.order.to_hand_over == {"gate": 1, "star": 1}
    assert kept.wanted.order.to_make == {"star": 1}


def test_sets_that_are_not_there_or_mean_two_things() -> None:
    assert refused(lambda: season("A pairs=1 2027-03-09")) == [
        'orders.toml:3: order "A": items: pairs: no job makes "pairs"; did you mean "pair"?'
    ]
    two = [{"pair": ("gate", "gate")}, {"pair": ("gate", "star")}]
    both = [account(GATE), account(STAR)]
    text = orders("A gate=1 2027-03-09")
    assert refused(lambda: dates_of(both, text, Notes(), start=START, names=["one.toml", "two.toml"], sets=two)) == [
        'two.toml: another job has "pair" too, and it is not this set; give the set another name, or leave the job out'
    ]
