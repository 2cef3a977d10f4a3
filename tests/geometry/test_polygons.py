"""Contours to polygons within a stated chord error, and polygons back to contours."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.contour import Contour, Region, circle, rectangle
from cutjob.geometry.polygons import from_polygon, polygons_of, to_polygon, to_ring
from tests.assertions import distances_from
from tests.strategies import star_shaped


@given(star_shaped(), st.sampled_from([0.5, 0.02, 0.002]))
@settings(max_examples=40, deadline=None)
def test_a_polygon_keeps_within_its_chord_error(contour: Contour, deviation: float) -> None:
    polygon = to_polygon(contour, deviation=deviation)
    # 1e-9: the places compared go through sines.
    assert distances_from([contour], polygon.exterior).max() <= deviation + 1e-9
    assert abs(polygon.area - abs(contour.signed_area)) <= deviation * contour.length
    assert to_ring(contour, deviation=deviation) == [tuple(place) for place in polygon.exterior.coords[:-1]]


def test_a_region_with_a_hole() -> None:
    region = Region(rectangle(40, 30), (circle((20, 15), 5),))
    polygon = to_polygon(region, deviation=1e-4)
    assert len(polygon.interiors) == 1
    assert polygon.area == pytest.approx(1200 - 25 * math.pi, abs=1e-4 * 2 * math.pi * 5)
    assert polygon.is_valid


@given(star_shaped(arcs=False))
@settings(max_examples=40, deadline=None)
def test_straight_shapes_come_back_the_same(contour: Contour) -> None:
    back = from_polygon(to_polygon(contour))
    assert back.area == pytest.approx(abs(contour.signed_area), rel=1e-9)
    assert len(back.outline.segments) == len(contour.segments)
    assert back.outline.signed_area > 0


def test_holes_come_back_as_holes() -> None:
    polygon = shapely.box(0, 0, 20, 20).difference(shapely.box(5, 5, 10, 10))
    region = from_polygon(polygon)
    assert region.area == pytest.approx(375)
    assert [hole.signed_area for hole in region.holes] == [-25]


def test_polygons_in_any_result() -> None:
    square = shapely.box(0, 0, 1, 1)
    mixed = shapely.GeometryCollection([square, shapely.Point(3, 3), shapely.LineString([(0, 0), (5, 5)])])
    assert polygons_of(mixed) == [square]
    assert polygons_of(shapely.union(square, shapely.box(4, 4, 5, 5))) == [square, shapely.box(4, 4, 5, 5)]
    assert polygons_of(shapely.Polygon()) == []
    assert polygons_of(shapely.Point(0, 0)) == []
