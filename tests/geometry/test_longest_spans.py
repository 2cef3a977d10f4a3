"""Spans of samples that one biarc keeps near to: each as long as it may be, judged by plain formulas."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from cutjob.geometry.biarc import biarc, distances
from cutjob.geometry.longest_spans import longest_spans

ROUNDING = 1e-9  # share of the limit: the two ways of reckoning differ in the last digits
LIMIT = 0.0018


def samples(position, direction, count=8000, last=3.0):
    at = [last * step / count for step in range(count + 1)]
    units = [(x / math.hypot(x, y), y / math.hypot(x, y)) for x, y in map(direction, at)]
    return np.array([position(t) for t in at]), np.array(units)


def waves():
    return samples(
        lambda t: (40 * math.cos(1.7 * t), 25 * math.sin(2.9 * t + 0.4)),
        lambda t: (-1.7 * 40 * math.sin(1.7 * t), 2.9 * 25 * math.cos(2.9 * t + 0.4)),
    )


def off(points, directions, here, there):
    """The greatest distance of a span's samples from its biarc, by NumPy's arc tangents; endless without a biarc."""
    ends = [tuple(map(float, rows[at])) for at in (here, there) for rows in (points, directions)]
    segments = biarc(*ends)
    if segments is None:
        return math.inf
    between = points[here + 1 : there]
    return float(np.min([distances(between, one) for one in segments], axis=0).max()) if len(between) else 0.0


def test_every_span_keeps_the_limit_and_the_next_sample_would_not():
    points, directions = waves()
    ends = longest_spans(points, directions, LIMIT, len(points)).tolist()
    assert ends[-1] == len(points) - 1
    assert len(ends) > 10
    for here, there in itertools.pairwise([0, *ends]):
        assert off(points, directions, here, there) <= LIMIT * (1 + ROUNDING)
        # The chords stray up to a twelfth more, but these samples lie so close that they don't decide.
        assert there == len(points) - 1 or off(points, directions, here, there + 1) > LIMIT * (1 - ROUNDING)


def test_no_more_spans_than_asked_for():
    points, directions = waves()
    count = len(longest_spans(points, directions, LIMIT, len(points)))
    assert len(longest_spans(points, directions, LIMIT, count)) == count
    assert len(longest_spans(points, directions, LIMIT, count - 1)) == 0


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_a_circle_is_one_span_up_to_half_a_turn(turn):
    points, directions = samples(
        lambda t: (30 * math.cos(turn * t), 30 * math.sin(turn * t)),
        lambda t: (-turn * math.sin(turn * t), turn * math.cos(turn * t)),
        last=1.5,
    )
    assert longest_spans(points, directions, LIMIT, 9).tolist() == [8000]


def test_a_detour_between_two_samples_is_not_missed():
    # Tangents that lean out at both ends and only one sample, in the middle of the bulge's foot: the biarc bulges away.
    points = np.array([(0.0, 0.0), (10.0, 0.0)])
    lean = math.radians(20)
    directions = np.array([(math.cos(lean), math.sin(lean)), (math.cos(lean), -math.sin(lean))])
    assert longest_spans(points, directions, 0.5, 9).tolist() == [-1]  # it stands off by 10 / 2 tan(10 deg) = 0.88
    assert longest_spans(points, directions, 0.9, 9).tolist() == [1]


def test_a_corner_is_told_by_its_sign():
    points = np.array([(0.0, 0.0), (5.0, 0.0), (5.0, 5.0)])
    directions = np.array([(1.0, 0.0), (1.0, 0.0), (-1.0, 0.0)])
    assert longest_spans(points, directions, LIMIT, 9).tolist() == [1, -2]
