"""The reader of G-code against the standard's own text and examples.

Source of every check here: T. Kramer, F. Proctor, E. Messina, *The NIST RS274NGC Interpreter, Version 3*, NISTIR 6556,
NIST 2000: sections 3.3, 3.5.3 and 3.5.16, tables 3, 4 and 8. What is checked from memory of the report, not read again,
is marked [M]; the one check from elsewhere says so.
"""

from __future__ import annotations

import math

import pytest

from cutjob.proof.gcode.reader import read_gcode
from cutjob.proof.gcode.reading import Place, Reading

# The examples are in whole and tenth units: arithmetic alone separates them from what is read.
ARITHMETIC = 1e-9


def read(text: str, start: Place = (0.0, 0.0, 0.0)) -> Reading:
    return read_gcode(text.encode("latin-1"), name="example.ngc", start=start)


def ends(reading: Reading) -> list[tuple[str, Place]]:
    return [(motion.kind, tuple(round(value, 9) for value in motion.end)) for motion in reading.motions]


def test_blanks_tabs_and_case_mean_nothing() -> None:
    """Section 3.3: `g0x +0. 12 34y 7` is `g0 x+0.1234 y7`."""
    odd, plain = read("g0x +0. 12 34y 7"), read("g0 x+0.1234 y7")
    assert not odd.problems
    assert odd.motions == plain.motions
    assert ends(odd) == [("rapid", (0.1234, 7.0, 0.0))]


def test_an_arc_by_its_centre() -> None:
    """Section 3.5.3: from (7, 7), `G17 G2 X10 Y16 I3 J4 Z9` is a clockwise helix about (10, 11) of radius 5."""
    (motion,) = read("F100\nG17 G2 x 10 y 16 i 3 j 4 z 9", start=(7.0, 7.0, 0.0)).motions
    assert motion.centre == pytest.approx((10.0, 11.0), abs=ARITHMETIC)
    assert math.dist(motion.start[:2], motion.centre or (0, 0)) == pytest.approx(5.0, abs=ARITHMETIC)
    assert motion.end == (10.0, 16.0, 9.0)
    assert motion.clockwise


def test_an_absolute_drilling_cycle() -> None:
    """Section 3.5.16: at (1, 2, 3), `G90 G81 G98 X4 Y5 Z1.5 R2.8`."""
    reading = read("F100\nG90 G81 G98 X4 Y5 Z1.5 R2.8", start=(1.0, 2.0, 3.0))
    assert ends(reading) == [
        ("rapid", (4.0, 5.0, 3.0)),
        ("rapid", (4.0, 5.0, 2.8)),
        ("feed", (4.0, 5.0, 1.5)),
        ("rapid", (4.0, 5.0, 3.0)),
    ]


def test_an_incremental_drilling_cycle_repeated() -> None:
    """Section 3.5.16: at (1, 2, 3), `G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3`."""
    reading = read("F100\nG91 G81 G98 X4 Y5 Z-0.6 R1.8 L3", start=(1.0, 2.0, 3.0))
    wanted: list[tuple[str, Place]] = [("rapid", (1.0, 2.0, 4.8))]
    for x, y in ((5.0, 7.0), (9.0, 12.0), (13.0, 17.0)):
        wanted += [("rapid", (x, y, 4.8)), ("feed", (x, y, 4.2)), ("rapid", (x, y, 4.8))]
    assert ends(reading) == wanted


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("G1 X1 F" + " " * 250 + "5", "characters"),  # 3.3: at most 256 characters
        ("N123456 G0 X1", "line number"),  # 3.3: five digits
        ("G0 X1 (a (b) c)", "nest"),  # 3.3
        ("G0 X1 (a", "not closed"),  # 3.3
        ("G0 X1 X2", "twice"),  # 3.3: other letters once
        ("G0 G1 X1", "of one kind"),  # table 4: one word of a modal group
        ("G17 G18", "of one kind"),
        ("M3 M4", "of one kind"),
        ("G0 X1e3", "doesn't belong"),  # no exponents
        ("G0 X", "no number"),
        ("G0 X-.", "no number"),
        ("G0 X1.2.3", "belong"),
        ("E1", "begins no word"),  # table 3: E is no word
        ("F10\nG2 Z1 I1 J0", "X or Y"),  # 3.5.3: X and Y both missing
        ("F10\nG2 X1 Y1", "I or J"),  # I and J both missing
        ("F10\nG2 X2 Y0 I1.0 J0.01 Z0\nG2 X5 Y0 I1 J1", "radii"),
        ("G4", "P word"),  # [M]
        ("X1", "motion code"),
        ("G80\nX1", "motion code"),
        ("G1 X1", "feed"),
        ("G93\nF2\nG1 X1\nG1 X2", "own F"),  # [M]: F on every line
        ("F10\nG81 X1 Z1 R0", "above"),  # [M]: Z above R
        ("F10\nG81 X1 Z-1", "R word"),
        ("F10\nG81 X1 Z-1 R1 L0", "at least 1"),
        ("F10\nG82 X1 Z-1 R1", "P word"),
        ("F10\nG83 X1 Z-1 R1 Q0", "greater than 0"),
    ],
)
def test_a_line_that_breaks_a_rule_is_refused(line: str, reason: str) -> None:
    problems = read(line).problems
    assert problems
    assert any(reason in problem.message for problem in problems), [str(problem) for problem in problems]
    assert all(problem.location is not None and problem.location.line is not None for problem in problems)


@pytest.mark.parametrize(
    ("unit", "apart", "fits"),
    [("G21", 0.0019, True), ("G21", 0.0021, False), ("G20", 0.00019, True), ("G20", 0.00021, False)],
)
def test_radii_may_differ_by_a_little(unit: str, apart: float, fits: bool) -> None:
    """Section 3.5.3: 0.0002 inch or 0.002 mm."""
    reading = read(f"{unit}\nF100\nG2 X{2 + apart:.6f} Y0 I1 J0")
    assert (not reading.problems) is fits


def test_a_failing_arc_seen_in_practice() -> None:
    """Radii 8.110 and 8.120: an arc that a controller refused; not from the report."""
    reading = read("F100\nG1 X41.85 Y0.03\nG3 X49.97 Y8.15 I0 J8.11")
    assert [problem.location.line for problem in reading.problems if problem.location] == [3]
    assert "8.11000" in reading.problems[0].message
    assert "8.12001" in reading.problems[0].message


def test_an_arc_back_to_its_start_is_a_full_circle() -> None:
    """Section 3.5.3."""
    for code, sign in (("G2", -1), ("G3", 1)):
        (motion,) = read(f"F100\n{code} X0 Y0 I5 J0").motions
        assert motion.sweep == pytest.approx(sign * 2 * math.pi)
        assert motion.turns == pytest.approx(1.0)


def test_the_radius_form_by_the_sign_of_r() -> None:
    """[M] A negative radius for more than half a turn."""
    (short,) = read("F100\nG2 X10 Y0 R10").motions
    (long,) = read("F100\nG2 X10 Y0 R-10").motions
    assert short.sweep == pytest.approx(-math.pi / 3)
    assert long.sweep == pytest.approx(-2 * math.pi + math.pi / 3)
    assert read("F100\nG2 X0 Y0 R10").problems


def test_the_order_of_execution() -> None:
    """Table 8: F before the units, the spindle before the motion, the stop last."""
    reading = read("G21\nF10 G20\nG1 X1\nM3 S100\nG0 X2 M5\nG0 X3 M2\nG0 X4")
    # F10 was read in mm, the X word in inches.
    assert reading.motions[0].feed == 10.0
    assert reading.motions[0].end[0] == pytest.approx(25.4)
    assert reading.motions[1].spindle == 0
    assert reading.motions[-1].end[0] == pytest.approx(3 * 25.4)
    assert reading.ended


def test_a_tool_change_stops_the_spindle_and_loads_the_selected_tool() -> None:
    """The report on M6: the spindle is left stopped."""
    reading = read("T3\nM3 S100\nG0 X1\nM6\nG0 X2\nT4\nG0 X3")
    assert [(motion.spindle, motion.tool) for motion in reading.motions] == [(1, 0), (0, 3), (0, 3)]


def test_inverse_time_feed_is_one_over_minutes() -> None:
    """G93: F is one over minutes. F2 means half a minute for the move; 30 mm in half a minute are 60 mm/min."""
    reading = read("G93\nG1 X30 F2")
    assert reading.motions[0].feed == pytest.approx(60.0)


def test_a_pecking_cycle_goes_down_in_steps_and_back_up_between() -> None:
    """[M] G83: feed by Q, rapid to R, rapid to just above the last bottom, and so on."""
    reading = read("F100\nG90 G83 G99 X1 Y2 Z-5 R1 Q3", start=(0.0, 0.0, 3.0))
    heights = [(motion.kind, round(motion.end[2], 3)) for motion in reading.motions]
    assert heights == [
        ("rapid", 3.0),
        ("rapid", 1.0),
        ("feed", -2.0),
        ("rapid", 1.0),
        ("rapid", -1.746),
        ("feed", -5.0),
        ("rapid", 1.0),
    ]


def test_a_dwelling_cycle_and_words_that_stick() -> None:
    """[M] R, Z and P of a cycle stick for the next line of the same cycle."""
    reading = read("F100\nG90 G82 G98 X1 Y2 Z-1 R1 P0.5\nX3\nG80", start=(0.0, 0.0, 3.0))
    assert [event.value for event in reading.events if event.kind == "dwell"] == [0.5, 0.5]
    assert [motion.end for motion in reading.motions if motion.end[2] == -1.0 and motion.start[2] > 0] == [
        (1.0, 2.0, -1.0),
        (3.0, 2.0, -1.0),
    ]


def test_percent_signs_come_in_pairs() -> None:
    """Section 3.3: the first needs its mate; without them the program ends with M2 or M30."""
    assert read("%\nG0 X1\nM2\n%\n").ended
    assert not read("%\nG0 X1\nM2\n%\n").problems
    assert not read("%\nG0 X1\n%\nanything").problems
    assert read("%\nG0 X1\nM2\n").problems
    assert read("%\nG0 X1\n").problems
    assert read("G0 X1\n%\n").problems


REFUSED = """G28 G1 X0|G53 G0 X0|G92 X0|G41 D1|G10 L2|G38.2 X1|G84 X1|G87 X1|G88 X1
G99999|M60|M99|G0 A5|G0 X#1|#5221=1|O100 sub|G2 X1e9 I5e8|G0 X99999999"""


@pytest.mark.parametrize("code", REFUSED.replace("\n", "|").split("|"))
def test_what_the_file_alone_does_not_say_is_refused_with_a_reason(code: str) -> None:
    problems = read(code).problems
    assert len(problems) == 1
    assert len(problems[0].message) > 15


def test_a_block_delete_is_seen() -> None:
    """Section 3.3."""
    reading = read("/G0 X1\n/ G0 X2")
    assert not reading.problems
    assert "/" in reading.codes
    assert read("G0 /X1").problems
