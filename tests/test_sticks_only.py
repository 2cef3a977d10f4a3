"""A job of nothing but sticks needs no board; one whose items are cut from boards does."""

import pytest

from cutjob import make
from cutjob.errors import InputError

JOB = """
title = "Hangers"
units = "mm"
machine = "{machine}"

[[make]]
name = "hanger"
design = "bundle"
size = "small"
count = 2
with = {{ of = "{of}", star_tips = 0, width = 20, strip = 8 }}

[[strip]]
name = "batten"
width = 20
thickness = 8
length = 2000
count = 2
"""


@pytest.mark.parametrize("machine", ["bench-router", "bandsaw"])
def test_strips_alone(tmp_path, machine):
    job = tmp_path / "hangers.toml"
    job.write_text(JOB.format(machine=machine, of="strips"), encoding="utf-8")
    result = make(job, out=tmp_path / "out", effort="quick")
    assert result.proof.passed
    (one,) = result.plan["sticks"]
    assert sum(stick["count"] * len(stick["pieces"]) for stick in one["sticks"]) <= 10
    assert sum(piece["count"] * stick["count"] for stick in one["sticks"] for piece in stick["pieces"]) == 10
    assert result.plan["boards"] == []
    assert {path.name for path in (tmp_path / "out").iterdir()} >= {"job-sheet.html", "plan.json"}


def test_laths_need_boards(tmp_path):
    job = tmp_path / "hangers.toml"
    job.write_text(JOB.format(machine="bench-router", of="laths"), encoding="utf-8")
    with pytest.raises(InputError, match=r'but part "lath 1" of item "hanger" is cut from a board; add a'):
        make(job, out=tmp_path / "out", effort="quick")
    assert not (tmp_path / "out").exists()


def test_a_saw_leaves_holes_to_the_hands(tmp_path):
    board = '[[board]]\nname = "plank"\nlength = 900\nwidth = 140\nthickness = 16\nmaterial = "softwood"\n'
    job = tmp_path / "hangers.toml"
    job.write_text(JOB.format(machine="bandsaw", of="laths") + "\n" + board, encoding="utf-8")
    result = make(job, out=tmp_path / "out", effort="quick")
    # Small: five laths with two holes each, two hangers.
    assert sum(hole["count"] for hole in result.plan["hand_holes"]) == 20
    assert any("under the drill" in caution for caution in result.plan["cautions"])


def test_sticks_are_not_kept_account_of(tmp_path):
    job, shed = tmp_path / "hangers.toml", tmp_path / "shed.toml"
    job.write_text(JOB.format(machine="bandsaw", of="strips"), encoding="utf-8")
    result = make(job, out=tmp_path / "out", effort="quick", keep_offcuts=shed)
    assert any(warning.startswith("shed.toml: only boards are counted there") for warning in result.plan["warnings"])
