"""Measures the clear wood of a board: its largest rectangles along x and y, and the areas of parts and boards. mm, mm2.

Boards may have dog-ears, slopes, curves and keep-outs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.polygon import orient

from cutjob.geometry.contour import circle
from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Bounds, Point
from cutjob.job.stock import Board
from cutjob.layout.rules import Clearance
from cutjob.layout.search.outline import ring_points
from cutjob.parts.part import ShapedPart
from cutjob.tolerances import TOLERANCES

DEVIATION = 0.05
"""Curves of the clear area are at most this far on the safe side, mm; straight edges are exact."""

NEARLY = 1e-4
"""No rectangle is larger than the one found by more than this share."""

_SAME = 1e-9  # mm: ends of edges this near count as one for a strip
_BUFFER_ERROR = 0.01  # GEOS fills hollows of a border shallower than this share of the distance
_MOST_NUMBERS = 1_000_000  # of one table of strips and edges

Floats: TypeAlias = NDArray[np.float64]


@lru_cache(maxsize=1000)  # needed again for every part that fits no board
def largest_clear_rectangle(board: Board, *, gap: float, edge_margin: float) -> tuple[float, float]:
    """Return length (along the board) and width of the rectangle of clear wood with the largest area; 0, 0 for none.

    Its sides are along x and y. It keeps `edge_margin` from the board's edge and `gap` from its keep-outs (all mm). Its
    area is the greatest within one part in 10,000, with curves DEVIATION on the safe side; it is exact where only edges
    along x and y bound it.
    """
    x0, y0, x1, y1 = largest_box(clear_area(board, gap=gap, edge_margin=edge_margin))
    return x1 - x0, y1 - y0


def clear_area(board: Board, *, gap: float, edge_margin: float) -> shapely.Geometry:
    """Return the points `edge_margin` or more from the board's edge and `gap` or more from its keep-outs.

    Straight edges are exact, curves are on the safe side by at most about twice DEVIATION.
    """
    inside = ring_points(board.outline, DEVIATION, grow=False)
    blocked: list[Polygon] = _beside(inside[::-1], edge_margin)
    for knot in (one.area for one in board.keep_outs):
        round_one = knot.circle()
        if round_one is not None:
            (x, y), radius = round_one
            blocked.append(Polygon(ring_points(circle((x, y), radius + gap), DEVIATION, grow=True)))
            continue
        points = ring_points(knot, DEVIATION, grow=True)
        blocked += [Polygon(points), *_beside(points, gap)]
    area = Polygon(inside)
    with np.errstate(all="ignore"):  # GEOS sometimes divides by 0, without harm
        return shapely.difference(area, shapely.union_all(blocked)) if blocked else area


def _beside(points: Sequence[Point], reach: float) -> list[Polygon]:
    """Return pieces that cover everything within `reach` to the right of a ring: exact beside edges, a little more at
    corners, where tangents replace the arc.
    """
    if reach <= 0:
        return []
    ring = [here for here, before in zip(points, [points[-1], *points[:-1]], strict=True) if here != before]
    step = 2 * math.acos(reach / (reach + DEVIATION))
    normals: list[Point] = []
    for (x0, y0), (x1, y1) in zip(ring, ring[1:] + ring[:1], strict=True):
        length = math.hypot(x1 - x0, y1 - y0)
        normals.append(((y1 - y0) / length, (x0 - x1) / length))
    pieces = []
    for i, (x, y) in enumerate(ring):
        (ax, ay), (bx, by) = normals[i - 1], normals[i]
        px, py = ring[(i + 1) % len(ring)]
        across = (reach * bx, reach * by)
        pieces.append(Polygon([(x, y), (x + across[0], y + across[1]), (px + across[0], py + across[1]), (px, py)]))
        bend, first = math.atan2(ax * by - ay * bx, ax * bx + ay * by), math.atan2(ay, ax)
        if bend <= _SAME:
            continue
        count = math.ceil(bend / min(step, math.pi / 4) - _SAME)
        tangent = reach / math.cos(bend / count / 2)
        turns = [first + bend * (k + 0.5) / count for k in range(count)]
        corners = [(x + tangent * math.cos(turn), y + tangent * math.sin(turn)) for turn in turns]
        pieces.append(Polygon([(x, y), (x + reach * ax, y + reach * ay), *corners, (x + across[0], y + across[1])]))
    return pieces


def largest_box(area: shapely.Geometry) -> Bounds:
    """Return the rectangle along x and y of greatest area within polygons, to NEARLY; all zeros where there is none.

    Branch and bound over the left and the right side of a rectangle, which give its height directly.

    No rectangle with sides in [a0, a1] and [b0, b1] is longer than b1 - a0 or higher than the highest clear stretch
    across (a1, b0), and the one from a0 to b1 is among them.
    """
    edges = _edges_of(area)
    if edges is None:
        return 0.0, 0.0, 0.0, 0.0
    events = _distinct(np.concatenate([edges.x0, edges.x1]))
    best, found = 0.0, (0.0, 0.0, 0.0, 0.0)
    boxes = np.array([[events[0], events[-1], events[0], events[-1]]])  # columns a0, a1, b0, b1
    while len(boxes):
        a0, a1, b0, b1 = boxes.T
        floor, height = edges.clear(a0, b1)
        reached = (b1 - a0) * height
        top = int(np.argmax(reached))
        if reached[top] > best:
            best = float(reached[top])
            found = (float(a0[top]), float(floor[top]), float(b1[top]), float(floor[top] + height[top]))
        _, most = edges.clear(np.minimum(a1, b0), np.maximum(a1, b0))
        most = np.where(a1 < b0 - _SAME, most, edges.height)
        boxes = _halves(boxes[(b1 - a0) * most > best * (1 + NEARLY)], events)
    return found


def _halves(boxes: Floats, events: Floats) -> Floats:
    """Split each box across its longer side: at the end of an edge inside it, or else in the middle."""
    rows, across_a = np.arange(len(boxes)), boxes[:, 1] - boxes[:, 0] >= boxes[:, 3] - boxes[:, 2]
    low, high = np.where(across_a, 0, 2), np.where(across_a, 1, 3)
    start, end = boxes[rows, low], boxes[rows, high]
    first, last = np.searchsorted(events, start + _SAME), np.searchsorted(events, end - _SAME)
    at = events[np.minimum((first + last) // 2, len(events) - 1)]
    middle = np.where(first < last, at, (start + end) / 2)
    below, above = boxes.copy(), boxes.copy()
    below[rows, high], above[rows, low] = middle, middle
    both = np.concatenate([below, above])
    wide = both[:, 3] - both[:, 0] > _SAME
    large = np.maximum(both[:, 1] - both[:, 0], both[:, 3] - both[:, 2]) > _SAME
    kept: Floats = both[wide & large]
    return kept


def _distinct(values: Floats) -> Floats:
    ordered = np.unique(values)
    apart: Floats = ordered[np.concatenate([[True], np.diff(ordered) > _SAME])]
    return apart


@dataclass(frozen=True, slots=True)
class _Edges:
    """Edges of an area, from left to right; `side` is 1 where the area is above an edge and -1 where it is below.

    A vertical edge has the side of the edge that meets it at its top.
    """

    x0: Floats
    y0: Floats
    x1: Floats
    y1: Floats
    side: NDArray[np.int64]
    height: float

    def clear(self, left: Floats, right: Floats) -> tuple[Floats, Floats]:
        """Return the start and the height of the highest clear stretch across each open strip (0 for none)."""
        size = max(1, _MOST_NUMBERS // len(self.x0))
        parts = [self._clear(left[i : i + size], right[i : i + size]) for i in range(0, len(left), size)]
        return np.concatenate([part[0] for part in parts]), np.concatenate([part[1] for part in parts])

    def _clear(self, left: Floats, right: Floats) -> tuple[Floats, Floats]:
        left, right = left[:, None], right[:, None]
        run = self.x1 - self.x0
        slope = np.divide(self.y1 - self.y0, run, out=np.zeros_like(run), where=run > 0)
        starts = self.y0 + slope * (np.clip(left, self.x0, self.x1) - self.x0)
        ends = np.where(run > 0, self.y0 + slope * (np.clip(right, self.x0, self.x1) - self.x0), self.y1)
        away = (self.x1 <= left + _SAME) | (self.x0 >= right - _SAME)
        low = np.where(away, np.inf, np.minimum(starts, ends))
        high = np.where(away, -np.inf, np.maximum(starts, ends))
        order = np.argsort(low, axis=1, kind="stable")
        low, high = np.take_along_axis(low, order, axis=1), np.take_along_axis(high, order, axis=1)
        reach = np.maximum.accumulate(high, axis=1)
        # The edge that reaches highest so far; the area is above all such edges or above none.
        top = np.maximum.accumulate(np.where(high >= reach, np.arange(high.shape[1]), 0), axis=1)
        above = np.take_along_axis(self.side[order], top, axis=1)[:, :-1] > 0
        known = np.isfinite(low[:, 1:]) & np.isfinite(reach[:, :-1])
        size = np.full(known.shape, 0.0)
        np.subtract(low[:, 1:], reach[:, :-1], out=size, where=known & above)
        best = np.argmax(size, axis=1)
        rows = np.arange(len(size))
        height = np.maximum(size[rows, best], 0.0)
        return np.where(height > 0, reach[rows, best], 0.0), height


def _edges_of(area: shapely.Geometry) -> _Edges | None:
    rows: list[tuple[float, float, float, float, int]] = []
    for polygon in polygons_of(shapely.simplify(area, 0)):
        turned = orient(polygon)
        for ring in (turned.exterior, *turned.interiors):
            rows += _ring_edges(np.array(ring.coords)[:-1, :2])
    if not rows:
        return None
    x0, y0, x1, y1, side = (np.array(column) for column in zip(*rows, strict=True))
    height = float(max(y0.max(), y1.max()) - min(y0.min(), y1.min()))
    return _Edges(x0, y0, x1, y1, side, height)


def _ring_edges(points: Floats) -> list[tuple[float, float, float, float, int]]:
    """The edges of a ring with its area on the left."""
    following = np.roll(points, -1, axis=0)
    run = following[:, 0] - points[:, 0]
    sides = np.where(np.abs(run) <= _SAME, 0, np.sign(run)).astype(int)
    rows = []
    for i, ((x0, y0), (x1, y1)) in enumerate(zip(points, following, strict=True)):
        side = int(sides[i])
        if side == 0:
            step, k = (1, i) if y1 > y0 else (-1, i)
            for _ in range(len(points)):
                k = (k + step) % len(points)
                if sides[k]:
                    break
            rows.append((float(x0), min(float(y0), float(y1)), float(x0), max(float(y0), float(y1)), int(sides[k])))
        elif side > 0:
            rows.append((float(x0), float(y0), float(x1), float(y1), side))
        else:
            rows.append((float(x1), float(y1), float(x0), float(y0), side))
    return rows


def padded_area(part: ShapedPart, *, gap: float) -> float:
    """Return a lower bound on the area of a part grown by half the gap all round, which no other part may use."""
    region = part.region
    border = region.outline.length + sum(hole.length for hole in region.holes)
    reach = max(0.0, gap - TOLERANCES.gap) / 2
    # Round corners of the growth are chords inside their arcs; an arc of the part may have its chords outside.
    grown = float(shapely.area(_grown(to_polygon(region), reach)))
    return max(region.area, grown - border * (TOLERANCES.chord + _BUFFER_ERROR * reach))


def room_area(board: Board, *, clearance: Clearance) -> float:
    """Return an upper bound on the board's area for parts grown by half the gap."""
    reach = max(0.0, clearance.gap - TOLERANCES.gap) / 2
    margin = max(0.0, clearance.edge_margin - TOLERANCES.gap)
    outline = to_polygon(board.outline)
    room = _grown(outline, reach - margin, mitre=True)
    knots = shapely.union_all([_grown(to_polygon(one.area), reach) for one in board.keep_outs])
    # Keep-outs may be in holes of parts, but never in wood; chords and parts may deviate by tolerances.
    border = board.outline.length + sum(one.area.length for one in board.keep_outs)
    error = TOLERANCES.chord + TOLERANCES.gap + _BUFFER_ERROR * (reach + abs(reach - margin))
    return float(shapely.area(shapely.difference(room, knots)) + border * error)


def _grown(polygon: Polygon, reach: float, *, mitre: bool = False) -> shapely.Geometry:
    """Grow a polygon; a distance near 0 leaves it as it is, as GEOS would return nothing."""
    if abs(reach) < TOLERANCES.same_point:
        return polygon
    return polygon.buffer(reach, join_style="mitre" if mitre else "round")
