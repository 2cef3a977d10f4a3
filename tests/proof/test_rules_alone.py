"""The rules for heights and feeds, each broken alone in a file without a plan, and kept just so."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from cutjob.proof.check import StatedStock, examine_program
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES
from tests.proof import workshop as ws

OPENING = ["G21", "G17", "G90", "G94", "G0 Z5", "S12000 M3", "G4 P3", "F1200"]
END = ["G0 Z5", "M5", "M2"]


def judged(*lines: str, opening: list[str] = OPENING) -> tuple[Finding, ...]:
    data = ws.text([*opening, *lines, *END])
    stated = StatedStock(thickness=12.0, material="softwood", cutter=1)
    return examine_program(data, name="out/a.nc", machine=ws.router(), plan=None, stated=stated).report.findings


def found(*lines: str, opening: list[str] = OPENING) -> list[Finding]:
    return [finding for finding in judged(*lines, opening=opening) if finding.severity == "error"]


def test_what_keeps_the_rules_is_told_of_no_more() -> None:
    lines = ["G0 X20 Y20", "G0 Z1", "G1 Z-4 F300", "G1 X60 F1200", "G0 Z5", "G0 X80", "G0 Z1", "G1 Z-4 F300", "G1 Y60"]
    assert found(*lines) == []


@pytest.mark.parametrize(
    ("lines", "measured"),
    [
        # Straight down into the stock, by 3 mm; down a hole nearer to its floor than the approach, or where the cutter
        # came along and no hole was drilled; sideways within the stock.
        (["G0 X20 Y20", "G0 Z-3"], -3.0),
        (["G0 X20 Y20", "G0 Z1", "G1 Z-2 F300", "G0 Z1", "G0 Z-1.1"], -1.1),
        (["G0 X20 Y20", "G0 Z1", "G1 Z-2 F300", "G1 X30", "G0 Z1", "G0 Z-1"], -1.0),
        (["G0 X20 Y20", "G0 Z1", "G1 Z-2 F300", "G0 Z5", "G0 X30", "G0 Z1", "G0 Z-1"], -1.0),
        (["G0 X20 Y20", "G0 Z1", "G1 Z-2 F300", "G0 X60"], -2.0),
    ],
)
def test_no_rapid_goes_below_the_stocks_top(lines: list[str], measured: float) -> None:
    (finding,) = found(*lines)
    assert (finding.check, finding.measured) == ("rapid", pytest.approx(measured, abs=1e-9))
    assert "below the stock's top" in finding.message


def test_a_rapid_may_go_straight_up_out_of_the_stock_and_down_to_its_top() -> None:
    assert found("G0 X20 Y20", "G0 Z0", "G1 Z-2 F300", "G0 Z1", "G0 Z0", "G0 Z5") == []


def told(*lines: str) -> list[tuple[str, str]]:
    """What is found, by its kind and how bad it is."""
    return [(finding.check, finding.severity) for finding in judged(*lines)]


def test_a_rapid_ends_no_nearer_to_the_stock_than_the_approach() -> None:
    """Of a file from elsewhere that is a warning; pecks go back down their hole, and out of it rapids end anywhere."""
    peck = ["G0 X20 Y20", "G0 Z1", "G1 Z-2 F300"]
    assert told(*peck, "G0 Z1", "G0 Z-1", "G1 Z-4 F300", "G0 Z0.5", "G0 Z-3", "G1 Z-6 F300", "G0 Z5") == []
    assert told("G0 X20 Y20", "G0 Z0.999", "G0 Z5") == []
    assert told("G0 X20 Y20", "G0 Z0.9", "G0 Z5") == [("rapid", "warning")]
    assert told("G0 X20 Y20", "G0 Z0", "G0 Z5") == [("rapid", "warning")]


def test_no_cut_runs_across_just_above_the_stock() -> None:
    for z in (0.0, 0.5, 1.0, 4.9):
        assert told("G0 X20 Y20", f"G1 Z{z} F300", "G1 X40 F1200", "G0 Z5") == [("air", "warning")], z
    # At safe height it may, and on its way down a ramp; up out of the stock straight.
    assert told("G0 X20 Y20", "G1 X40 F1200") == []
    assert told("G0 X20 Y20", "G0 Z1", "G1 X26 Z0 F1200", "G1 X32 Z-0.9", "G1 Z1", "G0 Z5") == []
    assert told("G0 X20 Y20", "G0 Z1", "G1 X180 Z0 F1200", "G1 X185 Z-0.4", "G0 Z5") == [("air", "warning")]


def test_a_cut_in_wood_is_no_slower_than_half_the_feed_table() -> None:
    """Feed 1200 and plunge 300 by the table; the profile's acceleration is 300 mm/s2."""
    cut = ["G0 X20 Y20", "G0 Z1", "G1 Z-4 F300"]
    assert told(*cut, "G1 X60 F600", "G0 Z5") == []
    assert told(*cut, "G1 X60 F560", "G0 Z5") == [("feed", "warning")]
    # Straight down, and a ramp whose fall the plunge limits: 6 in 10 may sink at 300, which is 583 along it.
    assert told("G0 X20 Y20", "G0 Z1", "G1 Z-4 F150", "G0 Z5") == []
    assert told("G0 X20 Y20", "G0 Z1", "G1 Z-4 F140", "G0 Z5") == [("feed", "warning")]
    ramp = ["G0 X20 Y20", "G0 Z1", "G1 Z0 F300"]
    assert told(*ramp, "G1 X24 Z-2.4 F300", "G0 Z5") == []
    assert told(*ramp, "G1 X24 Z-2.4 F270", "G0 Z5") == [("feed", "warning")]
    # A full turn at r 1: the wall of a cutter of 6 goes by four times as fast; at r 0.1 the acceleration allows 329.
    assert told(*cut, "G2 X20 Y20 I1 J0 F151", "G0 Z5") == []
    assert told(*cut, "G2 X20 Y20 I1 J0 F140", "G0 Z5") == [("feed", "warning")]
    assert told(*cut, "G2 X20 Y20 I0.1 J0 F20", "G0 Z5") == []
    assert told(*cut, "G2 X20 Y20 I0.1 J0 F15", "G0 Z5") == [("feed", "warning")]
    # Chords of such a circle may be as slow as it; a piece of a straight line may not.
    chords = [f"X{20 + math.sin(n / 5):.4f} Y{21 - math.cos(n / 5):.4f}" for n in range(1, 32)]
    assert told(*cut, "F160", f"G1 {chords[0]}", *chords[1:], "G0 Z5") == []
    # A bore 0.03 mm wider than its cutter may be a triangle; a plate's corners are none.
    triangle = [f"X{20 + 0.015 * math.cos(n * 2.094):.4f} Y{20 + 0.015 * math.sin(n * 2.094):.4f}" for n in range(9)]
    assert told(*cut, "F8", f"G1 {triangle[0]}", *triangle[1:], "G0 Z5") == []
    corners = [f"X{20 + 5 * math.cos(n * 2.094):.4f} Y{20 + 5 * math.sin(n * 2.094):.4f}" for n in range(9)]
    assert told(*cut, "F300", f"G1 {corners[0]}", *corners[1:], "G0 Z5") == [("feed", "warning")] * 9
    # Nor does it matter how many pieces such a chord is cut into.
    points = [(20.0, 20.0), *((20 + math.sin(n / 5), 21 - math.cos(n / 5)) for n in range(1, 32))]
    pieces = [
        f"G1 X{ax + (bx - ax) * share:.4f} Y{ay + (by - ay) * share:.4f}"
        for (ax, ay), (bx, by) in pairwise(points)
        for share in (1 / 3, 2 / 3, 1.0)
    ]
    assert told(*cut, "F160", *pieces, "G0 Z5") == []
    assert told(*cut, "F160", *(f"G1 X{20 + n / 5}" for n in range(1, 20)), "G0 Z5") == [("feed", "warning")] * 11


def test_the_cutter_never_waits_in_wood() -> None:
    assert told("G0 X20 Y20", "G0 Z1", "G1 Z-4 F300", "G4 P1", "G0 Z5") == [("dwell", "warning")]
    assert told("G0 X20 Y20", "G0 Z1", "G1 Z-4 F300", "G0 Z5", "G4 P1") == []
    # A pause of minutes: more than twice the time to speed, and than 10 s.
    assert told("G4 P7", "G0 X20 Y20") == []
    assert told("G4 P8", "G0 X20 Y20") == [("dwell", "warning")]


@pytest.mark.parametrize("line", ["G64", "G61", "M48", "M49", "M7", "M8"])
def test_codes_that_only_a_profile_may_ask_for(line: str) -> None:
    assert told(line, "G0 X20 Y20") == [("controller", "warning")]


def test_a_rapid_may_go_back_down_a_drilled_hole_to_the_approach_above_its_floor() -> None:
    """The profile's approach is 1 mm."""
    assert found("G0 X20 Y20", "G0 Z1", "G1 Z-2 F300", "G0 Z1", "G0 Z-1", "G1 Z-4", "G0 Z5") == []


def test_no_rapid_goes_sideways_below_safe_height() -> None:
    (finding,) = found("G0 X20 Y20", "G0 Z1", "G0 X60")
    # The limit allows for the rounding of what is written.
    assert (finding.check, finding.measured, finding.limit) == ("rapid", 1.0, pytest.approx(5.0, abs=TOLERANCES.output))
    assert "below safe height" in finding.message


@pytest.mark.parametrize(("depth", "told"), [(4.4, False), (4.5, True)])
def test_no_cut_goes_along_deeper_than_a_pass(depth: float, told: bool) -> None:
    errors = found("G0 X20 Y20", "G0 Z1", f"G1 Z-{depth} F300", "G1 X60 F1200")
    assert [finding.check for finding in errors] == ["depth per pass"] * told
    if told:
        assert (errors[0].measured, errors[0].limit) == (pytest.approx(4.5), 4.4)
        assert errors[0].message.startswith("cuts 4.50 mm deeper than all before it")


def test_the_next_pass_goes_as_much_deeper_again() -> None:
    lines = [
        "G0 X20 Y20",
        "G0 Z1",
        "G1 Z-4 F300",
        "G1 X60 F1200",
        "G1 Z-8 F300",
        "G1 X20 F1200",
        "G1 Z-12 F300",
        "G1 X60",
    ]
    assert found(*lines) == []


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        # The feed table plunges at 300 mm/min: straight down at 300 and 330; down a slope of 1 in 4, by which 1200
        # mm/min sink at 1200 / sqrt(17) = 291, and of 1 in 3, 1200 / sqrt(10) = 379.
        (["G1 Z-2 F300"], False),
        (["G1 Z-2 F330"], True),
        (["G1 Z0 F300", "G1 X28 Z-2 F1200"], False),
        (["G1 Z0 F300", "G1 X26 Z-2 F1200"], True),
        # A quarter of a helix of radius 5.1 is 8.01 mm long and sinks 2 mm, hardly less steep than 1 in 4; of radius
        # 3.8 it is 5.97 mm long.
        (["G1 Z0 F300", "G2 X25.1 Y14.9 I0 J-5.1 Z-2 F1200"], False),
        (["G1 Z0 F300", "G2 X23.8 Y16.2 I0 J-3.8 Z-2 F1200"], True),
    ],
)
def test_nothing_sinks_faster_than_the_feed_table_plunges(lines: list[str], told: bool) -> None:
    assert 1200 / math.sqrt(17) < 300 < 1200 / math.sqrt(10)
    assert [finding.check for finding in found("G0 X20 Y20", "G0 Z1", *lines)] == ["plunge"] * told


def test_a_pecking_cycle_goes_back_down_the_hole_it_made() -> None:
    assert found("G0 X20 Y20", "G83 X20 Y20 Z-9 R1 Q3 F300", "X40", "G80") == []
    # By hand the same rapid is told of: the cycle knows its hole, a line does not.
    (finding,) = found("G0 X20 Y20", "G0 Z1", "G1 Z-3 F300", "G0 Z1", "G0 Z-3")
    assert (finding.check, finding.measured) == ("rapid", pytest.approx(-3.0))


def test_an_arc_faster_than_the_machine_turns_is_warned_of() -> None:
    """1,200 mm/min, 20 mm/s, round 0.05 mm: 400 / 0.0513 is 7,797 mm/s2, with 0.0013 mm for rounding; it has 5,000."""

    def warned(feed: int) -> list[Finding]:
        lines = ["G0 X20 Y20", "G0 Z1", "G1 Z-2 F300", f"G3 X19.9 Y20 I-0.05 J0 F{feed}"]
        stated = StatedStock(thickness=12.0, material="softwood", cutter=1)
        data = ws.text([*OPENING, *lines, *END])
        report = examine_program(data, name="out/a.nc", machine=ws.router(), plan=None, stated=stated).report
        return [finding for finding in report.findings if "mm/s2" in finding.message]

    (finding,) = warned(1200)
    assert (finding.check, finding.severity, finding.measured) == ("feed", "warning", pytest.approx(7797, abs=1))
    assert warned(900) == []
