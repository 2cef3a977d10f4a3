"""The calendar file, read back with another library than the one that wrote it."""

from __future__ import annotations

from datetime import date

import pytest

from cutjob.days.calendar_file import calendar_file
from cutjob.days.make_dates import dates_of
from cutjob.days.notes import Notes
from cutjob.days.plan import Plan
from tests.days.season import START, account, item, orders

pytest.importorskip("icalendar", reason="needs icalendar, which writes calendars")
TEXT = "A,1;ü gate=4 2027-03-05\nB gate=4 2027-03-12 post\nC gate=40 2027-03-05"


def plan(start: date = START) -> Plan:
    gate = item("gate", 60)
    return dates_of([account(gate)], orders(TEXT), Notes(), start=start, names=["job.toml"]).plan


def test_another_library_reads_the_same_days() -> None:
    vobject = pytest.importorskip("vobject", reason="needs vobject, which reads calendars")
    calendar = vobject.readOne(calendar_file(plan()).decode())
    assert calendar.validate(raiseException=True)
    assert calendar.version.value == "2.0"
    read = [(one.summary.value, one.dtstart.value, one.dtend.value) for one in calendar.vevent_list]
    assert read == [
        ("A,1;ü: last day to begin", date(2027, 3, 5), date(2027, 3, 6)),
        ("A,1;ü: last day to hand over", date(2027, 3, 5), date(2027, 3, 6)),
        ("A,1;ü: due", date(2027, 3, 5), date(2027, 3, 6)),
        ("B: last day to begin", date(2027, 3, 9), date(2027, 3, 10)),
        ("B: last day to post", date(2027, 3, 9), date(2027, 3, 10)),
        ("B: due", date(2027, 3, 12), date(2027, 3, 13)),
    ]
    assert len({one.uid.value for one in calendar.vevent_list}) == 6


def test_lines_are_short_and_end_as_the_standard_says() -> None:
    """RFC 5545, 3.1: lines end with CR and LF and have 75 octets at most, longer ones are folded."""
    data = calendar_file(plan())
    assert data.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in data.replace(b"\r\n", b"")
    assert max(map(len, data.split(b"\r\n"))) <= 75


def test_the_same_plan_gives_the_same_bytes_and_another_day_only_other_stamps_and_the_same_entries() -> None:
    first = calendar_file(plan())
    assert calendar_file(plan()) == first
    other = calendar_file(plan(date(2027, 3, 2)))
    assert other.replace(b"20270302T", b"20270301T") == first
