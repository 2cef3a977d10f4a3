"""Makes a design of a Python function, and finds the designs of installed packages.

A package names its designs in the entry point group `cutjob.designs`:

    [project.entry-points."cutjob.designs"]
    plant-stake = "garden_goods:plant_stake"

where `plant_stake` is a `Design`, or a function with the decorator `design`.
"""

from __future__ import annotations

import importlib.metadata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from cutjob.designs.design import BuildContext, Design
from cutjob.designs.parameter import Parameter, Values
from cutjob.errors import CutjobError, InputError, Problem
from cutjob.parts.part import Build

GROUP = "cutjob.designs"


def design(
    *,
    name: str,
    summary: str,
    parameters: Sequence[Parameter] = (),
    sizes: Mapping[str, Mapping[str, object]] | None = None,
) -> Callable[[Callable[[Values, BuildContext], Build]], Design]:
    """Make a design of a function that turns checked values (lengths in mm) into a `Build`."""

    def made(function: Callable[[Values, BuildContext], Build]) -> Design:
        return Design(
            name=name,
            summary=summary,
            parameters=tuple(parameters),
            sizes=dict(sizes) if sizes else {"medium": {}},
            build=function,
        )

    return made


def installed_names() -> tuple[str, ...]:
    """Return the names of the designs in installed packages, without loading them."""
    return tuple(sorted({point.name for point in importlib.metadata.entry_points(group=GROUP)}))


def load_installed(name: str) -> Design:
    """Return the design of that name. Raises InputError with one message where its package has a mistake."""
    points = [point for point in importlib.metadata.entry_points(group=GROUP) if point.name == name]
    packages = sorted({point.dist.name if point.dist else "?" for point in points})
    if len({point.value for point in points}) > 1:
        raise _fault(name, packages, "several packages have a design of this name", "keep one of them")
    try:
        found = points[0].load()
    except (Exception, SystemExit) as error:
        said = " ".join(str(error).split())[:200]
        raise _fault(name, packages, f"it can't be loaded ({type(error).__name__}: {said})", _FIX) from None
    if not isinstance(found, Design) or not found.sizes or not found.summary:
        advice = "name a Design, or a function with the decorator cutjob.designs.own.python_design.design"
        raise _fault(name, packages, f"{points[0].value} is no design", advice)
    return replace(found, name=name, build=_guarded(found, name, packages))


_FIX = "fix or remove the package"


def _guarded(found: Design, name: str, packages: Sequence[str]) -> Callable[[Values, BuildContext], Build]:
    """The design's function; an error in it is reported as one message at the job's line."""

    def build(values: Values, context: BuildContext) -> Build:
        try:
            made = found.build(values, context)
        except CutjobError:
            raise
        except Exception as error:
            said = " ".join(str(error).split())[:200]
            message = f'the design "{name}" of {_of(packages)} failed ({type(error).__name__}: {said})'
            raise InputError(context.problem("design", message, _FIX)) from None
        if not isinstance(made, Build):
            message = f'the design "{name}" of {_of(packages)} returned {type(made).__name__}, not a Build'
            raise InputError(context.problem("design", message, _FIX))
        return made

    return build


def _of(packages: Sequence[str]) -> str:
    return f"the package{'s' if len(packages) > 1 else ''} {' and '.join(packages)}"


def _fault(name: str, packages: Sequence[str], message: str, advice: str) -> InputError:
    return InputError(Problem(message=message, advice=advice, place=f'design "{name}" of {_of(packages)}'))
