from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from cutjob.geometry.contour import Contour, circle, polyline, rectangle
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout import clear_space
from cutjob.layout.clear_space import DEVIATION, NEARLY, clear_area, largest_box, largest_clear_rectangle
from tests.layout.judge import fine
from tests.layout.makers import areas_of, board, boards, dog_eared, ell, kept_out, wedge

EXACT = 1e-6  # mm: nothing but upright edges, so only the rounding of floats


def test_a_plain_board_less_its_margin() -> None:
    assert largest_clear_rectangle(board(600, 140), gap=6, edge_margin=2) == pytest.approx((596, 136), abs=EXACT)


def test_the_longer_arm_of_an_ell() -> None:
    # 400 x 100 against 100 x 300, each less the margin on all sides; at the inner corner the margin is round.
    stock = board(outline=ell(400, 300, 100))
    assert largest_clear_rectangle(stock, gap=6, edge_margin=2) == pytest.approx((396, 96), abs=EXACT)


def test_beside_beyond_or_above_a_square_keep_out() -> None:
    knot = Transform(x=200, y=50).contour(rectangle(40, 40))
    stock = board(600, 140, keep_outs=kept_out((knot,)))
    # Right of it: 600 - 2 - (240 + 6) by 136; above: 596 by 140 - 2 - 96.
    assert largest_clear_rectangle(stock, gap=6, edge_margin=2) == pytest.approx((352, 136), abs=EXACT)
    low = replace(stock, keep_outs=kept_out((Transform(x=200, y=10).contour(rectangle(40, 20)),)))
    assert largest_clear_rectangle(low, gap=6, edge_margin=2) == pytest.approx((596, 102), abs=EXACT)


def test_a_wedge_has_the_rectangle_that_calculus_gives() -> None:
    # Right-angled triangle 300 x 200: the largest rectangle in the corner is 150 x 100.
    stock = board(outline=polyline([(0, 0), (300, 0), (0, 200)]))
    length, width = largest_clear_rectangle(stock, gap=0, edge_margin=0)
    assert length * width == pytest.approx(150 * 100, rel=NEARLY)
    assert width == pytest.approx(200 * (1 - length / 300), abs=EXACT)


def test_a_disc_has_its_square() -> None:
    stock = board(outline=circle((100, 100), 100))
    length, width = largest_clear_rectangle(stock, gap=0, edge_margin=10)
    assert length * width <= 2 * 90**2
    # Chords take at most DEVIATION off the radius, twice where a margin is added.
    assert length * width >= 2 * (90 - 2 * DEVIATION) ** 2 * (1 - NEARLY)


def test_nothing_is_left_of_a_board_whose_margins_meet() -> None:
    assert largest_clear_rectangle(board(600, 140), gap=6, edge_margin=70) == (0, 0)
    assert largest_clear_rectangle(
        board(600, 140, keep_outs=kept_out((rectangle(600, 140),))), gap=6, edge_margin=0
    ) == (0, 0)


def _upright(draw: st.DrawFn) -> list[tuple[int, int, int, int]]:
    side = st.integers(1, 14)
    return draw(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 12), side, side), max_size=6))


@st.composite
def _knots(draw: st.DrawFn) -> list[tuple[int, int, int, int]]:
    return _upright(draw)


@settings(max_examples=30, deadline=None)
@given(_knots())
def test_among_upright_keep_outs_it_is_what_trying_every_rectangle_finds(
    knots: list[tuple[int, int, int, int]],
) -> None:
    length, width = 30, 14
    blocked = np.zeros((length, width), dtype=bool)
    area: shapely.Geometry = shapely.box(0, 0, length, width)
    for x, y, dx, dy in knots:
        blocked[x : x + dx, y : y + dy] = True
        area = shapely.difference(area, shapely.box(x, y, x + dx, y + dy))
    sums = np.pad(blocked.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
    best = 0
    for a, b in itertools.combinations(range(length + 1), 2):
        for c, d in itertools.combinations(range(width + 1), 2):
            if sums[b, d] - sums[a, d] - sums[b, c] + sums[a, c] == 0:
                best = max(best, (b - a) * (d - c))
    x0, y0, x1, y1 = largest_box(area)
    assert (x1 - x0) * (y1 - y0) == pytest.approx(best, rel=NEARLY, abs=EXACT)


def _any_box(area: shapely.Geometry, steps: int) -> float:
    """The area of the best rectangle with its sides on lines of a grid; brute force by GEOS, nothing shared."""
    x0, y0, x1, y1 = shapely.bounds(area)
    xs, ys = np.linspace(x0, x1, steps), np.linspace(y0, y1, steps)
    a, b, c, d = (
        np.array(column)
        for column in zip(
            *((*pair, *other) for pair in itertools.combinations(xs, 2) for other in itertools.combinations(ys, 2)),
            strict=True,
        )
    )
    boxes = shapely.box(a, c, b, d)
    shapely.prepare(area)
    return float(((b - a) * (d - c))[shapely.covers(area, boxes)].max(initial=0.0))


@settings(max_examples=25, deadline=None)
@given(boards(), st.floats(0, 9), st.floats(0, 6))
def test_it_is_clear_and_no_smaller_than_any_on_a_grid(stock: Board, gap: float, margin: float) -> None:
    x0, y0, x1, y1 = largest_box(clear_area(stock, gap=gap, edge_margin=margin))
    box = shapely.box(x0, y0, x1, y1)
    outline = fine(stock.outline)
    assert outline.buffer(EXACT).covers(box)
    assert box.distance(outline.exterior) >= margin - EXACT
    for knot in areas_of(stock):
        assert box.distance(fine(knot)) >= gap - EXACT or gap == 0
        assert box.intersection(fine(knot)).area <= EXACT * 100
    # A free area that is surely no larger: the same with twice the deviation more room all round.
    away = shapely.union_all([fine(knot).buffer(gap + 0.1) for knot in areas_of(stock)])
    less = outline.buffer(-margin - 0.1).difference(away)
    assert box.area >= _any_box(less, 14) * (1 - NEARLY)


@pytest.mark.parametrize("outline", [dog_eared(1800, 140, 30), wedge(1800, 140), rectangle(2440, 1220)])
@pytest.mark.parametrize("shape", ["round", "square", "crooked"])
def test_a_board_with_ten_keep_outs_takes_little_work(
    outline: Contour, shape: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, _, length, width = outline.bounds
    places = [(0.09 * i + 0.05, (0.37 * i) % 0.9) for i in range(10)]
    makes = {
        "round": circle((0, 0), 18),
        "square": rectangle(24, 24),
        "crooked": polyline([(0, 0), (30, 6), (21, 30), (-6, 24)]),
    }
    knots = tuple(Transform(x=x * length, y=y * width).contour(makes[shape]) for x, y in places)
    stock = board(outline=outline, keep_outs=kept_out(knots))
    looked_at: list[int] = []
    halves = clear_space._halves

    def counted(boxes: clear_space.Floats, events: clear_space.Floats) -> clear_space.Floats:
        looked_at.append(len(boxes))
        return halves(boxes, events)

    monkeypatch.setattr(clear_space, "_halves", counted)
    assert min(largest_clear_rectangle(stock, gap=6, edge_margin=2)) > 0
    # Measured at 50 to 500, which is 0.02 to 0.05 s; pairs of sides there are a hundred times as many.
    assert sum(looked_at) < 2000


def test_areas_in_several_pieces_and_with_collinear_corners() -> None:
    two = shapely.union_all([shapely.box(0, 0, 10, 10), shapely.box(20, 3, 50, 8)])
    assert largest_box(two) == pytest.approx((20, 3, 50, 8), abs=EXACT)
    stepped = Polygon([(0, 0), (5, 0), (10, 0), (10, 4), (10, 8), (10, 10), (5, 10), (5, 15), (0, 15), (0, 7)])
    x0, y0, x1, y1 = largest_box(stepped)
    assert (x1 - x0) * (y1 - y0) == pytest.approx(100, abs=EXACT)
    assert largest_box(Polygon()) == (0, 0, 0, 0)
