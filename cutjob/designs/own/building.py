"""Turns a design file and a job's values into the parts of one item, or into a list of every mistake.

It also puts the names of a design file in the order to work them out, and finds formulas with unknown names.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from graphlib import CycleError, TopologicalSorter

from pydantic import BaseModel

from cutjob.designs.design import BuildContext
from cutjob.designs.own import pieces
from cutjob.designs.own.model import CheckEntry, CurveEntry, DesignFile, Repeat, SeriesEntry, SeveralEntry, Step
from cutjob.designs.own.quantity import FormulaError, Quantity, as_quantity, quantity
from cutjob.designs.own.scope import CONSTANTS, FUNCTIONS, SPECIAL, Budget, PoisonError, Scope, Series, Wording
from cutjob.designs.own.shapes import ShapeError
from cutjob.designs.own.spelling import Formula
from cutjob.designs.parameter import Value, Values
from cutjob.errors import InputError, Problem
from cutjob.files.fields import KeyPath
from cutjob.files.read_toml import problem_at
from cutjob.files.source import Source
from cutjob.files.values import nearest
from cutjob.geometry.batten import Batten, natural_spline
from cutjob.parts.part import Build

GROUPS = ("value", "series", "curve")


def working_order(file: DesignFile) -> tuple[tuple[str, str], ...]:
    """Return values, series and curves as (group, name), each after those it uses. Raises CycleError."""
    group_of = {name: group for group in GROUPS for name in getattr(file, group)}
    graph: dict[str, set[str]] = {}
    for name, group in group_of.items():
        taken: set[str] = set()
        for _, one, _ in _formulas_of(getattr(file, group)[name], (), ()):
            taken |= (one.names | one.calls) & set(group_of)
        graph[name] = taken
    return tuple((group_of[name], name) for name in TopologicalSorter(graph).static_order())


def naming_problems(file: DesignFile, source: Source) -> list[Problem]:
    """Return the mistakes in names: unknown names, names given twice, and formulas that need each other's results."""
    problems: list[Problem] = []
    seen: dict[str, str] = {}
    for group in ("parameter", *GROUPS):
        for name in getattr(file, group):
            if name in seen:
                message, advice = f'"{name}" is already the name of a {seen[name]}', "take another name"
                problems.append(problem_at(source, (group, name), message, advice=advice))
            seen.setdefault(name, group)
    known = {*seen, *CONSTANTS, "thickness"}
    callable_names = {*FUNCTIONS, *file.series, *file.curve}
    callable_names |= {name for name, one in file.parameter.items() if one.kind == "lengths"}
    for path, one, inner in _formulas_of(file, (), ()):
        problems += _unknown(source, path, one, known | set(inner), callable_names, in_series="n" in inner)
    try:
        working_order(file)
    except CycleError as error:
        names = [str(name) for name in error.args[1]]
        group = next(group for group in GROUPS if names[0] in getattr(file, group))
        message = f"it needs its own result: {' needs '.join(reversed(names))}"
        problems.append(problem_at(source, (group, names[0]), message, advice="change one of these formulas"))
    return problems


def _unknown(
    source: Source, path: KeyPath, one: Formula, known: set[str], callables: set[str], *, in_series: bool
) -> Iterator[Problem]:
    for name in sorted(one.names - known):
        if name in ("i", "n", "k"):
            advice = "i and n have values only where there is a count, k only in a repeat"
        elif name in FUNCTIONS:
            advice = f"{name} is a function; write {name}( ) with its values in the brackets"
        else:
            advice = nearest(name, sorted(known))
        yield problem_at(source, path, f'"{name}" is not known here', advice=advice)
    for name in sorted(one.calls - callables - {"graded"}):
        if name in known:
            message, advice = (
                f'"{name}" is one value, not a function',
                "write it without ( ), or with * before the bracket",
            )
        else:
            message, advice = (
                f'there is no function or series "{name}"',
                nearest(name, sorted(callables | set(SPECIAL))),
            )
        yield problem_at(source, path, message, advice=advice)
    if "graded" in one.calls and not in_series:
        yield problem_at(source, path, "graded needs a count, and there is none here", advice="use it in a series")


def _formulas_of(
    thing: object, path: KeyPath, inner: tuple[str, ...]
) -> Iterator[tuple[KeyPath, Formula, tuple[str, ...]]]:
    """Yield every formula in a model, its key path, and the counting names that it may use."""
    if isinstance(thing, Formula):
        yield path, thing, inner
    elif isinstance(thing, Wording):
        for one in thing.formulas:
            yield path, one, inner
    elif isinstance(thing, BaseModel):
        counted = isinstance(thing, (SeriesEntry, SeveralEntry)) and getattr(thing, "count", None) is not None
        repeated = isinstance(getattr(thing, "repeat", None), Repeat)
        for key, info in type(thing).model_fields.items():
            names = inner
            if counted and key != "count":
                names = (*names, "i", "n")
            if (repeated and key not in ("repeat", "when")) or (isinstance(thing, Step) and key == "steps"):
                names = (*names, "k")
            yield from _formulas_of(getattr(thing, key), (*path, info.alias or key), names)
    elif isinstance(thing, Mapping):
        for key, value in thing.items():
            yield from _formulas_of(value, (*path, key), inner)
    elif isinstance(thing, tuple):
        for index, value in enumerate(thing):
            yield from _formulas_of(value, (*path, index), inner)


MOST_OF_A_SERIES = 500


@dataclass(slots=True)
class _Mistakes:
    source: Source
    context: BuildContext
    found: list[Problem] = field(default_factory=list)

    def report(self, keys: KeyPath, error: FormulaError, at: str = "") -> None:
        if isinstance(error, PoisonError):
            return  # reported where the mistake is
        message, _, advice = str(error).partition("; ")
        problem = problem_at(self.source, keys, message + at, advice=advice)
        self.found.append(replace(problem, place=f'make "{self.context.name}": {problem.place}'))

    def stop(self) -> None:
        if self.found:
            raise InputError(list(dict.fromkeys(self.found)))


@dataclass(frozen=True, slots=True, eq=False)
class _Curve:
    """A batten curve that formulas can call."""

    strip: Batten
    place_power: int
    height_power: int

    def __call__(self, place: object) -> Quantity:
        at = as_quantity(place)
        if at.power != self.place_power and at.value != 0:
            wanted = Quantity(at.value, self.place_power).kind
            raise FormulaError(f"each place on the curve is {wanted}, but this is {at.kind}; check its pins")
        return quantity(self.strip.y(float(at.value)), self.height_power)


def build_own(file: DesignFile, source: Source, values: Values, context: BuildContext) -> Build:
    """Return the parts of one item. Raises InputError with every mistake: at the job's line where a check fails, at the
    design file's where a formula can't be worked out or a part can't be drawn.
    """
    mistakes = _Mistakes(source, context)
    scope = _scope(file, values, context, mistakes)
    _judge(file, scope, context, mistakes)
    mistakes.stop()
    making = pieces.Making(context=context, report=mistakes.report)
    build = Build(
        shaped=pieces.series(file.part, "part", scope, making, _with(pieces.shaped, making)),
        sawn=pieces.series(file.sawn, "sawn", scope, making, _with(pieces.sawn, making)),
        rods=pieces.series(file.rod, "rod", scope, making, _with(pieces.rod, making)),
        strips=pieces.series(file.strip, "strip", scope, making, _with(pieces.strip, making)),
        bought=pieces.bought(file.bought, scope, making),
        hand_holes=pieces.series(file.hand_hole, "hand_hole", scope, making, _with(pieces.hand_hole, making)),
        facts=_facts(file, scope, mistakes),
        warnings=(),
    )
    _alike_names(build, mistakes)
    warnings = [*making.warnings, *_warned(file.warning, scope, context, mistakes)]
    mistakes.stop()
    return replace(build, warnings=tuple(dict.fromkeys(warnings)))


def _with(make: Callable[..., pieces.P], making: pieces.Making) -> Callable[..., pieces.P]:
    return lambda entry, name, scope: make(entry, name, scope, making)


def _scope(file: DesignFile, values: Values, context: BuildContext, mistakes: _Mistakes) -> Scope:
    """The scope of the whole item: parameters, the boards' thickness, then all named formulas."""
    unit = file.units
    scope = Scope(names={}, unit=unit, budget=Budget(work=context.work))
    names: dict[str, object] = {"thickness": quantity(context.thickness, 1)}
    for name, entry in file.parameter.items():
        names[name] = _known(name, entry.kind, values.by_name[name])
    scope = scope.with_names(names)
    for group, name in working_order(file):
        try:
            scope = scope.with_names({name: _named(file, group, name, scope)})
        except ShapeError as error:
            mistakes.report((group, name, *error.keys), error.cause)
            scope = scope.without([name])
    return scope


def _known(name: str, kind: str, value: Value) -> object:
    if kind == "lengths":
        assert isinstance(value, tuple)
        return Series(name, tuple(quantity(one, 1) for one in value if isinstance(one, (int, float))))
    if isinstance(value, (bool, str)):
        return value
    assert isinstance(value, (int, float))
    if kind == "length":
        # Back to the exact length in the file, which was read as a float of mm.
        return Quantity(quantity(value).value.limit_denominator(10**9), 1)
    return quantity(quantity(value).value.limit_denominator(10**9))


def _named(file: DesignFile, group: str, name: str, scope: Scope) -> object:
    if group == "value":
        try:
            return scope.value(file.value[name])
        except FormulaError as error:
            raise ShapeError((), error) from None
    return _series(name, file.series[name], scope) if group == "series" else _curve(file.curve[name], scope)


def _series(name: str, entry: SeriesEntry, scope: Scope) -> Series:
    try:
        n = scope.count(entry.count, most=MOST_OF_A_SERIES)
    except FormulaError as error:
        raise ShapeError(("count",), error) from None
    values: list[Quantity] = []
    for i in range(n):
        try:
            values.append(as_quantity(scope.at_step(i, n).value(entry.each)))
        except PoisonError as error:
            raise ShapeError(("each",), error) from None
        except FormulaError as error:
            message, _, advice = str(error).partition("; ")
            raise ShapeError(("each",), FormulaError(f"{message} where i is {i} of {n}; {advice}")) from None
    return Series(name, tuple(values))


def _curve(entry: CurveEntry, scope: Scope) -> _Curve:
    pins: list[tuple[Quantity, Quantity]] = []
    for index, pin in enumerate(entry.pins):
        both: list[Quantity] = []
        for axis, one in enumerate(pin):
            try:
                both.append(as_quantity(scope.value(one)))
            except FormulaError as error:
                raise ShapeError(("pins", index, axis), error) from None
        pins.append((both[0], both[1]))
    powers = []
    for axis in (0, 1):
        kinds = {pin[axis].power for pin in pins if pin[axis].value != 0 or pin[axis].power}
        if len(kinds) > 1:
            message = "some of its pins are lengths and some plain numbers; give all a unit, or none"
            raise ShapeError(("pins",), FormulaError(message))
        powers.append(next(iter(kinds), 0))
    try:
        strip = natural_spline([(float(x.value), float(y.value)) for x, y in pins])
    except ValueError:
        raise ShapeError(
            ("pins",), FormulaError("the pins are out of order; give each a place greater than the one before")
        ) from None
    return _Curve(strip, powers[0], powers[1])


def _judge(file: DesignFile, scope: Scope, context: BuildContext, mistakes: _Mistakes) -> None:
    """Add a mistake for each of the design's checks that fails, at the job's parameter."""
    for index, check in enumerate(file.check):
        try:
            if scope.yes(check.require):
                continue
            message = check.message.words(scope, unit=context.unit)
            stated = check.advice
            advice = "change it in the job" if stated is None else stated.words(scope, unit=context.unit)
        except FormulaError as error:
            mistakes.report(("check", index, "require"), error)
            continue
        mistakes.found.append(context.problem(check.parameter or "", message, advice))


def _warned(entries: Sequence[CheckEntry], scope: Scope, context: BuildContext, mistakes: _Mistakes) -> list[str]:
    warnings: list[str] = []
    for index, entry in enumerate(entries):
        try:
            if not scope.yes(entry.require):
                words = [
                    one.words(scope, unit=context.unit) for one in (entry.message, entry.advice) if one is not None
                ]
                warnings.append("; ".join(words))
        except FormulaError as error:
            mistakes.report(("warning", index, "require"), error)
    return warnings


def _facts(file: DesignFile, scope: Scope, mistakes: _Mistakes) -> tuple[tuple[str, float], ...]:
    facts: list[tuple[str, float]] = []
    for name, one in file.fact.items():
        try:
            facts.append((name, scope.length(one, greatest=1e6)))
        except FormulaError as error:
            mistakes.report(("fact", name), error)
    return tuple(facts)


def _alike_names(build: Build, mistakes: _Mistakes) -> None:
    """Mistakes with the names of parts: tabs, lists and labels find parts by name."""
    names = [one.name for one in build.shaped] + [one.name for one in build.sawn] + [one.name for one in build.sticks]
    again = sorted({name for name in names if names.count(name) > 1})
    for name in again:
        message = f'two pieces have the name "{name}"; make the names differ, such as with {{i + 1}}'
        mistakes.report((), FormulaError(message))
    for hole in build.hand_holes:
        if hole.part not in names:
            mistakes.report(
                ("hand_hole",), FormulaError(f'there is no piece "{hole.part}" to drill; name one of the parts')
            )
    if not (build.shaped or build.sawn or build.sticks or build.bought) and not mistakes.found:
        mistakes.report((), FormulaError("with these values it makes nothing; check its counts and whens"))
