"""Which tracks come near which contours of a board, and how near: found once, used by every judgement. mm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutjob.proof.board.curves import Curves, Floats, Ints, portion_below
from cutjob.proof.board.distances import Finder, distance
from cutjob.proof.board.required_edges import GoalKind, Goals
from cutjob.proof.board.tracks import Tracks
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class Near:
    """Pairs of a track and a row of the goals' curves, by index, with their distance; sorted by neither."""

    track: Ints
    row: Ints
    distance: Floats

    def take(self, index: Ints | np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Near:
        """The chosen pairs."""
        return Near(self.track[index], self.row[index], self.distance[index])

    def of(self, goals: Goals, *kinds: GoalKind) -> Near:
        """The pairs with contours of goals of these kinds."""
        wanted = np.zeros(len(goals.curves), dtype=bool)
        wanted[goals.rows(*kinds)] = True
        return self.take(wanted[self.row])


def near_rows(tracks: Tracks, goals: Goals, *kinds: GoalKind, within: Floats) -> Near:
    """Return the pairs of tracks and rows of goals of these kinds no farther apart than `within`, given by track."""
    rows = goals.rows(*kinds)
    track, row, distances = near_curves(tracks.curves, goals.curves.take(rows), within)
    return Near(track, rows[row], distances)


def near_curves(curves: Curves, others: Curves, within: Floats) -> tuple[Ints, Ints, Floats]:
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


def touching(tracks: Tracks) -> Floats:
    """How far from a contour a track of each cutter may run and still count as cutting it."""
    return np.asarray(tracks.radius + TOLERANCES.acceptance)


def deep_pairs(tracks: Tracks, pairs: Near, level: Floats) -> tuple[Ints, Curves]:
    """Return which pairs' tracks reach down to the pair's `level`, and the piece of each that does."""
    return portion_below(tracks.curves.take(pairs.track), level)
