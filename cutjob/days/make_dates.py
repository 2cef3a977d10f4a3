"""Plans the orders of one or several jobs from their files: nothing is written, and no clock is read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from cutjob.costs.account import Account
from cutjob.days.calendar import work_days
from cutjob.days.notes import NOTES_FILE, Notes, Total, mistakes, open_orders, read_notes, totals
from cutjob.days.orders import ORDERS_FILE, Orders, read_orders, with_items
from cutjob.days.plan import ItemHours, Plan, plan_of
from cutjob.days.words import day_words
from cutjob.errors import InputError, Location, Problem
from cutjob.files.read_toml import problem_at
from cutjob.files.values import nearest, shown
from cutjob.job.read_shop import Shop
from cutjob.pricing import price_job
from cutjob.stages import Progress


@dataclass(frozen=True, slots=True, kw_only=True)
class Dates:
    """A plan with the shop it is made for, the totals of what was noted up to the first day, and the number of notes
    that are later and not counted.
    """

    plan: Plan
    orders: Orders
    shop: Shop
    totals: tuple[Total, ...] = ()
    later_notes: int = 0


def dates_of_jobs(
    jobs: Sequence[Path],
    *,
    start: date,
    orders: Path | None = None,
    notes: Path | None = None,
    shop: Path | None = None,
    progress: Progress | None = None,
) -> Dates:
    """Return the dates of the orders for the items of some jobs, from the morning of `start` on.

    `orders` and `notes` are by default `orders.toml` and `notes.toml` beside the first job; there need be no notes.
    `shop` replaces the jobs' shop file. Raises InputError with every mistake in the files.
    """
    folder = jobs[0].parent
    read = read_orders(_there(orders or folder / ORDERS_FILE, given=orders is not None))
    notes_path = notes or folder / NOTES_FILE
    noted = read_notes(notes_path) if notes is not None or notes_path.exists() else Notes()
    accounts: list[Account] = []
    sets: list[Mapping[str, tuple[str, ...]]] = []
    for job in jobs:
        if progress is not None:
            progress(f"hours of {job.name}")
        priced = price_job(job, shop=shop)
        assert priced.account is not None  # a job worked out for its price has one
        accounts.append(priced.account)
        sets.append(priced.sold_sets)
    return dates_of(accounts, read, noted, start=start, names=[str(job) for job in jobs], sets=sets)


def dates_of(
    accounts: Sequence[Account],
    orders: Orders,
    notes: Notes,
    *,
    start: date,
    names: Sequence[str],
    sets: Sequence[Mapping[str, tuple[str, ...]]] = (),
) -> Dates:
    """Return the dates of orders for jobs with these accounts, at least one; `names` are their files, for messages,
    `sets` the items of the sets of each job, by name: an order for a set is one for its items.

    Raises InputError with every mistake.
    """
    shop, items = _hours(accounts, names)
    of_sets = _sets(sets, list(items), names)
    week = shop.file.week
    days = work_days(week, start)
    counted_notes = notes.until(start)
    post_days: dict[str | None, int] = {channel.name: channel.postage_days for channel in shop.file.channel}
    known = [*items, *of_sets]
    problems = [*_odd_days(shop, start), *_odd_orders(orders, known, list(filter(None, post_days)))]
    problems += mistakes(
        counted_notes, list(items), [one.mark for one in orders.orders], [one.name for one in shop.file.channel]
    )
    if problems:
        raise InputError(problems)
    if not any(days.shares(0, 1)):
        place = "" if shop.source is None else "week"
        message = f"there is no hour of work from {day_words(start)} on"
        advice = "give the week hours, take days off out, or move season_ends"
        location = None if shop.source is None else shop.source.at(("week",))
        raise InputError(Problem(message=message, advice=advice, place=place, location=location))
    still = open_orders([with_items(one, of_sets) for one in orders.orders], counted_notes)
    places = {one.mark: place for place, one in enumerate(orders.orders)}
    past = [
        problem_at(
            orders.source,
            ("order", places[one.mark], "due"),
            f"{day_words(one.due)} is past on {day_words(start)}",
            advice="agree on another day, note what was handed over, or delete the order",
        )
        for one in still
        if one.due < start
    ]
    if past:
        raise InputError(past)
    return Dates(
        plan=plan_of(still, items, days, {None: 0, **post_days}, room=shop.file.paint.room),
        orders=orders,
        shop=shop,
        totals=totals(counted_notes),
        later_notes=len(notes.made) + len(notes.sold) - len(counted_notes.made) - len(counted_notes.sold),
    )


def _there(path: Path, *, given: bool) -> Path:
    if not given and not path.exists():
        message = "there are no orders"
        advice = f"write them (cutjob new orders > {ORDERS_FILE}), or name their file with --orders"
        raise InputError(Problem(message=message, advice=advice, location=Location(file=str(path))))
    return path


def _hours(accounts: Sequence[Account], names: Sequence[str]) -> tuple[Shop, dict[str, ItemHours]]:
    """The shop of all jobs, and the hours of each item. Raises InputError where jobs disagree."""
    items: dict[str, ItemHours] = {}
    shop = accounts[0].shop
    problems: list[Problem] = []
    for account, name in zip(accounts, names, strict=True):
        where = Location(file=name)
        if account.shop.file != shop.file:
            advice = "name the same shop in both, or give one with --shop"
            problems.append(Problem(message=f"its shop is not that of {names[0]}", advice=advice, location=where))
        for one in account.items:
            if one.name in items:
                advice = "give it another name in one of them, or leave the job out"
                message = f"another job makes {shown(one.name)} too"
                problems.append(Problem(message=message, advice=advice, location=where))
            items[one.name] = ItemHours(
                by_hand=one.hours, machine=one.machine_hours.value * one.made_for_one, drying=one.drying_hours
            )
    if problems:
        raise InputError(problems)
    return shop, items


def _sets(
    sets: Sequence[Mapping[str, tuple[str, ...]]], items: Sequence[str], names: Sequence[str]
) -> dict[str, tuple[str, ...]]:
    """The items of all sets. Raises InputError for a set whose name another job gives to something else."""
    found: dict[str, tuple[str, ...]] = {}
    problems: list[Problem] = []
    for own, file in zip(sets, names, strict=False):
        for name, parts in own.items():
            if name in items or found.get(name, parts) != parts:
                advice = "give the set another name, or leave the job out"
                message = f"another job has {shown(name)} too, and it is not this set"
                problems.append(Problem(message=message, advice=advice, location=Location(file=file)))
            found[name] = parts
    if problems:
        raise InputError(problems)
    return found


def _odd_days(shop: Shop, start: date) -> Iterator[Problem]:
    ends = shop.file.week.season_ends
    if ends is not None and ends < start:
        message = f"the season ended on {day_words(ends)}, before {day_words(start)}"
        yield Problem(
            message=message,
            advice="set the end of the next one, or leave the key out",
            place="week: season_ends",
            location=None if shop.source is None else shop.source.at(("week", "season_ends")),
        )


def _odd_orders(orders: Orders, items: Sequence[str], channels: Sequence[str]) -> Iterator[Problem]:
    for place, order in enumerate(orders.orders):
        for item in order.items:
            if item not in items:
                message = f"no job makes {shown(item)}"
                yield problem_at(orders.source, ("order", place, "items", item), message, advice=nearest(item, items))
        if order.channel is not None and order.channel not in channels:
            message = f"{shown(order.channel)} is not a way of selling of the shop file"
            advice = nearest(order.channel, channels)
            yield problem_at(orders.source, ("order", place, "channel"), message, advice=advice)
