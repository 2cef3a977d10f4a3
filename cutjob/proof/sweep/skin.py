"""A skin: thin wood left under everything holds the parts. No motion may go into it, except for drilled holes. mm.

A skin that is too thick is reported as wood left, where cut through means down to the skin.
"""

from __future__ import annotations

import numpy as np
import shapely

from cutjob.proof.board.board_case import MOST_FINDINGS, BoardCase, worst_of_each
from cutjob.proof.board.curves import Bools, Floats, Ints
from cutjob.proof.board.distances import farthest, point_geometries
from cutjob.proof.board.tracks import Tracks
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES


def judge_skin(case: BoardCase) -> list[Finding]:
    """Return findings for motions that leave less of the skin than planned, and for plans that contradict each
    other.
    """
    skin, tracks = case.skin, case.tracks
    if skin <= 0:
        return []
    other = f"mm are planned here, {skin:.2f} mm in another file of the board"
    found = [
        case.error("skin", f"{program.skin:.2f} {other}", file=program.file)
        for program in case.programs
        if program.skin != skin
    ]
    found += [
        case.error("skin", "tabs are planned although a skin stays under the parts", file=program.file)
        for program in case.programs
        if program.tabs
    ]
    lowest, height = tracks.curves.lowest, case.layout.height
    deep = np.flatnonzero(lowest < -height + skin - TOLERANCES.acceptance)
    deep = deep[~_in_holes(case, tracks.take(deep))]
    for index in deep[worst_of_each(tracks.program[deep], -lowest[deep])].tolist():
        left = float(height + lowest[index])
        what = f"leaves {left:.3f} mm under the cut" if left > 0 else "cut through"
        message = f"{what} although a skin of {skin:.2f} mm should stay"
        found.append(case.error("skin", message, index, measured=left, limit=skin))
    return found[:MOST_FINDINGS]


def _in_holes(case: BoardCase, tracks: Tracks) -> Bools:
    """Which motions stay within a round through hole: of a part, a hold-down or a pin."""
    x, y, radius = _round_holes(case)
    inside = np.zeros(len(tracks), dtype=bool)
    if len(x) and len(tracks):
        starts = point_geometries(tracks.curves.x0, tracks.curves.y0)
        track, hole = shapely.STRtree(point_geometries(x, y)).query(
            starts, predicate="dwithin", distance=float(radius.max())
        )
        reach = farthest(x[hole], y[hole], tracks.curves.take(track)) + tracks.radius[track]
        inside[track[reach <= radius[hole] + TOLERANCES.acceptance]] = True
    return inside


def _round_holes(case: BoardCase) -> tuple[Floats, Floats, Floats]:
    edges, layout = case.edges, case.layout
    rows: Ints = np.array([edge.first for edge in edges.every if edge.kind == "through"], dtype=np.int64)
    holes = edges.curves.take(rows)
    others = [(down.at, down.diameter / 2) for down in layout.hold_downs]
    others += [(at, case.pin / 2) for window in layout.windows for at in window.holes]
    return (
        np.concatenate([holes.cx, [at[0] for at, _ in others]]),
        np.concatenate([holes.cy, [at[1] for at, _ in others]]),
        np.concatenate([holes.r, [radius for _, radius in others]]),
    )
