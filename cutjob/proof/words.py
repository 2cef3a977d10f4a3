"""One line of G-code to its words: NISTIR 6556, section 3.3. Text in, letters and numbers with their columns out.

Blanks and tabs mean nothing outside comments, nor does letter case. Comments stand in round brackets, do not nest and
close on their line. A semicolon opens a comment up to the end of the line: that is not in the report, but common on
small controllers. Numbers may be parameters and expressions, as long as the file itself says their values. O words
are refused: they are not in the report, and what they call need not be in the file.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from cutjob.proof.expressions import BEGINS_VALUE, PLAIN_NUMBER, ExpressionError, read_setting, read_value

LETTERS = frozenset("ABCDFGHIJKLMNPQRSTXYZ")  # table 3
LONGEST_LINE = 256
_MOST_DIGITS = 40  # a longer number is no coordinate, and costs time
_NO_COMMENT = re.compile(r"[ -'*-:<-~\t]*")
_BEYOND_ASCII = "\x80"
_NOTHING_SET: Mapping[int, float] = {}


class Word(NamedTuple):
    """A letter and its number; `column` counts from 1, `text` is the number as written, without blanks."""

    letter: str
    value: float
    column: int
    text: str


@dataclass(frozen=True, slots=True)
class LineWords:
    """The words of a line, the parameters it sets, by number, whether it began with a block delete, the comment styles
    on it, whether it has values that are not plain numbers, and what is odd about its comments.
    """

    words: tuple[Word, ...]
    settings: tuple[tuple[int, float], ...]
    deleted: bool
    comments: frozenset[str]
    worked_out: bool
    remarks: tuple[tuple[int, str], ...]


class WordError(ValueError):
    """A line that breaks the language, and the column where."""

    def __init__(self, column: int, message: str) -> None:
        """Take the column, from 1, and what is wrong there."""
        super().__init__(message)
        self.column = column


def split_line(line: str, parameters: Mapping[int, float] = _NOTHING_SET) -> LineWords:
    """Return the words of one line without its line end; `parameters` are those set so far. Raises WordError.

    What the line sets counts from the next line on (section 3.3.2.1).
    """
    if len(line) > LONGEST_LINE:
        raise WordError(
            LONGEST_LINE + 1, f"the line has {len(line)} characters; at most {LONGEST_LINE} may stand on one"
        )
    text, columns, comments, remarks = _without_comments(line)
    deleted = text.startswith("/")
    at = 1 if deleted else 0
    words: list[Word] = []
    settings: list[tuple[int, float]] = []
    worked_out = False
    try:
        while at < len(text):
            if text[at] == "#":
                number, value, at = read_setting(text, at, parameters)
                settings.append((number, value))
                worked_out = True
                continue
            word, at = _word(text, columns, at, parameters)
            if word.letter == "N":
                _check_line_number(word, first=not words and not settings)
            worked_out = worked_out or PLAIN_NUMBER.fullmatch(word.text) is None
            words.append(word)
    except ExpressionError as error:
        raise WordError(columns[min(error.at, len(columns) - 1)], str(error)) from None
    return LineWords(tuple(words), tuple(settings), deleted, comments, worked_out, tuple(remarks))


def _without_comments(line: str) -> tuple[str, list[int], frozenset[str], list[tuple[int, str]]]:
    """Return the line in capitals without blanks and comments, the column of each character, comment styles, and what
    is odd about the comments though it moves nothing.
    """
    if _NO_COMMENT.fullmatch(line):
        places = [column for column, char in enumerate(line, start=1) if char not in " \t"]
        return line.replace(" ", "").replace("\t", "").upper(), places, frozenset(), []
    kept: list[str] = []
    columns: list[int] = []
    styles: set[str] = set()
    remarks: list[tuple[int, str]] = []
    opened = 0
    for column, char in enumerate(line, start=1):
        if not (" " <= char <= "~" or char == "\t"):
            if not opened or char < _BEYOND_ASCII:
                raise WordError(column, _odd_character(line, column))
            if not remarks:
                remarks.append((column, "a comment holds more than plain ASCII, which some controllers stop at"))
        elif opened:
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
            remarks += _odd_ending(line, column)
            break
        elif char not in " \t":
            kept.append(char.upper())
            columns.append(column)
    if opened:
        raise WordError(opened, "the comment is not closed on its line")
    return "".join(kept), columns, frozenset(styles), remarks


def _odd_ending(line: str, column: int) -> list[tuple[int, str]]:
    """What is odd about a semicolon comment; a character that can't be printed may end the line for a controller."""
    remarks = []
    for at, char in enumerate(line[column:], start=column + 1):
        if char < " " and char != "\t":
            raise WordError(at, _odd_character(line, at))
    rest = line[column:]
    if any(bracket in rest for bracket in "()"):
        remarks.append((column, "brackets in a semicolon comment; controllers differ on what that means"))
    if not rest.isascii():
        remarks.append((column, "a comment holds more than plain ASCII, which some controllers stop at"))
    return remarks


def _odd_character(line: str, column: int) -> str:
    char = line[column - 1]
    if char == "\r":
        return "a carriage return within a line; end lines with a line feed, or with both"
    if column == 1 and line.startswith("\xef\xbb\xbf"):
        return "the file begins with a byte order mark; save it as plain ASCII, since controllers stop at the mark"
    return f"character {char!r} is not plain ASCII"


def _word(text: str, columns: list[int], at: int, parameters: Mapping[int, float]) -> tuple[Word, int]:
    letter, column = text[at], columns[at]
    if letter in "[=":
        raise WordError(column, f"{letter!r} begins no word")
    if letter == "O":
        raise WordError(column, "O words (subprograms) are not read; write the moves out")
    if letter == "/":
        raise WordError(column, "a block delete stands at the start of a line only")
    if letter == "%":
        raise WordError(column, "a percent sign stands alone on its line")
    if letter not in LETTERS:
        raise WordError(column, f"{letter!r} begins no word")
    found = PLAIN_NUMBER.match(text, at + 1)
    if found is None:
        if letter == "N" or BEGINS_VALUE.match(text, at + 1) is None:
            raise WordError(column, f"{letter} has no number after it")
        value, end = read_value(text, at + 1, parameters)
        return Word(letter, value, column, text[at + 1 : end]), end
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
