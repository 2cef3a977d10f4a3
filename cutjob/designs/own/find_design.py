"""A design by what a job calls it: one that comes with cutjob, the path of a design file, or one of a package."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from cutjob.designs.catalogue import CATALOGUE, find
from cutjob.designs.design import Design
from cutjob.designs.own.python_design import installed_names, load_installed
from cutjob.designs.own.read_design import read_design
from cutjob.errors import InputError, Location, Problem


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
    """A problem of the file as such, told where the job names it; one with a line stays there."""
    where = problem.location
    if where is None or where.line is not None or location is None:
        return problem
    return replace(problem, message=f"{where.file}: {problem.message}", place=place, location=location)
