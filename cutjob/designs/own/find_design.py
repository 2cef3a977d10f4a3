"""Finds a design by its name in a job: one that comes with cutjob, one from an installed package, or a design file.

It also describes a design in lines for the terminal: its summary, sizes, and parameters with their limits.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from cutjob.designs.catalogue import CATALOGUE, find
from cutjob.designs.design import Design
from cutjob.designs.own.python_design import installed_names, load_installed
from cutjob.designs.own.read_design import read_design
from cutjob.designs.parameter import Parameter
from cutjob.errors import InputError, Location, Problem
from cutjob.units import Unit


def design_lines(design: Design, *, unit: Unit | None = None) -> Iterator[str]:
    """Yield the name with the design's summary, then its sizes and parameters, indented; in the design's own unit where
    none is given.
    """
    unit = unit or design.unit
    yield f"{design.name}  {design.summary}"
    yield f"    sizes: {', '.join(design.sizes)}"
    width = max((len(parameter.name) for parameter in design.parameters), default=0)
    for parameter in design.parameters:
        value = _values(design, parameter, unit)
        yield f"    {parameter.name.ljust(width)}  {parameter.help}; {parameter.expects(unit=unit)}{value}"


def _values(design: Design, parameter: Parameter, unit: Unit) -> str:
    """The default of a parameter, or its values by size."""
    if parameter.required:
        return "; must be given"
    if parameter.kind == "pins":
        return "; has a default"
    by_size = [design.written(parameter, size, unit=unit) for size in design.sizes]
    if any(parameter.name in size for size in design.sizes.values()) and len(set(map(str, by_size))) > 1:
        return f"; by size {', '.join(map(_value, by_size))}"
    raw = by_size[0] if by_size else design.written(parameter, None, unit=unit)
    return "" if raw in (None, []) else f"; default {_value(raw)}"


def _value(raw: Any) -> str:
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, (list, tuple)):
        return f"[{', '.join(map(_value, raw))}]"
    return "none" if raw is None else str(raw)


def is_path(name: str) -> bool:
    """Whether a design's name is the path of a file."""
    return name.lower().endswith(".toml") or "/" in name or "\\" in name


def find_design(name: str, *, folder: Path, place: str = "", location: Location | None = None) -> Design:
    """Return the design of that name; a path is taken from `folder`.

    Raises InputError: every mistake of a design file at its own line, others at `place` and `location`.
    """
    if name in CATALOGUE:
        return CATALOGUE[name]
    if is_path(name):
        try:
            return read_design(folder / name, name=name)
        except InputError as error:
            raise InputError([_placed(problem, place, location) for problem in error.problems]) from None
    if name in (names := installed_names()):
        try:
            return load_installed(name)
        except InputError as error:
            raise InputError([replace(one, location=location) for one in error.problems]) from None
    try:
        return find(name, place=place, location=location)
    except InputError as error:
        more = f", {', '.join(names)}" if names else ""
        advice = f"{error.problems[0].advice}{more}, or the path of a design file (.toml)"
        raise InputError(replace(error.problems[0], advice=advice)) from None


def _placed(problem: Problem, place: str, location: Location | None) -> Problem:
    """A problem of the file as a whole, at the job's line that names it; a problem with a line keeps its own."""
    where = problem.location
    if where is None or where.line is not None or location is None:
        return problem
    return replace(problem, message=f"{where.file}: {problem.message}", place=place, location=location)
