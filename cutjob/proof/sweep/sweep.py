"""Judges one board: the cutter is swept along the programs that were read, and the wood left compared with the
parts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from cutjob.proof.board.board_case import BoardCase, Judge
from cutjob.proof.finding import Finding
from cutjob.proof.sweep.descents import judge_descents
from cutjob.proof.sweep.direction import judge_direction, judge_ways_in
from cutjob.proof.sweep.floors import judge_floors, judge_walls, worst_wall
from cutjob.proof.sweep.gouge import count_gouges, judge_gouges, judge_overcut, worst_gouge
from cutjob.proof.sweep.held import judge_held
from cutjob.proof.sweep.hold_downs import judge_hold_downs
from cutjob.proof.sweep.keep_out import judge_keep_outs
from cutjob.proof.sweep.lettering import judge_lettering
from cutjob.proof.sweep.nose import judge_nose
from cutjob.proof.sweep.order import judge_order
from cutjob.proof.sweep.passes import judge_passes
from cutjob.proof.sweep.piercing import judge_piercing
from cutjob.proof.sweep.purpose import judge_purpose
from cutjob.proof.sweep.skin import judge_skin
from cutjob.proof.sweep.tabs import judge_tabs
from cutjob.proof.sweep.uncut_wood import judge_entered, judge_uncut, judge_unmarked, worst_uncut
from cutjob.proof.sweep.windows import judge_strays, judge_windows

# In the order in which their findings are reported.
_JUDGES: tuple[Judge, ...] = (
    judge_gouges, judge_tabs, judge_uncut, judge_entered, judge_walls, judge_unmarked, judge_floors, judge_skin,
    judge_order, judge_passes, judge_descents, judge_piercing, judge_overcut, judge_direction, judge_ways_in,
    judge_purpose, judge_strays, judge_keep_outs, judge_nose, judge_lettering, judge_hold_downs, judge_windows,
    judge_held,
)  # fmt: skip
_MANY = 5_000  # motions that run into parts: not a mistake, but another job's file, or no program
_SAMPLE, _WILD = 1_000, 0.2  # motions judged first, and the share of them that must run into parts


@dataclass(frozen=True, slots=True)
class Swept:
    """The findings on one board, with the worst gouge and the most wood left, mm."""

    findings: tuple[Finding, ...]
    worst_gouge: float
    worst_left: float


def sweep_board(case: BoardCase) -> Swept:
    """Return the judgement over all programs of a board.

    Gouges are judged with each program's own cutter, completeness and order over all of them together.
    """
    wild = _run_wild(case)
    if wild is not None:
        return wild
    findings = tuple(finding for judge in _JUDGES for finding in judge(case))
    return Swept(findings, worst_gouge(case), max(worst_uncut(case), worst_wall(case)))


def _run_wild(case: BoardCase) -> Swept | None:
    """The findings on a board with thousands of motions through parts; None for any other.

    Each of these motions would be paired with every contour that it crosses. So only a sample is judged, and the board
    is refused for it.
    """
    tracks, ends = case.tracks, case.ends_in_parts
    wrong = np.unique(ends.track[~ends.allowed])
    if len(wrong) <= _MANY:
        # Moves may run right through parts and end beside them.
        wrong = np.arange(len(tracks), dtype=np.int64)
    if len(wrong) <= _MANY:
        return None
    sample = replace(case, tracks=tracks.take(wrong[np.linspace(0, len(wrong) - 1, _SAMPLE).astype(np.int64)]))
    share = count_gouges(sample) / _SAMPLE
    if share < _WILD or share * len(wrong) < _MANY:
        return None
    files = ", ".join(case.programs[index].file for index in np.unique(tracks.program[wrong]).tolist())
    message = f"some {share * len(wrong):.0f} motions run into parts; nothing else of the board was judged"
    return Swept((*judge_gouges(sample), case.error("gouge", message, file=files)), worst_gouge(sample), 0.0)
