from __future__ import annotations

import math
import random

import numpy as np
import pyclipper
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull
from shapely import Point, Polygon
from shapely.geometry.polygon import orient

from cutjob.designs.star import star_region
from cutjob.geometry.contour import Contour, Region, polyline, rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.layout.convex import convex_pieces, convex_sum, from_lowest
from cutjob.layout.nofit import NoFits, Paths, Room, Shape, Solid, solid_no_fit, summed_outlines
from cutjob.layout.outline import UNITS, Ring, ring_points, whole
from cutjob.layout.rules import Turn
from tests.layout.makers import contours, regions, ring

TURNS = st.builds(Turn, st.integers(0, 3), st.booleans())
# A simplified ring may lie this far outside its contour, and a corner of the gap is rounded by tangents (3.5 % of it).
LOOSE = 0.25


def inside(paths: Paths, x: float, y: float) -> bool:
    at = (round(x * UNITS), round(y * UNITS))
    return (
        sum(pyclipper.PointInPolygon(at, path) != 0 and (1 if pyclipper.Orientation(path) else -1) for path in paths)
        > 0
    )


@settings(max_examples=60, deadline=None)
@given(regions, regions, TURNS, TURNS, st.floats(0, 8), st.integers(0, 10**6))
def test_no_fit_areas_tell_near_from_clear(
    one: Region, other: Region, turn: Turn, second: Turn, gap: float, seed: int
) -> None:
    fixed, moving = Shape(1, one, gap=gap), Shape(2, other, gap=gap)
    pairs = NoFits()
    there, back = pairs.between(fixed, turn, moving, second), pairs.between(moving, second, fixed, turn)
    lying, carried = to_polygon(turn.transform(0, 0).region(one)), to_polygon(second.transform(0, 0).region(other))
    draw, reach = random.Random(seed), 130.0
    for _ in range(40):
        x, y = draw.uniform(-reach, reach), draw.uniform(-reach, reach)
        apart = shapely.distance(lying, shapely.transform(carried, lambda c, x=x, y=y: c + np.array([x, y])))
        for found in (inside(there, x, y), inside(back, -x, -y)):
            if not found:
                assert apart >= gap - 0.005  # the polygons measured follow arcs to 0.002 mm each
            elif apart > 0:
                assert apart < gap * 1.04 + LOOSE or _boxed_in(one) or _boxed_in(other)


def _boxed_in(region: Region) -> bool:
    """Holes are kept clear on their convex hull's side too, so a free position in one may be left out."""
    return bool(region.holes)


@settings(max_examples=40, deadline=None)
@given(contours, st.floats(0.2, 12))
def test_a_grown_ring_is_nowhere_nearer_than_the_gap_and_not_much_farther(contour: Contour, gap: float) -> None:
    shape = Shape(1, Region(contour), gap=gap)
    solid, grown = (Polygon(np.array(ring) / UNITS) for ring in (shape.solid.ring, shape.grown.ring))
    # GEOS keeps the arcs of a buffer within the true offset.
    assert grown.buffer(3 / UNITS).covers(solid.buffer(gap, quad_segs=64))
    filled = Polygon(solid.buffer(gap / math.cos(math.pi / 12), quad_segs=64).exterior)
    assert filled.buffer(0.01).covers(grown)


@settings(max_examples=60, deadline=None)
@given(contours)
def test_convex_pieces_are_convex_and_cover_the_ring_exactly(contour: Contour) -> None:
    shape: Ring = whole(ring_points(contour, 0.05, grow=True))
    pieces = convex_pieces(shape)
    assert pieces is not None
    assert sum(pyclipper.Area(piece) for piece in pieces) == pytest.approx(pyclipper.Area(shape), rel=1e-12)
    for piece in pieces:
        hull = ConvexHull(np.array(piece, dtype=float))
        assert hull.volume == pytest.approx(pyclipper.Area(piece), rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(-5000, 5000), st.integers(-5000, 5000)), min_size=6, max_size=12, unique=True),
    st.lists(st.tuples(st.integers(-5000, 5000), st.integers(-5000, 5000)), min_size=6, max_size=12, unique=True),
)
def test_convex_sums_equal_the_hull_of_all_sums(one: Ring, other: Ring) -> None:
    a, b = shapely.MultiPoint(one).convex_hull, shapely.MultiPoint(other).convex_hull
    if not (isinstance(a, Polygon) and isinstance(b, Polygon)):
        return
    rings = [from_lowest([(round(x), round(y)) for x, y in orient(p).exterior.coords[:-1]]) for p in (a, b)]
    points = np.array([(x + u, y + v) for x, y in one for u, v in other], dtype=float)
    assert pyclipper.Area(convex_sum(*rings)) == pytest.approx(ConvexHull(points).volume, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(contours, contours)
def test_both_ways_of_summing_agree(one: Contour, other: Contour) -> None:
    fixed, moving = (Solid(whole(ring_points(c, 0.05, grow=True))) for c in (one, other))
    quick = sum(pyclipper.Area(path) for path in solid_no_fit(fixed, moving))
    sure = sum(pyclipper.Area(path) for path in summed_outlines(fixed.ring, moving.ring))
    assert quick == pytest.approx(sure, rel=1e-6)


def test_sums_have_the_published_area_of_convex_shapes() -> None:
    # Mixed areas: |A + B| of two upright rectangles is (a + c)(b + d).
    fixed, moving = (Solid(whole(ring_points(rectangle(*size), 0.1, grow=True))) for size in ((70, 20), (11, 5)))
    assert pyclipper.Area(solid_no_fit(fixed, moving)[0]) / UNITS**2 == pytest.approx(81 * 25)


def test_a_small_part_may_lie_in_the_hole_of_a_large_one_and_the_other_way_round() -> None:
    large, small = Shape(1, ring(50, 30), gap=3.0), Shape(2, Region(rectangle(20, 20)), gap=3.0)
    pairs = NoFits()
    assert not inside(pairs.between(large, Turn(), small, Turn()), -10, -10)
    assert not inside(pairs.between(small, Turn(), large, Turn()), 10, 10)
    assert inside(pairs.between(large, Turn(), small, Turn()), 10, 10)
    crowded = Shape(3, Region(rectangle(40, 40)), gap=3.0)
    assert inside(pairs.between(large, Turn(), crowded, Turn()), -20, -20)


def test_a_room_holds_a_part_of_exactly_its_size_only_with_slack() -> None:
    points = [(0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (0.0, 50.0)]
    shape = Shape(1, Region(rectangle(96, 46)), gap=0.0)
    assert Room(points, clearance=2.0, slack=0.0002).fit(shape, Turn())
    assert not Room(points, clearance=2.001, slack=0.0002).fit(shape, Turn())
    assert not Room(points, clearance=2.0, slack=0.0002).fit(shape, Turn(1))


def test_a_room_with_a_pocket_keeps_parts_out_of_it() -> None:
    points = [(0.0, 0.0), (100.0, 0.0), (100.0, 30.0), (30.0, 30.0), (30.0, 100.0), (0.0, 100.0)]
    room, shape = Room(points, clearance=2.0, slack=0.0002), Shape(1, Region(rectangle(20, 20)), gap=0.0)
    places = room.fit(shape, Turn())
    for x, y, free in ((5, 70, True), (70, 5, True), (40, 40, False), (9, 9, False), (8.4, 8.4, True), (5, 79, False)):
        assert inside(places, x, y) == free
    solid = Polygon(points)
    for path in places:
        for x, y in path:
            there = shapely.box(x / UNITS, y / UNITS, x / UNITS + 20, y / UNITS + 20)
            assert solid.exterior.distance(there) > 2.0 - 0.0005
            assert solid.contains(Point(x / UNITS, y / UNITS))


def test_a_notch_can_be_filled_by_a_part_that_just_fits() -> None:
    notched = polyline([(0, 0), (60, 0), (60, 40), (40, 40), (40, 10), (20, 10), (20, 40), (0, 40)])
    fixed, moving = Shape(1, Region(notched), gap=2.0), Shape(2, Region(rectangle(15, 20)), gap=2.0)
    area = NoFits().between(fixed, Turn(), moving, Turn())
    assert not inside(area, 22.5, 14)
    assert inside(area, 22.5, 11)
    assert inside(area, 20.5, 14)


@pytest.mark.parametrize("gap", [3.0, 7.85, 14.0])
@pytest.mark.parametrize("points", [4, 5, 6, 8])
def test_no_sliver_of_rounding_is_taken_for_a_free_position(points: int, gap: float) -> None:
    """Between equal stars edges run parallel, and their sums leave slits a few units wide and some mm long."""
    for outer in (40.0, 59.5, 72.25):
        shape = Shape(1, star_region(points=points, outer=outer, inner=outer / 2), gap=gap)
        lying = Polygon(np.array(shape.solid.ring) / UNITS)
        for turn in (Turn(), Turn(1), Turn(2, mirrored=True)):
            for path in NoFits().between(shape, Turn(), shape, turn):
                if pyclipper.Orientation(path):
                    continue
                at = Polygon(path).representative_point()
                moved = Polygon(np.array([(x + at.x, y + at.y) for x, y in shape.turned(turn).ring]) / UNITS)
                assert lying.distance(moved) >= gap - 0.005
