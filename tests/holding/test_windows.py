from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations, pairwise, product

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cutjob.holding.windows import choose_windows, pin_places, slides
from cutjob.layout.layout import Window
from cutjob.tolerances import TOLERANCES

BED = 900.0
PICKET = (0.0, 72 * 25.4)
SHORT = (0.0, 40.0)
EXACT = 1e-6  # mm: sums and differences of floats up to some thousands
ROUNDS = 0.05  # mm: the package eats so much more of the waste, by tangents where rounds would do

Spans = list[tuple[float, float]]


def starts_of(windows: Sequence[Window], spans: Spans, board: tuple[float, float]) -> list[float]:
    """Where the machine's travel begins in each window."""
    over = max(0.0, board[0] - min(lo for lo, _ in spans))
    return [window.first - over for window in windows]


def window_of(windows: Sequence[Window]) -> dict[int, int]:
    return {index: number for number, window in enumerate(windows) for index in window.placements}


def assert_sound(
    windows: Sequence[Window],
    spans: Spans,
    bed: float,
    board: tuple[float, float],
    before: Sequence[Sequence[int]] = (),
) -> None:
    assert sorted(index for window in windows for index in window.placements) == list(range(len(spans)))
    starts = starts_of(windows, spans, board)
    assert all(one < other for one, other in pairwise(starts))
    for window, start in zip(windows, starts, strict=True):
        assert window.placements
        assert board[0] - EXACT <= window.first < window.last <= board[1] + EXACT
        assert window.last - start <= bed + EXACT
        for index in window.placements:
            assert start - EXACT <= spans[index][0]
            assert spans[index][1] <= start + bed + EXACT
    where = window_of(windows)
    for then, earlier in enumerate(before):
        assert all(where[first] <= where[then] for first in earlier)


def fewest_by_trying(spans: Spans, bed: float, before: Sequence[Sequence[int]]) -> int | None:
    """All ways to share the spans among windows in order, tried one by one."""
    for count in range(1, len(spans) + 1):
        for where in product(range(count), repeat=len(spans)):
            if any(where[first] > where[then] for then, earlier in enumerate(before) for first in earlier):
                continue
            start = -math.inf
            for number in range(count):
                mine = [span for span, window in zip(spans, where, strict=True) if window == number]
                if not mine:
                    break
                start = max(start, max(hi for _, hi in mine) - bed)
                if start > min(lo for lo, _ in mine):
                    break
            else:
                return count
    return None


@st.composite
def cases(draw: st.DrawFn, most: int = 5) -> tuple[Spans, list[list[int]], float]:
    """Spans on a board 0 to 40, whole numbers so that ends meet; some stick out over its ends. And the bed."""
    bed = draw(st.integers(8, 45))
    count = draw(st.integers(1, most))
    spans = []
    for _ in range(count):
        length = draw(st.integers(1, min(bed, 25)))
        lo = draw(st.integers(-3, 43 - length))
        spans.append((float(lo), float(lo + length)))
    pairs = draw(st.lists(st.tuples(st.integers(0, count - 1), st.integers(0, count - 1)), max_size=3))
    return spans, [[first for first, then in pairs if then == index] for index in range(count)], float(bed)


@given(cases())
def test_the_fewest_windows_there_are(case: tuple[Spans, list[list[int]], float]) -> None:
    spans, before, bed = case
    fewest = fewest_by_trying(spans, bed, before)
    if fewest is None:
        with pytest.raises(ValueError, match="keep to the order"):
            choose_windows(spans, bed=bed, board=SHORT, before=before)
        return
    windows = choose_windows(spans, bed=bed, board=SHORT, before=before)
    assert_sound(windows, spans, bed, SHORT, before)
    assert len(windows) == fewest


@given(cases(most=7))
@settings(max_examples=40)
def test_flush_ends_then_the_least_greatest_slide(case: tuple[Spans, list[list[int]], float]) -> None:
    spans, _, bed = case
    board = SHORT
    windows = choose_windows(spans, bed=bed, board=board)
    found = starts_of(windows, spans, board)
    assume(1 < len(found) < 5)
    # Whole numbers in: where the best starts are whole too, trying all whole ones finds none better.
    left = board[0] - max(0.0, board[0] - min(lo for lo, _ in spans))
    choices = [
        choice
        for choice in combinations(range(int(left), 44), len(found))
        if all(any(hi - bed <= start <= lo for start in choice) for lo, hi in spans)
    ]
    nearest_left = min(abs(choice[0] - left) for choice in choices)
    assert abs(found[0] - left) == pytest.approx(nearest_left, abs=EXACT)
    choices = [choice for choice in choices if abs(choice[0] - left) == nearest_left]
    nearest_right = min(abs(choice[-1] + bed - board[1]) for choice in choices)
    assert abs(found[-1] + bed - board[1]) == pytest.approx(nearest_right, abs=EXACT)
    choices = [choice for choice in choices if abs(choice[-1] + bed - board[1]) == nearest_right]
    assert max(slides(windows)) <= min(max(b - a for a, b in pairwise(choice)) for choice in choices) + EXACT


def test_a_picket_of_four_long_parts_takes_two_windows() -> None:
    # Two parts of 420 mm lie in 900 mm, three do not.
    spans = [(20.0 + 430 * i, 440.0 + 430 * i) for i in range(4)]
    windows = choose_windows(spans, bed=BED, board=PICKET)
    assert [window.placements for window in windows] == [(0, 1), (2, 3)]
    assert windows[0].first == 0
    # The third part begins at 880: the last window can't start at 1828.8 - 900 = 928.8.
    assert windows[1].first == 880
    assert windows[1].last == 1780
    assert slides(windows) == (880.0,)


def test_slides_are_even_where_the_parts_let_them() -> None:
    spans = [(100.0 * i, 100.0 * i + 40) for i in range(30)]
    windows = choose_windows(spans, bed=1000, board=(0.0, 3000.0))
    assert windows[0].first == 0
    assert windows[-1].last == 3000
    assert slides(windows) == pytest.approx([2000 / (len(windows) - 1)] * (len(windows) - 1), abs=EXACT)


def test_the_travel_holds_what_sticks_out_at_the_left_in_every_window() -> None:
    # A part at the board's very end: the cutter goes 8 mm beyond it, so the zero lies 8 mm inside the travel.
    spans = [(-8.0, 880.0), (950.0, 1700.0)]
    first, second = choose_windows(spans, bed=BED, board=PICKET)
    assert (first.first, first.last) == (0.0, 892.0)
    # Beginning at 928.8 would end flush; with the zero 8 mm inside the travel that is a `first` of 936.8.
    assert (second.first, second.last) == pytest.approx((936.8, 1828.8), abs=EXACT)
    assert slides((first, second)) == pytest.approx((936.8,), abs=EXACT)


def test_what_sticks_out_at_the_right_keeps_its_run() -> None:
    spans = [(2.0, 300.0), (1200.0, PICKET[1] + 8)]
    _, second = choose_windows(spans, bed=BED, board=PICKET)
    assert second.last == PICKET[1]
    assert second.first == pytest.approx(PICKET[1] + 8 - BED, abs=EXACT)


def test_a_guest_is_cut_no_later_than_what_it_lies_in() -> None:
    # The host ends at 920 and the first part begins at 10, so the host lies in the second window only. Its guest fits
    # the first too, and may be cut there.
    spans = [(10.0, 300.0), (310.0, 920.0), (400.0, 500.0), (1000.0, 1200.0)]
    windows = choose_windows(spans, bed=BED, board=PICKET, before=[[], [2], [], []])
    assert [window.placements for window in windows] == [(0, 2), (1, 3)]
    # The other way round the guest must wait for its host.
    windows = choose_windows(spans, bed=BED, board=PICKET, before=[[], [], [1], []])
    assert [window.placements for window in windows] == [(0,), (1, 2, 3)]


def test_an_order_may_need_one_more_window_and_may_be_impossible() -> None:
    spans = [(0.0, 40.0), (60.0, 100.0), (110.0, 150.0)]
    assert len(choose_windows(spans, bed=100, board=(0.0, 150.0))) == 2
    # The first may not be cut before the second: one window for both, and the third is on its own.
    windows = choose_windows(spans, bed=100, board=(0.0, 150.0), before=[[1], [], []])
    assert [window.placements for window in windows] == [(0, 1), (2,)]
    with pytest.raises(ValueError, match="keep to the order"):
        choose_windows(spans, bed=100, board=(0.0, 150.0), before=[[2], [], []])


def test_one_window_lies_at_the_left_end_or_else_at_the_right() -> None:
    (window,) = choose_windows([(5.0, 100.0)], bed=500, board=(0.0, 800.0))
    assert (window.first, window.last) == (0, 500)
    (window,) = choose_windows([(350.0, 700.0)], bed=500, board=(0.0, 800.0))
    assert (window.first, window.last) == (300, 800)
    (window,) = choose_windows([(250.0, 700.0)], bed=500, board=(0.0, 800.0))
    assert (window.first, window.last) == (250, 750)


def test_no_placements_no_windows() -> None:
    assert choose_windows([], bed=BED, board=PICKET) == ()
    assert slides(()) == ()


def test_a_span_longer_than_the_bed_is_refused_and_one_as_long_is_not() -> None:
    with pytest.raises(ValueError, match=r"placement 1 is cut over 900\.100 mm; the bed is 900\.000 mm long"):
        choose_windows([(0.0, 10.0), (20.0, 920.1)], bed=BED, board=PICKET)
    (window,) = choose_windows([(20.0, 920.0)], bed=BED, board=PICKET)
    assert (window.first, window.last) == (20, 920)
    # A sum of floats a hair too long is as long.
    choose_windows([(20.0, 920.0 + TOLERANCES.same_point / 2)], bed=BED, board=PICKET)


def test_an_order_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match="2 entries"):
        choose_windows([(0.0, 10.0)], bed=BED, board=PICKET, before=[[], []])


# Pins.

LEFT = Window(first=0.0, last=900.0, placements=(0,))
RIGHT = Window(first=700.0, last=1600.0, placements=(1,))


def holds(waste: shapely.Geometry, at: tuple[float, float], radius: float) -> bool:
    return bool(shapely.buffer(waste, EXACT).covers(shapely.Point(at).buffer(radius, quad_segs=64)))


def test_pins_stand_at_the_far_corners_of_the_overlap() -> None:
    strip = shapely.box(0, 0, 1828.8, 140)
    pins = pin_places(strip, LEFT, RIGHT, diameter=6, wall=6)
    assert pins is not None
    (x0, _), (x1, _) = pins
    assert x0 < x1
    # 9 mm in from 700, 900, 0 and 140: at most hypot(182, 122) = 219.1 apart, and no less than 0.9 of that.
    assert 0.9 * math.hypot(182, 122) - ROUNDS <= math.dist(*pins) <= math.hypot(182, 122)
    # All that is given up goes into room: t more on all sides with hypot(182 - 2 t, 122 - 2 t) = 0.9 x 219.1.
    room = min(x0 - 700, 900 - x1, *(min(y, 140 - y) for _, y in pins)) - 9
    assert math.hypot(182 - 2 * room, 122 - 2 * room) == pytest.approx(0.9 * math.hypot(182, 122), abs=0.3)


def test_no_pins_without_overlap_waste_or_room() -> None:
    strip = shapely.box(0, 0, 1828.8, 140)
    apart = Window(first=900.0, last=1800.0, placements=(1,))
    assert pin_places(strip, LEFT, apart, diameter=6, wall=6) is None
    assert pin_places(shapely.Polygon(), LEFT, RIGHT, diameter=6, wall=6) is None
    assert pin_places(shapely.box(0, 0, 1828.8, 17.9), LEFT, RIGHT, diameter=6, wall=6) is None
    assert pin_places(shapely.box(0, 0, 600, 140), LEFT, RIGHT, diameter=6, wall=6) is None
    assert pin_places(shapely.box(0, 0, 1828.8, 18.1), LEFT, RIGHT, diameter=6, wall=6) is not None


def test_one_place_is_no_pair() -> None:
    # Room for one hole of 6 with 6 round it, and 11.9 mm to move it in: less than 6 + 6.
    assert pin_places(shapely.box(750, 0, 768.1 + 11.8, 18.1), LEFT, RIGHT, diameter=6, wall=6) is None
    assert pin_places(shapely.box(750, 0, 768.1 + 12.1, 18.1), LEFT, RIGHT, diameter=6, wall=6) is not None


def mm(least: float, most: float) -> st.SearchStrategy[float]:
    """Lengths to 1/8 mm, so that edges meet; no smaller numbers, by which GEOS divides."""
    return st.integers(math.ceil(least * 8), math.floor(most * 8)).map(lambda eighths: eighths / 8)


BOXES = st.lists(
    st.tuples(mm(600, 950), mm(0, 130), mm(10, 120), mm(5, 80), mm(0, 90)),
    max_size=6,
)


@given(BOXES)
@settings(max_examples=40)
def test_pins_keep_their_wall_and_no_pair_of_a_grid_is_much_better(
    boxes: list[tuple[float, float, float, float, float]],
) -> None:
    cut = [
        shapely.affinity.rotate(shapely.box(x, y, x + length, y + width), turn) for x, y, length, width, turn in boxes
    ]
    waste = shapely.box(0, 0, 1828.8, 140).difference(shapely.union_all(cut))
    pins = pin_places(waste, LEFT, RIGHT, diameter=6, wall=6)
    overlap = waste.intersection(shapely.box(700, 0, 900, 140))
    grid = shapely.points(*(axis.ravel() for axis in np.meshgrid(np.arange(700, 901, 4), np.arange(0, 141, 4))))
    rim = shapely.boundary(overlap)
    free = grid[shapely.intersects(overlap, grid)]
    free = free[shapely.distance(rim, free) >= 9 + ROUNDS]
    corners = shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(free)))
    furthest = max((math.dist(a, b) for a, b in combinations(corners, 2)), default=0.0)
    if pins is None:
        assert furthest < 12
        return
    assert all(holds(overlap, at, 9) for at in pins)
    assert math.dist(*pins) >= 0.9 * furthest - EXACT
    assert pins == pin_places(waste, LEFT, RIGHT, diameter=6, wall=6)
