"""The spindle's nose, the nut that holds the cutter: it meets neither the stock nor what stands on it. mm.

It is as wide as the profile says and hangs above the tip by what the cutter sticks out. Of a cutter of which the
profile doesn't say that, nothing is known and nothing is found.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from cutjob.job.machine import Machine
from cutjob.proof.board.tracks import Tracks
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES


def stickouts(programs: tuple[ExpectedProgram, ...]) -> dict[int, float]:
    """Return by how much each cutter sticks out of which that is known, by number."""
    return {
        cutter.number: cutter.stickout
        for program in programs
        for cutter in program.cutters
        if cutter.stickout is not None
    }


def noses_below(
    tracks: Tracks, level: float, *, programs: tuple[ExpectedProgram, ...], machine: Machine
) -> Tracks | None:
    """Return the pieces of motions on which the nose comes below `level` over the stock's top, as wide as it is; None
    where no width or no cutter's length is known.
    """
    nose, known = machine.spindle.nose_diameter, stickouts(programs)
    if nose is None or not known or machine.kind != "router":
        return None
    out = np.array([known.get(number, np.inf) for number in tracks.cutter.tolist()], dtype=float)
    raised = replace(tracks.curves, z0=tracks.curves.z0 + out, z1=tracks.curves.z1 + out)
    own = np.flatnonzero(np.isfinite(out))
    low = replace(tracks, curves=raised).take(own).below(level - TOLERANCES.output)[1]
    return replace(low, radius=np.full(len(low), nose / 2))


def judge_nose(tracks: Tracks, programs: tuple[ExpectedProgram, ...], machine: Machine) -> list[Finding]:
    """Return a finding for each cutter that goes deeper than it sticks out: the nose would meet the stock."""
    if machine.kind != "router":
        return []
    lowest = np.minimum(tracks.curves.z0, tracks.curves.z1)
    found = []
    for number, out in sorted(stickouts(programs).items()):
        own = np.flatnonzero(tracks.cutter == number)
        if not len(own):
            continue
        worst = int(own[np.argmin(lowest[own])])
        if -lowest[worst] > out + TOLERANCES.acceptance:
            found.append(
                Finding(
                    check="nose",
                    severity="error",
                    message=f"cutter {number} goes {-lowest[worst]:.2f} mm deep and sticks out {out:.2f} mm: the nut "
                    "would meet the stock",
                    file=programs[int(tracks.program[worst])].file,
                    line=int(tracks.line[worst]),
                    at=(float(tracks.curves.x0[worst]), float(tracks.curves.y0[worst])),
                    measured=float(-lowest[worst]),
                    limit=out,
                )
            )
    return found
