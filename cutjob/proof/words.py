"""One line of G-code to its words: NISTIR 6556, section 3.3. Text in, letters and numbers with their columns out.

Blanks and tabs mean nothing outside comments, nor does letter case. Comments stand in round brackets, do not nest and
close on their line. A semicolon opens a comment up to the end of the line: that is not in the report, but common on
small controllers. Expressions, parameters and O words are refused: a file whose numbers are not written out can't be
judged by what is written.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

LETTERS = frozenset("ABCDFGHIJKLMNPQRSTXYZ")  # table 3
LONGEST_LINE = 256
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)", re.ASCII)
_MOST_DIGITS = 40  # a longer number is no coordinate, and costs time


class Word(NamedTuple):
    """A letter and its number; `column` counts from 1, `text` is the number as written, without blanks."""

    letter: str
    value: float
    column: int
    text: str


@dataclass(frozen=True, slots=True)
class LineWords:
    """The words of a line, whether it began with a block delete, and the comment styles on it."""

    words: tuple[Word, ...]
    deleted: bool
    comments: frozenset[str]


class WordError(ValueError):
    """A line that breaks the language, and the column where."""

    def __init__(self, column: int, message: str) -> None:
        """Take the column, from 1, and what is wrong there."""
        super().__init__(message)
        self.column = column


def split_line(line: str) -> LineWords:
    """Return the words of one line without its line end. Raises WordError."""
    if len(line) > LONGEST_LINE:
        raise WordError(
            LONGEST_LINE + 1, f"the line has {len(line)} characters; at most {LONGEST_LINE} may stand on one"
        )
    text, columns, comments = _without_comments(line)
    deleted = text.startswith("/")
    at = 1 if deleted else 0
    words: list[Word] = []
    while at < len(text):
        word, at = _word(text, columns, at)
        if word.letter == "N":
            _check_line_number(word, first=not words)
        words.append(word)
    return LineWords(tuple(words), deleted, comments)


def _without_comments(line: str) -> tuple[str, list[int], frozenset[str]]:
    """Return the line in capitals without blanks and comments, the column of each character, and comment styles."""
    kept: list[str] = []
    columns: list[int] = []
    styles: set[str] = set()
    opened = 0
    for column, char in enumerate(line, start=1):
        if not (" " <= char <= "~" or char == "\t"):
            raise WordError(column, f"character {char!r} is not plain ASCII")
        if opened:
            if char == "(":
                raise WordError(column, f"a comment within the comment begun in column {opened}; comments don't nest")
            if char == ")":
                opened = 0
        elif char == "(":
            opened = column
            styles.add("brackets")
        elif char == ")":
            raise WordError(column, "a bracket closes that was never opened")
        elif char == ";":
            styles.add("semicolon")
            if any(bracket in line[column:] for bracket in "()"):
                raise WordError(column, "brackets in a semicolon comment; controllers differ on what that means")
            break
        elif char not in " \t":
            kept.append(char.upper())
            columns.append(column)
    if opened:
        raise WordError(opened, "the comment is not closed on its line")
    return "".join(kept), columns, frozenset(styles)


def _word(text: str, columns: list[int], at: int) -> tuple[Word, int]:
    letter, column = text[at], columns[at]
    if letter in "#[=":
        raise WordError(column, f"{letter!r}: parameters and expressions are not read; write the number out")
    if letter == "O":
        raise WordError(column, "O words (subprograms) are not read; write the moves out")
    if letter == "/":
        raise WordError(column, "a block delete stands at the start of a line only")
    if letter == "%":
        raise WordError(column, "a percent sign stands alone on its line")
    if letter not in LETTERS:
        raise WordError(column, f"{letter!r} begins no word")
    found = _NUMBER.match(text, at + 1)
    if found is None:
        rest = text[at + 1 : at + 2]
        if rest in ("#", "["):
            raise WordError(column, f"{letter}{rest}: parameters and expressions are not read; write the number out")
        raise WordError(column, f"{letter} has no number after it")
    digits = found.group()
    if len(digits) > _MOST_DIGITS:
        raise WordError(column, f"the number after {letter} has {len(digits)} characters")
    follow = text[found.end() : found.end() + 1]
    if follow and follow not in LETTERS and follow not in "O#[=/%":
        raise WordError(columns[found.end()], f"{follow!r} doesn't belong into a number")
    return Word(letter, float(digits), column, digits), found.end()


def _check_line_number(word: Word, *, first: bool) -> None:
    if not first:
        raise WordError(word.column, "a line number stands at the start of its line, once")
    if not word.text.isdigit() or len(word.text) > 5:
        raise WordError(word.column, f"line number N{word.text} is not a whole number of at most five digits")
