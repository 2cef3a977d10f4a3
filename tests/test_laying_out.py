"""Layouts made again until they are held, and refusals of what can't be: whole jobs, from the file on."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.making import MakeResult, make_job

JOB = """
title = "Spring stall"
units = "mm"
machine = "{machine}"
{keys}
[[make]]
name = "plaque"
design = "plate"
count = {count}
with = {{ length = {length}, width = {width}, corner_radius = 3, corner_hole = 0, row_holes = 0 }}
{tabs}
[[board]]
name = "larch board"
length = {board}
width = {across}
thickness = 16
material = "softwood"
count = {boards}
price = 3
{keep}
"""


def make(folder: Path, **changes: object) -> MakeResult:
    values: dict[str, object] = {
        "machine": "long-bed-router", "keys": "", "count": 3, "length": 180, "width": 60, "tabs": "", "board": 900,
        "across": 140, "boards": 3, "keep": "",
    }  # fmt: skip
    job = folder / "stall.toml"
    job.write_text(JOB.format(**{**values, **changes}), encoding="utf-8")
    return make_job(job, out=folder / "out", effort="quick")


def problems(folder: Path, **changes: object) -> list[str]:
    with pytest.raises(InputError) as refused:
        make(folder, **changes)
    assert not (folder / "out").exists()
    return [str(problem) for problem in refused.value.problems]


def test_a_full_board_is_laid_out_again_with_room_for_clamps(tmp_path: Path) -> None:
    done = make(tmp_path, count=8)
    assert done.proof.passed, [str(finding) for finding in done.proof.findings]
    boards = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))["boards"]
    assert {board["held_by"] for board in boards} == {"clamps"}
    for board in boards:
        assert len(board["holds"]) >= 2
        assert all(1 <= placement["bridges_to_hold"] <= 3 for placement in board["placements"])
        tabbed = {tab["placement"] for program in board["programs"] for tab in program["tabs"]}
        assert tabbed == set(range(len(board["placements"])))


def test_the_same_job_is_held_the_same_way(tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        make(tmp_path / name, count=8)
    one, two = ({path.name: path.read_bytes() for path in (tmp_path / n / "out").iterdir()} for n in ("one", "two"))
    assert one == two


def test_what_leaves_no_room_for_any_hold_is_refused_with_what_would_do(tmp_path: Path) -> None:
    (told,) = problems(tmp_path, count=1, length=890, width=130, boards=1)
    assert "stall.toml:12: board-01: the waste has no room for two clamps" in told
    assert 'board_held_by = "tape"' in told


def test_tape_holds_what_clamps_can_not(tmp_path: Path) -> None:
    done = make(tmp_path, count=1, length=890, width=130, boards=1, keys='board_held_by = "tape"')
    assert done.proof.passed
    board = done.plan["boards"][0]
    assert board["held_by"] == "tape"
    assert board["placements"][0]["bridges_to_hold"] == 0
    assert board["programs"][0]["tabs"] == []
    text = (tmp_path / "out" / "board-01.nc").read_text(encoding="utf-8")
    assert text.index("Held by: tape") < text.index("Stock:")


def test_clamps_that_take_all_the_waste_are_refused(tmp_path: Path) -> None:
    """Two clamps of the job's own as wide as the board: the part fits between them, its bridges find no waste."""
    keep = (
        'keep_out = [{ outline = [[0, 0], [348.8, 0], [348.8, 140], [0, 140]], why = "clamp", height = 20 }, '
        '{ outline = [[551.2, 0], [900, 0], [900, 140], [551.2, 140]], why = "clamp", height = 20 }]'
    )
    found = problems(tmp_path, count=1, length=180, width=134, boards=1, keep=keep, keys="edge_margin = 2")
    assert any("can't be held" in told or "come loose" in told for told in found), found


def test_a_tab_placed_by_hand_where_it_holds_nothing_is_refused_with_its_line(tmp_path: Path) -> None:
    """The lower edge lies so near the board's that its slot runs off it: no wood is there to hold to."""
    found = problems(
        tmp_path, count=1, length=700, width=132, boards=1, tabs='tabs = { "plate" = [[0, -66], [0, 66]] }',
        keys="edge_margin = 2",
    )  # fmt: skip
    assert any((told.startswith(f"{tmp_path / 'stall.toml'}:11:") and "holds nothing" in told.replace("hold", "holds"))
               or "places by hand" in told for told in found), found  # fmt: skip


def test_screws_are_taken_where_no_clamp_finds_a_place(tmp_path: Path) -> None:
    """A board whose edges knots keep clamps off all along, with room for screws in its middle."""
    knots = ", ".join(
        f'{{ outline = [[{x}, {y}], [{x + 58}, {y}], [{x + 58}, {y + 6}], [{x}, {y + 6}]], why = "staple" }}'
        for x in range(0, 900, 60)
        for y in (0, 194)
    )
    ends = ", ".join(
        f'{{ outline = [[{x}, {y}], [{x + 6}, {y}], [{x + 6}, {y + 38}], [{x}, {y + 38}]], why = "staple" }}'
        for x in (0, 894)
        for y in (10, 60, 110, 155)
    )
    done = make(tmp_path, count=1, across=200, boards=1, keep=f"keep_out = [{knots}, {ends}]")
    assert done.proof.passed
    assert done.plan["boards"][0]["held_by"] == "screws"
    assert done.plan["boards"][0]["hold_downs"]


def test_a_stack_is_bridged_over_its_whole_height_or_taped(tmp_path: Path) -> None:
    for name, keys, height in (("whole", "stack = 2", 32.0), ("taped", 'stack = 2\nbetween_boards = "tape"', 3.0)):
        folder = tmp_path / name
        folder.mkdir()
        done = make(folder, count=4, length=420, width=90, boards=4, keys=keys)
        assert done.proof.passed, [str(finding) for finding in done.proof.findings]
        (board,) = done.plan["boards"]
        assert board["stack"] == 2
        assert {tab["height"] for tab in board["programs"][0]["tabs"]} == {height}
