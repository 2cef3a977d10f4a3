"""Which contour lies in which: outermost contours are parts, those in them holes, those in holes parts again. mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.contour import Contour
from cutjob.geometry.polygons import to_polygon
from cutjob.job.drawing import MOST_OUTLINES
from cutjob.job.near import TangledError

_LOOK = 1000  # areas that are looked at first, spread over all
_MOST_LEVELS = 200  # boxes a point lies in, on average; no drawing of parts in parts has a tenth of them


@dataclass(frozen=True, slots=True)
class Nesting:
    """For each contour how many others it lies in, and the smallest of them (None outermost)."""

    depths: tuple[int, ...]
    parents: tuple[int | None, ...]

    def is_hole(self, index: int) -> bool:
        """True for a contour that bounds a hole."""
        return self.depths[index] % 2 == 1


def polygons(contours: Sequence[Contour]) -> list[BaseGeometry]:
    """Return the area each contour encloses. Chords of a sliver may cross where its arcs don't, hence the mending."""
    return [_area(contour) for contour in contours]


@lru_cache(
    maxsize=MOST_OUTLINES
)  # a drawing's contours are compared when it is read, and again when parts are made of them
def _area(contour: Contour) -> BaseGeometry:
    area = to_polygon(contour)
    return area if area.is_valid else shapely.make_valid(area)


def nesting(areas: Sequence[BaseGeometry]) -> Nesting:
    """Return the nesting of areas that don't cross; touching, or overlapping by a hair, does no harm.

    Raises TangledError where hundreds lie in each other.
    """
    if not areas:
        return Nesting((), ())
    sizes = [area.area for area in areas]
    tree = shapely.STRtree(list(areas))
    # A point well inside decides, so that a shared edge, or a hair of overlap, does not.
    inside = shapely.point_on_surface(list(areas))
    some = inside[:: max(1, len(inside) // _LOOK)]
    if tree.query(some).shape[1] > _MOST_LEVELS * len(some):
        raise TangledError
    within: list[list[int]] = [[] for _ in areas]
    for child, parent in zip(*tree.query(inside, predicate="within"), strict=True):
        if child != parent and sizes[parent] > sizes[child]:
            within[child].append(int(parent))
    parents = tuple(min(around, key=lambda index: (sizes[index], index)) if around else None for around in within)
    return Nesting(tuple(len(around) for around in within), parents)
