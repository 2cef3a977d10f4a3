"""Rectangles on a skyline: nothing overlaps, nothing leaves the box, and cut-up rectangles are put together again."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.layout.search.arrangement import Arrangement, Limit
from cutjob.layout.search.bodies import Problem, Space, make_problem, pose_of
from cutjob.layout.search.rectangles import rectangles_shortened
from tests.benchmarks.strip import first_arrangement

_ROUNDING = 1e-6


def problem_of(sizes: list[tuple[float, float]], width: float, *, gap: float = 0.0, turned: bool = True) -> Problem:
    items = []
    for length, height in sizes:
        poses = [pose_of(shapely.box(0, 0, length, height))]
        if turned:
            poses.append(pose_of(shapely.box(0, 0, height, length), degrees=90))
        items.append([pose for pose in poses if pose.box[3] <= width])
    total = 2 * sum(max(size) + gap for size in sizes)
    areas = [length * height for length, height in sizes]
    return make_problem(items, areas, [Space(box=(0.0, 0.0, total, width))], gap=gap)


def boxes_of(problem: Problem, found: Arrangement) -> list[shapely.Polygon]:
    box = problem.bodies.box
    return [
        shapely.box(x + box[p, 0], y + box[p, 1], x + box[p, 2], y + box[p, 3])
        for p, x, y in zip(found.pose, found.x, found.y, strict=True)
    ]


def start_of(problem: Problem) -> Arrangement:
    start = first_arrangement(problem, range(problem.movable), seed=1, samples=60)[0]
    assert (start.space >= 0).all()
    return start


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.floats(1, 9), st.floats(1, 9)), min_size=2, max_size=9),
    st.floats(9, 20),
    st.sampled_from([0.0, 0.7]),
    st.integers(0, 99),
)
def test_what_is_laid_is_clear_inside_and_shorter(
    sizes: list[tuple[float, float]], width: float, gap: float, seed: int
) -> None:
    problem = problem_of(sizes, width, gap=gap)
    start = start_of(problem)
    found, tried = rectangles_shortened(problem, start, space=0, seed=seed, limit=Limit(positions=5_000))
    assert tried >= 5_000
    if found is None:
        return
    laid = boxes_of(problem, found)
    assert max(box.bounds[2] for box in laid) < max(box.bounds[2] for box in boxes_of(problem, start))
    around = shapely.box(0, 0, problem.spaces[0, 2], width).buffer(_ROUNDING)
    assert all(around.covers(box) for box in laid)
    for one, other in combinations(laid, 2):
        assert one.intersection(other).area <= _ROUNDING
        assert shapely.distance(one, other) >= gap - _ROUNDING
    for i, (length, height) in enumerate(sizes):
        assert laid[i].area == pytest.approx(length * height)


def test_a_square_cut_by_five_cuts_is_put_together_again() -> None:
    sizes = [(6.0, 4.0), (4.0, 4.0), (3.0, 6.0), (7.0, 2.0), (2.0, 4.0), (5.0, 4.0)]
    problem = problem_of(sizes, 10.0)
    found, _ = rectangles_shortened(problem, start_of(problem), space=0, seed=1, limit=Limit(positions=200_000))
    assert found is not None
    assert max(box.bounds[2] for box in boxes_of(problem, found)) == pytest.approx(10.0)


def test_other_shapes_and_boxes_with_obstacles_are_left_alone() -> None:
    ell = shapely.Polygon([(0, 0), (6, 0), (6, 2), (2, 2), (2, 5), (0, 5)])
    space = Space(box=(0.0, 0.0, 40.0, 10.0))
    shapes = make_problem([[pose_of(ell)]] * 2, [18.0] * 2, [space], gap=0.0)
    square = pose_of(shapely.box(0, 0, 3, 3))
    knotted = Space(box=space.box, obstacles=((shapely.box(20, 4, 21, 5), 1.0),))
    knots = make_problem([[square]] * 3, [9.0] * 3, [knotted], gap=0.0)
    for problem in (shapes, knots):
        assert rectangles_shortened(problem, start_of(problem), space=0, seed=1, limit=Limit(positions=1000)) == (
            None,
            0,
        )


def test_the_same_seed_gives_the_same_order() -> None:
    sizes = [(float(2 + k % 5), float(1 + k % 7)) for k in range(14)]
    problem = problem_of(sizes, 11.0)
    start = start_of(problem)
    one, other = (
        rectangles_shortened(problem, start, space=0, seed=4, limit=Limit(positions=20_000))[0] for _ in range(2)
    )
    assert one is not None
    assert other is not None
    assert np.array_equal(one.x, other.x)
    assert np.array_equal(one.y, other.y)
