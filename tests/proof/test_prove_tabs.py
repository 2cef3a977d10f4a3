"""Tabs onto which the cutter rises along ramps: as wide at the top as planned, and no gentler than the profile says."""

from __future__ import annotations

import math
import re

import pytest

from cutjob.job.machine import Machine
from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove
from tests.proof import workshop as ws
from tests.proof.spoil import Lines, checks

DEGREES = 10.0
RISE = -ws.DEPTHS[-1] - ws.THICK + ws.TAB_HEIGHT  # from the deepest pass to the tab's top
RUN = RISE / math.tan(math.radians(DEGREES))


def machine(degrees: float | None = DEGREES) -> Machine:
    return ws.router(tabs={"width": ws.TAB_WIDTH, "height": ws.TAB_HEIGHT, "ramp_degrees": degrees})


def ramped(run: float = RUN, *, wider: float = 0.0) -> Lines:
    """The latch with ramps of `run` before and after its tabs, and their level tops `wider` than planned."""
    lines = ws.latch_program()
    result: Lines = []
    for number, line in enumerate(lines):
        if line == "G1 Z-9":
            before = re.fullmatch(r"G1 X(\S+) Y(\S+)", result.pop())
            after = re.fullmatch(r"G1 X(\S+) Y(\S+)", lines[number + 1])
            assert before
            assert after
            first, last, y = float(before[1]), float(after[1]), before[2]
            sign = 1.0 if last > first else -1.0
            result += [f"G1 X{ws.num(first - sign * (run + wider / 2))} Y{y}"]
            result += [f"G1 X{ws.num(first - sign * wider / 2)} Z-9"]
            result += [f"G1 X{ws.num(last + sign * wider / 2)}"]
            result += [f"G1 X{ws.num(last + sign * (run + wider / 2))} Z-12.3"]
        elif not (line == "G1 Z-12.3 F300" and lines[number - 2] == "G1 Z-9") and lines[number - 1] != "G1 Z-9":
            result.append(line)
    return result


def judge(lines: Lines, own: Machine | None = None) -> ProofReport:
    expected = ws.expected()
    return prove({expected.file: ws.text(lines)}, programs=[expected], drawings=[], machine=own or machine())


def test_ramped_tabs_as_planned_pass() -> None:
    report = judge(ramped())
    assert [str(finding) for finding in report.findings] == []
    # Steeper is shorter, and leaves less wood.
    assert judge(ramped(RUN * 0.8)).passed
    # So do tabs without ramps.
    assert judge(ws.latch_program()).passed


@pytest.mark.parametrize("wider", [-0.15, 0.15, 3.0, -5.0])
def test_the_level_top_of_a_ramped_tab_is_measured(wider: float) -> None:
    report = judge(ramped(wider=wider))
    assert "tab" in checks(report)
    assert any(f"is {ws.TAB_WIDTH + wider:.2f} mm wide" in finding.message for finding in report.findings)


@pytest.mark.parametrize("wider", [-0.05, 0.05])
def test_a_twentieth_more_or_less_passes(wider: float) -> None:
    assert judge(ramped(wider=wider)).passed


def test_ramps_gentler_than_the_profile_says_are_refused() -> None:
    assert checks(judge(ramped(RUN + 1.0))) == {"tab"}
    assert checks(judge(ramped(), machine(None))) == {"tab", "depth"}
    assert checks(judge(ramped(), machine(DEGREES + 2))) == {"tab", "depth"}


def test_a_tab_lower_or_higher_than_planned() -> None:
    for height in (-9.2, -8.8):
        lines = [line.replace("Z-9", f"Z{height}") for line in ramped()]
        assert "tab" in checks(judge(lines))


@pytest.mark.parametrize(("aside", "passed"), [(0.0, True), (0.005, True), (0.3, False)])
def test_a_fin_of_wood_beside_a_part_over_its_tab(aside: float, passed: bool) -> None:
    """The cutter keeps off the part over a tab: what stands between is higher than the tab."""
    lines = ws.latch_program()
    over = next(number for number, line in enumerate(lines) if line == "G1 Z-9")
    side = re.fullmatch(r"G1 X(\S+) Y(\S+)", lines[over + 1])
    assert side
    lines[over + 1 : over + 2] = [f"G1 Y{ws.num(float(side[2]) + aside)}", f"G1 X{side[1]}", f"G1 Y{side[2]}"]
    report = judge(lines, ws.router())
    assert report.passed is passed, [str(finding) for finding in report.findings]
    assert passed or checks(report) == {"tab"}


def test_where_paths_ramp_steeper_than_tabs_the_fall_beside_a_tab_is_the_tabs() -> None:
    own = machine()
    steep = tuple(
        cutter.model_copy(update={"feed": tuple(row.model_copy(update={"ramp_degrees": 45.0}) for row in cutter.feed)})
        for cutter in own.cutter
    )
    expected = ws.expected(cutters=steep)
    profile = own.model_copy(update={"cutter": steep})
    report = prove({expected.file: ws.text(ramped())}, programs=[expected], drawings=[], machine=profile)
    assert [str(finding) for finding in report.findings] == []
