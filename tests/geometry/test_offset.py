"""Offsets against closed forms, the edge of NISTIR 6556's appendix B, and GEOS and Clipper."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pyclipper
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.contour import Contour, circle, closed, polyline, rectangle
from cutjob.geometry.nearest import NearestSegment
from cutjob.geometry.offset import offset
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Arc, Line, distance
from cutjob.geometry.transform import Transform
from cutjob.tolerances import TOLERANCES
from tests.assertions import FINE, distances_from, fine_polygon
from tests.strategies import convex, star_shaped

RADII = st.sampled_from([0.1, 1.0, 3.175, 4.7625])


@given(convex(), RADII)
@settings(max_examples=60, deadline=None)
def test_steiner_formula_for_convex_shapes(shape: Contour, radius: float) -> None:
    """Steiner: area A + P r + pi r^2 and perimeter P + 2 pi r, exactly, since arcs stay arcs."""
    (grown,) = offset(shape, radius)
    area = abs(shape.signed_area) + shape.length * radius + math.pi * radius**2
    # Corners under 0.01 rad are taken without an arc, which costs r t^2/8 along them; the rest is rounding.
    assert grown.signed_area == pytest.approx(area, rel=1e-5)
    assert grown.length == pytest.approx(shape.length + 2 * math.pi * radius, rel=1e-5)


@pytest.mark.parametrize(
    ("shape", "radius", "area", "perimeter"),
    [
        (rectangle(72, 5.5), 0.125, 415.42409, 155.78540),
        (rectangle(100, 50), 3.175, 5984.16922, 319.94911),
    ],
)
def test_published_figures_of_steiners_formula(shape: Contour, radius: float, area: float, perimeter: float) -> None:
    (grown,) = offset(shape, radius)
    assert grown.signed_area == pytest.approx(area, abs=5e-6)
    assert grown.length == pytest.approx(perimeter, abs=5e-6)


def test_edge_and_centre_path_of_the_standard() -> None:
    """NISTIR 6556, appendix B, tables 12 and 13: an edge and the centre path of a cutter of diameter 1."""
    edge = closed(
        [
            Arc((2, 3), (3, 2), (2, 2), True),
            Line((3, 2), (3, -1)),
            Arc((3, -1), (2, -2), (2, -1), True),
            Line((2, -2), (-2, -2)),
            Arc((-2, -2), (-2.6, -0.2), (-2, -1), True),
            Line((-2.6, -0.2), (1.4, 2.8)),
            Arc((1.4, 2.8), (2, 3), (2, 2), True),
        ]
    )
    (path,) = offset(edge, 0.5)
    assert path.signed_area == pytest.approx(31.06858347, abs=1e-8)
    assert path.length == pytest.approx(21.42477796, abs=1e-8)
    published = [(3.5, 2), (3.5, -1), (2, -2.5), (-2, -2.5), (-2.9, 0.2), (1.1, 3.2)]
    corners = [segment.start for segment in path.segments]
    assert all(any(math.dist(point, corner) < 1e-7 for corner in corners) for point in published)
    assert {segment.radius for segment in path.segments if isinstance(segment, Arc)} == {1.5}


@given(star_shaped(), RADII, st.sampled_from([1, -1]))
@settings(max_examples=80, deadline=None)
def test_every_point_lies_at_the_offset(shape: Contour, radius: float, side: int) -> None:
    paths = offset(shape, side * radius)
    if paths:
        away = distances_from(paths, fine_polygon(shape).exterior)
        assert np.abs(away - radius).max() <= TOLERANCES.path + 2 * FINE


@given(star_shaped(), RADII, st.sampled_from([1, -1]))
@settings(max_examples=60, deadline=None)
def test_same_area_as_geos_and_clipper(shape: Contour, radius: float, side: int) -> None:
    """GEOS through Shapely, an engine of its own, and Clipper's chords as pyclipper gives them."""
    ours = sum(path.signed_area for path in offset(shape, side * radius))
    fine = to_polygon(shape, deviation=1e-4)
    geos = fine.buffer(side * radius, quad_segs=200)
    engine = pyclipper.PyclipperOffset(2.0, 0.0002 * 1e6)
    ring = pyclipper.scale_to_clipper(fine.exterior.coords[:-1], 1e6)
    engine.AddPath(ring, pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    rings = pyclipper.scale_from_clipper(engine.Execute(side * radius * 1e6), 1e6)
    clipper = sum(shapely.Polygon(ring).area * (1 if pyclipper.Orientation(ring) else -1) for ring in rings)
    # Along every boundary the libraries' chords may lie off by theirs plus ours; GEOS drops corners within r/100.
    assert abs(ours - geos.area) <= 0.005 * radius * shape.length + 0.01
    assert abs(ours - clipper) <= 0.001 * (shape.length + 2 * math.pi * radius) + 1e-3


@given(star_shaped(), RADII)
@settings(max_examples=40, deadline=None)
def test_out_then_in_contains_and_in_then_out_lies_within(shape: Contour, radius: float) -> None:
    body = fine_polygon(shape)
    slack = 3 * TOLERANCES.path
    (outer, *_) = sorted(offset(shape, radius), key=lambda path: -path.signed_area)
    back = [fine_polygon(path) for path in offset(outer, -radius)]
    assert shapely.union_all(back).buffer(slack).contains(body)
    for path in offset(shape, -radius):
        for again in offset(path, radius):
            assert body.buffer(slack).contains(fine_polygon(again))


@given(star_shaped(), RADII, st.floats(0, 360), st.booleans())
@settings(max_examples=40, deadline=None)
def test_moved_mirrored_and_reversed_shapes_offset_alike(
    shape: Contour, radius: float, degrees: float, mirrored: bool
) -> None:
    move = Transform(x=123.4, y=-56.7, degrees=degrees, mirrored=mirrored)
    first = sorted(path.length for path in offset(shape, radius))
    other = sorted(path.length for path in offset(move.contour(shape).reversed(), radius))
    assert first == pytest.approx(other, abs=0.02)


def test_arcs_stay_arcs_and_circles_circles() -> None:
    (grown,) = offset(circle((5, 7), 20), 3.175)
    assert grown.circle() == ((5, 7), pytest.approx(23.175, abs=1e-9))
    (shrunk,) = offset(circle((5, 7), 20), -3.175)
    assert shrunk.circle() == ((5, 7), pytest.approx(16.825, abs=1e-9))


def test_what_vanishes_splits_and_closes_up() -> None:
    assert offset(rectangle(10, 5), -2.6) == ()
    dumb_bell = polyline(
        [(0, 0), (20, 0), (20, 8), (30, 8), (30, 0), (50, 0), (50, 20), (30, 20), (30, 12), (20, 12), (20, 20), (0, 20)]
    )
    assert len(offset(dumb_bell, -2.5)) == 2
    bay = polyline(
        [
            (0, 0),
            (40, 0),
            (40, 19),
            (30, 19),
            (30, 10),
            (10, 10),
            (10, 30),
            (30, 30),
            (30, 21),
            (40, 21),
            (40, 40),
            (0, 40),
        ]
    )
    paths = offset(bay, 1.5)
    assert sorted(path.signed_area > 0 for path in paths) == [False, True]


def test_no_offset_gives_the_shape_itself() -> None:
    shape = rectangle(10, 5)
    assert offset(shape, 0.0) == (shape,)


@given(star_shaped(), st.lists(st.tuples(st.floats(-70, 70), st.floats(-70, 70)), min_size=1, max_size=80))
@settings(max_examples=50, deadline=None)
def test_nearest_segment_against_shapely(shape: Contour, places: list[tuple[float, float]]) -> None:
    points = np.array(places)
    found, _ = NearestSegment(shape.segments).find(points, reach=200.0)
    lines = [shapely.LineString([segment.start, *segment.chords(FINE)]) for segment in shape.segments]
    for place, index in zip(places, found, strict=True):
        away = shapely.distance(shapely.Point(place), lines)
        assert away[index] <= away.min() + 2 * FINE


def test_where_a_line_meets_an_arc_the_corner_is_exact() -> None:
    """A half disc of 20, shrunk by 3: its line lies at y 3, its arc has 17, and they meet at x^2 = 17^2 - 3^2."""
    half = closed([Line((-20.0, 0.0), (20.0, 0.0)), Arc((20.0, 0.0), (-20.0, 0.0), (0.0, 0.0), False)])
    (inner,) = offset(half, -3.0)
    assert len(inner.segments) == 2
    reach = math.sqrt(17.0**2 - 3.0**2)
    corners = sorted(segment.start for segment in inner.segments)
    for corner, expected in zip(corners, ((-reach, 3.0), (reach, 3.0)), strict=True):
        assert distance(corner, expected) < 1e-9  # doubles, at some tens of mm


def test_corners_that_turn_nothing_leave_no_joint() -> None:
    """A rectangle with a corner in the middle of each side: four lines inside, four and as many arcs outside."""
    notched = closed(
        [
            Line(a, b)
            for a, b in itertools.pairwise(
                [(0.0, 0.0), (30.0, 0.0), (60.0, 0.0), (60.0, 20.0), (60.0, 40.0), (30.0, 40.0), (0.0, 40.0),
                 (0.0, 20.0), (0.0, 0.0)]
            )
        ]
    )  # fmt: skip
    for by, kinds in ((-3.0, ["Line"] * 4), (3.0, ["Arc"] * 4 + ["Line"] * 4)):
        (path,) = offset(notched, by)
        assert sorted(type(segment).__name__ for segment in path.segments) == kinds
