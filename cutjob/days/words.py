"""A season's plan in words, in tables and as data."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from cutjob.counting import counted
from cutjob.days.calendar import ONE_DAY, monday_of
from cutjob.days.plan import Kept, Plan, Refused, Wanted, drying_on
from cutjob.job.read_shop import SHOP_FILE, USUAL, Shop
from cutjob.job.shop import WEEKDAYS
from cutjob.reports.money import Rows, hours_words, sum_words, usual_words

if TYPE_CHECKING:
    from cutjob.days.make_dates import Dates

_NAMES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def day_words(day: date) -> str:
    """Return a day to read: `Thu 4 March 2027`."""
    return f"{_NAMES[day.weekday()]} {day.day} {_MONTHS[day.month - 1]} {day.year}"


def short_words(day: date) -> str:
    """Return a day to read in a table: `Thu 4 Mar`."""
    return f"{_NAMES[day.weekday()]} {day.day} {_MONTHS[day.month - 1][:3]}"


def minutes_words(minutes: int) -> str:
    """Return minutes of work to read: `3 h 20 min`."""
    return hours_words(Decimal(minutes) / 60)


def items_words(items: Mapping[str, int]) -> str:
    """Return items with their numbers: `4 x wind stack, 2 x pot foot`."""
    return ", ".join(f"{count} x {item}" for item, count in items.items())


def opening_lines(dates: Dates) -> Iterator[str]:
    """Yield from which day the plan goes, the latest day to start, and what must be refused."""
    plan = dates.plan
    yield f"by the day, from the morning of {day_words(plan.days.start)}"
    if plan.first is not None and plan.first.latest is not None:
        count = len(plan.kept)
        those = "both" if count == 2 else f"all {count}"
        then = f"Begun then and worked at in this order, {those} orders below are" if count > 1 else "Begun then, it is"
        yield (
            f"latest day to start: {day_words(plan.first.latest)}. {then} ready in time. Whoever starts at once has "
            f"{minutes_words(plan.first.spare)} of work to spare"
        )
    elif plan.kept:
        yield "nothing is left to make for the orders that can be ready in time"
    elif not plan.refused:
        yield "every order has been handed over"
    if plan.refused:
        they = "it" if len(plan.refused) == 1 else "them"
        orders = [*(one.wanted.order for one in plan.kept), *(one.wanted.order for one in plan.refused)]
        some_made = any(one.to_make != one.to_hand_over for one in orders)
        no_other = "With what is made given to the order due first, no other" if some_made else "No other"
        yield (
            f"{counted(len(plan.refused), 'order')} can't be ready in time: refuse {they}, or agree on a later day. "
            f"{no_other} choice refuses fewer. Were all made, by due date, the latest would come "
            f"{minutes_words(plan.too_long)} of work too late"
        )


def order_rows(plan: Plan) -> Rows:
    """Return heads and rows of the orders that are made, in the order to make them."""
    heads = ("", "order", "still to hand over", "work", "begin by", "ready", "must be ready by", "", "due")
    rows: list[tuple[str, ...]] = [
        (
            f"{place}.",
            one.wanted.mark,
            items_words(one.wanted.order.to_hand_over),
            minutes_words(one.wanted.minutes) if one.begun is not None else "made",
            "" if one.latest is None else short_words(one.latest),
            short_words(one.ready),
            short_words(one.wanted.ready_by),
            _why(one.wanted),
            short_words(one.wanted.order.due),
        )
        for place, one in enumerate(plan.kept, start=1)
    ]
    return heads, rows


def _why(wanted: Wanted) -> str:
    """Why an order must be ready before it is due."""
    if wanted.season:
        return "season ends"
    return f"{counted(wanted.post_days, 'day')} of post" if wanted.post_days else ""


def refused_rows(plan: Plan) -> Rows:
    """Return heads and rows of the orders that can't be ready in time."""
    heads = ("order", "still to hand over", "work", "due", "the customer could have it on")
    rows: list[tuple[str, ...]] = [
        (
            one.wanted.mark,
            items_words(one.wanted.order.to_hand_over),
            minutes_words(one.wanted.minutes),
            short_words(one.wanted.order.due),
            "not this season" if one.offer is None else short_words(one.offer),
        )
        for one in plan.refused
    ]
    return heads, rows


def week_lines(plan: Plan) -> Iterator[str]:
    """Yield the plan week by week: what to work at on each day, what is ready, what must be handed over or posted."""
    work = {one.day: one for one in plan.work}
    events = _events(plan)
    for monday in sorted({monday_of(day) for day in (*work, *events)}):
        week = [monday + place * ONE_DAY for place in range(7)]
        done = sum(work[day].minutes for day in week if day in work)
        there = sum(map(plan.days.minutes_on, week))
        yield f"week of {day_words(monday)}: {minutes_words(done)} of {minutes_words(there)}"
        for day in week:
            parts = work[day].parts if day in work else ()
            said = [", ".join(f"{mark} {minutes_words(minutes)}" for mark, minutes in parts)] if parts else []
            said += [f"{what}: {', '.join(marks)}" for what, marks in events.get(day, {}).items()]
            if day in plan.days.days_off:
                said.append("day off")
            if said:
                yield f"  {short_words(day)}: {'; '.join(said)}"


def _events(plan: Plan) -> dict[date, dict[str, list[str]]]:
    """The marks of the orders that are ready on a day, or must be handed over or posted, by day and what happens."""
    found: dict[date, dict[str, list[str]]] = {}
    for one in plan.kept:
        if one.begun is not None:
            found.setdefault(one.ready, {}).setdefault("ready", []).append(one.wanted.mark)
        last = f"last day to {handing_words(one.wanted)}"
        found.setdefault(one.wanted.ready_by, {}).setdefault(last, []).append(one.wanted.mark)
    return found


def handing_words(wanted: Wanted) -> str:
    """Return what is done with an order on the last day on which it may be ready: `post`, `hand over` or `finish`."""
    return "finish" if wanted.season else "post" if wanted.post_days else "hand over"


def total_rows(dates: Dates) -> Rows:
    """Return heads and rows of what was made and sold, by item and way of selling."""
    heads = ("item", "", "count", f"taken, {dates.shop.file.currency}")
    rows: list[tuple[str, ...]] = [
        (
            one.item,
            f"sold, {one.channel}" if one.channel else "made",
            str(one.count),
            "" if one.money is None else sum_words(one.money, dates.shop.file),
        )
        for one in dates.totals
    ]
    return heads, rows


def note_lines(dates: Dates) -> Iterator[str]:
    """Yield what a reader of the dates must know: which figures are defaults, and what is counted how."""
    shop, plan = dates.shop, dates.plan
    yield f"hours of work: {_week_words(plan.days.week)}"
    yield from _default_lines(dates)
    yield (
        "an order takes the longer of its hours by hand and its hours of the machine; hours of one are those of its "
        "job, with its counts. What is made goes to the order that is due first"
    )
    wanted = [*(one.wanted for one in plan.kept), *(one.wanted for one in plan.refused)]
    if any(one.drying_days for one in wanted):
        room = shop.file.paint.room
        there = "there is room for all of them" if room is None else f"there is room for {counted(room, 'item')}"
        yield f"coats dry after the work, in whole days; {there}"
        full = {} if room is None else {day: count for day, count in drying_on(plan).items() if count > room}
        if full:
            named = ", ".join(f"{count} on {short_words(day)}" for day, count in list(full.items())[:6])
            more = f" and {len(full) - 6} days more" if len(full) > 6 else ""
            yield (
                f"too many items dry at once when work goes on without a gap: {named}{more}. Begin one of "
                "these orders some days later, but no later than its begin-by day"
            )
    ends = shop.file.week.season_ends
    if ends is None:
        yield "no season_ends is set: the season has no end"
    else:
        yield f"the season ends on {day_words(ends)}: nothing is finished after it"
    if dates.later_notes:
        yield f"not counted: {counted(dates.later_notes, 'note')} of days after {day_words(plan.days.start)}"


def _week_words(week: tuple[int, ...]) -> str:
    """The hours of a week's days: `Tue 1 h 30 min, Sat 2 h`."""
    return ", ".join(f"{name} {minutes_words(one)}" for name, one in zip(_NAMES, week, strict=True) if one)


def defaults(shop: Shop) -> tuple[str, ...]:
    """Return the keys of the week that the shop file leaves out, as `week.monday`."""
    return tuple(f"week.{name}" for name in WEEKDAYS if shop.said("week", name) == USUAL)


def _default_lines(dates: Dates) -> Iterator[str]:
    shop = dates.shop
    if shop.source is None:
        advice = f"Write yours: cutjob new shop > {SHOP_FILE}"
        yield f"there is no {SHOP_FILE}: hours of work, minutes and drying are usual figures. {advice}"
    else:
        left = [*map(usual_words, defaults(shop)), *map(usual_words, shop.usual)]
        if left:
            named = "; ".join(left[:8]) + (f" and {len(left) - 8} more" if len(left) > 8 else "")
            yield f"usual figures without a source, not your own: {named}"
    used = {one.channel for one in dates.orders.orders}
    without = [
        channel.name
        for place, channel in enumerate(shop.file.channel)
        if channel.name in used and channel.postage and "postage_days" not in channel.model_fields_set
    ]
    if without:
        yield f"no postage_days in the shop file, so 0 are taken: {', '.join(without)}"


def dates_data(dates: Dates) -> dict[str, object]:
    """Return the plan as data; days as `2027-03-04`, work in minutes."""
    plan = dates.plan
    return {
        "from": plan.days.start.isoformat(),
        "latest_start": _iso(plan.latest_start),
        "spare_minutes": None if plan.first is None else plan.first.spare,
        "make": [_kept_data(one) for one in plan.kept],
        "refuse": [_refused_data(one) for one in plan.refused],
        "too_late_minutes": plan.too_long,
        "days": [
            {"day": one.day.isoformat(), "work": [{"order": mark, "minutes": part} for mark, part in one.parts]}
            for one in plan.work
        ],
        "season_ends": _iso(plan.days.ends),
        "defaults": [*defaults(dates.shop), *dates.shop.usual],
        "totals": [
            {
                "item": one.item,
                "channel": one.channel or None,
                "count": one.count,
                "money": None if one.money is None else float(one.money),
            }
            for one in dates.totals
        ],
        "later_notes": dates.later_notes,
    }


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _wanted_data(wanted: Wanted) -> dict[str, object]:
    return {
        "order": wanted.mark,
        "to_hand_over": dict(wanted.order.to_hand_over),
        "to_make": dict(wanted.order.to_make),
        "channel": wanted.order.order.channel,
        "minutes": wanted.minutes,
        "drying_days": wanted.drying_days,
        "must_be_ready": wanted.ready_by.isoformat(),
        "due": wanted.order.due.isoformat(),
    }


def _kept_data(one: Kept) -> dict[str, object]:
    return {
        **_wanted_data(one.wanted),
        "begun": _iso(one.begun),
        "done": one.done.isoformat(),
        "ready": one.ready.isoformat(),
        "begin_by": _iso(one.latest),
        "spare_minutes": one.spare,
    }


def _refused_data(one: Refused) -> dict[str, object]:
    return {**_wanted_data(one.wanted), "offer": _iso(one.offer)}
