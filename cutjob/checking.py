"""The check of one G-code file as a user asks for it: files and options in, what was found and its picture out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from cutjob.errors import InputError, Location, Problem
from cutjob.findings_picture import findings_picture, program_as_read, ring_numbers
from cutjob.job.file_bytes import bytes_of
from cutjob.job.machine import Machine
from cutjob.job.read_machine import read_machine
from cutjob.plan_file import read_plan
from cutjob.proof.check import Checked, Told, examine_program
from cutjob.proof.finding import ProofReport
from cutjob.units import Unit, parse_length

_GREATEST_PROGRAM = 10_000_000  # bytes; a larger one has more motions than are judged
_GREATEST_THICKNESS = 1000.0  # mm


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckResult:
    """What a check came to: the report, the unit to tell places in, the number of each finding's ring in the picture
    (None where there is none), and what could not be judged.
    """

    report: ProofReport
    units: Unit
    rings: tuple[int | None, ...]
    not_judged: tuple[str, ...]


def check_file(
    file: Path,
    *,
    machine: str,
    plan: Path | None = None,
    picture: Path | None = None,
    thickness: str | None = None,
    material: str | None = None,
    cutter: int | None = None,
) -> CheckResult:
    """Judge a G-code file for a machine, a profile's name or path, and with a plan.json against its parts.

    With a plan, `picture` is where an SVG of the board is written with what the file does and the places found ringed.
    `thickness`, `material` and the number of the `cutter` are for files without a plan; a bare thickness is in the
    profile's unit. Raises InputError with everything wrong in what was given.
    """
    problems: list[Problem] = []
    if plan is not None and (thickness, material, cutter) != (None, None, None):
        message = "the plan says the thickness, the material and the cutter already"
        advice = "leave out --thickness, --material and --cutter, or --plan"
        problems.append(Problem(place="--plan", message=message, advice=advice))
    if plan is None and picture is not None:
        message = "without a plan there is no board to draw"
        problems.append(Problem(place="--picture", message=message, advice="give --plan too"))
    data = _collected(problems, lambda: bytes_of(file, most=_GREATEST_PROGRAM, advice="split it, or check its name"))
    profile: Machine | None = _collected(problems, lambda: read_machine(machine, beside=None))
    plan_data = _collected(problems, lambda: read_plan(plan, file.name)) if plan is not None else None
    thick = _collected(problems, lambda: _thickness(thickness, "mm" if profile is None else profile.units))
    if data is None or profile is None or problems:
        raise InputError(problems)
    told = Told(thickness=thick, material=material or "", cutter=cutter)
    try:
        checked = examine_program(data, name=str(file), machine=profile, plan=plan_data, told=told)
    except InputError as error:
        raise InputError([_in_plan(problem, plan) for problem in error.problems]) from None
    units = _units_of(plan_data, inches=checked.reading.inches)
    rings: tuple[int | None, ...] = (None,) * len(checked.report.findings)
    if picture is not None:
        rings = _draw(picture, checked, units=units, title=f"Check of {file.name}")
    return CheckResult(report=checked.report, units=units, rings=rings, not_judged=checked.not_judged)


def _draw(picture: Path, checked: Checked, *, units: Unit, title: str) -> tuple[int | None, ...]:
    """Write the picture of a file judged with its plan, and return the numbers of the findings' rings."""
    findings = checked.report.findings
    if checked.program is None:
        return (None,) * len(findings)
    programs = [program_as_read(checked.reading, checked.program)]
    data = findings_picture(checked.program.board, findings=findings, programs=programs, units=units, title=title)
    try:
        picture.write_bytes(data)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        message, advice = f"the picture can't be written: {reason}", "give another place for it"
        raise InputError(Problem(message=message, advice=advice, location=Location(file=str(picture)))) from None
    return ring_numbers(findings)


def _thickness(text: str | None, unit: Unit) -> float | None:
    if text is None:
        return None
    if "/" in text and unit == "mm" and text.strip().replace("/", "").replace(" ", "").isdigit():
        # A fraction means inches wherever it is said, and taken for mm it would judge the depth by a veneer.
        message, advice = f"{text!r} of what? The profile counts in mm", f'write "{text.strip()} in"'
        raise InputError(Problem(place="--thickness", message=message, advice=advice))
    try:
        value = parse_length(text, unit=unit)
    except ValueError as error:
        raise InputError(Problem(place="--thickness", message=str(error))) from None
    if not 0 < value < _GREATEST_THICKNESS:
        advice = "give it as measured, a stack as a whole"
        raise InputError(Problem(place="--thickness", message=f"{text!r} is no thickness of stock", advice=advice))
    return value


def _in_plan(problem: Problem, plan: Path | None) -> Problem:
    """A problem of a plan's data with the plan's file before it."""
    own = plan is not None and problem.location is None and problem.place.startswith("plan")
    return replace(problem, location=Location(file=str(plan))) if own else problem


def _units_of(plan: dict[str, Any] | None, *, inches: bool) -> Unit:
    """The unit to tell places in: the job's, or where no plan says it, the file's."""
    units = None if plan is None else plan.get("units")
    if units == "in" or (units != "mm" and inches):
        return "in"
    return "mm"


def _collected(problems: list[Problem], read: Callable[[], Any]) -> Any:
    """What a reader returns; its problems go to the list, so that all files' mistakes show at once."""
    try:
        return read()
    except InputError as error:
        problems.extend(error.problems)
        return None
