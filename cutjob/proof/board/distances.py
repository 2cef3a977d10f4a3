"""Exact distances between points, lines and arcs, pair by pair in columns; and the pairs that can be near at all. mm.

The least distance of two curves is at an end of one of them, where they cross, or where their common normal, through
the centre of an arc, meets both. All these places are tried; nothing is sampled.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt
import shapely

from cutjob.proof.board.curves import Bools, Curves, Floats, Ints

_TURN = 2 * np.pi
_ON_ARC = 1e-12  # radians by which a point may miss the end of an arc and still count as on it
_LONGEST_BOX = 20.0  # mm; a longer slanting curve gets several smaller boxes
_AT_A_TIME = 50_000  # curves searched for at once, to bound the memory


def point_distance(px: Floats, py: Floats, curves: Curves) -> tuple[Floats, Floats]:
    """Return the distance of each point to its curve, and the share of the curve's length where it is nearest."""
    arcs = np.flatnonzero(curves.sweep)
    dx, dy = curves.x1 - curves.x0, curves.y1 - curves.y0
    square = dx * dx + dy * dy
    share = ((px - curves.x0) * dx + (py - curves.y0) * dy) / np.where(square > 0, square, 1.0)
    share = np.clip(np.where(square > 0, share, 0.0), 0.0, 1.0)
    distance = np.hypot(px - curves.x0 - dx * share, py - curves.y0 - dy * share)
    if len(arcs):
        distance[arcs], share[arcs] = _point_to_arc(px[arcs], py[arcs], curves.take(arcs))
    return distance, share


def _point_to_arc(px: Floats, py: Floats, arcs: Curves) -> tuple[Floats, Floats]:
    vx, vy = px - arcs.cx, py - arcs.cy
    turned, on = _turned(arcs, np.arctan2(vy, vx))
    radial = np.abs(np.hypot(vx, vy) - arcs.r)
    to_start = np.hypot(px - arcs.x0, py - arcs.y0)
    to_end = np.hypot(px - arcs.x1, py - arcs.y1)
    distance = np.where(on, radial, np.minimum(to_start, to_end))
    share = np.where(on, np.minimum(turned / np.abs(arcs.sweep), 1.0), np.where(to_start <= to_end, 0.0, 1.0))
    return distance, share


def _turned(arcs: Curves, angle: Floats) -> tuple[Floats, Bools]:
    """Return how far along each arc a direction from its centre is, and whether the arc reaches that far."""
    turned = np.mod(np.sign(arcs.sweep) * (angle - arcs.a0), _TURN)
    turned = np.where(turned > _TURN - _ON_ARC, 0.0, turned)
    return turned, np.asarray(turned <= np.abs(arcs.sweep) + _ON_ARC)


def distance(a: Curves, b: Curves) -> Floats:
    """Return the least distance of each curve of `a` to the same one of `b`."""
    least = point_distance(a.x0, a.y0, b)[0]
    for px, py, other in ((a.x1, a.y1, b), (b.x0, b.y0, a), (b.x1, b.y1, a)):
        np.minimum(least, point_distance(px, py, other)[0], out=least)
    a_arc, b_arc = a.is_arc, b.is_arc
    cases: tuple[tuple[Bools, Callable[[Curves, Curves], Floats], bool], ...] = (
        (~a_arc & ~b_arc, _line_line, False),
        (~a_arc & b_arc, _line_arc, False),
        (a_arc & ~b_arc, _line_arc, True),
        (a_arc & b_arc, _arc_arc, False),
    )
    for mask, between, swapped in cases:
        index = np.flatnonzero(mask)
        if len(index):
            one, two = a.take(index), b.take(index)
            inner = between(two, one) if swapped else between(one, two)
            least[index] = np.minimum(least[index], inner)
    return least


def _line_line(a: Curves, b: Curves) -> Floats:
    """Zero where two lines cross, else infinity."""
    ax, ay, bx, by = a.x1 - a.x0, a.y1 - a.y0, b.x1 - b.x0, b.y1 - b.y0
    wx, wy = b.x0 - a.x0, b.y0 - a.y0
    cross = ax * by - ay * bx
    safe = np.where(cross != 0, cross, 1.0)
    s, t = (wx * by - wy * bx) / safe, (wx * ay - wy * ax) / safe
    meets = (cross != 0) & (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    return np.where(meets, 0.0, np.inf)


def _line_arc(line: Curves, arc: Curves) -> Floats:
    dx, dy = line.x1 - line.x0, line.y1 - line.y0
    square = dx * dx + dy * dy
    safe = np.where(square > 0, square, 1.0)
    foot = ((arc.cx - line.x0) * dx + (arc.cy - line.y0) * dy) / safe
    fx, fy = line.x0 + foot * dx, line.y0 + foot * dy
    off = np.hypot(fx - arc.cx, fy - arc.cy)
    on_line = (square > 0) & (foot >= 0) & (foot <= 1)
    reached = _turned(arc, np.arctan2(fy - arc.cy, fx - arc.cx))[1]
    least = np.where(on_line & reached, np.abs(off - arc.r), np.inf)
    half = np.sqrt(np.maximum(arc.r * arc.r - off * off, 0.0) / safe)
    for share in (foot - half, foot + half):
        x, y = line.x0 + share * dx, line.y0 + share * dy
        hit = (square > 0) & (off <= arc.r) & (share >= 0) & (share <= 1)
        hit &= _turned(arc, np.arctan2(y - arc.cy, x - arc.cx))[1]
        least = np.where(hit, 0.0, least)
    return least


def _arc_arc(a: Curves, b: Curves) -> Floats:
    dx, dy = b.cx - a.cx, b.cy - a.cy
    apart = np.hypot(dx, dy)
    towards = np.arctan2(dy, dx)
    least = np.full(len(a), np.inf)
    for a_angle in (towards, towards + np.pi):
        a_on = _turned(a, a_angle)[1]
        ax, ay = a.cx + a.r * np.cos(a_angle), a.cy + a.r * np.sin(a_angle)
        for b_angle in (towards, towards + np.pi):
            both = a_on & _turned(b, b_angle)[1] & (apart > 0)
            gap = np.hypot(b.cx + b.r * np.cos(b_angle) - ax, b.cy + b.r * np.sin(b_angle) - ay)
            least = np.where(both, np.minimum(least, gap), least)
    meets = (apart > 0) & (apart <= a.r + b.r) & (apart >= np.abs(a.r - b.r))
    along = (apart * apart + a.r * a.r - b.r * b.r) / np.where(apart > 0, 2 * apart, 1.0)
    opening = np.arccos(np.clip(along / np.where(a.r > 0, a.r, 1.0), -1.0, 1.0))
    for angle in (towards - opening, towards + opening):
        x, y = a.cx + a.r * np.cos(angle), a.cy + a.r * np.sin(angle)
        hit = meets & _turned(a, angle)[1] & _turned(b, np.arctan2(y - b.cy, x - b.cx))[1]
        least = np.where(hit, 0.0, least)
    return least


def farthest(px: Floats, py: Floats, curves: Curves) -> Floats:
    """Return the greatest distance from each point to a place on its curve."""
    most = np.maximum(np.hypot(curves.x0 - px, curves.y0 - py), np.hypot(curves.x1 - px, curves.y1 - py))
    away = np.arctan2(curves.cy - py, curves.cx - px)
    off = np.hypot(curves.cx - px, curves.cy - py)
    across = curves.is_arc & ((off == 0) | _turned(curves, away)[1])
    return np.where(across, np.maximum(most, off + curves.r), most)


class Finder:
    """Finds, for curves or points, the curves of a fixed set whose boxes come within a margin."""

    def __init__(self, curves: Curves) -> None:
        """Take the set that is searched."""
        self._owner, boxes = _small_boxes(curves, np.zeros(len(curves)))
        self._tree = shapely.STRtree(boxes)
        self._count = len(curves)
        self._several = len(self._owner) > self._count  # boxes to some of the curves

    def pairs(self, curves: Curves, margin: Floats) -> Iterator[tuple[Ints, Ints]]:
        """Yield pairs (index of a given curve, index in the set), each pair once, in batches of bounded size."""
        for begin in range(0, len(curves), _AT_A_TIME):
            chunk = slice(begin, begin + _AT_A_TIME)
            owner, boxes = _small_boxes(curves.take(chunk), margin[chunk])
            found, hit = self._tree.query(boxes)
            left, right = owner[found] + begin, self._owner[hit]
            several = self._several or len(owner) > len(curves.take(chunk))
            yield self._once(left, right) if several else (left, right)

    def around(self, px: Floats, py: Floats, margin: Floats) -> tuple[Ints, Ints]:
        """Return pairs (index of a point, index in the set) whose boxes come within `margin` of the point."""
        boxes = shapely.box(px - margin, py - margin, px + margin, py + margin)
        found, hit = self._tree.query(boxes)
        return self._once(found, self._owner[hit]) if self._several else (found, self._owner[hit])

    def _once(self, left: Ints, right: Ints) -> tuple[Ints, Ints]:
        """The pairs without repetitions. Sorting is several times as fast as `numpy.unique`."""
        count = np.int64(max(1, self._count))
        key = np.sort(left * count + right)
        key = key[np.concatenate([[True], key[1:] != key[:-1]])[: len(key)]]
        return key // count, key % count


def point_geometries(x: Floats, y: Floats) -> npt.NDArray[np.object_]:
    """Return points for a tree to search."""
    return np.asarray(shapely.points(np.stack([x, y], axis=-1).reshape(-1, 2)), dtype=object)


def _small_boxes(curves: Curves, margin: Floats) -> tuple[Ints, npt.NDArray[np.object_]]:
    """Return boxes around the curves, several for a long slanting one, and the curve each belongs to, by index."""
    low_x, low_y, high_x, high_y = curves.boxes()
    slant = np.minimum(high_x - low_x, high_y - low_y)
    pieces = np.maximum(1, np.ceil(slant / _LONGEST_BOX)).astype(np.int64)
    owner = np.repeat(np.arange(len(curves), dtype=np.int64), pieces)
    if len(owner) > len(curves):
        number = np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
        share = 1.0 / pieces[owner]
        low_x, low_y, high_x, high_y = curves.take(owner).part(number * share, (number + 1) * share).boxes()
    by = margin[owner]
    return owner, shapely.box(low_x - by, low_y - by, high_x + by, high_y + by)
