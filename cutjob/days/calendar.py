"""The days of a shop's work: a first day and a week's hours in; minutes up to a day, and the day of a minute, out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import takewhile

from cutjob.job.shop import Week

ONE_DAY = timedelta(days=1)
_LONGEST = 20 * 366  # days that are looked ahead


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkDays:
    """The days from `start` on, which counts as a whole day. `week` has the minutes of each weekday, Monday first;
    there are none on `days_off` and after the day `ends`.
    """

    start: date
    week: tuple[int, ...]
    days_off: frozenset[date] = frozenset()
    ends: date | None = None

    def minutes_on(self, day: date) -> int:
        """Return the minutes of work of one day."""
        if day < self.start or day in self.days_off or (self.ends is not None and day > self.ends):
            return 0
        return self.week[day.weekday()]

    def minutes_through(self, day: date) -> int:
        """Return the minutes of work from the first day to the end of `day`; -1 for a day before the first."""
        if day < self.start:
            return -1
        return sum(self.minutes_on(one) for one in takewhile(lambda one: one <= day, self._days()))

    def day_of(self, minute: int) -> date | None:
        """Return the day in which a minute of work lies, counted from 0; None where there is none in twenty years."""
        total = 0
        for day in self._days():
            total += self.minutes_on(day)
            if total > minute:
                return day
        return None

    def done_on(self, minutes: int) -> date | None:
        """Return the day on which so many minutes of work are done: the first day for none; None as for `day_of`."""
        return self.day_of(minutes - 1) if minutes else self.start

    def shares(self, begin: int, end: int) -> Iterator[tuple[date, int]]:
        """Yield each day on which the minutes from `begin` to `end` are worked, with how many."""
        total = 0
        for day in self._days():
            if total >= end:
                return
            here = self.minutes_on(day)
            share = min(end, total + here) - max(begin, total)
            if share > 0:
                yield day, share
            total += here

    def _days(self) -> Iterator[date]:
        last = self.start + _LONGEST * ONE_DAY if self.ends is None else self.ends
        day = self.start
        while day <= last:
            yield day
            day += ONE_DAY


def work_days(week: Week, start: date) -> WorkDays:
    """Return the days of a shop's week from a first day on."""
    return WorkDays(start=start, week=week.minutes, days_off=frozenset(week.days_off), ends=week.season_ends)


def monday_of(day: date) -> date:
    """Return the Monday of a day's week."""
    return day - day.weekday() * ONE_DAY
