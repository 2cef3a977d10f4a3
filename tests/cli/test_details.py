"""All that is said of a job: rows for its programs, how boards are run and held, work by hand, costs."""

from dataclasses import replace

import pytest

from cutjob.cli.details import HEAD, board_lines, program_rows
from cutjob.cli.summary import summary_data
from cutjob.reports.plan.plan import plan_of
from tests.output.samples import (
    changer,
    held_layout,
    held_long_layout,
    layout,
    long_layout,
    long_programs,
    machine,
    program,
    whole_layout,
)
from tests.reports.makers import job_result


def job(*boards, programs=(), profile=None, units="mm"):
    layout = replace(whole_layout(), boards=boards)
    return job_result(units=units, machine=profile or changer(), layout=layout, programs=tuple(programs))


def alike(count):
    """So many boards of the same layout, each with its programs."""
    ids = [f"board-{number:02}" for number in range(1, count + 1)]
    boards = [replace(long_layout(), id=name) for name in ids]
    return job(*boards, programs=[replace(each, board=name) for name in ids for each in long_programs()])


def data(made):
    return summary_data(made, plan_of(made))


def handling(made):
    return [line for line in board_lines(made) if line.startswith("board-")]


def test_a_row_for_each_file_with_its_cutters_in_order_and_its_window():
    rows = list(program_rows(job(long_layout(), programs=long_programs())))
    assert all(len(row) == len(HEAD) for row in rows)
    assert rows == [
        ("board-01", "cedar picket", "1", "2", "board-01-1.nc, window 1", "7, 5, 2", "1.0"),
        ("board-01", "cedar picket", "1", "2", "board-01-2.nc, window 2", "7, 5, 2", "1.0"),
        ("board-01", "cedar picket", "1", "1", "board-01-3.nc, window 3", "7, 5, 2", "1.0"),
    ]


def test_a_board_of_one_file_is_as_it_was():
    made = job(layout(stack=2, copies=3), programs=[program()], profile=machine())
    assert list(program_rows(made)) == [("board-01", "cedar picket", "6", "4", "board-01.nc", "2", "0.7")]
    assert handling(made) == []
    assert next(board_lines(made)) == "layouts: 1, cut in 3 runs of the machine"
    assert list(program_rows(job(layout()))) == [("board-01", "cedar picket", "1", "4", "", "", "")]


@pytest.mark.parametrize(("copies", "runs"), [(1, 3), (4, 12)])
def test_every_file_of_every_board_is_a_run(copies, runs):
    made = job(replace(long_layout(), copies=copies), programs=long_programs())
    assert next(board_lines(made)) == f"layouts: 1, cut in {runs} runs of the machine"
    assert data(made)["runs"] == runs


@pytest.mark.parametrize(("units", "slide"), [("mm", "700 mm"), ("in", "27.5591 in")])
def test_how_boards_are_run_and_held(units, slide):
    made = job(long_layout(), programs=[replace(each, skin=0.5) for each in long_programs()], units=units)
    skin = "0.5 mm" if units == "mm" else "0.0197 in"
    assert handling(made) == [
        "board-01: 3 files, run in the order of their numbers; "
        f"3 windows, slid by {slide}, then {slide}; 4 screws in the waste, holes drilled first; "
        f"a skin of {skin} left under the parts"
    ]


def test_boards_handled_alike_are_told_together():
    [line] = handling(alike(3))
    assert line.startswith("board-01, board-02, board-03: 3 files")
    assert handling(alike(9))[0].startswith("board-01, board-02, board-03, board-04 and 5 more: ")


def test_windows_and_screws_are_in_the_summary_as_data():
    [board] = data(job(long_layout(), programs=long_programs()))["boards"]
    assert [window["first"] for window in board["windows"]] == [0, 700, 1400]
    assert len(board["hold_downs"]) == 4
    assert (board["parts"], len(board["programs"])) == (5, 3)
    assert "outline" not in board


def held(*boards):
    made = job(*(replace(board, id=f"board-0{number}") for number, board in enumerate(boards, 1)))
    return [line for line in board_lines(made) if line.startswith("held:")]


def test_what_holds_the_boards():
    assert held(held_layout()) == ["held: board-01 by 2 clamps, 7 bridges, at most 4 between a part and the clamps"]
    assert held(held_layout(), held_layout(), held_layout("tape")) == [
        "held: board-01, board-02 by 2 clamps, 7 bridges, at most 4 between a part and the clamps; "
        "board-03 by tape under the whole board"
    ]
    assert held(held_long_layout()) == [
        "held: board-01 by 3 clamps, 5 bridges, at most 1 between a part and the clamps"
    ]
    uncut = held_layout()
    assert held(replace(uncut, holding=replace(uncut.holding, bridges=()))) == ["held: board-01 by 2 clamps"]
    assert held(layout()) == []
    assert data(job(held_layout()))["boards"][0]["held_by"] == "clamps"
