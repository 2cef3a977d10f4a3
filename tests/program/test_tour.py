"""The order of tasks: everything once, nothing too early, free starts never worse, exact choices, and short ways."""

from __future__ import annotations

import itertools
import math
import random
import subprocess
import sys
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.segment import Point, distance
from cutjob.program import tour
from cutjob.program.tour import Start, are_few, sequence

HOME = (0.0, 0.0)
CLOSE = 1e-6  # mm: lengths added up in another order

Given = tuple[list[list[int]], list[list[Start]]]
PLACE = st.tuples(st.floats(0, 500), st.floats(0, 200))


def at(*places: Point) -> list[Start]:
    return [Start(float(number), place, place) for number, place in enumerate(places)]


def length(order: Sequence[tuple[int, Start]], home: Point = HOME) -> float:
    total, here = 0.0, home
    for _, start in order:
        total += distance(here, start.point)
        here = start.end
    return total


@st.composite
def waiting(draw: st.DrawFn, most: int = 25) -> Given:
    """Tasks that wait for tasks listed before or after them, without going round in a ring, with some starts each."""
    count = draw(st.integers(1, most))
    ranks = draw(st.permutations(range(count)))
    after, starts = [], []
    for index in range(count):
        lower = [other for other in range(count) if ranks[other] < ranks[index]]
        after.append(draw(st.lists(st.sampled_from(lower), max_size=3)) if lower else [])
        places = draw(st.lists(st.tuples(PLACE, st.floats(0, 30)), min_size=1, max_size=4))
        starts.append([Start(float(n), (x, y), (x + run, y)) for n, ((x, y), run) in enumerate(places)])
    return after, starts


@st.composite
def nested(draw: st.DrawFn) -> Given:
    """Rings within rings, up to five deep: each opening waits for what lies in it, each outline for its opening."""
    after: list[list[int]] = []
    starts: list[list[Start]] = []
    for _ in range(draw(st.integers(1, 6))):
        x, y = draw(PLACE)
        inner: list[int] = []
        for depth in range(draw(st.integers(1, 5))):
            for _ in range(draw(st.integers(1, 2))):  # the opening of this ring, then its outline
                after.append(list(inner))
                reach = 4.0 * (depth + 1)
                starts.append(at((x + reach, y), (x, y + reach), (x - reach, y)))
                inner = [len(after) - 1]
    return after, starts


@given(st.one_of(waiting(), nested()))
@settings(max_examples=150, deadline=None)
def test_everything_once_and_nothing_too_early(tasks: Given) -> None:
    after, starts = tasks
    order = sequence(after, starts, home=HOME)
    assert sorted(index for index, _ in order) == list(range(len(after)))
    done: set[int] = set()
    for index, start in order:
        assert set(after[index]) <= done
        assert start in starts[index]
        done.add(index)


@given(st.one_of(waiting(), nested()))
@settings(max_examples=80, deadline=None)
def test_free_starts_are_never_longer_than_fixed_ones(tasks: Given) -> None:
    after, starts = tasks
    free = sequence(after, starts, home=HOME)
    fixed = sequence(after, [options[:1] for options in starts], home=HOME)
    assert length(free) <= length(fixed) + CLOSE


def best_of_every_order(after: Sequence[Sequence[int]], starts: Sequence[Sequence[Start]]) -> float:
    best = math.inf
    for order in itertools.permutations(range(len(after))):
        if any(order.index(before) > order.index(index) for index in order for before in after[index]):
            continue
        ways = {start: distance(HOME, start.point) for start in starts[order[0]]}
        for index in order[1:]:
            ways = {
                start: min(way + distance(one.end, start.point) for one, way in ways.items()) for start in starts[index]
            }
        best = min(best, *ways.values())
    return best


@given(waiting(most=5))
@settings(max_examples=60, deadline=None)
def test_few_tasks_are_done_in_the_best_of_all_orders(tasks: Given) -> None:
    after, starts = tasks
    assert are_few(starts)
    assert length(sequence(after, starts, home=HOME)) == pytest.approx(best_of_every_order(after, starts), abs=CLOSE)


@given(waiting(most=6))
@settings(max_examples=60, deadline=None)
def test_the_search_against_every_possible_order(tasks: Given) -> None:
    after, starts = tasks
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tour, "are_few", lambda starts: False)
        found = length(sequence(after, starts, home=HOME))
    # The search is no proof: it may stay a little above the best of all.
    best = best_of_every_order(after, starts)
    assert best - CLOSE <= found <= 1.35 * best + CLOSE


@given(waiting(most=5))
@settings(max_examples=30, deadline=None)
def test_round_trips_count_the_way_back(tasks: Given) -> None:
    after, starts = tasks

    def there_and_back(order: Sequence[tuple[int, Start]]) -> float:
        return length(order) + distance(order[-1][1].end, HOME)

    exact = there_and_back(sequence(after, starts, home=HOME, closed=True))
    assert exact <= there_and_back(sequence(after, starts, home=HOME)) + CLOSE
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tour, "are_few", lambda starts: False)
        order = sequence(after, starts, home=HOME, closed=True)
    assert sorted(index for index, _ in order) == list(range(len(after)))
    assert exact - CLOSE <= there_and_back(order) <= 1.35 * exact + CLOSE


def test_a_mark_is_run_from_the_nearer_end() -> None:
    (order,) = [sequence([()], [[Start(0.0, (90, 0), (10, 0)), Start(1.0, (10, 0), (90, 0))]], home=HOME)]
    assert order == [(0, Start(1.0, (10, 0), (90, 0)))]


def test_tasks_that_wait_for_each_other() -> None:
    with pytest.raises(ValueError, match="wait for each other"):
        sequence([(1,), (0,)], [at((0, 0))] * 2, home=HOME)


def test_many_tasks_that_wait_for_each_other() -> None:
    ring = [((index + 1) % 30,) for index in range(30)]
    with pytest.raises(ValueError, match="wait for each other"):
        sequence(ring, [at((index, 0)) for index in range(30)], home=HOME)


def test_lines_side_by_side_are_run_to_and_fro() -> None:
    lines = [((5.0 * index, 0.0), (5.0 * index, 50.0)) for index in range(40)]
    random.Random(1).shuffle(lines)
    starts = [[Start(0.0, low, high), Start(1.0, high, low)] for low, high in lines]
    assert length(sequence([()] * 40, starts, home=HOME)) == pytest.approx(39 * 5.0, abs=CLOSE)


def test_a_long_chain_leaves_no_choice() -> None:
    count = 3000
    chain = [[index - 1] if index else [] for index in range(count)]
    starts = [at((index * 7919 % 1000, index * 104729 % 997)) for index in range(count)]
    assert [index for index, _ in sequence(chain, starts, home=HOME)] == list(range(count))


def test_many_tasks_at_one_spot_and_on_one_line() -> None:
    spot = sequence([()] * 300, [at((5, 5))] * 300, home=HOME)
    assert sorted(index for index, _ in spot) == list(range(300))
    line = sequence([()] * 300, [at((float(index * 7 % 300), 0)) for index in range(300)], home=HOME)
    assert length(line) == pytest.approx(299.0, abs=CLOSE)


def test_few_tasks_need_nothing_compiled() -> None:
    """Small jobs aren't to wait for the compiler."""
    script = (
        "import sys; from cutjob.program.tour import Start, sequence; "
        "sequence([(), (0,)], [[Start(0.0, (1.0, 2.0), (1.0, 2.0))]] * 2, home=(0.0, 0.0)); "
        "sys.exit('numba' in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", script], check=True)


def test_none_and_one() -> None:
    assert sequence([], [], home=HOME) == []
    assert sequence([()], [at((3, 4))], home=HOME) == [(0, Start(0.0, (3, 4), (3, 4)))]


def test_the_same_again() -> None:
    golden = (math.sqrt(5) - 1) / 2
    starts = [at(((i * golden) % 1 * 300, (i * golden * golden * 7) % 1 * 200)) for i in range(200)]
    after = [[i - 1] if i % 5 == 0 and i else [] for i in range(200)]
    assert sequence(after, starts, home=HOME) == sequence(after, starts, home=HOME)


def test_a_thousand_places_anywhere() -> None:
    """The best tour through n random places on an area A is about 0.7124 sqrt(n A) long [from memory: the constant of
    Beardwood, Halton and Hammersley], and for a thousand in a square some hundredths more for its edges.
    """
    count, side = 1000, 1000.0
    chance = random.Random(5)
    places = [(chance.random() * side, chance.random() * side) for _ in range(count)]
    order = sequence([()] * count, [at(place) for place in places], home=HOME)
    assert 0.70 < length(order) / math.sqrt(count * side * side) < 0.76


@pytest.mark.parametrize("middle", [(0, 0), (3, -2), (-5, 7)])
@pytest.mark.parametrize("far", [0, 1, 2, 5])
def test_a_ring_of_cells_is_all_that_are_so_far_off_each_once(middle: tuple[int, int], far: int) -> None:
    cells = tour._ring(*middle, far)
    assert len(cells) == len(set(cells)) == max(1, 8 * far)
    assert {max(abs(i - middle[0]), abs(j - middle[1])) for i, j in cells} == {far}
