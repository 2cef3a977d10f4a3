from __future__ import annotations

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon, box

from tests.benchmarks.bounds import area_bound, bins_bound, clear_area, core_length, grown_part_area, length_bound
from tests.benchmarks.instances import DATA

STICKS = DATA.parent / "sticks" / "falkenauer.json"
# Circles below stand for discs by chords: 64 to a quarter turn cut off less than 0.01 % of area and radius.
CHORDS = 64


def first_fit(sizes: list[int], capacity: int) -> int:
    """Boards that first fit, largest first, takes: an upper bound on the optimum."""
    rests: list[int] = []
    for size in sorted(sizes, reverse=True):
        for number, rest in enumerate(rests):
            if rest >= size:
                rests[number] -= size
                break
        else:
            rests.append(capacity - size)
    return len(rests)


@pytest.mark.parametrize(
    ("sizes", "capacity", "bins"),
    [
        ([], 10, 0),
        ([10, 10], 10, 2),
        ([6, 6, 6], 10, 3),  # by area 2
        ([5, 5, 5], 10, 2),
        ([7, 7, 4, 4], 10, 3),  # the fours enter no seven; by area 3 as well
        ([8, 8, 3, 3, 3, 3], 10, 4),  # by area 3: the threes enter no eight, and three go to a bin
    ],
)
def test_bins_worked_by_hand(sizes: list[float], capacity: float, bins: int) -> None:
    assert bins_bound(sizes, capacity) == bins


@given(st.lists(st.integers(1, 60), max_size=40), st.integers(60, 150))
def test_bins_bound_lies_between_area_and_first_fit(sizes: list[int], capacity: int) -> None:
    bound = bins_bound([float(size) for size in sizes], float(capacity))
    assert math.ceil(sum(sizes) / capacity - 1e-3) <= bound <= first_fit(sizes, capacity)


@pytest.mark.skipif(not STICKS.exists(), reason="the open data is not beside the repository")
def test_bins_bound_against_falkenauer() -> None:
    # Falkenauer, Journal of Heuristics 2 (1996); the best known numbers stand in the file. The triplets (t...) fill
    # every bin exactly, so that their bound is the optimum.
    instances = json.loads(STICKS.read_text())["instances"]
    assert len(instances) >= 10
    for entry in instances:
        bound = bins_bound(entry["pieces"], entry["stick"])
        assert bound <= entry["best_known"], entry["name"]
        assert bound >= entry["best_known"] - (0 if entry["name"].startswith("t") else 2), entry["name"]


def test_area_takes_given_boards_off_first() -> None:
    assert area_bound([30.0] * 10, [], board_area=100.0) == 3
    assert area_bound([30.0] * 10, [55.0, 60.0], board_area=100.0) == 2
    assert area_bound([30.0], [55.0], board_area=100.0) == 0


def test_grown_areas_are_exact_where_parts_tile_a_board() -> None:
    # Two columns of three rectangles fill the board exactly, with a gap of 2 between any two: six keep no more area
    # than the clear board has, and seven would need a second one.
    gap, board = 2.0, box(0, 0, 62, 34)
    clear = clear_area(board, [], gap=gap, margin=0.0)
    areas = [grown_part_area(box(0, 0, 30, 10), gap)] * 7
    assert area_bound(areas[:6], [], board_area=clear) == 1
    assert area_bound(areas, [], board_area=clear) == 2


def test_margins_and_knots_take_clear_area() -> None:
    board, knot = box(0, 0, 100, 50), Point(50, 25).buffer(8, quad_segs=CHORDS)
    assert clear_area(board, [], gap=4, margin=3) == pytest.approx(98 * 48)
    assert clear_area(board, [knot], gap=4, margin=3) == pytest.approx(98 * 48 - math.pi * 100, rel=1e-3)


def test_cores_of_simple_parts() -> None:
    assert core_length(box(0, 0, 40, 10), 8, (0, 180)) == pytest.approx(40)
    assert core_length(box(0, 0, 40, 10), 11, (0, 180)) == 0
    assert core_length(box(0, 0, 40, 10), 8, (0, 90)) == pytest.approx(10)
    # A disc of diameter 10 holds 6 by 8 (Pythagoras); as one that may lie at any angle, too.
    disc = Point(0, 0).buffer(5, quad_segs=CHORDS)
    assert core_length(disc, 8, ()) == pytest.approx(6, rel=0.02)
    assert core_length(disc, 8, (0,)) == pytest.approx(6, rel=0.02)
    assert core_length(disc, 8, ()) <= 6


def test_the_core_of_an_arch_is_what_is_solid() -> None:
    # Legs 10 wide and a bar 6 tall: no rectangle taller than the bar spans it.
    arch = Polygon([(0, 0), (10, 0), (10, 14), (50, 14), (50, 0), (60, 0), (60, 20), (0, 20)])
    assert core_length(arch, 6, (0, 180)) == pytest.approx(60)
    assert core_length(arch, 7, (0, 180)) == pytest.approx(10)


@settings(max_examples=50, deadline=None)
@given(
    st.lists(st.tuples(st.integers(-200, 200), st.integers(-200, 200)), min_size=3, max_size=8),
    st.floats(2, 15),
)
def test_cores_lie_within_convex_parts(points: list[tuple[int, int]], height: float) -> None:
    part = Polygon([(x / 10, y / 10) for x, y in points]).convex_hull
    if part.geom_type != "Polygon" or part.area < 1:
        return
    length = core_length(part, height, (0.0,))
    assert length * height <= part.area * (1 + 1e-9)
    assert length <= part.bounds[2] - part.bounds[0] + 1e-9
    # A part that may lie at any angle has no longer core than at one of them.
    assert core_length(part, height, ()) <= min(core_length(part, height, (t,)) for t in (0.0, 90.0)) + 0.2 * height


def test_length_bound_counts_gaps_between_parts_only() -> None:
    assert length_bound([30, 30, 30], 94, gap=2) == 1
    assert length_bound([30, 30, 30], 93.8, gap=2) == 2
    assert length_bound([30, 30, 30, 0, 0], 40, gap=2) == 3
    assert length_bound([30, 30, 30], 40, gap=2, given=2) == 1
