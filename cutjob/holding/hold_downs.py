"""Hold-down screws or pins in the waste: a board and all areas that must stay clear go in, places come out. mm.

Common practice, no source: a screw every 150 to 300 mm along a board, one near each end, on both sides in turn, none
in the cutter's way. The candidates are the roomiest places of short pieces of the board, and the fewest places along
it; the best way from end to end through these is taken.

The roomiest places are found by halving boxes. The room at two points differs by no more than their distance. So a box
holds nothing better where the room at its middle is less than the best so far by more than half the box's diagonal.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, STRtree

from cutjob.geometry.segment import Point
from cutjob.job.machine import Screws
from cutjob.layout.layout import HoldDown
from cutjob.tolerances import TOLERANCES

Floats = NDArray[np.float64]

_QUADS = 64  # chords of a quarter turn: tangents in place of arcs take 0.008 % more


class WasteRoom:
    """The room at a point: its distance from busy areas less `clear`, or from the rim of the wood less `edge`,
    whichever is smaller; negative where room is lacking.

    `free` is the area where the room is 0 or more, less 0.01 % of `clear` and `edge`.
    """

    def __init__(self, wood: shapely.Geometry, busy: Sequence[Polygon], *, clear: float, edge: float) -> None:
        """Take the wood, the busy areas, and how far to keep off busy areas (`clear`) and the rim (`edge`), mm."""
        self.clear, self._edge = clear, edge
        self.x0, self.y0, self.x1, self.y1 = (float(value) for value in shapely.bounds(wood))
        taken = shapely.union_all(list(busy))
        self._wood, self._taken = _Area(wood), _Area(taken)
        self.free = shapely.difference(_grown(wood, -edge), _grown(taken, clear))

    def at(self, points: Floats) -> Floats:
        """Return the room at points, given as rows of x and y."""
        return np.minimum(self._taken.outside(points) - self.clear, -self._wood.outside(points) - self._edge)

    def spans(self) -> list[tuple[float, float]]:
        """Return the stretches of x that have some free waste, from left to right."""
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
        """Return the most room a point between `x0` and `x1` has, to within `near`; below 0 where none has enough."""
        whole = np.array([[x0, x1, self.y0, self.y1]])
        _, rooms = self._search(whole, least=-math.inf, enough=math.inf, near=near)
        return float(rooms[0])

    def roomiest(self, boxes: Floats, *, near: float, enough: float) -> Floats:
        """Return the roomiest point of each box (a row of x, x, y, y) that has any room, to within `near` mm of room;
        or a point that has `enough`.
        """
        points, rooms = self._search(boxes, least=0.0, enough=enough, near=near)
        kept: Floats = points[rooms >= 0]
        return kept

    def _search(self, boxes: Floats, *, least: float, enough: float, near: float) -> tuple[Floats, Floats]:
        """The roomiest point of each box and its room; boxes that can't have the `least` room are dropped."""
        middles = (boxes[:, (0, 2)] + boxes[:, (1, 3)]) / 2
        halves = (boxes[:, (1, 3)] - boxes[:, (0, 2)]) / 2
        owners = np.arange(len(boxes))
        points, rooms = middles.copy(), np.full(len(boxes), -np.inf)
        while len(owners):
            values = self.at(middles)
            order = np.argsort(values, kind="stable")  # the last point for a box stays: it is the roomiest
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
    """The area grown by at least `by`, or shrunk where that is negative: its arcs are drawn as tangents."""
    reach = (abs(by) + TOLERANCES.same_point) / math.cos(math.pi / (4 * _QUADS))
    return shapely.buffer(area, math.copysign(reach, by), quad_segs=_QUADS)


_NEAR, _NEAR_LACKING = 0.5, 0.1  # mm: how exactly the room of places is found, and the room that a stretch lacks
_ENDS = 0.25  # of a stretch that is too long, at either end, where a place wouldn't help: not searched for room
_PIECES = 16  # of a stretch `every` long, each searched on both sides of the board's middle line
_APART = 0.25  # of `every` or the board's longer side: two places nearer than this hold badly against turning

# The costs of a choice, worst first; each is more than all the following together: a stretch longer than `every`, by
# the mm; two places too near each other; an end with none within half of `every`; a place.
_TOO_FAR, _CRAMPED, _FAR_END, _PLACE = 1e11, 1e8, 1e6, 1e3
_LEAST_EXCESS = 0.1  # mm: a stretch that is too long costs at least as much as one too long by this
# The most a place costs, as shares of the cost of one without room: far from an end, two in turn on one side, uneven.
_END, _SAME_SIDE, _STEP = 1.0, 0.5, 0.5
_ASIDE = 0.25  # of the board's width: a place this far from its middle line is wholly on one side


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Middles of hold-downs, from left to right, and the stretches of the board, from x to x, that have none.

    A stretch is in `too_far` where it is longer than allowed because the waste in it is too thin. `lacking` says for
    each how much wider the waste would have to be at the widest place of its middle half, mm (0 where it has room for
    one, but not for two).
    """

    at: tuple[Point, ...]
    too_far: tuple[tuple[float, float], ...]
    lacking: tuple[float, ...]


def hold_down_places(
    board: shapely.Geometry, *, busy: Sequence[Polygon], head_diameter: float, margin: float, every: float, edge: float
) -> Places:
    """Return places in the waste of a board, as few as hold it, each as roomy as possible.

    No place has anything busy within `head_diameter` / 2 + `margin`, nor the edge of the wood within `edge` (both from
    its middle). No stretch of the wood longer than `every` has no place, except those in `too_far`, where there really
    is none. There are at least two places, at least `head_diameter` + `margin` apart. Where the waste allows, each end
    has one within half of `every`. The next aim is the fewest places; then room (up to twice what is asked), nearness
    to the ends, the sides of the middle line in turn, and even steps. Raises ValueError without any wood.
    """
    if shapely.is_empty(board):
        raise ValueError("there is no wood to hold down")
    with np.errstate(all="ignore"):  # GEOS divides by nothing at times, and copes
        room = WasteRoom(board, busy, clear=head_diameter / 2 + margin, edge=edge)
        at = _Choice(room, every=every, apart=head_diameter + margin).places()
        return _with_stretches(room, at, every)


def _with_stretches(room: WasteRoom, at: tuple[Point, ...], every: float) -> Places:
    stops = [room.x0, *(x for x, _ in at), room.x1]
    stretches = list(pairwise(stops))
    too_far = [(a, b) for a, b in stretches if b - a > every + TOLERANCES.same_point]
    if len(at) < 2 and not too_far:
        too_far = [max(stretches, key=lambda ends: ends[1] - ends[0])]
    lacking = [_lacking(room, *ends) for ends in too_far]
    return Places(at=at, too_far=tuple(too_far), lacking=tuple(lacking))


def _lacking(room: WasteRoom, first: float, last: float) -> float:
    aside = _ENDS * (last - first)
    return max(0.0, -2 * room.most(first + aside, last - aside, near=_NEAR_LACKING))


def as_hold_downs(places: Places, screws: Screws) -> tuple[HoldDown, ...]:
    """Return the screws at the places."""
    return tuple(HoldDown(at=at, diameter=screws.hole, head=screws.head / 2, height=screws.height) for at in places.at)


class _Choice:
    """Chooses among the places of a board's waste."""

    def __init__(self, room: WasteRoom, *, every: float, apart: float) -> None:
        self._room, self._every, self._apart = room, every, apart
        self._middle = (room.y0 + room.y1) / 2

    def places(self) -> tuple[Point, ...]:
        """The cheapest choice of two or more; fewer only where there are no two."""
        points = self._candidates()
        if not len(points):
            return ()
        start, step, end = self._start(points), self._step(points), self._end(points)
        one, more = start, np.full(len(points), np.inf)
        came = np.full(len(points), -1)
        for i in range(1, len(points)):
            so_far = np.minimum(one[:i], more[:i]) + step[:i, i]
            came[i] = np.argmin(so_far)
            more[i] = so_far[came[i]]
        if np.isinf(more).all():
            return self._few(points, start + end)
        last = int(np.argmin(more + end))
        chosen = [last, int(came[last])]
        while more[chosen[-1]] < one[chosen[-1]]:
            chosen.append(int(came[chosen[-1]]))
        return tuple((float(x), float(y)) for x, y in points[chosen[::-1]])

    def _few(self, points: Floats, cost: Floats) -> tuple[Point, ...]:
        """The two places that are furthest apart, where two fit; else the best one."""
        corners = shapely.get_coordinates(shapely.convex_hull(self._room.free))
        if len(corners):
            apart = np.hypot(*(corners[:, None] - corners[None]).T)
            pair = np.unravel_index(int(np.argmax(apart)), apart.shape)
            ends = sorted((float(corners[i][0]), float(corners[i][1])) for i in pair)
            if apart.max() >= self._apart and (self._room.at(np.array(ends)) >= 0).all():
                return tuple(ends)
        x, y = points[int(np.argmin(cost))]
        return ((float(x), float(y)),)

    def _candidates(self) -> Floats:
        """The roomiest place of every piece on either side, and the fewest along the free waste; by x, then y."""
        room = self._room
        count = max(1, math.ceil((room.x1 - room.x0) / self._every * _PIECES))
        cuts = np.linspace(room.x0, room.x1, count + 1)
        boxes = [
            (a, b, low, high)
            for a, b in pairwise(cuts)
            for low, high in ((room.y0, self._middle), (self._middle, room.y1))
        ]
        found = np.concatenate(
            [room.roomiest(np.array(boxes), near=_NEAR, enough=room.clear), room.along(self._along())]
        )
        found = np.unique(found, axis=0)
        kept: Floats = found[room.at(found) >= 0]
        return kept

    def _along(self) -> list[float]:
        """The x of the fewest places, each as far right as the stretch before it allows; where nothing is free in a
        stretch, the next free x. Once with half a stretch at the left end, once with a whole one.
        """
        spans = self._room.spans()
        found: list[float] = []
        for reach in (self._every / 2, self._every):
            x, limit = -math.inf, self._room.x0 + reach
            while ahead := [(a, b) for a, b in spans if b > x]:
                within = [min(b, limit) for a, b in ahead if a <= limit]
                x = max(within) if within else ahead[0][0]
                limit = x + self._every
                found.append(x)
        return found

    def _start(self, points: Floats) -> Floats:
        return self._to_end(points[:, 0] - self._room.x0) + self._place(points)

    def _end(self, points: Floats) -> Floats:
        return self._to_end(self._room.x1 - points[:, 0])

    def _to_end(self, length: Floats) -> Floats:
        near = length <= self._every / 2 + TOLERANCES.same_point
        cost: Floats = self._too_far(length) + np.where(near, 0.0, _FAR_END)
        return cost + _END * np.minimum(length / self._every, 1)

    def _place(self, points: Floats) -> Floats:
        """The cost of a place by itself: the more room there is, up to twice what is asked, the less."""
        asked = max(self._room.clear, TOLERANCES.same_point)
        cost: Floats = _PLACE + 1 - np.minimum(self._room.at(points) / asked, 1)
        return cost

    def _step(self, points: Floats) -> Floats:
        """The cost of taking the place of a column after the place of a row."""
        room = self._room
        along, across = (points[None, :, axis] - points[:, None, axis] for axis in (0, 1))
        apart = np.hypot(along, across)
        aside = np.clip((points[:, 1] - self._middle) / ((room.y1 - room.y0) * _ASIDE), -1, 1)
        cost: Floats = self._too_far(along) + _STEP * np.minimum(along / self._every, 1) ** 2
        cost += _SAME_SIDE * (1 + aside[None] * aside[:, None]) / 2 + self._place(points)[None]
        wished = _APART * min(self._every, max(room.x1 - room.x0, room.y1 - room.y0))
        cost += np.where(apart < wished, _CRAMPED, 0.0)
        cost[apart < self._apart] = np.inf
        return cost

    def _too_far(self, length: Floats) -> Floats:
        excess = length - self._every
        too_long = excess > TOLERANCES.same_point
        cost: Floats = np.where(too_long, _TOO_FAR * np.maximum(excess, _LEAST_EXCESS), 0.0)
        return cost
