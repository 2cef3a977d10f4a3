"""The spindle's nose, the nut that holds the cutter: it meets neither the stock nor what stands on it. mm.

It is as wide as the profile says and hangs above the tip by what the cutter sticks out. Of a cutter of which the
profile doesn't say that, nothing is known and nothing is found.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from cutjob.proof.board.board_case import BoardCase
from cutjob.proof.board.tracks import Tracks
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES


def _stickouts(case: BoardCase) -> dict[int, float]:
    """By how much each cutter sticks out of which that is known, by number."""
    return {
        cutter.number: cutter.stickout
        for program in case.programs
        for cutter in program.cutters
        if cutter.stickout is not None
    }


def noses_below(case: BoardCase, tracks: Tracks, level: float) -> Tracks | None:
    """Return the pieces of motions on which the nose comes below `level` over the stock's top, as wide as it is; None
    where no width or no cutter's length is known.
    """
    nose, known = case.machine.spindle.nose_diameter, _stickouts(case)
    if nose is None or not known or not case.machine.has_spindle:
        return None
    out = np.array([known.get(number, np.inf) for number in tracks.cutter.tolist()], dtype=float)
    raised = replace(tracks.curves, z0=tracks.curves.z0 + out, z1=tracks.curves.z1 + out)
    own = np.flatnonzero(np.isfinite(out))
    low = replace(tracks, curves=raised).take(own).below(level - TOLERANCES.output)[1]
    return replace(low, radius=np.full(len(low), nose / 2))


def judge_nose(case: BoardCase) -> Iterator[Finding]:
    """Yield a finding for each cutter that goes deeper than it sticks out: the nose would meet the stock."""
    if not case.machine.has_spindle:
        return
    tracks = case.motions
    for number, out in sorted(_stickouts(case).items()):
        own = np.flatnonzero(tracks.cutter == number)
        if not len(own):
            continue
        worst = int(own[np.argmin(tracks.curves.lowest[own])])
        deep = float(-tracks.curves.lowest[worst])
        if deep > out + TOLERANCES.acceptance:
            message = (
                f"cutter {number} goes {deep:.2f} mm deep and sticks out {out:.2f} mm: the nut would meet the stock"
            )
            yield case.error("nose", message, worst, of=tracks, measured=deep, limit=out)
