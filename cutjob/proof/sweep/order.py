"""The order of cuts: nothing of a part once its outline is through, and what lies in a hole before the hole is.

With a rough pass round parts, that one frees them if it goes through, and only the last pass of the same outline may
follow it. In a board cut in windows a part of a later window is still held there, so that cuts of earlier windows along
its edge free nothing.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from cutjob.proof import limits
from cutjob.proof.board.areas import polygons
from cutjob.proof.board.case import MOST_TOLD, BoardCase
from cutjob.proof.board.curves import Bools, Ints
from cutjob.proof.board.cut_through import cut_through
from cutjob.proof.board.distances import point_geometries
from cutjob.proof.board.near import near_rows, touching
from cutjob.proof.board.required_edges import Goals
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES

_NEVER = np.iinfo(np.int64).max


def judge_order(case: BoardCase) -> list[Finding]:
    """Return findings about the order over all programs of a board.

    Time here is the index of a track. A contour is through when the last of its segments was first cut through.
    """
    tracks, goals, inside = case.tracks, case.goals, case.inside
    done = _done(case)
    last = np.full(len(goals.goals), -1, dtype=np.int64)
    for pairs in (case.near, case.on_marks):
        # What passes by a wall of a pocket or blind hole, deeper than that, belongs to another contour.
        deepest = tracks.curves.lowest[pairs.track]
        own = (goals.floor[pairs.row] == np.inf) | (deepest >= -goals.floor[pairs.row] - TOLERANCES.acceptance)
        own &= goals.is_wall[pairs.row] | (goals.floor[pairs.row] == np.inf)
        np.maximum.at(last, goals.goal[pairs.row[own]], pairs.track[own])
    areas, _ = goals.features()
    first = np.array([area.goals[0] for area in areas], dtype=np.int64)
    np.maximum.at(last, first[inside.feature[inside.within]], inside.track[inside.within])
    outline = {goal.placement: number for number, goal in enumerate(goals.goals) if goal.kind == "outline"}
    found = []
    for number, goal in enumerate(goals.goals):
        free = done[outline[goal.placement]]
        if goal.kind != "outline" and free != _NEVER and last[number] > free:
            message = f"the {goals.name(number)} is cut after the part's outline is through and the part is loose"
            found.append(case.error("order", message, int(last[number])))
    for hole, inner in _nested(goals):
        own = done[outline[inner]]
        if own != _NEVER and done[hole] != _NEVER and own > done[hole]:
            message = f"{goals.part_name(inner)} is cut after the {goals.name(hole)}, in which it lies, is through"
            found.append(case.error("order", message, int(own)))
    return found[:MOST_TOLD]


def _done(case: BoardCase) -> Ints:
    """By goal the track that cut it through; _NEVER where none did."""
    goals, through, finish = case.goals, cut_through(case), case.machine.cutting.finish
    row, track = through.pairs.row, through.index[through.pairs.track]
    if finish > 0:
        deep = case.tracks.take(through.index)
        within = touching(deep) + finish
        rough = near_rows(replace(deep, curves=through.curves), goals, "outline", "hole", within=within)
        row, track = np.concatenate([row, rough.row]), np.concatenate([track, through.index[rough.track]])
    held = _held(case, row, track)
    row, track = row[~held], track[~held]
    first = np.full(len(goals.curves), _NEVER, dtype=np.int64)
    np.minimum.at(first, row, track)
    done = np.full(len(goals.goals), -1, dtype=np.int64)
    touched = np.flatnonzero(first != _NEVER)
    np.maximum.at(done, goals.goal[touched], first[touched])
    done[done < 0] = _NEVER
    return done


def _held(case: BoardCase, row: Ints, track: Ints) -> Bools:
    """Which cuts along outlines are those of windows before the part's own."""
    goals = case.goals
    own = np.full(len(goals.layout.placements), -1, dtype=np.int64)
    for number, window in enumerate(goals.layout.windows):
        own[list(window.placements)] = number
    of = np.array([np.inf if program.window is None else program.window for program in case.programs], dtype=float)
    outline = np.array([goal.kind == "outline" for goal in goals.goals], dtype=bool)[goals.goal[row]]
    return np.asarray(outline & (of[case.tracks.program[track]] < own[goals.placement[row]]))


def _nested(goals: Goals) -> list[tuple[int, int]]:
    """Return (goal of a hole, placement lying in it)."""
    holes = [number for number, goal in enumerate(goals.goals) if goal.kind in ("hole", "through")]
    if not holes:
        return []
    outlines = [goal for goal in goals.goals if goal.kind == "outline"]
    begins = np.array([goal.first for goal in outlines], dtype=np.int64)
    points = point_geometries(goals.curves.x0[begins], goals.curves.y0[begins])
    areas = polygons(goals.curves, [[goals.goals[number]] for number in holes], limits.PART_CHORD)
    hole, inner = shapely.STRtree(points).query(areas, predicate="contains")
    return [
        (holes[one], outlines[two].placement)
        for one, two in zip(hole.tolist(), inner.tolist(), strict=True)
        if goals.goals[holes[one]].placement != outlines[two].placement
    ]
