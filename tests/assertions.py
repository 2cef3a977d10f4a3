"""The comparisons of geometry that tests share: by summary and greatest distance, never by lists of vertices."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from cutjob.geometry.contour import Contour
from cutjob.geometry.polygons import to_polygon

# Chord error of the polygons tests compare with, mm: far below any tolerance under test.
FINE = 1e-5


def fine_polygon(contour: Contour) -> shapely.Polygon:
    return to_polygon(contour, deviation=FINE)


def distances_from(paths: Sequence[Contour], shape: shapely.Geometry) -> np.ndarray:
    """Distances from points along `paths`, close together, to a shape."""
    points = [point for path in paths for point in path.points(1e-3)]
    middles = [segment.point_at(share) for path in paths for segment in path.segments for share in (0.25, 0.5, 0.75)]
    return np.asarray(shapely.distance(shapely.points([*points, *middles]), shape))
