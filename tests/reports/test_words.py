"""Work by hand and costs in words: the order of saw cuts, rods and strips, what items take and cost."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutjob.job.model import RodStock
from cutjob.layout.saw_order import SawCut, SawnBoard
from cutjob.parts.part import RodPart
from cutjob.reports.words import saw_lines, saw_rows, saw_why, several, stick_lines
from cutjob.result import JobResult
from tests.output.samples import whole_layout
from tests.reports.makers import BATTENS, DOWELS, RODS, STRIPS, job_result, stick_job

FIRST = SawCut(item="bench", part="leg", length=254.0, at=15.875, waste=12.7)
SECOND = SawCut(item="bench", part="rail", length=165.1, at=273.05)
THIRD = SawCut(item="bench", part="rail", length=165.1, at=500.0, waste=55.5625, past_keep_out=True)


def sawn(*boards: SawnBoard) -> JobResult:
    return job_result(units="in", layout=replace(whole_layout(), saw_order=boards))


def test_board_by_board_with_what_is_wasted() -> None:
    made = sawn(SawnBoard(board="picket", end="left", count=2, cuts=(FIRST, SECOND, THIRD)))
    words = (
        "1/2 in off to square the end; 10 in for leg (bench); 6 1/2 in for rail (bench); 2 3/16 in off to clear "
        "a keep-out; 6 1/2 in for rail (bench)"
    )
    assert list(saw_rows(made)) == [("2", "picket", "left end", words)]
    assert list(saw_lines(made)) == [f"saw in this order: 2 x picket, from the left end: {words}"]


def test_a_single_cut_needs_no_order() -> None:
    one = sawn(SawnBoard(board="picket", end="right", count=1, cuts=(SECOND,)))
    assert list(saw_lines(one)) == []
    assert len(list(saw_rows(one))) == 1
    assert list(saw_lines(sawn())) == []


def test_a_blank_tells_what_is_ripped_out_of_it() -> None:
    rips = (("stand", "foot 1", 31.75), ("stand", "foot 2", 31.75))
    blank = SawCut(item="stand", part="foot 1", length=228.6, at=0.0, rips=rips)
    (line,) = saw_lines(sawn(SawnBoard(board="picket", end="left", count=1, cuts=(blank,))))
    assert line.endswith("9 in, ripped into 1 1/4 in wide foot 1 (stand), 1 1/4 in wide foot 2 (stand)")


def test_the_same_cut_again_is_counted() -> None:
    cuts = tuple(SawCut(item="bench", part="rail", length=165.1, at=168.275 * place) for place in range(3))
    (line,) = saw_lines(sawn(SawnBoard(board="picket", end="left", count=1, cuts=(*cuts, SECOND))))
    assert line.endswith("from the left end: 4 x 6 1/2 in for rail (bench)")
    (line,) = saw_lines(sawn(SawnBoard(board="picket", end="left", count=1, cuts=(FIRST, *cuts))))
    assert line.endswith("10 in for leg (bench); 3 x 6 1/2 in for rail (bench)")


def test_a_keep_out_at_the_end_is_no_end_to_be_squared() -> None:
    first = replace(FIRST, past_keep_out=True)
    (line,) = saw_lines(sawn(SawnBoard(board="picket", end="left", count=1, cuts=(first,))))
    assert line.endswith(": 1/2 in off to clear a keep-out; 10 in for leg (bench)")


def test_the_longest_are_said_to_come_first_only_where_they_do() -> None:
    falling = SawnBoard(board="picket", end="left", count=1, cuts=(FIRST, SECOND, THIRD))
    assert "The longest pieces come first" in saw_why(sawn(falling))
    rising = SawnBoard(board="picket", end="left", count=1, cuts=(SECOND, replace(FIRST, at=500.0)))
    assert "longest" not in saw_why(sawn(falling, rising))
    assert saw_why(sawn(falling, rising)).startswith("Measure each piece from the last cut")
    # Of a single cut nothing comes first.
    assert "longest" not in saw_why(sawn(SawnBoard(board="picket", end="left", count=1, cuts=(SECOND,))))


def test_lines_of_rods_and_strips() -> None:
    # Six pieces, 60 in and their kerfs, take two sticks of 48; one is filled so that most is left of the other.
    told = list(stick_lines(stick_job([DOWELS, BATTENS], rods=RODS, strips=STRIPS)))
    assert told == [
        "rods: 6 pieces of 3/4 in off 2 of 3/4 dowel, 4.20 in all; no other way of sawing takes less",
        "rods: no. 1, 3/4 dowel of 48 in: 2 x 12 in, 2 x 10 in; 3 1/2 in left",
        "rods: no. 2, 3/4 dowel of 48 in: 2 x 8 in; 31 3/4 in left",
        "strips: 2 pieces of 1 1/2 in x 1/2 in off 2 of batten; no other way of sawing takes less",
        "strips: no. 3, 2 x batten of 30 in: 30 in; nothing left",
    ]


def test_without_stock_every_length_is_told() -> None:
    assert list(stick_lines(stick_job([], "mm", rods=RODS[:1]))) == ["rods: 2 of 19.05 mm, 304.8 mm long (rod 1, fan)"]


@pytest.mark.parametrize(("lengths", "more"), [(15, "3 more ways"), (13, "1 more way")])
def test_many_ways_are_cut_short(lengths: int, more: str) -> None:
    # Each more than half a stick: a way for each.
    rods = tuple(RodPart(name=f"rod {n}", diameter=12.0, length=600.0 + n) for n in range(lengths))
    stock = [RodStock(name="dowel", diameter=12.0, length=1000.0, count=99)]
    lines = list(stick_lines(stick_job(stock, "mm", rods=rods)))
    assert lines[-1] == f"rods: {more} of sawing in plan.json and on the job sheet"
    assert len(lines) == 14


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["piece 1", "piece 2", "piece 3"], "pieces 1 to 3"),
        (["base 1", "base 2", "topper"], "bases 1 to 2, topper"),
        (["rod 1", "rod 3", "rod 4", "rod 1"], "rods 1, 3 to 4"),
        (["piece 1", "topper"], "piece 1, topper"),
        (["round"] * 12, "round"),
    ],
)
def test_names_in_few_words(names: list[str], words: str) -> None:
    assert several(names) == words
