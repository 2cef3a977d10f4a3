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
    assert {move.feed for move in moves} == {SETTING.ramp_feed}


def test_a_level_walk_is_cut_at_full_feed() -> None:
    ruler = Ruler(rectangle(50, 30).segments)
    moves = walk(ruler, 10.0, 170.0, -4.0, -4.0, tabs=(), setting=SETTING)
    assert {(move.kind, move.feed, move.z) for move in moves} == {("cut", SETTING.feed, -4.0)}
    assert (moves[-1].x, moves[-1].y) == pytest.approx((10.0, 0.0))


@given(st.floats(0, 150), st.floats(10, 40), st.floats(0, 320), st.floats(20, 340))
@settings(max_examples=80, deadline=None)
def test_nothing_is_cut_below_the_top_of_a_tab(at: float, width: float, first: float, run: float) -> None:
    """Tabs come again on every round; the cutter goes up before one and down behind it."""
    ruler = Ruler(rectangle(50, 30).segments)
    spans = (tab(at, at + width),)
    top = 3.0 - SETTING.stack_height
    moves = walk(ruler, first, first + run, -4.0, -12.3, tabs=spans, setting=SETTING)
    done = 0.0
    for segment, high, low in segments_of([Move("rapid", *ruler.point(first), -4.0), *moves], ruler.point(first)):
        middle = (first + done + segment.length / 2) % ruler.length
        over = any(span.first <= place <= span.last for span in spans for place in (middle, middle + ruler.length))
        if over:
            assert min(high, low) >= top - CLOSE
        else:
            wanted = -4.0 - 8.3 * (done + segment.length) / run
            assert low == pytest.approx(wanted, abs=CLOSE)
        done += segment.length
    assert done == pytest.approx(run, abs=CLOSE)


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
