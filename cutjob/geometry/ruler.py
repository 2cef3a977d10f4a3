"""Measures along a path: the point at a length from its start, and the piece between two lengths. mm."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from cutjob.geometry.segment import Arc, Point, Segment, distance
from cutjob.tolerances import TOLERANCES

Floats = NDArray[np.float64]
_Table = tuple[Floats, Floats, Floats, Floats, Floats, Floats]


class Ruler:
    """Measures a chain of segments; on a closed one, lengths beyond the perimeter go round again."""

    def __init__(self, segments: Sequence[Segment]) -> None:
        """Take the chain; it is closed where its end meets its start."""
        self.segments = tuple(segments)
        self._lengths = [segment.length for segment in self.segments]
        self._starts = [0.0, *accumulate(self._lengths)]
        self.closed = distance(self.segments[0].start, self.segments[-1].end) <= TOLERANCES.same_point
        self._table: _Table | None = None  # worked out when first needed

    @property
    def length(self) -> float:
        """Length of the whole chain, mm."""
        return self._starts[-1]

    def _find(self, along: float) -> tuple[int, float]:
        """Index of the segment at `along` (on the chain) and the share of it before that place."""
        index = min(max(bisect_right(self._starts, along) - 1, 0), len(self.segments) - 1)
        return index, min(max((along - self._starts[index]) / self._lengths[index], 0.0), 1.0)

    def _wrap(self, along: float) -> float:
        return along % self.length if self.closed else min(max(along, 0.0), self.length)

    def point(self, along: float) -> Point:
        """The point at `along` mm from the start."""
        index, share = self._find(self._wrap(along))
        return self.segments[index].start if share == 0 else self.segments[index].point_at(share)

    def direction(self, along: float) -> Point:
        """Unit tangent at `along` mm from the start."""
        index, share = self._find(self._wrap(along))
        return self.segments[index].direction_at(share)

    def place(self, along: float) -> tuple[Point, Point]:
        """The point and the unit tangent at `along` mm from the start."""
        index, share = self._find(self._wrap(along))
        segment = self.segments[index]
        return segment.start if share == 0 else segment.point_at(share), segment.direction_at(share)

    def places(self, along: Sequence[float] | Floats) -> tuple[Floats, Floats]:
        """The points and the unit tangents, n x 2 each, at `along` mm from the start, as `place` gives them."""
        starts, lengths, *columns = self._columns()
        asked = np.asarray(along, dtype=np.float64)
        wrapped = asked % self.length if self.closed else np.clip(asked, 0.0, self.length)
        index = np.clip(np.searchsorted(starts, wrapped, side="right") - 1, 0, len(lengths) - 1)
        share = np.clip((wrapped - starts[index]) / lengths[index], 0.0, 1.0)
        base, way, angle, sweep = (column[index] for column in columns)
        arc = sweep != 0
        turned = angle + sweep * share
        cos, sin, sign = np.cos(turned), np.sin(turned), np.sign(sweep)
        chord = np.hypot(way[:, 0], way[:, 1])
        reach = np.where(arc[:, None], np.stack([chord * cos, chord * sin], axis=1), way * share[:, None])
        direction = np.where(arc[:, None], np.stack([-sign * sin, sign * cos], axis=1), way / chord[:, None])
        return base + reach, direction

    def beside(self, points: Floats, segment: NDArray[np.int64]) -> Floats:
        """How far along the chain the place nearest to each point (n, 2) lies on the segment of this index, mm."""
        starts, lengths, *columns = self._columns()
        base, way, angle, sweep = (column[segment] for column in columns)
        off = points - base
        square = np.einsum("ij,ij->i", way, way)
        on_line = np.clip(np.einsum("ij,ij->i", off, way) / square, 0.0, 1.0)
        round_ = 2 * np.pi
        gone = ((np.arctan2(off[:, 1], off[:, 0]) - angle) * np.sign(sweep)) % round_
        whole = np.abs(sweep)
        # Beyond the arc the nearer of its ends is the one that less of the circle lies before.
        beyond = np.where(gone - whole <= round_ - gone, 1.0, 0.0)
        on_arc = np.where(gone <= whole, gone / np.where(whole > 0, whole, 1.0), beyond)
        along: Floats = starts[segment] + lengths[segment] * np.where(sweep != 0, on_arc, on_line)
        return along

    def _columns(self) -> _Table:
        """The starts of the segments along the chain, with its end; their lengths; and for each a line's start and the
        vector to its end; or an arc's centre, the vector to its start, its first angle and its sweep (0 for a line).
        """
        if self._table is None:
            rows = [
                (*segment.centre, *segment.start, segment.start_angle, segment.sweep)
                if isinstance(segment, Arc)
                else (*segment.start, *segment.end, 0.0, 0.0)
                for segment in self.segments
            ]
            columns = np.array(rows, dtype=np.float64)
            self._table = (
                np.array(self._starts),
                np.array(self._lengths),
                columns[:, :2],
                columns[:, 2:4] - columns[:, :2],
                columns[:, 4],
                columns[:, 5],
            )
        return self._table

    def start_of(self, index: int) -> float:
        """The start of segment `index`, mm; the whole length where `index` is the number of segments."""
        return self._starts[index]

    def piece(self, first: float, last: float) -> list[Segment]:
        """Segments from `first` to `last` mm (first < last, at most one turn of a closed chain more than the start)."""
        if last - first <= TOLERANCES.same_point:
            return []
        if self.closed:
            turn = first // self.length * self.length
            first, last = first - turn, last - turn
        pieces: list[Segment] = []
        while last - first > TOLERANCES.same_point:
            end = min(last, self.length)
            pieces.extend(self._within(first, end))
            first, last = 0.0, last - self.length
            if not self.closed:
                break
        return pieces

    def _within(self, first: float, last: float) -> list[Segment]:
        (i, share_i), (j, share_j) = self._find(first), self._find(last)
        # A sliver at either end comes from rounding and is dropped.
        if (1 - share_i) * self._lengths[i] <= TOLERANCES.same_point:
            i, share_i = i + 1, 0.0
        if share_j * self._lengths[j] <= TOLERANCES.same_point if j < len(self.segments) else False:
            j, share_j = j - 1, 1.0
        if i > j or i >= len(self.segments):
            return []
        if i == j:
            return [self.segments[i].part(share_i, share_j)] if share_j > share_i else []
        return [
            self.segments[i].part(share_i, 1.0),
            *self.segments[i + 1 : j],
            self.segments[j].part(0.0, share_j),
        ]
