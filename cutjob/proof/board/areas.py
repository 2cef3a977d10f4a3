"""Closed contours of goals as polygons, by the thousand at a time and at a stated chord error. mm.

Vertices lie on the contour. Polygons say on which side of a contour a point lies, and what of a floor is covered;
distances come from the contours themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import shapely

from cutjob.proof.board.curves import Curves, Floats, Ints
from cutjob.proof.board.required_edge import MATERIAL, Goal

Shapes: TypeAlias = npt.NDArray[np.object_]


def vertices(curves: Curves, deviation: float) -> tuple[Ints, Floats]:
    """Return points along curves, in chords within `deviation` of them, and which curve each lies on: the start of each
    and what is between, without its end.
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


def rings(curves: Curves, goals: Sequence[Goal], deviation: float) -> Shapes:
    """Return the closed ring of each goal's contour."""
    if not goals:
        return np.zeros(0, dtype=object)
    rows = np.concatenate([np.arange(goal.first, goal.last, dtype=np.int64) for goal in goals])
    ring = np.repeat(np.arange(len(goals), dtype=np.int64), [goal.last - goal.first for goal in goals])
    owner, points = vertices(curves.take(rows), deviation)
    return np.asarray(shapely.linearrings(points, indices=ring[owner]), dtype=object)


def polygons(curves: Curves, groups: Sequence[Sequence[Goal]], deviation: float) -> Shapes:
    """Return one polygon for each group of goals: the first is its outline, the others are holes in it.

    A hole that breaks out of its outline, or runs into another, is taken off all the same.
    """
    if not groups:
        return np.zeros(0, dtype=object)
    every = rings(curves, [goal for group in groups for goal in group], deviation)
    owner = np.repeat(np.arange(len(groups), dtype=np.int64), [len(group) for group in groups])
    found = np.asarray(shapely.polygons(every, indices=owner), dtype=object)
    several = np.array([len(group) > 1 for group in groups], dtype=bool)
    for index in np.flatnonzero(several & ~shapely.is_valid(found)).tolist():
        outline, *holes = every[owner == index]
        inner = shapely.union_all([shapely.make_valid(shapely.Polygon(ring)) for ring in holes])
        found[index] = shapely.difference(shapely.make_valid(shapely.Polygon(outline)), inner)
    return found


def material(curves: Curves, goals: Sequence[Goal], count: int, deviation: float) -> Shapes:
    """Return what must stay of each of `count` placements: its region without holes that go through."""
    groups: list[list[Goal]] = [[] for _ in range(count)]
    for goal in goals:
        if goal.kind in MATERIAL:
            groups[goal.placement].append(goal)
    return polygons(curves, groups, deviation)


def swept(curves: Curves, radius: float, deviation: float) -> shapely.Geometry:
    """Return what a disc of `radius` sweeps along curves, no wider than it does and short of it by `deviation` at most.

    Each curve is grown by itself: GEOS fills in what lies between the windings of a long path whose arcs, in very fine
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
    """The sector of a ring that lies within `radius` of an arc, right across it."""
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
    """Return how many chords to a quarter of a circle stay within a deviation of it."""
    return max(4, int(np.ceil(np.pi / 4 / np.arccos(max(0.0, 1 - deviation / max(radius, deviation))))))
