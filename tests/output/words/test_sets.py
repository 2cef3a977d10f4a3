from __future__ import annotations

from dataclasses import replace

from cutjob.layout.sets import sets_of
from cutjob.output.picture.key import part_rows
from cutjob.output.words.sets import pieces_for, set_words
from tests.output.samples import items, whole_layout


def test_pieces_are_named_by_the_item_they_are_for() -> None:
    assert set_words("reed spinner", [3], 8) == "reed spinner 3 of 8"
    assert set_words("reed spinner", [4, 1, 2, 2], 8) == "reed spinner 1-2, 4 of 8"
    assert set_words("reed spinner", [1], 1) == "reed spinner"
    assert set_words("reed spinner", [], 8) == "reed spinner"


def test_the_key_of_a_board_says_which_items_its_pieces_are_for() -> None:
    """The layout is cut 3 times, 2 boards at once: its part 4 gives six gulls."""
    layout = whole_layout()
    board = replace(layout.boards[0], stack=2, copies=3)
    layout = replace(layout, boards=(board,))
    made = 6 * len(board.placements)
    sets = sets_of(layout, [replace(one, count=made) for one in items()])
    index = next(n for n, one in enumerate(board.placements) if one.part.name == "gull wing")
    assert pieces_for(board, [index], sets) == f"{board.placements[index].item} 1-6 of {made}"
    rows = part_rows(board, sets)
    assert any(row == f"{index + 1}: gull wing, {board.placements[index].item} 1-6 of {made}" for row in rows)
    assert part_rows(board) != rows
