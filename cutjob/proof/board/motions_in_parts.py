"""Finds where motions start and end: in the wood of a part, and in which of its pockets and blind holes. mm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from cutjob.proof import limits
from cutjob.proof.board.curves import Bools, Floats, Ints
from cutjob.proof.board.distances import point_geometries
from cutjob.proof.board.required_edges import RequiredEdges, polygons
from cutjob.proof.board.tracks import Tracks
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class EndsInParts:
    """Ends of motions in the area of a part (coarsely, without its through holes), each as a row: the motion, the
    point, its height, the placement, and the depth of the part's deepest pocket or blind hole there (0 for none).
    """

    track: Ints
    x: Floats
    y: Floats
    z: Floats
    placement: Ints
    depth: Floats

    @property
    def allowed(self) -> Bools:
        """Which ends are no deeper than a pocket or hole there allows."""
        return np.asarray((self.depth > 0) & (self.z >= -self.depth - TOLERANCES.acceptance))


@dataclass(frozen=True, slots=True)
class InFeatures:
    """Motions that start in a pocket or blind hole or have their middle there, even over a hole in its floor: motion
    and feature, by index, and whether the motion goes no deeper than the feature.
    """

    track: Ints
    feature: Ints
    within: Bools


def ends_in_parts(tracks: Tracks, edges: RequiredEdges) -> EndsInParts:
    """Return which ends of motions are in parts, and how deep the pockets and blind holes there are."""
    curves = tracks.curves
    count = len(tracks)
    x, y = np.concatenate([curves.x0, curves.x1]), np.concatenate([curves.y0, curves.y1])
    z = np.concatenate([curves.z0, curves.z1])
    # Most motions start where the one before ends, so each such place is tried once.
    fresh = np.ones(count, dtype=bool)
    fresh[1:] = (curves.x0[1:] != curves.x1[:-1]) | (curves.y0[1:] != curves.y1[:-1])
    starts = np.where(fresh, count - 1 + np.cumsum(fresh), np.arange(count) - 1)
    place = np.concatenate([starts, np.arange(count)])
    tree = shapely.STRtree(
        point_geometries(np.concatenate([curves.x1, curves.x0[fresh]]), np.concatenate([curves.y1, curves.y0[fresh]]))
    )
    part, found = tree.query(edges.material, predicate="contains")
    placement, point = _spread(part, found, place)
    depth = np.zeros(len(point))
    features, shapes = edges.features, edges.areas
    if features:
        which, found = tree.query(shapes, predicate="dwithin", distance=limits.BESIDE_POCKET)
        feature, spot = _spread(which, found, place)
        own = np.array([one.placement for one in features], dtype=np.int64)
        deep = np.array([one.depth for one in features], dtype=float)
        row = _row_of(point, placement, spot, own[feature])
        np.maximum.at(depth, row[row >= 0], deep[feature[row >= 0]])
    return EndsInParts(point % count if count else point, x[point], y[point], z[point], placement, depth)


def in_features(tracks: Tracks, edges: RequiredEdges) -> InFeatures:
    """Return which motions start or have their middle in a pocket or blind hole, within its part's outline."""
    features, shapes = edges.features, edges.areas
    curves = tracks.curves
    count = len(tracks)
    if not features or not count:
        nothing = np.zeros(0, dtype=np.int64)
        return InFeatures(nothing, nothing, nothing.astype(bool))
    x, y = curves.at(np.full(count, 0.5))
    points = point_geometries(np.concatenate([curves.x0, x]), np.concatenate([curves.y0, y]))
    feature, point = shapely.STRtree(points).query(shapes, predicate="dwithin", distance=limits.BESIDE_POCKET)
    own = np.array([one.placement for one in features], dtype=np.int64)
    outlines = {edge.placement: edge for edge in edges.every if edge.kind == "outline"}
    parts, part = np.unique(own[feature], return_inverse=True)
    wood = polygons(edges.curves, [[outlines[placement]] for placement in parts.tolist()], limits.PART_CHORD)
    shapely.prepare(wood)
    kept = shapely.intersects(wood[part], points[point])
    pairs = np.unique(np.stack([feature[kept], point[kept] % count], axis=1), axis=0)
    deep = np.array([one.depth for one in features], dtype=float)[pairs[:, 0]]
    lowest = curves.lowest[pairs[:, 1]]
    return InFeatures(pairs[:, 1], pairs[:, 0], lowest >= -deep - TOLERANCES.acceptance)


def _spread(which: Ints, place: Ints, place_of: Ints) -> tuple[Ints, Ints]:
    """Return pairs (which, point) of pairs (which, place), where several points have one place."""
    order = np.argsort(place_of, kind="stable")
    first = np.searchsorted(place_of[order], place, side="left")
    counts = np.searchsorted(place_of[order], place, side="right") - first
    number = np.arange(int(counts.sum())) - np.repeat(np.cumsum(counts) - counts, counts)
    return np.repeat(which, counts), order[np.repeat(first, counts) + number]


def _row_of(point: Ints, placement: Ints, wanted_point: Ints, wanted_placement: Ints) -> Ints:
    """Return in which row of (point, placement) each wanted pair is, -1 for none."""
    if not len(point):
        return np.full(len(wanted_point), -1, dtype=np.int64)
    count = np.int64(1 + max(placement.max(), wanted_placement.max(initial=0)))
    key, wanted = point * count + placement, wanted_point * count + wanted_placement
    order = np.argsort(key)
    at = np.minimum(np.searchsorted(key[order], wanted), len(key) - 1)
    return np.where(key[order][at] == wanted, order[at], -1)
