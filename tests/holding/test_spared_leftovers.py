"""Screws stand outside of what is left of a board where there is room for them, and where not that is told."""

from __future__ import annotations

import shapely

from cutjob.cuts.board_cuts import BoardCuts, cut_layouts
from cutjob.geometry.contour import rectangle
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout
from cutjob.layout.leftovers import LeftoverRule, leftovers_of, wood_left
from cutjob.program.program import programs_of
from cutjob.program.time import swept_box
from tests.cuts.makers import alone, layout_of, router, shaped
from tests.holding.boards import lies_fast

RULE = LeftoverRule(gap=8.0, edge_margin=2.0, saw_kerf=3.0, least=(150.0, 50.0))


def held(layout: BoardLayout, rule: LeftoverRule | None = RULE) -> BoardCuts:
    machine = router()
    (board,), _ = cut_layouts([layout], cutters=alone(), machine=machine, gap=8.0, locations={})
    return lies_fast(board, machine=machine, leftovers=rule)


def kept(board: BoardCuts) -> list[float]:
    """The lengths of what is left clear of all that the programs cut."""
    boxes = [swept_box(program) for program in programs_of(board, machine=router())]
    around = shapely.union_all([shapely.box(*box) for box in boxes if box is not None]).bounds
    found = leftovers_of(
        board.layout, gap=RULE.gap, edge_margin=RULE.edge_margin, saw_kerf=RULE.saw_kerf, least=RULE.least, swept=around
    )
    return [one.board.length for one in found]


def discs(*places: tuple[float, float], length: float = 800.0, width: float = 200.0) -> BoardLayout:
    """Parts of 60 x 60 mm."""
    part = shaped(rectangle(60, 60))
    return layout_of(*[(part, Transform(x=x, y=y)) for x, y in places], length=length, width=width)


def test_a_long_rest_stays_free_of_screws() -> None:
    layout = discs((40, 30), (40, 110), (140, 70))
    without, board = held(layout, None), held(layout)
    (left,) = wood_left(layout, RULE)
    assert left.bounds[2] == 800
    # Held from end to end the rest would be spoiled.
    assert any(left.contains(shapely.Point(down.at)) for down in without.layout.hold_downs)
    assert not kept(without)
    assert len(board.layout.hold_downs) >= 2
    assert not any(left.intersects(shapely.Point(down.at).buffer(3)) for down in board.layout.hold_downs)
    (length,) = kept(board)
    assert length > 500
    assert board.warnings == ()


def test_both_ends_are_spared() -> None:
    layout = discs((390, 30), (390, 110), (490, 70), length=950)
    board = held(layout)
    assert len(wood_left(layout, RULE)) == 2
    assert len(kept(board)) == 2


def test_told_where_screws_must_stand_in_the_rest() -> None:
    """Four parts fill the end: the only waste wide enough is what would be left."""
    layout = discs((4, 4), (4, 72), (72, 4), (72, 72), length=300, width=136)
    board = held(layout)
    assert len(board.layout.hold_downs) >= 2
    (warning,) = board.warnings
    assert "screws go through the board's offcut" in warning
    assert all(warning in program.warnings for program in programs_of(board, machine=router()))


def test_nothing_is_left_of_a_full_board() -> None:
    layout = discs((40, 30), (40, 110), (140, 70), length=240)
    assert wood_left(layout, RULE) == []
    assert held(layout).layout.hold_downs == held(layout, None).layout.hold_downs


def test_between_the_parts_and_a_little_less_of_the_rest() -> None:
    """No room among the parts, but a row of screws beside them leaves a rest worth keeping."""
    layout = discs((4, 4), (4, 72), (72, 4), (72, 72), length=450, width=136)
    board = held(layout)
    (length,) = kept(board)
    (left,) = wood_left(layout, RULE)
    assert length > 200
    assert any(left.contains(shapely.Point(down.at)) for down in board.layout.hold_downs)
    assert board.warnings == ()
