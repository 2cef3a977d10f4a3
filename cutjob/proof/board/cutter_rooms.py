"""Where a cutter may be at the depth of a pocket or blind hole: the floor and the room about it. Polygons; mm.

The room *within* is the feature's own area, with the air beyond its part's outline where it runs out there: a cutter
that clears only this feature stays in it. The *whole* room also has everything beside it that is as deep. When each
feature is cleared by itself, corners that a cutter gets into only from beside stay standing.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeAlias

import numpy as np
import shapely

from cutjob.proof import limits
from cutjob.proof.board.areas import quarter
from cutjob.proof.board.curves import Bools, Floats
from cutjob.proof.board.required_edges import MATERIAL, RequiredEdge, RequiredEdges, polygons
from cutjob.tolerances import TOLERANCES

Area: TypeAlias = shapely.Geometry


class CutterRooms:
    """The floors and rooms of one board's pockets and blind holes, worked out when first asked for."""

    def __init__(self, edges: RequiredEdges) -> None:
        """Take the edges of a board."""
        self._edges = edges
        self.features, self.shapes = edges.features, edges.areas
        self._parts: shapely.STRtree | None = None
        self._of_part: dict[int, list[int]] = {}
        for number, feature in enumerate(self.features):
            self._of_part.setdefault(feature.placement, []).append(number)
        self._through: dict[int, list[RequiredEdge]] = {}
        for edge in edges.every:
            if edge.kind in MATERIAL and edge.placement in self._of_part:
                self._through.setdefault(edge.placement, []).append(edge)
        self._wood: dict[int, Area] = {}

    def floor(self, index: int) -> Area:
        """A feature's own floor: its area in the wood of its part, less anything deeper."""
        shape, wood = self.shapes[index], self._material(self.features[index].placement)
        floor: Area = shape if shapely.covers(wood, shape) else shapely.intersection(wood, shape)
        for other in self._deeper(index, -TOLERANCES.acceptance):
            if shapely.intersects(floor, self.shapes[other]):
                floor = shapely.difference(floor, self.shapes[other])
        return floor

    def alone(self, index: int) -> bool:
        """Whether a feature is wholly in wood, and nothing as deep, or right through, reaches over its edge."""
        shape, placement = self.shapes[index], self.features[index].placement
        outline = self._outline(placement)
        beside = [other for other in self._deeper(index, TOLERANCES.acceptance) if other != index]
        return bool(shapely.covers(outline, shape)) and not any(
            shapely.intersects(area, shape) and not shapely.covers(shape, area)
            for area in (*(self.shapes[other] for other in beside), *self._holes(placement))
        )

    def within(self, index: int, radius: float) -> Area:
        """A feature's own area and the air beyond its part, out to two radii."""
        shape = self.shapes[index]
        outline = self._outline(self.features[index].placement)
        if shapely.covers(outline, shape) and shapely.distance(shapely.boundary(outline), shape) > limits.INTO_PART:
            own: Area = shape
            return own
        box = self._box(index, radius)
        return self._clear(index, shapely.union(shape, shapely.difference(box, outline)), box)

    def whole(self, index: int, radius: float) -> Area:
        """The area without wood that must stay at a feature's depth, out to two radii about it."""
        box = self._box(index, radius)
        kept = shapely.intersection(self._material(self.features[index].placement), box)
        for other in self._deeper(index, TOLERANCES.acceptance):
            kept = shapely.difference(kept, self.shapes[other])
        return self._clear(index, shapely.difference(box, kept), box)

    def _clear(self, index: int, room: Area, box: Area) -> Area:
        """A room without the wood of other parts."""
        if self._parts is None:
            self._parts = shapely.STRtree(self._edges.material)
        for other in self._parts.query(box).tolist():
            if other != self.features[index].placement:
                room = shapely.difference(room, self._edges.material[other])
        return room

    def _box(self, index: int, radius: float) -> Area:
        x0, y0, x1, y1 = shapely.bounds(self.shapes[index]).tolist()
        by = 2 * radius + 1.0
        box: Area = shapely.box(x0 - by, y0 - by, x1 + by, y1 + by)
        return box

    def _deeper(self, index: int, than: float) -> Iterable[int]:
        """Features of the same part that are deeper than this one less `than`; if that is more than 0, this one
        is among them.
        """
        feature = self.features[index]
        return [
            other for other in self._of_part[feature.placement] if self.features[other].depth > feature.depth - than
        ]

    def _outline(self, placement: int) -> Area:
        outline: Area = polygons(self._edges.curves, [self._through[placement][:1]], limits.POCKET_CHORD)[0]
        return outline

    def _holes(self, placement: int) -> list[Area]:
        groups = [[edge] for edge in self._through[placement][1:]]
        return list(polygons(self._edges.curves, groups, limits.POCKET_CHORD))

    def _material(self, placement: int) -> Area:
        if placement not in self._wood:
            self._wood[placement] = polygons(self._edges.curves, [self._through[placement]], limits.POCKET_CHORD)[0]
        return self._wood[placement]


def middles(room: Area, radius: float) -> Area:
    """Where the middle of a cutter may be in a room."""
    return grown(room, limits.NEARER_TO_WALLS - radius)


def reached(middle: Area, radius: float, x: Floats, y: Floats) -> Bools:
    """Return which points the edge of a cutter gets to whose middle stays in `middle`."""
    away = np.asarray(shapely.distance(shapely.points(x, y), middle), dtype=float)
    return np.asarray(away <= radius - limits.NEARER_TO_WALLS + limits.HELD_OFF_BY_CHORDS)


def grown(shape: Area, by: float) -> Area:
    """Return a shape grown by `by`, or shrunk if that is negative."""
    return shapely.buffer(shape, by, quad_segs=quarter(abs(by), limits.POCKET_CHORD))
