"""Polygons, holes and all, as a few convex pieces that together cover them exactly."""

from __future__ import annotations

import math
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.polygon import orient

from cutjob.geometry.polygons import polygons_of
from cutjob.geometry.segment import Point

Corners: TypeAlias = NDArray[np.float64]
_STRAIGHT = 1e-9  # sine of the bend at a corner that is none
_GRID = 1e-9  # corners are rounded to about this share of the extent, so that no two nearly coincide


def convex_pieces(polygon: Polygon) -> tuple[Corners, ...]:
    """Return convex polygons (corners (n, 2), counter-clockwise) whose union is the polygon.

    Triangles of a constrained Delaunay triangulation, merged across shared edges while the union stays convex
    (Hertel and Mehlhorn 1983), the longest shared edge first.
    """
    x0, y0, x1, y1 = polygon.bounds
    grid = 10.0 ** math.floor(math.log10(max(x1 - x0, y1 - y0) * _GRID))
    wholes = polygons_of(shapely.set_precision(polygon, grid))
    return tuple(piece for whole in wholes for piece in _pieces(whole))


def _pieces(polygon: Polygon) -> tuple[Corners, ...]:
    ring = _corners(polygon)
    if not polygon.interiors and _is_convex(ring):
        return (_without_straight(ring),)
    triangles = polygons_of(shapely.constrained_delaunay_triangles(polygon))
    pieces = {i: [(float(x), float(y)) for x, y in _corners(t)] for i, t in enumerate(triangles)}
    sides: dict[tuple[Point, Point], list[int]] = {}
    for i, corners in pieces.items():
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
            sides.setdefault((min(a, b), max(a, b)), []).append(i)
    shared = [(side, pair) for side, pair in sides.items() if len(pair) == 2]
    shared.sort(key=lambda entry: (-_squared(*entry[0]), entry[0]))
    merged_into = {i: i for i in pieces}
    for side, pair in shared:
        i, j = (_root(merged_into, k) for k in pair)
        merged = _merged(pieces[i], pieces[j], side) if i != j else None
        if merged is not None:
            pieces[i] = merged
            del pieces[j]
            merged_into[j] = i
    return tuple(_without_straight(np.array(corners)) for corners in pieces.values())


def _corners(polygon: Polygon) -> Corners:
    return np.asarray(orient(polygon).exterior.coords, np.float64)[:-1, :2]


def _squared(a: Point, b: Point) -> float:
    return (a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2


def _root(merged_into: dict[int, int], i: int) -> int:
    while merged_into[i] != i:
        i = merged_into[i]
    return i


def _merged(one: list[Point], other: list[Point], side: tuple[Point, Point]) -> list[Point] | None:
    """The two pieces as one, across the side they share; None if that is not convex or no longer one whole side."""
    a, b = side
    n, m = len(one), len(other)
    if one[(one.index(a) + 1) % n] != b:
        a, b = b, a
    i, j = one.index(a), other.index(b)
    if one[(i + 1) % n] != b or other[(j + 1) % m] != a:
        return None
    ring = [one[(i + 1 + k) % n] for k in range(n)] + [other[(j + 2 + k) % m] for k in range(m - 2)]
    return ring if _is_convex(np.array(ring)) else None


def _bends(ring: Corners) -> tuple[Corners, Corners]:
    """The sine and cosine of the bend at each corner, to the left."""
    after = np.roll(ring, -1, axis=0) - ring
    after /= np.hypot(after[:, 0], after[:, 1])[:, None]
    before = np.roll(after, 1, axis=0)
    sine = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return sine, (before * after).sum(axis=1)


def _is_convex(ring: Corners) -> bool:
    sine, cosine = _bends(ring)
    return bool(((sine > _STRAIGHT) | ((sine >= -_STRAIGHT) & (cosine > 0.0))).all())


def _without_straight(ring: Corners) -> Corners:
    return ring[_bends(ring)[0] > _STRAIGHT]
