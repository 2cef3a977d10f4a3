"""Where the cutter ran into a part: every motion in the stock against the material that must stay. mm.

A motion may enter a part's material only along one of its marks, no deeper than the mark, or inside one of its blind
holes, no deeper than the hole.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from cutjob.job.machine import Machine
from cutjob.proof.coverage import uncovered
from cutjob.proof.curves import Bools, Floats, Ints
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.goals import Goals
from cutjob.proof.near import Near, near_curves
from cutjob.proof.nearness import farthest, point_geometries
from cutjob.proof.tracks import Tracks
from cutjob.tolerances import TOLERANCES

_MOST_TOLD = 20  # findings of one kind on one board; a shifted file would list every part


@dataclass(frozen=True, slots=True)
class _Bites:
    """Tracks that come nearer to a placement's material than their radius, and by how much."""

    track: Ints
    placement: Ints
    depth: Floats

    def take(self, index: Ints | Bools) -> _Bites:
        return _Bites(self.track[index], self.placement[index], self.depth[index])


def find_gouges(
    tracks: Tracks, goals: Goals, near: Near, programs: tuple[ExpectedProgram, ...], machine: Machine
) -> tuple[list[Finding], float]:
    """Return findings for gouges beyond what is accepted, and the worst gouge of all, mm.

    `near` pairs the tracks with the contours of material (outlines, holes, through holes).
    """
    bites = _bites(tracks, goals, near)
    serious = np.flatnonzero(bites.depth > TOLERANCES.acceptance)
    suspects = bites.take(serious)
    allowed = _on_marks(tracks, goals, suspects, machine) | _in_blind_holes(tracks, goals, suspects)
    kept = np.ones(len(bites.depth), dtype=bool)
    kept[serious[allowed]] = False
    bites = bites.take(kept)
    worst = float(bites.depth.max(initial=0.0))
    return _findings(tracks, goals, bites, programs), worst


def _bites(tracks: Tracks, goals: Goals, near: Near) -> _Bites:
    depth = tracks.radius[near.track] - near.distance
    biting = np.flatnonzero(depth > 0)
    # A track within a part and not near its edge has no pair; one near it may go in deeper than the pair says.
    searched = np.ones(len(tracks), dtype=bool)
    searched[near.track] = False
    searched[near.track[depth > TOLERANCES.acceptance]] = True
    inside_placement, inside_track, inside_depth = _inside(tracks, goals, np.flatnonzero(searched))
    track = np.concatenate([near.track[biting], inside_track])
    placement = np.concatenate([goals.placement[near.row[biting]], inside_placement])
    both = np.concatenate([depth[biting], inside_depth])
    count = np.int64(max(1, len(goals.layout.placements)))
    key, place = np.unique(track * count + placement, return_inverse=True)
    most = np.zeros(len(key))
    np.maximum.at(most, place, both)
    return _Bites(key // count, key % count, most)


def _inside(tracks: Tracks, goals: Goals, searched: Ints) -> tuple[Ints, Ints, Floats]:
    """Return (placement, track, depth) of tracks that begin in the material; one that ends there crosses its edge."""
    if not len(searched):
        return searched, searched, np.zeros(0)
    material = goals.material()
    points = point_geometries(tracks.curves.x0[searched], tracks.curves.y0[searched])
    placement, point = shapely.STRtree(points).query(material, predicate="contains")
    track = searched[point]
    depth = tracks.radius[track] + shapely.distance(shapely.boundary(material[placement]), points[point])
    return placement.astype(np.int64), track, np.asarray(depth, dtype=float)


def _on_marks(tracks: Tracks, goals: Goals, bites: _Bites, machine: Machine) -> Bools:
    """Which bites run along a mark of the same placement, no deeper than it."""
    rows = goals.rows("mark")
    if not len(rows) or not len(bites.track):
        return np.zeros(len(bites.track), dtype=bool)
    limit = TOLERANCES.acceptance
    depths = np.array([goals.goals[goal].depth or machine.cutting.mark_depth for goal in goals.goal[rows]])
    if machine.kind == "laser":  # its depth is a matter of power, judged there
        depths = np.full(len(rows), machine.cutting.mark_depth)
    curves = tracks.curves.take(bites.track)
    marks = goals.curves.take(rows)
    bite, mark, _ = near_curves(curves, marks, np.full(len(curves), limit))
    deepest = np.minimum(curves.z0, curves.z1)
    fits = (goals.placement[rows[mark]] == bites.placement[bite]) & (deepest[bite] >= -depths[mark] - limit)
    gaps = uncovered(curves, marks, np.full(len(marks), limit), target=bite[fits], cut=mark[fits])
    allowed = np.ones(len(curves), dtype=bool)
    allowed[gaps.target] = False
    return allowed


def _in_blind_holes(tracks: Tracks, goals: Goals, bites: _Bites) -> Bools:
    """Which bites stay within a blind hole of the same placement, no deeper than it."""
    allowed = np.zeros(len(bites.track), dtype=bool)
    rows = goals.rows("blind")
    if not len(rows) or not len(bites.track):
        return allowed
    limit = TOLERANCES.acceptance
    curves = tracks.curves.take(bites.track)
    walls = goals.curves.take(rows)
    # A cut inside a hole lies within the hole's radius of its wall.
    margin = float(walls.r.max()) + limit
    bite, wall, _ = near_curves(curves, walls, np.full(len(curves), margin))
    depths = np.array([goals.goals[goal].depth or 0.0 for goal in goals.goal[rows]])
    holes, cuts = walls.take(wall), curves.take(bite)
    reach = farthest(holes.cx, holes.cy, cuts) + tracks.radius[bites.track[bite]]
    fits = (goals.placement[rows[wall]] == bites.placement[bite]) & (reach <= holes.r + limit)
    fits &= np.minimum(cuts.z0, cuts.z1) >= -depths[wall] - limit
    allowed[bite[fits]] = True
    return allowed


def _findings(tracks: Tracks, goals: Goals, bites: _Bites, programs: tuple[ExpectedProgram, ...]) -> list[Finding]:
    serious = np.flatnonzero(bites.depth > TOLERANCES.acceptance)
    worst: dict[tuple[int, int], int] = {}
    for index in serious.tolist():
        key = (int(tracks.program[bites.track[index]]), int(bites.placement[index]))
        if key not in worst or bites.depth[index] > bites.depth[worst[key]]:
            worst[key] = index
    found = []
    for (program, placement), index in list(worst.items())[:_MOST_TOLD]:
        track, depth = int(bites.track[index]), float(bites.depth[index])
        found.append(
            Finding(
                check="gouge",
                severity="error",
                message=f"cuts {depth:.3f} mm into {goals.part_name(placement)}"
                + (", off its marks and holes" if depth > tracks.radius[track] else ""),
                file=programs[program].file,
                line=int(tracks.line[track]),
                at=(float(tracks.curves.x0[track]), float(tracks.curves.y0[track])),
                measured=depth,
                limit=TOLERANCES.acceptance,
            )
        )
    if len(worst) > _MOST_TOLD:
        more = len(worst) - _MOST_TOLD
        found.append(
            Finding(check="gouge", severity="error", message=f"cuts into {more} more parts", file=programs[0].file)
        )
    return found
