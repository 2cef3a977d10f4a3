"""Walls of pockets and blind holes: each must be cut to its depth within reach of the cutter that made it. mm.

What is a wall is told by `Goals`; inside corners that cutter can't reach may keep their wood. The test is exact, as for
contours cut right through; only whether the cutter could reach a place without leaving its pocket for another beside it
is told by polygons: where it couldn't, wood left is a warning. Floors are looked at in `floors`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from cutjob.geometry.segment import Point
from cutjob.proof.areas import swept
from cutjob.proof.beside import FINE
from cutjob.proof.coverage import Gaps, uncovered
from cutjob.proof.curves import Bools, Curves, Floats, Ints, portion_below
from cutjob.proof.ends import Inside
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.goals import WALLED, Goals
from cutjob.proof.left import MOST_TOLD, beyond_at, measured
from cutjob.proof.near import Near, deep_pairs, touching
from cutjob.proof.nearness import Finder
from cutjob.proof.rooms import Area, Rooms, middles, reached
from cutjob.proof.stretches import Stretch, reachable_stretches
from cutjob.proof.tracks import Tracks
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class Makers:
    """By feature, which cutter made its floor: the number of the one that swept most of it, and its radius; else 0."""

    cutter: Ints
    radius: Floats

    @property
    def used(self) -> Bools:
        """Which features have a floor that anything ran on."""
        return np.asarray(self.radius > 0)


def makers_of(tracks: Tracks, goals: Goals, inside: Inside) -> Makers:
    """Return which cutters made the floors of pockets and blind holes.

    A motion `inside` one counts where it ends at its depth. In a pocket it must be level, in a blind hole wider than
    the cutter not straight down: a hole in the floor may be drilled by a thinner cutter that stops there.
    """
    features, shapes = goals.features()
    count = len(features)
    depth = np.array([feature.depth for feature in features], dtype=float)[inside.feature]
    pocket = np.array([feature.kind == "pocket" for feature in features], dtype=bool)[inside.feature]
    curves = tracks.curves.take(inside.track)
    limit = TOLERANCES.acceptance
    at_floor = np.abs(np.minimum(curves.z0, curves.z1) + depth) <= limit
    level = np.maximum(curves.z0, curves.z1) <= -depth + limit
    width = np.array([goals.goals[feature.goals[0]].radius for feature in features], dtype=float)[inside.feature]
    own_size = ~pocket & (tracks.radius[inside.track] >= width - limit)
    at_floor &= own_size | ((curves.length > 0) & (level | ~pocket))
    feature, track = inside.feature[at_floor], inside.track[at_floor]
    cutters, radii = np.zeros(count, dtype=np.int64), np.zeros(count)
    cutters[feature], radii[feature] = tracks.cutter[track], tracks.radius[track]
    for index in np.unique(feature[tracks.cutter[track] != cutters[feature]]).tolist():
        # Several ran there: one of them in passing, at the depth of what lies beside.
        own = tracks.take(track[feature == index])
        swept = {
            int(number): _swept(own.curves.take(own.cutter == number), own.radius[own.cutter == number], shapes[index])
            for number in np.unique(own.cutter)
        }
        cutters[index] = max(swept, key=lambda number: swept[number])
        radii[index] = own.radius[own.cutter == cutters[index]][0]
    return Makers(cutters, radii)


def _swept(curves: Curves, radius: Floats, area: shapely.Geometry) -> float:
    """How much of an area a cutter of the radius of all the curves swept along them, mm2."""
    return float(shapely.intersection(swept(curves, float(radius[0]), FINE), area).area)


def judge_walls(
    tracks: Tracks,
    goals: Goals,
    near: Near,
    inside: Inside,
    makers: Makers,
    rooms: Rooms,
    programs: tuple[ExpectedProgram, ...],
) -> tuple[list[Finding], float]:
    """Return findings for pockets and blind holes not made at all, and for walls left standing; and the worst of these.

    `near` pairs the tracks with their walls.
    """
    files = ", ".join(dict.fromkeys(program.file for program in programs))
    features, _ = goals.features()
    if not features:
        return [], 0.0
    found = [
        Finding(
            check="missing",
            severity="error",
            message=f"the {goals.name(features[index].goals[0])} is not cleared to its depth and width",
            file=files,
            at=goals.begin(features[index].goals[0]),
        )
        for index in np.flatnonzero(~makers.used).tolist()
    ][:MOST_TOLD]
    of_goal = np.full(len(goals.goals), -1, dtype=np.int64)
    for number, feature in enumerate(features):
        of_goal[list(feature.goals)] = number
    feature_of = of_goal[goals.goal]
    judged = (feature_of >= 0) & goals.is_wall
    judged[judged] = makers.used[feature_of[judged]]
    near = near.take(judged[near.row] & (near.distance <= touching(tracks)[near.track]))
    kept, curves = deep_pairs(tracks, near, -goals.floor[near.row] + TOLERANCES.acceptance)
    row, track = near.row[kept], near.track[kept]
    gaps = uncovered(
        goals.curves, curves, touching(tracks)[track], target=row, cut=np.arange(len(kept), dtype=np.int64)
    )
    open_ = judged[gaps.target]
    walls = goals.rows(*WALLED, "outline", "hole", "through")
    disc = np.zeros(len(goals.curves))
    disc[judged] = makers.radius[feature_of[judged]]
    chosen = Gaps(gaps.target[open_], gaps.first[open_], gaps.last[open_])
    finder = Finder(goals.curves.take(walls))
    stretches = reachable_stretches(goals, chosen, disc, finder, walls, at_floors=True)
    worst = measured(goals, curves, tracks.radius[track], row, gaps)
    told = []
    for index in sorted({int(of_goal[stretch.goal]) for stretch in stretches}):
        own = tracks.take(inside.track[inside.feature == index])
        deep, cuts = portion_below(own.curves, -features[index].depth + TOLERANCES.acceptance)
        size = float(makers.radius[index])
        middle = middles(rooms.within(index, size), size)
        some = [stretch for stretch in stretches if of_goal[stretch.goal] == index]
        told += _standing(goals, some, cuts, own.radius[deep], middle, size)
    told.sort(key=lambda one: -one[1])
    for stretch, apart, at, serious in told[:MOST_TOLD]:
        length, depth = stretch.last - stretch.first, goals.goals[stretch.goal].depth or 0.0
        found.append(
            Finding(
                check="wood left",
                severity="error" if serious else "warning",
                message=f"{length:.2f} mm of the wall of the {goals.name(stretch.goal)} is not cut to its depth, "
                f"{depth:.2f} mm; wood stands up to {apart:.3f} mm beyond the cutter's edge"
                + ("" if serious else ", where the cutter gets in only from beside it"),
                file=files,
                at=at,
                measured=apart,
                limit=TOLERANCES.acceptance,
            )
        )
    return found, max([worst, *(apart for _, apart, _, serious in told if serious)])


def _standing(
    goals: Goals, stretches: Sequence[Stretch], cuts: Curves, radii: Floats, middle: Area, radius: float
) -> list[tuple[Stretch, float, Point, bool]]:
    """Return the stretches of one feature with how far they stand beyond the edge of its cuts, where, and whether a
    cutter whose middle stays in `middle` would take that.
    """
    table, x, y = beyond_at(goals, stretches, cuts, radii)
    found = []
    for number, stretch in enumerate(stretches):
        own = reached(middle, radius, x[number], y[number]) & (table[number] > TOLERANCES.acceptance)
        worst = int(np.argmax(np.where(own, table[number], -np.inf) if own.any() else table[number]))
        at = (float(x[number, worst]), float(y[number, worst]))
        found.append((stretch, float(table[number, worst]), at, bool(own.any())))
    return found
