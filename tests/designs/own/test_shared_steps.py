"""All lines of a job share the steps its own designs may take."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutjob.designs import evaluate as order
from cutjob.designs.design import Work
from cutjob.designs.own.quantity import FormulaError
from cutjob.designs.own.scope import Budget
from cutjob.errors import InputError
from cutjob.resolved import read_order

DESIGN = """\
units = "mm"
summary = "a lath"
[series.step]
count = 50
each = "i * 2 mm"
[[part]]
name = "lath"
rectangle = { length = "60 + step(3)", width = 20 }
"""
JOB = """\
title = "Laths"
units = "mm"
machine = "bench-router"
[[board]]
name = "birch"
length = 300
width = 200
thickness = 12
material = "plywood"
"""


def job(folder: Path, lines: int) -> Path:
    (folder / "lath.toml").write_text(DESIGN.replace("60 + step(3)", "60 mm + step(3)"), encoding="utf-8")
    made = "".join(f'[[make]]\nname = "lath {n}"\ndesign = "lath.toml"\n' for n in range(lines))
    (folder / "job.toml").write_text(JOB + made, encoding="utf-8")
    return folder / "job.toml"


def test_every_line_takes_of_the_same_steps(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shared: list[Work] = []

    def given(left: int) -> None:
        shared.clear()
        monkeypatch.setattr(order, "Work", lambda: shared.append(Work(left=left)) or shared[-1])

    given(10_000)
    read_order(job(tmp_path, 1))
    one = 10_000 - shared[0].left
    assert one > 100  # fifty steps of some words each
    given(10_000)
    read_order(job(tmp_path, 3))
    assert 10_000 - shared[0].left == 3 * one
    given(3 * one - 1)
    with pytest.raises(InputError, match="more steps than any job needs"):
        read_order(job(tmp_path, 3))


def test_neither_the_item_s_nor_the_job_s_steps_are_passed() -> None:
    work = Work(left=100)
    Budget(left=70, work=work).spend(60)
    with pytest.raises(FormulaError, match="any job"):
        Budget(left=70, work=work).spend(60)
    with pytest.raises(FormulaError, match="any item"):
        Budget(left=50, work=Work()).spend(60)
