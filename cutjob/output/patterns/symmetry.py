"""A part to the lines it is its own mirror image at: upright (x stays c) or level (y stays c) in its frame. mm."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from cutjob.parts.part import ShapedPart

# A print shows no more; fitted curves are mirror images to a few microns only.
_ALIKE = 0.03
_CHORD = 0.01


@dataclass(frozen=True, slots=True)
class Axis:
    """A mirror line: `upright` is x = `at`, `level` is y = `at`."""

    way: Literal["upright", "level"]
    at: float


def mirror_axes(part: ShapedPart) -> tuple[Axis, ...]:
    """Return the mirror lines of a part through the middle of its box, with all that is cut into it; upright first.

    Each line is one of the whole part: outline, openings, holes, pockets of each depth and marks.
    """
    x0, y0, x1, y1 = part.region.bounds
    layers = _layers(part)
    axes = (Axis("upright", (x0 + x1) / 2), Axis("level", (y0 + y1) / 2))
    return tuple(axis for axis in axes if all(_same(layer, _mirrored(layer, axis)) for layer in layers))


def _layers(part: ShapedPart) -> list[BaseGeometry]:
    """What must fall on itself, each kind for itself."""
    found: dict[object, list[BaseGeometry]] = defaultdict(list)
    for kind, geometry in _drawn(part):
        found[kind].append(geometry)
    return [shapely.union_all(geometries) for geometries in found.values()]


def _drawn(part: ShapedPart) -> Iterator[tuple[object, BaseGeometry]]:
    for contour in part.region.contours:
        yield "outline", Polygon(np.array(contour.points(_CHORD))).exterior
    for hole in part.round_holes:
        yield ("hole", hole.depth), shapely.Point(hole.at).buffer(hole.diameter / 2, quad_segs=16).exterior
    for pocket in part.pockets:
        for contour in pocket.region.contours:
            yield ("pocket", pocket.depth), Polygon(np.array(contour.points(_CHORD))).exterior
    for mark in part.marks:
        points = [mark.path[0].start, *(point for segment in mark.path for point in segment.chords(_CHORD))]
        yield ("mark", mark.depth), LineString(points)


def _mirrored(geometry: BaseGeometry, axis: Axis) -> BaseGeometry:
    column = 0 if axis.way == "upright" else 1

    def turn(points: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        turned = points.copy()
        turned[:, column] = 2 * axis.at - turned[:, column]
        return turned

    return shapely.transform(geometry, turn)


def _same(geometry: BaseGeometry, other: BaseGeometry) -> bool:
    """Whether no point of either is farther from the other than a print shows."""
    near = np.abs(np.array(geometry.bounds) - np.array(other.bounds)).max() <= _ALIKE
    return bool(near and _reaches(geometry, other) and _reaches(other, geometry))


def _reaches(geometry: BaseGeometry, other: BaseGeometry) -> bool:
    points = shapely.points(shapely.get_coordinates(geometry))
    shapely.prepare(other)
    return bool(shapely.dwithin(points, other, _ALIKE).all())
