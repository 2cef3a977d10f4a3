"""Days and minutes of work against counting minute by minute."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from cutjob.days.calendar import WorkDays, monday_of, work_days
from tests.costs.shops import shop

MONDAY = date(2027, 3, 1)


def days_from(start: date, count: int) -> list[date]:
    return [start + timedelta(days=place) for place in range(count)]


@st.composite
def some_days(draw: st.DrawFn) -> WorkDays:
    week = draw(st.lists(st.integers(0, 5), min_size=7, max_size=7).filter(any))
    off = draw(st.sets(st.sampled_from(days_from(MONDAY, 20)), max_size=6))
    ends = draw(st.none() | st.sampled_from(days_from(MONDAY, 30)))
    start = draw(st.sampled_from(days_from(MONDAY, 10)))
    return WorkDays(start=start, week=tuple(week), days_off=frozenset(off), ends=ends)


def every_minute(days: WorkDays) -> list[date]:
    """The day of each minute of sixty days."""
    found = []
    for day in days_from(days.start, 60):
        closed = day in days.days_off or (days.ends is not None and day > days.ends)
        found += [day] * (0 if closed else days.week[day.weekday()])
    return found


@given(some_days(), st.data())
def test_minutes_and_days_are_those_counted_one_by_one(days: WorkDays, data: st.DataObject) -> None:
    every = every_minute(days)
    day = data.draw(st.sampled_from(days_from(days.start, 40)))
    assert days.minutes_through(day) == sum(one <= day for one in every)
    if every:
        minute = data.draw(st.integers(0, min(len(every), 40) - 1))
        assert days.day_of(minute) == every[minute]
        assert days.done_on(minute + 1) == every[minute]
        begin = data.draw(st.integers(0, minute))
        shares = [(one, every[begin:minute].count(one)) for one in dict.fromkeys(every[begin:minute])]
        assert list(days.shares(begin, minute)) == shares
    if days.ends is not None:
        assert days.day_of(len(every)) is None


def test_a_day_before_the_first_has_no_minutes_not_even_none() -> None:
    days = WorkDays(start=MONDAY, week=(60,) * 7)
    assert days.minutes_through(MONDAY - timedelta(days=1)) == -1
    assert days.minutes_through(MONDAY) == 60
    assert days.done_on(0) == MONDAY


def test_a_week_in_hours_is_read_to_the_minute() -> None:
    assert shop(week={"monday": 1.5, "sunday": 0.25}).file.week.minutes == (90, 360, 360, 360, 360, 0, 15)
    assert monday_of(date(2027, 3, 7)) == MONDAY


@given(st.dates(date(2027, 3, 1), date(2027, 6, 1)), st.integers(0, 30), st.integers(0, 120))
def test_a_stretch_off_is_each_of_its_days_off(first: date, long: int, later: int) -> None:
    """Counted day by day, written out and as a stretch."""
    start, days = date(2027, 3, 1), [first + timedelta(days=day) for day in range(long + 1)]
    stretch = [f"{days[0]} to {days[-1]}"]
    as_stretch = work_days(shop(week={"days_off": stretch}).file.week, start)
    one_by_one = work_days(shop(week={"days_off": [day.isoformat() for day in days]}).file.week, start)
    until = start + timedelta(days=later)
    assert as_stretch == one_by_one
    assert as_stretch.minutes_through(until) == sum(
        as_stretch.week[day.weekday()] * (day not in days)
        for day in (start + timedelta(days=place) for place in range(later + 1))
    )
