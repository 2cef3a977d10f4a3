"""Places for clamps: a board and all areas swept on it go in, areas of clear waste at its edge come out. mm.

There is one clamp near each end of the board, or of the length of it that is on the machine, and more where pieces of
waste would hang on nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from cutjob.geometry.contour import Contour, polyline
from cutjob.geometry.polygons import from_polygon, to_polygon
from cutjob.geometry.segment import Bounds
from cutjob.job.machine import Clamps
from cutjob.job.stock import Board, KeepOut, named_clamps
from cutjob.layout.holding import Hold, Holding
from cutjob.layout.layout import Window
from cutjob.remembered import remembered
from cutjob.tolerances import TOLERANCES

CLAMP = "clamp"  # why a clamp's place is kept out of

_STEP = 5.0  # mm along an edge between the places tried
_END = 1 / 3  # of the board's length: a clamp within this is near an end; common practice, no source
_APART = 1.5  # times its length: two clamps nearer than this hold like one; common practice, no source
_WORSE = 80.0  # mm by which a place on a smaller piece of waste must be nearer to the end to be taken; our choice


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A possible place for a clamp: its area, the box round that, and the chunk of waste under it."""

    area: Polygon
    bounds: Bounds
    chunk: int

    @property
    def x(self) -> float:
        """The middle along the board."""
        return (self.bounds[0] + self.bounds[2]) / 2


def places_at_edge(
    board: Board, chunks: Sequence[Polygon], *, busy: shapely.Geometry, clamps: Clamps, margin: float
) -> tuple[Place, ...]:
    """Return all places for a clamp at a board's edge that lie on one chunk each, `margin` mm clear of what is busy."""
    areas = _along_edges(board.outline, clamps)
    if not len(areas):
        return ()
    wood = shapely.union_all([*(to_polygon(one.area) for one in board.keep_outs)])
    taken = shapely.union_all([shapely.buffer(busy, margin), wood])
    shapely.prepare(taken)
    free = areas[~shapely.intersects(taken, areas)]
    inside = shapely.buffer(free, -TOLERANCES.acceptance)
    found: list[Place] = []
    tree = shapely.STRtree(list(chunks)) if chunks else None
    if tree is None:
        return ()
    boxes = list(map(tuple, shapely.bounds(free).tolist()))
    for number, piece in zip(*tree.query(inside, predicate="within").tolist(), strict=True):
        found.append(Place(area=free[number], bounds=boxes[number], chunk=int(piece)))
    return tuple(found)


@remembered(most=64)
def _along_edges(outline: Contour, clamps: Clamps) -> NDArray[np.object_]:
    """Areas as large as a clamp, flush with the edges of a board and wholly on it."""
    wood = to_polygon(outline)
    corners = shapely.get_coordinates(wood.exterior)
    boxes = []
    for start, end in pairwise(corners):
        length = float(np.hypot(*(end - start)))
        if length < clamps.length:
            continue
        along = (end - start) / length
        inward = np.array([-along[1], along[0]]) * (1 if wood.exterior.is_ccw else -1)
        count = max(1, math.ceil((length - clamps.length) / _STEP))
        for step in range(count + 1):
            first = start + along * (length - clamps.length) * step / count
            last = first + along * clamps.length
            boxes.append([first, last, last + inward * clamps.depth, first + inward * clamps.depth])
    if not boxes:
        return np.zeros(0, dtype=object)
    areas = np.asarray(shapely.polygons(np.array(boxes)), dtype=object)
    return areas[shapely.covers(shapely.buffer(wood, TOLERANCES.acceptance), areas)]


def end_clamps(
    places: Sequence[Place], chunks: Sequence[Polygon], *, first: float, last: float, clamps: Clamps
) -> tuple[Place, ...] | None:
    """Return two places for clamps between `first` and `last` mm along the board, one near each end; None where there
    aren't two.
    """
    within = [one for one in places if one.bounds[0] >= first - 1e-6 and one.bounds[2] <= last + 1e-6]
    reach = max((last - first) * _END, clamps.length)
    left = [one for one in within if one.x - first <= reach]
    right = [one for one in within if last - one.x <= reach]
    if not left or not right:
        return None
    largest = max(range(len(chunks)), key=lambda chunk: chunks[chunk].area)

    def rank(place: Place, off: float) -> tuple[float, float, float]:
        return (off + (0.0 if place.chunk == largest else _WORSE), place.bounds[0], place.bounds[1])

    one = min(left, key=lambda place: rank(place, place.x - first))
    away = shapely.distance(one.area, np.array([place.area for place in right], dtype=object))
    apart = [place for place, off in zip(right, away, strict=True) if off >= (_APART - 1) * clamps.length]
    if not apart:
        return None
    return one, min(apart, key=lambda place: rank(place, last - place.x))


def more_clamps(places: Sequence[Place], chosen: Sequence[Place], *, clamps: Clamps) -> tuple[Place, ...]:
    """Return one more place on each chunk that has no chosen place, clear of the chosen ones."""
    have = {one.chunk for one in chosen}
    found: list[Place] = []
    for place in sorted(places, key=lambda one: (one.chunk, one.bounds)):
        if place.chunk in have or any(place.area.distance(other.area) < clamps.margin for other in (*chosen, *found)):
            continue
        have.add(place.chunk)
        found.append(place)
    return tuple(found)


def as_hold(place: Place, *, clamps: Clamps, window: int | None) -> Hold:
    """Return the hold of a clamp at a place."""
    return Hold(area=_contour(place.area), height=clamps.height, window=window)


def with_clamps(board: Board, holds: Iterable[Hold]) -> Board:
    """Return the board with its clamps as keep-outs."""
    new = list(dict.fromkeys((hold.area, hold.height) for hold in holds))
    clamps = (KeepOut(area, height=height, why=CLAMP) for area, height in new)
    return replace(board, keep_outs=(*board.keep_outs, *clamps))


def without_holds(board: Board, holding: Holding) -> Board:
    """Return the board as it is once the clamps are off."""
    areas = {hold.area for hold in holding.holds}
    return replace(board, keep_outs=tuple(one for one in board.keep_outs if one.area not in areas))


@remembered(most=64)
def room_for_clamps(board: Board, *, clamps: Clamps, count: int, reach: float, bed: float | None) -> Board:
    """Return the board with places for `count` clamps kept free, and `reach` mm round them: one at each end, the others
    along both long edges in turn. A board longer than the `bed` has enough for two in every window. Clamps that the
    job names on a board replace them.
    """
    if named_clamps(board):
        return board
    areas = _along_edges(board.outline, clamps)
    wood = to_polygon(board.outline)
    keep_outs = shapely.union_all([to_polygon(one.area) for one in board.keep_outs])
    areas = areas[~shapely.intersects(areas, keep_outs)] if board.keep_outs else areas
    if not len(areas):
        return board
    boxes = shapely.bounds(areas)
    x0, y0, x1, y1 = wood.bounds
    along = count - 2
    if bed is not None and x1 - x0 > bed:
        step = (bed - 2 * clamps.length) / 2
        along = max(along, math.ceil((x1 - x0) / max(step, clamps.length)) - 1)
    # At an end, the place nearest to it, the lower one first; along the board, the nearest to its goal, on sides in
    # turn.
    orders = [np.lexsort((boxes[:, 1], boxes[:, 2])), np.lexsort((boxes[:, 1], -boxes[:, 0]))]
    for number in range(1, along + 1):
        aside = np.abs((boxes[:, 0] + boxes[:, 2]) / 2 - (x0 + (x1 - x0) * number / (along + 1))).round()
        off = boxes[:, 1] - y0 if number % 2 == 0 else y1 - boxes[:, 3]
        orders.append(np.lexsort((boxes[:, 0], aside, off.round())))
    chosen: list[Polygon] = []
    for order in orders:
        area = next((areas[i] for i in order if all(areas[i].distance(one) > clamps.margin for one in chosen)), None)
        if area is not None:
            chosen.append(area)
    grown = (
        from_polygon(area.buffer(reach, join_style="mitre") if reach > TOLERANCES.same_point else area).outline
        for area in chosen
    )
    places = (KeepOut(area, height=clamps.height) for area in grown)
    return replace(board, keep_outs=(*board.keep_outs, *places))


def windows_of(windows: Sequence[Window], length: float) -> list[tuple[int | None, float, float]]:
    """Return each window's number, and where it begins and ends along the board; the whole board where there
    are none.
    """
    if not windows:
        return [(None, 0.0, length)]
    return [(number, window.first, window.last) for number, window in enumerate(windows)]


def _contour(area: Polygon) -> Contour:
    points = [(round(float(x), 4) + 0.0, round(float(y), 4) + 0.0) for x, y in area.exterior.coords[:-1]]
    return polyline(points).turned(counter_clockwise=True)
