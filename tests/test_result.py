"""What a finished job says of itself, worked out by hand from the samples' values."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutjob.job.read_machine import read_machine
from cutjob.proof.finding import Finding, ProofReport
from cutjob.result import BoardsUsed, DrawingFile, HandHoles, JobResult, Search, ToBuy
from tests.costs.test_account import account, item
from tests.output.samples import changer, items, layout, long_layout, long_programs, picket, whole_layout
from tests.reports.makers import job_result

PASSED = ProofReport(findings=(), worst_gouge=0.0, worst_left=0.0)


def long_job(**changes: object) -> JobResult:
    """A board of three files cut four times, and one of the same layout that is only drawn."""
    first, second = replace(long_layout(), copies=4), replace(long_layout(), id="board-02", stack=2)
    return job_result(
        machine=changer(),
        layout=replace(whole_layout(), boards=(first, second)),
        programs=long_programs(),
        drawings=(DrawingFile(file="board-02.dxf", board="board-02"),),
        **changes,
    )


def test_one_line_says_what_was_made_and_whether_it_is_proven() -> None:
    assert repr(job_result()) == "<JobResult 'Spring market': 1 board layout, 0 programs, 0 files; not judged>"
    made = long_job(proof=PASSED, files=("board-01-1.nc",))
    assert repr(made) == "<JobResult 'Spring market': 2 board layouts, 3 programs, 1 file; proven>"
    fault = Finding(check="held", severity="error", message="loose", file="board-01-1.nc")
    assert repr(long_job(proof=replace(PASSED, findings=(fault,)))).endswith("; not proven, 1 found>")


def test_each_board_has_its_own_files() -> None:
    made = long_job()
    first, second = made.layout.boards
    assert made.programs_of(first) == long_programs()
    assert made.programs_of(second) == ()
    assert made.drawings_of(first) == ()
    assert [one.file for one in made.drawings_of(second)] == ["board-02.dxf"]


def test_runs_and_the_time_they_take() -> None:
    """Three files of a minute, four times each; a drawing is one run, of no known time."""
    made = long_job()
    assert made.runs == 4 * 3 + 1
    assert made.machine_seconds == 4 * 3 * 60.0
    assert job_result(layout=replace(whole_layout(), boards=())).runs == 0


def test_boards_used_in_the_order_of_the_stock() -> None:
    """Two boards at a time, three times, and one that only gave legs; no end cut was used, and one plank."""
    used = whole_layout(stack=2, copies=3)
    plank = picket(name="plank", price=10.0)
    on_plank = replace(layout(board=plank), id="board-02")
    made = job_result(
        layout=replace(used, boards=(*used.boards, on_plank)),
        stock=(picket(name="end cut"), plank, picket()),
    )
    assert made.boards_used == (BoardsUsed(board=plank, count=1), BoardsUsed(board=picket(), count=7))
    assert made.wood_cost == pytest.approx(10.0 + 7 * 3.4, rel=1e-12)


def test_holes_to_drill_and_things_to_buy_are_those_of_all_items() -> None:
    (leg,) = items()[0].build.hand_holes
    made = job_result(packs={"cup hook": (0.4, 1), "bead": (1.0, 50)})
    assert made.hand_holes == (HandHoles(item="porch name tag", hole=leg, count=3),)
    assert made.bought == (ToBuy(name="cup hook", count=3 * 2 + 1, price=0.4),)
    assert job_result().bought == (ToBuy(name="cup hook", count=7, price=None),)


def test_where_a_saw_cuts_the_parts_their_holes_are_drilled_too() -> None:
    at_the_saw = job_result(machine=read_machine("bandsaw", beside=None))
    drilled = {(one.hole.part, one.hole.diameter): one.count for one in at_the_saw.hand_holes}
    # The tag's two holes, and the leg's.
    assert drilled == {("leg", 9.525): 3, ("name tag", 3.175): 3, ("name tag", 8.0): 3}


def test_each_item_has_its_costs_or_none() -> None:
    assert [found for _, found in job_result().item_accounts] == [None, None]
    known = account([item("tag", 3), item("gull", 1)])
    assert [found for _, found in job_result(account=known).item_accounts] == list(known.items)


def test_things_come_by_the_pack() -> None:
    """Seven hooks in packs of four are two packs; the job's own things are bought too."""
    made = job_result(packs={"cup hook": (2.0, 4)}, own_things=(("box", 3),))
    hook, box = made.bought
    assert (hook.count, hook.pack, hook.packs) == (7, 4, 2)
    assert (box.name, box.count, box.price, box.packs) == ("box", 3, None, 3)


def test_units_kept_together_are_counted_board_by_board() -> None:
    """Three name tags on a board of which two are cut at once, three times; the gull need not be kept together."""
    tags, gull = items()
    made = job_result(items=(replace(tags, together=True), gull), layout=whole_layout(stack=2, copies=3))
    assert made.together == {"porch name tag": {"board-01": 3 * 2 * 3}}
    assert job_result().together == {}


def test_only_the_clock_or_a_hand_makes_another_run_differ() -> None:
    assert not Search(seed=0, effort="quick").clock_decided
    assert Search(seed=0, seconds=40.0).clock_decided
    assert Search(seed=0, effort="quick", stopped=True).clock_decided
