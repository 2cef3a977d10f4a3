"""The lists of rods and strips as they are told."""

import pytest

from cutjob.job.model import RodStock, StripStock
from cutjob.parts.part import Build, HandHole, Item, RodPart, StripPart
from cutjob.reports.sheet import facts
from cutjob.reports.words import stick_lines
from cutjob.result import JobResult
from cutjob.sticks.lists import stick_lists
from tests.reports.makers import job_result

INCH = 25.4


def job(stock, units="in", **build) -> JobResult:
    items = (Item(name="fan", design="test", size="medium", count=2, build=Build(**build)),)
    return job_result(units=units, items=items, sticks=stick_lists(items, stock, saw_kerf=INCH / 8))


RODS = tuple(
    RodPart(name=f"rod {n + 1}", diameter=0.75 * INCH, length=(12 - 2 * n) * INCH, note="ease") for n in range(3)
)
STRIPS = (StripPart(name="rail", width=1.5 * INCH, thickness=0.5 * INCH, length=30 * INCH),)
DOWELS = RodStock(name="3/4 dowel", diameter=0.75 * INCH, length=48 * INCH, count=4, price=2.10)
BATTENS = StripStock(name="batten", width=1.5 * INCH, thickness=0.5 * INCH, length=30 * INCH, count=1)


def test_lines_of_the_summary():
    # Six pieces, 60 in and their kerfs, take two sticks of 48; one is filled so that most is left of the other.
    told = list(stick_lines(job([DOWELS, BATTENS], rods=RODS, strips=STRIPS)))
    assert told == [
        "rods: 6 pieces of 3/4 in off 2 of 3/4 dowel, 4.20 in all; no other way of sawing takes less",
        "rods: no. 1, 3/4 dowel of 48 in: 2 x 12 in, 2 x 10 in; 3 1/2 in left",
        "rods: no. 2, 3/4 dowel of 48 in: 2 x 8 in; 31 3/4 in left",
        "strips: 2 pieces of 1 1/2 in x 1/2 in off 2 of batten; no other way of sawing takes less",
        "strips: no. 3, 2 x batten of 30 in: 30 in; nothing left",
    ]


def test_without_stock_every_length_is_told():
    assert list(stick_lines(job([], "mm", rods=RODS[:1]))) == ["rods: 2 of 19.05 mm, 304.8 mm long (rod 1, fan)"]


def test_tables_of_the_job_sheet():
    told = job([DOWELS, BATTENS], rods=RODS, strips=STRIPS)
    sticks, stops = facts.sticks(told), facts.stops(told)
    assert sticks.heads == ("no.", "sticks", "of", "sawn into", "rest of each")
    assert sticks.rows[-1] == ("3", "2", "batten, 1 1/2 in x 1/2 in, 30 in long", "30 in", "nothing")
    assert [row[0] for row in stops.rows] == ["12 in", "10 in", "8 in", "30 in"]
    assert stops.rows[-1] == ("30 in", "2", "1 1/2 in x 1/2 in strip", "no. 3: 1", "rail, fan", "")
    assert stops.rows[0][4:] == ("rod 1, fan", "ease")
    fetch = facts.sticks_to_fetch(told)
    assert fetch.heads == ("count", "rod or strip", "size", "missing")
    assert fetch.rows == [
        ("2", "3/4 dowel", "3/4 in, 48 in long", ""),
        ("2", "batten", "1 1/2 in x 1/2 in, 30 in long", "1 more than there are"),
    ]
    assert facts.end_trim(told) == "Measure from a square end."
    assert facts.by_hand_title(told) == "Rods and strips"
    drilled = job([], hand_holes=(HandHole(part="leg", diameter=9.5, depth=20.0, note=""),))
    assert facts.by_hand_title(drilled) == "Drilling"


@pytest.mark.parametrize(("lengths", "more"), [(15, "3 more ways"), (13, "1 more way")])
def test_many_ways_are_cut_short(lengths, more):
    # Each more than half a stick: a way for each.
    rods = tuple(RodPart(name=f"rod {n}", diameter=12.0, length=600.0 + n) for n in range(lengths))
    stock = [RodStock(name="dowel", diameter=12.0, length=1000.0, count=99)]
    lines = list(stick_lines(job(stock, "mm", rods=rods)))
    assert lines[-1] == f"rods: {more} of sawing in plan.json and on the job sheet"
    assert len(lines) == 14
