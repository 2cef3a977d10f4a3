"""Values of words that are not plain numbers: parameters, expressions and functions of NISTIR 6556, section 3.3.2.

A parameter that the file has not set holds whatever the controller remembers, so a value that needs it can't be known
here. Operators bind as in the report: `**` first, then `*`, `/` and `MOD`, then `+`, `-`, `AND`, `OR` and `XOR`, each
from left to right. Angles are in degrees.
"""

from __future__ import annotations

import math
import operator
import re
from collections.abc import Callable, Mapping, Sequence

PLAIN_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)", re.ASCII)
BEGINS_VALUE = re.compile(r"[#\[]|(?:ABS|ACOS|ASIN|ATAN|COS|EXP|FIX|FUP|LN|ROUND|SIN|SQRT|TAN)\[")
LARGEST_PARAMETER = 5399  # as many the report's table has
FIRST_OF_CONTROLLER = 5161  # from here on they hold the controller's own places and zero points
INTEGER = 0.0001  # a value this near a whole number is one
_MOST_DIGITS = 40  # a longer number is no coordinate, and costs time
_DEEPEST = 40  # brackets and parameters within one another
_LARGEST = 1e12
_OPERATORS = re.compile(r"\*\*|[*/+-]|MOD|AND|XOR|OR")
_FUNCTION = re.compile(r"ABS|ACOS|ASIN|ATAN|COS|EXP|FIX|FUP|LN|ROUND|SIN|SQRT|TAN")


class ExpressionError(ValueError):
    """A value that breaks the language or can't be known, and where in the text."""

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
            raise ExpressionError(at, f"more than {_DEEPEST} brackets within one another")
        if found := PLAIN_NUMBER.match(text, at):
            return _number(found)
        if text.startswith("#", at):
            number, after = self.number_of_parameter(at + 1, depth + 1)
            if number not in self._parameters:
                message = f"#{number} is not judged: no line before has set it, and the controller may hold anything"
                raise ExpressionError(at, message)
            return self._parameters[number], after
        if text.startswith("[", at):
            return self._bracket(at, depth + 1)
        if found := _FUNCTION.match(text, at):
            return self._function(found, depth + 1)
        raise ExpressionError(min(at, len(text) - 1), "a number, a parameter or a bracket should stand here")

    def number_of_parameter(self, at: int, depth: int) -> tuple[int, int]:
        value, after = self.value(at, depth)
        number = round(value)
        if abs(value - number) > INTEGER or not 1 <= number <= LARGEST_PARAMETER:
            raise ExpressionError(at - 1, f"{value:g} is no parameter; they are numbered 1 to {LARGEST_PARAMETER}")
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
                message = (
                    "the square bracket is not closed" if at >= len(text) else "an operator or ] should stand here"
                )
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
