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

from cutjob.proof.curves import Curves, Floats, Ints
from cutjob.proof.goal import MATERIAL, Goal

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


def lines(curves: Curves, deviation: float) -> shapely.MultiLineString:
    """Return curves as lines in chords, those that go on where the one before ends joined to it."""
    owner, points = vertices(curves, deviation)
    # The vertices of each curve, and then its end.
    owner = np.concatenate([owner, np.arange(len(curves), dtype=np.int64)])
    points = np.concatenate([points, np.stack([curves.x1, curves.y1], axis=1)])
    order = np.argsort(owner, kind="stable")
    fresh = np.ones(len(curves), dtype=bool)
    fresh[1:] = (curves.x0[1:] != curves.x1[:-1]) | (curves.y0[1:] != curves.y1[:-1])
    line = np.cumsum(fresh) - 1
    found = np.asarray(shapely.linestrings(points[order], indices=line[owner[order]]), dtype=object)
    return shapely.MultiLineString(found.tolist())
