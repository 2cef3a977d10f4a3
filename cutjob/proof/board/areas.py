"""Points along lines and arcs, and the area a disc sweeps along them, at a stated chord error. mm."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import shapely

from cutjob.proof.board.curves import Curves, Floats, Ints

Shapes: TypeAlias = npt.NDArray[np.object_]


def vertices(curves: Curves, deviation: float) -> tuple[Ints, Floats]:
    """Return points along curves, whose chords stay within `deviation` of them, and the curve each point lies on. Each
    curve has its start and the points between, without its end.
    """
    ratio = np.clip(1 - deviation / np.maximum(curves.r, 1e-9), 0.0, 1.0)
    step = np.maximum(2 * np.arccos(ratio), 1e-3)
    count = np.maximum(np.ceil(np.abs(curves.sweep) / step), 1).astype(np.int64)
    # A full turn needs three corners to be a ring.
    count = np.where(np.abs(curves.sweep) > np.pi, np.maximum(count, 3), count)
    owner = np.repeat(np.arange(len(curves), dtype=np.int64), count)
    number = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    x, y = curves.take(owner).at(number / count[owner])
    return owner, np.stack([x, y], axis=1)


def swept(curves: Curves, radius: float, deviation: float) -> shapely.Geometry:
    """Return the area a disc of `radius` sweeps along curves, never too wide and too narrow by at most `deviation`.

    Each curve is grown by itself: GEOS fills in the space between the windings of a long path whose arcs, in very fine
    chords, are tighter than the disc.
    """
    straight = curves.take(~curves.is_arc)
    ends = np.stack([straight.x0, straight.y0, straight.x1, straight.y1], axis=1).reshape(-1, 2, 2)
    arcs = curves.take(curves.is_arc)
    x, y = np.concatenate([arcs.x0, arcs.x1]), np.concatenate([arcs.y0, arcs.y1])
    round_ends = shapely.points(np.stack([x, y], axis=1))
    chords = quarter(radius, deviation)
    grown = shapely.buffer(np.concatenate([shapely.linestrings(ends), round_ends]), radius, quad_segs=chords)
    sectors = [_sector(arcs, index, radius, deviation) for index in range(len(arcs))]
    return shapely.union_all(np.concatenate([grown, np.array(sectors, dtype=object)]))


def _sector(arcs: Curves, index: int, radius: float, deviation: float) -> shapely.Polygon:
    """The sector of a ring within `radius` of an arc, on both sides of it."""
    r, sweep, a0 = float(arcs.r[index]), float(arcs.sweep[index]), float(arcs.a0[index])
    centre = np.array([arcs.cx[index], arcs.cy[index]])
    count = max(3, int(np.ceil(abs(sweep) / (np.pi / 2 / quarter(r + radius, deviation)))))
    angle = a0 + sweep * np.linspace(0.0, 1.0, count + 1)
    around = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    outer = centre + (r + radius) * around
    # Chords of the inner edge touch it from outside.
    inner = max(r - radius, 0.0) / np.cos(abs(sweep) / count / 2)
    if abs(sweep) >= 2 * np.pi - 1e-9:
        hole = [(centre + inner * around)[:-1]] if r > radius else []
        return shapely.Polygon(outer[:-1], hole)
    return shapely.Polygon(np.concatenate([outer, (centre + inner * around)[::-1]]))


def quarter(radius: float, deviation: float) -> int:
    """Return how many chords a quarter of a circle needs to stay within a deviation of it."""
    return max(4, int(np.ceil(np.pi / 4 / np.arccos(max(0.0, 1 - deviation / max(radius, deviation))))))
