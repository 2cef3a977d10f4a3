"""Turns regions into Shapely's polygons at a stated chord error, and plain rings back into regions.

GEOS decides topology (which areas overlap or contain others); measures that must be exact come from the contours.
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
    """Return the polygon of a region, or of the area inside a contour; its vertices are on the contour."""
    if isinstance(region, Contour):
        return Polygon(np.array(region.points(deviation)))
    # Arrays, as lists are read number by number.
    return Polygon(
        np.array(region.outline.points(deviation)), [np.array(hole.points(deviation)) for hole in region.holes]
    )


def to_ring(contour: Contour, *, deviation: float = TOLERANCES.chord) -> list[Point]:
    """Return the contour's vertices, the first not repeated, as plan.json has outlines."""
    return contour.points(deviation)


def from_polygon(polygon: Polygon) -> Region:
    """Return the region of straight lines that equals a polygon."""
    polygon = shapely.normalize(polygon)
    return Region(_ring(polygon.exterior.coords), tuple(_ring(ring.coords) for ring in polygon.interiors))


def _ring(coordinates: Iterable[tuple[float, ...]]) -> Contour:
    return polyline([(float(x), float(y)) for x, y, *_ in coordinates])


def polygons_of(geometry: shapely.Geometry) -> list[Polygon]:
    """Return the non-empty polygons in a result of GEOS, from any kind of collection."""
    return [part for part in shapely.get_parts(geometry) if isinstance(part, Polygon) and not part.is_empty]
