"""How many boards a job uses up, what they cost, and how much of their wood ends up in parts."""

from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cutjob.costs.wood_used import boards_used, wood_cost, wood_yield
from cutjob.errors import InputError
from cutjob.geometry.contour import rectangle
from cutjob.job.model import BoardStock
from cutjob.job.stock import board_of
from cutjob.layout.layout import BoardLayout, Layout, SawnPiece
from cutjob.layout.layout_job import lay_out
from cutjob.layout.search import plan_search
from cutjob.parts.part import SawnPart
from tests.layout.makers import INCH, item, part
from tests.output.samples import layout, picket

# Of sums of a few areas in mm2, relative.
ROUNDING = 1e-9


def job_layout(*boards, sawn=(), sawn_from=()):
    return Layout(boards=boards, sawn=sawn, gap=5.0, edge_margin=3.0, seed=0, sawn_from=sawn_from)


def on(board, *, stack=1, copies=1):
    return BoardLayout(id="board-01", board=board, placements=(), stack=stack, copies=copies)


def test_boards_sawn_up_count_though_nothing_lies_on_them():
    piece = SawnPiece(
        item="bench", part="leg", length=914.4, width=139.7, thickness=15.875, count=2, board="cedar picket"
    )
    used = job_layout(sawn=(piece,), sawn_from=(("cedar picket", 1),))
    assert boards_used(used) == {"cedar picket": 1}
    assert wood_cost(used, [picket()]) == 3.4
    # Two pieces of a yard are the whole picket of two yards; what is missing at the ears is 1 1/4 in squared.
    board = 1828.8 * 139.7 - 31.75**2
    assert wood_yield(used, [picket()]) == pytest.approx(1828.8 * 139.7 / board, rel=ROUNDING)


def test_a_sawn_board_with_parts_on_the_rest_counts_once():
    rest = replace(picket(), sawn_off=425.45)
    used = job_layout(on(rest, stack=2), on(picket(), copies=3), sawn_from=(("cedar picket", 3),))
    # Three were sawn, two of which carry parts, and three whole ones are cut.
    assert boards_used(used) == {"cedar picket": 6}
    assert wood_cost(used, [picket()]) == pytest.approx(6 * 3.4, rel=ROUNDING)


def test_every_kind_has_its_own_price_and_area():
    end_cut = board_of(BoardStock.model_validate({"name": "end cut", "length": 300, "width": 100, "thickness": 15.875}))
    piece = SawnPiece(item="bench", part="leg", length=200, width=100, thickness=15.875, count=1, board="end cut")
    used = job_layout(layout(), sawn=(piece,), sawn_from=(("end cut", 1),))
    kinds = [end_cut, picket()]
    assert wood_cost(used, kinds) == 3.4
    parts = sum(placement.part.region.area for placement in layout().placements)
    assert wood_yield(used, kinds) == pytest.approx(
        (parts + 200 * 100) / (picket().outline.signed_area + 300 * 100), rel=ROUNDING
    )


def test_no_board_no_yield():
    assert wood_yield(job_layout(), [picket()]) is None
    assert wood_cost(job_layout(), [picket()]) == 0


@pytest.fixture(scope="module", autouse=True)
def _short_search():
    """A small part of the quick search: how full boards get is tested with the layouts."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(plan_search.POSITIONS, "quick", 20_000)
        yield


@settings(max_examples=40)
@given(
    lengths=st.lists(st.floats(1.0, 71.9), max_size=4),
    count=st.integers(1, 2),
    slats=st.lists(st.tuples(st.floats(40, 300), st.floats(20, 120)), max_size=3),
    corners=st.sampled_from([None, "left", "right", "both"]),
    stack=st.integers(1, 2),
)
def test_parts_and_pieces_never_come_to_more_than_the_boards(lengths, count, slats, corners, stack):
    stock = {"name": "picket", "length": "6 ft", "width": "5 1/2 in", "thickness": 16, "count": 12, "price": 3.4}
    if corners:
        stock["corners"] = {"size": "1 1/4 in", "end": corners}
    boards = [
        board_of(BoardStock.model_validate(stock)),
        board_of(BoardStock.model_validate(stock | {"name": "end cut", "length": "20 in", "count": 2, "price": 0.0})),
    ]
    sawn = tuple(SawnPart(name=f"leg {number}", length=inches * INCH) for number, inches in enumerate(lengths))
    parts = [part(rectangle(*size), name=f"slat {number}") for number, size in enumerate(slats)]
    assume(sawn or parts)
    try:
        found = lay_out(
            [item(*parts, count=count, sawn=sawn)],
            boards,
            gap=6.0,
            edge_margin=2.0,
            stack=stack,
            saw_kerf=3.175,
            seed=0,
            effort="quick",
        )
    except InputError:  # a leg longer than any square board
        return
    share = wood_yield(found, boards)
    assert share is not None
    assert 0 < share <= 1 + ROUNDING
    used = boards_used(found)
    assert all(0 < used[board.name] <= board.count for board in boards if board.name in used)
    assert wood_cost(found, boards) == pytest.approx(3.4 * used.get("picket", 0), rel=ROUNDING)
    assert {piece.board for piece in found.sawn} | {board.board.name for board in found.boards} == set(used)
