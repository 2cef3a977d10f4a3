"""The order of cuts: nothing of a part once its outline is through, and what lies in a hole before the hole is."""

from __future__ import annotations

import numpy as np
import shapely

from cutjob.proof.curves import Ints
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.goals import Goals
from cutjob.proof.left import MOST_TOLD, Through
from cutjob.proof.near import Near
from cutjob.proof.nearness import point_geometries
from cutjob.proof.tracks import Tracks

_NEVER = np.iinfo(np.int64).max


def judge_order(
    tracks: Tracks, goals: Goals, through: Through, features: tuple[Near, ...], programs: tuple[ExpectedProgram, ...]
) -> list[Finding]:
    """Return findings about the order over all programs of a board; `features` pair tracks with everything cut.

    Time here is the index of a track. A contour is through when the last of its segments was first cut through.
    """
    done = _done(goals, through)
    last = np.full(len(goals.goals), -1, dtype=np.int64)
    for pairs in features:
        np.maximum.at(last, goals.goal[pairs.row], pairs.track)
    outline = {goal.placement: number for number, goal in enumerate(goals.goals) if goal.kind == "outline"}
    found = []
    for number, goal in enumerate(goals.goals):
        free = done[outline[goal.placement]]
        if goal.kind != "outline" and free != _NEVER and last[number] > free:
            message = f"the {goals.name(number)} is cut after the part's outline is through and the part is loose"
            found.append(_finding(message, int(last[number]), tracks, programs))
    for hole, inner in _nested(goals):
        own = done[outline[inner]]
        if own != _NEVER and done[hole] != _NEVER and own > done[hole]:
            message = f"{goals.part_name(inner)} is cut after the {goals.name(hole)}, in which it lies, is through"
            found.append(_finding(message, int(own), tracks, programs))
    return found[:MOST_TOLD]


def _done(goals: Goals, through: Through) -> Ints:
    first = np.full(len(goals.curves), _NEVER, dtype=np.int64)
    np.minimum.at(first, through.pairs.row, through.index[through.pairs.track])
    done = np.full(len(goals.goals), -1, dtype=np.int64)
    touched = np.flatnonzero(first != _NEVER)
    np.maximum.at(done, goals.goal[touched], first[touched])
    done[done < 0] = _NEVER
    return done


def _nested(goals: Goals) -> list[tuple[int, int]]:
    """Return (goal of a hole, placement lying in it)."""
    holes = [number for number, goal in enumerate(goals.goals) if goal.kind in ("hole", "through")]
    if not holes:
        return []
    outlines = [goal for goal in goals.goals if goal.kind == "outline"]
    begins = np.array([goal.first for goal in outlines], dtype=np.int64)
    points = point_geometries(goals.curves.x0[begins], goals.curves.y0[begins])
    areas = np.array([shapely.Polygon(goals.ring(goals.goals[number])) for number in holes], dtype=object)
    hole, inner = shapely.STRtree(points).query(areas, predicate="contains")
    return [
        (holes[one], outlines[two].placement)
        for one, two in zip(hole.tolist(), inner.tolist(), strict=True)
        if goals.goals[holes[one]].placement != outlines[two].placement
    ]


def _finding(message: str, track: int, tracks: Tracks, programs: tuple[ExpectedProgram, ...]) -> Finding:
    return Finding(
        check="order",
        severity="error",
        message=message,
        file=programs[int(tracks.program[track])].file,
        line=int(tracks.line[track]),
        at=(float(tracks.curves.x0[track]), float(tracks.curves.y0[track])),
    )
