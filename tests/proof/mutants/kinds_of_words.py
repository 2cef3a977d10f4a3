"""Mutants of single words and lines: coordinates, centres, signs, digits, lines dropped and swapped, modes."""

from __future__ import annotations

import re
from collections.abc import Callable

from tests.proof.mutants.cases import Case
from tests.proof.mutants.edits import changed, moves_of, without, words_of
from tests.proof.mutants.kinds import Setting, kind


def _replaced(setting: Setting, file: str, row: int, line: str) -> Case | None:
    lines = setting.case.files[file]
    if line == lines[row]:
        return None
    return setting.case.with_lines(file, [*lines[:row], line, *lines[row + 1 :]])


def _shifted(letter: str, mm: float) -> Callable[[Setting], Case | None]:
    def spoil(setting: Setting) -> Case | None:
        file = setting.file()
        rows = [one for one in setting.cuts(file) if letter in one.words]
        if not rows:
            return None
        one = setting.chance.choice(rows)
        by = setting.chance.choice((-1, 1)) * setting.mm(mm)
        line = setting.case.files[file][one.number]
        return _replaced(
            setting, file, one.number, changed(line, letter, setting.written(float(one.words[letter]) + by))
        )

    return spoil


for _letter in "XYIJ":
    kind(f"{_letter} off by 0.05 mm")(_shifted(_letter, 0.05))
for _letter in "XY":
    kind(f"{_letter} off by 1 mm")(_shifted(_letter, 1.0))
kind("Z off by 0.05 mm")(_shifted("Z", 0.05))
kind("Z off by 1 mm")(_shifted("Z", 1.0))


def _worded(setting: Setting) -> tuple[str, list[int]]:
    """A file, and its rows that are no comments."""
    file = setting.file()
    return file, [row for row, line in enumerate(setting.case.files[file]) if words_of(line)]


@kind("line dropped")
def line_dropped(setting: Setting) -> Case | None:
    file, rows = _worded(setting)
    row, lines = setting.chance.choice(rows), setting.case.files[file]
    return setting.case.with_lines(file, lines[:row] + lines[row + 1 :])


@kind("lines swapped")
def lines_swapped(setting: Setting) -> Case | None:
    file, rows = _worded(setting)
    at = setting.chance.randrange(len(rows) - 1)
    one, two = rows[at], rows[at + 1]
    lines = list(setting.case.files[file])
    lines[one], lines[two] = lines[two], lines[one]
    return setting.case.with_lines(file, lines)


@kind("line written twice, the second time elsewhere")
def line_copied(setting: Setting) -> Case | None:
    file, rows = _worded(setting)
    lines = setting.case.files[file]
    here, there = setting.chance.choice(rows), setting.chance.choice(rows)
    return setting.case.with_lines(file, [*lines[:there], lines[here], *lines[there:]])


@kind("a digit changed")
def digit_changed(setting: Setting) -> Case | None:
    file, rows = _worded(setting)
    row = setting.chance.choice(rows)
    line = setting.case.files[file][row]
    place = setting.chance.choice([at for at, sign in enumerate(line) if sign.isdigit()])
    digit = setting.chance.choice([one for one in "0123456789" if one != line[place]])
    return _replaced(setting, file, row, line[:place] + digit + line[place + 1 :])


@kind("a character lost")
def character_lost(setting: Setting) -> Case | None:
    file, rows = _worded(setting)
    row = setting.chance.choice(rows)
    line = setting.case.files[file][row]
    place = setting.chance.choice([at for at, sign in enumerate(line) if sign != " "])
    return _replaced(setting, file, row, line[:place] + line[place + 1 :])


@kind("a minus sign lost or gained")
def sign_changed(setting: Setting) -> Case | None:
    file = setting.file()
    rows = [one for one in setting.cuts(file) if any(letter in one.words for letter in "XYZIJ")]
    one = setting.chance.choice(rows)
    letter = setting.chance.choice([letter for letter in "XYZIJ" if letter in one.words])
    if float(one.words[letter]) == 0:
        return None
    line = setting.case.files[file][one.number]
    return _replaced(setting, file, one.number, changed(line, letter, setting.written(-float(one.words[letter]))))


def _arcs(setting: Setting, file: str) -> list[int]:
    return [one.number for one in setting.cuts(file) if one.motion > 1]


@kind("arc flipped")
def arc_flipped(setting: Setting) -> Case | None:
    file = setting.file()
    rows = [row for row in _arcs(setting, file) if re.search(r"G[23]\b", setting.case.files[file][row])]
    if not rows:
        return None
    row = setting.chance.choice(rows)
    line = setting.case.files[file][row]
    return _replaced(setting, file, row, re.sub(r"G([23])\b", lambda found: f"G{5 - int(found[1])}", line))


@kind("arc's centre on the other side")
def centre_mirrored(setting: Setting) -> Case | None:
    file = setting.file()
    rows = _arcs(setting, file)
    if not rows:
        return None
    row = setting.chance.choice(rows)
    line = setting.case.files[file][row]
    for letter, text in words_of(line):
        if letter in "IJ":
            line = changed(line, letter, setting.written(-float(text)))
    return _replaced(setting, file, row, line)


@kind("arc's centre lost")
def centre_lost(setting: Setting) -> Case | None:
    file = setting.file()
    rows = _arcs(setting, file)
    if not rows:
        return None
    row = setting.chance.choice(rows)
    return _replaced(setting, file, row, without(setting.case.files[file][row], setting.chance.choice("IJ")))


@kind("arc made a line")
def arc_straight(setting: Setting) -> Case | None:
    file = setting.file()
    rows = [row for row in _arcs(setting, file) if re.search(r"G[23]\b", setting.case.files[file][row])]
    if not rows:
        return None
    row = setting.chance.choice(rows)
    line = without(without(setting.case.files[file][row], "I"), "J")
    lines = list(setting.case.files[file])
    # What follows goes on as an arc only if it says so.
    words = dict(words_of(lines[row + 1]))
    if "I" in words or "J" in words:
        lines[row + 1] = ("" if "G" in words else re.findall(r"G[23]\b", lines[row])[0] + " ") + lines[row + 1]
    lines[row] = re.sub(r"G[23]\b", "G1", line)
    return setting.case.with_lines(file, lines)


def _mode(pattern: str, by: str) -> Callable[[Setting], Case | None]:
    def spoil(setting: Setting) -> Case | None:
        file = setting.file()
        lines = setting.case.files[file]
        rows = [row for row, line in enumerate(lines) if re.fullmatch(pattern, line)]
        if not rows:
            return None
        return _replaced(setting, file, rows[0], by or {"G20": "G21", "G21": "G20"}[lines[rows[0]]])

    return spoil


kind("units changed", matters="always")(_mode("G2[01]", ""))
kind("distances relative", matters="always")(_mode("G90", "G91"))
kind("feed as times a minute", matters="always")(_mode("G94", "G93"))


@kind("another plane", matters="always")
def other_plane(setting: Setting) -> Case | None:
    file = setting.file()
    return _mode("G17", "G18")(setting) if len(setting.case.files) == 1 and _arcs(setting, file) else None


@kind("a mode never said", matters="always")
def mode_lost(setting: Setting) -> Case | None:
    file = setting.file()
    lines = setting.case.files[file]
    row = setting.chance.choice([row for row, line in enumerate(lines) if line in ("G20", "G21", "G17", "G90", "G94")])
    return setting.case.with_lines(file, lines[:row] + lines[row + 1 :])


@kind("a word lost")
def word_lost(setting: Setting) -> Case | None:
    file, rows = _worded(setting)
    row = setting.chance.choice(rows)
    line = setting.case.files[file][row]
    words = words_of(line)
    if len(words) < 2:
        return None
    gone = setting.chance.randrange(len(words))
    return _replaced(setting, file, row, " ".join(f"{a}{b}" for number, (a, b) in enumerate(words) if number != gone))


@kind("file cut short")
def cut_short(setting: Setting) -> Case | None:
    file, rows = _worded(setting)
    row = setting.chance.choice(rows)
    return setting.case.with_lines(file, setting.case.files[file][:row])


@kind("lines of a stretch in reverse")
def reversed_stretch(setting: Setting) -> Case | None:
    file = setting.file()
    moves = setting.cuts(file)
    at = setting.chance.randrange(max(1, len(moves) - 5))
    rows = [one.number for one in moves[at : at + setting.chance.randint(3, 5)]]
    if len(rows) < 2 or rows[-1] - rows[0] != len(rows) - 1:
        return None
    lines = list(setting.case.files[file])
    lines[rows[0] : rows[-1] + 1] = reversed(lines[rows[0] : rows[-1] + 1])
    return setting.case.with_lines(file, lines)


@kind("everything off by 0.05 mm", matters="always")
def all_shifted(setting: Setting) -> Case | None:
    file = setting.file()
    letter, by = setting.chance.choice("XY"), setting.chance.choice((-1, 1)) * setting.mm(0.05)
    lines = list(setting.case.files[file])
    for one in moves_of(lines):
        if letter in one.words:
            lines[one.number] = changed(lines[one.number], letter, setting.written(float(one.words[letter]) + by))
    return setting.case.with_lines(file, lines)


@kind("mirrored", matters="always")
def mirrored(setting: Setting) -> Case | None:
    """Right and left of the board's middle changed over, arcs too: a well-made program of another board."""
    file = setting.file()
    lines = list(setting.case.files[file])
    moves = moves_of(lines)
    xs = [float(one.words["X"]) for one in moves if "X" in one.words]
    middle = min(xs) + max(xs)
    swap = {"G2": "G3", "G3": "G2"}
    for one in moves:
        words = []
        for letter, text in words_of(lines[one.number]):
            value = text
            if letter == "X":
                value = setting.written(middle - float(text))
            elif letter == "I":
                value = setting.written(-float(text))
            word = f"{letter}{value}"
            words.append(swap.get(word, word))
        lines[one.number] = " ".join(words)
    return setting.case.with_lines(file, lines)
