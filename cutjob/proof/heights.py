"""How high the cutter was where something was found: from a finding's line to the height of what the line does. mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.reading import Reading


def with_heights(
    findings: Sequence[Finding], programs: Sequence[ExpectedProgram], readings: Sequence[Reading]
) -> tuple[Finding, ...]:
    """Return the findings, those that have a line and a place with the lowest end of the line's motions.

    Heights count from the stock's top. What has a height already keeps it.
    """
    wanted = {(finding.file, finding.line) for finding in findings if finding.z is None and finding.at is not None}
    lowest: dict[tuple[str, int | None], float] = {}
    for program, reading in zip(programs, readings, strict=True):
        lines = {line for file, line in wanted if file == program.file and line is not None}
        for motion in reading.motions if lines else ():
            if motion.line in lines and motion.z_known:
                key = (program.file, motion.line)
                height = motion.end[2] - program.stock_top_z
                lowest[key] = min(lowest.get(key, height), height)
    return tuple(
        replace(finding, z=lowest[finding.file, finding.line])
        if finding.z is None and finding.at is not None and (finding.file, finding.line) in lowest
        else finding
        for finding in findings
    )
