"""Moving, turning and mirroring change neither size nor kind."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.contour import Contour, Region, circle, rectangle
from cutjob.geometry.segment import Arc, distance
from cutjob.geometry.transform import Transform
from tests.strategies import star_shaped

TRANSFORMS = st.builds(
    Transform,
    x=st.floats(-500, 500),
    y=st.floats(-500, 500),
    degrees=st.one_of(st.sampled_from([0.0, 90.0, 180.0, 270.0]), st.floats(-360, 720)),
    mirrored=st.booleans(),
)
PLACES = st.tuples(st.floats(-100, 100), st.floats(-100, 100))
# Coordinates of some hundred mm through a sine and a sum.
CLOSE = 1e-9


@given(TRANSFORMS, PLACES, PLACES)
def test_distances_stay(transform: Transform, a: tuple[float, float], b: tuple[float, float]) -> None:
    assert distance(transform.point(a), transform.point(b)) == pytest.approx(distance(a, b), abs=CLOSE)


@given(TRANSFORMS, star_shaped())
@settings(max_examples=60, deadline=None)
def test_areas_and_directions_stay(transform: Transform, shape: Contour) -> None:
    moved = transform.contour(shape)
    assert moved.signed_area == pytest.approx(shape.signed_area, rel=1e-7)
    assert moved.length == pytest.approx(shape.length, rel=1e-9)
    assert sum(isinstance(s, Arc) for s in moved.segments) == sum(isinstance(s, Arc) for s in shape.segments)


@given(TRANSFORMS, star_shaped(), st.floats(0.1, 0.9))
@settings(max_examples=60, deadline=None)
def test_every_place_of_a_segment_moves_alike(transform: Transform, shape: Contour, share: float) -> None:
    for segment in shape.segments:
        assert transform.segment(segment).point_at(share) == pytest.approx(
            transform.point(segment.point_at(share)), abs=1e-8
        )


def test_mirror_then_turn_then_shift() -> None:
    transform = Transform(x=100, y=10, degrees=90, mirrored=True)
    # (3, 1) mirrored is (-3, 1), turned a quarter (-1, -3), shifted (99, 7).
    assert transform.point((3, 1)) == (99, 7)


@pytest.mark.parametrize("degrees", [-90, 0, 90, 180, 270, 360, 450])
def test_quarter_turns_are_exact(degrees: float) -> None:
    x, y = Transform(degrees=degrees).point((123.456, 78.9))
    assert {abs(x), abs(y)} == {123.456, 78.9}
    angle = math.atan2(78.9, 123.456) + math.radians(degrees)
    assert math.atan2(y, x) % (2 * math.pi) == pytest.approx(angle % (2 * math.pi))


@given(TRANSFORMS)
def test_holes_stay_holes(transform: Transform) -> None:
    region = transform.region(Region(rectangle(60, 40), (circle((20, 20), 8),)))
    assert region.outline.signed_area == pytest.approx(2400)
    assert region.holes[0].signed_area == pytest.approx(-64 * math.pi)
    found = region.holes[0].circle()
    assert found is not None
    assert found[0] == pytest.approx(transform.point((20, 20)), abs=CLOSE)


@given(TRANSFORMS, PLACES)
def test_the_inverse_takes_everything_back(transform: Transform, place: tuple[float, float]) -> None:
    back = transform.inverse().point(transform.point(place))
    assert distance(back, place) <= CLOSE
