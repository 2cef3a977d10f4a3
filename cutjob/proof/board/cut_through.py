"""Finds which contours were cut right through, which stretches were left, and how far wood stands out there. mm.

With a skin, right through means down to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cutjob.proof.board.board_case import BoardCase, once_a_board
from cutjob.proof.board.coverage import Gaps, uncovered
from cutjob.proof.board.curves import Bools, Curves, Floats, Ints, portion_below
from cutjob.proof.board.distances import Finder, point_distance
from cutjob.proof.board.required_edges import MATERIAL, RequiredEdges
from cutjob.proof.board.stretches import Stretch, rows_at, stretches_by_reach
from cutjob.proof.board.track_edge_pairs import TrackEdgePairs, cutting_reach
from cutjob.tolerances import TOLERANCES

_SAMPLES = (0.138, 0.5, 0.862)  # where covered contours are measured; the proof that they are covered needs no samples
_PLACES = 17  # places on wood left at which it is measured
_SEARCH = 25.0  # mm; how far from wood left the nearest cut is searched for, only for the message


@dataclass(frozen=True, slots=True)
class CutThrough:
    """The result: tracks at full depth by index, pairs of these with rows of contours, and gaps by edge."""

    index: Ints  # of the tracks cut through, in the tracks
    curves: Curves  # the pieces of these tracks at full depth
    pairs: TrackEdgePairs  # `track` is here the place in `index`
    missing: Bools  # by edge: none of it was cut through
    stretches: tuple[Stretch, ...]  # reachable, but not cut through
    unreached: tuple[Stretch, ...]  # out of reach of the cutter that cut the other stretches of the contour
    radius: Floats  # by edge: of the smallest cutter that cut it
    worst: float  # greatest distance from the cutter's edge where the contour was cut through


@once_a_board
def cut_through(case: BoardCase) -> CutThrough:
    """Return what was cut through of all contours of material.

    Where a skin must stay, cut through means down to it, here and in everything derived from this.
    """
    tracks, edges = case.tracks, case.edges
    level = -edges.layout.height + (case.skin + TOLERANCES.acceptance if case.skin > 0 else TOLERANCES.output)
    index, curves = portion_below(tracks.curves, level)
    place = np.full(len(tracks), -1, dtype=np.int64)
    place[index] = np.arange(len(index))
    near = case.touching.of(edges, *MATERIAL)
    pairs = near.take(place[near.track] >= 0)
    pairs = TrackEdgePairs(place[pairs.track], pairs.row, pairs.distance)
    reach = cutting_reach(tracks)[index]
    gaps = uncovered(edges.curves, curves, reach, target=pairs.row, cut=pairs.track)
    material = edges.rows(*MATERIAL)
    wanted = np.zeros(len(edges.curves), dtype=bool)
    wanted[material] = True

    # Which edges were touched at all, and the smallest cutter that touched them.
    covered = edges.curves.length.copy()
    np.subtract.at(covered, gaps.target, (gaps.last - gaps.first) * edges.curves.length[gaps.target])
    by_edge = np.bincount(edges.edge, weights=covered, minlength=len(edges.every))
    is_material = np.bincount(edges.edge, weights=wanted, minlength=len(edges.every)) > 0
    missing = is_material & (by_edge <= 1e-6)
    radius = np.full(len(edges.every), np.inf)
    np.minimum.at(radius, edges.edge[pairs.row], tracks.radius[index[pairs.track]])

    judged = wanted[gaps.target] & ~missing[edges.edge[gaps.target]]
    chosen = Gaps(gaps.target[judged], gaps.first[judged], gaps.last[judged])
    finder = Finder(edges.curves.take(material))
    stretches, unreached = stretches_by_reach(edges, chosen, discs(edges, radius), finder, material)
    worst = measured(edges, curves.take(pairs.track), tracks.radius[index[pairs.track]], pairs.row, gaps)
    return CutThrough(index, curves, pairs, missing, tuple(stretches), tuple(unreached), radius, worst)


def discs(edges: RequiredEdges, radius: Floats) -> Floats:
    """Return by row how far from its contour the middle of a cutter runs; `radius` is by edge."""
    deviation = np.array([edges.layout.placements[edge.placement].part.deviation for edge in edges.every])
    return np.asarray((radius + deviation)[edges.edge] if len(edges.every) else np.zeros(0))


def measured(edges: RequiredEdges, cut: Curves, radius: Floats, row: Ints, gaps: Gaps) -> float:
    """Return the greatest distance from the edge of the nearest cut over places on covered contours, mm.

    Each of `cut` was run with its `radius` along its `row`. Places just before a gap are left out: the cut's round end
    runs out there, at a tab or into an inside corner.
    """
    if not len(row):
        return 0.0
    rows = edges.curves.take(row)
    length = edges.curves.length
    run_out = 2 * float(np.sqrt(2 * radius.max() * TOLERANCES.acceptance))
    worst = 0.0
    for share in _SAMPLES:
        x, y = rows.at(np.full(len(rows), share))
        beyond = point_distance(x, y, cut)[0] - radius
        least = np.full(len(edges.curves), np.inf)
        np.minimum.at(least, row, beyond)
        spare = run_out / np.maximum(length[gaps.target], 1e-9)
        least[gaps.target[(share >= gaps.first - spare) & (share <= gaps.last + spare)]] = np.inf
        worst = max(worst, float(least[np.isfinite(least)].max(initial=0.0)))
    return worst


def beyond(
    edges: RequiredEdges, stretches: Sequence[Stretch], cuts: Curves, radius: Floats
) -> tuple[Floats, list[tuple[float, float]]]:
    """Return for each stretch how far its worst place is beyond the edge of the nearest of `cuts`, and that place."""
    if not len(stretches):
        return np.zeros(0), []
    table, x, y = beyond_at(edges, stretches, cuts, radius)
    worst = table.argmax(axis=1)
    every = np.arange(len(stretches))
    places = [(float(px), float(py)) for px, py in zip(x[every, worst], y[every, worst], strict=True)]
    return table.max(axis=1), places


def beyond_at(
    edges: RequiredEdges, stretches: Sequence[Stretch], cuts: Curves, radius: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return for several places of each stretch (a row) how far they are beyond the nearest cut's edge, and
    their points.
    """
    edge = np.repeat(np.array([one.edge for one in stretches], dtype=np.int64), _PLACES)
    shares = (np.arange(_PLACES) + 0.5) / _PLACES
    along = np.array([one.first + (one.last - one.first) * share for one in stretches for share in shares])
    row, share = rows_at(edges, edge, along)
    x, y = edges.curves.take(row).at(share)
    least = np.full(len(row), _SEARCH)
    if len(cuts):
        place, cut = Finder(cuts).around(x, y, np.full(len(row), _SEARCH))
        apart = point_distance(x[place], y[place], cuts.take(cut))[0] - radius[cut]
        np.minimum.at(least, place, apart)
    shape = (len(stretches), _PLACES)
    return least.reshape(shape), x.reshape(shape), y.reshape(shape)
