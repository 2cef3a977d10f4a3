"""The functions sums may call. Angles are degrees; functions of angles give and take plain numbers."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import reduce
from types import MappingProxyType
from typing import Any

from cutjob.designs.own.quantity import Quantity, SumError, as_quantity, quantity, rounded

Function = Callable[..., Any]


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """The values of a series, or of a list the job sets."""

    name: str
    values: tuple[Quantity, ...]

    def __call__(self, index: object) -> Quantity:
        """Return the value at a whole number from 0."""
        at = whole(as_quantity(index), f"{self.name}( )")
        if not 0 <= at < len(self.values):
            last = len(self.values) - 1
            raise SumError(f"{self.name} has values from 0 to {last} and none at {at}; i runs from 0 to n - 1")
        return self.values[at]


def whole(value: Quantity, what: str) -> int:
    """Return a plain whole number. Raises SumError for any other value."""
    if value.power or value.value.denominator != 1:
        raise SumError(f"{what} takes a whole number, and this comes to {value.words('mm')}; round it")
    return int(value.value)


def _spread(values: tuple[Any, ...]) -> list[Quantity]:
    spread: list[Quantity] = []
    for value in values:
        spread += value.values if isinstance(value, Series) else [as_quantity(value)]
    if not spread:
        raise SumError("there is nothing to take it of; see that the series is not empty")
    return spread


def _least(*values: Any) -> Quantity:
    return reduce(lambda a, b: b if b < a else a, _spread(values))


def _greatest(*values: Any) -> Quantity:
    return reduce(lambda a, b: b if b > a else a, _spread(values))


def _total(*values: Any) -> Quantity:
    if values and all(isinstance(value, Series) and not value.values for value in values):
        return quantity(0)
    return reduce(lambda a, b: a + b, _spread(values))


def _count(series: object) -> Quantity:
    if not isinstance(series, Series):
        raise SumError("count takes the name of a series; write count(name)")
    return quantity(len(series.values))


def _round(way: Callable[[Fraction], int]) -> Function:
    def function(value: object, step: object = None) -> Quantity:
        return rounded(as_quantity(value), quantity(1) if step is None else as_quantity(step), way)

    return function


def _half_up(value: Fraction) -> int:
    return math.floor(value + Fraction(1, 2))


def _size(value: object) -> Quantity:
    one = as_quantity(value)
    return Quantity(abs(one.value), one.power)


def _root(value: object) -> Quantity:
    one = as_quantity(value)
    if one.value < 0:
        raise SumError("the root of a number below 0 is none; look for a slip")
    if one.power % 2:
        raise SumError(f"{one.kind} has no root in lengths; take the root of an area or of a plain number")
    top, bottom = math.isqrt(one.value.numerator), math.isqrt(one.value.denominator)
    exact = Fraction(top, bottom)
    return quantity(exact if exact * exact == one.value else math.sqrt(one.value), one.power // 2)


def _plain(value: object, what: str) -> float:
    one = as_quantity(value)
    if one.power:
        raise SumError(f"{what} takes a plain number, not {one.kind}; divide lengths by each other")
    return float(one.value)


# Where the sine and cosine are known exactly, so that a quarter turn of 1 in is 1 in.
_EXACT_SINE = {0: Fraction(0), 30: Fraction(1, 2), 90: Fraction(1), 150: Fraction(1, 2), 180: Fraction(0)}


def _sine(degrees: float) -> Fraction | float:
    turn = math.fmod(degrees, 360.0)
    turn = turn + 360 if turn < 0 else turn
    sign, half = (1, turn) if turn < 180 else (-1, turn - 180)
    known = _EXACT_SINE.get(int(half)) if half == int(half) else None
    return sign * known if known is not None else sign * math.sin(math.radians(half))


def _sin(value: object) -> Quantity:
    return quantity(_sine(_plain(value, "sin")))


def _cos(value: object) -> Quantity:
    return quantity(_sine(math.fmod(_plain(value, "cos"), 360.0) + 90))


def _tan(value: object) -> Quantity:
    return _sin(value) / _cos(value)


def _inverse(name: str, function: Callable[[float], float]) -> Function:
    def inverse(value: object) -> Quantity:
        number = _plain(value, name)
        if name != "arctan" and abs(number) > 1:
            # Rounding may leave a hair above 1 where 1 was meant.
            if abs(number) > 1 + 1e-9:
                raise SumError(f"{name} takes numbers from -1 to 1, and this is {number:.6g}; look for a slip")
            number = math.copysign(1, number)
        return quantity(math.degrees(function(number)))

    return inverse


def _diagonal(one: object, other: object) -> Quantity:
    a, b = as_quantity(one), as_quantity(other)
    return _root(a * a + b * b)


def _direction(x: object, y: object) -> Quantity:
    a, b = as_quantity(x), as_quantity(y)
    _ = a + b  # of one kind
    return quantity(math.degrees(math.atan2(float(b.value), float(a.value))))


def _remainder(value: object, step: object) -> Quantity:
    one = as_quantity(value)
    return one - rounded(one, as_quantity(step), math.floor)


FUNCTIONS: Mapping[str, Function] = MappingProxyType(
    {
        "min": _least,
        "max": _greatest,
        "sum": _total,
        "count": _count,
        "round": _round(_half_up),
        "round_up": _round(math.ceil),
        "round_down": _round(math.floor),
        "remainder": _remainder,
        "abs": _size,
        "sqrt": _root,
        "sin": _sin,
        "cos": _cos,
        "tan": _tan,
        "arcsin": _inverse("arcsin", math.asin),
        "arccos": _inverse("arccos", math.acos),
        "arctan": _inverse("arctan", math.atan),
        "diagonal": _diagonal,
        "direction": _direction,
    }
)
# Known besides: choose(condition, this, that) anywhere, graded(first, last) where there is an i.
SPECIAL = ("choose", "graded")
CONSTANTS: Mapping[str, Quantity | bool] = MappingProxyType({"pi": quantity(math.pi), "yes": True, "no": False})
