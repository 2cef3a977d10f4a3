"""Parts as the search sees them: polygons that cover them, in the turns they may lie in. Lengths mm, angles degrees."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from shapely import Polygon, affinity

from cutjob.geometry.contour import Contour
from cutjob.geometry.transform import Transform
from cutjob.layout.bodies import Box, Pose
from cutjob.layout.convex_pieces import Corners, convex_pieces
from cutjob.layout.outline import ROUGHNESS, Extent, ring_points, simplified
from cutjob.parts.part import ShapedPart

_DEVIATION = 0.1  # mm, of the tangents and chords that stand for arcs, or else this share of a part's lesser extent
_SHARE = 0.002
_STEP = 15.0  # between the turns tried where there is no grain
_LONGEST_EDGES = 3
_MOST_HOLES = 6
_ORDERS = (12, 10, 9, 8, 7, 6, 5, 4, 3, 2)  # turns of a full circle by which a part may come to lie on itself
_ALIKE = 0.1  # mm: two looks of a part differ by less, on the average along the border
_SAME_ANGLE = 1e-6


def covering_polygon(part: ShapedPart, *, least_hole: float) -> Polygon:
    """Return a polygon that covers the part's wood; holes narrower than `least_hole`, which take nothing, are filled,
    and so are all but the widest few: every hole makes many more pieces.

    Straight edges are exact; elsewhere it lies outside by 0.2 mm or a few thousandths of its size at most.
    """
    deviation = max(_DEVIATION, _SHARE * _width(part.region.outline))
    outline = simplified(ring_points(part.region.outline, deviation, grow=True), ROUGHNESS)
    wide = sorted((hole for hole in part.region.holes if _width(hole) >= least_hole), key=_width, reverse=True)
    holes = [ring_points(hole, deviation, grow=False) for hole in wide[:_MOST_HOLES]]
    polygon = Polygon(outline, holes)
    # Tangents of an outline near a hole may cross it; then the hole is given up.
    return polygon if polygon.is_valid else Polygon(outline)


def _width(contour: Contour) -> float:
    x0, y0, x1, y1 = contour.bounds
    return min(x1 - x0, y1 - y0)


def poses_of(
    part: ShapedPart, *, free: bool, most: int, least_hole: float, also: Iterable[tuple[float, bool]] = ()
) -> tuple[Pose, ...]:
    """Return up to about `most` poses of a part, the likely ones first: turns by right angles, those that lay a long
    edge of its hull or its least width along the board, and steps of 15 degrees; only 0 and 180 if it is not `free`.

    Poses that look the same are returned once. `also` are further turns (degrees, mirrored first), always kept.
    """
    polygon = covering_polygon(part, least_hole=least_hole)
    pieces, extent = convex_pieces(polygon), Extent(part.region.outline)
    order = _symmetry(polygon, part)
    period = 360.0 / order if order else 0.0
    mirrors = (False, True) if part.may_mirror and not _is_mirrored_alike(polygon, free=free) else (False,)
    turns: list[tuple[float, bool]] = []
    wished = _distinct(_angles(polygon) if free else (0.0, 180.0), period)
    per_side = max(1, most // len(mirrors))
    for degrees in wished[:per_side]:
        turns += [(degrees, mirrored) for mirrored in mirrors]
    turns += [turn for turn in also if turn not in turns]
    return tuple(_pose(pieces, extent, degrees, mirrored) for degrees, mirrored in turns)


def _angles(polygon: Polygon) -> list[float]:
    hull = shapely.get_coordinates(shapely.convex_hull(polygon))
    along = np.diff(hull, axis=0)
    sizes = np.hypot(along[:, 0], along[:, 1])
    longest = along[np.argsort(-sizes, kind="stable")[:_LONGEST_EDGES]]
    lying = [-math.degrees(math.atan2(y, x)) for x, y in longest] + [_least_width(hull, along)]
    angles = [0.0, 90.0, 180.0, 270.0]
    for turn in lying:
        angles += [turn, turn + 180.0, turn + 90.0, turn + 270.0]
    # First the steps half way between quarter turns, then ever finer ones.
    steps = sorted(range(int(360 / _STEP)), key=lambda k: (k % 3 != 0, k % 2 != 0, k))
    return angles + [k * _STEP for k in steps]


def _least_width(hull: Corners, along: Corners) -> float:
    """The turn at which the hull is least wide across the board."""
    angles = np.arctan2(along[:, 1], along[:, 0])
    across = hull[:, 1:] * np.cos(angles) - hull[:, :1] * np.sin(angles)
    return -math.degrees(float(angles[int(np.argmin(across.max(axis=0) - across.min(axis=0)))]))


def _distinct(angles: Sequence[float], period: float) -> list[float]:
    """The angles that are not the same after a turn by the period; all are when that is 0."""
    kept: list[float] = []
    for angle in angles:
        turn = angle % 360.0
        rest = [abs(turn - other) % (period or 1.0) for other in kept]
        alike = bool(kept) if not period else any(min(r, period - r) < _SAME_ANGLE for r in rest)
        if not alike:
            kept.append(0.0 if 360.0 - turn < _SAME_ANGLE else turn)
    return kept


def _symmetry(polygon: Polygon, part: ShapedPart) -> int:
    """How many turns within a full circle look the same; 0: all of them."""
    if part.region.outline.circle() is not None and not polygon.interiors:
        return 0
    middle = polygon.centroid
    for order in _ORDERS:
        if _is_alike(polygon, affinity.rotate(polygon, 360.0 / order, origin=middle)):
            return order
    return 1


def _is_mirrored_alike(polygon: Polygon, *, free: bool) -> bool:
    middle = polygon.centroid
    mirrored = affinity.scale(polygon, -1.0, 1.0, origin=middle)
    turns = np.arange(0.0, 360.0, _STEP) if free else (0.0, 180.0)
    return any(_is_alike(polygon, affinity.rotate(mirrored, float(turn), origin=middle)) for turn in turns)


def _is_alike(one: Polygon, other: Polygon) -> bool:
    return bool(shapely.area(shapely.symmetric_difference(one, other)) <= _ALIKE * one.length)


def _pose(pieces: Sequence[Corners], extent: Extent, degrees: float, mirrored: bool) -> Pose:
    turn = Transform(degrees=degrees, mirrored=mirrored)
    (a, c), (b, d) = turn.point((1.0, 0.0)), turn.point((0.0, 1.0))
    matrix = np.array([[a, c], [b, d]])
    moved = tuple((piece @ matrix)[:: -1 if mirrored else 1].copy() for piece in pieces)
    return Pose(pieces=moved, box=_box(extent, (a, b), (c, d)), degrees=degrees, mirrored=mirrored)


def _box(extent: Extent, x: tuple[float, float], y: tuple[float, float]) -> Box:
    """The exact extents along the board's axes, given as seen from the part."""
    return (
        extent.least(x),
        extent.least(y),
        -extent.least((-x[0], -x[1])),
        -extent.least((-y[0], -y[1])),
    )
