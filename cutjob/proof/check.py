"""One file checked by itself: the rules as far as the file alone allows, and with a plan the whole sweep.

A plan is the data of `plan.json`, whatever wrote it. Its outlines are polygons, so the sweep judges against those.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import PurePath
from typing import Any

from cutjob.errors import InputError, Location, Problem
from cutjob.job.machine import Cutter, Machine
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding, ProofReport
from cutjob.proof.heights import with_heights
from cutjob.proof.not_gcode import kind_of_bytes, why_no_program
from cutjob.proof.other_job import nothing_in_place
from cutjob.proof.plan_reader import planned_program
from cutjob.proof.prove import standing_of
from cutjob.proof.reading import Reading
from cutjob.proof.rs274 import read_gcode
from cutjob.proof.rules import judge_rules
from cutjob.proof.standing import Standing
from cutjob.proof.sweep import sweep_board


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the user says of a file from elsewhere: how thick the stock is (a stack as a whole, mm), its material, and
    the number of the cutter in the machine.
    """

    thickness: float | None = None
    material: str = ""
    cutter: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A file's report, what it says, what the plan says of it (None without a plan), and what was not judged."""

    report: ProofReport
    reading: Reading
    program: ExpectedProgram | None
    not_judged: tuple[str, ...]


def check_program(data: bytes, *, name: str, machine: Machine, plan: Mapping[str, Any] | None) -> ProofReport:
    """Return what is wrong with one G-code file; see `examine_program`."""
    return examine_program(data, name=name, machine=machine, plan=plan).report


def examine_program(
    data: bytes, *, name: str, machine: Machine, plan: Mapping[str, Any] | None, told: Told | None = None
) -> Checked:
    """Return what is wrong with one G-code file, and what it says.

    Without a plan the stock's top is taken to lie at Z 0, or where zero is on the spoilboard, at the thickness told.
    Where the plan spreads the board over several files, what this one doesn't cut is no fault of it, and whether
    another has made room for it can't be said here: cuts that go deep in one go are only warned of then.
    Raises InputError for a file that is no program, when the plan doesn't name the file, is another job's or not a
    plan, and for a machine that reads no G-code.
    """
    if "gcode" not in machine.writes:
        raise InputError(
            Problem(
                place=f'machine "{machine.name}"',
                message="reads no G-code, so no G-code file can be right for it",
                advice='name the machine the file is for; one that reads G-code has "gcode" in its writes',
            )
        )
    if plan is None:
        standing = _from_elsewhere(machine, told or Told())
        reading = _read(data, name)
        report = _report(judge_rules(replace(standing, reading=reading)))
        return Checked(report=report, reading=reading, program=None, not_judged=_not_judged(standing, reading))
    planned = planned_program(plan, PurePath(name).name, machine)
    reading, program = _read(data, name), planned.program
    findings = judge_rules(standing_of(program, reading, machine))
    if reading.problems:
        return Checked(
            report=_report(findings), reading=reading, program=program, not_judged=_not_judged(None, reading)
        )
    if nothing_in_place(program, reading, machine):
        raise InputError(
            Problem(
                message="nothing the file cuts lies where the plan has a part",
                advice="give the plan.json of the folder the file was made in, or make the job anew",
                location=Location(file=name),
            )
        )
    several = planned.one_of_several
    swept = sweep_board(program.board, [program], [reading], machine, one_of_several=several, holding_required=True)
    others = [
        _elsewhere(finding) if several else finding for finding in with_heights(swept.findings, [program], [reading])
    ]
    kept = [replace(finding, file=name) for finding in others if finding is not None]
    report = ProofReport(findings=(*findings, *kept), worst_gouge=swept.worst_gouge, worst_left=swept.worst_left)
    return Checked(report=report, reading=reading, program=program, not_judged=())


def _read(data: bytes, name: str) -> Reading:
    if reason := kind_of_bytes(data):
        raise _no_program(name, reason)
    reading = read_gcode(data, name=name)
    if reason := why_no_program(data, reading):
        raise _no_program(name, reason)
    return reading


def _no_program(name: str, reason: str) -> InputError:
    return InputError(
        Problem(message=reason, advice="give the file that the machine runs", location=Location(file=name))
    )


def _report(findings: list[Finding]) -> ProofReport:
    return ProofReport(findings=tuple(findings), worst_gouge=0.0, worst_left=0.0)


def _from_elsewhere(machine: Machine, told: Told) -> Standing:
    """What is known of a file no plan speaks of. Raises InputError for what the machine doesn't have."""
    router = machine.kind != "laser"
    on_spoilboard = router and machine.motion.z_zero == "spoilboard"
    problems = []
    if on_spoilboard and told.thickness is None:
        message = "zero is on the spoilboard by the profile, so the file doesn't say how high the stock is"
        problems.append(Problem(place="--thickness", message=message, advice="say how thick the stock is"))
    if told.material and told.material not in machine.materials:
        message = f'"{told.material}" has no feeds in the profile'
        known = ", ".join(machine.materials)
        problems.append(Problem(place="--material", message=message, advice=f"it has {known}" if known else ""))
    cutter = _told_cutter(machine, told)
    if told.cutter is not None and cutter is None:
        numbers = ", ".join(str(one.number) for one in machine.cutter)
        message = f"the profile has no cutter {told.cutter}"
        problems.append(Problem(place="--cutter", message=message, advice=f"it has {numbers}"))
    if problems:
        raise InputError(problems)
    return Standing(
        reading=read_gcode(b"", name=""),
        machine=machine,
        cutters=(cutter,) if cutter is not None else (),
        material=told.material,
        stock_top=(told.thickness or 0.0) if on_spoilboard else 0.0,
        height=told.thickness,
        planned=False,
    )


def _told_cutter(machine: Machine, told: Told) -> Cutter | None:
    """The cutter told; without one, that of a machine that has no other."""
    if told.cutter is None:
        return machine.cutter[0] if len(machine.cutter) == 1 else None
    return next((one for one in machine.cutter if one.number == told.cutter), None)


def _not_judged(standing: Standing | None, reading: Reading) -> tuple[str, ...]:
    """What a file without a plan, or one that can't be read to its end, was not judged by."""
    without: list[str] = []
    if reading.problems:
        lines = [problem.location.line for problem in reading.problems if problem.location is not None]
        without.append(f"anything from line {min(line or 1 for line in lines)} on, which can't be read")
    if standing is None:
        return tuple(without)
    without.append("what the file cuts (with --plan)")
    if standing.machine.kind != "laser" and standing.height is None:
        without.append("how far it goes below the stock (with --thickness)")
    known = standing.cutters or any(motion.tool for motion in reading.motions)
    if standing.material == "" or not known:
        wanted = [] if known else ["--cutter"]
        wanted += [] if standing.material else ["--material"]
        without.append(f"feeds by the table (with {' and '.join(wanted)})")
    return tuple(without)


def _elsewhere(finding: Finding) -> Finding | None:
    """Drop what another file of the board may see to, and warn of what one may have made room for."""
    if finding.check == "missing":
        return None
    return replace(finding, severity="warning") if finding.check == "depth per pass" else finding
