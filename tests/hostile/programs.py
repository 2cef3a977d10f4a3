"""Spoiled programs and plans, for `cutjob check`: never proven, always answered."""

from __future__ import annotations

import gzip
from collections.abc import Iterator

from tests.hostile.bases import CIRCLE, JOB, PROGRAM, dxf, dxf_circle, profile, svg
from tests.hostile.case import Case, swapped

_CHECK = ("check", "board.nc", "--machine", "bench-router")
_PLANNED = (*_CHECK, "--plan", "plan.json")

# Name; what is replaced; by what.
_SWAPPED: tuple[tuple[str, str, str], ...] = (
    ("a number of nan", "X60", "Xnan"),
    ("a number of inf", "X60", "Xinf"),
    ("a number with an exponent", "X60", "X6e1"),
    ("a number of 1e308", "X60", f"X{'9' * 308}"),
    ("a number of 5000 digits", "X60", f"X{'9' * 5000}"),
    ("a number of two points", "X60", "X6.0.0"),
    ("a number of two signs", "X60", "X--60"),
    ("a word without a number", "X60", "X"),
    ("a number without a word", "X60", "60"),
    ("a word twice", "G1 X60", "G1 X60 X61"),
    ("two motions", "G1 X60", "G1 G0 X60"),
    ("a code there is not", "G1 X60", "G99999 X60"),
    ("a code below nothing", "G1 X60", "G-1 X60"),
    ("a letter of its own", "X60", "@60"),
    ("digits of another script", "X60", "X٦٠"),
    ("a bracket not closed", "G1 X60", "(to the right\nG1 X60"),
    ("brackets in brackets", "G1 X60", "(a (b) c) G1 X60"),
    ("a bracket closed only", "G1 X60", ") G1 X60"),
    ("an expression by zero", "X60", "X[1/0]"),
    ("an expression too deep", "X60", f"X{'[' * 3000}1{']' * 3000}"),
    ("an expression not closed", "X60", "X[1+"),
    ("a power of powers", "X60", "X[9**9**9**9]"),
    ("a root below nothing", "X60", "XSQRT[-1]"),
    ("a parameter there is not", "X60", "X#99999999"),
    ("a parameter of itself", "X60", "X#[#[#1]]"),
    ("an arc of no radius", "G2 X60 Y40 I0 J10", "G2 X60 Y40 R0"),
    ("an arc that does not close", "G2 X60 Y40 I0 J10", "G2 X60 Y40 I7 J3"),
    ("an arc of nothing", "G2 X60 Y40 I0 J10", "G2"),
    ("an arc of 1e300", "G2 X60 Y40 I0 J10", f"G2 X60 Y40 I{'9' * 300} J0"),
    ("canned holes without end", "G1 X20", "G81 X20 Z-3 R2 L999999999 F100"),
    ("a dwell of years", "G4 P3", "G4 P1e9"),
    ("a dwell below nothing", "G4 P3", "G4 P-3"),
    ("a feed of nothing", "F900", "F0"),
    ("a feed below nothing", "F900", "F-900"),
    ("a cutter there is not", "T1 M6", "T77 M6"),
    ("half a cutter", "T1 M6", "T1.5 M6"),
    ("a loop", "M5\n", "M98 P1\nM99\n"),
    ("never ending", "M2\n", ""),
    ("far outside", "X60 F900", "X60000 F900"),
    ("deep below", "Z-3", "Z-300"),
    ("a line of 100,000 letters", "G1 X60", f"G1 X60 ({'a' * 100_000})"),
    ("control characters", "G1 X60", "G1\x07 X60"),
    ("NUL", "G1 X60", "G1\0X60"),
    ("letters that turn round", "G1 X60", "(\u202eback) G1 X6\u202e0"),
    ("escape codes in a comment", "G21", "(\x1b[2J) G21"),
)
# Name; the plan. Data as text, since most of them are no plan.
_PLANS: tuple[tuple[str, bytes], ...] = (
    ("empty", b""),
    ("noughts", b"\0" * 99),
    ("a list", b"[]"),
    ("a number", b"1e999"),
    ("nan", b"NaN"),
    ("too deep", b"[" * 100_000),
    ("of another version", b'{"schema": "cutjob-plan/999"}'),
    ("of nothing", b'{"schema": "cutjob-plan/1"}'),
    ("of no boards", b'{"schema": "cutjob-plan/1", "units": "mm", "boards": []}'),
    ("boards of numbers", b'{"schema": "cutjob-plan/1", "units": "mm", "boards": [1, null, "a"]}'),
    ("boards of nothing", b'{"schema": "cutjob-plan/1", "units": "mm", "boards": [{}]}'),
    ("a board in place of boards", b'{"schema": "cutjob-plan/1", "units": "mm", "boards": {"id": "board-01"}}'),
    ("programs of nothing", b'{"schema": "cutjob-plan/1", "boards": [{"programs": [{"file": "board.nc"}]}]}'),
    ("another schema", b'{"schema": 7}'),
    ("UTF-16", '{"schema": "cutjob-plan/1"}'.encode("utf-16")),
    ("cut short", b'{"schema": "cutjob-plan/1", "boards": [{"id'),
    ("a job", JOB.encode()),
)


def cases() -> Iterator[Case]:
    """Yield the cases."""
    for name, old, new in _SWAPPED:
        yield _program(name, swapped(PROGRAM, (old, new)).encode())
    for name, data in (
        ("empty", b""),
        ("line ends", b"\n" * 500),
        ("percent signs", b"%\n%\n"),
        ("noughts", b"\0" * 5000),
        ("every byte", bytes(range(256)) * 4),
        ("a picture", b"\x89PNG\r\n\x1a\n\0\0"),
        ("packed", gzip.compress(PROGRAM.encode())),
        ("a drawing", dxf(dxf_circle())),
        ("a picture in words", svg(CIRCLE)),
        ("a job", JOB.encode()),
        ("a profile", profile().encode()),
        ("prose", b"Dear sir,\nplease find enclosed the program.\n"),
        ("UTF-16", PROGRAM.encode("utf-16")),
        ("UTF-16 without a mark", PROGRAM.encode("utf-16-le")),
        ("cut in the middle", PROGRAM.encode()[:85]),
        ("cut in a word", PROGRAM.encode()[:81]),
        ("brackets", b"(" * 50_000),
        ("one word without end", b"G" * 50_000),
    ):
        yield _program(f"file: {name}", data, args=_CHECK)
    for name, data in _PLANS:
        files = {"board.nc": PROGRAM.encode(), "plan.json": data}
        yield Case(name=f"plan: {name}", files=files, args=_PLANNED, at="plan.json", lines=None)
    for name, args in (
        ("no such file", ("check", "nothing.nc", "--machine", "bench-router")),
        ("a folder", ("check", ".", "--machine", "bench-router")),
        ("a device without end", ("check", "/dev/zero", "--machine", "bench-router")),
        ("a device", ("check", "/dev/null", "--machine", "bench-router")),
        ("no such machine", ("check", "board.nc", "--machine", "bench-ruter")),
        ("a machine that reads none", ("check", "board.nc", "--machine", "bandsaw")),
        ("a program as machine", ("check", "board.nc", "--machine", "./board.nc")),
        ("a device as machine", ("check", "board.nc", "--machine", "/dev/zero")),
        ("a device as plan", (*_CHECK, "--plan", "/dev/zero")),
        ("no such plan", (*_CHECK, "--plan", "nothing.json")),
        ("a thickness of nan", (*_CHECK, "--thickness", "nan")),
        ("a thickness of 1e308", (*_CHECK, "--thickness", "1e308")),
        ("a thickness of nothing", (*_CHECK, "--thickness", "0")),
    ):
        yield Case(name=f"check: {name}", files={"board.nc": PROGRAM.encode()}, args=args, lines=None)


def _program(name: str, data: bytes, *, args: tuple[str, ...] = _CHECK) -> Case:
    return Case(name=f"program: {name}", files={"board.nc": data}, args=args, lines=None, codes=(1, 2))
