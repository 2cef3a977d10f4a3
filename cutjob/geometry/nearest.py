"""Finds the nearest of many segments for each of many points: exact distances, no chords. numpy arrays, mm."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from cutjob.geometry.segment import Arc, Segment

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
# Successive points are close together, so a run of them shares one check of the segments' boxes. The pairs of many runs
# with the segments near them are measured together; more at once would only take more memory.
_RUN = 16
_AT_ONCE = 32 * _RUN


class NearestSegment:
    """Segments prepared for `find`."""

    def __init__(self, segments: Sequence[Segment]) -> None:
        """Take the segments; results are their numbers in this order."""
        self._start = np.array([segment.start for segment in segments])
        self._end = np.array([segment.end for segment in segments])
        self._along = self._end - self._start
        length2 = np.einsum("ij,ij->i", self._along, self._along)
        self._length2 = np.where(length2 > 0, length2, 1.0)
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
        """Return for each point the nearest segment and the place on it: -1 its start, 1 its end, 0 between.

        `points` is (n, 2), in the order of a path; segments within `reach` mm are checked first.
        """
        index = np.empty(len(points), dtype=np.int64)
        place = np.empty(len(points), dtype=np.int64)
        for first in range(0, len(points), _AT_ONCE):
            block = points[first : first + _AT_ONCE]
            index[first : first + len(block)], place[first : first + len(block)] = self._find(block, reach)
        return index, place

    def _find(self, points: Floats, reach: float) -> tuple[Whole, Whole]:
        count = -(-len(points) // _RUN)
        filling = np.repeat(points[-1:], count * _RUN - len(points), axis=0)
        xs, ys = np.concatenate([points, filling]).T.reshape(2, count, _RUN)
        run, segment = np.nonzero(self._near(xs, ys, reach))
        away, where = self._distances(xs[run], ys[run], segment)
        # The first of the nearest among the pairs of each run.
        firsts = np.searchsorted(run, np.arange(count))
        least = np.minimum.reduceat(away, firsts)
        pair = np.where(away == least[run], np.arange(len(run))[:, None], len(run))
        best = np.minimum.reduceat(pair, firsts)
        found, at = segment[best], where[best, np.arange(_RUN)]
        return found.ravel()[: len(points)], at.ravel()[: len(points)]

    def _near(self, xs: Floats, ys: Floats, reach: float) -> NDArray[np.bool_]:
        """The segments (columns) that may be within `reach` of each run of points (rows); all where none is."""
        x0, y0, x1, y1 = self._boxes.T
        near: NDArray[np.bool_] = (x0 <= xs.max(axis=1, keepdims=True) + reach) & (
            x1 >= xs.min(axis=1, keepdims=True) - reach
        )
        near &= (y0 <= ys.max(axis=1, keepdims=True) + reach) & (y1 >= ys.min(axis=1, keepdims=True) - reach)
        near[~near.any(axis=1)] = True
        return near

    def _distances(self, xs: Floats, ys: Floats, segment: Whole) -> tuple[Floats, Whole]:
        """Distance of each row of points from its segment, and the place of the foot: -1, 0 or 1."""
        away, where = np.empty(xs.shape), np.empty(xs.shape, dtype=np.int64)
        round_ = self._arc[segment]
        for rows, measure in ((np.flatnonzero(~round_), self._from_lines), (np.flatnonzero(round_), self._from_arcs)):
            if len(rows):
                away[rows], where[rows] = measure(xs[rows], ys[rows], segment[rows])
        return away, where

    def _from_lines(self, xs: Floats, ys: Floats, segment: Whole) -> tuple[Floats, Whole]:
        (x, y), (ux, uy) = _columns(self._start, segment), _columns(self._along, segment)
        dx, dy = xs - x, ys - y
        share = (dx * ux + dy * uy) / self._length2[segment][:, None]
        on_line = np.clip(share, 0.0, 1.0)
        away = np.hypot(dx - on_line * ux, dy - on_line * uy)
        return away, np.where(share <= 0, -1, np.where(share >= 1, 1, 0))

    def _from_arcs(self, xs: Floats, ys: Floats, segment: Whole) -> tuple[Floats, Whole]:
        (x, y), (lx, ly), (hx, hy) = (_columns(of, segment) for of in (self._centre, self._low, self._high))
        dx, dy = xs - x, ys - y
        after_low, before_high = lx * dy - ly * dx, dx * hy - dy * hx
        large = self._large[segment][:, None]
        inside = np.where(large, (after_low >= 0) | (before_high >= 0), (after_low > 0) & (before_high > 0))
        on_arc = np.abs(np.hypot(dx, dy) - self._radius[segment][:, None])
        (x, y), (ex, ey) = _columns(self._start, segment), _columns(self._end, segment)
        from_start, from_end = np.hypot(xs - x, ys - y), np.hypot(xs - ex, ys - ey)
        away = np.where(inside, on_arc, np.minimum(from_start, from_end))
        return away, np.where(inside, 0, np.where(from_start <= from_end, -1, 1))


def _columns(pairs: Floats, rows: Whole) -> tuple[Floats, Floats]:
    """Return x and y of the chosen rows as columns, to combine with rows of points."""
    chosen = pairs[rows]
    return chosen[:, :1], chosen[:, 1:]
