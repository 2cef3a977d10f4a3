"""How long moves take, against closed forms of motion at one acceleration."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.job.machine import Motion
from cutjob.program.moves import Move
from cutjob.program.time import corner_speed, measure

MOTION = Motion(rapid=3000, rapid_z=1200, acceleration=500, greatest_feed=6000, corner_deviation=0.01)
START = (0.0, 0.0, 0.0)


def cut(x: float, y: float, z: float = 0.0, feed: float = 3000.0) -> Move:
    return Move("cut", x, y, z, feed)


# Rest to rest a move takes d/v + v/a when d >= v^2/a, else 2 sqrt(d/a): worked out from s = a t^2 / 2.
@pytest.mark.parametrize(("length", "seconds"), [(100.0, 2.1), (2.0, 0.1265)])
def test_one_move_from_rest_to_rest(length: float, seconds: float) -> None:
    """At 50 mm/s and 500 mm/s2; figures given to four decimals."""
    found, cut_mm, air_mm = measure([cut(length, 0)], START, MOTION)
    assert found == pytest.approx(seconds, abs=5e-5)
    assert (cut_mm, air_mm) == (length, 0.0)


@given(st.floats(0.01, 500), st.floats(60, 6000))
def test_closed_form_of_one_move(length: float, feed: float) -> None:
    speed, a = feed / 60, MOTION.acceleration
    expected = length / speed + speed / a if length >= speed**2 / a else 2 * math.sqrt(length / a)
    assert measure([cut(length, 0, feed=feed)], START, MOTION)[0] == pytest.approx(expected, rel=1e-9)


# v = sqrt(a s h / (1 - h)), h = sin(t/2) for an angle t between the legs; figures worked out from it to 3 decimals.
# The formula itself is the one common motion controllers use [from memory].
@pytest.mark.parametrize(("degrees", "speed"), [(60, 2.236), (90, 3.474), (120, 5.685)])
def test_corner_speeds(degrees: float, speed: float) -> None:
    turn = math.pi - math.radians(degrees)
    found = corner_speed((1, 0, 0), (math.cos(turn), math.sin(turn), 0), acceleration=500, deviation=0.01)
    assert found == pytest.approx(speed, abs=5e-4)


def test_straight_on_and_straight_back() -> None:
    assert corner_speed((1, 0, 0), (1, 0, 0), acceleration=500, deviation=0.01) == math.inf
    assert corner_speed((1, 0, 0), (-1, 0, 0), acceleration=500, deviation=0.01) == 0.0


@given(st.lists(st.floats(0.05, 40), min_size=2, max_size=20))
def test_a_line_in_pieces_takes_as_long_as_in_one(steps: list[float]) -> None:
    places = [sum(steps[: index + 1]) for index in range(len(steps))]
    pieces = measure([cut(x, 0) for x in places], START, MOTION)
    whole = measure([cut(places[-1], 0)], START, MOTION)
    assert pieces == pytest.approx(whole, rel=1e-9)


def test_a_square_corner_costs_the_slowing_down() -> None:
    """Two legs of 100: at the corner 3.474 mm/s. Each leg: v/a to speed, (v - c)/a less or more, the rest at speed."""
    v, a = 50.0, 500.0
    c = corner_speed((1, 0, 0), (0, 1, 0), acceleration=a, deviation=0.01)
    ramps = v**2 / (2 * a) + (v**2 - c**2) / (2 * a)
    leg = v / a + (v - c) / a + (100 - ramps) / v
    assert measure([cut(100, 0), cut(100, 100)], START, MOTION)[0] == pytest.approx(2 * leg, rel=1e-9)


def test_lengths_of_arcs_helices_and_air() -> None:
    half = Move("cut", -10, 0, 0, 600, (0.0, 0.0), False)
    helix = Move("cut", 10, 0, -3, 600, (0.0, 0.0), False)
    moves = [Move("rapid", 10, 0, 0), half, helix, Move("rapid", 10, 0, 5), Move("plunge", 10, 0, 0, 300)]
    _, cut_mm, air_mm = measure(moves, START, MOTION)
    assert cut_mm == pytest.approx(10 * math.pi + math.hypot(10 * math.pi, 3) + 5)
    assert air_mm == pytest.approx(10 + 8)


def test_rapids_up_and_down_have_their_own_speed() -> None:
    """Long enough for the ramps not to matter but for v/a: 1200 mm/min is 20 mm/s."""
    assert measure([Move("rapid", 0, 0, 100)], START, MOTION)[0] == pytest.approx(100 / 20 + 20 / 500)
    assert measure([Move("rapid", 100, 0, 0)], START, MOTION)[0] == pytest.approx(100 / 50 + 50 / 500)


@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50), st.floats(300, 6000)), min_size=1, max_size=15))
@settings(max_examples=60)
def test_never_faster_than_the_feeds_nor_slower_than_stopping_at_each_move(
    places: list[tuple[float, float, float]],
) -> None:
    moves = [cut(x, y, feed=feed) for x, y, feed in places]
    seconds, _, _ = measure(moves, START, MOTION)
    least = stops = 0.0
    here = START
    for move in moves:
        length = math.dist(here[:2], (move.x, move.y))
        least += length / (move.feed / 60)
        stops += measure([move], here, MOTION)[0]
        here = (move.x, move.y, 0.0)
    assert least * (1 - 1e-9) - 1e-9 <= seconds <= stops * (1 + 1e-9) + 1e-9


def test_nothing_takes_no_time() -> None:
    assert measure([], START, MOTION) == (0.0, 0.0, 0.0)
    assert measure([cut(0, 0)], START, MOTION) == (0.0, 0.0, 0.0)
