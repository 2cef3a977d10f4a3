"""What would save a board or a slide, said in the words of a shop."""

from __future__ import annotations

import pytest

from cutjob.geometry.contour import rectangle
from cutjob.geometry.transform import Transform
from cutjob.layout.hints import plan_hints
from cutjob.layout.layout import BoardLayout, Layout, Placement, Window
from cutjob.parts.part import Item
from cutjob.units import spelled
from tests.layout.makers import board, item, part

FOOT = part(rectangle(90, 50), "foot")
SLAT = part(rectangle(290, 120), "slat")


def laid(name: str, *at: tuple[str, int, float], windows: tuple[Window, ...] = (), **more: int) -> BoardLayout:
    """A board with parts: each the item, 0 for a slat or 1 for a foot, and its x."""
    placements = tuple(
        Placement(part=(SLAT, FOOT)[kind], item=whose, unit=1, transform=Transform(x=x, y=2.0)) for whose, kind, x in at
    )
    return BoardLayout(id=name, board=board(count=9), placements=placements, windows=windows, **more)


def hints(boards: list[BoardLayout], items: list[Item], *, count: int = 9, runs_first: bool = False) -> list[str]:
    layout = Layout(boards=tuple(boards), gap=6.0, edge_margin=2.0, seed=0)
    used = {"cedar picket": sum(one.copies * one.stack for one in boards)}
    stock = [board(count=count)]
    found = plan_hints(layout, items, stock, used=used, longest=300.0, runs_first=runs_first)
    return [spelled(hint, "mm") for hint in found]


TWO = (Window(first=0.0, last=310.0, placements=(0,)), Window(first=290.0, last=600.0, placements=(1,)))


@pytest.mark.parametrize(
    ("copies", "count", "runs_first", "more"),
    [(1, 9, False, "1 more board"), (2, 9, False, "2 more boards"), (1, 1, False, None), (1, 9, True, None)],
)
def test_a_board_slid_for_one_part(copies: int, count: int, runs_first: bool, more: str | None) -> None:
    slid = laid("board-01", ("trellis", 0, 2.0), ("trellis", 1, 220.0), windows=TWO, copies=copies)
    found = hints([slid], [item(SLAT, FOOT, name="trellis")], count=count, runs_first=runs_first)
    assert found == (
        []
        if more is None
        else [
            f"board-01 is cut in 2 windows for 1 part (foot) that lies 8 mm beyond the bed; with {more} it needs no "
            'slide: put "cut" first in prefer. A window holds parts on 300 mm of a board'
        ]
    )


def test_a_board_full_of_parts_is_slid_without_a_word() -> None:
    many = tuple(("trellis", 1, 2.0 + 96.0 * k) for k in range(6))
    assert hints([laid("board-01", *many, windows=TWO)], [item(FOOT, count=6, name="trellis")]) == []


def test_a_board_for_a_small_part_goes_with_one_item_less() -> None:
    full, last = laid("board-01", ("trellis", 0, 2.0), ("trellis", 0, 298.0)), laid("board-02", ("perch", 1, 2.0))
    trellis = item(SLAT, SLAT, name="trellis")
    assert hints([full, last], [trellis, item(FOOT, count=3, name="perch")]) == [
        "board-02 is there only for 1 part (foot): with 1 fewer perch the job takes 1 board less, or an offcut of "
        "94 mm x 54 mm would do instead"
    ]
    # The only one of its item can't be left out.
    assert hints([full, last], [trellis, item(FOOT, name="perch")]) == [
        "board-02 is there only for 1 part (foot): an offcut of 94 mm x 54 mm would do instead"
    ]


def test_a_board_with_more_on_it_and_the_only_board_are_no_news() -> None:
    feet = [item(FOOT, count=9, name="perch")]
    assert hints([laid("board-01", ("perch", 1, 2.0))], feet) == []
    three = laid("board-02", *(("perch", 1, 2.0 + 100.0 * k) for k in range(3)))
    large = laid("board-03", ("trellis", 0, 2.0))
    assert hints([three, large], feet) == []
