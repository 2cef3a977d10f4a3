"""Random pockets with islands, and what a cutter must do in any: judged by Shapely alone. Lengths mm."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import strategies as st
from shapely import Polygon

from cutjob.cuts.clearing import Cleared
from cutjob.geometry.contour import Contour, Region, circle
from cutjob.geometry.offset import offset
from cutjob.geometry.polygons import from_polygon, polygons_of, to_polygon
from cutjob.geometry.segment import Segment, distance
from cutjob.tolerances import TOLERANCES
from tests.strategies import star_shaped

FINE = 5e-4  # chord error of polygons and chains here
QUADS = 100  # chords of a quarter circle: within radius x 3e-5
# How far a way may come out from the exact one: an offset, its polygon on Clipper's grid and the chords of both sides.
CLOSE = 0.005
# Share of the floor that may seem uncovered because round corners are chords on one side of the comparison.
SLIVERS = 1e-3


@st.composite
def rectilinear(draw: st.DrawFn, *, islands: bool = True) -> Region:
    """Some rectangles that hang together, with rectangles and circles standing in them."""
    whole = shapely.box(0, 0, draw(st.integers(20, 90)), draw(st.integers(8, 60)))
    for _ in range(draw(st.integers(0, 4))):
        x0, y0, x1, y1 = whole.bounds
        x, y = draw(st.integers(int(x0), int(x1))), draw(st.integers(int(y0), int(y1)))
        more = whole.union(shapely.box(x, y, x + draw(st.integers(4, 60)), y + draw(st.integers(4, 50))))
        if isinstance(more, Polygon):
            whole = more
    outline = from_polygon(Polygon(whole.exterior)).outline
    return _with_islands(draw, outline) if islands else Region(outline)


@st.composite
def rounded(draw: st.DrawFn) -> Region:
    """A contour of lines and arcs, its corners rounded or not, with islands."""
    outline = draw(st.one_of(star_shaped(), rectilinear(islands=False).map(lambda region: region.outline)))
    radius = draw(st.sampled_from([0.0, 2.0, 5.0]))
    if radius:
        shrunk = offset(outline, -radius)
        grown = offset(shrunk[0], radius) if shrunk else ()
        outline = grown[0] if grown else outline
    return _with_islands(draw, outline)


def _with_islands(draw: st.DrawFn, outline: Contour) -> Region:
    clear = to_polygon(outline).buffer(-0.5)
    x0, y0, x1, y1 = clear.bounds if not clear.is_empty else (0, 0, 1, 1)
    islands: list[Contour] = []
    for _ in range(draw(st.integers(0, 3))):
        x, y, size = draw(st.floats(x0, x1)), draw(st.floats(y0, y1)), draw(st.floats(1, 15))
        island = circle((x, y), size)
        if draw(st.booleans()):
            island = from_polygon(shapely.box(x, y, x + size, y + 2 * size)).outline
        shape = to_polygon(island)
        if clear.contains(shape):
            clear = clear.difference(shape.buffer(0.5))
            islands.append(island)
    return Region(outline, tuple(islands))


def chain(segments: tuple[Segment, ...]) -> shapely.LineString:
    return shapely.LineString([segments[0].start, *(point for segment in segments for point in segment.chords(FINE))])


def swept(lines: list[shapely.Geometry], radius: float) -> shapely.Geometry:
    return shapely.union_all([shapely.buffer(line, radius, quad_segs=QUADS) for line in lines])


def _opened(shape: shapely.Geometry, off: float, radius: float) -> shapely.Geometry:
    """All that a disc of `radius` covers whose centre keeps `off` the edge of a shape."""
    return shapely.buffer(shapely.buffer(shape, -off, quad_segs=QUADS), radius, quad_segs=QUADS)


def length(cleared: Cleared) -> float:
    ways = sum(segment.length for way in cleared.clearings for segment in way.path)
    return ways + sum(wall.length for wall in cleared.walls)


def fair_length(area: Region, stepover: float) -> float:
    return area.area / stepover + sum(contour.length for contour in area.contours)


def check(cleared: Cleared, area: Region, *, radius: float, deviation: float = 0.0) -> None:
    """Fail unless all of the floor is cleared, no wall cut, and the ways hang together."""
    shape = to_polygon(area, deviation=FINE)
    for way in cleared.clearings:
        ends = [way.entry.segments[0].start, *(segment.end for segment in way.path)]
        starts = [segment.start for segment in way.path]
        assert all(distance(a, b) <= TOLERANCES.same_point for a, b in zip(ends, starts, strict=False))
        assert min(segment.length for segment in way.path) > 0
    ways = [chain(way.path) for way in cleared.clearings]
    entries = [chain(way.entry.segments) for way in cleared.clearings]
    walls = [chain(wall.segments) for wall in cleared.walls]
    away = radius + deviation
    _keeps_off(shape, [*ways, *entries], away + cleared.allowance - CLOSE)
    _keeps_off(shape, walls, away - CLOSE)
    # A wall's way lies no further off than it must.
    for wall in walls:
        off = shapely.distance(_points(wall), shape.boundary)
        assert off.max(initial=0.0) < away + CLOSE
    floor = _opened(shape, away, away)
    missing = floor.difference(swept([*ways, *walls], radius + deviation)).area
    assert missing <= SLIVERS * floor.area + 1e-6
    # And at the full depth of the last way round the walls no more is left than what was kept off.
    rough = _opened(shape, away + cleared.allowance + FINE, radius)
    missing = rough.difference(swept(ways, radius)).area
    assert missing <= SLIVERS * rough.area + 1e-6


def _points(line: shapely.LineString) -> np.ndarray:
    return shapely.points(shapely.get_coordinates(shapely.segmentize(line, 0.5)))


def _keeps_off(shape: Polygon, lines: list[shapely.LineString], least: float) -> None:
    for line in lines:
        points = _points(line)
        assert shapely.covers(shape, line)
        assert shapely.distance(points, shape.boundary).min() >= least


def turns_left(wall: Contour) -> bool:
    return wall.signed_area > 0


def pieces(shape: shapely.Geometry) -> list[Polygon]:
    return polygons_of(shape)


def corner_rest(radius: float) -> float:
    """UncutCorner in a square inside corner: r^2 (1 - pi/4), the square of a tangent less a quarter of the disc."""
    return radius**2 * (1 - math.pi / 4)
