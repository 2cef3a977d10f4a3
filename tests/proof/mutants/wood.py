"""The wood of a board's parts at any depth, for the oracle: polygons with chords of 0.001 mm. mm, board's frame."""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.contour import Contour, Region
from cutjob.layout.layout import BoardLayout, Placement

CHORD = 0.001
MARGIN = 0.014  # mm: what the proof accepts, 0.01, and the chords of two shapes


@dataclass(frozen=True)
class PartWood:
    """One part: its region, and what is taken off it as (area, depth), None right through."""

    region: Polygon
    taken: tuple[tuple[Polygon, float | None], ...]

    def solid(self, depth: float) -> BaseGeometry:
        """What must stay at a depth."""
        gone = [area for area, down in self.taken if down is None or down > depth]
        return self.region.difference(shapely.union_all(gone)) if gone else self.region

    @property
    def through(self) -> BaseGeometry:
        """What must stay at the underside, taken as if no pocket went through."""
        return self.region.difference(shapely.union_all([area for area, down in self.taken if down is None]))

    def floors(self, depth: float) -> BaseGeometry:
        """Where pockets and blind holes are to be cleared at a depth."""
        areas = [area for area, down in self.taken if down is not None and down > depth]
        return shapely.union_all(areas).intersection(self.region) if areas else Polygon()


def wood_of(layout: BoardLayout) -> list[PartWood]:
    """The wood of every placement of a board."""
    return [_part(placement) for placement in layout.placements]


def _part(placement: Placement) -> PartWood:
    turn, part = placement.transform, placement.part
    taken: list[tuple[Polygon, float | None]] = []
    for hole in part.round_holes:
        # The circle through its chords' middles on the wood's side: half the chord's rise is less than the margin.
        taken.append((shapely.Point(turn.point(hole.at)).buffer(hole.diameter / 2, quad_segs=64), hole.depth))
    for pocket in part.pockets:
        taken.append((_polygon(turn.region(pocket.region)), pocket.depth))
    return PartWood(_polygon(turn.region(part.region)), tuple(taken))


def _polygon(region: Region) -> Polygon:
    return Polygon(_ring(region.outline), [_ring(hole) for hole in region.holes])


def _ring(contour: Contour) -> list[tuple[float, float]]:
    return list(contour.points(CHORD))


def strokes_of(layout: BoardLayout) -> BaseGeometry:
    """The lettering of a board as lines."""
    lines = []
    for entry in layout.lettering:
        for path in entry.paths:
            for segment in path:
                lines.append(shapely.LineString([segment.start, segment.end]))
    return shapely.union_all(lines) if lines else Polygon()
