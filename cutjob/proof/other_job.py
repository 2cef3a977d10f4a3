"""Whether a file and a plan have anything to do with each other: do its cuts run along any of the plan's contours?"""

from __future__ import annotations

import numpy as np

from cutjob.job.machine import Machine
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.goals import MATERIAL, WALLED, goals_of
from cutjob.proof.left import beyond_at
from cutjob.proof.reading import Reading
from cutjob.proof.stretches import Stretch, goal_length
from cutjob.proof.tracks import all_tracks, cutting

_BESIDE = 1.0  # mm; nearer than this to where its cut should run, half of a contour counts as followed


def nothing_in_place(program: ExpectedProgram, reading: Reading, machine: Machine, *, one_of_several: bool) -> bool:
    """Return True where the file cuts, the plan has contours to be cut, and not one of them is followed.

    Of a board cut by several files this may be one that cuts no contours: it is only said where marks, letters and
    holes of screws or pins can't be what the file is for.
    """
    goals = goals_of(program.board)
    tracks = cutting(all_tracks([program], [reading], machine))
    contours = [number for number, goal in enumerate(goals.goals) if goal.kind in (*MATERIAL, *WALLED)]
    if not contours or not len(tracks):
        return False
    if one_of_several and _has_other_work(program, contours, len(goals.goals)):
        return False
    whole = [Stretch(number, 0.0, goal_length(goals, number)) for number in contours]
    beyond, _, _ = beyond_at(goals, whole, tracks.curves, tracks.radius)
    followed = np.count_nonzero(np.abs(beyond) < _BESIDE, axis=1) * 2 >= beyond.shape[1]
    return not bool(followed.any())


def _has_other_work(program: ExpectedProgram, contours: list[int], goals: int) -> bool:
    board = program.board
    return bool(board.hold_downs or board.lettering or board.windows or len(contours) < goals)
