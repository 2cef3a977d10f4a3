"""Two jobs that write to one folder and one file of stock, and what each leaves there."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from cutjob.making import make_job
from tests.random_jobs.outcome import short_search

ROOT = Path(__file__).parents[2]
# The command itself, with a brief search: how full boards get is no matter here.
COMMAND = """
import sys
from cutjob.cli.commands import main
from cutjob.layout.search.plan_search import POSITIONS
POSITIONS["quick"] = 20_000
sys.argv[0] = "cutjob"
main()
"""
TIMEOUT = 300  # seconds after which a test gives up

JOB = """\
title = "{title}"
units = "mm"
machine = "{machine}"
stock = "shed.toml"

[[make]]
name = "pot foot"
design = "round"
count = {count}
with = {{ diameter = 60, hole = 8 }}
"""
SHED = """\
# Under the workbench.
units = "mm"

[[board]]
name = "larch picket"
length = 700
width = 140
thickness = 12
count = 9
price = 3.40
"""


def write_job(folder: Path, name: str, *, count: int, machine: str = "long-bed-router", shed: bool = True) -> Path:
    """A job file, and the file of stock beside it if there is none yet."""
    folder.mkdir(parents=True, exist_ok=True)
    if shed and not (folder / "shed.toml").exists():
        (folder / "shed.toml").write_text(SHED, encoding="utf-8")
    path = folder / f"{name}.toml"
    path.write_text(JOB.format(title=name.title(), machine=machine, count=count), encoding="utf-8")
    return path


def made(folder: Path, name: str, *, count: int) -> None:
    """Make a job in a folder: `out` and `shed.toml` are there then."""
    job = write_job(folder, name, count=count)
    with short_search():
        result = make_job(job, out=folder / "out", effort="quick", keep_offcuts=folder / "shed.toml")
    assert result.proof.passed
    job.unlink()


def hashes(folder: Path) -> dict[str, str] | None:
    """Every file of a folder and its hash; None where there is no folder."""
    if not folder.exists():
        return None
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def complete(folder: Path) -> bool:
    """Whether a folder holds just the files its own plan names."""
    plan = json.loads((folder / "plan.json").read_bytes())
    return {*plan["files"], "plan.json"} == set(hashes(folder) or ())


def litter(folder: Path) -> list[str]:
    """What runs put beside their output and should have taken away."""
    return sorted(path.name for path in folder.iterdir() if ".cutjob-" in path.name)


def start(job: Path, out: Path, *options: str, **more: Any) -> subprocess.Popen[str]:
    """Start `cutjob make` for a job in a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-c", COMMAND, "make", str(job), "-o", str(out), "--effort", "quick", *options],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        **more,
    )


def ended(process: subprocess.Popen[str]) -> tuple[int, str]:
    """Wait for a run's end: its exit code, and what it said of mistakes."""
    _, said = process.communicate(timeout=TIMEOUT)
    return process.returncode, said
