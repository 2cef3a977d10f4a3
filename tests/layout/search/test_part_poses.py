from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from cutjob.geometry.contour import circle, rectangle
from cutjob.geometry.transform import Transform
from cutjob.layout.search.packing_problem import poses_of
from cutjob.parts.part import ShapedPart
from tests.layout.judge import fine
from tests.layout.makers import ell, part, parts, ring, star

EXACT = 1e-6  # mm, of extents
COVERED = 1e-3  # mm2: slivers of rounding between pieces


@settings(max_examples=25, deadline=None)
@given(parts(most=1), st.booleans())
def test_pieces_cover_the_part_and_the_box_is_exact(made: tuple[ShapedPart, ...], free: bool) -> None:
    for pose in poses_of(made[0], free=free, most=10, least_hole=5.0):
        region = Transform(degrees=pose.degrees, mirrored=pose.mirrored).region(made[0].region)
        pieces = [Polygon(corners) for corners in pose.pieces]
        assert all(piece.exterior.is_ccw for piece in pieces)
        assert shapely.area(shapely.difference(fine(region), shapely.union_all(pieces))) <= COVERED
        assert np.allclose(pose.box, region.bounds, atol=EXACT)
        assert made[0].may_mirror or not pose.mirrored
        assert free or pose.degrees % 180 == 0


@pytest.mark.parametrize(
    ("shape", "free", "turns"),
    [
        (circle((5, 5), 20), True, [0.0]),
        (rectangle(90, 30), False, [0.0]),
        (ell(80, 60, 20), False, [0.0, 180.0]),
        (star(4, 40, 20), False, [0.0]),
    ],
)
def test_turns_that_look_the_same_are_tried_once(shape, free: bool, turns: list[float]) -> None:  # type: ignore[no-untyped-def]
    poses = poses_of(part(shape, may_mirror=True), free=free, most=24, least_hole=5.0)
    assert sorted({pose.degrees for pose in poses}) == turns


def test_a_mirrored_look_is_kept_only_where_it_differs() -> None:
    assert {p.mirrored for p in poses_of(part(ell(80, 60, 20), may_mirror=True), free=False, most=8, least_hole=5)} == {
        False,
        True,
    }
    hook = poses_of(part(star(5, 40, 15), may_mirror=True), free=True, most=8, least_hole=5.0)
    assert not any(pose.mirrored for pose in hook)


def test_holes_that_take_nothing_are_filled() -> None:
    def area(least_hole: float) -> float:
        (pose, *_) = poses_of(part(ring(50, 20)), free=False, most=2, least_hole=least_hole)
        return sum(Polygon(corners).area for corners in pose.pieces)

    assert area(41.0) - area(39.0) == pytest.approx(np.pi * 20**2, rel=0.02)  # chords stand for the hole's circle
