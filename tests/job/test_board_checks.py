"""Boards against machines and cutters, values in, problems out."""

from dataclasses import replace

import pytest

from cutjob.geometry.contour import rectangle
from cutjob.job.board_checks import check_boards, cutter_for
from cutjob.job.machine import Cutter, Machine
from cutjob.job.read_machine import read_machine
from cutjob.job.stock import Board

PICKET = Board(
    name="cedar picket",
    outline=rectangle(860.0, 139.7),
    keep_outs=(),
    thickness=15.875,
    grain="length",
    material="softwood",
    count=10,
    price=3.4,
)


@pytest.fixture(scope="module")
def bench() -> Machine:
    return read_machine("bench-router", beside=None)


def _cutter(machine: Machine, number: int) -> Cutter:
    return next(cutter for cutter in machine.cutter if cutter.number == number)


def test_nothing_wrong(bench: Machine) -> None:
    assert check_boards([PICKET], bench, _cutter(bench, 1), 1) == []


def test_a_board_exactly_as_long_and_wide_as_the_bed_passes(bench: Machine) -> None:
    assert check_boards([replace(PICKET, outline=rectangle(900.0, 600.0))], bench, _cutter(bench, 1), 1) == []


@pytest.mark.parametrize(
    ("board", "number", "stack", "words"),
    [
        (replace(PICKET, outline=rectangle(900.1, 600.0)), 1, 1, ["length: 900.1 mm is more than the 900 mm"]),
        (replace(PICKET, outline=rectangle(900.0, 600.1)), 1, 1, ["width: 600.1 mm is more than the 600 mm"]),
        (replace(PICKET, material="oak"), 1, 1, ['material: cutter 1 (1/4 in two-flute) has no feed for "oak"']),
        (PICKET, 2, 1, ["thickness: 15.875 mm thick is more than the 12 mm cutting length of cutter 2"]),
        (replace(PICKET, thickness=24.9), 1, 1, ["24.9 mm thick and 0.3 mm into the spoilboard is more"]),
        (replace(PICKET, material="oak", thickness=30), 1, 3, ["has no feed", "3 boards of 30 mm, 90 mm high",
         "is more than the 90 mm the machine moves up and down"]),
    ],
)  # fmt: skip
def test_what_keeps_a_board_from_being_cut(
    bench: Machine, board: Board, number: int, stack: int, words: list[str]
) -> None:
    problems = check_boards([board], bench, _cutter(bench, number), stack)
    assert len(problems) == len(words), problems
    for problem, word in zip(problems, words, strict=True):
        assert word in str(problem)
        assert str(problem).startswith('board "cedar picket": ')
        assert problem.advice


def test_every_board_is_looked_at(bench: Machine) -> None:
    boards = [replace(PICKET, name=name, material="oak") for name in ("a", "b")]
    assert [problem.place for problem in check_boards(boards, bench, _cutter(bench, 1), 1)] == [
        'board "a": material',
        'board "b": material',
    ]


def test_a_saw_without_a_bed_takes_any_length() -> None:
    saw = read_machine("bandsaw", beside=None)
    assert check_boards([replace(PICKET, outline=rectangle(9000.0, 900.0))], saw, saw.cutter[0], 1) == []


@pytest.mark.parametrize(
    ("thickness", "stack", "number"), [(15.875, 1, 1), (15.875, 2, 3), (24.7, 1, 1), (24.71, 1, 3)]
)
def test_the_first_cutter_that_reaches_through_is_chosen(
    bench: Machine, thickness: float, stack: int, number: int
) -> None:
    boards = [replace(PICKET, thickness=thickness), replace(PICKET, name="thin", thickness=3.0)]
    chosen = cutter_for(boards, bench, number=None, stack=stack, unit="mm")
    assert isinstance(chosen, Cutter)
    assert chosen.number == number


def test_no_cutter_says_why_for_each(bench: Machine) -> None:
    only_soft = bench.cutter[0].model_copy(update={"feed": bench.cutter[0].feed[:1]})
    machine = bench.model_copy(update={"cutter": (only_soft, bench.cutter[1])})
    boards = [PICKET, replace(PICKET, name="oak plank", material="hardwood")]
    problems = cutter_for(boards, machine, number=None, stack=1, unit="in")
    assert isinstance(problems, list)
    (problem,) = problems
    assert 'cutter 1 (1/4 in two-flute) has no feed for "hardwood"' in str(problem)
    assert 'cutter 2 (1/8 in two-flute) cuts 12 mm deep and "cedar picket" is 5/8 in' in str(problem)
