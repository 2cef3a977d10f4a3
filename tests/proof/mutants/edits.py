"""Lines of a program with what is known at each: the words, the motion in force, where it begins and ends.

In the file's own unit and zero. Only to find lines worth spoiling; what a spoiled file does is said by the oracle.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

WORD = re.compile(r"([A-Z])([+-]?\d*\.?\d+|[+-]?\d+\.)")
Words = list[tuple[str, str]]


@dataclass(frozen=True)
class Line:
    """One line that moves: its number from 0, its words, the motion (0 rapid, 1 line, 2 and 3 arcs), both ends, the
    feed in force, and the section it is in, from 0 (-1 before the first).
    """

    number: int
    words: dict[str, str]
    motion: int
    start: tuple[float, float, float]
    end: tuple[float, float, float]
    feed: float
    section: int

    @property
    def along(self) -> bool:
        """Whether it goes sideways."""
        return self.motion > 1 or self.start[:2] != self.end[:2]


@dataclass(frozen=True)
class Section:
    """What a comment opens, such as `outside cut: part 3, piece 3, porch spinner`: its lines from `first` to `last`."""

    name: str
    part: str
    first: int
    last: int


def words_of(line: str) -> Words:
    """The words of a line; none of a comment."""
    return [] if line.startswith(("(", "%", ";")) else WORD.findall(line)


def changed(line: str, letter: str, value: str) -> str:
    """A line with another number after a letter."""
    return " ".join(f"{name}{value if name == letter else text}" for name, text in words_of(line))


def without(line: str, letter: str) -> str:
    """A line without a word."""
    return " ".join(f"{name}{text}" for name, text in words_of(line) if name != letter)


def number(value: float, decimals: int) -> str:
    """A number as files have it."""
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def sections_of(lines: list[str]) -> list[Section]:
    """The sections that comments open; each ends before the next one, or where the spindle or beam is switched.

    A router's section may switch the spindle on, where it runs already, so that a run can be taken up again there.
    """
    found = []
    for first, line in enumerate(lines):
        match = re.match(r"\(([a-z ]+): (part \d+|hole|pin)", line)
        if match is None:
            continue
        last = first + 1
        while last < len(lines) and not re.match(r"\(|M5|M(?![34]$)[0-9]+$|T\d", lines[last]):
            last += 1
        # A laser's section begins with M5.
        if lines[first + 1].startswith("M5"):
            last = first + 2
            while last < len(lines) and not re.match(r"\(|M5|M[0-9]+$", lines[last]):
                last += 1
        found.append(Section(match[1], match[2], first, last))
    return found


def moves_of(lines: list[str]) -> list[Line]:
    """The lines that move."""
    owner = {}
    for index, section in enumerate(sections_of(lines)):
        owner |= dict.fromkeys(range(section.first, section.last), index)
    found: list[Line] = []
    at, motion, feed = [0.0, 0.0, 1e9], 0, 0.0
    for row, line in enumerate(lines):
        words = words_of(line)
        for letter, text in words:
            if letter == "G" and text in ("0", "1", "2", "3"):
                motion = int(text)
            elif letter == "F":
                feed = float(text)
        given = dict(words)
        if not any(letter in given for letter in "XYZ"):
            continue
        start = (at[0], at[1], at[2])
        for axis, letter in enumerate("XYZ"):
            if letter in given:
                at[axis] = float(given[letter])
        found.append(Line(row, given, motion, start, (at[0], at[1], at[2]), feed, owner.get(row, -1)))
    return found
