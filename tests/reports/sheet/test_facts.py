"""Rows and lists of the job sheet."""

import re
from dataclasses import replace

from cutjob.parts.part import HandHole
from cutjob.reports.assembly import assembly
from cutjob.reports.sheet import facts
from tests.designs.order import item
from tests.output.samples import layout, program
from tests.reports.makers import BATTENS, DOWELS, RODS, STRIPS, stick_job


def test_beads_come_between_the_rods() -> None:
    steps = [step.words for step in assembly(item("graded-rods", size="small", beads=2, top_bead=True), "in")]
    assert steps[0].startswith("base: flat")
    assert steps[1].startswith("centre rod: ")
    assert [step for step in steps if "bead" in step] == ["2 beads"] * 8 + ["a bead"]
    assert [step.split(":")[0] for step in steps[2:5]] == ["rod 1", "2 beads", "rod 2"]


def test_parts_alike_share_a_line_of_the_assembly() -> None:
    steps = [step.words for step in assembly(item("graded-stack", size="small", tiers=4), "in")]
    [shared] = [step for step in steps if step.startswith("pieces 1 to 4: on edge, their lowest places ")]
    assert shared.endswith(" up from the bottom, free to turn")
    assert len(re.findall(r"\d", shared.split("places")[1])) >= 4
    assert [step.split(":")[0] for step in steps if step.startswith("topper")] == ["topper"]


def _drilled(*holes: tuple[str, float | None, str]) -> list[tuple[str, ...]]:
    """The rows for holes in an item of which there are two."""
    made = tuple(HandHole(part=part, diameter=9.525, depth=depth, note=note) for part, depth, note in holes)
    return facts.drilling(stick_job([], hand_holes=made)).rows


def test_holes_made_alike_are_one_row() -> None:
    note = "through the height on the centre line"
    same = _drilled(*((f"piece {n}", 34.925, note) for n in range(1, 10)))
    assert same == [("18", "3/8 in hole, 1 3/8 in deep", "pieces 1 to 9", note)]
    deeper = _drilled(("piece 1", 50.8, note), ("piece 2", 47.625, note), ("topper", None, "a socket"))
    assert deeper == [
        ("4", "3/8 in hole", "piece 1: 2 in deep; piece 2: 1 7/8 in deep", note),
        ("2", "3/8 in hole, through", "topper", "a socket"),
    ]


def test_a_length_that_differs_in_the_notes_is_listed_with_its_part() -> None:
    notes = [f"its centre {far} from either end, 1/2 in up" for far in ("6 in", "5 3/4 in")]
    rows = _drilled(("rod 1", None, notes[0]), ("rod 2", None, notes[1]))
    how = "its centre as listed from either end, 1/2 in up"
    assert rows == [("4", "3/8 in hole, through", "rod 1: 6 in; rod 2: 5 3/4 in", how)]


def test_what_holds_for_every_row_stands_below() -> None:
    table = facts.Table(heads=("count", "for", "then"), rows=[("1", "base 1", "glue"), ("1", "base 2", "glue")])
    assert table.with_common("then") == facts.Table(
        heads=("count", "for"), rows=[("1", "base 1"), ("1", "base 2")], below="Then: glue"
    )
    other = facts.Table(heads=("count", "then"), rows=[("1", "glue"), ("1", "sand")])
    assert other.with_common("then") == other


def test_a_board_in_a_line() -> None:
    assert facts.board_line(layout(), ()) == "cedar picket, 4 parts"
    assert facts.board_line(layout(stack=2, copies=3), ()) == "6 x cedar picket, 2 at once, 4 parts each"
    one = replace(layout(), placements=layout().placements[:1])
    assert facts.board_line(one, (program(),)).startswith("cedar picket, 1 part, 1 file, about ")
    assert facts.parts_on(one) == [f"1: {one.placements[0].part.name}"]


def test_tables_of_rods_and_strips() -> None:
    told = stick_job([DOWELS, BATTENS], rods=RODS, strips=STRIPS)
    sticks, stops = facts.sticks(told), facts.stops(told)
    assert sticks.heads == ("no.", "sticks", "of", "sawn into", "left of each")
    assert sticks.rows[-1] == ("3", "2", "batten, 1 1/2 in x 1/2 in, 30 in long", "30 in", "nothing")
    assert [row[0] for row in stops.rows] == ["12 in", "10 in", "8 in", "30 in"]
    assert stops.rows[-1] == ("30 in", "2", "1 1/2 in x 1/2 in strip", "no. 3: 1", "rail, fan", "")
    assert stops.rows[0][4:] == ("rod 1, fan", "ease")
    fetch = facts.sticks_to_fetch(told)
    assert fetch.heads == ("count", "rod or strip", "size", "missing")
    assert fetch.rows == [
        ("2", "3/4 dowel", "3/4 in, 48 in long", ""),
        ("2", "batten", "1 1/2 in x 1/2 in, 30 in long", "buy 1 more"),
    ]
    assert facts.end_trim(told) == "Measure from a square end."
    assert facts.by_hand_title(told) == "Rods and strips"
    drilled = stick_job([], hand_holes=(HandHole(part="leg", diameter=9.5, depth=20.0, note=""),))
    assert facts.by_hand_title(drilled) == "Drilling"
