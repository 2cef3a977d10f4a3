from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from cutjob.geometry.polygons import to_polygon
from cutjob.holding.hold_downs import Places, as_hold_downs, hold_down_places
from cutjob.job.machine import Screws
from cutjob.job.read_machine import read_machine
from tests.layout.makers import dog_eared

HEAD, MARGIN, EVERY, EDGE = 16.0, 3.0, 250.0, 6.35
CLEAR = HEAD / 2 + MARGIN
EXACT = 1e-6  # mm: sums and differences of floats up to some thousands
ROUNDS = 0.01  # mm: places found along the waste keep so much more off, by tangents where rounds would do
FOUND, LACKING = 0.5, 0.2  # mm: the room of the roomiest place, and what waste lacks, are found to this
GRID = 2.0  # mm
PICKET = shapely.box(0, 0, 72 * 25.4, 5.5 * 25.4)


def places(board: shapely.Geometry, *busy: Polygon, every: float = EVERY, edge: float = EDGE) -> Places:
    return hold_down_places(board, busy=busy, head_diameter=HEAD, margin=MARGIN, every=every, edge=edge)


def assert_clear(found: Places, board: Polygon, busy: list[Polygon], edge: float = EDGE) -> None:
    for at in found.at:
        point = shapely.Point(at)
        assert board.contains(point)
        assert shapely.distance(point, shapely.boundary(board)) >= edge - EXACT
        assert all(shapely.distance(point, area) >= CLEAR - EXACT for area in busy)
    for one, other in pairwise(found.at):
        assert one[0] <= other[0]
        assert math.dist(one, other) >= HEAD + MARGIN - EXACT


def stretches(found: Places, board: Polygon) -> list[tuple[float, float]]:
    x0, _, x1, _ = board.bounds
    return list(pairwise([x0, *(x for x, _ in found.at), x1]))


def grid_places(board: Polygon, busy: list[Polygon], edge: float = EDGE, more: float = 0.0) -> np.ndarray:
    """All places of a grid, by plain distances; `more` is asked beyond what the package is asked for."""
    x0, y0, x1, y1 = board.bounds
    xs, ys = np.arange(x0 + 0.5, x1, GRID), np.arange(y0 + 0.5, y1, GRID)
    points = shapely.points(*(axis.ravel() for axis in np.meshgrid(xs, ys)))
    good = shapely.contains(board, points) & (shapely.distance(shapely.boundary(board), points) >= edge + more)
    for area in busy:
        good &= shapely.distance(area, points) >= CLEAR + more
    return shapely.get_coordinates(points[good])


def fewest(xs: np.ndarray, first: float, last_one: float, every: float) -> int | None:
    """How few of these x it takes, the first and the last no further in than given: always the furthest that may be."""
    count, limit, last = 0, first, -math.inf
    while last < last_one:
        following = xs[(xs > last) & (xs <= limit)]
        if not len(following):
            return None
        last = float(following.max())
        limit = last + every
        count += 1
    return count


def mm(least: float, most: float) -> st.SearchStrategy[float]:
    """Lengths to 1/8 mm, so that edges meet; no smaller numbers, by which GEOS divides."""
    return st.integers(math.ceil(least * 8), math.floor(most * 8)).map(lambda eighths: eighths / 8)


@st.composite
def boards(draw: st.DrawFn) -> tuple[Polygon, list[Polygon]]:
    """Boards with turned boxes and discs on them, some of which leave hardly any waste."""
    length, width = draw(mm(60, 900)), draw(mm(30, 200))
    outline = dog_eared(length, width, draw(mm(1, 0.3 * width))) if draw(st.booleans()) else None
    board = to_polygon(outline) if outline else shapely.box(0, 0, length, width)
    busy: list[Polygon] = []
    for _ in range(draw(st.integers(0, 6))):
        x, y = draw(mm(0, length)), draw(mm(0, width))
        if draw(st.booleans()):
            busy.append(shapely.Point(x, y).buffer(draw(mm(2, 80)), quad_segs=32))
        else:
            box = shapely.box(x, y, x + draw(mm(5, 400)), y + draw(mm(5, 150)))
            busy.append(shapely.affinity.rotate(box, draw(mm(0, 90))))
    if draw(st.booleans()):
        x, rest = draw(mm(0, length)), draw(mm(0, 40))
        busy.append(shapely.box(x, rest, x + draw(mm(50, 600)), width))
    return board, busy


EVERIES = st.sampled_from([80.0, 160.0, 250.0])
EDGES = st.sampled_from([0.0, EDGE, 12.0])


@given(boards(), EVERIES, EDGES)
@settings(max_examples=50)
def test_clear_of_all_that_is_busy_and_never_too_far_unless_told(
    case: tuple[Polygon, list[Polygon]], every: float, edge: float
) -> None:
    board, busy = case
    found = places(board, *busy, every=every, edge=edge)
    assert_clear(found, board, busy, edge)
    assert len(found.lacking) == len(found.too_far)
    far = [ends for ends in stretches(found, board) if ends[1] - ends[0] > every + EXACT]
    assert set(far) <= set(found.too_far) <= set(stretches(found, board))
    if not found.too_far:
        assert len(found.at) >= 2
    assert found == places(board, *busy, every=every, edge=edge)


@given(boards(), EVERIES, EDGES)
@settings(max_examples=50)
def test_where_none_is_told_of_a_grid_has_none_and_with_a_grid_it_takes_no_fewer(
    case: tuple[Polygon, list[Polygon]], every: float, edge: float
) -> None:
    board, busy = case
    found = places(board, *busy, every=every, edge=edge)
    grid = grid_places(board, busy, edge, more=ROUNDS)
    for first, last in found.too_far:
        within = grid[(grid[:, 0] > first + EXACT) & (grid[:, 0] < last - EXACT)]
        # Where there is room for one but not for two, the other places are those nearer to it than two may be.
        assert all(any(math.dist(at, other) < HEAD + MARGIN + ROUNDS for other in found.at) for at in within)
    if found.too_far:
        return
    x0, _, x1, _ = board.bounds
    near = [min(abs(x - end) for x, _ in found.at) <= every / 2 + EXACT for end in (x0, x1)]
    for end, is_near in zip((x0, x1), near, strict=True):
        assert is_near or not (abs(grid[:, 0] - end) <= every / 2).any()
    reach = [every / 2 if is_near else every for is_near in near]
    count = fewest(grid[:, 0], x0 + reach[0], x1 - reach[1], every)
    assert count is None or len(found.at) <= max(count, 2)


@given(boards())
@settings(max_examples=30)
def test_a_board_turned_round_takes_as_many_and_lacks_the_same(case: tuple[Polygon, list[Polygon]]) -> None:
    board, busy = case
    found, turned = (
        places(*(shapely.affinity.scale(shape, side, side, origin=(0, 0)) for shape in (board, *busy)))
        for side in (1, -1)
    )
    if found.too_far or turned.too_far:
        assert len(found.too_far) == len(turned.too_far)
        return
    assert len(found.at) == len(turned.at)


def test_a_bare_picket_has_one_at_each_end_both_sides_in_turn() -> None:
    found = places(PICKET)
    # Seven reach over six steps of 250 and 125 at both ends: 1750, less than 1828.8.
    assert len(found.at) == 8
    assert found.too_far == ()
    middle = 5.5 * 25.4 / 2
    sides = [y > middle for _, y in found.at]
    assert all(one != other for one, other in pairwise(sides))
    assert found.at[0][0] <= 125
    assert found.at[-1][0] >= 1828.8 - 125


def test_no_more_than_it_takes_to_the_millimetre() -> None:
    # Seven reach over 6 x 250 and 125 at both ends: 1750.
    assert len(places(shapely.box(0, 0, 1749, 140)).at) == 7
    assert len(places(shapely.box(0, 0, 1751, 140)).at) == 8


def test_the_shipped_spacing_is_that_of_common_practice() -> None:
    # [P] common practice, no source: screws in the waste every 6 to 12 in along a board.
    for name in ("bench-router", "long-bed-router"):
        screws = read_machine(name, beside=None).screws
        assert screws is not None
        assert 6 * 25.4 <= screws.every <= 12 * 25.4
        found = hold_down_places(
            PICKET, busy=(), head_diameter=screws.head, margin=screws.margin, every=screws.every, edge=screws.hole
        )
        assert 72 / 12 <= len(found.at) <= 72 / 6 + 1
        downs = as_hold_downs(found, screws)
        assert [down.at for down in downs] == list(found.at)
        assert {(down.diameter, down.head, down.height) for down in downs} == {
            (screws.hole, screws.head / 2, screws.height)
        }
        assert all(down.window is None for down in downs)


def test_the_roomiest_waste_is_taken() -> None:
    # Parts of 180 with 30 mm between them, but for one wide gap of 60 from 390 to 450.
    busy = [shapely.box(x, 20, x + 180, 120) for x in (0, 210, 450, 660)]
    found = places(shapely.box(0, 0, 840, 140), *busy, edge=12)
    near = [x for x, _ in found.at if 390 < x < 450]
    assert len(near) == 1
    assert near[0] - 390 >= 2 * CLEAR - FOUND
    assert 450 - near[0] >= 2 * CLEAR - FOUND


def test_a_stretch_whose_waste_is_too_thin_is_told_with_what_it_lacks() -> None:
    # A part 600 long leaves strips of 15 along a board; beside an edge a screw needs 6.35 + 11 = 17.35.
    board = shapely.box(0, 0, 1000, 140)
    found = places(board, shapely.box(200, 15, 800, 125))
    (ends,) = found.too_far
    # The clear round of a head at the edge touches the part's corners.
    past = math.sqrt(CLEAR**2 - (15 - EDGE) ** 2)
    assert ends == pytest.approx((200 - past, 800 + past), abs=ROUNDS)
    assert found.lacking == pytest.approx((17.35 - 15,), abs=LACKING)
    assert_clear(found, board, [shapely.box(200, 15, 800, 125)])
    # With parts over the whole length there is none at all.
    found = places(board, shapely.box(0, 15, 1000, 125))
    assert found.at == ()
    assert found.too_far == ((0, 1000),)
    assert found.lacking == pytest.approx((17.35 - 15,), abs=LACKING)
    assert places(board, shapely.box(0, 17.36, 1000, 125)).too_far == ()


def test_one_place_alone_is_too_few() -> None:
    # A board 100 long, whose waste is one disc of 24: room for one head of 22, and none for two of 16 + 3 apart.
    board = shapely.box(0, 0, 100, 100)
    busy = board.difference(shapely.Point(40, 50).buffer(12, quad_segs=64))
    found = places(board, busy)
    assert len(found.at) == 1
    ((first, last),) = found.too_far
    assert (first, last) == (found.at[0][0], 100)
    # A slot of 22.5 is wide enough for heads; two of them need 22 + 19 of its length.
    short = board.difference(shapely.box(39, 55, 61.5, 95.9))
    assert len(places(board, short).at) == 1
    assert places(board, short).too_far != ()
    slot = board.difference(shapely.box(39, 54.5, 61.5, 95.9))
    assert len(places(board, slot).at) == 2
    assert places(board, slot).too_far == ()


def test_heads_may_stand_over_the_edge_but_their_middles_keep_off_it() -> None:
    board = shapely.box(0, 0, 300, 60)
    found = places(board, shapely.box(0, 13.1, 300, 60), edge=2)
    assert len(found.at) >= 2
    assert all(2 <= y <= 2.1 for _, y in found.at)


def test_no_wood_is_refused() -> None:
    with pytest.raises(ValueError, match="no wood"):
        places(Polygon())


def test_screws_as_hold_downs() -> None:
    screws = Screws(hole=4, head=10, height=3, margin=2, every=200)
    (down,) = as_hold_downs(Places(at=((20.0, 30.0),), too_far=(), lacking=()), screws)
    assert (down.at, down.diameter, down.head, down.height) == ((20.0, 30.0), 4, 5, 3)
