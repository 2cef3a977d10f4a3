"""Feeds on arcs, against v^2 / r and F (r + R) / r worked out here by hand."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutjob.job.machine import Motion
from cutjob.program.moves import Move
from cutjob.program.steps import arc_feed, with_arc_feeds
from cutjob.program.time import measure
from tests.program.makers import SETTING
from tests.program.test_steps import hole, hole_moves, loop_step, outline_cut


def test_a_small_bore_is_fed_by_the_wall_it_cuts() -> None:
    """7 mm with a cutter of 6.35 mm: the centre at 0.325 mm, the wall at 3.5 mm, table 3,007 mm/min, 400 mm/s2.

    By hand: 3007 x 0.325 / 3.5 = 279.2 at the wall; the acceleration alone would allow 60 sqrt(130) = 684.1.
    """
    feeds = {
        inside: arc_feed(0.325, feed=3007, cutter_radius=3.175, acceleration=400, inside=inside)
        for inside in (True, False)
    }
    assert feeds[True] == pytest.approx(279.22, abs=0.01)
    assert feeds[False] == pytest.approx(684.11, abs=0.01)


@given(st.floats(0.02, 200), st.booleans(), st.booleans())
def test_no_arc_asks_for_more_than_the_machine_and_the_table_give(radius: float, clockwise: bool, mark: bool) -> None:
    setting = replace(SETTING, feed=6000.0)
    moves = [
        Move("rapid", radius, 0.0, 1.0),
        Move("cut", -radius, 0.0, -1.0, 6000.0, (0.0, 0.0), clockwise),
        Move("cut", -radius, 50.0, -1.0, 6000.0),
    ]
    _, arc, line = with_arc_feeds(moves, setting, both_walls=mark)
    assert line.feed == 6000.0
    assert (arc.feed / 60) ** 2 / radius <= setting.acceleration * (1 + 1e-9)
    wall = arc.feed * (radius + 3.0) / radius
    if mark or not clockwise:
        assert wall <= 6000.0 * (1 + 1e-9)
    elif radius > 20.1:  # (100 mm/s)^2 / 500 mm/s2 is 20 mm
        assert arc.feed == 6000.0


@pytest.mark.parametrize("radius", [0.2, 1.0, 8.0])
@pytest.mark.parametrize("depth", [None, 5.0])
def test_bores_keep_to_both_limits_and_their_time_says_so(radius: float, depth: float | None) -> None:
    moves = hole_moves(hole("bore", radius, depth))
    here = (moves[0].x, moves[0].y)
    arcs = 0
    for move in moves:
        if move.centre is not None:
            own = math.dist(here, move.centre)
            assert (move.feed / 60) ** 2 <= SETTING.acceleration * own
            assert move.feed * (own + 3.0) / own <= SETTING.feed * (1 + 1e-9)
            arcs += 1
        here = (move.x, move.y)
    assert arcs > 4
    fast = [replace(move, feed=max(move.feed, SETTING.feed)) if move.centre is not None else move for move in moves]
    motion = Motion(acceleration=SETTING.acceleration)
    start = (moves[0].x, moves[0].y, 5.0)
    slowest = sum(
        0.0 if move.feed == 0 else math.dist((a.x, a.y, a.z), (move.x, move.y, move.z)) / (move.feed / 60)
        for a, move in itertools.pairwise(moves)
    )
    assert measure(moves, start, motion)[0] >= max(slowest, measure(fast, start, motion)[0])


def test_outside_arcs_and_lead_ins_of_a_loop() -> None:
    """Round the part's corners the cutter is outside the curve; leads, of 2 mm or less, are inside arcs."""
    cut, around = outline_cut()
    moves = loop_step(cut, around).moves
    turns = {move.clockwise: set[float]() for move in moves if move.centre is not None}
    for before, move in itertools.pairwise(moves):
        if move.centre is not None:
            turns[move.clockwise].add(round(math.dist((before.x, before.y), move.centre), 3))
            limit = 1200.0 if move.clockwise else 1200.0 * 2 / (2 + 3)
            assert move.feed <= limit
    assert turns == {True: {3.0}, False: {2.0}}


def test_a_beam_keeps_the_feed_that_says_how_deep_it_burns() -> None:
    moves = [Move("rapid", 1.0, 0.0, 0.0), Move("cut", -1.0, 0.0, 0.0, 1200.0, (0.0, 0.0), False, 900.0)]
    assert with_arc_feeds(moves, replace(SETTING, laser=True)) == moves


def test_arcs_written_to_few_decimals_are_slower_for_what_rounding_may_tighten() -> None:
    """To 2 decimals an arc of 1.5875 mm may become one of 1.5775 mm: v^2 / r must stay within 400 mm/s2 there."""
    outside = not SETTING.holes_clockwise
    arc = Move("cut", -1.5875, 0.0, -1.0, 4000.0, centre=(0.0, 0.0), clockwise=outside)
    around = [Move("cut", 1.5875, 0.0, -1.0, 4000.0), arc]
    coarse = replace(SETTING, feed=4000.0, acceleration=400.0, grid=0.01)
    feed = with_arc_feeds(around, coarse, both_walls=False)[1].feed
    assert (feed / 60) ** 2 / 1.5775 <= 400.0 + 1e-9
    assert (feed / 60) ** 2 / 1.5875 > 390.0
