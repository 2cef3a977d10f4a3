"""How much room there is at a point in a board's waste: the wood, and all that must stay clear, go in. mm.

The roomiest places are found by halving boxes: the room at two points differs by no more than their distance, so that a
box whose middle has less than the best room so far, by more than its half diagonal, holds nothing better.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, STRtree

from cutjob.tolerances import TOLERANCES

Floats = NDArray[np.float64]

_QUADS = 64  # chords of a quarter turn: tangents for rounds eat 0.008 % more


class WasteRoom:
    """The room at a point: what it has beyond `clear` to all that is busy, or beyond `edge` to the rim of the wood,
    whichever is less. Negative where it lacks some.

    `free` is where the room is 0 or more, less 0.01 % of `clear` and `edge`.
    """

    def __init__(self, wood: shapely.Geometry, busy: Sequence[Polygon], *, clear: float, edge: float) -> None:
        """Take the wood, the areas nothing comes near, and how near to either, mm."""
        self.clear, self._edge = clear, edge
        self.x0, self.y0, self.x1, self.y1 = (float(value) for value in shapely.bounds(wood))
        taken = shapely.union_all(list(busy))
        self._wood, self._taken = _Area(wood), _Area(taken)
        self.free = shapely.difference(_grown(wood, -edge), _grown(taken, clear))

    def at(self, points: Floats) -> Floats:
        """Return the room at points, given as rows of x and y."""
        return np.minimum(self._taken.outside(points) - self.clear, -self._wood.outside(points) - self._edge)

    def spans(self) -> list[tuple[float, float]]:
        """Return the stretches of x over which something is free, from left to right."""
        merged: list[tuple[float, float]] = []
        for x0, _, x1, _ in sorted(part.bounds for part in shapely.get_parts(self.free) if not part.is_empty):
            if merged and x0 <= merged[-1][1]:
                merged[-1] = (merged[-1][0], max(merged[-1][1], x1))
            else:
                merged.append((x0, x1))
        return merged

    def along(self, xs: Sequence[float]) -> Floats:
        """Return a point of the free waste at each x: the middle of the longest free stretch across the board."""
        found = []
        for x in xs:
            line = shapely.linestrings([(x, self.y0 - 1), (x, self.y1 + 1)])
            pieces = [piece.bounds for piece in shapely.get_parts(shapely.intersection(line, self.free))]
            if pieces:
                _, low, _, high = max(pieces, key=lambda bounds: bounds[3] - bounds[1])
                found.append((x, (low + high) / 2))
        return np.array(found).reshape(-1, 2)

    def most(self, x0: float, x1: float, *, near: float) -> float:
        """Return the most room a point from x to x has, less `near` at most; below 0 where none has enough."""
        whole = np.array([[x0, x1, self.y0, self.y1]])
        _, rooms = self._search(whole, least=-math.inf, enough=math.inf, near=near)
        return float(rooms[0])

    def roomiest(self, boxes: Floats, *, near: float, enough: float) -> Floats:
        """Return the roomiest point of each box (a row of x, x, y, y) that has one with room, to `near` mm of room; or
        one that has `enough`.
        """
        points, rooms = self._search(boxes, least=0.0, enough=enough, near=near)
        kept: Floats = points[rooms >= 0]
        return kept

    def _search(self, boxes: Floats, *, least: float, enough: float, near: float) -> tuple[Floats, Floats]:
        """The roomiest point of each box and its room; boxes that can't have the `least` room are given up."""
        middles = (boxes[:, (0, 2)] + boxes[:, (1, 3)]) / 2
        halves = (boxes[:, (1, 3)] - boxes[:, (0, 2)]) / 2
        owners = np.arange(len(boxes))
        points, rooms = middles.copy(), np.full(len(boxes), -np.inf)
        while len(owners):
            values = self.at(middles)
            order = np.argsort(values, kind="stable")  # of several for one box the last, which is the roomiest, stays
            better = order[values[order] > rooms[owners[order]]]
            points[owners[better]], rooms[owners[better]] = middles[better], values[better]
            reach, best = values + np.hypot(*halves.T), rooms[owners]
            worth = (reach > best + near) & (reach >= least) & (best < enough)
            middles, halves, owners = middles[worth], halves[worth], owners[worth]
            along = np.arange(len(owners)), np.argmax(halves, axis=1)
            halves[along] /= 2
            shift = np.zeros_like(halves)
            shift[along] = halves[along]
            middles = np.concatenate([middles - shift, middles + shift])
            halves, owners = np.concatenate([halves, halves]), np.concatenate([owners, owners])
        return points, rooms


class _Area:
    """Signed distances from the rim of an area."""

    def __init__(self, area: shapely.Geometry) -> None:
        self._area = area
        shapely.prepare(area)
        edges = []
        for ring in shapely.get_rings(shapely.get_parts(area)):
            corners = shapely.get_coordinates(ring)
            edges.append(np.stack([corners[:-1], corners[1:]], axis=1))
        self._edges = STRtree(np.asarray(shapely.linestrings(np.concatenate(edges)))) if edges else None

    def outside(self, points: Floats) -> Floats:
        """Return how far points lie outside; negative inside."""
        if self._edges is None or not len(points):
            return np.full(len(points), np.inf)
        _, apart = self._edges.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
        signed: Floats = np.where(shapely.contains_xy(self._area, points), -apart, apart)
        return signed


def _grown(area: shapely.Geometry, by: float) -> shapely.Geometry:
    """The area grown, or shrunk where `by` is negative, no less than by that: its rounds are of tangents."""
    reach = (abs(by) + TOLERANCES.same_point) / math.cos(math.pi / (4 * _QUADS))
    return shapely.buffer(area, math.copysign(reach, by), quad_segs=_QUADS)
