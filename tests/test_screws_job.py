"""Jobs held by screws: laid out once more where the parts lie too close for them, and leftovers kept clear of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.layout.search.plan_search import POSITIONS
from cutjob.making import MakeResult, make_job

JOB = """
title = "Slats for the porch bench"
units = "mm"
machine = "bench-router"
board_held_by = "screws"

[[make]]
name = "slat"
design = "plate"
count = {count}
with = {{ length = 286, width = 44, corner_radius = 2, corner_hole = 0 }}

[[board]]
name = "larch board"
length = {length}
width = 108
thickness = 12
material = "softwood"
count = {boards}
price = 6
"""


@pytest.fixture(autouse=True)
def _short_search(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(POSITIONS, "quick", 60_000)


def made(folder: Path, *, count: int, boards: int, length: int = 300) -> tuple[MakeResult, list[str]]:
    path = folder / "slats.toml"
    path.write_text(JOB.format(count=count, boards=boards, length=length), encoding="utf-8")
    stages: list[str] = []
    return make_job(path, out=folder / "out", effort="quick", progress=stages.append), stages


def test_laid_out_again_where_the_closest_layout_has_no_room(tmp_path: Path) -> None:
    result, stages = made(tmp_path, count=2, boards=2)
    assert result.proof.passed
    assert stages.count("layout") >= 2
    (board,) = result.layout.boards
    assert (len(board.placements), board.copies) == (1, 2)
    assert len(board.hold_downs) >= 2
    # The board is that of the job again: what was kept free was only for the layout.
    assert board.board.keep_outs == ()


def test_refused_as_before_where_that_does_not_do_either(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="the waste is too thin for a screw"):
        made(tmp_path, count=2, boards=1)
    assert not (tmp_path / "out").exists()


def test_a_leftover_is_kept_beside_screws(tmp_path: Path) -> None:
    result, _ = made(tmp_path, count=1, boards=1, length=640)
    (left,) = result.plan["leftovers"]
    assert left["at"][0] < 320
    assert not any("screws stand" in warning for warning in result.plan["warnings"])
