"""Cuts out in the waste that make nothing: on a router and a laser, and lettering deeper than planned."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from cutjob.geometry.segment import Line
from cutjob.layout.layout import BoardLayout, Lettering
from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove
from tests.proof import workshop as ws
from tests.proof.spoil import Lines, checks

LONGEST = math.pi / 2 * 2.0 + 1.0  # mm: a quarter of a turn of the profile's leads, and 1


def judge(lines: Lines, board: BoardLayout | None = None) -> ProofReport:
    expected = ws.expected(board)
    return prove({expected.file: ws.text(lines)}, programs=[expected], drawings=[], machine=ws.router())


def before_the_outline(new: Lines) -> Lines:
    lines = ws.latch_program()
    begin = lines.index("(outline)")
    return [*lines[:begin], "(one more)", *new, *lines[begin:]]


def from_the_slot(length: float) -> Lines:
    """Out of the outline's slot into the waste, at full depth, once the outline is cut."""
    lines = ws.latch_program()
    end = lines.index("M5")
    x = 30 - ws.RADIUS
    new = [*ws.over(x, 60), "G1 Z-12.3 F300", f"G1 X{ws.num(x - length)} F1200", "G0 Z5"]
    return [*lines[:end], *new, *lines[end:]]


@pytest.mark.parametrize(("length", "passed"), [(LONGEST - 0.05, True), (LONGEST + 0.05, False), (15.0, False)])
def test_a_way_out_of_a_slot_at_full_depth(length: float, passed: bool) -> None:
    report = judge(from_the_slot(length))
    assert report.passed is passed, [str(finding) for finding in report.findings]
    assert passed or checks(report) == {"waste", "depth per pass"}
    if not passed:
        (finding,) = (one for one in report.findings if one.check == "waste")
        # Its middle, or where it is longer than leads reach at all, its end.
        assert finding.measured == pytest.approx(length / 2 if length < 10 else length, abs=1e-3)


def test_a_hole_nobody_planned() -> None:
    report = judge(before_the_outline(ws.bore(180, 60, 2.0, -4.0, pitch=2.0)))
    assert checks(report) == {"waste"}
    (finding,) = report.findings
    assert finding.measured == pytest.approx(182 - 130 - ws.RADIUS)


def test_a_slot_into_the_waste_and_back() -> None:
    """It begins and ends on the contour."""
    report = judge(before_the_outline([*ws.over(27, 60), "G1 Z-2 F300", "G1 X6 Y60 F1200", "G1 X27 Y60", "G0 Z5"]))
    assert checks(report) == {"waste", "way in"}


def lettered(depth: float) -> tuple[Lines, BoardLayout]:
    paths = ((Line((150.0, 100.0), (160.0, 100.0)), Line((160.0, 100.0), (160.0, 110.0))),)
    entry = Lettering(placement=0, paths=paths, depth=0.8)
    new = [*ws.over(150, 100), f"G1 Z{ws.num(-depth)} F300", "G1 X160 F1200", "G1 Y110", "G0 Z5"]
    return before_the_outline(new), replace(ws.latch_board(), lettering=(entry,))


@pytest.mark.parametrize(("depth", "found"), [(0.8, set()), (0.805, set()), (0.85, {"waste"}), (4.0, {"waste"})])
def test_lettering_in_the_waste_no_deeper_than_planned(depth: float, found: set[str]) -> None:
    lines, board = lettered(depth)
    report = judge(lines, board)
    assert checks(report) == found
    assert all("deeper than planned" in finding.message for finding in report.findings)


def test_lettering_that_runs_on_past_its_stroke() -> None:
    lines, board = lettered(0.8)
    longer = [line.replace("G1 Y110", "G1 Y112") for line in lines]
    assert checks(judge(longer, board)) == {"waste"}


@pytest.mark.parametrize(("turn", "passed"), [("G3", True), ("G2", False)])
def test_a_lead_out_the_long_way_round(turn: str, passed: bool) -> None:
    """A quarter of a turn out of the slot is a lead-out; three quarters go through wood at full depth."""
    lines = ws.latch_program()
    lead = next(number for number, line in enumerate(lines) if line.startswith("G3 X25 Y82 I-2 J0"))
    lines[lead] = lines[lead].replace("G3", turn)
    report = judge(lines)
    assert report.passed is passed, [str(finding) for finding in report.findings]
    assert passed or checks(report) == {"waste", "depth per pass"}


def test_a_slot_in_the_waste_is_as_deep_as_a_pass_and_no_deeper() -> None:
    """Right beside the outline and no longer than a lead: nothing but its depth is wrong with it."""
    for depth, found in ((-4.4, set()), (-6.0, {"depth per pass"}), (-12.0, {"depth per pass"})):
        lines = before_the_outline([*ws.over(80, 26), "G1 Z-3 F300", f"G1 X82 Z{depth} F300", "G1 X84 F1200", "G0 Z5"])
        assert checks(judge(lines)) & {"depth per pass"} == found, depth


def test_a_second_slot_beside_the_first_is_no_lead() -> None:
    """The last pass run once more 2.5 mm farther out, in pieces shorter than leads: full depth in new wood."""
    lines = ws.latch_program()
    end = lines.index("M5")
    new = [*ws.over(40, 27), "G1 Z-12.3 F300", "G1 Y24.5 F1200", *(f"G1 X{40 + 2 * n}" for n in range(1, 15)), "G0 Z5"]
    report = judge([*lines[:end], *new, *lines[end:]])
    assert "depth per pass" in checks(report), [str(finding) for finding in report.findings]


def test_a_straight_cut_that_leaves_its_slot() -> None:
    """At full depth off the contour by 4 mm and back again: what it cuts there is deep in one go."""
    lines = ws.latch_program()
    begin = lines.index("(outline)")
    side = next(number for number in range(len(lines) - 1, begin, -1) if lines[number] == "G1 X120 Y93")
    lines[side:side] = ["G1 X110 Y96.9", "G1 X118 Y93"]
    report = judge(lines)
    assert "waste" in checks(report), [str(finding) for finding in report.findings]
