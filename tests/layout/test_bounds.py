from __future__ import annotations

import itertools
import json
import math
import os
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st

from cutjob.errors import InputError
from cutjob.geometry.contour import Contour, circle, polyline, rectangle
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.bounds import (
    Capacity,
    LeastBoards,
    Piece,
    area_bound,
    boards_by_length,
    least_bins,
    least_boards,
    length_bound,
    piece_of,
)
from cutjob.layout.clear_space import padded_area, room_area
from cutjob.layout.layout import BoardLayout, Layout, Placement
from cutjob.layout.layout_job import lay_out
from cutjob.layout.rules import Clearance
from cutjob.layout.search.plan_search import POSITIONS
from cutjob.parts.part import SawnPart, ShapedPart
from tests.layout.judge import fine
from tests.layout.makers import areas_of, board, boards, dog_eared, item, part, parts, star

DATA = Path(os.environ.get("CUTJOB_DATA", Path(__file__).parents[4] / "shared" / "data")) / "sticks"

sizes = st.lists(st.integers(1, 60), min_size=1, max_size=9)


def _fewest(sizes: list[int], capacity: int) -> int:
    """The optimum, by trying every way to put the sizes in bins."""
    best = len(sizes)

    def put(index: int, bins: list[int]) -> None:
        nonlocal best
        if len(bins) >= best:
            return
        if index == len(sizes):
            best = len(bins)
            return
        for i, filled in enumerate(bins):
            if filled + sizes[index] <= capacity:
                put(index + 1, [*bins[:i], filled + sizes[index], *bins[i + 1 :]])
        put(index + 1, [*bins, sizes[index]])

    sizes = sorted(sizes, reverse=True)
    put(0, [])
    return best


@settings(max_examples=100, deadline=None)
@given(sizes)
def test_bins_are_never_more_than_the_optimum_nor_fewer_than_two_thirds(sizes: list[int]) -> None:
    # Martello and Toth (1990): the worst case of L2 is two thirds of the optimum.
    optimum = _fewest(sizes, 60)
    assert math.ceil(sum(sizes) / 60) <= least_bins(sizes, 60) <= optimum
    assert least_bins(sizes, 60) >= optimum * 2 / 3
    assert least_bins([size / 7 for size in sizes], 60 / 7) == least_bins(sizes, 60)


def test_bins_by_hand() -> None:
    assert least_bins([], 10) == 0
    assert least_bins([6, 6, 6], 10) == 3
    assert least_bins([7, 6, 4, 4], 10) == 3  # the bound of areas says 3 too; 7 and 6 apart, 4 beside 6, 4 alone
    assert least_bins([6, 6, 5, 5, 5], 10) == 4  # areas: 3
    assert least_bins([0.1] * 10, 1.0) == 1
    with pytest.raises(ValueError, match="more than the capacity"):
        least_bins([11], 10)


def test_bins_of_known_instances() -> None:
    # E. Falkenauer, Journal of Heuristics 2 (1996), with the best known numbers of bins (ESICUP datasets).
    source = DATA / "falkenauer.json"
    if not source.exists():
        pytest.skip(f"{source} is not here")
    instances = json.loads(source.read_text())["instances"]
    assert instances
    reached = 0
    for entry in instances:
        bound = least_bins(entry["pieces"], entry["stick"])
        assert entry["best_known"] - 1 <= bound <= entry["best_known"]
        reached += bound == entry["best_known"]
    assert reached >= len(instances) * 3 / 4


kinds = st.lists(
    st.builds(Capacity, area=st.integers(1, 30), count=st.integers(0, 3), price=st.integers(0, 12)),
    min_size=1,
    max_size=3,
)


@settings(max_examples=100, deadline=None)
@example([1, 7], [Capacity(area=7, count=1, price=0), Capacity(area=7, count=1, price=0)])
@given(st.lists(st.integers(1, 12), max_size=8), kinds)
def test_areas_are_covered_at_the_least_price_by_no_fewer_boards(areas: list[int], kinds: list[Capacity]) -> None:
    choices = list(itertools.product(*(range(kind.count + 1) for kind in kinds)))
    enough = [
        numbers
        for numbers in choices
        if sum(kind.area * number for kind, number in zip(kinds, numbers, strict=True)) >= sum(areas)
    ]
    bound = area_bound(areas, kinds)
    if bound is None:
        assert not enough or max(areas) > max(kind.area for kind in kinds if kind.count)
        return
    prices = [sum(kind.price * number for kind, number in zip(kinds, numbers, strict=True)) for numbers in enough]
    assert bound.price == pytest.approx(min(prices), abs=1e-9)
    assert bound.boards >= min(map(sum, enough))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(st.integers(1, 10), min_size=1, max_size=4), min_size=1, max_size=4), st.integers(0, 9))
def test_boards_filled_by_hand_are_never_fewer_than_the_bound(boards: list[list[int]], price: int) -> None:
    # Each board holds its pieces exactly or with some room left.
    kinds = [Capacity(area=sum(pieces) + i % 2, count=1, price=price + i) for i, pieces in enumerate(boards)]
    bound = area_bound([size for pieces in boards for size in pieces], kinds)
    assert bound is not None
    assert bound.boards <= len(boards)
    assert bound.price <= sum(kind.price for kind in kinds)


def test_prices_with_many_boards_are_bounded_in_little_work() -> None:
    kinds = [Capacity(area=100 + 7 * i, count=500, price=10 + 0.69 * i) for i in range(8)]
    bound = area_bound([50.0] * 4000, kinds)
    assert bound is not None
    cheapest = min(kind.price / kind.area for kind in kinds)
    assert 200_000 * cheapest * (1 - 1e-6) <= bound.price <= 200_000 * cheapest + 10


Rect = tuple[float, float]


def _sawn(draw: st.DrawFn, length: float, width: float, gap: float, depth: int) -> list[Rect]:
    """Cut a rectangle up with gaps between: pieces that surely fit it again."""
    way = draw(st.sampled_from(["along", "across", "no"])) if depth else "no"
    share = draw(st.floats(0.2, 0.8))
    if way == "along" and width > 8 * gap + 20:
        first = (width - gap) * share
        return _sawn(draw, length, first, gap, depth - 1) + _sawn(draw, length, width - gap - first, gap, depth - 1)
    if way == "across" and length > 8 * gap + 20:
        first = (length - gap) * share
        return _sawn(draw, first, width, gap, depth - 1) + _sawn(draw, length - gap - first, width, gap, depth - 1)
    return [(length, width)]


@st.composite
def _boards_sawn_up(draw: st.DrawFn) -> tuple[list[Rect], int, Clearance]:
    clearance = Clearance(gap=draw(st.floats(0, 12)), edge_margin=draw(st.floats(0, 8)))
    number = draw(st.integers(1, 4))
    usable = (600 - 2 * clearance.edge_margin, 140 - 2 * clearance.edge_margin)
    return [one for _ in range(number) for one in _sawn(draw, *usable, clearance.gap, 3)], number, clearance


@settings(max_examples=100, deadline=None)
@given(_boards_sawn_up(), st.sampled_from(["length", "none"]))
def test_boards_sawn_up_are_enough_for_their_pieces(made: tuple[list[Rect], int, Clearance], grain: str) -> None:
    pieces, number, clearance = made
    wanted = [part(rectangle(*size), grain=grain) for size in pieces]
    stock = board(600, 140)
    assert boards_by_length([(one, 1) for one in wanted], [stock], clearance=clearance) <= number
    room = Capacity(area=room_area(stock, clearance=clearance), count=number, price=1.0)
    bound = area_bound([padded_area(one, gap=clearance.gap) for one in wanted], [room])
    assert bound is not None
    assert bound.boards <= number
    assert bound.price <= number


@pytest.mark.parametrize(
    ("width", "number"),
    # 136 mm are left of the width: 68 and 68 lie side by side only without a gap, 65 and 65 with one of 6.
    [(80, 3), (68, 3), (65.1, 3), (65, 0), (40, 0)],
)
def test_what_cannot_lie_side_by_side_lies_in_a_row(width: float, number: int) -> None:
    rail = part(rectangle(320, width))
    clearance = Clearance(gap=6, edge_margin=2)
    assert boards_by_length([(rail, 3)], [board(600, 140)], clearance=clearance) == number


def test_gaps_count_between_pieces_in_a_row() -> None:
    for length, number in ((196.0, 1), (196.1, 2)):  # 3 x 196 + 2 x 4 = 596
        piece = Piece(length=length, width=100, count=3)
        assert length_bound([piece], length=596, width=136, gap=4) == number


def test_pieces_that_pass_each_other_cornerwise_need_less_than_a_gap() -> None:
    # 66 and 66 in 136 leave 4 across; with 3 along that is 5 mm. The two columns below are a layout that exists.
    lower = shapely.box(0, 0, 297, 66)
    upper = shapely.box(300, 70, 597, 136)
    assert lower.distance(upper) == pytest.approx(5)
    piece = Piece(length=297, width=66, count=2)
    assert length_bound([piece], length=597, width=136, gap=5) == 1
    assert length_bound([piece], length=596.9, width=136, gap=5) == 2


def test_wedges_that_lie_in_each_other_are_not_taken_for_their_boxes() -> None:
    # Two wedges 500 x 136 fill a board of 600 together, though both are as wide as the board.
    wedge = part(polyline([(0, 0), (500, 0), (40, 136), (0, 136)]))
    turned = Transform(x=596, y=136, degrees=180).region(wedge.region)
    assert fine(wedge.region).distance(fine(turned)) > 6
    clearance = Clearance(gap=6, edge_margin=2)
    assert boards_by_length([(wedge, 2)], [board(600, 140)], clearance=clearance) <= 1
    # A third does not go in: the tall ends alone are more than the length.
    tall = part(polyline([(0, 0), (400, 0), (300, 136), (0, 136)]))
    assert boards_by_length([(tall, 3)], [board(600, 140)], clearance=clearance) >= 2


@settings(max_examples=30, deadline=None)
@given(parts(most=1), st.floats(20, 120), st.floats(0, 360))
def test_a_piece_is_a_rectangle_within_the_part_in_any_turn_it_may_have(
    made: tuple[ShapedPart, ...], width: float, degrees: float
) -> None:
    (one,) = made
    piece = piece_of(one, count=1, width=width, along=True)
    if piece.length == 0:
        return
    if one.grain == "length":
        degrees = 180 * (degrees > 180)
    polygon = fine(Transform(degrees=degrees).region(one.region))
    x0, y0, x1, y1 = polygon.bounds
    # It is in there somewhere: brute force over a grid, with a rectangle a little smaller than said.
    less = 0.85
    xs = [x0 + (x1 - x0 - less * piece.length) * i / 60 for i in range(121)]
    ys = [y0 + (y1 - y0 - less * piece.width) * i / 60 for i in range(121)]
    shapely.prepare(polygon)
    grid = shapely.box(
        *zip(*((x, y, x + less * piece.length, y + less * piece.width) for x in xs for y in ys), strict=True)
    )
    assert shapely.covers(polygon, grid).any()


@settings(max_examples=30, deadline=None)
@given(parts(most=1), st.integers(0, 120).map(lambda tenths: tenths / 10))
def test_the_area_of_a_part_and_half_its_gap_is_close_and_never_too_much(
    made: tuple[ShapedPart, ...], gap: float
) -> None:
    region = made[0].region
    exact = shapely.buffer(fine(region).buffer(0), gap / 2, quad_segs=100).area
    found = padded_area(made[0], gap=gap)
    border = region.outline.length + sum(hole.length for hole in region.holes)
    assert found <= exact + 1e-3 * border
    assert found >= exact - (0.005 + 0.02 * gap) * border


@settings(max_examples=30, deadline=None)
@given(boards(), st.integers(0, 9), st.integers(0, 6))
def test_the_room_of_a_board_is_close_and_never_too_little(stock: Board, gap: int, margin: int) -> None:
    outline = fine(stock.outline)
    knots = [fine(knot).buffer(gap / 2, quad_segs=200) for knot in areas_of(stock)]
    exact = outline.buffer(gap / 2 - margin, join_style="mitre").difference(shapely.union_all(knots)).area
    found = room_area(stock, clearance=Clearance(gap=gap, edge_margin=margin))
    border = stock.outline.length + sum(knot.length for knot in areas_of(stock))
    assert exact - 1e-6 * exact <= found <= exact + (0.01 + 0.03 * (gap + margin)) * border


def test_stars_and_discs_in_a_row() -> None:
    shapes: list[Contour] = [star(6, 60, 50), circle((0, 0), 60), dog_eared(300, 120, 20)]
    clearance = Clearance(gap=6, edge_margin=2)
    for shape in shapes:
        one = part(shape, grain="none")
        number = boards_by_length([(one, 20)], [board(600, 140)], clearance=clearance)
        x0, y0, x1, y1 = one.region.bounds
        in_a_row = int((596 + 6) // (x1 - x0 + 6))
        assert y1 - y0 <= 136
        assert 1 <= number <= math.ceil(20 / in_a_row)
    turned = replace(part(rectangle(300, 120)), grain="none")
    assert boards_by_length([(turned, 2)], [board(600, 140, grain="none")], clearance=clearance) <= 2


def _used(found: Layout) -> dict[str, int]:
    used = Counter(dict(found.sawn_from))
    for entry in found.boards:
        if not entry.board.sawn_off:
            used[entry.board.name] += entry.stack * entry.copies
    return used


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.function_scoped_fixture],
)
@given(parts(), boards(), st.floats(0, 9), st.floats(0, 6), st.integers(1, 6), st.booleans())
def test_no_layout_takes_fewer_boards_than_its_bound(
    monkeypatch: pytest.MonkeyPatch,
    pieces: tuple[ShapedPart, ...],
    stock: Board,
    gap: float,
    margin: float,
    count: int,
    sawn: bool,
) -> None:
    monkeypatch.setitem(POSITIONS, "quick", 60_000)
    wish = item(*pieces, count=count, sawn=(SawnPart(name="post", length=90.0),) if sawn else ())
    try:
        found = lay_out(
            [wish], [stock], gap=gap, edge_margin=margin, stack=1, saw_kerf=3.0, seed=0, effort="quick"
        )  # fmt: skip
    except InputError:
        assume(False)
    used = _used(found)
    least = least_boards(found, [stock], used=used, clearance=Clearance(gap=gap, edge_margin=margin))
    assert least is not None
    assert 1 <= least.count <= sum(used.values())
    assert not (least.cheaper and least.count == sum(used.values()))


def test_the_least_boards_of_a_job() -> None:
    plank = board(600, 140, count=9)
    clearance = Clearance(gap=6, edge_margin=2)

    def bound(size: tuple[float, float], taken: int) -> LeastBoards | None:
        one = part(rectangle(*size))
        on = Placement(part=one, item="perch", unit=1, transform=Transform(x=2, y=2))
        layout = Layout(
            boards=(BoardLayout(id="board-01", board=plank, placements=(on,), copies=taken),),
            gap=6.0,
            edge_margin=2.0,
            seed=0,
        )
        return least_boards(layout, [plank], used={plank.name: taken}, clearance=clearance)

    # Two of 310 x 75 lie neither beside nor behind each other; by area three would lie on one board.
    assert bound((310, 75), 4) == LeastBoards(count=4, by="length", cheaper=False)
    assert bound((200, 60), 4) == LeastBoards(count=1, by="area", cheaper=True)
    assert bound((596, 136), 4) == LeastBoards(count=4, by="area", cheaper=False)
