"""Ways to write a proven program anew that cut the very same: none may be refused.

Each takes the lines of a file and says them otherwise, or gives None where it finds no place.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

from tests.proof.mutants.cases import Case
from tests.proof.mutants.edits import Line, Section, moves_of, number, sections_of, words_of

Lines: TypeAlias = list[str]


@dataclass(frozen=True)
class Program:
    """A file to be written anew: its lines, of which case, and the stock's top and decimals in its unit."""

    case: Case
    file: str
    lines: Lines
    top: float
    decimals: int
    unit: float

    @property
    def laser(self) -> bool:
        """Whether a beam cuts."""
        return self.case.machine.kind == "laser"

    def text(self, value: float) -> str:
        """A number as files have it."""
        return number(value, self.decimals)

    def moves(self) -> dict[int, Line]:
        """The lines that move, by number."""
        return {one.number: one for one in moves_of(self.lines)}


Rewriting: TypeAlias = Callable[[Program], "Lines | None"]
REWRITINGS: dict[str, Rewriting] = {}


def rewriting(name: str) -> Callable[[Rewriting], Rewriting]:
    """Enter a function into the table."""

    def enter(write: Rewriting) -> Rewriting:
        assert name not in REWRITINGS
        REWRITINGS[name] = write
        return write

    return enter


def programs_of(case: Case) -> Iterator[Program]:
    """All files of a case."""
    unit = 25.4 if case.machine.controller.units == "in" else 1.0
    for program in case.programs:
        yield Program(
            case=case,
            file=program.file,
            lines=case.files[program.file],
            top=program.stock_top_z / unit,
            decimals=case.machine.controller.decimals,
            unit=unit,
        )


def _is_comment(line: str) -> bool:
    return line.startswith(("(", "%", ";"))


def _words(change: Callable[[str, str], str], between: str = " ") -> Rewriting:
    """Every word of every line written another way."""

    def write(program: Program) -> Lines:
        return [
            line if _is_comment(line) else between.join(change(letter, text) for letter, text in words_of(line))
            for line in program.lines
        ]

    return write


rewriting("in lower case")(_words(lambda letter, text: f"{letter.lower()}{text}"))
rewriting("without blanks")(_words(lambda letter, text: f"{letter}{text}", ""))
rewriting("with tabs, and blanks within words")(_words(lambda letter, text: f"{letter} {text}", "\t"))
rewriting("feeds with three decimals")(
    _words(lambda letter, text: f"{letter}{float(text):.3f}" if letter == "F" else f"{letter}{text}")
)
rewriting("numbers with signs")(
    _words(lambda letter, text: f"{letter}+{text}" if letter in "XYZIJF" and text[0] not in "+-" else f"{letter}{text}")
)
rewriting("codes with two digits")(
    _words(lambda letter, text: f"{letter}{int(text):02d}" if letter in "GM" and text.isdigit() else f"{letter}{text}")
)


@rewriting("lines end as another system ends them")
def crlf(program: Program) -> Lines:
    return [f"{line}\r" for line in program.lines]


@rewriting("lines numbered")
def numbered(program: Program) -> Lines:
    return [line if _is_comment(line) else f"N{10 * row} {line}" for row, line in enumerate(program.lines, start=1)]


@rewriting("blank lines between all others")
def blank_lines(program: Program) -> Lines:
    return [one for line in program.lines for one in (line, "")]


@rewriting("the words of a line the other way round")
def turned_words(program: Program) -> Lines:
    return [
        line if _is_comment(line) else " ".join(f"{letter}{text}" for letter, text in reversed(words_of(line)))
        for line in program.lines
    ]


@rewriting("each motion says its code")
def stated_codes(program: Program) -> Lines:
    moves = program.moves()
    return [
        f"G{moves[row].motion} {line}" if row in moves and "G" not in moves[row].words else line
        for row, line in enumerate(program.lines)
    ]


@rewriting("each motion says all three places")
def stated_places(program: Program) -> Lines:
    lines, known = list(program.lines), set()
    for row, one in program.moves().items():
        known |= set(one.words) & set("XYZ")
        more = [
            f"{letter}{program.text(value)}"
            for letter, value in zip("XYZ", one.end, strict=True)
            if letter not in one.words and letter in known
        ]
        lines[row] = " ".join([lines[row], *more])
    return lines


@rewriting("each cut says its feed")
def stated_feeds(program: Program) -> Lines:
    return [
        f"{line} F{program.text(one.feed)}"
        if (one := moves.get(row)) is not None and one.motion > 0 and "F" not in one.words and one.feed > 0
        else line
        for moves in [program.moves()]
        for row, line in enumerate(program.lines)
    ]


@rewriting("the codes of the start on one line")
def one_start(program: Program) -> Lines | None:
    rows = [row for row, line in enumerate(program.lines) if re.fullmatch(r"G(17|20|21|40|49|80|90|94)", line)]
    if len(rows) < 3 or rows != list(range(rows[0], rows[-1] + 1)):
        return None
    start = " ".join(program.lines[row] for row in rows)
    return [*program.lines[: rows[0]], start, *program.lines[rows[-1] + 1 :]]


def _bows(program: Program) -> list[Line]:
    """The arcs with their I and J."""
    return [one for one in program.moves().values() if one.motion > 1 and {"I", "J"} & set(one.words)]


def _centre(one: Line) -> tuple[float, float]:
    return one.start[0] + float(one.words.get("I", 0)), one.start[1] + float(one.words.get("J", 0))


def _turn(one: Line) -> float:
    """The angle an arc turns through, counter-clockwise positive."""
    cx, cy = _centre(one)
    begin, end = (math.atan2(y - cy, x - cx) for x, y, _ in (one.start, one.end))
    turn = (end - begin) % (2 * math.pi)
    if turn < 1e-6:
        turn = 2 * math.pi
    return turn if one.motion == 3 else turn - 2 * math.pi if turn < 2 * math.pi - 1e-6 else -2 * math.pi


@rewriting("arcs by their radius")
def by_radius(program: Program) -> Lines | None:
    lines, changed = list(program.lines), False
    for one in _bows(program):
        # Near half a turn a radius leaves the centre to rounding.
        if not 0.2 < abs(_turn(one)) < 2.6:
            continue
        (cx, cy), (x, y, _) = _centre(one), one.start
        radius = program.text(math.hypot(x - cx, y - cy))
        kept = [f"{letter}{text}" for letter, text in words_of(lines[one.number]) if letter not in "IJ"]
        for axis, letter in enumerate("XY"):
            if letter not in one.words:
                kept.append(f"{letter}{program.text(one.end[axis])}")
        lines[one.number] = " ".join([*kept, f"R{radius}"])
        changed = True
    return lines if changed else None


def _halves(program: Program, one: Line) -> tuple[float, float, float]:
    """The middle of a motion."""
    if one.motion < 2:
        a, b, c = ((p + q) / 2 for p, q in zip(one.start, one.end, strict=True))
        return a, b, c
    (cx, cy), half = _centre(one), _turn(one) / 2
    x, y = one.start[0] - cx, one.start[1] - cy
    cos, sin = math.cos(half), math.sin(half)
    return cx + x * cos - y * sin, cy + x * sin + y * cos, (one.start[2] + one.end[2]) / 2


def _split(motions: tuple[int, ...]) -> Rewriting:
    """Motions of a kind in two halves each."""

    def write(program: Program) -> Lines | None:
        lines: Lines = []
        moves, changed = program.moves(), False
        for row, line in enumerate(program.lines):
            one = moves.get(row)
            if one is None or one.motion not in motions or one.start[2] > 1e8 or not one.along or "M" in one.words:
                lines.append(line)
                continue
            x, y, z = (program.text(value) for value in _halves(program, one))
            feed = "".join(f" {letter}{one.words[letter]}" for letter in "FS" if letter in one.words)
            if one.motion < 2:
                lines += [f"G{one.motion} X{x} Y{y} Z{z}{feed}", _end(program, one)]
            else:
                cx, cy = _centre(one)
                first = f"I{program.text(cx - one.start[0])} J{program.text(cy - one.start[1])}"
                rest = f"I{program.text(cx - float(x))} J{program.text(cy - float(y))}"
                lines += [f"G{one.motion} X{x} Y{y} Z{z} {first}{feed}", f"{_end(program, one)} {rest}"]
            changed = True
        return lines if changed else None

    return write


def _end(program: Program, one: Line) -> str:
    x, y, z = (program.text(value) for value in one.end)
    return f"G{one.motion} X{x} Y{y} Z{z}"


rewriting("straight cuts in two halves each")(_split((1,)))
rewriting("arcs in two halves each")(_split((2, 3)))


@rewriting("arcs as chords within a thousandth of a mm")
def chords(program: Program) -> Lines | None:
    lines: Lines = []
    moves, changed = program.moves(), False
    for row, line in enumerate(stated_codes(program)):
        one = moves.get(row)
        if one is None or one.motion < 2:
            lines.append(line)
            continue
        (cx, cy), turn = _centre(one), _turn(one)
        x, y = one.start[0] - cx, one.start[1] - cy
        radius = math.hypot(x, y)
        step = 2 * math.acos(max(0.0, 1 - 0.001 / program.unit / radius))
        count = max(2, math.ceil(abs(turn) / step))
        if abs(turn) * radius * program.unit / count < 0.02:
            return None  # chords under a hundredth are refused, as they should be
        places = []
        for part in range(1, count):
            cos, sin = math.cos(turn * part / count), math.sin(turn * part / count)
            z = one.start[2] + (one.end[2] - one.start[2]) * part / count
            places.append((cx + x * cos - y * sin, cy + x * sin + y * cos, z))
        for place in (*places, one.end):
            words = " ".join(
                f"{letter}{program.text(value)}" for letter, value in zip("XYZ", place, strict=True) if value < 1e8
            )
            beam = f" S{one.words['S']}" if "S" in one.words else ""
            lines.append(f"G1 {words} F{program.text(one.feed)}{beam}")
        changed = True
    return lines if changed else None


@rewriting("places counted from where the cutter is")
def incremental(program: Program) -> Lines | None:
    """True incremental within each section, from where all places are known: after its first three motions."""
    lines, changed = list(program.lines), False
    moves = program.moves()
    for section in reversed(sections_of(program.lines)):
        rows = [row for row in range(section.first, section.last) if row in moves]
        if len(rows) < 5 or any(re.search(r"G(53|28|30|9[01])", line) for line in lines[rows[0] : rows[-1]]):
            continue
        for row in rows[3:]:
            words = []
            for letter, text in words_of(lines[row]):
                axis = "XYZ".find(letter)
                by = text if axis < 0 else program.text(moves[row].end[axis] - moves[row].start[axis])
                words.append(f"{letter}{by}")
            lines[row] = " ".join(words)
        lines[rows[-1] + 1 : rows[-1] + 1] = ["G90"]
        lines[rows[3] : rows[3]] = ["G91"]
        changed = True
    return lines if changed else None


def _in_air(program: Program) -> list[Line]:
    """Rapids across at the height of air moves."""
    safe = program.top + program.case.machine.motion.safe_height / program.unit - 1e-9
    return [
        one
        for one in program.moves().values()
        if one.motion == 0 and one.along and safe <= one.start[2] <= one.end[2] < 1e8
    ]


@rewriting("a detour in the air")
def detour(program: Program) -> Lines | None:
    """On the way somewhere, back to where it came from and on again."""
    air = _in_air(program)
    if len(air) < 2:
        return None
    one = air[len(air) // 2]
    back = f"G0 X{program.text(one.start[0])} Y{program.text(one.start[1])}"
    again = f"G0 X{program.text(one.end[0])} Y{program.text(one.end[1])}"
    return [*program.lines[: one.number + 1], back, again, *program.lines[one.number + 1 :]]


@rewriting("rapids across in two steps")
def rapid_steps(program: Program) -> Lines | None:
    lines = list(program.lines)
    air = _in_air(program)
    for one in reversed(air):
        x, y, _ = (program.text(value) for value in _halves(program, one))
        lines[one.number : one.number + 1] = [f"G0 X{x} Y{y}", _end(program, one)]
    return lines if air else None


@rewriting("rapids in the air as slow as a cut")
def slow_air(program: Program) -> Lines | None:
    """Across at safe height with the feed there was last; each motion after it says its own code."""
    last = max((row for row, line in enumerate(program.lines) if re.search(r"T\d|M6|M0", line)), default=0)
    # The first section after the last change may still have the feed of the cutter before it.
    first = min((one.section for one in program.moves().values() if one.number > last and one.section >= 0), default=0)
    air = [one for one in _in_air(program) if one.feed > 0 and one.section > first]
    if not air or program.laser:
        return None
    lines = stated_codes(program)
    for one in air:
        lines[one.number] = lines[one.number].replace("G0", "G1")
    return lines


@rewriting("down to the board in two steps")
def two_steps_down(program: Program) -> Lines | None:
    lines, downs = list(program.lines), []
    for one in program.moves().values():
        if one.motion == 0 and not one.along and one.end[2] < one.start[2] < 1e8 and one.end[2] > program.top:
            downs.append(one)
    for one in reversed(downs):
        middle = program.text((one.start[2] + one.end[2]) / 2)
        lines[one.number : one.number + 1] = [f"G0 Z{middle}", f"G0 Z{program.text(one.end[2])}"]
    return lines if downs else None


@rewriting("a tenth slower")
def slower(program: Program) -> Lines | None:
    if program.laser:
        return None  # a beam as slow burns more
    return [
        line if _is_comment(line) else re.sub(r"F([0-9.]+)", lambda m: f"F{program.text(0.9 * float(m[1]))}", line)
        for line in program.lines
    ]


@rewriting("a bore begun elsewhere on its circle")
def bore_turned(program: Program) -> Lines | None:
    """All of a bore's motions turned about its middle."""
    lines, sections = list(program.lines), sections_of(program.lines)
    moves = program.moves()
    for section in sections:
        own = [moves[row] for row in range(section.first, section.last) if row in moves]
        arcs = [one for one in own if one.motion > 1]
        if section.name != "bore" or not arcs:
            continue
        middles = {tuple(round(value, program.decimals - 1) for value in _centre(one)) for one in arcs}
        if len(middles) != 1:
            continue
        _turn_about(program, lines, own, _centre(arcs[0]), 2.0)
        return lines
    return None


def _turn_about(program: Program, lines: Lines, own: list[Line], middle: tuple[float, float], angle: float) -> None:
    cos, sin = math.cos(angle), math.sin(angle)
    for one in own:
        if not {"X", "Y", "I", "J"} & set(one.words):
            continue
        x, y = one.end[0] - middle[0], one.end[1] - middle[1]
        words = [f"{letter}{text}" for letter, text in words_of(lines[one.number]) if letter not in "XYIJ"]
        if one.along or {"X", "Y"} & set(one.words):
            words.append(f"X{program.text(middle[0] + x * cos - y * sin)}")
            words.append(f"Y{program.text(middle[1] + x * sin + y * cos)}")
        if one.motion > 1:
            sx, sy = one.start[0] - middle[0], one.start[1] - middle[1]
            begin = (round(sx * cos - sy * sin, program.decimals), round(sx * sin + sy * cos, program.decimals))
            words += [f"I{program.text(-begin[0])}", f"J{program.text(-begin[1])}"]
        lines[one.number] = " ".join(words)


def _swappable(program: Program) -> list[tuple[Section, Section]]:
    """Neighbouring holes, of the same part or of two: none of them frees anything."""
    sections = sections_of(program.lines)
    rows = program.lines
    return [
        (one, two)
        for one, two in pairwise(sections)
        if one.name == two.name and one.name in ("bore", "drill") and one.last == two.first
        and rows[one.first + 1].startswith(("M3", "M4"))
    ]  # fmt: skip


@rewriting("two holes in the other order")
def swapped(program: Program) -> Lines | None:
    """Each section states all it needs, so it can be run before or after another."""
    pairs = _swappable(program)
    if not pairs:
        return None
    one, two = pairs[len(pairs) // 2]
    lines = program.lines
    return [*lines[: one.first], *lines[two.first : two.last], *lines[one.first : one.last], *lines[two.last :]]
