"""One line of G-code to its words: NISTIR 6556, section 3.3. Text in, letters and numbers with their columns out.

Blanks, tabs and letter case mean nothing outside comments. Comments are in round brackets, do not nest and close on
their line. A semicolon opens a comment up to the end of the line: this is not in the report, but common on small
controllers. Numbers may be parameters and expressions, as long as the file itself gives their values. O words are
refused: they are not in the report, and the program they call need not be in the file.

Values of words that are not plain numbers: parameters, expressions and functions of NISTIR 6556, section 3.3.2.

A parameter that the file has not set holds whatever the controller remembers, so a value that needs it is not known.
Operators bind as in the report: `**` first, then `*`, `/` and `MOD`, then `+`, `-`, `AND`, `OR` and `XOR`, each from
left to right. Angles are in degrees.
"""

from __future__ import annotations

import math
import operator
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

PLAIN_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)", re.ASCII)
BEGINS_VALUE = re.compile(r"[#\[]|(?:ABS|ACOS|ASIN|ATAN|COS|EXP|FIX|FUP|LN|ROUND|SIN|SQRT|TAN)\[")
LARGEST_PARAMETER = 5399  # the last in the report's table
FIRST_OF_CONTROLLER = 5161  # from here on parameters hold the controller's own places and zero points
INTEGER = 0.0001  # a value this near to a whole number counts as one
_MOST_DIGITS = 40  # a longer number isn't a coordinate, and costs time
_DEEPEST = 40  # brackets and parameters within one another
_LARGEST = 1e12
_OPERATORS = re.compile(r"\*\*|[*/+-]|MOD|AND|XOR|OR")
_FUNCTION = re.compile(r"ABS|ACOS|ASIN|ATAN|COS|EXP|FIX|FUP|LN|ROUND|SIN|SQRT|TAN")


class ExpressionError(ValueError):
    """A value that breaks the language or can't be known, and its place in the text."""

    def __init__(self, at: int, message: str) -> None:
        """Take the index in the text, and what is wrong there."""
        super().__init__(message)
        self.at = at


def read_value(text: str, at: int, parameters: Mapping[int, float]) -> tuple[float, int]:
    """Return the value that begins at an index of a line in capitals without blanks, and the index after it.

    Raises ExpressionError.
    """
    reader = _Values(text, parameters)
    return reader.value(at, 0)


def read_setting(text: str, at: int, parameters: Mapping[int, float]) -> tuple[int, float, int]:
    """Return the number and the new value of the parameter set at an index, and the index after it.

    Raises ExpressionError.
    """
    reader = _Values(text, parameters)
    number, after = reader.number_of_parameter(at + 1, 0)
    if text[after : after + 1] != "=":
        raise ExpressionError(at, "a parameter outside a word is set with =")
    if number >= FIRST_OF_CONTROLLER:
        message = f"#{number} is not judged: parameters from {FIRST_OF_CONTROLLER} on hold the controller's zero points"
        raise ExpressionError(at, message)
    value, after = reader.value(after + 1, 0)
    return number, value, after


class _Values:
    def __init__(self, text: str, parameters: Mapping[int, float]) -> None:
        self._text, self._parameters = text, parameters

    def value(self, at: int, depth: int) -> tuple[float, int]:
        text = self._text
        if depth > _DEEPEST:
            raise ExpressionError(at, f"more than {_DEEPEST} brackets inside one another")
        if found := PLAIN_NUMBER.match(text, at):
            return _number(found)
        if text.startswith("#", at):
            number, after = self.number_of_parameter(at + 1, depth + 1)
            if number not in self._parameters:
                message = f"#{number} is not judged: no line before sets it, so it may hold anything"
                raise ExpressionError(at, message)
            return self._parameters[number], after
        if text.startswith("[", at):
            return self._bracket(at, depth + 1)
        if found := _FUNCTION.match(text, at):
            return self._function(found, depth + 1)
        raise ExpressionError(min(at, len(text) - 1), "a number, a parameter or a bracket should be here")

    def number_of_parameter(self, at: int, depth: int) -> tuple[int, int]:
        value, after = self.value(at, depth)
        number = round(value)
        if abs(value - number) > INTEGER or not 1 <= number <= LARGEST_PARAMETER:
            raise ExpressionError(at - 1, f"{value:g} is not a parameter; these are numbered 1 to {LARGEST_PARAMETER}")
        return number, after

    def _bracket(self, at: int, depth: int) -> tuple[float, int]:
        text, opened = self._text, at
        if not text.startswith("[", at):
            raise ExpressionError(min(at, len(text) - 1), "a square bracket should open here")
        value, at = self.value(at + 1, depth)
        values, operators = [value], []
        while not text.startswith("]", at):
            found = _OPERATORS.match(text, at)
            if found is None:
                message = "the square bracket is not closed" if at >= len(text) else "an operator or ] should be here"
                raise ExpressionError(opened if at >= len(text) else at, message)
            operators.append(found.group())
            value, at = self.value(found.end(), depth)
            values.append(value)
        return _calculated(values, operators, opened), at + 1

    def _function(self, found: re.Match[str], depth: int) -> tuple[float, int]:
        name, at = found.group(), found.start()
        value, after = self._bracket(found.end(), depth)
        if name == "ATAN":
            if not self._text.startswith("/", after):
                raise ExpressionError(at, "ATAN takes two values: ATAN[ ]/[ ]")
            other, after = self._bracket(after + 1, depth)
            return math.degrees(math.atan2(value, other)), after
        try:
            return _checked(_FUNCTIONS[name](value), at), after
        except (ValueError, OverflowError):
            raise ExpressionError(at, f"{name} has no value for {value:g}") from None


def _number(found: re.Match[str]) -> tuple[float, int]:
    if len(found.group()) > _MOST_DIGITS:
        raise ExpressionError(found.start(), f"a number of {len(found.group())} characters")
    return float(found.group()), found.end()


def _round(value: float) -> float:
    """To the nearest whole number, halves away from 0."""
    return math.copysign(math.floor(abs(value) + 0.5), value)


_FUNCTIONS: dict[str, Callable[[float], float]] = {
    "ABS": abs,
    "ACOS": lambda value: math.degrees(math.acos(value)),
    "ASIN": lambda value: math.degrees(math.asin(value)),
    "COS": lambda value: math.cos(math.radians(value)),
    "EXP": math.exp,
    "FIX": lambda value: float(math.floor(value)),
    "FUP": lambda value: float(math.ceil(value)),
    "LN": math.log,
    "ROUND": _round,
    "SIN": lambda value: math.sin(math.radians(value)),
    "SQRT": math.sqrt,
    "TAN": lambda value: math.tan(math.radians(value)),
}


def _modulo(left: float, right: float) -> float:
    rest = math.fmod(left, right)
    return rest + abs(right) if rest < 0 else rest


_BY_RANK: tuple[dict[str, Callable[[float, float], float]], ...] = (
    {"**": math.pow},
    {"*": operator.mul, "/": operator.truediv, "MOD": _modulo},
    {
        "+": operator.add,
        "-": operator.sub,
        "AND": lambda left, right: float(left != 0 and right != 0),
        "OR": lambda left, right: float(left != 0 or right != 0),
        "XOR": lambda left, right: float((left != 0) != (right != 0)),
    },
)


def _calculated(values: Sequence[float], operators: Sequence[str], at: int) -> float:
    left_values, left_operators = list(values), list(operators)
    for rank in _BY_RANK:
        kept_values, kept_operators = [left_values[0]], []
        for name, value in zip(left_operators, left_values[1:], strict=True):
            if name not in rank:
                kept_operators.append(name)
                kept_values.append(value)
                continue
            try:
                kept_values[-1] = _checked(rank[name](kept_values[-1], value), at)
            except (ValueError, OverflowError, ZeroDivisionError):
                raise ExpressionError(at, f"{kept_values[-1]:g} {name} {value:g} has no value") from None
        left_values, left_operators = kept_values, kept_operators
    return left_values[0]


def _checked(value: float, at: int) -> float:
    if not abs(value) < _LARGEST:
        raise ExpressionError(at, "the value is far too large")
    return value


LETTERS = frozenset("ABCDFGHIJKLMNPQRSTXYZ")  # table 3
LONGEST_LINE = 256
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
    """The words of a line; the parameters it sets, by number; whether it begins with a block delete; its comment
    styles; whether it has values that are not plain numbers; and what is odd about its comments.
    """

    words: tuple[Word, ...]
    settings: tuple[tuple[int, float], ...]
    deleted: bool
    comments: frozenset[str]
    worked_out: bool
    remarks: tuple[tuple[int, str], ...]


class WordError(ValueError):
    """A line that breaks the language, and the column."""

    def __init__(self, column: int, message: str) -> None:
        """Take the column, from 1, and what is wrong there."""
        super().__init__(message)
        self.column = column


def split_line(line: str, parameters: Mapping[int, float] = _NOTHING_SET) -> LineWords:
    """Return the words of one line without its line end; `parameters` are those set so far. Raises WordError.

    Parameters that the line sets count from the next line on (section 3.3.2.1).
    """
    if len(line) > LONGEST_LINE:
        raise WordError(
            LONGEST_LINE + 1, f"the line has {len(line)} characters; a line may have at most {LONGEST_LINE}"
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
    """Return the line in capitals without blanks and comments, the column of each character, comment styles, and
    oddities of the comments, which move nothing.
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
    """Oddities of a semicolon comment; a controller may end the line at a character that can't be printed."""
    remarks = []
    for at, char in enumerate(line[column:], start=column + 1):
        if char < " " and char != "\t":
            raise WordError(at, _odd_character(line, at))
    rest = line[column:]
    if any(bracket in rest for bracket in "()"):
        remarks.append((column, "brackets in a semicolon comment; controllers read these differently"))
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
        raise WordError(column, "a block delete may only be at the start of a line")
    if letter == "%":
        raise WordError(column, "a percent sign must be alone on its line")
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
        raise WordError(columns[found.end()], f"{follow!r} doesn't belong in a number")
    return Word(letter, float(digits), column, digits), found.end()


def _check_line_number(word: Word, *, first: bool) -> None:
    if not first:
        raise WordError(word.column, "a line number may only be at the start of its line, once")
    if not word.text.isdigit() or len(word.text) > 5:
        raise WordError(word.column, f"line number N{word.text} is not a whole number of at most five digits")
