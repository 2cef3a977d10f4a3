"""The values of formulas: exact fractions that know whether they are plain numbers, lengths or areas.

A length and a plain number can't be added; this catches most mistakes in formulas. Lengths are mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from cutjob.units import Unit, format_length

# Larger results are a slip, and their powers would fill the memory; longer fractions are rounded as floats are.
GREATEST = 10**12
_MOST_BITS = 200
_GREATEST_POWER = 8
# Formulas with roots and angles are right to some 15 digits; two values nearer than this are equal.
_SLACK = Fraction(1, 10**9)
_KINDS = {0: "a plain number", 1: "a length", 2: "an area", 3: "a volume"}


class FormulaError(ValueError):
    """A formula that can't be worked out; the message is fit for a user, with its advice after `; `."""


@dataclass(frozen=True, slots=True, eq=False)
class Quantity:
    """A number of mm to a `power`: 0 a plain number, 1 a length, 2 an area."""

    value: Fraction
    power: int = 0

    def __bool__(self) -> bool:
        """Raise FormulaError: a quantity is never taken as a yes or no."""
        raise FormulaError(f"this is {self.kind}, but a yes or no is wanted; compare it, such as width > 2 in")

    @property
    def kind(self) -> str:
        """The kind in words: a length."""
        return _KINDS.get(self.power, f"a length to the power {self.power}")

    def __add__(self, other: object) -> Quantity:
        one, two, power = _alike(self, other, "added")
        return quantity(one + two, power)

    def __sub__(self, other: object) -> Quantity:
        one, two, power = _alike(self, other, "subtracted")
        return quantity(one - two, power)

    def __mul__(self, other: object) -> Quantity:
        factor = as_quantity(other)
        return quantity(self.value * factor.value, self.power + factor.power)

    def __truediv__(self, other: object) -> Quantity:
        divisor = as_quantity(other)
        if divisor.value == 0:
            raise FormulaError("this divides by zero; check that the value after / is never 0")
        return quantity(self.value / divisor.value, self.power - divisor.power)

    def __neg__(self) -> Quantity:
        return Quantity(-self.value, self.power)

    def __pos__(self) -> Quantity:
        return self

    def __pow__(self, other: object) -> Quantity:
        exponent = as_quantity(other)
        if exponent.power or exponent.value.denominator != 1 or abs(exponent.value) > _GREATEST_POWER:
            raise FormulaError(
                f"a power must be a whole number from -{_GREATEST_POWER} to {_GREATEST_POWER}; use sqrt for a root"
            )
        times = int(exponent.value)
        if times < 0 and self.value == 0:
            raise FormulaError("this divides by zero; check that a value with a negative power is never 0")
        return quantity(self.value**times, self.power * times)

    def __lt__(self, other: object) -> bool:
        one, two, _ = _alike(self, other, "compared")
        return one < two - _SLACK

    def __gt__(self, other: object) -> bool:
        one, two, _ = _alike(self, other, "compared")
        return one > two + _SLACK

    def __le__(self, other: object) -> bool:
        one, two, _ = _alike(self, other, "compared")
        return one <= two + _SLACK

    def __ge__(self, other: object) -> bool:
        one, two, _ = _alike(self, other, "compared")
        return one >= two - _SLACK

    def words(self, unit: Unit) -> str:
        """The quantity for reading: `5/8 in`, or a plain number."""
        if self.power == 1:
            return format_length(float(self.value), unit=unit)
        text = f"{float(self.value):.6g}"
        return text if self.power == 0 else f"{text} mm^{self.power}"


def same(one: object, other: object) -> bool:
    """Whether two values are equal: words letter by letter, quantities apart from rounding."""
    if isinstance(one, Quantity) or isinstance(other, Quantity):
        a, b, _ = _alike(as_quantity(one), other, "compared")
        return abs(a - b) <= _SLACK
    return one == other


def quantity(value: Fraction | float | int, power: int = 0) -> Quantity:
    """Return a quantity; fractions too long to be exact are rounded. Raises FormulaError beyond `GREATEST`."""
    if isinstance(value, float) and not math.isfinite(value):
        raise FormulaError("this has no result; check its roots and angles")
    exact = Fraction(value)
    if abs(exact) > GREATEST or abs(power) > 32:
        raise FormulaError("the result is too large; look for a slip")
    if exact.denominator.bit_length() > _MOST_BITS:
        exact = Fraction(float(exact))
    return Quantity(exact, power)


def as_quantity(value: object) -> Quantity:
    """Return the value as a quantity. Raises FormulaError for words, a yes or no, and whole series."""
    if isinstance(value, Quantity):
        return value
    if isinstance(value, bool):
        raise FormulaError("this is a yes or no, but a number is wanted; use choose(yes or no, this, that)")
    if isinstance(value, str):
        raise FormulaError(f'"{value}" is a word, but a number is wanted; words can only be compared with == or !=')
    raise FormulaError("this is a series, but one number is wanted; take one of its values, as name(i), or sum(name)")


def rounded(value: Quantity, step: Quantity, way: Callable[[Fraction], int]) -> Quantity:
    """Return the multiple of `step` that the rounding `way` gives."""
    if value.power != step.power:
        raise FormulaError(f"{value.kind} can't be rounded to {step.kind}; give the step a unit, such as 1/16 in")
    if step.value <= 0:
        raise FormulaError("the step of rounding must be more than 0; write it like 1/16 in")
    return quantity(step.value * way(value.value / step.value), value.power)


def _alike(one: Quantity, other: object, what: str) -> tuple[Fraction, Fraction, int]:
    """Both values and their power; 0 has every power."""
    two = as_quantity(other)
    if one.power == two.power or two.value == 0 == two.power:
        return one.value, two.value, one.power
    if one.value == 0 == one.power:
        return one.value, two.value, two.power
    advice = "give the number a unit, such as 2 in" if 0 in (one.power, two.power) else "look for a slip"
    raise FormulaError(f"{one.kind} and {two.kind} can't be {what}; {advice}")
