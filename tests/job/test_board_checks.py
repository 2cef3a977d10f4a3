"""Boards against machines and cutters, values in, problems out."""

from dataclasses import replace

import pytest

from cutjob.geometry.contour import rectangle
from cutjob.job.boards import check_boards, through_cutters
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
def test_the_cutters_that_reach_through(bench: Machine, thickness: float, stack: int, number: int) -> None:
    boards = [replace(PICKET, thickness=thickness), replace(PICKET, name="thin", thickness=3.0)]
    chosen = through_cutters(boards, bench, numbers=(), stack=stack)
    assert isinstance(chosen, tuple)
    assert chosen[0].number == number
    assert {cutter.number for cutter in chosen} <= {1, 3}
    # One that is named is taken at its word.
    assert through_cutters(boards, bench, numbers=(2, 1), stack=stack) == (bench.cutter[1],)


def test_cutters_that_are_not_there_or_cut_no_outline(bench: Machine) -> None:
    drill = bench.cutter[1].model_copy(update={"only_down": True})
    machine = bench.model_copy(update={"cutter": (bench.cutter[0], drill)})
    unknown = through_cutters([PICKET], machine, numbers=(7, 1, 8), stack=1)
    assert [problem.message for problem in unknown if not isinstance(problem, Cutter)] == [
        '"bench router" has no cutter 7',
        '"bench router" has no cutter 8',
    ]
    (problem,) = through_cutters([PICKET], machine, numbers=(2,), stack=1)
    assert "only goes straight down" in str(problem)
    assert through_cutters([replace(PICKET, thickness=6)], machine, numbers=(), stack=1) == machine.cutter[:1]


def test_boards_longer_than_a_bed_that_is_open_at_its_ends(bench: Machine) -> None:
    assert bench.travel is not None
    for open_ends, count in ((True, 0), (False, 1)):
        machine = bench.model_copy(update={"travel": bench.travel.model_copy(update={"open_ends": open_ends})})
        board = replace(PICKET, outline=rectangle(1800.0, 140.0))
        assert len(check_boards([board], machine, _cutter(bench, 1), 1)) == count


def test_no_cutter_says_why_for_each(bench: Machine) -> None:
    only_soft = bench.cutter[0].model_copy(update={"feed": bench.cutter[0].feed[:1]})
    machine = bench.model_copy(update={"cutter": (only_soft, bench.cutter[1])})
    boards = [PICKET, replace(PICKET, name="oak plank", material="hardwood", thickness=5.0)]
    problems = through_cutters(boards, machine, numbers=(), stack=1)
    assert isinstance(problems, list)
    (problem,) = problems
    assert 'cutter 1 (1/4 in two-flute) has no feed for "hardwood"' in str(problem)
    words = str(problem.spelled("in"))
    assert 'cutter 2 (1/8 in two-flute) cuts 15/32 in deep, and "cedar picket" is 5/8 in thick' in words


def test_a_size_in_inches_that_would_do_in_mm(bench: Machine) -> None:
    """140 in is more than the 600 mm the router reaches; 140 mm is a picket."""
    board = replace(PICKET, outline=rectangle(600.0, 140 * 25.4))
    [problem] = check_boards([board], bench, _cutter(bench, 1), 1)
    assert problem.advice == 'if you mean 140 mm, write width = "140 mm"'
