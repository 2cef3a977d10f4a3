"""How soon there is something to look at: the first run on a computer, a later run, and a size changed in one process.

    python -m tests.benchmarks.quick [--runs 3] [--job samples/porch-spinner.toml] [--change '16 1/2']

Seconds on the wall, medians, beside the figures wanted on two quiet cores. `rows` gives the same to other tables. The
first run has an empty cache of compiled functions; all runs have the modules' own bytecode, as an installed package
has.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from cutjob.files.file_bytes import shipped_folder
from cutjob.laying_out import lay_out_wood
from cutjob.layout.search.progress import SearchProgress
from cutjob.making import make_job
from cutjob.output.picture.picture import write_picture
from cutjob.resolved import read_order, resolve
from cutjob.units import parse_length

_ROOT = Path(__file__).parents[2]
_COMMAND = [sys.executable, "-c", "from cutjob.cli.commands import main; main()"]
_SPARE = 2  # changes made before time is taken


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the table: what was timed, its seconds, and those wanted."""

    what: str
    seconds: float
    wanted: float

    def __str__(self) -> str:
        return f"{self.what:<58}{self.seconds:9.2f} s   wanted {self.wanted:5.1f} s"


class FirstPlan:
    """Stops a search at its first complete layout."""

    stop = False

    def tell(self, progress: SearchProgress) -> None:
        """Take note of how far the search is."""
        self.stop = self.stop or progress.boards > 0


def command_seconds(job: Path, *options: str, cache: Path, bytecode: Path) -> float:
    """Seconds of `cutjob make` in a process of its own; CalledProcessError where it fails."""
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    environment |= {
        "NUMBA_CACHE_DIR": str(cache),
        "PYTHONPYCACHEPREFIX": str(bytecode),
        "PYTHONPATH": os.pathsep.join(filter(None, (str(_ROOT), os.environ.get("PYTHONPATH")))),
    }
    with tempfile.TemporaryDirectory() as out:
        command = [*_COMMAND, "make", str(job), "-o", str(Path(out) / "out"), *options]
        start = time.perf_counter()
        subprocess.run(command, env=environment, cwd=out, check=True, capture_output=True)
        return time.perf_counter() - start


def changed(job: Path, old: str, folder: Path) -> Iterator[Path]:
    """Yield copies of a job in inches in which a length, as it is written in it, is half a mm shorter each time."""
    text = job.read_text(encoding="utf-8")
    if f'"{old}"' not in text:
        raise ValueError(f'{job.name} has no "{old}"')
    copy, length = folder / job.name, float(parse_length(old, unit="in"))
    for number in count(1):
        copy.write_text(text.replace(f'"{old}"', f'"{length - number / 2} mm"', 1), encoding="utf-8")
        yield copy


def picture_seconds(job: Path) -> float:
    """Seconds from a job's file to the pictures of its first layout."""
    start = time.perf_counter()
    resolved = resolve(*read_order(job))
    layouts = [lay_out_wood(wood, seed=0, effort="quick", watch=FirstPlan()) for wood in resolved.woods]
    for board in (board for layout in layouts for board in layout.boards):
        write_picture(board, program=None, units=resolved.units, title=resolved.job.file.title)
    return time.perf_counter() - start


def files_seconds(job: Path, out: Path) -> float:
    """Seconds from a job's file to the folder of proven files of its first layout."""
    start = time.perf_counter()
    result = make_job(job, out=out, effort="quick", watch=FirstPlan())
    if not result.proof.passed:
        raise ValueError(f"{job.name} is not proven")
    return time.perf_counter() - start


def rows(job: Path, *, change: str, runs: int = 3, commands: bool = True) -> tuple[Row, ...]:
    """Return the rows of the table; without `commands` only those of one process."""
    found: list[Row] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        bytecode = folder / "bytecode"
        if commands:
            command_seconds(job, "--effort", "quick", cache=folder / "warm", bytecode=bytecode)
            first = [command_seconds(job, cache=folder / f"new-{run}", bytecode=bytecode) for run in range(runs)]
            found.append(_row("first run on a computer, normal search", first, 12.0))
            later = [
                command_seconds(job, "--effort", "quick", cache=folder / "warm", bytecode=bytecode) for _ in range(runs)
            ]
            found.append(_row("later run, quick search", later, 1.2))
        jobs = changed(job, change, folder)
        for what, wanted, seconds in (
            ("size changed: picture of the first layout", 0.1, lambda: picture_seconds(next(jobs))),
            ("size changed: proven files of the first layout", 0.2, lambda: files_seconds(next(jobs), folder / "out")),
        ):
            timed = [seconds() for _ in range(_SPARE + runs)]
            found.append(_row(what, timed[_SPARE:], wanted))
    return tuple(found)


def _row(what: str, seconds: Sequence[float], wanted: float) -> Row:
    return Row(what=what, seconds=statistics.median(seconds), wanted=wanted)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--job", type=Path, default=shipped_folder("samples") / "porch-spinner.toml")
    parser.add_argument("--change", default="16 1/2", help="the length to change, as it is written in the job")
    given = parser.parse_args()
    for row in rows(given.job, change=given.change, runs=given.runs):
        print(row)


if __name__ == "__main__":
    main()
