"""Which of many segments is nearest to each of many points: exact distances, no chords. numpy arrays, mm."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from cutjob.geometry.segment import Arc, Segment

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
# Points that follow each other are close together, so a run of them shares one look at the boxes of the segments.
_RUN = 48


class NearestSegment:
    """Segments prepared for `find`."""

    def __init__(self, segments: Sequence[Segment]) -> None:
        """Take the segments in the order by which results name them."""
        self._start = np.array([segment.start for segment in segments])
        self._end = np.array([segment.end for segment in segments])
        self._boxes = np.array([segment.bounds for segment in segments])
        arcs = [segment if isinstance(segment, Arc) else None for segment in segments]
        self._arc = np.array([arc is not None for arc in arcs])
        self._centre = np.array([arc.centre if arc else (0.0, 0.0) for arc in arcs])
        self._radius = np.array([arc.radius if arc else 0.0 for arc in arcs])
        self._large = np.array([arc is not None and abs(arc.sweep) > np.pi for arc in arcs])
        swap = np.array([arc is not None and arc.clockwise for arc in arcs])[:, None]
        self._low = np.where(swap, self._end, self._start) - self._centre
        self._high = np.where(swap, self._start, self._end) - self._centre

    def find(self, points: Floats, *, reach: float) -> tuple[Whole, Whole]:
        """Return per point the nearest segment and where on it: -1 its start, 1 its end, 0 between.

        `points` is (n, 2), in the order of a path; nothing farther than `reach` mm need be looked at first.
        """
        index = np.empty(len(points), dtype=np.int64)
        place = np.empty(len(points), dtype=np.int64)
        for first in range(0, len(points), _RUN):
            run = points[first : first + _RUN]
            low, high = run.min(axis=0) - reach, run.max(axis=0) + reach
            boxes = self._boxes
            near = np.flatnonzero(
                (boxes[:, 0] <= high[0]) & (boxes[:, 2] >= low[0]) & (boxes[:, 1] <= high[1]) & (boxes[:, 3] >= low[1])
            )
            if len(near) == 0:
                near = np.arange(len(boxes))
            away, where = self._distances(run, near)
            best = away.argmin(axis=1)
            rows = np.arange(len(run))
            index[first : first + _RUN] = near[best]
            place[first : first + _RUN] = where[rows, best]
        return index, place

    def _distances(self, points: Floats, near: Whole) -> tuple[Floats, Whole]:
        start, end = self._start[near], self._end[near]
        to_start = points[:, None, :] - start
        along = end - start
        length2 = np.einsum("ij,ij->i", along, along)
        share = np.einsum("nij,ij->ni", to_start, along) / np.where(length2 > 0, length2, 1.0)
        foot = to_start - np.clip(share, 0.0, 1.0)[:, :, None] * along
        away = np.hypot(foot[:, :, 0], foot[:, :, 1])
        where = np.where(share <= 0, -1, np.where(share >= 1, 1, 0))
        arcs = np.flatnonzero(self._arc[near])
        if len(arcs):
            away[:, arcs], where[:, arcs] = self._arc_distances(points, to_start[:, arcs], near[arcs])
        return away, where

    def _arc_distances(self, points: Floats, to_start: Floats, near: Whole) -> tuple[Floats, Whole]:
        out = points[:, None, :] - self._centre[near]
        low, high = self._low[near], self._high[near]
        after_low = low[:, 0] * out[:, :, 1] - low[:, 1] * out[:, :, 0]
        before_high = out[:, :, 0] * high[:, 1] - out[:, :, 1] * high[:, 0]
        inside = np.where(self._large[near], (after_low >= 0) | (before_high >= 0), (after_low > 0) & (before_high > 0))
        on_arc = np.abs(np.hypot(out[:, :, 0], out[:, :, 1]) - self._radius[near])
        to_end = points[:, None, :] - self._end[near]
        from_start = np.hypot(to_start[:, :, 0], to_start[:, :, 1])
        from_end = np.hypot(to_end[:, :, 0], to_end[:, :, 1])
        away = np.where(inside, on_arc, np.minimum(from_start, from_end))
        where = np.where(inside, 0, np.where(from_start <= from_end, -1, 1))
        return away, where
