"""The tables of overlapping pairs against whole matrices, and how little memory they take."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.layout.search import kernel
from cutjob.layout.search.arrangement import Arrangement, no_overlaps, no_weights, pair_of, reweighed, weight_of
from cutjob.layout.search.bodies import Space, make_problem, pose_of
from cutjob.layout.search.separation import SearchState

_ITEMS = 9
pairs = st.tuples(st.integers(0, _ITEMS - 1), st.integers(0, _ITEMS - 1)).filter(lambda pair: pair[0] != pair[1])
rounds = st.lists(st.dictionaries(pairs, st.floats(1e-6, 1e3), min_size=1), max_size=30)


@settings(max_examples=40)
@given(rounds)
def test_weights_are_those_of_a_matrix_to_the_last_bit(rounds: list[dict[tuple[int, int], float]]) -> None:
    """Guided local search as written down for all pairs (see the kernel): times 1.2 to 2, or 0.95 down to 1."""
    matrix = np.ones((_ITEMS, _ITEMS))
    weights = no_weights(1)
    for one in rounds:
        depths = {(min(pair), max(pair)): depth for pair, depth in one.items()}
        worst = max(depths.values())
        lists = no_overlaps(len(depths) + 3)  # what follows the last one is not looked at
        lists.depth[:] = 1e9
        for k, ((i, j), depth) in enumerate(depths.items()):
            lists.pair[k], lists.depth[k] = pair_of(j, i, _ITEMS), depth
        weights = reweighed(weights, lists, len(depths))
        for i in range(_ITEMS):
            for j in range(i + 1, _ITEMS):
                if (i, j) in depths:
                    matrix[i, j] *= 1.2 + 0.8 * depths[i, j] / worst
                else:
                    matrix[i, j] = max(1.0, matrix[i, j] * 0.95)
                assert weight_of(weights, pair_of(i, j, _ITEMS)) == matrix[i, j]
                assert weight_of(weights, pair_of(j, i, _ITEMS)) == matrix[i, j]


def test_pairs_that_are_clear_long_enough_take_no_room() -> None:
    weights = no_weights(1)
    for first in range(0, 4000, 40):
        lists = no_overlaps(40)
        lists.pair[:], lists.depth[:] = np.arange(first, first + 40), 1.0
        weights = reweighed(weights, lists, 40)
    # Twice as dear as others they are forgotten after 14 rounds, by 0.95 each: 2 x 0.95^14 < 1.
    assert np.count_nonzero(weights.pair >= 0) == 14 * 40
    assert len(weights.pair) <= 4 * 15 * 40


def test_lists_grow_with_what_overlaps() -> None:
    pose, count = pose_of(shapely.box(0, 0, 2, 2)), 30
    problem = make_problem([[pose]] * count, [4.0] * count, [Space(box=(0.0, 0.0, 9.0, 9.0))], gap=0.0)
    zeros = np.zeros(count)
    start = Arrangement(pose=np.zeros(count, np.int32), space=np.zeros(count, np.int32), x=zeros, y=zeros)
    top = SearchState(problem, start, 1)
    args = (problem.bodies, top.pool, top.places, top.rules)
    depth, many, lists = kernel.overlaps_of(*args, no_overlaps(2))
    every = {pair_of(i, j, count) for i in range(count) for j in range(i)}
    assert set(lists.pair[:many].tolist()) == every
    assert many == len(every) == 435
    assert depth == 2.0 * 435  # each pair is two units deep, which doubles hold exactly
    assert (lists.depth[:many] == 2.0).all()


MANY = """
import resource, sys
import numpy as np, shapely
from cutjob.layout.search.arrangement import Arrangement, Limit
from cutjob.layout.search.bodies import Space, make_problem, pose_of
from cutjob.layout.search.separation import separated

def separate(count):
    pose = pose_of(shapely.box(0, 0, 3, 3))
    problem = make_problem([[pose]] * count, [9.0] * count, [Space(box=(0.0, 0.0, 4.0 * count, 3.0))], gap=0.0)
    x = 3.0 * np.arange(count) - np.where(np.arange(count) % 50 == 1, 0.5, 0.0)  # some lie in their neighbour
    start = Arrangement(pose=np.zeros(count, np.int32), space=np.zeros(count, np.int32), x=x, y=np.zeros(count))
    found, _ = separated(problem, start, seed=1, limit=Limit(positions=2_000))
    return found is not None

separate(50)  # compiled by now, and a pool of no-fit polygons is there
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
separate(8_000)
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="memory is told in other units elsewhere")
def test_thousands_of_items_take_little_memory() -> None:
    """A matrix of doubles for 8,000 items would take 512 MB."""
    done = subprocess.run(
        [sys.executable, "-c", MANY], cwd=Path(__file__).parents[3], capture_output=True, text=True, check=True
    )
    assert float(done.stdout) < 120  # with 72 MB for another problem's pool
