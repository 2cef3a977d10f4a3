"""How a board is held: said first of all in every file, with cautions that fit, and as rows of what hangs on what."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutjob.layout.layout import BoardLayout
from cutjob.output.gcode.comments import comment_lines
from cutjob.output.words.held import hanging_rows, held_shortly, number_ranges, other_keep_outs
from cutjob.output.words.opening import opening_lines
from tests.output.samples import changer, held_layout, held_long_layout, long_layout, long_programs, machine, program
from tests.output.words.told import as_told


def told(board: BoardLayout, number: int = 1, *, units: str = "mm") -> list[str]:
    """The opening of one of the board's files."""
    profile = machine(controller={"units": units}) if not board.windows else changer()
    programs = long_programs() if board.windows else (program(profile=profile),)
    lines = opening_lines(programs[number - 1], layout=board, machine=profile, programs=programs, title="Market")
    return as_told(lines, units)


def caution(texts: list[str], words: str) -> str:
    (found,) = [text for text in texts if text.startswith("Caution:") and words in text]
    return found


def test_clamps_come_first_with_their_places() -> None:
    texts = told(held_layout())
    assert texts[:6] == [
        "Job: Market",
        "Machine: garden shed machine",
        "Held by: 2 clamps on the waste at the board's edge, at most 20 mm = 0.7874 in high. Set them before the "
        "start, clear of every move. Air moves over them go no higher than 5 mm = 0.1969 in above the stock",
        "Clamp 1: middle at X 25 Y 12.5 mm, 40 mm along the board and 25 mm across",
        "Clamp 2: middle at X 1720 Y 12.5 mm, 40 mm along the board and 25 mm across",
        "Tabs: 7 on the board, 6 mm = 0.2362 in wide and 3 mm = 0.1181 in high",
    ]
    inches = told(held_layout(), units="in")
    assert inches[3] == "Clamp 1: middle at X 0.984 Y 0.492 in, 1.5748 in along the board and 63/64 in across"


def test_clamps_are_no_keep_outs_beside() -> None:
    board = held_layout()
    (said,) = [text for text in told(board) if text.startswith("Keep-outs:")]
    assert said.startswith("Keep-outs: 1 place on the board")
    assert other_keep_outs(board).keep_outs == board.board.keep_outs[:1]
    assert other_keep_outs(replace(board, holding=None)).keep_outs == board.board.keep_outs


def test_a_clamp_away_from_the_edge() -> None:
    board = held_layout()
    assert board.holding is not None
    hold = board.holding.holds[0]
    moved = replace(hold, area=type(hold.area)(tuple(one for one in board.board.keep_outs[0].area.segments)))
    board = replace(board, holding=replace(board.holding, holds=(moved,)))
    assert told(board)[2].startswith("Held by: 1 clamp on the waste, at most 20 mm")


@pytest.mark.parametrize(
    ("by", "said"),
    [
        ("tape", "Held by: tape under the whole board, no tabs"),
        ("vacuum", "Held by: vacuum under the whole board, no tabs. Leave the pump on until the spindle has stopped"),
    ],
)
def test_from_below(by: str, said: str) -> None:
    texts = told(held_layout(by))
    assert texts[2] == said
    assert not [text for text in texts if text.startswith(("Tabs:", "Bridges:", "Clamp"))]
    assert held_shortly(held_layout(by)) == f"{by} under the whole board, no tabs"
    words = {"tape": "press the board down all over", "vacuum": "gauge steady before the spindle starts"}[by]
    assert caution(texts, words)
    assert not [text for text in texts if "clamps and screws clear of every move" in text]


def test_screws_come_first_where_they_hold_and_as_long_as_they_are() -> None:
    board = held_long_layout()
    assert board.holding is not None
    screwed = replace(long_layout(), holding=replace(board.holding, by="screws"))
    texts = told(screwed)
    assert texts[2].startswith("Held by: 2 screws through the waste, heads at most 12 mm = 0.4724 in wide")
    assert texts[3] == "Their holes are drilled first, then the program halts for you to drive the screws"
    assert not [text for text in texts if text.startswith("Screws:")]
    assert held_shortly(screwed) == "4 screws"
    own = {"hole": 4.5, "head": 12, "height": 3.5, "margin": 3, "every": 250, "length": [20, 25, 30]}
    long = changer(screws=own)
    files = long_programs(profile=long)
    said = as_told(opening_lines(files[0], layout=screwed, machine=long, programs=files))[1]
    # 15.875 mm of board and 10 of spoilboard: 30 is the shortest of them.
    assert said.startswith("Held by: 2 screws through the waste, 30 mm = 1.1811 in long, heads at most")


def test_clamps_are_moved_with_the_board() -> None:
    first, second, third = (told(held_long_layout(), number) for number in (1, 2, 3))
    assert "Set it before the start" in first[2]
    for texts, x in ((first, "X 320"), (second, "X 520"), (third, "X 920")):
        assert texts[2].startswith("Held by: 1 clamp on the waste at the board's edge")
        assert texts[3].startswith(f"Clamp 1: middle at {x} Y 147.5 mm")
    for texts in (second, third):
        assert "Move it to this place once the board is slid" in texts[2]
    leaves = "After this file take the clamps off, then slide the board as the next file says"
    assert [leaves in texts for texts in (first, second, third)] == [True, True, False]


def test_bridges_over_the_whole_height_of_a_stack() -> None:
    texts = told(held_layout(stack=2, full=True))
    assert "Bridges: 7 on the board, over the whole height of the stack. Saw them through afterwards" in texts
    assert not [text for text in texts if text.startswith("Tabs:")]
    assert caution(texts, "Press all boards of the stack down together")
    assert not [text for text in texts if "Pin every layer" in text]
    alone = told(held_layout(full=True))
    assert "Bridges: 7 on the board, over the board's whole thickness. Saw them through afterwards" in alone


def test_tape_between_the_boards_of_a_stack() -> None:
    texts = told(held_layout(stack=2, between="tape"))
    assert "Between the boards: tape over their whole faces, in every layer of the stack" in texts
    assert "Tabs: 7 on the board, 6 mm = 0.2362 in wide and 3 mm = 0.1181 in high" in texts
    assert caution(texts, "Tape between all boards of the stack")
    assert not [text for text in texts if "Pin every layer" in text]
    assert caution(told(replace(held_layout(stack=2), holding=None)), "Pin every layer of the stack")


def test_tabs_of_several_sizes() -> None:
    board = held_layout()
    assert board.holding is not None
    first, *others = board.holding.bridges
    sizes = (replace(first, width=4.0), *others)
    texts = told(replace(board, holding=replace(board.holding, bridges=sizes)))
    assert "Tabs: 7 on the board, at most 6 mm = 0.2362 in wide and 3 mm = 0.1181 in high" in texts


@pytest.mark.parametrize(
    "board", [held_layout(), held_layout("tape"), held_layout(stack=2, full=True), held_long_layout()]
)
def test_a_comment_holds_what_controllers_read(board: BoardLayout) -> None:
    """Nothing is lost on the way into a comment, and nothing stands in it that a controller could act on."""
    texts = told(board)
    held = texts[2 : texts.index(next(text for text in texts if text.startswith("Stock:")))]
    assert held
    for text in held:
        assert re.fullmatch(r"[A-Za-z0-9 .,:'\"/=+-]+", text), text
    lines = comment_lines(held, controller=machine().controller)
    assert " ".join(line[1:-1].removeprefix(".. ") for line in lines) == " ".join(held)


def test_what_hangs_on_what() -> None:
    assert hanging_rows(held_layout(), most=12) == [
        ("1", "1", "the waste by 2 bridges"),
        ("1", "2", "the waste by 2 bridges, part 3 by 1"),
        ("2", "3", "the waste by 1 bridge, part 2 by 1"),
        ("4", "4", "the waste by 1 bridge"),
    ]
    assert hanging_rows(held_layout(), most=3) == [("1", "1-2", ""), ("2", "3", ""), ("4", "4", "")]
    assert hanging_rows(held_long_layout(), most=1) == [("1", "1-5", "the waste by 1 bridge")]
    assert hanging_rows(held_layout("tape"), most=12) == []
    assert hanging_rows(replace(held_layout(), holding=None), most=12) == []


@given(st.sets(st.integers(1, 60), min_size=1))
def test_ranges_name_every_number_once(numbers: set[int]) -> None:
    named: list[int] = []
    for run in number_ranges(sorted(numbers)).split(", "):
        first, _, last = run.partition("-")
        named += range(int(first), int(last or first) + 1)
    assert named == sorted(numbers)
