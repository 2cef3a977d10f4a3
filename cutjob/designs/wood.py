"""How much wood stands round a hole of a part."""

from __future__ import annotations

from shapely import Point as ShapelyPoint

from cutjob.geometry.contour import Region
from cutjob.geometry.polygons import to_polygon
from cutjob.parts.part import Hole
from cutjob.tolerances import TOLERANCES


def wood_around(region: Region, hole: Hole) -> float:
    """Return the least wood in mm between a hole's edge and the region's, negative where the hole breaks out.

    The region is taken as a polygon within the chord tolerance, which is subtracted: never more wood than there is.
    """
    polygon, centre = to_polygon(region), ShapelyPoint(hole.at)
    off = float(polygon.boundary.distance(centre))
    return (off if polygon.contains(centre) else -off) - hole.diameter / 2 - TOLERANCES.chord
