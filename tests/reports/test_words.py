"""The order of saw cuts in words."""

from __future__ import annotations

from dataclasses import replace

from cutjob.layout.saw_order import SawCut, SawnBoard
from cutjob.reports.words import saw_lines, saw_rows, saw_why
from cutjob.result import JobResult
from tests.output.samples import whole_layout
from tests.reports.makers import job_result

FIRST = SawCut(item="bench", part="leg", length=254.0, at=15.875, waste=12.7)
SECOND = SawCut(item="bench", part="rail", length=165.1, at=273.05)
THIRD = SawCut(item="bench", part="rail", length=165.1, at=500.0, waste=55.5625, past_keep_out=True)


def sawn(*boards: SawnBoard) -> JobResult:
    return job_result(units="in", layout=replace(whole_layout(), saw_order=boards))


def test_board_by_board_with_what_is_wasted() -> None:
    made = sawn(SawnBoard(board="picket", end="left", count=2, cuts=(FIRST, SECOND, THIRD)))
    words = (
        "1/2 in off to square the end; 10 in leg (bench); 6 1/2 in rail (bench); 2 3/16 in off to come clear of a "
        "keep-out; 6 1/2 in rail (bench)"
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
    assert line.endswith("from the left end: 4 x 6 1/2 in rail (bench)")
    (line,) = saw_lines(sawn(SawnBoard(board="picket", end="left", count=1, cuts=(FIRST, *cuts))))
    assert line.endswith("10 in leg (bench); 3 x 6 1/2 in rail (bench)")


def test_a_keep_out_at_the_end_is_no_end_to_be_squared() -> None:
    first = replace(FIRST, past_keep_out=True)
    (line,) = saw_lines(sawn(SawnBoard(board="picket", end="left", count=1, cuts=(first,))))
    assert line.endswith(": 1/2 in off to come clear of a keep-out; 10 in leg (bench)")


def test_the_longest_are_said_to_come_first_only_where_they_do() -> None:
    falling = SawnBoard(board="picket", end="left", count=1, cuts=(FIRST, SECOND, THIRD))
    assert "The longest come first" in saw_why(sawn(falling))
    rising = SawnBoard(board="picket", end="left", count=1, cuts=(SECOND, replace(FIRST, at=500.0)))
    assert "longest" not in saw_why(sawn(falling, rising))
    assert saw_why(sawn(falling, rising)).startswith("Measure each piece from the end the last cut left")
    # Of a single cut nothing comes first.
    assert "longest" not in saw_why(sawn(SawnBoard(board="picket", end="left", count=1, cuts=(SECOND,))))
