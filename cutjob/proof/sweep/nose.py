"""The spindle's nose with the nut that holds the cutter: it must not meet the stock or anything on it. mm.

It is as wide as the profile says, and above the tip by the cutter's stickout. A cutter whose stickout the profile
doesn't give is not checked.
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
    """The known stickouts, by number of the cutter."""
    return {
        cutter.number: cutter.stickout
        for program in case.programs
        for cutter in program.cutters
        if cutter.stickout is not None
    }


def noses_below(case: BoardCase, tracks: Tracks, level: float) -> Tracks | None:
    """Return the pieces of motions on which the nose is below `level` over the stock's top, with the nose's width; None
    where the width or all stickouts are unknown.
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
    """Yield a finding for each cutter that goes deeper than its stickout: the nose would meet the stock."""
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
