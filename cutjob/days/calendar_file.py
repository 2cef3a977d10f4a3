"""A season's plan as a calendar file (RFC 5545): whole days, each order with three of them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import UTC, date, datetime, time

from cutjob import __version__
from cutjob.days.calendar import ONE_DAY
from cutjob.days.plan import Kept, Plan
from cutjob.days.words import day_words, handing_words, items_words, minutes_words


def calendar_file(plan: Plan) -> bytes:
    """Return the calendar of a plan: the same plan gives the same bytes.

    Each order that is made has the last day to begin it, the last day to hand it over or post it, and the day it is
    due. The stamp of every entry is the plan's first day, and its UID stays the same from plan to plan, so that a
    newer file replaces the entries of an older one.
    """
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", f"-//cutjob//by the day {__version__}//EN")
    calendar.add("version", "2.0")
    stamp = datetime.combine(plan.days.start, time(), UTC)
    for kept in plan.kept:
        for kind, day, summary, details in _entries(kept):
            event = Event()
            event.add("uid", _uid(kept.wanted.mark, kind))
            event.add("dtstamp", stamp)
            event.add("dtstart", day)
            event.add("dtend", day + ONE_DAY)  # the first day after it (RFC 5545, 3.6.1)
            event.add("summary", summary)
            event.add("description", details)
            event.add("transp", "TRANSPARENT")  # a mark on the day, not an appointment
            calendar.add_component(event)
    written: bytes = calendar.to_ical()
    return written


def _entries(kept: Kept) -> Iterator[tuple[str, date, str, str]]:
    """The kind, day, head and text of each entry of an order."""
    wanted = kept.wanted
    items = items_words(wanted.order.to_hand_over)
    if kept.latest is not None:
        details = f"{items}: {minutes_words(wanted.minutes)} of work. Later, it or an order after it is late."
        yield "begin", kept.latest, f"{wanted.mark}: last day to begin", details
    what = handing_words(wanted)
    yield "ready", wanted.ready_by, f"{wanted.mark}: last day to {what}", f"{items}, due {day_words(wanted.order.due)}"
    yield "due", wanted.order.due, f"{wanted.mark}: due", items


def _uid(mark: str, kind: str) -> str:
    return f"{hashlib.sha256(f'{kind}:{mark}'.encode()).hexdigest()[:32]}@cutjob"
