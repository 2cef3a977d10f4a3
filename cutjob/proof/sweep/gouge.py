"""Where the cutter ran into a part: every motion in the stock against the material that must stay. mm.

A motion may enter a part's material only along one of its marks or its lettering, no deeper than these, or inside its
pockets and blind holes, no deeper than each. At any depth d what must stay is bounded by the contours that are walls
there (`Goals.gone` < d <= `Goals.floor`). A motion's height goes evenly, so it stays out of the material when both its
ends do, at their heights, and it comes no nearer than the cutter's radius to a wall with any piece deeper than where
that begins: to get in anywhere it would cross a wall, or go down through a floor and end below it. Distances are exact;
polygons only say on which side of a wall, a cutter's radius away from it, an end lies.

Through cuts that stop short: right through the stock, but not as far into the spoilboard as planned. mm.

A board a little thicker than stated, or a bed a little hollow, would leave a skin there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from cutjob.geometry.segment import Point
from cutjob.job.machine import Machine
from cutjob.proof.board.coverage import Gaps, uncovered
from cutjob.proof.board.curves import Bools, Floats, Ints, portion_below
from cutjob.proof.board.distances import Finder, distance, point_geometries
from cutjob.proof.board.ends import Ends
from cutjob.proof.board.lettering import on_lettering
from cutjob.proof.board.near import Near, deep_pairs, near_curves, touching
from cutjob.proof.board.required_edges import MATERIAL, Goals
from cutjob.proof.board.skin import skin_of
from cutjob.proof.board.stretches import Stretch, goal_length, reachable_stretches
from cutjob.proof.board.tracks import Tracks
from cutjob.proof.board.uncut import MOST_TOLD, Through, discs
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
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


_LOOKS = 65  # places along a motion, to say where it is worst
_MOST_TOLD = 20  # findings of one kind on one board; a shifted file would list every part


@dataclass(frozen=True, slots=True)
class _Bites:
    """Tracks that come into a placement's material, by how much, and whether that is below a floor."""

    track: Ints
    placement: Ints
    depth: Floats
    below: Bools

    def take(self, index: Ints | Bools) -> _Bites:
        return _Bites(self.track[index], self.placement[index], self.depth[index], self.below[index])


def find_gouges(
    tracks: Tracks, goals: Goals, near: Near, ends: Ends, programs: tuple[ExpectedProgram, ...], machine: Machine
) -> tuple[list[Finding], float]:
    """Return findings for gouges beyond what is accepted, and the worst gouge of all, mm.

    `near` pairs the tracks with all contours but marks, `ends` are those of the tracks.
    """
    bites = _unexcused(tracks, goals, near, ends, machine)
    return _findings(tracks, goals, bites, programs), float(bites.depth.max(initial=0.0))


def count_gouges(tracks: Tracks, goals: Goals, near: Near, ends: Ends, machine: Machine) -> int:
    """Return how many of the tracks gouge a part beyond what is accepted."""
    bites = _unexcused(tracks, goals, near, ends, machine)
    return len(np.unique(bites.track[bites.depth > TOLERANCES.acceptance]))


def _unexcused(tracks: Tracks, goals: Goals, near: Near, ends: Ends, machine: Machine) -> _Bites:
    """What bites into parts, but for what runs along marks and letters."""
    bites = _bites(tracks, goals, near, ends)
    serious = np.flatnonzero(bites.depth > TOLERANCES.acceptance)
    suspects = bites.take(serious)
    allowed = _on_marks(tracks, goals, suspects, machine)
    allowed |= on_lettering(tracks, goals.layout, machine, suspects.track, suspects.placement)
    kept = np.ones(len(bites.depth), dtype=bool)
    kept[serious[allowed]] = False
    return bites.take(kept)


def _bites(tracks: Tracks, goals: Goals, near: Near, ends: Ends) -> _Bites:
    pair, depth, low = _into_walls(tracks, goals, near)
    end, sunk, below = _into_wood(tracks, goals, ends)
    track = np.concatenate([near.track[pair], ends.track[end]])
    placement = np.concatenate([goals.placement[near.row[pair]], ends.placement[end]])
    both = np.concatenate([depth, sunk])
    below = np.concatenate([low, below])
    # The worst of each track and placement: the last of its group.
    order = np.lexsort((both, placement, track))
    track, placement, both, below = track[order], placement[order], both[order], below[order]
    last = np.ones(len(order), dtype=bool)
    last[:-1] = (track[1:] != track[:-1]) | (placement[1:] != placement[:-1])
    return _Bites(track[last], placement[last], both[last], below[last])


def _into_walls(tracks: Tracks, goals: Goals, near: Near) -> tuple[Ints, Floats, Bools]:
    """Return the pairs that come nearer than the cutter's radius to a wall below where it begins, by how much, and
    whether that is how far they go below the floor above the wall.
    """
    depth = tracks.radius[near.track] - near.distance
    depth[~goals.is_wall[near.row]] = 0.0
    gone = goals.gone[near.row]
    below = np.zeros(len(depth), dtype=bool)
    partly = np.flatnonzero((depth > 0) & (gone > 0))
    if len(partly):
        some = near.take(partly)
        deep, curves = deep_pairs(tracks, some, -gone[partly] - TOLERANCES.acceptance)
        depth[partly] = 0.0
        aside = tracks.radius[some.track[deep]] - distance(curves, goals.curves.take(some.row[deep]))
        sunk = -np.minimum(curves.z0, curves.z1) - gone[partly[deep]]
        depth[partly[deep]] = np.minimum(aside, sunk)
        below[partly[deep]] = sunk < aside
    biting = np.flatnonzero(depth > 0)
    return biting, depth[biting], below[biting]


def _into_wood(tracks: Tracks, goals: Goals, ends: Ends) -> tuple[Ints, Floats, Bools]:
    """Return which ends lie in wood that must stay, how far in, and whether that is below a floor."""
    wrong = np.flatnonzero(~ends.allowed)
    if not len(wrong):
        return wrong, np.zeros(0), np.zeros(0, dtype=bool)
    edges = shapely.boundary(goals.material())
    points = point_geometries(ends.x[wrong], ends.y[wrong])
    aside = np.asarray(shapely.distance(edges[ends.placement[wrong]], points), dtype=float)
    aside += tracks.radius[ends.track[wrong]]
    sunk = -ends.z[wrong] - ends.depth[wrong]
    below = (ends.depth[wrong] > 0) & (sunk < aside)
    return wrong, np.where(below, sunk, aside), below


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
        message = _message(depth, goals.part_name(placement), tracks.radius[track], below=bites.below[index])
        found.append(
            Finding(
                check="gouge",
                severity="error",
                message=message,
                file=programs[program].file,
                line=int(tracks.line[track]),
                at=_deepest(tracks, goals, track, placement),
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


def _deepest(tracks: Tracks, goals: Goals, track: int, placement: int) -> Point:
    """Where on a motion the cutter's middle lies farthest in a part, or nearest to it."""
    x, y = tracks.curves.take(np.full(_LOOKS, track)).at(np.linspace(0.0, 1.0, _LOOKS))
    wood, points = goals.material()[placement], point_geometries(x, y)
    aside = np.asarray(shapely.distance(shapely.boundary(wood), points), dtype=float)
    place = int(np.argmin(np.where(shapely.intersects(wood, points), -aside, aside)))
    return float(x[place]), float(y[place])


def _message(depth: float, part: str, radius: float, *, below: bool) -> str:
    if below:
        return f"cuts {depth:.3f} mm below the floor of a pocket or blind hole of {part}"
    return f"cuts {depth:.3f} mm into {part}" + (", off its marks, pockets and holes" if depth > radius else "")
