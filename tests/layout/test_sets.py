from __future__ import annotations

from collections import Counter
from itertools import product

import pytest

from cutjob.geometry.contour import Region, rectangle
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout, Layout, Placement
from cutjob.layout.sets import sets_of
from cutjob.parts.part import Build, Item, ShapedPart
from tests.output.samples import picket

SLAT = ShapedPart(name="slat", region=Region(rectangle(100.0, 20.0)))
CAP = ShapedPart(name="cap", region=Region(rectangle(50.0, 20.0)))


def _item(count: int, *parts: ShapedPart, together: bool = False) -> Item:
    return Item(name="gate", design="gate", size="small", count=count, build=Build(shaped=parts), together=together)


def _board(number: int, *placed: tuple[ShapedPart, int], stack: int = 1, copies: int = 1) -> BoardLayout:
    placements = tuple(
        Placement(part=part, item="gate", unit=unit, transform=Transform(x=0.0, y=30.0 * at))
        for at, (part, unit) in enumerate(placed)
    )
    return BoardLayout(id=f"board-{number:02d}", board=picket(), placements=placements, stack=stack, copies=copies)


def _numbers(items: list[Item], *boards: BoardLayout) -> list[tuple[int, ...]]:
    sets = sets_of(Layout(boards=boards, gap=4.0, edge_margin=1.0, seed=0), items)
    return [sets.of(board, index) for board in boards for index in range(len(board.placements))]


def test_a_stack_is_for_items_that_follow_each_other() -> None:
    boards = _board(1, (SLAT, 1), (SLAT, 3), stack=2), _board(2, (SLAT, 5))
    assert _numbers([_item(5, SLAT)], *boards) == [(1, 2), (3, 4), (5,)]


def test_runs_go_on_with_the_next_items() -> None:
    boards = _board(1, (SLAT, 1), (SLAT, 2), copies=2), _board(2, (SLAT, 5), stack=2, copies=2)
    assert _numbers([_item(8, SLAT)], *boards) == [(1, 3), (2, 4), (5, 6, 7, 8)]


def test_two_equal_parts_of_an_item_have_one_number() -> None:
    boards = (_board(1, (SLAT, 1), (SLAT, 1), (SLAT, 2), (SLAT, 2)),)
    assert _numbers([_item(2, SLAT, SLAT)], *boards) == [(1,), (1,), (2,), (2,)]


def test_parts_kept_together_have_one_number() -> None:
    """Two items on each board of a stack of two, each of a slat and two caps."""
    placed = [(part, unit) for unit in (1, 3) for part in (SLAT, CAP, CAP)]
    found = _numbers([_item(4, SLAT, CAP, CAP, together=True)], _board(1, *placed, stack=2))
    assert found == [(1, 2)] * 3 + [(3, 4)] * 3


@pytest.mark.parametrize(("stack", "copies", "each"), [*product((1, 2, 3), (1, 2, 4), (1, 2))])
def test_every_item_gets_all_its_parts(stack: int, copies: int, each: int) -> None:
    """Three items' slats on every board, two pieces of each."""
    count = 3 * stack * copies
    placed = [(SLAT, 1 + at // each * stack) for at in range(3 * each)]
    found = _numbers([_item(count, *[SLAT] * each)], _board(1, *placed, stack=stack, copies=copies))
    assert Counter(number for numbers in found for number in numbers) == dict.fromkeys(range(1, count + 1), each)
