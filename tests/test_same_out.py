"""The same job, profile and seed give the same bytes: run after run, in any place, time zone, language, on any cores.

Every run here is a process of its own, as what might differ (hashes of strings, caches, the order of threads) is
settled when a process begins.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from cutjob.files.file_bytes import shipped_folder
from tests.random_jobs import write_random_job

ROOT = Path(__file__).parents[1]
# Makes jobs one after the other; prints the hash of every file and of all that is said.
PROGRAM = """
import hashlib, json, os, sys
from pathlib import Path
from click.testing import CliRunner
from cutjob.layout.search.plan_search import POSITIONS
from cutjob import finishing
from cutjob.cli.commands import main

jobs, cores, worth, positions = json.loads(sys.argv[1])
os.cpu_count = lambda: cores
finishing._WORTH_SHARING = worth
POSITIONS["quick"] = positions
if __name__ == "__main__":
    found = {}
    for number, job in enumerate(jobs):
        out = Path("made") / str(number)
        said = CliRunner().invoke(main, ["make", job, "-o", str(out), "--effort", "quick", "--seed", "3"])
        assert said.exit_code in (0, 2), said.output
        files = {path.name: path.read_bytes() for path in sorted(out.glob("*"))}
        words = said.output.replace(f"{Path(job).parent}{os.sep}", "").encode()
        for name, data in {**files, "said": words}.items():
            found[f"{number}/{name}"] = hashlib.sha256(data).hexdigest()
    print(json.dumps(found))
"""
PLAIN = {"PYTHONHASHSEED": "0", "TZ": "UTC", "LC_ALL": "C.UTF-8"}
ELSEWHERE = {"PYTHONHASHSEED": "4711", "TZ": "Pacific/Auckland", "LC_ALL": "de_DE.UTF-8", "COLUMNS": "40"}
POSITIONS = 20_000  # of the search in a run: what is judged is that it goes the same way, not how far


def hashes(
    folder: Path,
    jobs: list[Path],
    environment: dict[str, str],
    *,
    cores: int = 1,
    worth: int = 400,
    options: tuple[str, ...] = (),
) -> dict[str, str]:
    """Make jobs in a process that stands in a folder of its own; returns the hashes by job and file."""
    folder.mkdir()
    script = folder / "program.py"
    script.write_text(PROGRAM, encoding="utf-8")
    given = json.dumps([[str(job) for job in jobs], cores, worth, POSITIONS])
    done = subprocess.run(
        [sys.executable, *options, str(script), given],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
        capture_output=True,
        text=True,
        timeout=900,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout.splitlines()[-1])


def samples(folder: Path) -> list[Path]:
    place = folder / "samples"
    shutil.copytree(shipped_folder("samples"), place)
    return sorted(place.glob("*.toml"))


def test_other_hashes_place_time_zone_and_language(tmp_path: Path) -> None:
    jobs = [job for job in samples(tmp_path) if job.stem in ("gate-stars", "shell-labels", "porch-shelf")]
    one = hashes(tmp_path / "one", jobs, PLAIN)
    assert {Path(name).suffix for name in one} >= {".nc", ".dxf", ".svg", ".json", ".toml"}
    moved = tmp_path / "elsewhere, with blanks and ü"
    shutil.copytree(tmp_path / "samples", moved)
    assert hashes(tmp_path / "two ü", [moved / job.name for job in jobs], ELSEWHERE) == one


@pytest.mark.slow
def test_all_samples_on_more_cores_and_with_cold_caches(tmp_path: Path) -> None:
    jobs = samples(tmp_path)
    one = hashes(tmp_path / "one", jobs, PLAIN)
    # Everything is shared out among processes, however little it is.
    assert hashes(tmp_path / "cores", jobs, ELSEWHERE, cores=3, worth=1) == one
    few = {name: value for name, value in one.items() if name.startswith(("0/", "1/"))}
    assert hashes(tmp_path / "bare", jobs[:2], {**PLAIN, "PYTHONHASHSEED": "random"}, options=("-O", "-B")) == few
    cold = {**ELSEWHERE, "NUMBA_CACHE_DIR": str(tmp_path / "cold")}
    assert hashes(tmp_path / "compiled", jobs[:1], cold) == {
        name: value for name, value in one.items() if name.startswith("0/")
    }


@pytest.mark.slow
def test_random_jobs_twice(tmp_path: Path) -> None:
    for place in ("here", "there"):
        for seed in range(4000, 4010):
            write_random_job(tmp_path / place / str(seed), seed)
    here, there = (
        [tmp_path / place / str(seed) / f"job-{seed}.toml" for seed in range(4000, 4010)] for place in ("here", "there")
    )
    one = hashes(tmp_path / "one", here, PLAIN)
    assert hashes(tmp_path / "two", there, ELSEWHERE, cores=2, worth=1) == one


def test_files_hold_nothing_of_the_machine_they_were_made_on(tmp_path: Path) -> None:
    """No path of it, which another would not write."""
    job = next(job for job in samples(tmp_path) if job.stem == "gate-stars")
    hashes(tmp_path / "one", [job], PLAIN)
    for path in (tmp_path / "one" / "made" / "0").iterdir():
        assert str(tmp_path).encode() not in path.read_bytes(), path.name


def test_a_job_changed_and_made_again_in_one_process(tmp_path: Path) -> None:
    """What is remembered from the runs before never gets into another run's files."""
    place = samples(tmp_path)[0].parent
    text = (place / "porch-spinner.toml").read_text(encoding="utf-8")
    jobs = []
    for number, (old, new) in enumerate(
        [
            ("", ""),
            ('longest = "16 1/2"', 'longest = "16"'),
            ('topper_diameter = "3 1/2"', 'topper_diameter = "3 1/4"'),
            ("price = 3.40", "price = 4.10"),
            ('thickness = "5/8"', 'thickness = "9/16"'),
            ("", ""),
        ]
    ):
        jobs.append(place / f"spinner-{number}.toml")
        jobs[-1].write_text(text.replace(old, new), encoding="utf-8")
    one = hashes(tmp_path / "one", jobs, PLAIN)
    for number in (1, 3, 4, 5):
        alone = hashes(tmp_path / str(number), [jobs[number]], PLAIN)
        here = {name: value for name, value in one.items() if name.startswith(f"{number}/")}
        for name in alone:
            if name != "0/said":  # it names the folder
                assert here[name.replace("0/", f"{number}/", 1)] == alone[name], name
        assert len(here) == len(alone)
