"""Where a cutter's centre may be: an area shrunk all round, outline and islands at once, as exact lines and arcs. mm.

The outline is offset inwards and each island outwards, exactly. Where those paths cross, Clipper finds on fine polygons
what is left, and each edge of the result is put back onto the line or arc it came from.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
import pyclipper
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from cutjob.geometry.contour import Contour, Region, closed, polyline
from cutjob.geometry.crossing import meetings
from cutjob.geometry.nearest import NearestSegment
from cutjob.geometry.offset import offset
from cutjob.geometry.polygons import from_polygon, polygons_of, to_polygon
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.tolerances import TOLERANCES

# Chord error of the polygons that show what is left.
FINE = TOLERANCES.path / 2
_PER_MM = 1e5  # Clipper counts in whole numbers
_SPECK = 1e-4  # mm2: anything smaller is rounding
# Paths that stay this far apart can't cross: Clipper isn't asked.
_APART = 0.01
# A crossing of exact curves lies this near to the crossing of their chords, except where the curves nearly touch.
_NEAR = 0.5


def inset(region: Region, by: float) -> tuple[Region, ...]:
    """Return the part of `region` that lies at least `by` mm (0 or more) inside its outline and outside its islands.

    Exact to `TOLERANCES.path`. Empty when nothing is left.
    """
    outsides = [sound for path in offset(region.outline, -by) for sound in _sound(path)]
    islands = [path for hole in region.holes for path in offset(hole, by)]
    if not islands or not outsides:
        return tuple(Region(outside) for outside in outsides)
    plain = _plain(outsides, islands)
    return _cut_out(outsides, islands) if plain is None else plain


def _sound(path: Contour) -> list[Contour]:
    """The path itself; where it encloses an area hardly wider than rounding, and so crosses itself, the polygons it
    makes without that.
    """
    points = path.points(FINE)
    if len(points) < 3:
        return []
    shape = Polygon(np.array(points))
    if shape.is_valid:
        return [path]
    # Grown by nothing: GEOS sorts out which side is inside.
    return [from_polygon(one).outline for one in polygons_of(shape.buffer(0)) if one.area > _SPECK]


def _plain(outsides: Sequence[Contour], islands: Sequence[Contour]) -> tuple[Region, ...] | None:
    """The regions when no two paths come near each other and islands are without bays; None otherwise."""
    if any(island.signed_area < 0 for island in islands):
        return None
    shapes = [to_polygon(path, deviation=FINE) for path in (*outsides, *islands)]
    edges = [shape.exterior for shape in shapes]
    tree = shapely.STRtree(edges)
    for index, edge in enumerate(edges):
        if (tree.query(edge, predicate="dwithin", distance=_APART) != index).any():
            return None
    count = len(outsides)
    within = [[i for i, island in enumerate(shapes[count:]) if outside.contains(island)] for outside in shapes[:count]]
    for first, second in zip(*np.triu_indices(len(islands), 1), strict=True):
        a, b = shapes[count + first], shapes[count + second]
        if a.contains(b) or b.contains(a):
            return None
    # An island that holds a whole outside leaves nothing of it.
    return tuple(
        Region(outside, tuple(islands[i] for i in inside))
        for outside, shape, inside in zip(outsides, shapes, within, strict=False)
        if not any(island.contains(shape) for island in shapes[count:])
    )


def _cut_out(outsides: Sequence[Contour], islands: Sequence[Contour]) -> tuple[Region, ...]:
    """The outsides less the islands, cut by Clipper and traced back to lines and arcs."""
    engine = pyclipper.Pyclipper()
    for paths, kind in ((outsides, pyclipper.PT_SUBJECT), (islands, pyclipper.PT_CLIP)):
        for path in paths:
            whole = np.rint(np.array(path.points(FINE)) * _PER_MM).astype(np.int64)
            engine.AddPath(whole.tolist(), kind, True)
    tree = engine.Execute2(pyclipper.CT_DIFFERENCE, pyclipper.PFT_NONZERO, pyclipper.PFT_NONZERO)
    # Every path keeps the remaining area on its left, so that all pieces are run forward.
    tracer = _Tracer([*outsides, *(island.reversed() for island in islands)])
    found = []
    for outer, holes in _nested(tree):
        outline = tracer.trace(outer)
        if outline is not None:
            traced = (tracer.trace(hole) for hole in holes)
            found.append(Region(outline, tuple(hole for hole in traced if hole is not None)))
    return tuple(found)


Ring = NDArray[np.float64]


def _nested(node: pyclipper.PyPolyNode) -> Iterator[tuple[Ring, list[Ring]]]:
    """Outer rings with the rings of their holes, outers inside holes after that."""
    for outer in node.Childs:
        holes = [np.array(hole.Contour, dtype=np.float64) / _PER_MM for hole in outer.Childs]
        yield np.array(outer.Contour, dtype=np.float64) / _PER_MM, holes
        for hole in outer.Childs:
            yield from _nested(hole)


class _Tracer:
    """Replaces the edges of a polygon by the segments of the known paths that it was made of."""

    def __init__(self, paths: Sequence[Contour]) -> None:
        self._segments: list[Segment] = []
        self._following: list[int] = []
        for path in paths:
            first = len(self._segments)
            self._segments.extend(path.segments)
            self._following.extend(range(first + 1, len(self._segments)))
            self._following.append(first)
        self._nearest = NearestSegment(self._segments)

    def trace(self, ring: Ring) -> Contour | None:
        """The exact contour of a ring; its plain polygon where tracing goes wrong; None for a speck."""
        edge = shapely.LinearRing(ring)
        if Polygon(edge).area < _SPECK:
            return None
        traced = self._traced(ring)
        if traced is not None:
            points = shapely.points(traced.points(FINE))
            away = float(shapely.distance(points, edge).max())
            if away < 10 * FINE and math.isclose(traced.length, edge.length, rel_tol=0.01):
                return traced
        return polyline([(float(x), float(y)) for x, y in ring])

    def _traced(self, ring: Ring) -> Contour | None:
        sources, _ = self._nearest.find((ring + np.roll(ring, -1, axis=0)) / 2, reach=20 * FINE)
        changes = np.flatnonzero(sources != np.roll(sources, 1))
        if len(changes) < 2:
            return None
        names = [int(sources[index]) for index in changes]
        corners: list[Point] = [(float(ring[index][0]), float(ring[index][1])) for index in changes]
        joints = [self._joint(names[i - 1], names[i], corner) for i, corner in enumerate(corners)]
        chain: list[Segment] = []
        for i, name in enumerate(names):
            begin, finish = joints[i][1], joints[(i + 1) % len(names)][0]
            if joints[i][0] != begin:
                chain.append(Line(joints[i][0], begin))
            source = self._segments[name]
            if isinstance(source, Line) or distance(begin, finish) <= FINE:
                chain.append(Line(begin, finish))
            else:
                chain.append(Arc(begin, finish, source.centre, source.clockwise))
        chain = [segment for segment in chain if segment.length > FINE]
        return closed(chain) if len(chain) > 1 else None

    def _joint(self, before: int, after: int, near: Point) -> tuple[Point, Point]:
        """Where one segment hands over to the next: the end of the first and the start of the second."""
        first, second = self._segments[before], self._segments[after]
        if self._following[before] == after and distance(first.end, near) < 40 * FINE:
            return first.end, second.start
        points = [meeting.point for meeting in meetings(first, second)]
        if points:
            point = min(points, key=lambda candidate: distance(candidate, near))
            if distance(point, near) < _NEAR:
                return point, point
        return _foot(first, near), _foot(second, near)


def _foot(segment: Segment, point: Point) -> Point:
    """The nearest point of the segment's line or circle."""
    if isinstance(segment, Line):
        (x, y), (dx, dy) = segment.start, segment.direction_at(0.0)
        along = (point[0] - x) * dx + (point[1] - y) * dy
        return x + along * dx, y + along * dy
    away = distance(segment.centre, point) or 1.0
    (x, y), scale = segment.centre, segment.radius / away
    return x + (point[0] - x) * scale, y + (point[1] - y) * scale
