"""Others in the same place: a program that has the folder open, and other runs at the same time."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests.faults.jobs import complete, ended, hashes, litter, made, start, write_job

RUNS = 4


@pytest.mark.skipif(sys.platform == "win32", reason="open folders and files can't be renamed there: the run is refused")
def test_a_folder_open_elsewhere(tmp_path: Path) -> None:
    """Another program stands in the folder and has a file of it open: it keeps what it has, and the new is complete."""
    made(tmp_path, "winter", count=3)
    before = hashes(tmp_path / "out")
    program = "import sys; file = open('board-01.nc'); print('open', flush=True); sys.stdin.read(); print(file.read())"
    other = subprocess.Popen(
        [sys.executable, "-c", program],
        cwd=tmp_path / "out",
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert other.stdout is not None
    assert other.stdout.readline() == "open\n"
    old = (tmp_path / "out" / "board-01.nc").read_text(encoding="utf-8")
    assert ended(start(write_job(tmp_path, "job", count=5), tmp_path / "out")) == (0, "")
    assert hashes(tmp_path / "out") != before
    assert complete(tmp_path / "out")
    assert litter(tmp_path) == []
    assert other.communicate("", timeout=60)[0] == old + "\n"


@pytest.mark.slow
def test_several_runs_at_once_on_one_folder(tmp_path: Path) -> None:
    jobs = [write_job(tmp_path, f"job-{run}", count=2 + run) for run in range(RUNS)]
    alone = []
    for run, job in enumerate(jobs):
        assert ended(start(job, tmp_path / f"alone-{run}")) == (0, "")
        alone.append(hashes(tmp_path / f"alone-{run}"))
    for _ in range(2):
        runs = [start(job, tmp_path / "out") for job in jobs]
        assert [ended(run) for run in runs] == [(0, "")] * RUNS
        assert hashes(tmp_path / "out") in alone
        assert complete(tmp_path / "out")
        assert litter(tmp_path) == []


@pytest.mark.slow
def test_several_runs_at_once_on_one_file_of_stock(tmp_path: Path) -> None:
    """Each notes what it took; what one noted is never lost to another that read the file before."""
    jobs = [write_job(tmp_path, f"job-{run}", count=2 + run) for run in range(RUNS)]
    shed = tmp_path / "shed.toml"
    runs = [start(job, tmp_path / f"out-{run}", "--keep-offcuts", str(shed)) for run, job in enumerate(jobs)]
    codes = [ended(run) for run in runs]
    boards = tomllib.loads(shed.read_text(encoding="utf-8"))["board"]
    marks = {taken["by"] for taken in boards[0]["taken"]}
    for run, (code, said) in enumerate(codes):
        name = f"job-{run}.toml"
        # A run may be refused when the boards it counted on were taken while it worked; then it wrote nothing.
        assert (code == 0) == any(name in mark for mark in marks) == (tmp_path / f"out-{run}").exists()
        assert code == 0 or "run the job again" in said
    assert codes.count((0, "")) >= 1
    assert sum(taken["count"] for taken in boards[0]["taken"]) <= boards[0]["count"]
    assert litter(tmp_path) == []
