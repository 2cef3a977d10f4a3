from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest

from cutjob.geometry.contour import rectangle
from cutjob.geometry.transform import Transform
from cutjob.layout.rules import Clearance, Turn, allowed_turns, free_rotation, is_allowed
from tests.layout.makers import board, part

TURNS = [Turn(quarter, mirrored) for quarter in range(4) for mirrored in (False, True)]


@pytest.mark.parametrize(
    ("part_grain", "board_grain", "quarters"),
    [
        ("length", "length", {0, 2}),
        ("length", "none", {0, 1, 2, 3}),
        ("none", "length", {0, 1, 2, 3}),
        ("none", "none", {0, 1, 2, 3}),
    ],
)
@pytest.mark.parametrize("may_mirror", [False, True])
def test_grain_decides_the_quarters_and_the_part_whether_it_may_be_mirrored(
    part_grain: str, board_grain: str, quarters: set[int], may_mirror: bool
) -> None:
    piece = part(rectangle(50, 20), grain=part_grain, may_mirror=may_mirror)
    turns = allowed_turns(piece, board(grain=board_grain))
    assert {turn.quarter for turn in turns} == quarters
    assert {turn.mirrored for turn in turns} == ({False, True} if may_mirror else {False})
    assert len(turns) == len(set(turns)) == len(quarters) * (1 + may_mirror)


@pytest.mark.parametrize("turn", TURNS)
def test_a_turn_is_the_transform_it_stands_for(turn: Turn) -> None:
    a, b, c, d = turn.matrix
    assert turn.transform(5.0, -2.0).point((3.0, 7.0)) == (a * 3 + b * 7 + 5, c * 3 + d * 7 - 2)


@pytest.mark.parametrize(("second", "first"), list(itertools.product(TURNS, TURNS)))
def test_turns_compose_as_transforms_do(second: Turn, first: Turn) -> None:
    point = (3.0, 7.0)
    both = second.after(first).transform(0, 0).point(point)
    assert both == second.transform(0, 0).point(first.transform(0, 0).point(point))
    assert first.inverse().transform(0, 0).point(first.transform(0, 0).point(point)) == point


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
