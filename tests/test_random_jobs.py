"""Whole jobs at random: each ends in a proven folder or in a clear refusal, never in a failed proof or a crash."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.layout.plan_search import POSITIONS
from cutjob.pipeline import make_job
from cutjob.tolerances import TOLERANCES
from tests.random_jobs import write_random_job

QUICK, SLOW = range(1000, 1025), range(2000, 2200)
# Of the jobs the generator writes, about two in three can be made; far fewer would mean that it has gone blind.
LEAST_MADE = 0.4


@pytest.fixture(autouse=True)
def _short_search(monkeypatch: pytest.MonkeyPatch) -> None:
    """A twentieth of the quick search: how full boards get is tested with the layouts."""
    monkeypatch.setitem(POSITIONS, "quick", 100_000)


def ends_well(folder: Path, seed: int) -> bool:
    """Make a job, check how it ends, and say whether it was made."""
    path, out = write_random_job(folder, seed), folder / "out"
    try:
        result = make_job(path, out=out, effort="quick")
    except InputError as error:
        assert not out.exists()
        for problem in error.problems:
            assert problem.message.strip()
            assert "Traceback" not in str(problem)
        return False
    assert result.proof.passed, f"seed {seed}: " + "\n".join(str(finding) for finding in result.proof.findings)
    assert result.proof.worst_gouge <= TOLERANCES.acceptance
    assert result.proof.worst_left <= TOLERANCES.acceptance
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert plan["proof"]["passed"] is True
    named = {program["file"] for board in plan["boards"] for program in board["programs"]}
    assert named <= {file.name for file in out.iterdir()}
    made = sum(len(board["placements"]) * board["stack"] * board["copies"] for board in plan["boards"])
    assert made == sum(item.count * len(item.build.shaped) for item in result.items)
    return True


def test_jobs_at_random(tmp_path: Path) -> None:
    made = [ends_well(tmp_path / str(seed), seed) for seed in QUICK]
    assert sum(made) >= LEAST_MADE * len(made)


@pytest.mark.slow
@pytest.mark.parametrize("first", SLOW[::25])
def test_more_jobs_at_random(tmp_path: Path, first: int) -> None:
    made = [ends_well(tmp_path / str(seed), seed) for seed in range(first, first + 25)]
    assert sum(made) >= LEAST_MADE * len(made)


def test_the_same_seed_writes_the_same_job(tmp_path: Path) -> None:
    one, two = (write_random_job(tmp_path / name, 7).read_bytes() for name in ("one", "two"))
    assert one == two
