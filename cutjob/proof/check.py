"""One file checked by itself: the rules as far as the file alone allows, and with a plan the whole sweep.

A plan is the data of `plan.json`, whatever wrote it. Its outlines are polygons, so the sweep judges against those.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import PurePath
from typing import Any

from cutjob.errors import InputError, Problem
from cutjob.job.machine import Machine
from cutjob.proof.finding import Finding, ProofReport
from cutjob.proof.plan_reader import planned_program
from cutjob.proof.prove import standing_of
from cutjob.proof.rs274 import read_gcode
from cutjob.proof.rules import judge_rules
from cutjob.proof.standing import Standing
from cutjob.proof.sweep import sweep_board


def check_program(data: bytes, *, name: str, machine: Machine, plan: Mapping[str, Any] | None) -> ProofReport:
    """Return what is wrong with one G-code file; without a plan the stock's top is taken to lie at Z 0.

    Where the plan spreads the board over several files, what this one doesn't cut is no fault of it, and whether
    another has made room for it can't be said here: cuts that go deep in one go are only warned of then.
    Raises InputError when the plan doesn't name the file or is not a plan, and for a machine that reads no G-code.
    """
    if "gcode" not in machine.writes:
        raise InputError(
            Problem(
                place=f'machine "{machine.name}"',
                message="reads no G-code, so no G-code file can be right for it",
                advice='name the machine the file is for; one that reads G-code has "gcode" in its writes',
            )
        )
    reading = read_gcode(data, name=name)
    if plan is None:
        findings = judge_rules(Standing(reading=reading, machine=machine))
        return ProofReport(findings=tuple(findings), worst_gouge=0.0, worst_left=0.0)
    planned = planned_program(plan, PurePath(name).name, machine)
    findings = judge_rules(standing_of(planned.program, reading, machine))
    if reading.problems:
        return ProofReport(findings=tuple(findings), worst_gouge=0.0, worst_left=0.0)
    swept = sweep_board(planned.program.board, [planned.program], [reading], machine)
    others = [_elsewhere(finding) if planned.one_of_several else finding for finding in swept.findings]
    kept = [finding for finding in others if finding is not None]
    return ProofReport(findings=(*findings, *kept), worst_gouge=swept.worst_gouge, worst_left=swept.worst_left)


def _elsewhere(finding: Finding) -> Finding | None:
    """Drop what another file of the board may see to, and warn of what one may have made room for."""
    if finding.check == "missing":
        return None
    return replace(finding, severity="warning") if finding.check == "depth per pass" else finding
