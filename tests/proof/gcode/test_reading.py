"""The reader of G-code: number forms, its short cut against the long way, and files of rubbish."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.output.numbers import fixed
from cutjob.proof.gcode.reader import read_gcode
from tests.proof import workshop as ws

# A number of at most 5 whole digits and 5 decimals is read exactly as Python's own reading of the plain text.
EXACT = 0.0


@given(
    sign=st.sampled_from(["", "+", "-"]),
    whole=st.text("0123456789", max_size=5),
    decimals=st.none() | st.text("0123456789", max_size=5),
    blanks=st.lists(st.integers(0, 11), max_size=3),
    lower=st.booleans(),
)
@settings(max_examples=200)
def test_every_form_of_a_number(sign: str, whole: str, decimals: str | None, blanks: list[int], lower: bool) -> None:
    text = sign + whole + ("" if decimals is None else f".{decimals}")
    line = f"G0X{text}"
    for place in blanks:
        line = line[:place] + " \t"[place % 2] + line[place:]
    reading = read_gcode((line.lower() if lower else line).encode(), name="a.nc")
    if whole or decimals:
        assert not reading.problems
        assert reading.motions[0].end[0] == pytest.approx(float(text), abs=EXACT)
        assert reading.decimals == len(decimals or "")
    else:
        assert reading.problems


_number = st.floats(-200, 200).map(lambda value: f"{value:.3f}")
_values = st.recursive(
    st.sampled_from(["1", "-2.5", "0", "#1", "#2", "#7", "1e3", ".", ""]),
    lambda inner: st.one_of(
        st.builds("[{} {} {}]".format, inner, st.sampled_from(["+", "-", "*", "/", "**", "MOD", "OR", "?"]), inner),
        st.builds("{}[{}]".format, st.sampled_from(["SIN", "SQRT", "LN", "ATAN", "EXP", "FIX", "TAN"]), inner),
        st.builds("ATAN[{}]/[{}]".format, inner, inner),
        st.builds("#{}".format, inner),
    ),
    max_leaves=8,
)
_words = st.one_of(
    st.builds("G1 X{} Y{}".format, _number, _number),
    st.builds("G0 Z{}".format, _number),
    st.builds("X{} F500".format, _number),
    st.builds("G2 X{} Y{} I5 J0".format, _number, _number),
    st.builds("G3 X{} Z1 I-5 J0".format, _number),
    st.sampled_from(["G90", "G91", "G20", "G21", "M3 S100", "G4 P1", "", "(note)"]),
    st.sampled_from(["G93", "G94", "G18", "G17", "N10 G1 Y1"]),
    st.sampled_from(["G81 X1 Z-1 R1", "G80", "F100", "G1", "Y", "G3 I5 J0 X0 Y0", "I1", "%", "M2", "x1y2"]),
)


@given(lines=st.lists(_words, max_size=25))
@settings(max_examples=200)
def test_the_short_cut_reads_as_the_long_way(lines: list[str]) -> None:
    data = "\n".join(lines).encode()
    assert read_gcode(data, name="a.nc") == read_gcode(data, name="a.nc", skip_common=True)


@given(data=st.binary(max_size=200) | st.text("GXYZIJRFMST0123456789.-+ ()%;/\n#[", max_size=200).map(str.encode))
@settings(max_examples=300)
def test_rubbish_never_raises(data: bytes) -> None:
    reading = read_gcode(data, name="a.nc")
    for motion in reading.motions:
        assert all(math.isfinite(value) for value in motion.end)
    for problem in reading.problems:
        assert problem.location is not None
        assert problem.location.line is not None


@given(lines=st.lists(st.builds("{}{}".format, st.sampled_from(["#1=", "#2=", "G1 X", "G", "F", "Z"]), _values)))
@settings(max_examples=150)
def test_values_to_be_worked_out_never_raise(lines: list[str]) -> None:
    reading = read_gcode("\n".join(["#1=3 #2=0.5 F100", *lines]).encode(), name="a.nc")
    for motion in reading.motions:
        assert all(math.isfinite(value) for value in motion.end)
    assert all(problem.location is not None and problem.location.column for problem in reading.problems)


@given(value=st.floats(-2000, 2000), decimals=st.integers(2, 6))
@settings(max_examples=100)
def test_numbers_as_the_writer_has_them(value: float, decimals: int) -> None:
    text = fixed(value, decimals)
    reading = read_gcode(f"G0 X{text} Y{text}".encode(), name="a.nc")
    assert not reading.problems
    # Half of the last written decimal, and arithmetic.
    assert abs(reading.motions[0].end[0] - value) <= 0.5 * 10.0**-decimals + 1e-9
    assert reading.decimals <= decimals


@given(cut=st.integers(0, 5000), drop=st.integers(1, 30))
@settings(max_examples=60)
def test_a_good_program_with_a_piece_torn_out_never_raises(cut: int, drop: int) -> None:
    data = ws.text(ws.latch_program())
    cut %= len(data)
    read_gcode(data[:cut] + data[cut + drop :], name="a.nc")


def test_what_a_file_states() -> None:
    reading = read_gcode(ws.text(ws.latch_program()), name="board-01.nc")
    assert reading.set_before_motion == {"units", "plane", "distance", "feed mode"}
    assert reading.ended
    assert reading.comment_styles == {"brackets"}
    assert reading.letters == {"S", "P"}
    assert reading.longest_line == (max(map(len, ws.latch_program())), 1 + longest(ws.latch_program()))
    first = reading.motions[0]
    assert (first.line, first.kind, first.z_known, first.spindle) == (6, "rapid", True, 0)
    dwell = next(event for event in reading.events if event.kind == "dwell")
    assert (dwell.value, dwell.motions) == (3.0, 1)


def longest(lines: list[str]) -> int:
    return max(range(len(lines)), key=lambda number: len(lines[number]))


def test_problems_are_capped() -> None:
    assert len(read_gcode(b"G99999\n" * 5000, name="a.nc").problems) == 100


def test_a_file_with_a_mark_or_other_line_ends() -> None:
    marked = read_gcode(b"\xef\xbb\xbfG21\nG0 X1", name="a.nc")
    assert [str(problem) for problem in marked.problems] == [
        "a.nc:1:1: the file begins with a byte order mark; save it as plain ASCII, since controllers stop at the mark"
    ]
    windows = read_gcode(b"%\r\nG21\r\nG0 X1\r\nM2\r\n%\r\n", name="a.nc")
    assert not windows.problems
    assert windows.percent
    (problem,) = read_gcode(b"G21\rG0 X1\r", name="a.nc").problems
    assert "carriage return" in problem.message


def test_odd_comments_are_remarked_on_and_stop_nothing() -> None:
    reading = read_gcode("(café – side)\nG0 X1 ; go (fast)\nG0 X2 ; né\nG1 F100\n".encode(), name="a.nc")
    assert not reading.problems
    assert [problem.location.line for problem in reading.remarks if problem.location] == [1, 2, 3, 4]
    assert [motion.end[0] for motion in reading.motions] == [1.0, 2.0]
    assert read_gcode(b"G0 X1 (bell \x07)", name="a.nc").problems
    assert read_gcode(b"G0 X1 ; bell \x07", name="a.nc").problems
    assert read_gcode("G0 Xé".encode(), name="a.nc").problems


def test_units_that_change_between_motions_are_remarked_on() -> None:
    reading = read_gcode(b"G21\nG20\nG0 X1\nG20\nG0 X2\nG1 Y1 F9 G21\nX1", name="a.nc")
    assert [str(problem).split(";")[0] for problem in reading.remarks] == [
        "a.nc:6:10: the units change between motions"
    ]
    assert [motion.end[:2] for motion in reading.motions] == [(25.4, 0.0), (50.8, 0.0), (50.8, 1.0), (1.0, 1.0)]


def test_places_the_file_has_not_stated() -> None:
    """Where the tool stands before it is told, and after a change of cutter, is anyone's guess."""
    assert read_gcode(b"G0 Z5\nG0 X1 Y1\nG1 Z-1 F9\nG1 X2", name="a.nc").unplaced == (0, 1)
    assert read_gcode(b"G0 Z5\nG0 X1\nG1 Z-1 F9\nG1 Y2\nX3", name="a.nc").unplaced == (0, 1, 2, 3)
    assert read_gcode(b"G91\nG0 Z5\nG0 X1 Y1\nG1 Z-1 F9", name="a.nc").unplaced == (0, 1, 2)
    assert [motion.z_known for motion in read_gcode(b"G91 G0 Z5\nG90 Z5", name="a.nc").motions] == [False, True]
    changed = read_gcode(b"G0 Z5 X1 Y1\nT1 M6\nG0 Z5\nG0 X1 Y1\nX2", name="a.nc")
    assert changed.unplaced == (0, 1, 2)
    cycle = read_gcode(b"G0 Z5\nF9 G81 X1 Y1 Z-1 R1\nX2", name="a.nc")
    assert cycle.unplaced == (0, 1)


def test_too_much_to_be_judged_is_said_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("cutjob.proof.gcode.line_state.MOST_MOTIONS", 5000)
    for row in (b"G81 X1 Y1 Z-1 R1 L900 F9\n", b"G1 X1 F9\nX2\n" * 500):
        (problem,) = read_gcode(b"G0 Z5\n" + row * 30, name="a.nc").problems
        assert problem.message == "more than 5000 motions are not judged; split the file"
    (problem,) = read_gcode(b"F9\nG18 G2 X0 Z0 I450000 K0", name="a.nc").problems
    assert "too large" in problem.message


def test_semicolons_begin_comments() -> None:
    reading = read_gcode(b"G0 X1 ; to the start\n; nothing\nG0 X2", name="a.nc")
    assert not reading.problems
    assert [motion.end[0] for motion in reading.motions] == [1.0, 2.0]
    assert reading.comment_styles == {"semicolon"}
