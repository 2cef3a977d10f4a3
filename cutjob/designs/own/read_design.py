"""Reads a design file into an ordinary `Design`, or into a list of every mistake in it with its line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache, partial
from pathlib import Path
from typing import Any

from cutjob.designs.design import Design
from cutjob.designs.own.building import build_own, naming_problems
from cutjob.designs.own.model import DesignFile, ParameterEntry
from cutjob.designs.parameter import Parameter
from cutjob.errors import InputError, Problem
from cutjob.files.fields import KeyPath
from cutjob.files.file_bytes import bytes_of
from cutjob.files.read_toml import problem_at, read_model, required
from cutjob.files.source import GREATEST_BYTES, Source, parse_source
from cutjob.files.values import BadValue, Kind, Length, Number, nearest
from cutjob.units import Unit, parse_length

_DEFAULT_SIZE = "medium"


def read_design(path: Path, *, name: str) -> Design:
    """Return the design of a file, called `name`. Raises InputError with every mistake in it."""
    data = bytes_of(path, most=GREATEST_BYTES, advice="a design is some kB of text; check the name")
    return _design(data, str(path), name)


@lru_cache(maxsize=64)
def _design(data: bytes, file_name: str, name: str) -> Design:
    source = parse_source(data, name=file_name)
    if "make" in source.data and "board" in source.data:
        problem = problem_at(source, ("make",), "this is a job, not a design", advice="name a design file")
        raise InputError(problem)
    file = required(read_model(source, DesignFile))
    problems = naming_problems(file, source)
    parameters: list[Parameter] = []
    for key, entry in file.parameter.items():
        try:
            parameters.append(_parameter(key, entry, file, source))
        except InputError as error:
            problems += error.problems
    sizes, mistakes = _sizes(file, parameters, source)
    for index, check in enumerate(file.check):
        if check.parameter is not None and check.parameter not in file.parameter:
            path: KeyPath = ("check", index, "parameter")
            mistakes.append(_no_parameter(check.parameter, file, source, path))
    problems += mistakes
    if problems:
        raise InputError(sorted(problems, key=lambda one: (one.location.line or 0) if one.location else 0))
    return Design(
        name=name,
        summary=file.summary,
        parameters=tuple(parameters),
        sizes=sizes,
        build=partial(build_own, file, source),
        unit=file.units,
    )


def _parameter(key: str, entry: ParameterEntry, file: DesignFile, source: Source) -> Parameter:
    path: KeyPath = ("parameter", key)
    limits = {word: _limit(entry, word, file.units, source, (*path, word)) for word in ("least", "greatest")}
    least, greatest = limits["least"], limits["greatest"]
    if least is not None and greatest is not None and least > greatest:
        message = "it is less than least"
        raise InputError(problem_at(source, (*path, "greatest"), message, advice="swap the two"))
    if (entry.kind == "choice") != bool(entry.choices):
        message = "a choice needs words to choose from" if entry.kind == "choice" else f"a {entry.kind} has no choices"
        advice = (
            'write choices = ["one", "another"]'
            if entry.kind == "choice"
            else 'leave them out, or write kind = "choice"'
        )
        raise InputError(problem_at(source, (*path, "choices"), message, advice=advice))
    if entry.kind in ("length", "lengths") and (least is None or least < 0):
        least = 0.0  # a piece of wood can't be shorter
    everywhere = bool(file.size) and all(key in values for values in file.size.values())
    parameter = Parameter(
        name=key,
        kind="yes_no" if entry.kind == "yes or no" else entry.kind,
        help=entry.help,
        least=least,
        greatest=greatest,
        choices=entry.choices,
        required=entry.default is None and not everywhere,
    )
    if entry.default is None:
        return parameter
    return replace(parameter, default=_raw(entry.default, parameter, file.units, source, (*path, "default")))


def _no_parameter(name: str, file: DesignFile, source: Source, path: KeyPath) -> Problem:
    advice = nearest(name, file.parameter) or "the design has none"
    return problem_at(source, path, f'there is no parameter "{name}"', advice=advice)


def _limit(entry: ParameterEntry, word: str, units: Unit, source: Source, path: KeyPath) -> float | None:
    raw = entry.least if word == "least" else entry.greatest
    if raw is None:
        return None
    if entry.kind in ("choice", "yes or no"):
        raise InputError(problem_at(source, path, f"a {entry.kind} has no limits", advice="leave it out"))
    kind = Length() if entry.kind in ("length", "lengths") else Number(-1e9, 1e9)
    limit: float = _read(kind, raw, units, source, path)
    return limit


def _sizes(
    file: DesignFile, parameters: list[Parameter], source: Source
) -> tuple[Mapping[str, Mapping[str, object]], list[Problem]]:
    """The sizes with their values in mm; a file without sizes has one with the defaults."""
    problems: list[Problem] = []
    known = {parameter.name: parameter for parameter in parameters}
    sizes: dict[str, dict[str, object]] = {}
    for size, values in file.size.items():
        sizes[size] = {}
        for key, raw in values.items():
            path: KeyPath = ("size", size, key)
            if key not in file.parameter:
                problems.append(_no_parameter(key, file, source, path))
            elif key in known:
                try:
                    sizes[size][key] = _raw(raw, known[key], file.units, source, path)
                except InputError as error:
                    problems += error.problems
    return sizes or {_DEFAULT_SIZE: {}}, problems


def _raw(raw: Any, parameter: Parameter, units: Unit, source: Source, path: KeyPath) -> Any:
    """A value of the file in the form that designs keep: lengths with a unit as written, other lengths in mm."""
    value = _read(parameter, raw, units, source, path)
    if parameter.kind == "length" and isinstance(raw, str):
        return raw if parse_length(raw, unit="in") == parse_length(raw, unit="mm") else value
    return list(value) if isinstance(value, tuple) else value


def _read(kind: Parameter | Kind[float], raw: Any, units: Unit, source: Source, path: KeyPath) -> Any:
    try:
        return kind.read(raw, unit=units)
    except BadValue as error:
        raise InputError(problem_at(source, path, error.message, advice=error.advice)) from None
