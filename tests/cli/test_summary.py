"""The screen of a finished job: at most 15 lines, none too long, with what a person decides by."""

from dataclasses import replace
from pathlib import Path

import pytest

from cutjob.cli.summary import MOST_LINES, PIPED_WIDTH, summary_lines
from cutjob.output.words.cautions import Caution
from cutjob.parts.part import BoughtPart, Build, HandHole, Item
from cutjob.proof.finding import Finding, ProofReport
from tests.output.samples import changer, held_layout, long_layout, long_programs, program, whole_layout
from tests.reports.makers import job_result

PASSED = ProofReport(findings=(), worst_gouge=0.0, worst_left=0.0)


def job(*boards, programs=(), **changes):
    layout = replace(whole_layout(), boards=boards, sawn=(), sawn_from=())
    return job_result(**({"layout": layout, "programs": tuple(programs), "machine": changer(), "items": ()} | changes))


def lines_of(made, proof=PASSED, **options):
    return summary_lines(made, proof, folder=Path("out/spring"), **options)


def crowded():
    """More of everything than a screen holds."""
    ids = [f"board-{number:02}" for number in range(1, 13)]
    boards = [replace(held_layout(), id=name) for name in ids]
    programs = [replace(program(), board=name, file=f"{name}.nc") for name in ids]
    hole = HandHole(part="slat", diameter=6.0, depth=None, note="")
    build = Build(hand_holes=(hole,), bought=tuple(BoughtPart(name=f"brass hook no. {n}", count=7) for n in range(20)))
    items = tuple(Item(name=f"gull {n}", design="demo", size="small", count=3, build=build) for n in range(30))
    warnings = tuple(
        f'item "gull {n}": part "wing": {"its tip is left rounded by the cutter, " * 9}' for n in range(40)
    )
    cautions = tuple(Caution(topic=f"topic {n}", short="short", full="full") for n in range(30))
    files = ("job-sheet.html",)
    return job(*boards, programs=programs, items=items, warnings=warnings, cautions=cautions, files=files)


@pytest.mark.parametrize("width", [PIPED_WIDTH, 80, 60])
def test_a_screen_however_much_there_is(width):
    lines = lines_of(crowded(), width=width)
    assert len(lines) <= MOST_LINES
    assert max(map(len, lines)) <= width
    labels = [line[:9].strip() for line in lines]
    assert {"made", "run", "held", "by hand", "buy", "warning", "safety", "proof", "files"} <= set(labels)
    # The last line of the warnings says how many there are that the screen has no room for.
    shown = labels.count("warning") - 1
    words = f"{40 - shown} {'more ' if shown else ''}warnings: see job-sheet.html or --verbose"
    assert words in " ".join(" ".join(lines).split())


def test_a_narrow_terminal_is_not_narrower_than_words_are():
    assert max(map(len, lines_of(crowded(), width=5))) <= 60


def test_a_few_warnings_are_there_in_full():
    warning = "the tip of an opening is left rounded by the cutter, " * 5
    lines = lines_of(job(long_layout(), warnings=(warning.strip(),)))
    said = " ".join(line[9:] for line in lines if line.startswith(("warning", " ")))
    assert said.split() == warning.split()


def test_warnings_of_the_proof_stand_with_the_others():
    slow = Finding(check="feed", severity="warning", message="slow", file="board-01.nc")
    lines = lines_of(job(long_layout()), replace(PASSED, findings=(slow,)))
    assert "warning  board-01.nc: feed: slow" in lines


def test_how_often_and_how_long_the_machine_runs():
    once = program(seconds=90.0)
    stacked = replace(held_layout(), stack=2, copies=3)
    [line] = [line for line in lines_of(job(stacked, programs=[once])) if line.startswith("run")]
    assert (
        line == "run      4.5 min on the machine in 3 runs: board-01.nc (2 at once of cedar picket, 1.5 min, 3 times)"
    )
    windows = " ".join(lines_of(job(long_layout(), programs=long_programs())))
    assert "board-01-2.nc (cedar picket, window 2, 1.0 min)" in windows


def test_what_holds_the_boards_and_what_is_sawn_off_afterwards():
    boards = [replace(held_layout(), id="board-01", copies=2), replace(held_layout("tape"), id="board-02")]
    assert (
        "held     2 clamps on the board; tape under the whole board; 14 bridges of wood between the parts, to saw off"
        in [line[: line.find(" afterwards")] for line in lines_of(job(*boards), width=140)]
    )


def test_a_failed_proof_says_that_nothing_was_written():
    gouge = Finding(check="gouge", severity="error", message="cuts into a part", file="board-01.nc")
    lines = lines_of(job(long_layout()), replace(PASSED, findings=(gouge,)), refused=Path("out/spring-not-proven"))
    assert lines[-2:] == [
        "proof    failed, 1 error: nothing was written to out/spring",
        "pictures out/spring-not-proven (each place found is ringed)",
    ]
    assert not any(line.startswith("files") for line in lines)


def test_the_dangers_of_the_wood_come_first():
    dust = Caution(topic="cedar dust", short="", full="", of_wood=True)
    fire = Caution(topic="fire", short="", full="")
    [line] = [line for line in lines_of(job(long_layout(), cautions=(fire, dust))) if line.startswith("safety")]
    assert line == "safety   read the machine's manual and the cautions (--verbose) first: cedar dust; fire"
