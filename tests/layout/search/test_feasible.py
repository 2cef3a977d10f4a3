from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cutjob.geometry.contour import Contour, Region, circle, polyline, rectangle
from cutjob.geometry.segment import Arc, Line, Segment
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.misfit import turns_to_try
from cutjob.layout.rules import Clearance
from cutjob.layout.search import feasible
from cutjob.layout.search.feasible import fits_alone
from cutjob.parts.part import ShapedPart
from cutjob.tolerances import TOLERANCES
from tests.layout.judge import SLACK, fine
from tests.layout.makers import areas_of, board, boards, dog_eared, ell, kept_out, moon, part, parts, ring, star

USUAL = Clearance(gap=6, edge_margin=2)
BARE = Clearance(gap=0, edge_margin=0)
STRAIGHT = ((0.0, False),)


def fits(piece: ShapedPart, stock: Board, clearance: Clearance = USUAL) -> Transform | None:
    angles = turns_to_try(piece, stock, edge_margin=clearance.edge_margin)
    return fits_alone(piece, stock, clearance=clearance, angles=angles)


def assert_clear(piece: ShapedPart, stock: Board, clearance: Clearance, at: Transform) -> None:
    """By plain Shapely distances between polygons within a ten thousandth of a mm."""
    placed, outline = fine(at.region(piece.region)), fine(stock.outline)
    assert outline.buffer(SLACK).covers(placed)
    assert placed.distance(outline.exterior) >= clearance.edge_margin - SLACK
    for knot in areas_of(stock):
        assert placed.distance(fine(knot)) >= clearance.gap - SLACK
        if clearance.gap <= SLACK:
            assert not placed.buffer(-SLACK).intersects(fine(knot).buffer(-SLACK))


_share = st.integers(0, 100).map(lambda percent: percent / 100)


@settings(max_examples=40, deadline=None)
@given(parts(most=1), boards(), st.floats(0, 9), st.floats(0, 6), st.floats(0, 360), st.floats(0.5, 5), st.data())
def test_a_place_found_is_clear_and_none_is_overlooked(
    made: tuple[ShapedPart, ...],
    stock: Board,
    gap: float,
    margin: float,
    degrees: float,
    size: float,
    data: st.DataObject,
) -> None:
    clearance = Clearance(gap=gap, edge_margin=margin)
    piece = _scaled(made[0], size)
    more = data.draw(st.lists(st.tuples(_share, _share, st.integers(5, 60)), max_size=5))
    squares = [
        Transform(x=x * stock.length, y=y * stock.width, degrees=s).contour(ell(s, s, s / 3)) for x, y, s in more
    ]
    stock = replace(stock, keep_outs=(*stock.keep_outs, *kept_out(squares)))
    turn = (degrees, data.draw(st.booleans()))
    at = fits_alone(piece, stock, clearance=clearance, angles=[turn])
    if at is not None:
        assert (at.degrees, at.mirrored) == turn
        assert_clear(piece, stock, clearance, at)
        return
    # Brute force: no position of a grid, and none near where it is best, is clear by more than the tolerance.
    shape = fine(Transform(degrees=degrees, mirrored=turn[1]).region(piece.region)).simplify(0.01)
    outline = fine(stock.outline).simplify(0.01)
    knots = [fine(knot).simplify(0.01) for knot in areas_of(stock)]
    x0, y0, x1, y1 = shape.bounds
    length, width = stock.length, stock.width
    for x in np.linspace(-x0, length - x1, 14) if x1 - x0 <= length else ():
        for y in np.linspace(-y0, width - y1, 10) if y1 - y0 <= width else ():
            placed = shapely.affinity.translate(shape, x, y)
            clear = outline.covers(placed) and placed.distance(outline.exterior) > margin + 0.05
            assert not (clear and all(placed.distance(knot) > gap + 0.05 for knot in knots))


def _scaled(piece: ShapedPart, size: float) -> ShapedPart:
    def grown(contour: Contour) -> Contour:
        return Contour(tuple(_grown(segment, size) for segment in contour.segments))

    region = piece.region
    return replace(piece, region=Region(grown(region.outline), tuple(grown(hole) for hole in region.holes)))


def _grown(segment: Segment, size: float) -> Segment:
    start, end = ((size * x, size * y) for x, y in (segment.start, segment.end))
    if isinstance(segment, Line):
        return Line(start, end)
    return Arc(start, end, (size * segment.centre[0], size * segment.centre[1]), segment.clockwise)


@settings(max_examples=30, deadline=None)
@given(st.floats(20, 500), st.floats(10, 130), st.floats(0, 5), st.sampled_from([0.0, 90.0, 180.0, 270.0]))
def test_a_part_as_large_as_the_board_less_its_margin_fits_and_a_larger_does_not(
    length: float, width: float, margin: float, degrees: float
) -> None:
    clearance = Clearance(gap=6, edge_margin=margin)
    stock = board(length + 2 * margin, width + 2 * margin)
    sides = (length, width) if degrees % 180 == 0 else (width, length)
    for extra, fit in ((0.0, True), (2 * TOLERANCES.gap, False)):
        piece = part(rectangle(sides[0] + extra, sides[1]))
        at = fits_alone(piece, stock, clearance=clearance, angles=[(degrees, False)])
        assert (at is not None) == fit
        if at is not None:
            assert_clear(piece, stock, clearance, at)


@pytest.mark.parametrize("margin", [0.0, 2.0, 7.5])
def test_a_copy_of_a_dog_eared_board_fits_it_exactly(margin: float) -> None:
    # The ears of 20 mm at 45 degrees: inset by m they start m (1 - tan 22.5) further along the shortened side.
    stock = board(outline=dog_eared(600, 140, 20))
    ear = 20 - margin * (2 - math.sqrt(2))
    for extra, fit in ((0.0, True), (-2 * TOLERANCES.gap, False)):
        piece = part(dog_eared(600 - 2 * margin, 140 - 2 * margin, ear + extra))
        at = fits_alone(piece, stock, clearance=Clearance(gap=6, edge_margin=margin), angles=STRAIGHT)
        assert (at is not None) == fit


@pytest.mark.parametrize(("radius", "fit"), [(50.0, True), (50.002, False)])
def test_a_disc_between_a_knot_and_the_edges(radius: float, fit: bool) -> None:
    # A disc in the right end of a board 114 wide: 60 + 6 + 4 from its left to the knot's middle, 2 to the edges.
    stock = board(110 + 60, 104, keep_outs=kept_out((circle((52, 52), 10),)))
    at = fits_alone(part(circle((0, 0), radius)), stock, clearance=USUAL, angles=STRAIGHT)
    assert (at is not None) == fit
    if at is not None:
        assert (at.x, at.y) == pytest.approx((118, 52), abs=TOLERANCES.gap)


def test_an_arm_exactly_as_wide_as_a_part() -> None:
    stock = board(outline=ell(320, 110, 100))
    assert fits(part(rectangle(200, 96)), stock)
    assert fits(part(rectangle(200, 96.002)), stock) is None


def test_a_keep_out_may_lie_in_a_hole() -> None:
    stock = board(130, 140, keep_outs=kept_out((circle((65, 70), 20),)))
    at = fits(part(ring(60, 26)), stock)
    assert at is not None
    assert (at.x, at.y) == pytest.approx((65, 70), abs=TOLERANCES.gap)
    assert fits(part(ring(60, 25.998)), stock) is None
    assert fits(part(circle((0, 0), 60)), stock) is None
    square = replace(stock, keep_outs=kept_out((Transform(x=60, y=60).contour(rectangle(10, 10)),)))
    frame = Region(rectangle(100, 100), (ell(60, 60, 24).reversed(),))  # an opening that is not convex
    for region, fit in ((frame, True), (Region(frame.outline, (rectangle(21, 60).reversed(),)), False)):
        moved = Transform(x=20, y=20).contour(region.holes[0])
        piece = part(Region(region.outline, (moved,)))
        at = fits(piece, square)
        assert (at is not None) == fit
        if at is not None:
            assert_clear(piece, square, USUAL, at)


def test_two_keep_outs_need_two_holes_or_one_wide_enough() -> None:
    knots = (circle((40, 50), 5), circle((100, 50), 5))
    stock = board(144, 104, keep_outs=kept_out(knots))
    plate = rectangle(138, 100)
    two = (circle((38, 48), 14).reversed(), circle((98, 48), 14).reversed())
    assert fits(part(Region(plate, two)), stock)
    assert fits(part(Region(plate, two[:1])), stock) is None
    assert fits(part(Region(plate, (Transform(x=20, y=30).contour(rectangle(100, 40)).reversed(),))), stock)


def test_a_moon_lies_round_a_knot() -> None:
    stock = board(130, 110, keep_outs=kept_out((circle((85, 50), 10),)))
    at = fits(part(moon(40)), stock)
    assert at is not None
    assert_clear(part(moon(40)), stock, USUAL, at)


def test_parts_with_grain_turn_by_half_turns_and_mirror_only_where_they_may() -> None:
    post = part(rectangle(60, 150))
    assert list(turns_to_try(post, board())) == [(0.0, False), (180.0, False)]
    assert fits(post, board()) is None
    found = fits(replace(post, grain="none"), board())
    assert found is not None
    assert found.degrees in (90.0, 270.0)
    hook = part(polyline([(0, 0), (100, 0), (100, 20), (20, 20), (20, 60), (0, 60)]))
    corner = board(outline=polyline([(0, 0), (130, 0), (130, 90), (105, 90), (105, 27), (0, 27)]))
    assert fits(hook, corner) is None
    found = fits(replace(hook, may_mirror=True), corner)
    assert found is not None
    assert found.mirrored


def _carver(a: float, b: float, p: float, q: float) -> bool:
    """Whether a p x q rectangle (p >= q) fits an a x b one (a >= b) in some turn.

    W. B. Carver, "Solution to problem E 1225", American Mathematical Monthly 64 (1957), 114-116 [M].
    """
    if p <= a:
        return q <= b
    square = p * p + q * q
    return q <= b and b >= (2 * p * q * a + (p * p - q * q) * math.sqrt(square - a * a)) / square


@settings(max_examples=60, deadline=None)
@given(st.floats(60, 200), st.floats(0.3, 1), st.floats(0.9, 1.4), st.floats(0.01, 0.6))
def test_any_turn_of_a_rectangle_in_a_rectangle_is_found(a: float, flat: float, p: float, q: float) -> None:
    b, p, q = a * flat, a * p, a * p * q
    step = 0.003  # three times the tolerance
    sure = _carver(a - step, b - step, p, q)
    assume(sure == _carver(a + step, b + step, p, q))
    piece, stock = part(rectangle(p, q), grain="none"), board(a, b)
    at = fits(piece, stock, BARE)
    assert (at is not None) == sure
    if at is not None:
        assert_clear(piece, stock, BARE, at)


@settings(max_examples=20, deadline=None)
@given(st.integers(3, 7), st.floats(0.3, 0.9), st.floats(0, 360), st.floats(0.8, 1.3), st.booleans())
def test_any_turn_of_any_part_in_a_rectangle_is_found(
    points: int, share: float, degrees: float, flat: float, mirrored: bool
) -> None:
    shape = Transform(degrees=17).contour(star(points, 50, 50 * share))
    piece = part(polyline([(x, flat * y) for x, y in shape.points(0.01)]), grain="none", may_mirror=mirrored)
    x0, y0, x1, y1 = Transform(degrees=degrees, mirrored=mirrored).region(piece.region).bounds
    # A board made to measure for a turn nobody would guess.
    stock = board(x1 - x0 + 4, y1 - y0 + 4)
    at = fits(piece, stock)
    assert at is not None
    assert_clear(piece, stock, USUAL, at)


def test_three_hundred_kinds_on_five_boards_never_reach_the_sums(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object) -> None:
        raise AssertionError("a rectangle on a rectangular board needs no area of positions")

    monkeypatch.setattr("cutjob.layout.search.feasible._position", never)
    stock = [board(600 - 10 * i, 140 - i) for i in range(5)]
    made = [part(rectangle(20 + 2.1 * i, 10 + (i * 37) % 135), grain="none") for i in range(300)]
    fitting = [sum(fits(piece, one) is not None for one in stock) for piece in made]
    assert 0 < sum(fitting) < 1500


def test_a_part_too_thick_in_any_turn_is_given_up_after_few(monkeypatch: pytest.MonkeyPatch) -> None:
    tried: list[object] = []
    position = feasible._position
    monkeypatch.setattr(feasible, "_position", lambda *given: tried.append(given) or position(*given))
    knots = tuple(circle((120 * i + 60, 40 + 20 * (i % 4)), 12) for i in range(5))
    stock = board(outline=dog_eared(600, 140, 20), keep_outs=kept_out(knots))
    piece = part(star(40, 66, 60), grain="none", may_mirror=True)
    assert fits(piece, stock) is None
    assert len(tried) < 12
    assert fits(piece, replace(stock, keep_outs=kept_out(knots[:2]))) is not None
    # A thin bow has no thick place and is tried in every turn.
    tried.clear()
    bow = polyline([(0, 0), (120, 0), (120, 100), (110, 100), (110, 10), (10, 10), (10, 130), (0, 130)])
    crowded = tuple(circle((30 * i + 15, 20 + 50 * k), 8) for i in range(20) for k in range(3))
    assert fits(part(bow, grain="none"), replace(stock, keep_outs=kept_out(crowded))) is None
    assert len(tried) > 12
