"""Exact distances and coverage, against sampled curves and GEOS: different means to the same figures."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.proof.board.coverage import uncovered
from cutjob.proof.board.curves import Curves, circles, from_columns, portion_below
from cutjob.proof.board.distances import Finder, distance, farthest, point_distance

SAMPLES = 1500
# Chords of 1500 pieces of a full turn of radius 8: the sagitta is 8 (1 - cos(pi/1500)) = 1.8e-5.
CHORDS = 4e-5


def curves(seed: int, count: int) -> Curves:
    """Lines, arcs of any sweep up to a full turn, some points."""
    rng = np.random.default_rng(seed)
    centre = rng.uniform(-10, 10, (count, 2))
    radius, angle = rng.uniform(0.1, 8, count), rng.uniform(-3, 3, count)
    sweep = rng.uniform(-2 * np.pi, 2 * np.pi, count)
    kind = rng.random(count)
    sweep[kind < 0.5] = 0
    start = centre + radius[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    end = centre + radius[:, None] * np.stack([np.cos(angle + sweep), np.sin(angle + sweep)], axis=1)
    lines = kind < 0.5
    end[lines] = rng.uniform(-10, 10, (int(lines.sum()), 2))
    points = kind < 0.1
    end[points] = start[points]
    return from_columns(start, end, centre, sweep)


def strings(some: Curves) -> np.ndarray:
    share = np.linspace(0, 1, SAMPLES)
    out = []
    for number in range(len(some)):
        x, y = some.take(np.full(SAMPLES, number)).at(share)
        out.append(shapely.LineString(np.stack([x, y], axis=1)))
    return np.array(out, dtype=object)


def test_distances_are_those_of_geos() -> None:
    a, b = curves(1, 400), curves(2, 400)
    found, wanted = distance(a, b), shapely.distance(strings(a), strings(b))
    assert np.abs(found - wanted).max() < CHORDS
    assert ((found == 0) == (wanted == 0)).all()


def test_boxes_and_farthest_points_are_those_of_geos() -> None:
    some = curves(3, 400)
    assert np.abs(np.stack(some.boxes(), axis=1) - shapely.bounds(strings(some))).max() < CHORDS
    at = np.random.default_rng(4).uniform(-10, 10, (400, 2))
    wanted = shapely.hausdorff_distance(strings(some), shapely.points(at))
    assert np.abs(farthest(at[:, 0], at[:, 1], some) - wanted).max() < CHORDS


def test_distance_is_the_same_both_ways_and_reversed() -> None:
    a, b = curves(5, 300), curves(6, 300)
    back = from_columns(
        np.stack([a.x1, a.y1], axis=1), np.stack([a.x0, a.y0], axis=1), np.stack([a.cx, a.cy], axis=1), -a.sweep
    )
    assert distance(a, b) == pytest.approx(distance(b, a), abs=1e-12)
    assert distance(back, b) == pytest.approx(distance(a, b), abs=1e-9)


@given(seed=st.integers(0, 10_000))
@settings(max_examples=15, deadline=None)
def test_gaps_are_where_samples_are_far(seed: int) -> None:
    count = 40
    targets, cuts = curves(seed, count), curves(seed + 1, count)
    reach = np.random.default_rng(seed).uniform(0.1, 4, count)
    every = np.arange(count)
    pairs_target = np.concatenate([every, every])
    pairs_cut = np.concatenate([every, np.roll(every, 1)])
    gaps = uncovered(targets, cuts, reach, target=pairs_target, cut=pairs_cut)
    share = np.linspace(0, 1, 401)
    for number in range(count):
        x, y = targets.take(np.full(401, number)).at(share)
        beyond = np.full(401, np.inf)
        for cut in (number, (number - 1) % count):
            apart = point_distance(x, y, cuts.take(np.full(401, cut)))[0]
            beyond = np.minimum(beyond, apart - reach[cut])
        own = gaps.target == number
        ends = list(zip(gaps.first[own], gaps.last[own], strict=True))
        in_gap = np.any([(share >= a - 1e-9) & (share <= b + 1e-9) for a, b in ends], axis=0) if ends else share > 2
        deep_in_gap = np.any([(share > a + 1e-9) & (share < b - 1e-9) for a, b in ends], axis=0) if ends else share > 2
        assert not np.any((beyond > 1e-6) & ~in_gap)
        assert not np.any((beyond < -1e-6) & deep_in_gap)


@given(length=st.floats(0.01, 300), radius=st.floats(0.05, 10), angle=st.floats(0, 6.28), seed=st.integers(0, 1000))
@settings(max_examples=30, deadline=None)
def test_a_straight_cut_sweeps_two_r_l_and_a_disc(length: float, radius: float, angle: float, seed: int) -> None:
    """Area 2 r L + pi r^2 (Steiner), measured by lines across it: what a scan line isn't uncovered on is swept."""
    dx, dy = length * math.cos(angle), length * math.sin(angle)
    cut = from_columns(np.zeros((1, 2)), np.array([[dx, dy]]), np.zeros((1, 2)), np.zeros(1))
    count = 2000
    span = radius + 1
    # Scan lines across the cut's direction, evenly spread along it: the midpoint rule.
    along = (np.arange(count) + 0.5) / count * (length + 2 * span) - span
    ux, uy = math.cos(angle), math.sin(angle)
    start = np.stack([along * ux - span * -uy, along * uy - span * ux], axis=1)
    end = np.stack([along * ux + span * -uy, along * uy + span * ux], axis=1)
    lines = from_columns(start, end, np.zeros((count, 2)), np.zeros(count))
    gaps = uncovered(lines, cut, np.array([radius]), target=np.arange(count), cut=np.zeros(count, dtype=np.int64))
    step = (length + 2 * span) / count
    swept = (2 * span * count - ((gaps.last - gaps.first) * 2 * span).sum()) * step
    # The midpoint rule over the round ends errs by less than a strip at each of them.
    assert swept == pytest.approx(2 * radius * length + math.pi * radius**2, abs=4 * radius * step)


def test_a_finder_finds_each_near_pair_once_even_for_long_slanting_lines() -> None:
    start = np.array([[0.0, 0.0], [0.0, 500.0]])
    end = np.array([[500.0, 500.0], [500.0, 0.0]])
    lines = from_columns(start, end, np.zeros((2, 2)), np.zeros(2))
    spots = circles(np.array([100.0, 100.0, 250.0]), np.array([101.0, 300.0, 250.0]), np.full(3, 2.0))
    found = [pair for one, two in Finder(lines).pairs(spots, np.full(3, 1.0)) for pair in zip(one, two, strict=True)]
    assert len(set(found)) == len(found)
    assert {(0, 0), (2, 0), (2, 1)} <= set(found)
    # The far spot lies in the slanting line's box and in none of its small ones.
    assert (1, 0) not in found


def test_the_portion_of_a_helix_below_a_level() -> None:
    helix = from_columns(
        np.array([[5.0, 0.0, 1.0]]), np.array([[-5.0, 0.0, -3.0]]), np.zeros((1, 2)), np.array([math.pi])
    )
    kept, below = portion_below(helix, 0.0)
    assert kept.tolist() == [0]
    # A quarter of the way down lies 0: a quarter of the half turn.
    assert (below.x0[0], below.y0[0]) == pytest.approx((5 * math.cos(math.pi / 4), 5 * math.sin(math.pi / 4)))
    assert (below.z0[0], below.z1[0]) == (0.0, -3.0)
    assert below.sweep[0] == pytest.approx(math.pi * 3 / 4)
