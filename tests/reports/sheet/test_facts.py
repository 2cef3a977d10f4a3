"""Rows and lists of the job sheet."""

from cutjob.parts.part import HandHole
from cutjob.reports.sheet import facts
from tests.designs.order import item
from tests.reports.makers import BATTENS, DOWELS, RODS, STRIPS, stick_job


def test_beads_come_between_the_rods() -> None:
    steps = list(facts.assembly(item("graded-rods", size="small", beads=2, top_bead=True), "in"))
    assert steps[0].startswith("base: flat")
    assert steps[1].startswith("centre rod: ")
    assert [step for step in steps if "bead" in step] == ["2 beads"] * 8 + ["a bead"]
    assert [step.split(":")[0] for step in steps[2:5]] == ["rod 1", "2 beads", "rod 2"]


def test_tables_of_rods_and_strips() -> None:
    told = stick_job([DOWELS, BATTENS], rods=RODS, strips=STRIPS)
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
    drilled = stick_job([], hand_holes=(HandHole(part="leg", diameter=9.5, depth=20.0, note=""),))
    assert facts.by_hand_title(drilled) == "Drilling"
