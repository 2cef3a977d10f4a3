"""The reader of G-code: number forms, its short cut against the long way, and files of rubbish."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.proof.rs274 import read_gcode
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


def test_semicolons_begin_comments() -> None:
    reading = read_gcode(b"G0 X1 ; to the start\n; nothing\nG0 X2", name="a.nc")
    assert not reading.problems
    assert [motion.end[0] for motion in reading.motions] == [1.0, 2.0]
    assert reading.comment_styles == {"semicolon"}
