"""The layout core against shapely: what it calls clear is clear by the gap, and equal arguments give equal results."""

from __future__ import annotations

import math
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity

from cutjob.layout.search import kernel
from cutjob.layout.search.arrangement import Arrangement, Limit
from cutjob.layout.search.bodies import Space, make_problem, pose_of
from cutjob.layout.search.separation import SearchState, separated, shortened
from tests.benchmarks.strip import first_arrangement

_ROUNDING = 1e-6  # lengths of some tens, worked out in doubles


def star(radii: list[float]) -> Polygon:
    """A polygon that never crosses itself: one corner at each radius, evenly round the origin."""
    step = 2 * math.pi / len(radii)
    return Polygon([(r * math.cos(k * step), r * math.sin(k * step)) for k, r in enumerate(radii)])


stars = st.lists(st.floats(2.0, 10.0), min_size=3, max_size=20).map(star)
BOX = (-100.0, -100.0, 100.0, 100.0)


def depth_of(one: Polygon, other: Polygon, x: float, y: float, gap: float) -> float:
    """How deep `other` at x, y lies in `one` at the origin, by the core."""
    problem = make_problem([[pose_of(one)], [pose_of(other)]], [1.0, 1.0], [Space(box=BOX)], gap=gap)
    top = SearchState(problem, None, 1)
    top.move(0, 0, 0, 0.0, 0.0)
    top.move(1, 1, 0, x, y)
    return top.depth()


@given(stars, stars, st.floats(-20, 20), st.floats(-20, 20), st.sampled_from([0.0, 1.5]))
def test_parts_are_clear_just_when_shapely_says_so(
    one: Polygon, other: Polygon, x: float, y: float, gap: float
) -> None:
    distance = shapely.distance(one, affinity.translate(other, x, y))
    depth = depth_of(one, other, x, y, gap)
    if depth == 0.0:
        overlap = one.intersection(affinity.translate(other, x, y)).area
        assert overlap <= _ROUNDING
        assert distance >= gap - _ROUNDING
    # Round corners are cut by tangents, 24 to a full turn: no more than 0.9 % of the gap is given away.
    if distance > gap * 1.009 + _ROUNDING:
        assert depth == 0.0


@given(stars, st.floats(-9, 9), st.floats(-9, 9))
def test_depth_of_convex_shapes_is_the_shortest_way_out(polygon: Polygon, x: float, y: float) -> None:
    hull = shapely.convex_hull(polygon)
    depth = depth_of(hull, hull, x, y, 0.0)
    # Moved by less than the depth the two still overlap, whichever way; one way just that is enough.
    ways = [(math.cos(a), math.sin(a)) for a in np.linspace(0, 2 * math.pi, 400)]
    if depth > 1e-3:
        still = [
            hull.intersection(affinity.translate(hull, x + 0.99 * depth * a, y + 0.99 * depth * b)).area > 0
            for a, b in ways
        ]
        assert all(still)
        out = [hull.intersection(affinity.translate(hull, x + 1.01 * depth * a, y + 1.01 * depth * b)) for a, b in ways]
        assert min(shape.area for shape in out) < 1e-6 + 0.02 * depth**2


def test_obstacles_keep_their_own_distance_whatever_the_gap() -> None:
    square, knot = shapely.box(0, 0, 2, 2), shapely.box(10, 10, 11, 11)
    space = Space(box=(0.0, 0.0, 30.0, 30.0), obstacles=((knot, 0.5),))
    top = SearchState(make_problem([[pose_of(square)]], [4.0], [space], gap=3.0), None, 1)
    top.move(0, 0, 0, 7.5, 10.0)
    assert top.depth() == 0.0
    top.move(0, 0, 0, 7.6, 10.0)
    assert top.depth() == pytest.approx(0.1)


def _arrangement(problem_size: int) -> Arrangement:
    zeros = np.zeros(problem_size)
    return Arrangement(
        pose=np.arange(problem_size, dtype=np.int32), space=np.zeros(problem_size, np.int32), x=zeros, y=zeros
    )


def test_a_small_part_goes_into_the_hole_of_a_large_one() -> None:
    ring = shapely.box(0, 0, 20, 20).difference(shapely.box(4, 4, 16, 16))
    poses = [[pose_of(ring)], [pose_of(shapely.box(0, 0, 9, 9))]]
    problem = make_problem(poses, [256.0, 81.0], [Space(box=(0.0, 0.0, 20.0, 20.0))], gap=1.0)
    found, _ = separated(problem, _arrangement(2), seed=3, limit=Limit(positions=200_000))
    assert found is not None
    assert 5 - _ROUNDING <= found.x[1] - found.x[0] <= 6 + _ROUNDING


def _squares(count: int, length: float) -> tuple[object, Arrangement]:
    pose = pose_of(shapely.box(0, 0, 3, 3))
    problem = make_problem([[pose]] * count, [9.0] * count, [Space(box=(0.0, 0.0, length, 6.0))], gap=0.0)
    return problem, first_arrangement(problem, range(count), seed=1, samples=10)[0]


def test_squares_are_pushed_together_until_nothing_is_left_between() -> None:
    problem, start = _squares(8, 40.0)
    found, _ = shortened(problem, start, space=0, seed=1, limit=Limit(positions=300_000))  # type: ignore[arg-type]
    assert max(found.x + 3) <= 12.1  # eight of 3 x 3 in rows of two fill 12


def test_shortening_ends_when_all_went_to_another_space() -> None:
    pose = pose_of(shapely.Polygon([(0, 0), (3, 0), (2, 3)]))
    spaces = [Space(box=(0.0, 0.0, 3.1, 3.0)), Space(box=(0.0, 0.0, 30.0, 3.0))]
    problem = make_problem([[pose]] * 2, [4.5] * 2, spaces, gap=0.0)
    start = Arrangement(
        pose=np.zeros(2, np.int32), space=np.array([0, 1], np.int32), x=np.array([0.1, 0.0]), y=np.zeros(2)
    )
    top = SearchState(problem, start, 1)
    top.move(0, 0, 1, 9.0, 0.0)  # nothing is left in the first space
    found, tried = shortened(problem, top.arrangement(), space=0, seed=1, limit=Limit(positions=500))
    assert tried <= 500
    assert (found.space == 1).all()


def test_what_can_not_be_separated_is_told() -> None:
    pose = pose_of(shapely.box(0, 0, 3, 3))
    problem = make_problem([[pose]] * 3, [9.0] * 3, [Space(box=(0.0, 0.0, 8.9, 3.0))], gap=0.0)
    start = Arrangement(pose=np.zeros(3, np.int32), space=np.zeros(3, np.int32), x=np.zeros(3), y=np.zeros(3))
    found, tried = separated(problem, start, seed=1, limit=Limit(positions=50_000))
    assert found is None
    assert tried > 0


def test_threads_processes_and_repeats_give_the_same_layout() -> None:
    problem, start = _squares(7, 40.0)
    arguments = {"space": 0, "seed": 5, "limit": Limit(positions=60_000)}
    first, tried = shortened(problem, start, **arguments)  # type: ignore[arg-type]
    with ThreadPoolExecutor(2) as threads, ProcessPoolExecutor(1) as processes:
        futures = [pool.submit(shortened, problem, start, **arguments) for pool in (threads, threads, processes)]  # type: ignore[arg-type]
        for future in futures:
            other, positions = future.result()
            assert positions == tried
            assert (other.x.tolist(), other.y.tolist()) == (first.x.tolist(), first.y.tolist())


@settings(max_examples=20)
@given(st.lists(stars, min_size=2, max_size=5), st.integers(0, 1000))
def test_separated_parts_are_apart_by_the_gap_and_inside(polygons: list[Polygon], seed: int) -> None:
    gap = 0.8
    poses = [
        [pose_of(polygon), pose_of(affinity.rotate(polygon, 180, origin=(0, 0)), degrees=180)] for polygon in polygons
    ]
    box = (0.0, 0.0, 60.0, 45.0)
    problem = make_problem(poses, [polygon.area for polygon in polygons], [Space(box=box)], gap=gap)
    n = len(polygons)
    start = Arrangement(
        pose=np.arange(0, 2 * n, 2, dtype=np.int32), space=np.zeros(n, np.int32), x=np.full(n, 12.0), y=np.full(n, 12.0)
    )
    found, _ = separated(problem, start, seed=seed, limit=Limit(positions=400_000))
    assert found is not None  # five of them fill a third of the box at most
    laid = []
    for i, polygon in enumerate(polygons):
        turned = affinity.rotate(polygon, problem.poses[found.pose[i]].degrees, origin=(0, 0))
        laid.append(affinity.translate(turned, found.x[i], found.y[i]))
    around = shapely.box(*box).buffer(_ROUNDING)
    for i, one in enumerate(laid):
        assert around.covers(one)
        for other in laid[:i]:
            assert shapely.distance(one, other) >= gap - _ROUNDING


def test_the_random_stream_is_the_published_one() -> None:
    """First values of xorshift64* (Vigna 2016, "An experimental exploration of Marsaglia's xorshift generators,
    scrambled", shifts 12, 25, 27), worked out here in Python's whole numbers.
    """
    state, mask = 42, 2**64 - 1
    rng = np.array([state], np.uint64)
    for _ in range(5):
        state ^= state >> 12
        state = (state ^ (state << 25)) & mask
        state ^= state >> 27
        expected = ((state * 2685821657736338717) & mask) >> 11
        assert kernel.next_random(rng) == expected / 2**53


def _key_of(size: float) -> bytes:
    square = Polygon([(0, 0), (size, 0), (size, size), (0, size)])
    return make_problem([[pose_of(square)]], [size**2], [Space(box=(0.0, 0.0, 99.0, 99.0))], gap=1.0).shapes.key


def test_problems_are_known_by_their_shapes() -> None:
    """A worker of a cluster works for several computers: a problem of one must not pass for that of another."""
    with ProcessPoolExecutor(1) as one, ProcessPoolExecutor(1) as other:
        small, large = one.submit(_key_of, 10.0).result(), other.submit(_key_of, 20.0).result()
        assert small != large
        assert other.submit(_key_of, 10.0).result() == small


def test_polygons_known_from_another_problem_change_nothing() -> None:
    """A part that stays keeps its no-fit polygons where others come and go; they are those worked out anew."""
    shapes = [star([3.0 + (k * number) % 4 for k in range(11)]) for number in (1, 2, 3, 5)]

    def laid(numbers: tuple[int, ...]) -> tuple[Arrangement, int]:
        poses = [[pose_of(affinity.rotate(shapes[n], turn, origin=(0, 0))) for turn in (0, 90)] for n in numbers]
        problem = make_problem(poses * 3, [1.0] * 3 * len(numbers), [Space(box=(0, 0, 36, 30))], gap=0.5)
        top = SearchState(problem, None, 7)
        for item in range(problem.movable):
            top.put(item, problem.item_poses[item][0], 0, 15.0, 15.0)
        top.separate(Limit(positions=30_000))
        return top.arrangement(), top.tried

    def alone(numbers: tuple[int, ...]) -> tuple[Arrangement, int]:
        with ThreadPoolExecutor(1) as thread:  # a new thread knows nothing
            return thread.submit(laid, numbers).result()

    with ThreadPoolExecutor(1) as thread:
        for numbers in ((0, 1, 2), (1, 3, 0), (2, 1, 0), (3,), (0, 1, 2, 3)):
            (one, tried), (other, tried_alone) = thread.submit(laid, numbers).result(), alone(numbers)
            assert tried == tried_alone
            for values, values_alone in ((one.pose, other.pose), (one.x, other.x), (one.y, other.y)):
                assert values.tolist() == values_alone.tolist()
