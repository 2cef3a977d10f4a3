"""Pairs of tracks and contours of a board that are near each other, and how near: found once, used by every
judge. mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutjob.proof.board.curves import Curves, Floats, Ints, portion_below
from cutjob.proof.board.distances import Finder, distance
from cutjob.proof.board.required_edges import EdgeKind, RequiredEdges
from cutjob.proof.board.tracks import Tracks
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class TrackEdgePairs:
    """Pairs of a track and a row of the edges' curves, by index, with their distance; in no order."""

    track: Ints
    row: Ints
    distance: Floats

    def take(self, index: Ints | np.ndarray[tuple[int], np.dtype[np.bool_]]) -> TrackEdgePairs:
        """The chosen pairs."""
        return TrackEdgePairs(self.track[index], self.row[index], self.distance[index])

    def of(self, edges: RequiredEdges, *kinds: EdgeKind) -> TrackEdgePairs:
        """The pairs with contours of edges of these kinds."""
        wanted = np.zeros(len(edges.curves), dtype=bool)
        wanted[edges.rows(*kinds)] = True
        return self.take(wanted[self.row])


def pairs_within(tracks: Tracks, edges: RequiredEdges, *kinds: EdgeKind, within: Floats) -> TrackEdgePairs:
    """Return the pairs of tracks and rows of edges of these kinds no farther apart than `within`, given by track."""
    rows = edges.rows(*kinds)
    track, row, distances = curves_within(tracks.curves, edges.curves.take(rows), within)
    return TrackEdgePairs(track, rows[row], distances)


def curves_within(curves: Curves, others: Curves, within: Floats) -> tuple[Ints, Ints, Floats]:
    """Return pairs (index in `curves`, index in `others`) no farther apart than `within`, and their distances."""
    left: list[Ints] = [np.zeros(0, dtype=np.int64)]
    right: list[Ints] = [np.zeros(0, dtype=np.int64)]
    distances: list[Floats] = [np.zeros(0)]
    if len(others) and len(curves):
        for one, two in Finder(others).pairs(curves, within):
            apart = distance(curves.take(one), others.take(two))
            kept = apart <= within[one]
            left.append(one[kept])
            right.append(two[kept])
            distances.append(apart[kept])
    return np.concatenate(left), np.concatenate(right), np.concatenate(distances)


def cutting_reach(tracks: Tracks) -> Floats:
    """The greatest distance from a contour at which a track of each cutter still counts as cutting it."""
    return np.asarray(tracks.radius + TOLERANCES.acceptance)


def deep_pairs(tracks: Tracks, pairs: TrackEdgePairs, level: Floats) -> tuple[Ints, Curves]:
    """Return which pairs' tracks reach down to the pair's `level`, and the piece of each that does."""
    return portion_below(tracks.curves.take(pairs.track), level)
