from __future__ import annotations

from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.contour import circle
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.rules import Clearance
from cutjob.layout.search.packing_problem import board_space, half_turned, turned_back
from tests.layout.judge import fine
from tests.layout.makers import areas_of, board, boards, dog_eared, kept_out

TOO_NEAR = 1e-5  # mm: slivers of rounding are given up


@settings(max_examples=25, deadline=None)
@given(boards(), st.floats(0.5, 9), st.floats(0.5, 6))
def test_what_is_left_of_the_box_is_clear_of_edge_and_keep_outs(stock: Board, gap: float, margin: float) -> None:
    space = board_space(stock, clearance=Clearance(gap=gap, edge_margin=margin))
    assert space is not None
    blocked = [polygon.buffer(distance) if distance else polygon for polygon, distance in space.obstacles]
    clear = shapely.difference(shapely.box(*space.box), shapely.union_all(blocked)).buffer(-TOO_NEAR)
    assert fine(stock.outline).covers(clear)
    assert clear.distance(fine(stock.outline).exterior) >= margin - TOO_NEAR
    for knot in areas_of(stock):
        # Buffers have chords within their circles: 0.5 % of the gap, as 16 of them make a quarter turn less than that.
        assert clear.is_empty or clear.distance(fine(knot)) >= gap * 0.99


def test_a_plain_board_is_a_box_without_obstacles() -> None:
    space = board_space(board(600, 140), clearance=Clearance(gap=6.0, edge_margin=2.0))
    assert space is not None
    assert (space.box, space.obstacles) == ((2.0, 2.0, 598.0, 138.0), ())


def test_a_margin_that_leaves_nothing_leaves_no_space() -> None:
    assert board_space(board(600, 140), clearance=Clearance(gap=6.0, edge_margin=70.0)) is None


def test_a_part_on_the_turned_board_lies_the_same_to_the_board_itself() -> None:
    stock = replace(board(outline=dog_eared(600, 140, 30)), keep_outs=kept_out((circle((100, 40), 9),)))
    turned, shape = half_turned(stock), circle((0, 0), 12)
    at = Transform(x=480.0, y=60.0, degrees=90.0, mirrored=True)
    there, here = at.contour(shape), turned_back(at, stock).contour(shape)
    for name in ("outline", "keep_out"):
        one = fine(turned.outline).exterior if name == "outline" else fine(turned.keep_outs[0].area)
        other = fine(stock.outline).exterior if name == "outline" else fine(stock.keep_outs[0].area)
        assert fine(there).distance(one) == pytest.approx(fine(here).distance(other), abs=1e-6)
