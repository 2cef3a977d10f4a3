"""What was cut right through: of which contours, and which stretches of them were left; how far wood stands out there.
mm.

With a skin, right through means down to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cutjob.proof.board.case import BoardCase, once_a_board
from cutjob.proof.board.coverage import Gaps, uncovered
from cutjob.proof.board.curves import Bools, Curves, Floats, Ints, portion_below
from cutjob.proof.board.distances import Finder, point_distance
from cutjob.proof.board.near import Near, touching
from cutjob.proof.board.required_edges import MATERIAL, Goals
from cutjob.proof.board.stretches import Stretch, reachable_stretches, rows_at
from cutjob.tolerances import TOLERANCES

_SAMPLES = (0.138, 0.5, 0.862)  # where covered contours are measured; that they are covered is proved without them
_PLACES = 17  # on wood left, where it is measured
_SEARCH = 25.0  # mm; how far from wood left the nearest cut is looked for, for the message only


@dataclass(frozen=True, slots=True)
class Through:
    """What was cut right through: tracks at full depth by index, pairs of them with rows of contours, gaps by goal."""

    index: Ints  # of the tracks cut through, in the tracks
    curves: Curves  # the pieces of them that are
    pairs: Near  # track here is the place in `index`
    missing: Bools  # by goal: not a bit of it was cut through
    stretches: tuple[Stretch, ...]  # reachable, but not cut through
    radius: Floats  # by goal: of the smallest cutter that cut it
    worst: float  # where it was cut through: greatest distance from the cutter's edge


@once_a_board
def cut_through(case: BoardCase) -> Through:
    """Return what was cut through of all contours of material.

    Where a skin is to stay, cut through means down to it, here and in all that is made of it.
    """
    tracks, goals = case.tracks, case.goals
    level = -goals.layout.height + (case.skin + TOLERANCES.acceptance if case.skin > 0 else TOLERANCES.output)
    index, curves = portion_below(tracks.curves, level)
    place = np.full(len(tracks), -1, dtype=np.int64)
    place[index] = np.arange(len(index))
    near = case.near.of(goals, *MATERIAL)
    pairs = near.take(place[near.track] >= 0)
    pairs = Near(place[pairs.track], pairs.row, pairs.distance)
    reach = touching(tracks)[index]
    gaps = uncovered(goals.curves, curves, reach, target=pairs.row, cut=pairs.track)
    material = goals.rows(*MATERIAL)
    wanted = np.zeros(len(goals.curves), dtype=bool)
    wanted[material] = True

    # What was touched at all, and by how small a cutter.
    covered = goals.curves.length.copy()
    np.subtract.at(covered, gaps.target, (gaps.last - gaps.first) * goals.curves.length[gaps.target])
    by_goal = np.bincount(goals.goal, weights=covered, minlength=len(goals.goals))
    is_material = np.bincount(goals.goal, weights=wanted, minlength=len(goals.goals)) > 0
    missing = is_material & (by_goal <= 1e-6)
    radius = np.full(len(goals.goals), np.inf)
    np.minimum.at(radius, goals.goal[pairs.row], tracks.radius[index[pairs.track]])

    judged = wanted[gaps.target] & ~missing[goals.goal[gaps.target]]
    chosen = Gaps(gaps.target[judged], gaps.first[judged], gaps.last[judged])
    finder = Finder(goals.curves.take(material))
    stretches = reachable_stretches(goals, chosen, discs(goals, radius), finder, material)
    worst = measured(goals, curves.take(pairs.track), tracks.radius[index[pairs.track]], pairs.row, gaps)
    return Through(index, curves, pairs, missing, tuple(stretches), radius, worst)


def discs(goals: Goals, radius: Floats) -> Floats:
    """Return by row how far from its contour the middle of a cutter runs; `radius` goes by goal."""
    deviation = np.array([goals.layout.placements[goal.placement].part.deviation for goal in goals.goals])
    return np.asarray((radius + deviation)[goals.goal] if len(goals.goals) else np.zeros(0))


def measured(goals: Goals, cut: Curves, radius: Floats, row: Ints, gaps: Gaps) -> float:
    """Return the greatest distance from the edge of the nearest cut over places on covered contours, mm.

    Each of `cut` was run with its `radius` by its `row`. Places just before a gap are left out: there the cut's round
    end runs out, at a tab or into an inside corner.
    """
    if not len(row):
        return 0.0
    rows = goals.curves.take(row)
    length = goals.curves.length
    run_out = 2 * float(np.sqrt(2 * radius.max() * TOLERANCES.acceptance))
    worst = 0.0
    for share in _SAMPLES:
        x, y = rows.at(np.full(len(rows), share))
        beyond = point_distance(x, y, cut)[0] - radius
        least = np.full(len(goals.curves), np.inf)
        np.minimum.at(least, row, beyond)
        spare = run_out / np.maximum(length[gaps.target], 1e-9)
        least[gaps.target[(share >= gaps.first - spare) & (share <= gaps.last + spare)]] = np.inf
        worst = max(worst, float(least[np.isfinite(least)].max(initial=0.0)))
    return worst


def beyond(
    goals: Goals, stretches: Sequence[Stretch], cuts: Curves, radius: Floats
) -> tuple[Floats, list[tuple[float, float]]]:
    """Return for each stretch how far its worst place lies beyond the edge of the nearest of `cuts`, and that place."""
    if not len(stretches):
        return np.zeros(0), []
    table, x, y = beyond_at(goals, stretches, cuts, radius)
    worst = table.argmax(axis=1)
    every = np.arange(len(stretches))
    places = [(float(px), float(py)) for px, py in zip(x[every, worst], y[every, worst], strict=True)]
    return table.max(axis=1), places


def beyond_at(
    goals: Goals, stretches: Sequence[Stretch], cuts: Curves, radius: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return for several places of each stretch (a row) how far they lie beyond the nearest cut's edge, and where."""
    goal = np.repeat(np.array([one.goal for one in stretches], dtype=np.int64), _PLACES)
    shares = (np.arange(_PLACES) + 0.5) / _PLACES
    along = np.array([one.first + (one.last - one.first) * share for one in stretches for share in shares])
    row, share = rows_at(goals, goal, along)
    x, y = goals.curves.take(row).at(share)
    least = np.full(len(row), _SEARCH)
    if len(cuts):
        place, cut = Finder(cuts).around(x, y, np.full(len(row), _SEARCH))
        apart = point_distance(x[place], y[place], cuts.take(cut))[0] - radius[cut]
        np.minimum.at(least, place, apart)
    shape = (len(stretches), _PLACES)
    return least.reshape(shape), x.reshape(shape), y.reshape(shape)
