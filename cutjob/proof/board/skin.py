"""A skin: where parts are held by thin wood left under everything, no motion may go into it, but for drilled holes. mm.

That it is not too thick either is told with the wood left, for which cut through means down to the skin.
"""

from __future__ import annotations

import numpy as np
import shapely

from cutjob.job.machine import Machine
from cutjob.proof.board.curves import Bools, Floats, Ints
from cutjob.proof.board.distances import farthest, point_geometries
from cutjob.proof.board.required_edges import Goals
from cutjob.proof.board.tracks import Tracks
from cutjob.proof.board.uncut import MOST_TOLD
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES


def skin_of(programs: tuple[ExpectedProgram, ...]) -> float:
    """How thick the skin under a board's parts is to be, mm; 0 for none."""
    return max((program.skin for program in programs), default=0.0)


def judge_skin(tracks: Tracks, goals: Goals, programs: tuple[ExpectedProgram, ...], machine: Machine) -> list[Finding]:
    """Return findings for motions that leave less of the skin than planned, and for plans that don't agree."""
    skin = skin_of(programs)
    if skin <= 0:
        return []
    found = [
        _finding(f"{program.skin:.2f} mm are planned here, {skin:.2f} mm in another file of the board", program.file)
        for program in programs
        if program.skin != skin
    ]
    found += [
        _finding("tabs are planned although a skin stays under the parts", program.file)
        for program in programs
        if program.tabs
    ]
    lowest = np.minimum(tracks.curves.z0, tracks.curves.z1)
    deep = np.flatnonzero(lowest < -goals.layout.height + skin - TOLERANCES.acceptance)
    deep = deep[~_in_holes(tracks.take(deep), goals, machine)]
    worst: dict[int, int] = {}
    for index in deep.tolist():
        program = int(tracks.program[index])
        if program not in worst or lowest[index] < lowest[worst[program]]:
            worst[program] = index
    for program, index in sorted(worst.items()):
        left = float(goals.layout.height + lowest[index])
        what = f"leaves {left:.3f} mm under the cut" if left > 0 else "cut through"
        found.append(
            Finding(
                check="skin",
                severity="error",
                message=f"{what} although a skin of {skin:.2f} mm was to stay",
                file=programs[program].file,
                line=int(tracks.line[index]),
                at=(float(tracks.curves.x0[index]), float(tracks.curves.y0[index])),
                measured=left,
                limit=skin,
            )
        )
    return found[:MOST_TOLD]


def _in_holes(tracks: Tracks, goals: Goals, machine: Machine) -> Bools:
    """Which motions stay within a round hole that goes through: of a part, of a hold-down, of a pin."""
    x, y, radius = _round_holes(goals, machine)
    inside = np.zeros(len(tracks), dtype=bool)
    if len(x) and len(tracks):
        starts = point_geometries(tracks.curves.x0, tracks.curves.y0)
        track, hole = shapely.STRtree(point_geometries(x, y)).query(
            starts, predicate="dwithin", distance=float(radius.max())
        )
        reach = farthest(x[hole], y[hole], tracks.curves.take(track)) + tracks.radius[track]
        inside[track[reach <= radius[hole] + TOLERANCES.acceptance]] = True
    return inside


def _round_holes(goals: Goals, machine: Machine) -> tuple[Floats, Floats, Floats]:
    rows: Ints = np.array([goal.first for goal in goals.goals if goal.kind == "through"], dtype=np.int64)
    holes = goals.curves.take(rows)
    layout = goals.layout
    pin = machine.travel.pin if machine.travel is not None else 0.0
    others = [(down.at, down.diameter / 2) for down in layout.hold_downs]
    others += [(at, pin / 2) for window in layout.windows for at in window.holes]
    return (
        np.concatenate([holes.cx, [at[0] for at, _ in others]]),
        np.concatenate([holes.cy, [at[1] for at, _ in others]]),
        np.concatenate([holes.r, [radius for _, radius in others]]),
    )


def _finding(message: str, file: str) -> Finding:
    return Finding(check="skin", severity="error", message=message, file=file)
