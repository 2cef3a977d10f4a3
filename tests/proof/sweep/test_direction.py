"""Cuts the wrong way round, and ways down on finished edges: spoiled programs of the latch."""

from __future__ import annotations

import pytest

from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove
from tests.proof import workshop as ws
from tests.proof.spoil import Lines, checks


def judge(lines: Lines, **machine: object) -> ProofReport:
    expected = ws.expected()
    return prove({expected.file: ws.text(lines)}, programs=[expected], drawings=[], machine=ws.router(**machine))


def level_side(lines: Lines) -> int:
    """The line of the last pass along the latch's right side, from top to bottom."""
    return max(number for number, line in enumerate(lines) if line == "G1 X133 Y40")


def test_a_side_run_back_and_on_again() -> None:
    """Once more along the side that is cut already, the other way and back: the other way it is no climb cut."""
    lines = ws.latch_program()
    side = level_side(lines)
    again = [*lines[: side + 1], "G1 X133 Y70", "G1 X133 Y40", *lines[side + 1 :]]
    assert checks(judge(again)) == {"direction"}
    # No longer than a lead it may.
    short = [*lines[: side + 1], "G1 X133 Y44", "G1 X133 Y40", *lines[side + 1 :]]
    assert judge(short).passed


@pytest.mark.parametrize(
    ("direction", "turns", "passed"),
    [
        ("climb", "clockwise", True),
        ("conventional", "clockwise", False),
        ("climb", "counter-clockwise", False),
        ("conventional", "counter-clockwise", True),
    ],
)
def test_which_way_round_hangs_on_the_profile_and_the_spindle(direction: str, turns: str, passed: bool) -> None:
    """A cutter that turns clockwise climbs with the part on its right (common practice, no source)."""
    code = "M3" if turns == "clockwise" else "M4"
    lines = [line.replace("M3", code) for line in ws.latch_program()]
    report = judge(lines, cutting={"direction": direction}, spindle={"turns": turns})
    assert report.passed is passed, [str(finding) for finding in report.findings]
    assert passed or checks(report) == {"direction", "feed"}  # the wall is on the other side, too


def test_a_lead_and_its_ramp_taken_out() -> None:
    """Straight down on the outline to the first pass."""
    lines = ws.latch_program()
    lead = next(number for number, line in enumerate(lines) if line == "G3 X27 Y60 Z-0.2 I0 J2")
    bare = [*lines[: lead - 3], "G0 X27 Y60", "G0 Z1", "G1 Z-4 F300", "F1200", *lines[lead + 1 :]]
    bare = [line for line in bare if line != "G0 X25 Y58"]
    report = judge(bare)
    assert checks(report) == {"way in"}, [str(finding) for finding in report.findings]


def test_a_ramp_steeper_than_the_feed_tables() -> None:
    plain = ws.router()
    cutter = plain.cutter[0]
    gentle = tuple(row.model_copy(update={"ramp_degrees": 8.0}) for row in cutter.feed)
    machine = plain.model_copy(update={"cutter": (cutter.model_copy(update={"feed": gentle}),)})
    expected = ws.expected(machine=machine)
    files = {expected.file: ws.text(ws.latch_program())}
    report = prove(files, programs=[expected], drawings=[], machine=machine)
    assert checks(report) == {"way in"}, [str(finding) for finding in report.findings]
