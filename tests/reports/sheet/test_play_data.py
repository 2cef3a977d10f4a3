from __future__ import annotations

import pytest

from cutjob.job.read_machine import read_machine
from cutjob.program.program import standing_seconds
from cutjob.program.time import measure, move_seconds
from tests.reports.sheet.jobs import hostile, laser, page, sample
from tests.reports.sheet.reading import moves_of, radius_error, read

STEP = 0.01  # mm; places are rounded to it
MS = 0.001  # s; times are rounded to it

RESULTS = {"spinner": lambda: sample("porch-spinner"), "round": hostile, "laser": laser}


@pytest.mark.parametrize("name", RESULTS)
def test_the_player_goes_where_the_program_goes(name: str) -> None:
    result = RESULTS[name]()
    boards = read(page(result)).data()
    assert [one["file"] for board in boards for one in board["programs"]] == [one.file for one in result.programs]
    for data, program in zip([one for board in boards for one in board["programs"]], result.programs, strict=True):
        played = [move for move in moves_of(data) if move.kind != 4]
        moves = [*(move for step in program.steps for move in step.moves), *program.end]
        assert len(played) == len(moves)
        last = tuple(value / 100 for value in data["start"])
        for seen, move in zip(played, moves, strict=True):
            assert seen.end == pytest.approx((move.x, move.y, move.z), abs=STEP / 2 + 1e-9)
            assert (seen.kind == 0) == (move.kind == "rapid")
            if seen.kind in (2, 3):
                assert move.clockwise == (seen.kind == 2)
                assert seen.centre == pytest.approx(move.centre, abs=STEP / 2 + 1e-9)
                assert radius_error(seen, last) <= 3 * STEP
            last = seen.end


@pytest.mark.parametrize("name", RESULTS)
def test_the_player_takes_as_long_as_the_program(name: str) -> None:
    result = RESULTS[name]()
    for board in read(page(result)).data():
        for data in board["programs"]:
            program = next(one for one in result.programs if one.file == data["file"])
            assert sum(move.seconds for move in moves_of(data)) == pytest.approx(program.seconds, abs=MS)


@pytest.mark.parametrize("name", RESULTS)
def test_steps_say_which_part_is_cut(name: str) -> None:
    result = RESULTS[name]()
    for board in read(page(result)).data():
        for data in board["programs"]:
            program = next(one for one in result.programs if one.file == data["file"])
            parts = [0 if step.placement is None else step.placement + 1 for step in program.steps]
            assert [step[1] for step in data["steps"]] == parts
            assert [data["operations"][step[2]] for step in data["steps"]] == [step.op for step in program.steps]
            firsts = [step[0] for step in data["steps"]]
            assert firsts == sorted(firsts)


def test_seconds_of_moves_add_up_to_the_measured_ones() -> None:
    program = sample("porch-spinner").programs[0]
    machine = read_machine("long-bed-router", beside=None)
    moves = [*(move for step in program.steps for move in step.moves), *program.end]
    start = (*program.origin, program.clear_z)
    each = move_seconds(moves, start, machine.motion)
    assert len(each) == len(moves)
    assert min(each) >= 0
    whole, _, _ = measure(moves, start, machine.motion)
    assert sum(each) == pytest.approx(whole, rel=1e-9)
    assert whole + sum(standing_seconds(program.sections, machine)) == pytest.approx(program.seconds, rel=1e-9)
    assert move_seconds([], start, machine.motion) == []


def test_a_move_that_leads_nowhere_takes_no_time() -> None:
    program = sample("porch-spinner").programs[0]
    machine = read_machine("long-bed-router", beside=None)
    moves = list(program.steps[0].moves)
    start = (*program.origin, program.clear_z)
    doubled = [*moves[:2], moves[1], *moves[2:]]
    if moves[1].centre is not None:
        pytest.skip("the sample begins with a whole turn")
    plain, again = (move_seconds(each, start, machine.motion) for each in (moves, doubled))
    assert again[2] == 0
    assert sum(again) == pytest.approx(sum(plain), rel=1e-9)
