"""Polygons, holes and all, as a few convex pieces that together cover them exactly."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.polygon import orient

Corners = NDArray[np.float64]


def convex_pieces(polygon: Polygon) -> tuple[Corners, ...]:
    """Return convex polygons (corners (n, 2), counter-clockwise) whose union is the polygon.

    Triangles of a constrained Delaunay triangulation, merged across shared edges while the union stays convex
    (Hertel and Mehlhorn 1983), the longest shared edge first.
    """
    ring = np.asarray(orient(polygon).exterior.coords)[:-1]
    if not polygon.interiors and _is_convex(ring):
        return (_clean(ring),)
    triangles = [np.asarray(orient(t).exterior.coords)[:-1] for t in shapely.constrained_delaunay_triangles(polygon).geoms]
    pieces: dict[int, list[tuple[float, float]]] = {i: [tuple(p) for p in t] for i, t in enumerate(triangles)}
    edges: dict[tuple[tuple[float, float], tuple[float, float]], list[int]] = {}
    owner = {i: i for i in pieces}

    def find(i: int) -> int:
        while owner[i] != i:
            i = owner[i]
        return i

    for i, corners in pieces.items():
        for a, b in zip(corners, corners[1:] + corners[:1]):
            edges.setdefault((min(a, b), max(a, b)), []).append(i)
    shared = [(edge, pair) for edge, pair in edges.items() if len(pair) == 2]
    shared.sort(key=lambda e: (-(e[0][0][0] - e[0][1][0]) ** 2 - (e[0][0][1] - e[0][1][1]) ** 2, e[0]))
    for edge, pair in shared:
        i, j = find(pair[0]), find(pair[1])
        if i == j:
            continue
        merged = _merged(pieces[i], pieces[j], edge)
        if merged is not None:
            pieces[i] = merged
            del pieces[j]
            owner[j] = i
    return tuple(_clean(np.array(p)) for p in pieces.values())


def _merged(one, other, edge):
    a, b = edge
    n, m = len(one), len(other)
    i = one.index(a)
    if one[(i + 1) % n] != b:
        a, b = b, a
        i = one.index(a)
    if one[(i + 1) % n] != b:
        return None
    j = other.index(b)
    if other[(j + 1) % m] != a:
        return None
    ring = [one[(i + 1 + k) % n] for k in range(n)] + [other[(j + 2 + k) % m] for k in range(m - 2)]
    return ring if _is_convex(np.array(ring)) else None


def _is_convex(ring: Corners) -> bool:
    a = np.roll(ring, -1, axis=0) - ring
    b = np.roll(a, -1, axis=0)
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return bool((cross >= -1e-12 * (np.abs(a).max() ** 2)).all())


def _clean(ring: Corners) -> Corners:
    a = np.roll(ring, -1, axis=0) - ring
    b = np.roll(a, 1, axis=0)
    cross = b[:, 0] * a[:, 1] - b[:, 1] * a[:, 0]
    return ring[cross > 1e-12 * (np.abs(a).max() ** 2)]
