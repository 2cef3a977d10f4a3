"""Finds lines and arcs, or points, that are near each other, and gives up where there are too many.

A useful drawing has few such pairs apart from the joints of its outlines. In a tangle, where everything crosses
everything, their number grows with the square of the lines; this is an error, not searched to the end.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.segment import Arc, Point, Segment, chord_count
from cutjob.tolerances import TOLERANCES

_AT_ONCE = 128
_MOST_BOXES = 1_000_000  # pairs whose boxes meet: about two seconds
_MOST_PAIRS = (10, 10_000)  # most pairs that meet: for each segment, and in addition
_MOST_CHORDS = 256  # of an arc; an arc with more is taken as its box


class TangledError(ValueError):
    """Lines meet, or nearly coincide, in more places than can be checked."""


def near_pairs(segments: Sequence[Segment]) -> list[tuple[int, int]]:
    """Return the pairs of segments, the lower index first, that may meet. Raises TangledError for very many."""
    shapes = np.array([_shape(segment) for segment in segments], dtype=object)
    reach = TOLERANCES.same_point + 2 * TOLERANCES.chord * any(isinstance(segment, Arc) for segment in segments)
    found: list[tuple[int, int]] = []
    most = _MOST_PAIRS[0] * len(segments) + _MOST_PAIRS[1]
    for first, second in _boxes_that_meet(shapes, reach):
        near = shapely.dwithin(shapes[first], shapes[second], reach)
        found += zip(first[near].tolist(), second[near].tolist(), strict=True)
        if len(found) > most:
            raise TangledError
    return sorted(found)


def near_points(points: Sequence[Point], distance: float) -> list[tuple[int, int]]:
    """Return the pairs of points, the lower index first, at most `distance` apart. Raises TangledError for many."""
    if not points:
        return []
    places = np.array(shapely.points(points), dtype=object)
    found: list[tuple[int, int]] = []
    for first, second in _boxes_that_meet(places, distance):
        near = shapely.dwithin(places[first], places[second], distance)
        found += zip(first[near].tolist(), second[near].tolist(), strict=True)
        if len(found) > _MOST_BOXES // 2:
            raise TangledError
    return sorted(found)


Indices = npt.NDArray[np.int64]


def _boxes_that_meet(shapes: npt.NDArray[np.object_], reach: float) -> Iterator[tuple[Indices, Indices]]:
    """Yield pairs whose boxes are within `reach` of each other, the lower index first, some shapes at a time."""
    x0, y0, x1, y1 = shapely.bounds(shapes).T
    boxes = shapely.box(x0 - reach, y0 - reach, x1 + reach, y1 + reach)
    tree = shapely.STRtree(shapes)
    count = 0
    for start in range(0, len(shapes), _AT_ONCE):
        first, second = tree.query(boxes[start : start + _AT_ONCE])
        later = first + start < second
        count += int(later.sum())
        if count > _MOST_BOXES:
            raise TangledError
        yield first[later] + start, second[later]


def _shape(segment: Segment) -> BaseGeometry:
    if isinstance(segment, Arc) and chord_count(segment.radius, segment.sweep, TOLERANCES.chord) > _MOST_CHORDS:
        return shapely.box(*segment.bounds)
    return shapely.linestrings([segment.start, *segment.chords(TOLERANCES.chord)])
