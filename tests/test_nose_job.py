"""Whole jobs on a machine whose spindle's nose is known: what is sawn off, what is left, who is refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cutjob.job.read_machine import profile_path
from cutjob.layout.search.plan_search import POSITIONS
from cutjob.making import MakeResult, make_job
from cutjob.reports.plan.plan import write_plan

LENGTH, KERF = 600.0, 3.175
JOB = """
title = "pegs for the porch"
units = "mm"
machine = "own.toml"
cutter = 1
[[make]]
name = "pegs"
design = "pegs.toml"
count = 1
[[board]]
name = "ash"
length = {length}
width = 125
thickness = 12
material = "softwood"
count = 1
[[board.keep_out]]
outline = [[{at}, 0], [{to}, 0], [{to}, 20], [{at}, 20]]
height = 20
why = "clamp"
"""
PEGS = """
units = "mm"
summary = "a peg sawn off and a disc"
[[sawn]]
name = "peg"
length = 90
[[part]]
name = "disc"
circle = { diameter = 60 }
"""


@pytest.fixture(autouse=True)
def _short_search(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(POSITIONS, "quick", 60_000)


def made(folder: Path, *, length: float, clamp: tuple[float, float]) -> MakeResult:
    """The long-bed router with a nose of 60 mm, 25 mm above the tip of its first cutter."""
    profile = profile_path("long-bed-router", beside=None).read_text("utf-8")
    profile = profile.replace("[spindle]\n", "[spindle]\nnose_diameter = 60\n")
    profile = profile.replace("[[cutter]]\nnumber = 1\n", "[[cutter]]\nnumber = 1\nstickout = 25\n")
    (folder / "own.toml").write_text(profile, "utf-8")
    (folder / "pegs.toml").write_text(PEGS, "utf-8")
    (folder / "job.toml").write_text(JOB.format(length=length, at=clamp[0], to=clamp[1]), "utf-8")
    return make_job(folder / "job.toml", out=folder / "out", effort="quick")


def test_what_is_kept_of_a_sawn_board_is_no_more_than_there_was(tmp_path: Path) -> None:
    result = made(tmp_path, length=LENGTH, clamp=(100, 130))
    assert result.proof.passed
    assert [piece.length for piece in result.layout.sawn] == [90.0]
    (cuts,) = result.layout.saw_order
    assert [(cut.at, cut.length) for cut in cuts.cuts] == [(0.0, 90.0)]  # at the square end, not beyond the clamp
    (board,) = result.layout.after_sawing
    assert board.length == pytest.approx(LENGTH - 90.0 - KERF)
    kept = json.loads(write_plan(result.plan))["leftovers"]
    assert sum(one["count"] for one in kept) == 1


def test_a_piece_is_sawn_off_right_beside_a_clamp(tmp_path: Path) -> None:
    """93 mm and the clamp at 110: the nose would want 30 more, but no saw has one."""
    assert made(tmp_path, length=230.0, clamp=(110, 130)).proof.passed
