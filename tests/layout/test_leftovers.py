"""What is left of a board after one saw cut: checked by hand on plain boards, and by distances on random ones."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import Polygon

from cutjob.geometry.contour import circle, polyline, rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.layout.leftovers import _holds, largest_leftover, leftovers_of, sawn_leftovers
from cutjob.layout.sawing import saw_off
from cutjob.parts.part import SawnPart
from tests.layout.makers import areas_of, board, boards, dog_eared, ell, item, kept_out, part, wedge

RULE = {"gap": 6.0, "edge_margin": 5.0, "saw_kerf": 3.0, "least": (150.0, 50.0)}
# Sums of a few lengths of some hundred mm, squared for areas.
LENGTH, AREA = 1e-9, 1e-6


def laid(on, *boxes, **more):
    """Upright rectangles x, y, length, width on a board."""
    placements = tuple(
        Placement(part=part(rectangle(length, width)), item="porch trellis", unit=1, transform=Transform(x=x, y=y))
        for x, y, length, width in boxes
    )
    return BoardLayout(id="board-01", board=on, placements=placements, **more)


def sizes(layout, **rule):
    return [(left.side, left.board.length, left.board.width) for left in leftovers_of(layout, **(RULE | rule))]


def test_one_end_of_a_board():
    [left] = leftovers_of(laid(board(600, 140), (5, 5, 100, 60)), **RULE)
    # Beyond the part: the cutter's gap of 6 and the saw's 3.
    assert left.side == "right end"
    assert left.board.outline.bounds == pytest.approx((0, 0, 600 - 114, 140), abs=LENGTH)
    assert left.at == pytest.approx((114, 0), abs=LENGTH)
    assert left.area == pytest.approx(486 * 140, abs=AREA)
    assert (left.board.name, left.board.price, left.board.count, left.board.thickness) == ("cedar picket", 0, 1, 16)
    assert left.layout == "board-01"


def test_both_ends_or_both_edges_but_never_wood_twice():
    middle = laid(board(600, 140), (250, 5, 60, 130))
    assert sizes(middle) == [
        ("right end", pytest.approx(281, abs=LENGTH), 140),
        ("left end", pytest.approx(241, abs=LENGTH), 140),
    ]
    lengthwise = laid(board(600, 400), (5, 150, 590, 60))
    assert sizes(lengthwise) == [
        ("upper edge", 600, pytest.approx(181, abs=LENGTH)),
        ("lower edge", 600, pytest.approx(141, abs=LENGTH)),
    ]


def test_every_board_of_a_stack_and_its_copies_leaves_one():
    [left] = leftovers_of(laid(board(600, 140), (5, 5, 100, 60), stack=2, copies=3), **RULE)
    assert left.board.count == 6


@pytest.mark.parametrize(
    ("grain", "length", "kept"),
    [("length", 150.0, True), ("length", 149.9, False), ("none", 50.0, True), ("none", 49.9, False)],
)
def test_the_least_size_lies_along_the_grain_or_either_way(grain, length, kept):
    on = board(600, 160, grain=grain)
    layout = laid(on, (5, 5, 600 - 5 - 9 - length, 150))
    assert bool(leftovers_of(layout, **RULE)) is kept


def test_a_piece_no_wider_than_two_margins_holds_no_part():
    layout = laid(board(600, 140), (5, 5, 426, 130))
    assert sizes(layout, least=(100.0, 20.0))
    assert not sizes(layout, least=(100.0, 20.0), edge_margin=71.0)


def test_what_was_not_cut_is_no_leftover_and_a_full_board_has_none():
    assert leftovers_of(laid(board(600, 140)), **RULE) == ()
    assert largest_leftover(laid(board(600, 140)), **RULE) == 0.0
    full = laid(board(600, 140), (0, 0, 600, 140))
    assert leftovers_of(full, **RULE) == ()
    assert largest_leftover(full, **RULE) == 0.0


def test_shapes_keep_their_corners():
    [eared] = leftovers_of(laid(board(outline=dog_eared(600, 140, 30)), (5, 5, 100, 60)), **RULE)
    assert eared.area == pytest.approx(486 * 140 - 30**2, abs=AREA)
    [slanted] = leftovers_of(laid(board(outline=wedge(600, 140)), (5, 5, 100, 60)), **RULE)
    assert slanted.area == pytest.approx((486 + 366) / 2 * 140, abs=AREA)
    # Cut off its foot, an L leaves its other arm.
    [arm] = leftovers_of(laid(board(outline=ell(400, 400, 160)), (5, 5, 390, 150)), **RULE)
    assert (arm.side, arm.area) == ("upper edge", pytest.approx(160 * (400 - 164), abs=AREA))


def test_a_board_with_a_gap_may_leave_two_pieces_on_one_side():
    horseshoe = polyline([(0, 0), (600, 0), (600, 300), (430, 300), (430, 90), (170, 90), (170, 300), (0, 300)])
    found = leftovers_of(laid(board(outline=horseshoe), (5, 5, 590, 100)), **RULE)
    assert [(left.side, left.area) for left in found] == [
        ("upper edge", pytest.approx(170 * 186, abs=AREA)),
        ("upper edge", pytest.approx(170 * 186, abs=AREA)),
    ]
    assert {left.at for left in found} == {(0.0, 114.0), (430.0, 114.0)}


def test_keep_outs_go_along_also_those_the_saw_goes_through():
    on = board(600, 140, keep_outs=kept_out((circle((50, 70), 8), circle((114, 30), 9), circle((300, 70), 8))))
    on = replace(on, keep_outs=kept_out(areas_of(on), whys=("knot", "nail", None)))
    [left] = leftovers_of(laid(on, (5, 5, 100, 20)), **RULE)
    assert [knot.circle() for knot in areas_of(left.board)] == [((0, 30), 9), ((186, 70), 8)]
    assert [one.why for one in left.board.keep_outs] == ["nail", None]


def test_a_piece_that_is_one_knot_is_not_kept():
    # A rip above the part would leave 600 x 66, but the knot leaves no 150 x 50 of it clear.
    on = board(240, 140, keep_outs=kept_out((circle((120, 107), 25),)))
    assert sizes(laid(replace(on, keep_outs=()), (5, 5, 230, 60))) == [("upper edge", 240, pytest.approx(66))]
    assert sizes(laid(on, (5, 5, 230, 60))) == []


def test_leads_that_reach_past_the_gap_are_kept_clear_of():
    layout = laid(board(600, 140), (5, 5, 100, 60))
    [left] = leftovers_of(layout, **RULE, swept=(-1.0, -1.0, 120.0, 70.0))
    assert left.at[0] == pytest.approx(123.0, abs=LENGTH)
    assert leftovers_of(layout, **RULE, swept=(1.0, 1.0, 109.0, 69.0)) == leftovers_of(layout, **RULE)


def test_boards_that_were_only_sawn():
    legs = item(sawn=(SawnPart(name="leg", length=200.0),), count=2)
    stock = (board(600, 140, count=3, outline=dog_eared(600, 140, 30)),)
    sawn = saw_off([legs], stock, saw_kerf=3.0).boards
    [left] = sawn_leftovers([], sawn, edge_margin=5.0, least=(150.0, 50.0))
    assert (left.side, left.layout, left.board.count, left.board.sawn_off) == ("sawn", None, 1, 0.0)
    assert left.board.length == pytest.approx(600 - 2 * 203, abs=LENGTH)
    assert left.area == pytest.approx(194 * 140 - 30**2, abs=AREA)
    assert sawn_leftovers([], sawn, edge_margin=5.0, least=(195.0, 50.0)) == ()
    # Where parts lie on it, the layout leaves what it leaves.
    [rest] = [one for one in sawn if one.sawn_off]
    assert sawn_leftovers([laid(rest, (5, 5, 20, 20))], sawn, edge_margin=5.0, least=(150.0, 50.0)) == ()
    assert largest_leftover(laid(rest), **RULE) == pytest.approx(left.area, abs=AREA)
    assert leftovers_of(laid(rest), **RULE)[0].side == "sawn"


@st.composite
def layouts(draw):
    on = draw(boards())
    x0, y0, x1, y1 = on.outline.bounds
    first = draw(st.tuples(st.floats(x0, x1 - 60), st.floats(y0, y1 - 40)))
    spread = draw(st.sampled_from([0.1, 0.4, 1.0]))
    boxes = [
        (first[0] + (x1 - 60 - first[0]) * dx * spread, first[1] + (y1 - 40 - first[1]) * dy * spread, 60, 40)
        for dx, dy in draw(st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1)), min_size=1, max_size=4))
    ]
    return laid(on, *boxes)


@given(layouts())
@settings(max_examples=60)
def test_leftovers_lie_in_the_wood_clear_of_parts_and_of_each_other(layout):
    found = leftovers_of(layout, **RULE)
    wood = to_polygon(layout.board.outline).buffer(1e-6)
    pieces = [shapely.affinity.translate(to_polygon(left.board.outline), *left.at) for left in found]
    for left, piece in zip(found, pieces, strict=True):
        assert left.board.outline.bounds[:2] == pytest.approx((0, 0), abs=LENGTH)
        assert left.board.outline.signed_area > 0
        assert wood.covers(piece)
        for placement in layout.placements:
            assert piece.distance(placement.polygon) >= 6 + 3 - 1e-6
        knots = shapely.union_all([to_polygon(knot) for knot in areas_of(left.board)])
        there = shapely.union_all([to_polygon(knot) for knot in areas_of(layout.board)])
        assert there.intersection(piece).area == pytest.approx(
            shapely.affinity.translate(knots, *left.at).intersection(piece).area, abs=1e-6
        )
    assert shapely.union_all(pieces).area == pytest.approx(sum(piece.area for piece in pieces), abs=1e-6)
    largest = max((left.area for left in found), default=0.0)
    assert largest_leftover(layout, **RULE) == pytest.approx(largest, abs=1e-6)


@example(board(300.0, 130.0, count=40, outline=dog_eared(300.0, 130.0, 5.0)), 60.0, 130.0)
@given(boards(), st.floats(60, 300), st.floats(30, 140))
@settings(max_examples=40)
def test_a_rectangle_fits_where_a_grid_of_tries_says_so(on, length, width):
    knots = shapely.union_all([to_polygon(knot) for knot in areas_of(on)])
    clear = to_polygon(on.outline).difference(knots)
    step = 4.0

    def found(length, width):
        x0, y0, x1, y1 = clear.bounds
        xs, ys = np.meshgrid(np.arange(x0, x1, step), np.arange(y0, y1, step))
        tries = shapely.box(xs, ys, xs + length, ys + width).ravel()
        shapely.prepare(clear)
        return bool(shapely.covers(clear, tries).any())

    parts = [piece for piece in shapely.get_parts(clear) if isinstance(piece, Polygon)]
    holds = any(_holds(piece, length, width) for piece in parts)
    if found(length, width):
        assert holds
    if holds:  # the grid finds it when it may be a step smaller either way
        assert found(length - step, width - step)
