"""Works out formulas: from the names known at a place of a design file to a result in mm, a count, or a yes or no.

The evaluator is simpleeval's. It gets only checked operators on quantities, the functions of formulas, and the names.
Angles are degrees; functions of angles take and return plain numbers.

Text with formulas in it, such as `"drill {bore} through"`, is read once and worded for each item.
"""

from __future__ import annotations

import ast
import math
import operator
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import reduce
from types import MappingProxyType
from typing import Any

from simpleeval import InvalidExpression, SimpleEval

from cutjob.counting import counted
from cutjob.designs.design import Work
from cutjob.designs.own.quantity import FormulaError, Quantity, as_quantity, quantity, rounded, same
from cutjob.designs.own.spelling import PREFIX, Formula, read_formula
from cutjob.files.values import Text
from cutjob.units import Unit

Function = Callable[..., Any]


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """The values of a series, or of a list from the job."""

    name: str
    values: tuple[Quantity, ...]

    def __call__(self, index: object) -> Quantity:
        """Return the value at a whole number from 0."""
        at = whole(as_quantity(index), f"{self.name}( )")
        if not 0 <= at < len(self.values):
            last = len(self.values) - 1
            raise FormulaError(f"{self.name} has values 0 to {last}, but none at {at}; i runs from 0 to n - 1")
        return self.values[at]


def whole(value: Quantity, what: str) -> int:
    """Return a plain whole number. Raises FormulaError for any other value."""
    if value.power or value.value.denominator != 1:
        raise FormulaError(f"{what} takes a whole number, but this is {value.words('mm')}; round it")
    return int(value.value)


def _spread(values: tuple[Any, ...]) -> list[Quantity]:
    spread: list[Quantity] = []
    for value in values:
        spread += value.values if isinstance(value, Series) else [as_quantity(value)]
    if not spread:
        raise FormulaError("there are no values here; name some, or check that the series is not empty")
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
        raise FormulaError("count takes the name of a series; write count(name)")
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
        raise FormulaError("a number below 0 has no root; look for a slip")
    if one.power % 2:
        raise FormulaError(f"{one.kind} has no root in lengths; take the root of an area or of a plain number")
    top, bottom = math.isqrt(one.value.numerator), math.isqrt(one.value.denominator)
    exact = Fraction(top, bottom)
    return quantity(exact if exact * exact == one.value else math.sqrt(one.value), one.power // 2)


def _plain(value: object, what: str) -> float:
    one = as_quantity(value)
    if one.power:
        raise FormulaError(f"{what} takes a plain number, not {one.kind}; divide lengths by each other")
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
            # Rounding may turn 1 into a little more than 1.
            if abs(number) > 1 + 1e-9:
                raise FormulaError(f"{name} takes numbers from -1 to 1, but this is {number:.6g}; look for a slip")
            number = math.copysign(1, number)
        return quantity(math.degrees(function(number)))

    return inverse


def _diagonal(one: object, other: object) -> Quantity:
    a, b = as_quantity(one), as_quantity(other)
    return _root(a * a + b * b)


def _direction(x: object, y: object) -> Quantity:
    a, b = as_quantity(x), as_quantity(y)
    _ = a + b  # raises where they are not of one kind
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
# Also known: choose(condition, this, that) everywhere, graded(first, last) where there is an i.
SPECIAL = ("choose", "graded")
CONSTANTS: Mapping[str, Quantity | bool] = MappingProxyType({"pi": quantity(math.pi), "yes": True, "no": False})


# Names, numbers and signs to work out for one item; takes a second or two.
MOST_STEPS = 200_000
GREATEST_MM = 10_000.0  # ten metres: no bed is longer

_MM_PER = {"in": Quantity(Fraction(254, 10), 1), "mm": Quantity(Fraction(1), 1)}
_OPERATORS: Mapping[type[ast.AST], Callable[..., Any]] = {
    ast.Add: lambda a, b: as_quantity(a) + b,
    ast.Sub: lambda a, b: as_quantity(a) - b,
    ast.Mult: lambda a, b: as_quantity(a) * b,
    ast.Div: lambda a, b: as_quantity(a) / b,
    ast.Pow: lambda a, b: as_quantity(a) ** as_quantity(b),
    ast.USub: lambda a: -as_quantity(a),
    ast.UAdd: as_quantity,
    ast.Not: operator.not_,
    ast.Lt: lambda a, b: as_quantity(a) < b,
    ast.LtE: lambda a, b: as_quantity(a) <= b,
    ast.Gt: lambda a, b: as_quantity(a) > b,
    ast.GtE: lambda a, b: as_quantity(a) >= b,
    ast.Eq: same,
    ast.NotEq: lambda a, b: not same(a, b),
}


class PoisonError(FormulaError):
    """A name has no value because of a mistake that is already reported."""


class _Evaluator(SimpleEval):  # type: ignore[misc]
    """simpleeval, with calls of checked functions only, and a plain message for a wrong number of values."""

    def _eval_call(self, node: ast.Call) -> Any:
        assert isinstance(node.func, ast.Name)
        name = node.func.id.removeprefix(PREFIX)
        try:
            return self.functions[node.func.id](*[self._eval(one) for one in node.args])
        except TypeError:
            raise FormulaError(
                f"{name} does not take {counted(len(node.args), 'value')}; check how it is used"
            ) from None


@dataclass(slots=True)
class Budget:
    """Steps left for one item, and for the whole job."""

    left: int = MOST_STEPS
    work: Work = field(default_factory=Work)

    def spend(self, steps: int) -> None:
        """Take steps. Raises FormulaError where none are left."""
        self.left -= steps
        if self.left < 0:
            raise FormulaError("the design takes more steps than any item needs; lower its counts")
        self.work.left -= steps
        if self.work.left < 0:
            raise FormulaError("the job's own designs take more steps than any job needs; split it into several jobs")


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """The names known at a place, the functions, the file's unit for bare numbers, and the steps left."""

    names: Mapping[str, object]
    unit: Unit
    functions: Mapping[str, Function] = field(default_factory=lambda: FUNCTIONS)
    unknown: frozenset[str] = frozenset()  # names with mistakes of their own
    budget: Budget = field(default_factory=Budget)

    def with_names(self, names: Mapping[str, object]) -> Scope:
        """The scope with more names."""
        callables = {name: one for name, one in names.items() if callable(one)}
        return replace(self, names={**self.names, **names}, functions={**self.functions, **callables})

    def without(self, names: Iterable[str]) -> Scope:
        """The scope with names that have no value because of a mistake that is already reported."""
        return replace(self, unknown=self.unknown | frozenset(names))

    def at_step(self, i: int, n: int) -> Scope:
        """The scope for step `i` of a series of `n`."""
        first_to_last = {"graded": lambda first, last: graded(as_quantity(first), as_quantity(last), i, n)}
        inner = self.with_names({"i": quantity(i), "n": quantity(n)})
        return replace(inner, functions={**inner.functions, **first_to_last})

    def at_repeat(self, k: int) -> Scope:
        """The scope for drawing `k` of a repeat."""
        return self.with_names({"k": quantity(k)})

    def value(self, one: Formula) -> object:
        """Return the result of a formula: a quantity, a word, or a yes or no. Raises FormulaError."""
        if (one.names | one.calls) & self.unknown:
            raise PoisonError("a value that it needs is wrong")
        taken = [self.names[name] for name in one.names if name in self.names]
        self.budget.spend(one.size + sum(len(other.values) for other in taken if isinstance(other, Series)))
        names = {PREFIX + name: self.names[name] for name in one.names if name in self.names}
        names |= {PREFIX + name: value for name, value in CONSTANTS.items()}
        names |= dict(one.literals)
        missing = sorted((one.names - set(self.names) - set(CONSTANTS)) | (one.calls - set(self.functions)))
        if missing:
            raise FormulaError(f'"{missing[0]}" is not known here; check which names can be used at this place')
        functions = {PREFIX + name: self.functions[name] for name in one.calls}
        try:
            found = _Evaluator(operators=_OPERATORS, functions=functions, names=names).eval(
                one.text, previously_parsed=one.tree
            )
        except InvalidExpression as error:
            raise FormulaError(f"the formula can't be worked out ({error}); compare it with a sample") from None
        except (OverflowError, ZeroDivisionError, RecursionError):
            raise FormulaError("the result is too large; look for a slip") from None
        if isinstance(found, Series) or callable(found):
            raise FormulaError("this is a whole series; take one of its values, as name(i), or sum(name)")
        return found

    def length(self, one: Formula, *, greatest: float = GREATEST_MM) -> float:
        """Return a length in mm, of either sign. Raises FormulaError for anything else, and beyond `greatest`."""
        found = self.length_quantity(one)
        mm = float(found.value)
        if abs(mm) > greatest:
            raise FormulaError(f"this is {found.words(self.unit)}, longer than any board; look for a slip")
        return mm

    def length_quantity(self, one: Formula) -> Quantity:
        """Return a length as a quantity; a bare number is in the file's unit."""
        if one.bare is not None:
            return quantity(one.bare) * _MM_PER[self.unit]
        found = as_quantity(self.value(one))
        if found.power == 1:
            return found
        if found.power == 0 and found.value == 0:
            return Quantity(found.value, 1)
        shown = found.words(self.unit)
        raise FormulaError(f"this is {found.kind}, {shown}, but a length is wanted; give its numbers a unit")

    def positive(self, one: Formula) -> float:
        """Return a length of more than 0, mm."""
        mm = self.length(one)
        if mm < _THINNEST:
            raise FormulaError(f"this is {quantity(mm, 1).words(self.unit)}; it must be more than 0")
        return mm

    def number(self, one: Formula) -> float:
        """Return a plain number."""
        found = as_quantity(self.value(one))
        if found.power:
            raise FormulaError(f"this is {found.kind}, but a plain number is wanted; divide it by a length")
        return float(found.value)

    def count(self, one: Formula, *, most: int) -> int:
        """Return a whole number from 0 to `most`."""
        found = whole(as_quantity(self.value(one)), "this")
        if not 0 <= found <= most:
            raise FormulaError(f"this is {found}; it must be from 0 to {most}")
        return found

    def yes(self, one: Formula) -> bool:
        """Return a yes or no."""
        found = self.value(one)
        if not isinstance(found, bool):
            raise FormulaError("this is neither yes nor no; compare two things, such as width > 2 in")
        return found


_THINNEST = 1e-3  # mm


def graded(first: Quantity, last: Quantity, i: int, n: int) -> Quantity:
    """Return step `i` of `n` equal steps from `first` to `last`; `first` where `n` is 1."""
    return first if n <= 1 else first + (last - first) * quantity(i) / quantity(n - 1)


_LONGEST = 200
_PIECE = re.compile(r"\{([^{}]*)\}")


@dataclass(frozen=True, slots=True)
class Wording:
    """A text as its plain pieces and the formulas between them, in order."""

    pieces: tuple[str | Formula, ...]

    @property
    def formulas(self) -> tuple[Formula, ...]:
        """The formulas in it."""
        return tuple(piece for piece in self.pieces if isinstance(piece, Formula))

    def words(self, scope: Scope, *, unit: Unit, longest: int = _LONGEST) -> str:
        """Return the text, lengths worded in `unit`. Raises FormulaError."""
        text = "".join(piece if isinstance(piece, str) else _shown(scope.value(piece), unit) for piece in self.pieces)
        return text.strip()[:longest]


def read_wording(raw: object) -> Wording:
    """Return a file's text as a wording. Raises BadValue for characters not allowed in lists and programs, and
    FormulaError.
    """
    text = Text(_LONGEST).read(raw, unit="mm")
    pieces: list[str | Formula] = []
    for place, piece in enumerate(_PIECE.split(text)):
        if place % 2:
            pieces.append(read_formula(piece))
        elif "{" in piece or "}" in piece:
            raise FormulaError("a { or } has no partner; write formulas in text like {width}")
        elif piece:
            pieces.append(piece)
    return Wording(tuple(pieces))


def _shown(value: object, unit: Unit) -> str:
    if isinstance(value, Quantity):
        return value.words(unit)
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)
