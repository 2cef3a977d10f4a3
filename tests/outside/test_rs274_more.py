"""The reader of G-code against the standard: values worked out, arcs in all planes, boring cycles.

Source as in test_rs274.py: NISTIR 6556, NIST 2000. What is checked from memory of the report, not read again, is marked
[M].
"""

from __future__ import annotations

import math

import pytest

from cutjob.proof.gcode.reading import Place
from tests.outside.test_rs274 import ARITHMETIC, read


def test_a_parameter_set_on_a_line_counts_from_the_next_one_on() -> None:
    """[M] Section 3.3.2.1: with parameter 3 at 15, `#3=6 G1 X#3` moves to 15 and leaves 6."""
    reading = read("F100\n#3=15\n#3=6 G1 X#3\nX#3")
    assert not reading.problems
    assert [motion.end[0] for motion in reading.motions] == [15.0, 6.0]


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("[1 + 2 * 3 - 4 / 2]", 5.0),  # [M] 3.3.2.3: three ranks, from left to right within one
        ("[2 ** 3 ** 2]", 64.0),  # powers too from left to right
        ("[2 + 3 mod 2]", 3.0),
        ("[0 - 7 mod 4]", -3.0),
        ("[[0 - 7] mod 4]", 1.0),
        ("[1 + acos[0] - [#3 ** [4.0 / 2]]]", -134.0),  # [M] the report's example of an expression, with #3 = 15
        ("#[1 + 2]", 15.0),
        ("##4", 15.0),  # #4 holds 3
        ("[1 and 0 or 1]", 1.0),
        ("[1 xor 1]", 0.0),
        ("sqrt[9]", 3.0),
        ("atan[1]/[0 - 1]", 135.0),
        ("sin[30]", 0.5),
        ("cos[60]", 0.5),
        ("tan[45]", 1.0),
        ("asin[1]", 90.0),
        ("abs[0 - 2]", 2.0),
        ("fix[0 - 2.8]", -3.0),  # [M] down, towards less
        ("fup[0 - 2.8]", -2.0),
        ("round[2.5]", 3.0),
        ("ln[exp[2]]", 2.0),
        ("[2-.5]", 1.5),
        ("[2--.5]", 2.5),
    ],
)
def test_values_that_are_worked_out(written: str, value: float) -> None:
    reading = read(f"#3=15 #4=3\nG0 X{written}")
    assert not reading.problems, [str(problem) for problem in reading.problems]
    assert reading.motions[0].end[0] == pytest.approx(value, abs=ARITHMETIC)
    assert "#" in reading.codes


@pytest.mark.parametrize(
    ("line", "column", "reason"),
    [
        ("G0 X[1/0]", 5, "no value"),
        ("G0 X[[0-8]**.5]", 5, "no value"),
        ("G0 X[2**9999]", 5, "no value"),
        ("G0 Xsqrt[0-1]", 5, "SQRT has no value"),
        ("G0 Xln[0]", 5, "LN has no value"),
        ("G0 Xacos[2]", 5, "ACOS has no value"),
        ("G0 X[1 + 2", 5, "not closed"),
        ("G0 X[1 2 & 3]", 10, "operator"),
        ("G0 X-[1]", 4, "no number"),
        ("G0 Xatan[1]", 5, "two values"),
        ("G0 X#0", 5, "not a parameter"),
        ("G0 X#1.5", 5, "not a parameter"),
        ("G0 X#5400", 5, "not a parameter"),
        ("G0 X#7", 5, "no line before sets it"),
        ("#5221=1", 1, "zero points"),
        ("#1", 1, "set with ="),
        ("#1=", 3, "should be here"),
        ("G0 X" + "[" * 60 + "1" + "]" * 60, 46, "brackets inside"),
        ("G0 X" + "#" * 60 + "1", 46, "brackets inside"),
        ("N#1 G0 X1", 1, "no number"),
        ("G1.5 X1", 1, "not a code"),
    ],
)
def test_values_that_have_no_answer(line: str, column: int, reason: str) -> None:
    """[M] Section 3.3.2: the errors of parameters, expressions and functions."""
    (problem,) = read(line).problems
    assert reason in problem.message
    assert problem.location is not None
    assert (problem.location.line, problem.location.column) == (1, column), problem.message


def test_codes_may_be_worked_out() -> None:
    """[M] Section 3.3: a G number may be any real value that comes to a code."""
    reading = read("#1=0.99999\nF10 G[#1] X1\nG[0.5*4] X2 Y1 I0 J1\nM[1+1]")
    assert not reading.problems
    assert [motion.kind for motion in reading.motions] == ["feed", "arc"]
    assert reading.ended


@pytest.mark.parametrize(
    ("plane", "start", "words", "middle"),
    [
        # [M] Table 4 and 3.5.3: counter-clockwise seen from the positive end of the third axis, so from X to Y, from Z
        # to X and from Y to Z. A quarter turn of radius 5 about the origin, half way along it.
        ("G17", (5.0, 0.0, 0.0), "X0 Y5 I-5 J0", (0, 1)),
        ("G18", (0.0, 0.0, 5.0), "X5 Z0 I0 K-5", (2, 0)),
        ("G19", (0.0, 5.0, 0.0), "Y0 Z5 J-5 K0", (1, 2)),
    ],
)
def test_arcs_in_every_plane(plane: str, start: Place, words: str, middle: tuple[int, int]) -> None:
    reading = read(f"F100\n{plane} G3 {words}", start=start)
    assert not reading.problems
    first, second = middle
    for motion in reading.motions:
        assert math.hypot(motion.end[first], motion.end[second]) == pytest.approx(5.0, abs=1e-6)
        assert motion.end[first] >= -ARITHMETIC  # the short way round
        assert motion.end[second] >= -ARITHMETIC
    # The standard's path is 5 pi / 2 long; chords within 0.001 mm lose less than a thousandth of it.
    assert sum(motion.length for motion in reading.motions) == pytest.approx(2.5 * math.pi, rel=1e-3)
    assert reading.other_planes == (None if plane == "G17" else 2)


def test_a_whole_turn_and_a_helix_outside_the_xy_plane() -> None:
    """[M] 3.5.3: an arc in G18 back to its start is a full circle, and Y makes it a helix."""
    reading = read("F100\nG18 G2 X0 Z0 I3 K4 Y10")
    assert not reading.problems
    xs, ys, zs = zip(*(motion.end for motion in reading.motions), strict=True)
    # The farthest places along both axes are ends of lines.
    assert (min(xs), max(xs), min(zs), max(zs)) == pytest.approx((-2.0, 8.0, -1.0, 9.0), abs=ARITHMETIC)
    assert list(ys) == sorted(ys)
    assert reading.motions[-1].end == (0.0, 10.0, 0.0)
    helix = math.hypot(2 * math.pi * 5, 10)
    assert sum(motion.length for motion in reading.motions) == pytest.approx(helix, rel=1e-3)


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("G18 G2 Y1 I1 K0", "needs X or Z"),  # [M] 3.5.3.2: X and Z both missing in the XZ plane
        ("G18 G2 X1 Z1 J1", "needs I or K"),
        ("G19 G2 X1 J1 K0", "needs Y or Z"),
        ("G19 G2 Y1 Z1 I1", "needs J or K"),
        ("G17 G2 X1 Y1 I1 J0 K1", "K has no use"),
        ("G18 G2 X2 Z0 I1 J0 K0", "J has no use"),
        ("G18 G2 X0 Z0 R5", "can't end where it starts"),
        ("G2 X10 R5 I5", "either R or I and J"),
        ("G18 G2 X10 R4.9", "doesn't reach"),
    ],
)
def test_arcs_outside_the_xy_plane_that_break_a_rule(line: str, reason: str) -> None:
    problems = read(f"F100\n{line}").problems
    assert len(problems) == 1
    assert reason in problems[0].message


@pytest.mark.parametrize(("degrees", "uncertain"), [(164, False), (166, True), (180, True), (194, True), (196, False),
                                                   (344, False), (346, True), (5, False)])  # fmt: skip
def test_arcs_in_r_form_near_a_half_or_a_full_turn(degrees: float, uncertain: bool) -> None:
    """Section 3.5.3.1: R form is fit only up to 165 or from 195 to 345 degrees."""
    a = math.radians(degrees)
    radius = 10.0 if degrees <= 180 else -10.0
    reading = read(f"F100\nG1 X10 Y0\nG3 X{10 * math.cos(a):.9f} Y{10 * math.sin(a):.9f} R{radius}")
    assert not reading.problems
    assert reading.motions[1].sweep == pytest.approx(a, abs=1e-4)
    assert (reading.uncertain_arcs == (1,)) is uncertain


def test_the_boring_cycles() -> None:
    """[M] Section 3.5.16: G85 and G89 feed out, G89 and G86 wait at the bottom, G86 stops the spindle there."""
    words = "G98 X1 Y2 Z-2 R1"
    start = (0.0, 0.0, 3.0)
    ways = {
        "85": [("rapid", 3.0), ("rapid", 1.0), ("feed", -2.0), ("feed", 3.0)],
        "86": [("rapid", 3.0), ("rapid", 1.0), ("feed", -2.0), ("rapid", 3.0)],
        "89": [("rapid", 3.0), ("rapid", 1.0), ("feed", -2.0), ("feed", 3.0)],
    }
    for code, way in ways.items():
        pause = "" if code == "85" else "P0.5"
        reading = read(f"F100 S900 M3\nG90 G{code} {words} {pause}", start=start)
        assert not reading.problems
        assert [(motion.kind, motion.end[2]) for motion in reading.motions] == way
        events = [(event.kind, event.value, event.motions) for event in reading.events if event.line == 2]
        wait = [] if code == "85" else [("dwell", 0.5, 3)]
        stopped = [("spindle", 0, 3), ("spindle", 1, 4)] if code == "86" else []
        assert events == [*wait, *stopped]
    assert read(f"F100\nG86 {words} P1", start=start).problems  # the spindle has to turn before
    assert read("F100\nG82 X1 Z-2 R1 P-1", start=start).problems
    assert read("G93\nG81 X1 Z-2 R1 F2", start=start).problems  # no inverse time in a cycle
    assert read("F100\nG18 G81 X1 Z-2 R1", start=start).problems


def test_a_return_that_controllers_take_differently() -> None:
    """[M] 3.5.20: G98 goes back to where Z was before the cycle, or before the row of cycles."""
    good = "F100\nG99 G81 X1 Z-2 R1\nX2\nG80\nG0 Z5\nG98 G81 X3 Z-2 R1"
    assert not read(good, start=(0.0, 0.0, 3.0)).problems
    (problem,) = read("F100\nG99 G81 X1 Z-2 R1\nG98 X2", start=(0.0, 0.0, 3.0)).problems
    assert "G98 after G99" in problem.message


def test_modes_that_move_nothing_are_read() -> None:
    """Tables 4 and 5: what no motion depends on here."""
    text = "G17 G21 G40 G49 G54 G64 G80 G90 G94 G98\nM48 M8\nM49 M9\nM1\n(MSG, hold the end)\nG0 X1\nM30"
    reading = read(text)
    assert not reading.problems
    assert reading.ended
    assert [event.kind for event in reading.events] == ["tool length", "coolant", "coolant", "stop", "end"]


def test_lines_after_the_end() -> None:
    """Section 3.3: M2 and M30 end the program, so what follows is never run by the standard."""
    assert read("G0 X1\nM2\n(bye)\n\n").after_end is None
    reading = read("G0 X1\nM2\n(bye)\nG0 Z-9\nG0 X2")
    assert reading.after_end == 4
    assert len(reading.motions) == 1
    assert read("%\nG0 X1\nM2\nG0 X2\n%\n").after_end == 4
    assert read("%\nG0 X1\n%\n(bye)\nG0 X2").after_end == 5


@pytest.mark.parametrize(
    ("line", "column", "reason"),
    [
        ("M1 M3 M6 M8 M48", 13, "more than 4 M words"),  # 3.3
        ("M7 M8", 4, "of one kind"),  # table 4
        ("G90 G91", 5, "of one kind"),
        ("G20 G21", 5, "of one kind"),
        ("G93 G94", 5, "of one kind"),
        ("G54 G55", 5, "G54 and G55 are of one kind"),
        ("G61 G64", 5, "of one kind"),
        ("G98 G99", 5, "of one kind"),
        ("G43 H1 G49", 8, "of one kind"),
        ("G0 N5 X1", 4, "start of its line"),  # 3.3.2: the line number comes first
        ("N5 N6 G0", 4, "start of its line"),
        ("N5. G0 X1", 1, "not a whole number"),
        ("N-5 G0 X1", 1, "not a whole number"),
        ("N10 / G0 X1", 5, "only be at the start of a line"),  # 3.3: a block delete comes before all
        ("T-1", 1, "whole number"),  # 3.7.3
        ("T1.5", 1, "whole number"),
        ("S-1", 1, "negative"),  # 3.7.2
        ("F-1", 1, "negative"),  # 3.7.1
        ("G4 P-1", 4, "negative"),  # 3.5.4
        ("G43", 1, "H word"),  # 3.5.11
        ("G43 H1.5", 5, "whole number"),
        ("G1 F10 H1 X1", 8, "H has no use"),
        ("G0 X1 P1", 7, "P has no use"),
        ("G0 X1 L2", 7, "L has no use"),
        ("G0 X1 I2", 7, "I has no use"),
        ("G4 P1 X1", 7, "takes no axis words"),
        ("F9 G81 X1 Z-1 R1 L1.5", 18, "whole number"),
        ("F9 G81 R1", 4, "needs X, Y or Z"),
        ("G28 G81 X1", 1, "both want the axes"),
        ("G123", 1, "not a code"),
        ("M77", 1, "not a code"),
        ("M-3", 1, "not a code"),
        ("@", 1, "begins no word"),
        ("G0 X1 %", 7, "alone on its line"),
        ("G0 X1 Y=", 7, "no number"),
    ],
)
def test_more_lines_that_break_a_rule(line: str, column: int, reason: str) -> None:
    """[M] beside the sections named: the errors of the report, each told at its column."""
    (problem,) = read(f"F10\n{line}" if "F9" not in line else line).problems
    assert reason in problem.message
    assert problem.location is not None
    assert problem.location.column == column, str(problem)


def test_the_way_home_is_taken_by_rapids_to_a_place_unknown() -> None:
    """[M] Section 3.5.8: a rapid to the place named, then one to the home that parameters hold."""
    reading = read("G0 X1 Y1\nG0 Z5\nG91 G28 Z0\nG90 G30 X4\nG0 Z5\nG0 X1 Y1")
    assert not reading.problems
    assert [event.value for event in reading.events if event.kind == "home"] == [1.0, 0.0]
    assert [motion.end for motion in reading.motions][2] == (4.0, 1.0, 5.0)
    assert [motion.z_known for motion in reading.motions] == [False, True, False, True, True]
    assert [problem.location.line for problem in reading.remarks if problem.location] == [3, 4]


def test_a_code_without_axes_only_sets_the_mode() -> None:
    """Sections 3.5.1 and 3.5.2 make it an error; it moves nothing on any controller, and is remarked on."""
    reading = read("G0 G17 G40 G90\nX1 Y1")
    assert not reading.problems
    assert len(reading.remarks) == 1
    assert [motion.kind for motion in reading.motions] == ["rapid"]
