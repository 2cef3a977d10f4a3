"""A season's plan against enumeration, and its days on paper."""

from __future__ import annotations

import random
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from itertools import combinations

import pytest

from cutjob.days.calendar import WorkDays
from cutjob.days.make_dates import Dates, dates_of
from cutjob.days.notes import Notes, open_orders
from cutjob.days.plan import ItemHours, drying_on, plan_of
from tests.days.season import START, account, item, notes, orders

DAY = timedelta(days=1)


def dates(text: str, *items_, noted: str = "", start: date = START, **week) -> Dates:
    read = notes(noted) if noted else Notes()
    return dates_of([account(*items_, **week)], orders(text), read, start=start, names=["job.toml"])


def test_days_are_those_worked_out_on_paper() -> None:
    """Four hours a day, Monday to Friday, and a gate takes one. B, 8 h, is due on Friday, the 20th hour: it begins at
    the latest after the 12th, on Thursday. A, 6 h, is due on Wednesday, the 12th hour: it begins after the 6th, on
    Tuesday.
    """
    plan = dates("A gate=6 2027-03-03\nB gate=8 2027-03-05", item("gate", 60)).plan
    first, second = plan.kept
    assert (first.begun, first.done, first.ready) == (START, START + DAY, START + DAY)
    assert (second.begun, second.done) == (START + DAY, START + 3 * DAY)
    assert (first.latest, second.latest) == (START + DAY, START + 3 * DAY)
    assert plan.latest_start == START + DAY
    assert (first.spare, second.spare) == (360, 360)
    assert [(one.day, one.parts) for one in plan.work] == [
        (START, (("A", 240),)),
        (START + DAY, (("A", 120), ("B", 120))),
        (START + 2 * DAY, (("B", 240),)),
        (START + 3 * DAY, (("B", 120),)),
    ]
    assert plan.refused == ()
    assert plan.too_long == 0


def test_post_drying_days_off_and_the_season_each_come_before_the_due_day() -> None:
    """Due on Friday the 12th. By post three days less: Tuesday the 9th. Two coats of 14 h are 28 h, two days: Sunday,
    so work ends on Friday the 5th. With that a day off, on Thursday; four hours' work can begin on that day.
    """
    gate = item("gate", 60, drying=28)
    text = "A gate=4 2027-03-12 post"
    (kept,) = dates(text, gate).plan.kept
    assert (kept.wanted.ready_by, kept.wanted.drying_days, kept.latest) == (date(2027, 3, 9), 2, date(2027, 3, 5))
    assert kept.ready == START + 2 * DAY
    (kept,) = dates(text, gate, days_off=["2027-03-05"]).plan.kept
    assert kept.latest == date(2027, 3, 4)
    (kept,) = dates(text, gate, season_ends="2027-03-05").plan.kept
    assert (kept.wanted.ready_by, kept.wanted.season, kept.latest) == (date(2027, 3, 5), True, date(2027, 3, 3))


def test_an_order_dries_in_as_many_lots_as_the_room_asks_for() -> None:
    """Seven gates in a room for three are three lots of 20 h: 60 h, three days. Alone a lot takes one day."""
    text = "A gate=7 2027-03-19\nB gate=2,star=3 2027-03-19"
    items = {"gate": ItemHours(by_hand=Decimal(1), drying=Decimal(20)), "star": ItemHours(by_hand=Decimal(1))}
    days = WorkDays(start=START, week=(240,) * 7)
    still = open_orders(orders(text).orders, Notes())
    tight = plan_of(still, items, days, {None: 0}, room=3)
    assert [(one.wanted.drying, one.wanted.drying_days) for one in tight.kept] == [(3, 3), (2, 1)]
    # A is done on the second day and dries for three; B is done on the third, its 12 h being over, and dries beside it.
    assert drying_on(tight) == {START + DAY: 3, START + 2 * DAY: 5, START + 3 * DAY: 3}
    wide = plan_of(still, items, days, {None: 0})
    assert [(one.wanted.drying, one.wanted.drying_days) for one in wide.kept] == [(7, 1), (2, 1)]


def test_an_order_takes_the_longer_of_hands_and_machine_rounded_up_once() -> None:
    """Three of 10 min by hand and 25 on the machine: 75 min; with two of 40 min by hand, 110 by hand against 75."""
    board, gate = item("board", 10, machine=25), item("gate", 40)
    plan = dates("A board=3 2027-03-05\nB board=3,gate=2 2027-03-05", board, gate).plan
    assert [one.wanted.minutes for one in plan.kept] == [75, 110]
    plan = dates("A bead=7 2027-03-05", item("bead", 1)).plan
    assert plan.kept[0].wanted.minutes == 7  # though a sixtieth of an hour is no finite decimal


def test_what_does_not_fit_is_refused_and_offered_the_earliest_day() -> None:
    """20 h until Friday. A 8 h due Tuesday, B 12 h due Wednesday, C 4 h due Friday: B must go (A and B are 20 h by
    Wednesday, 12 h are there). After A and C, which has 8 h to spare, B would end after 8 + 12 + 4 h: put before C it
    would make it late (24 h > 20 h), so it comes last: 24 h, Monday.
    """
    plan = dates("A gate=8 2027-03-02\nB gate=12 2027-03-03\nC gate=4 2027-03-05", item("gate", 60)).plan
    assert [one.wanted.mark for one in plan.kept] == ["A", "C"]
    (refused,) = plan.refused
    assert (refused.wanted.mark, refused.offer) == ("B", date(2027, 3, 8))
    assert plan.too_long == 8 * 60
    plan = dates(
        "A gate=8 2027-03-02\nB gate=12 2027-03-03\nC gate=4 2027-03-05", item("gate", 60), season_ends="2027-03-05"
    ).plan
    assert plan.refused[0].offer is None


def test_a_parcel_that_can_not_arrive_in_time_is_refused_even_when_it_is_made() -> None:
    made = '[[made]]\nday = 2027-02-20\nitem = "gate"\ncount = 4\n'
    plan = dates("A gate=4 2027-03-02 post", item("gate", 60), noted=made).plan
    assert plan.kept == ()
    assert plan.refused[0].offer == START + 3 * DAY


def test_what_was_made_is_not_made_again_and_what_was_handed_over_is_gone() -> None:
    noted = """
[[made]]
day = 2027-02-20
item = "gate"
count = 5

[[sold]]
day = 2027-02-21
item = "gate"
count = 2
price = 10
channel = "stall"
order = "A"
"""
    text = "B gate=2 2027-03-08\nA gate=4 2027-03-05\nC gate=1 2027-03-09"
    plan = dates(text, item("gate", 60), noted=noted).plan
    # Three are there: two finish A, which is due first, one goes to B.
    assert [(one.wanted.mark, one.wanted.minutes, one.begun is None) for one in plan.kept] == [
        ("A", 0, True),
        ("B", 60, False),
        ("C", 60, False),
    ]
    assert plan.kept[0].wanted.order.to_hand_over == {"gate": 2}
    assert plan.latest_start == date(2027, 3, 8)
    # The same notes, on the day before they were written, are not counted yet.
    early = dates(text, item("gate", 60), noted=noted, start=date(2027, 2, 19))
    assert [one.wanted.minutes for one in early.plan.kept] == [240, 120, 60]
    assert early.later_notes == 2


@pytest.mark.parametrize("seed", range(8))
def test_a_season_of_twelve_orders_against_every_choice_and_order_of_them(seed: int) -> None:
    """Day by day, without the minutes and deadlines of the plan: for every set of orders the latest day and minute on
    which some sequence of it can begin, by trying each order of the set as its last.
    """
    dice = random.Random(seed)
    gate = item("gate", 60, drying=dice.choice([0, 30]))
    off = [START + place * DAY for place in dice.sample(range(40), 4)]
    text = "\n".join(
        f"O{place} gate={dice.randint(1, 14)} {START + dice.randint(4, 32) * DAY} {dice.choice(['stall', 'post'])}"
        for place in range(12)
    )
    found = dates(text, gate, days_off=[day.isoformat() for day in off]).plan
    hours = [
        day
        for day in (START + place * DAY for place in range(80))
        if day.weekday() < 5 and day not in off
        for _ in range(4)
    ]
    work: list[int] = []
    until: list[int] = []
    for line in text.splitlines():
        _, count, due, channel = line.split()
        last = date.fromisoformat(due) - (3 if channel == "post" else 0) * DAY - (2 if gate.drying_hours else 0) * DAY
        work.append(int(count.split("=")[1]))
        until.append(sum(day <= last for day in hours) if last >= START else -1)

    @cache
    def latest(chosen: frozenset[int]) -> int:
        """The latest hour in which work on a set may begin, by the best of all its orders."""
        total = sum(work[one] for one in chosen)
        return max((min(until[one] - total, latest(chosen - {one})) for one in chosen), default=10**6)

    def possible(count: int) -> list[frozenset[int]]:
        return [one for one in map(frozenset, combinations(range(12), count)) if latest(one) >= 0]

    most = max(count for count in range(13) if possible(count))
    assert len(found.kept) == most
    kept = frozenset(int(one.wanted.mark[1:]) for one in found.kept)
    assert kept in possible(most)
    assert found.first is not None
    assert (found.latest_start, found.first.spare) == (hours[latest(kept)], latest(kept) * 60)
    assert sum(work[one] for one in kept) == min(sum(work[one] for one in chosen) for chosen in possible(most))
    # Worked day by day, every order that is kept is ready by its day.
    last_worked = {mark: day.day for day in found.work for mark, _ in day.parts}
    for one in found.kept:
        assert last_worked[one.wanted.mark] == one.done
        assert one.ready <= one.wanted.ready_by
    assert sum(day.minutes for day in found.work) == 60 * sum(work[one] for one in kept)
    assert all(day.minutes <= 240 and day.day not in off for day in found.work)
