"""Regions to Shapely's polygons at a stated chord error, and plain rings back.

GEOS decides topology (what overlaps, what lies in what); measures that must be exact come from the contours.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from shapely import Polygon

from cutjob.geometry.contour import Contour, Region, polyline
from cutjob.geometry.segment import Point
from cutjob.tolerances import TOLERANCES


def to_polygon(region: Region | Contour, *, deviation: float = TOLERANCES.chord) -> Polygon:
    """Return the polygon of a region or of what a contour encloses; its vertices lie on the contour."""
    if isinstance(region, Contour):
        return Polygon(np.array(region.points(deviation)))
    # Arrays, because lists are looked at number by number.
    return Polygon(
        np.array(region.outline.points(deviation)), [np.array(hole.points(deviation)) for hole in region.holes]
    )


def to_ring(contour: Contour, *, deviation: float = TOLERANCES.chord) -> list[Point]:
    """Return the contour's vertices, the first not repeated: how plan.json carries outlines."""
    return contour.points(deviation)


def from_polygon(polygon: Polygon) -> Region:
    """Return the region of straight lines that a polygon is."""
    polygon = shapely.normalize(polygon)
    return Region(_ring(polygon.exterior.coords), tuple(_ring(ring.coords) for ring in polygon.interiors))


def _ring(coordinates: Iterable[tuple[float, ...]]) -> Contour:
    return polyline([(float(x), float(y)) for x, y, *_ in coordinates])


def polygons_of(geometry: shapely.Geometry) -> list[Polygon]:
    """Return the non-empty polygons in a result of GEOS, whatever kind of collection it came in."""
    return [part for part in shapely.get_parts(geometry) if isinstance(part, Polygon) and not part.is_empty]
