"""Round holes for screws and pins: which motions stay within a hole, and when it is finished at its width. mm."""

from __future__ import annotations

import numpy as np

from cutjob.geometry.segment import Point
from cutjob.proof.board.coverage import uncovered
from cutjob.proof.board.curves import Bools, Floats, circles, portion_below
from cutjob.proof.board.distances import farthest, point_distance
from cutjob.proof.board.tracks import Tracks
from cutjob.tolerances import TOLERANCES


def within(tracks: Tracks, at: Point, diameter: float) -> Bools:
    """Return which motions cut nothing outside a round hole, whatever their height."""
    curves, reach = tracks.curves, diameter / 2 + TOLERANCES.acceptance - tracks.radius
    ends = np.hypot(curves.x0 - at[0], curves.y0 - at[1]) <= reach
    ends &= np.hypot(curves.x1 - at[0], curves.y1 - at[1]) <= reach
    near = np.flatnonzero(ends)
    x, y = np.full(len(near), at[0]), np.full(len(near), at[1])
    own = np.zeros(len(tracks), dtype=bool)
    own[near] = farthest(x, y, curves.take(near)) <= reach[near]
    return own


def made_at(tracks: Tracks, at: Point, diameter: float, *, height: float, narrower: bool) -> int | None:
    """Return the index of the motion that finishes a hole right through a stack `height` mm high, or None.

    With `narrower` a thinner cutter that went straight down in the middle also makes a hole. Only motions within the
    hole count.
    """
    own = np.flatnonzero(within(tracks, at, diameter))
    kept, curves = portion_below(tracks.curves.take(own), -height + TOLERANCES.output)
    own = own[kept]
    if not len(own):
        return None
    if narrower:
        x, y = np.full(len(own), at[0]), np.full(len(own), at[1])
        middle = np.flatnonzero(farthest(x, y, curves) <= TOLERANCES.acceptance)
        if len(middle):
            return int(own[middle[0]])
    wall = circles(np.array([at[0]]), np.array([at[1]]), np.array([diameter / 2]))
    every = np.arange(len(own), dtype=np.int64)
    reach = tracks.radius[own] + TOLERANCES.acceptance
    gaps = uncovered(wall, curves, reach, target=np.zeros(len(own), dtype=np.int64), cut=every)
    return None if len(gaps) else int(own[-1])


def nearest_edge(tracks: Tracks, at: Point) -> Floats:
    """Return how near the edge of the cutter comes to a point on each motion; negative where it passes over the
    point.
    """
    x, y = np.full(len(tracks), at[0]), np.full(len(tracks), at[1])
    return np.asarray(point_distance(x, y, tracks.curves)[0] - tracks.radius)
