"""Moves along a path: they stay on it, fall evenly, and rise over tabs."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.cut import TabSpan
from cutjob.geometry.contour import Contour, circle, rectangle
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Arc, distance
from cutjob.program.moves import Move
from cutjob.program.walk import lift_off, rapid_over, walk
from tests.program.makers import SETTING, segments_of
from tests.strategies import star_shaped

# Lengths add up in floating point over some dozens of segments.
CLOSE = 1e-6
LASER = replace(SETTING, laser=True, safe_z=0.0, approach_z=0.0)


def tab(first: float, last: float, height: float = 3.0) -> TabSpan:
    return TabSpan(first=first, last=last, height=height, width=last - first - 6, at=(0.0, 0.0))


@given(star_shaped(), st.floats(0, 500), st.floats(1, 600), st.floats(-6, 0), st.floats(-12, -6))
@settings(max_examples=60, deadline=None)
def test_the_way_down_is_even(path: Contour, first: float, run: float, z0: float, z1: float) -> None:
    ruler = Ruler(path.segments)
    moves = walk(ruler, first, first + run, z0, z1, tabs=(), setting=SETTING)
    done, slope = 0.0, (z1 - z0) / run
    for segment, high, low in segments_of([Move("rapid", *ruler.point(first), z0), *moves], ruler.point(first)):
        assert high == pytest.approx(z0 + slope * done, abs=CLOSE)
        done += segment.length
        assert low == pytest.approx(z0 + slope * done, abs=CLOSE)
        assert distance(segment.end, ruler.point(first + done)) <= CLOSE
    assert done == pytest.approx(run, abs=CLOSE)
    assert moves[-1].z == pytest.approx(z1)
    # Down the slope no faster than straight down, as far as the feed allows.
    sine = abs(z1 - z0) / math.hypot(run, z1 - z0)
    feed = SETTING.feed if sine < 1e-6 else min(SETTING.feed, SETTING.plunge / sine)
    assert [move.feed for move in moves] == pytest.approx([feed] * len(moves))


def test_a_level_walk_is_cut_at_full_feed() -> None:
    ruler = Ruler(rectangle(50, 30).segments)
    moves = walk(ruler, 10.0, 170.0, -4.0, -4.0, tabs=(), setting=SETTING)
    assert {(move.kind, move.feed, move.z) for move in moves} == {("cut", SETTING.feed, -4.0)}
    assert (moves[-1].x, moves[-1].y) == pytest.approx((10.0, 0.0))


def heights(moves: list[Move], ruler: Ruler, first: float, z: float) -> list[tuple[float, float]]:
    """Places along the path, counted on from `first`, with the height of the cutter there."""
    found, done = [], 0.0
    for segment, high, low in segments_of([Move("rapid", *ruler.point(first), z), *moves], ruler.point(first)):
        for share in (0.01, 0.2, 0.4, 0.6, 0.8, 0.99):
            found.append((first + done + segment.length * share, high + (low - high) * share))
        done += segment.length
    return found


@given(st.floats(0, 150), st.floats(10, 40), st.floats(0, 320), st.floats(20, 340), st.sampled_from((0.0, 5.7, 12.0)))
@settings(max_examples=120, deadline=None)
def test_over_tabs_and_their_ramps_and_nowhere_else(
    at: float, width: float, first: float, run: float, ramp: float
) -> None:
    """Tabs come again on every round; the cutter goes up before one and down behind it, never lower than its ramp."""
    ruler = Ruler(rectangle(50, 30).segments)
    top, low = 3.0 - SETTING.stack_height, -12.3
    moves = walk(ruler, first, first + run, -4.0, low, tabs=(replace(tab(at, at + width), run=ramp),), setting=SETTING)
    length = 0.0
    for along, z in heights(moves, ruler, first, -4.0):
        line = -4.0 - 8.3 * (along - first) / run
        place = (along - at + ramp) % ruler.length - ramp  # from where the level top begins
        if 0 <= place <= width:
            wanted = top
        elif ramp and -ramp < place < width + ramp:
            wanted = top + (low - top) * max(-place, place - width) / ramp
        else:
            wanted = low
        assert z == pytest.approx(max(line, wanted), abs=CLOSE)
        length = max(length, along - first)
    assert length == pytest.approx(run, rel=0.02)


def test_over_a_tab_straight_up_and_straight_down() -> None:
    ruler = Ruler(rectangle(100, 100).segments)
    moves = walk(ruler, 0.0, 100.0, -12.3, -12.3, tabs=(tab(40, 60),), setting=SETTING)
    assert moves == [
        Move("cut", 40.0, 0.0, -12.3, SETTING.feed),
        Move("plunge", 40.0, 0.0, -9.0, SETTING.lift),
        Move("cut", 60.0, 0.0, -9.0, SETTING.feed),
        Move("plunge", 60.0, 0.0, -12.3, SETTING.plunge),
        Move("cut", 100.0, 0.0, -12.3, SETTING.feed),
    ]


def test_over_a_ramped_tab_up_and_down_its_slopes() -> None:
    ruler = Ruler(rectangle(100, 100).segments)
    moves = walk(ruler, 0.0, 100.0, -12.0, -12.0, tabs=(replace(tab(40, 60), run=3.0),), setting=SETTING)
    assert [(move.kind, round(move.x, 6), round(move.z, 6)) for move in moves] == [
        ("cut", 37.0, -12.0), ("cut", 40.0, -9.0), ("cut", 60.0, -9.0), ("cut", 63.0, -12.0), ("cut", 100.0, -12.0),
    ]  # fmt: skip
    # 45 degrees: down no faster than straight down, up no faster than straight up.
    assert moves[3].feed == pytest.approx(SETTING.plunge * math.sqrt(2))
    assert moves[1].feed == pytest.approx(min(SETTING.feed, SETTING.lift * math.sqrt(2)))


def test_passes_above_a_tab_do_not_rise() -> None:
    ruler = Ruler(rectangle(100, 100).segments)
    moves = walk(ruler, 0.0, 400.0, -8.9, -8.9, tabs=(tab(40, 60),), setting=SETTING)
    assert {move.z for move in moves} == {-8.9}


def test_arcs_stay_arcs() -> None:
    moves = walk(Ruler(circle((5, 5), 20).segments), 0.0, 2 * math.pi * 20, -1.0, -3.0, tabs=(), setting=SETTING)
    assert [move.centre for move in moves] == [(5, 5), (5, 5)]
    assert [move.z for move in moves] == pytest.approx([-2.0, -3.0])
    segments = segments_of([Move("rapid", 25, 5, -1.0), *moves], (25.0, 5.0))
    assert all(isinstance(segment, Arc) for segment, _, _ in segments)


def test_down_to_the_stock_and_up_again() -> None:
    assert rapid_over((3, 4), SETTING) == [Move("rapid", 3, 4, 5.0), Move("rapid", 3, 4, 1.0)]
    assert rapid_over((3, 4), replace(SETTING, safe_z=1.0)) == [Move("rapid", 3, 4, 1.0)]
    assert lift_off([Move("cut", 3, 4, -5.0, 100.0)], SETTING) == [Move("rapid", 3, 4, 5.0)]
    assert rapid_over((3, 4), LASER) == [Move("rapid", 3, 4, 0.0)]
    assert lift_off([Move("cut", 3, 4, 0.0, 100.0)], LASER) == []


def whole(first: float, last: float, run: float = 0.0) -> TabSpan:
    return replace(tab(first, last, SETTING.stack_height), run=run)


@pytest.mark.parametrize("run", [0.0, 5.0])
def test_over_a_whole_bridge_through_the_air(run: float) -> None:
    ruler = Ruler(rectangle(100, 100).segments)
    moves = walk(ruler, 0.0, 100.0, -8.0, -8.0, tabs=(whole(40, 60, run),), setting=SETTING)
    assert moves == [
        Move("cut", 40.0, 0.0, -8.0, SETTING.feed),
        Move("rapid", 40.0, 0.0, SETTING.safe_z),
        Move("rapid", 60.0, 0.0, SETTING.safe_z),
        Move("rapid", 60.0, 0.0, SETTING.approach_z),
        Move("plunge", 60.0, 0.0, -8.0, SETTING.plunge),
        Move("cut", 100.0, 0.0, -8.0, SETTING.feed),
    ]


def test_round_a_corner_a_whole_bridge_is_crossed_straight() -> None:
    ruler = Ruler(rectangle(100, 100).segments)
    moves = walk(ruler, 50.0, 150.0, -8.0, -8.0, tabs=(whole(90, 110),), setting=SETTING)
    assert [(m.kind, m.x, m.y, m.z) for m in moves[1:3]] == [("rapid", 90, 0, 5.0), ("rapid", 100, 10, 5.0)]


@given(st.floats(0, 150), st.floats(8, 40), st.floats(0, 320), st.floats(1, 500), st.floats(-8, 0), st.floats(0, 4.4))
@settings(max_examples=120, deadline=None)
def test_nothing_of_a_whole_bridge_is_cut_and_all_else_is(
    at: float, width: float, first: float, run: float, z: float, fall: float
) -> None:
    """A walk in two pieces, each over a bridge or not where it begins and ends, is the same as one."""
    ruler = Ruler(rectangle(50, 30).segments)
    tabs, low = (whole(at, at + width),), z - fall
    once = walk(ruler, first, first + run, z, low, tabs=tabs, setting=SETTING)
    half = walk(ruler, first, first + run / 2, z, (z + low) / 2, tabs=tabs, setting=SETTING)
    now = half[-1].z if half else z
    both = half + walk(ruler, first + run / 2, first + run, (z + low) / 2, low, now=now, tabs=tabs, setting=SETTING)
    for moves in (once, both):
        cut = 0.0
        above, point = z, ruler.point(first)
        for move in moves:
            end, length = (move.x, move.y), distance(point, (move.x, move.y))
            if move.kind == "rapid":
                # Straight up or down above the stock, or across at safe height.
                assert length <= CLOSE or (above, move.z) == (SETTING.safe_z, SETTING.safe_z)
                assert move.z >= SETTING.approach_z
            elif move.kind == "plunge":
                assert length <= CLOSE
                assert (above, move.feed) == (SETTING.approach_z, SETTING.plunge)
            else:
                cut += length
                middle = ((point[0] + end[0]) / 2, (point[1] + end[1]) / 2)
                places = [n / 10 for n in range(1600) if distance(ruler.point(n / 10), middle) <= 0.06]
                assert any(not at + 0.2 < place + turn < at + width - 0.2 for place in places for turn in (0, 160))
            above, point = move.z, end
        over = sum(
            max(0.0, min(first + run, at + width + turn * ruler.length) - max(first, at + turn * ruler.length))
            for turn in range(-1, 6)
        )
        assert cut == pytest.approx(run - over, abs=1e-4)


def test_a_walk_that_ends_over_a_whole_bridge_ends_in_the_air() -> None:
    ruler = Ruler(rectangle(100, 100).segments)
    tabs = (whole(40, 60),)
    moves = walk(ruler, 0.0, 50.0, -8.0, -8.0, tabs=tabs, setting=SETTING)
    assert (moves[-1].kind, moves[-1].x, moves[-1].z) == ("rapid", 50.0, SETTING.safe_z)
    on = walk(ruler, 50.0, 100.0, -8.0, -8.0, now=moves[-1].z, tabs=tabs, setting=SETTING)
    assert [(move.kind, move.x, move.z) for move in on] == [
        ("rapid", 60.0, SETTING.safe_z), ("rapid", 60.0, SETTING.approach_z), ("plunge", 60.0, -8.0),
        ("cut", 100.0, -8.0),
    ]  # fmt: skip
