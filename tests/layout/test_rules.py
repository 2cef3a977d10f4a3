from __future__ import annotations

import math
from dataclasses import replace

import pytest

from cutjob.geometry.contour import rectangle
from cutjob.geometry.transform import Transform
from cutjob.layout.rules import Clearance, free_rotation, is_allowed
from tests.layout.makers import board, part


def test_turns_off_the_grain_and_askew_are_not_allowed() -> None:
    piece = part(rectangle(50, 20))
    assert is_allowed(Transform(degrees=180.0), piece, board())
    assert is_allowed(Transform(degrees=-180.0), piece, board())
    assert not is_allowed(Transform(degrees=90.0), piece, board())
    assert not is_allowed(Transform(degrees=1.0), piece, board())
    assert not is_allowed(Transform(mirrored=True), piece, board())


@pytest.mark.parametrize(("part_grain", "board_grain"), [("length", "none"), ("none", "length"), ("none", "none")])
def test_without_grain_on_both_sides_any_angle_will_do(part_grain: str, board_grain: str) -> None:
    piece = part(rectangle(50, 20), grain=part_grain)
    wood = board(grain=board_grain)
    assert free_rotation(piece, wood)
    for degrees in (0.0, 90.0, 1.0, 33.3333, -270.5, 1e6):
        assert is_allowed(Transform(degrees=degrees), piece, wood)
        assert not is_allowed(Transform(degrees=degrees, mirrored=True), piece, wood)
        assert is_allowed(Transform(degrees=degrees, mirrored=True), replace(piece, may_mirror=True), wood)
    assert not is_allowed(Transform(degrees=math.nan), piece, wood)
    assert not is_allowed(Transform(degrees=math.inf), piece, wood)


def test_grain_on_both_sides_leaves_the_half_turn() -> None:
    piece = part(rectangle(50, 20), may_mirror=True)
    assert not free_rotation(piece, board())
    assert [is_allowed(Transform(degrees=at, mirrored=True), piece, board()) for at in (0.0, 180.0, 540.0)] == [
        True
    ] * 3
    assert not any(is_allowed(Transform(degrees=at), piece, board()) for at in (90.0, 1e-9, 179.999, math.nan))


def test_negative_clearances_are_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        Clearance(gap=-1.0, edge_margin=0.0)
