"""Through cuts that stop short: right through the stock, but not as far into the spoilboard as planned. mm.

A board a little thicker than stated, or a bed a little hollow, would leave a skin there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from cutjob.proof.coverage import Gaps, uncovered
from cutjob.proof.curves import portion_below
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.goals import MATERIAL, Goals
from cutjob.proof.left import MOST_TOLD, Through, discs
from cutjob.proof.near import touching
from cutjob.proof.nearness import Finder
from cutjob.proof.skin import skin_of
from cutjob.proof.stretches import Stretch, goal_length, reachable_stretches
from cutjob.proof.tracks import Tracks
from cutjob.tolerances import TOLERANCES

_SHORTEST = 0.1  # mm of a contour; less is where one motion runs into the next


def judge_overcut(
    tracks: Tracks,
    goals: Goals,
    through: Through,
    programs: tuple[ExpectedProgram, ...],
    *,
    ramp_degrees: float | None = None,
) -> list[Finding]:
    """Return findings for contours cut through, but not to the planned depth; beside tabs a ramp may still fall, the
    feed table's or, where tabs are ramped, that of `ramp_degrees`.
    """
    planned = np.array([program.overcut for program in programs])
    own = planned[tracks.program[through.index]]
    level = -(goals.layout.height + own) + TOLERANCES.acceptance
    shallow = np.maximum(through.curves.z0, through.curves.z1) > level
    pairs = through.pairs
    # Over a skin only holes go right through; how far the others go down is judged as wood left.
    judged = np.zeros(len(goals.curves), dtype=bool)
    judged[goals.rows(*(("through",) if skin_of(programs) > 0 else MATERIAL))] = True
    pairs = pairs.take(judged[pairs.row])
    rows = np.unique(pairs.row[shallow[pairs.track]])
    if not len(rows):
        return []
    pairs = pairs.take(np.isin(pairs.row, rows))
    kept, deep = portion_below(through.curves.take(pairs.track), level[pairs.track])
    gaps = uncovered(
        goals.curves.take(rows),
        deep,
        touching(tracks)[through.index][pairs.track[kept]],
        target=np.searchsorted(rows, pairs.row[kept]),
        cut=np.arange(len(kept), dtype=np.int64),
    )
    short = _reachable(goals, through, Gaps(rows[gaps.target], gaps.first, gaps.last))
    fall = max(_run(program, ramp_degrees) for program in programs)
    beside: dict[int, list[Stretch]] = {}
    for stretch in through.stretches:
        beside.setdefault(stretch.goal, []).append(stretch)
    length: dict[int, float] = {}
    for stretch in short:
        left = _outside(stretch, beside.get(stretch.goal, []), fall, goal_length(goals, stretch.goal))
        if left > _SHORTEST:
            length[stretch.goal] = length.get(stretch.goal, 0.0) + left
    files = ", ".join(dict.fromkeys(program.file for program in programs))
    return [
        Finding(
            check="depth",
            severity="error",
            message=f"{most:.2f} mm of the {goals.name(goal)} is not cut as far below the stock as planned, "
            f"{planned.max():.3f} mm",
            file=files,
            at=goals.begin(goal),
            limit=float(planned.max()),
        )
        for goal, most in sorted(length.items())
    ][:MOST_TOLD]


def _reachable(goals: Goals, through: Through, gaps: Gaps) -> list[Stretch]:
    material = goals.rows(*MATERIAL)
    finder = Finder(goals.curves.take(material))
    return reachable_stretches(goals, gaps, discs(goals, through.radius), finder, material)


def _run(program: ExpectedProgram, ramp_degrees: float | None) -> float:
    """How far a ramp runs on while it falls by the overcut; no feed for the material is told by another rule."""
    rows = [cutter.feed_for(program.board.board.material) for cutter in program.cutters]
    angles = [row.ramp_degrees for row in rows if row is not None]
    angles += [ramp_degrees] if ramp_degrees is not None else []
    slopes = [math.tan(math.radians(angle)) for angle in angles]
    return program.overcut / min(slopes) + TOLERANCES.tab_width if slopes else TOLERANCES.tab_width


def _outside(stretch: Stretch, left: Sequence[Stretch], beside: float, total: float) -> float:
    """Length of a stretch that lies farther than `beside` from every stretch `left` uncut on the same contour."""
    pieces = [(stretch.first, stretch.last)]
    for one in left:
        for turn in (-total, 0.0, total):
            first, last = one.first - beside + turn, one.last + beside + turn
            pieces = [
                (low, high)
                for a, b in pieces
                for low, high in ((a, min(b, first)), (max(a, last), b))
                if high > low
            ]  # fmt: skip
    return sum(b - a for a, b in pieces)
