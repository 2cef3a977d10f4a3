"""The names a design file gives: in which order they are worked out, and which sums name what is not there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from graphlib import CycleError, TopologicalSorter

from pydantic import BaseModel

from cutjob.designs.own.functions import CONSTANTS, FUNCTIONS, SPECIAL
from cutjob.designs.own.model import DesignFile, Repeat, SeriesEntry, SeveralEntry, Step
from cutjob.designs.own.spelling import Sum
from cutjob.designs.own.wording import Wording
from cutjob.errors import Problem, closest
from cutjob.job.fields import KeyPath
from cutjob.job.read_toml import problem_at
from cutjob.job.source import Source

GROUPS = ("value", "series", "curve")


def working_order(file: DesignFile) -> tuple[tuple[str, str], ...]:
    """Return values, series and curves as (group, name), each after those it takes. Raises CycleError."""
    group_of = {name: group for group in GROUPS for name in getattr(file, group)}
    graph: dict[str, set[str]] = {}
    for name, group in group_of.items():
        taken: set[str] = set()
        for _, one, _ in _sums_of(getattr(file, group)[name], (), ()):
            taken |= (one.names | one.calls) & set(group_of)
        graph[name] = taken
    return tuple((group_of[name], name) for name in TopologicalSorter(graph).static_order())


def naming_problems(file: DesignFile, source: Source) -> list[Problem]:
    """Return every use of a name that is not known where it stands, names given twice, and sums in a circle."""
    problems: list[Problem] = []
    seen: dict[str, str] = {}
    for group in ("parameter", *GROUPS):
        for name in getattr(file, group):
            if name in seen:
                message, advice = f'"{name}" is the name of a {seen[name]} already', "take another name"
                problems.append(problem_at(source, (group, name), message, advice=advice))
            seen.setdefault(name, group)
    known = {*seen, *CONSTANTS, "thickness"}
    callable_names = {*FUNCTIONS, *file.series, *file.curve}
    callable_names |= {name for name, one in file.parameter.items() if one.kind == "lengths"}
    for path, one, inner in _sums_of(file, (), ()):
        problems += _unknown(source, path, one, known | set(inner), callable_names, in_series="n" in inner)
    try:
        working_order(file)
    except CycleError as error:
        names = [str(name) for name in error.args[1]]
        group = next(group for group in GROUPS if names[0] in getattr(file, group))
        message = f"it takes itself: {' takes '.join(reversed(names))}"
        problems.append(problem_at(source, (group, names[0]), message, advice="break the circle"))
    return problems


def _unknown(
    source: Source, path: KeyPath, one: Sum, known: set[str], callables: set[str], *, in_series: bool
) -> Iterator[Problem]:
    for name in sorted(one.names - known):
        if name in ("i", "n", "k"):
            advice = "i and n stand only where there is a count, k only in a repeat"
        elif name in FUNCTIONS:
            advice = f"{name} is a function; write {name}( ) with what it takes"
        else:
            near = closest(name, known)
            advice = f'did you mean "{near}"?' if near else f"known here: {', '.join(sorted(known - set(CONSTANTS)))}"
        yield problem_at(source, path, f'"{name}" is not known here', advice=advice)
    for name in sorted(one.calls - callables - {"graded"}):
        if name in known:
            message, advice = (
                f'"{name}" is one value and takes no ( )',
                "write it without, or with * before the bracket",
            )
        else:
            near = closest(name, callables | set(SPECIAL))
            message = f'there is no function or series "{name}"'
            advice = f'did you mean "{near}"?' if near else f"known: {', '.join(sorted(callables | set(SPECIAL)))}"
        yield problem_at(source, path, message, advice=advice)
    if "graded" in one.calls and not in_series:
        yield problem_at(source, path, "graded stands where there is no count", advice="use it in a series")


def _sums_of(thing: object, path: KeyPath, inner: tuple[str, ...]) -> Iterator[tuple[KeyPath, Sum, tuple[str, ...]]]:
    """Yield every sum in a model with its key path and the counting names known there."""
    if isinstance(thing, Sum):
        yield path, thing, inner
    elif isinstance(thing, Wording):
        for one in thing.sums:
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
            yield from _sums_of(getattr(thing, key), (*path, info.alias or key), names)
    elif isinstance(thing, Mapping):
        for key, value in thing.items():
            yield from _sums_of(value, (*path, key), inner)
    elif isinstance(thing, tuple):
        for index, value in enumerate(thing):
            yield from _sums_of(value, (*path, index), inner)
