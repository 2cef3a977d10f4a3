"""Plans a season: open orders, the hours of each item and the days of work in; what is made when, and what can't be,
out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from cutjob.days.calendar import ONE_DAY, WorkDays
from cutjob.days.orders import OpenOrder
from cutjob.days.sequence import Task, by_due_date, earliest_end, ends, fewest_late, greatest_lateness, latest_starts

# Minutes below which hours that were rounded, to a hundred millionth, may exceed what they stand for.
_NOISE = Decimal("0.001")


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemHours:
    """What one sound item takes: hours by hand, with those beside the machine; of the machine; of drying."""

    by_hand: Decimal
    machine: Decimal = Decimal(0)
    drying: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """An open order with its minutes of work, how many of its items dry at once and for how many days after it, the
    days of its post, and the last day on which it may be ready. `season` says that the season's end, not the customer,
    sets that day.
    """

    order: OpenOrder
    minutes: int
    drying: int
    drying_days: int
    post_days: int
    ready_by: date
    season: bool

    @property
    def mark(self) -> str:
        """The order's mark."""
        return self.order.mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """An order that is made: begun, done and ready on these days when work goes on from the first day without a gap.

    `latest` is the last day on which it may be begun so that neither it nor an order after it is late; it and `begun`
    are None where nothing is left to make. `spare` are the minutes of work between.
    """

    wanted: Wanted
    begun: date | None
    done: date
    ready: date
    latest: date | None
    spare: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """An order that can't be ready in time beside those that are made. `offer` is the earliest day on which the
    customer could have it, where no other refused order is made and none that is kept gets late; None in this season.
    """

    wanted: Wanted
    offer: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayOfWork:
    """One day with the minutes that each order gets, by mark."""

    day: date
    parts: tuple[tuple[str, int], ...]

    @property
    def minutes(self) -> int:
        """All minutes of the day."""
        return sum(minutes for _, minutes in self.parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A season's plan. `too_long` are the minutes of work by which the latest order would be late if all were made, in
    the order of their due dates; 0 where none is refused.
    """

    days: WorkDays
    kept: tuple[Kept, ...]
    refused: tuple[Refused, ...]
    work: tuple[DayOfWork, ...]
    too_long: int

    @property
    def first(self) -> Kept | None:
        """The first order with anything to make."""
        return next((one for one in self.kept if one.begun is not None), None)

    @property
    def latest_start(self) -> date | None:
        """The last day on which work may begin; None where there is nothing to make."""
        return None if self.first is None else self.first.latest


def plan_of(
    orders: Sequence[OpenOrder],
    items: Mapping[str, ItemHours],
    days: WorkDays,
    post_days: Mapping[str | None, int],
    *,
    room: int | None = None,
) -> Plan:
    """Return the plan that makes the most orders in time. `post_days` are those of each way of selling, by name; `room`
    is how many items can dry at once: an order of more dries in several lots.
    """
    wanted = [_wanted(order, items, days, post_days[order.order.channel], room) for order in orders]
    by_mark = {one.mark: one for one in wanted}
    tasks = [
        Task(
            name=one.mark,
            minutes=one.minutes,
            deadline=days.minutes_through(one.ready_by - one.drying_days * ONE_DAY),
        )
        for one in wanted
    ]
    kept, late = fewest_late(tasks)
    return Plan(
        days=days,
        kept=_kept(kept, by_mark, days),
        refused=tuple(_refused(by_mark[task.name], kept, days) for task in late),
        work=_work(kept, days),
        too_long=max(greatest_lateness(by_due_date(tasks)), 0) if late else 0,
    )


def minutes_of(to_make: Mapping[str, int], items: Mapping[str, ItemHours]) -> int:
    """Return the whole minutes that items take, rounded up once: by hand or on the machine, whichever is longer."""
    by_hand = sum((count * items[item].by_hand for item, count in to_make.items()), Decimal(0))
    machine = sum((count * items[item].machine for item, count in to_make.items()), Decimal(0))
    return math.ceil((max(by_hand, machine) * 60).quantize(_NOISE))


def drying_on(plan: Plan) -> dict[date, int]:
    """Return how many items dry on each day on which any does, when work goes on from the first day without a gap."""
    found: dict[date, int] = {}
    for one in plan.kept:
        for place in range(one.wanted.drying_days):
            day = one.done + place * ONE_DAY
            found[day] = found.get(day, 0) + one.wanted.drying
    return dict(sorted(found.items()))


def _wanted(
    order: OpenOrder, items: Mapping[str, ItemHours], days: WorkDays, post_days: int, room: int | None
) -> Wanted:
    hours = max((items[item].drying for item in order.to_make), default=Decimal(0))
    painted = sum(count for item, count in order.to_make.items() if items[item].drying)
    at_once = painted if room is None else min(painted, room)
    lots = math.ceil(painted / at_once) if painted else 0
    posted = order.due - timedelta(days=post_days)
    season = days.ends is not None and days.ends < posted
    return Wanted(
        order=order,
        minutes=minutes_of(order.to_make, items),
        drying=at_once,
        drying_days=math.ceil(lots * hours / 24),
        post_days=post_days,
        ready_by=days.ends if season and days.ends is not None else posted,
        season=season,
    )


def _kept(tasks: Sequence[Task], by_mark: Mapping[str, Wanted], days: WorkDays) -> tuple[Kept, ...]:
    found: list[Kept] = []
    for task, end, latest in zip(tasks, ends(tasks), latest_starts(tasks), strict=True):
        wanted = by_mark[task.name]
        done = _day(days.done_on(end) if task.minutes else days.start)
        found.append(
            Kept(
                wanted=wanted,
                begun=days.day_of(end - task.minutes) if task.minutes else None,
                done=done,
                ready=done + wanted.drying_days * ONE_DAY,
                latest=days.day_of(latest) if task.minutes else None,
                spare=latest - (end - task.minutes),
            )
        )
    return tuple(found)


def _day(day: date | None) -> date:
    assert day is not None  # what is kept is done by its deadline, which is a day of the calendar
    return day


def _refused(wanted: Wanted, kept: Sequence[Task], days: WorkDays) -> Refused:
    done = days.done_on(earliest_end(kept, wanted.minutes))
    ready = None if done is None else done + wanted.drying_days * ONE_DAY
    if ready is None or (days.ends is not None and ready > days.ends):
        return Refused(wanted=wanted, offer=None)
    return Refused(wanted=wanted, offer=ready + wanted.post_days * ONE_DAY)


def _work(tasks: Sequence[Task], days: WorkDays) -> tuple[DayOfWork, ...]:
    found: dict[date, list[tuple[str, int]]] = {}
    for task, end in zip(tasks, ends(tasks), strict=True):
        for day, minutes in days.shares(end - task.minutes, end):
            found.setdefault(day, []).append((task.name, minutes))
    return tuple(DayOfWork(day=day, parts=tuple(parts)) for day, parts in found.items())
