"""Sums worked out: the names known at a place of a design file with their values, and results as mm, counts or yes.

The evaluator is simpleeval's, given nothing but checked operators on quantities, the functions of sums and the names.
"""

from __future__ import annotations

import ast
import operator
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from simpleeval import InvalidExpression, SimpleEval

from cutjob.designs.design import Work
from cutjob.designs.own.functions import CONSTANTS, FUNCTIONS, Function, Series, whole
from cutjob.designs.own.quantity import Quantity, SumError, as_quantity, quantity, same
from cutjob.designs.own.spelling import PREFIX, Sum
from cutjob.units import Unit

# Names, numbers and signs worked out for one item: a second or two.
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


class PoisonError(SumError):
    """A name has no value because of a mistake that is told elsewhere."""


class _Evaluator(SimpleEval):  # type: ignore[misc]
    """simpleeval, with calls of checked functions only; a wrong number of values is told in plain words."""

    def _eval_call(self, node: ast.Call) -> Any:
        assert isinstance(node.func, ast.Name)
        name = node.func.id.removeprefix(PREFIX)
        try:
            return self.functions[node.func.id](*[self._eval(one) for one in node.args])
        except TypeError:
            raise SumError(f"{name} does not take {len(node.args)} values; see how it is meant") from None


@dataclass(slots=True)
class Budget:
    """Steps left for one item, and for all of the job."""

    left: int = MOST_STEPS
    work: Work = field(default_factory=Work)

    def spend(self, steps: int) -> None:
        """Take steps. Raises SumError when none are left."""
        self.left -= steps
        if self.left < 0:
            raise SumError("the design takes more steps than any item needs; lower its counts")
        self.work.left -= steps
        if self.work.left < 0:
            raise SumError("the job's own designs take more steps than any job needs; share it out among several jobs")


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
        """The scope with names that have no value, for a mistake that is told elsewhere."""
        return replace(self, unknown=self.unknown | frozenset(names))

    def at_step(self, i: int, n: int) -> Scope:
        """The scope within step `i` of a series of `n`."""
        first_to_last = {"graded": lambda first, last: graded(as_quantity(first), as_quantity(last), i, n)}
        inner = self.with_names({"i": quantity(i), "n": quantity(n)})
        return replace(inner, functions={**inner.functions, **first_to_last})

    def at_repeat(self, k: int) -> Scope:
        """The scope within the time `k` that a thing is drawn."""
        return self.with_names({"k": quantity(k)})

    def value(self, one: Sum) -> object:
        """Return what a sum comes to: a quantity, a word, or a yes or no. Raises SumError."""
        if (one.names | one.calls) & self.unknown:
            raise PoisonError("a value it takes is wrong")
        taken = [self.names[name] for name in one.names if name in self.names]
        self.budget.spend(one.size + sum(len(other.values) for other in taken if isinstance(other, Series)))
        names = {PREFIX + name: self.names[name] for name in one.names if name in self.names}
        names |= {PREFIX + name: value for name, value in CONSTANTS.items()}
        names |= dict(one.literals)
        missing = sorted((one.names - set(self.names) - set(CONSTANTS)) | (one.calls - set(self.functions)))
        if missing:
            raise SumError(f'"{missing[0]}" is not known here; see which names this place has')
        functions = {PREFIX + name: self.functions[name] for name in one.calls}
        try:
            found = _Evaluator(operators=_OPERATORS, functions=functions, names=names).eval(
                one.text, previously_parsed=one.tree
            )
        except InvalidExpression as error:
            raise SumError(f"the sum can't be worked out ({error}); compare it with a sample") from None
        except (OverflowError, ZeroDivisionError, RecursionError):
            raise SumError("this comes to more than any workshop holds; look for a slip") from None
        if isinstance(found, Series) or callable(found):
            raise SumError("this is a whole series; name one of it, such as name(i), or take its sum")
        return found

    def length(self, one: Sum, *, greatest: float = GREATEST_MM) -> float:
        """Return a length in mm, of either sign. Raises SumError for anything else, and beyond `greatest`."""
        found = self.length_quantity(one)
        mm = float(found.value)
        if abs(mm) > greatest:
            raise SumError(f"this comes to {found.words(self.unit)}, farther than any board reaches; look for a slip")
        return mm

    def length_quantity(self, one: Sum) -> Quantity:
        """Return a length as a quantity; a bare number is in the file's unit."""
        if one.bare is not None:
            return quantity(one.bare) * _MM_PER[self.unit]
        found = as_quantity(self.value(one))
        if found.power == 1:
            return found
        if found.power == 0 and found.value == 0:
            return Quantity(found.value, 1)
        shown = found.words(self.unit)
        raise SumError(f"this comes to {found.kind}, {shown}, where a length is wanted; give its numbers a unit")

    def positive(self, one: Sum) -> float:
        """Return a length of more than nought, mm."""
        mm = self.length(one)
        if mm < _THINNEST:
            raise SumError(f"this comes to {quantity(mm, 1).words(self.unit)}; it must be more than 0")
        return mm

    def number(self, one: Sum) -> float:
        """Return a plain number."""
        found = as_quantity(self.value(one))
        if found.power:
            raise SumError(f"this comes to {found.kind} where a plain number is wanted; divide it by a length")
        return float(found.value)

    def count(self, one: Sum, *, most: int) -> int:
        """Return a whole number from 0 to `most`."""
        found = whole(as_quantity(self.value(one)), "this")
        if not 0 <= found <= most:
            raise SumError(f"this comes to {found}; it must be from 0 to {most}")
        return found

    def yes(self, one: Sum) -> bool:
        """Return a yes or no."""
        found = self.value(one)
        if not isinstance(found, bool):
            raise SumError("this is neither yes nor no; compare two things, such as width > 2 in")
        return found


_THINNEST = 1e-3  # mm


def graded(first: Quantity, last: Quantity, i: int, n: int) -> Quantity:
    """Return step `i` of `n` equal steps from `first` to `last`; the first where there is but one."""
    return first if n <= 1 else first + (last - first) * quantity(i) / quantity(n - 1)
