"""What a command answered to a case, in this process or in one of its own, and what is wrong with the answer."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from click.testing import CliRunner

from cutjob.cli.commands import main
from tests.hostile.case import Case

MOST_SECONDS = 5.0  # of the processor: how long the clock runs depends on what else the machine does
MOST_BYTES = 500_000_000
_WORK, _USUAL_SECONDS = 3_000_000, 0.08  # a sum, and its time where the slowest case takes 4 s, by proportion
_LONGEST_WAIT = 120.0  # seconds by the clock, for what waits instead of working
_MOST_LINES = 60
_LONGEST_LINE = 900
_NOT_SAID = ("Traceback", "cutjob itself failed", "Error:", "Errno", "object at 0x", "<class", "None")
_OLD_PLAN = {"schema": "cutjob-plan/1", "files": ["board-01.nc"]}


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Exit code and the lines on standard error and output; seconds and bytes where they were measured."""

    code: int
    said: tuple[str, ...]
    printed: str
    seconds: float = 0.0
    peak: int = 0


@contextlib.contextmanager
def laid_out(case: Case, folder: Path) -> Iterator[Path]:
    """The case's folder, with an output folder of an earlier run in it."""
    work = folder / "work"
    old = work / "out" / "job"
    old.mkdir(parents=True)
    (old / "plan.json").write_text(json.dumps(_OLD_PLAN), encoding="utf-8")
    (old / "board-01.nc").write_text("(old)\n", encoding="utf-8")
    (folder / "beside.txt").write_text("beside\n", encoding="utf-8")
    case.write(work)
    yield work


def answered_here(case: Case, work: Path) -> Answer:
    """Run the command in this process."""
    with contextlib.chdir(work):
        result = CliRunner().invoke(main, list(case.args))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return Answer(code=result.exit_code, said=tuple(_lines(result.stderr)), printed=result.stdout)


def answered_alone(case: Case, work: Path) -> Answer:
    """Run the command in a process of its own, and measure it."""
    root = Path(__file__).parents[2]
    report = work.parent / "measured.json"
    environment = {**os.environ, "PYTHONPATH": str(root), "PYTHONIOENCODING": "utf-8"}
    command = [sys.executable, "-m", "tests.hostile.child", str(report), *case.args]
    done = subprocess.run(
        command, cwd=work, env=environment, capture_output=True, timeout=_LONGEST_WAIT, check=False, text=True,
        encoding="utf-8", errors="backslashreplace", stdin=subprocess.DEVNULL,
    )  # fmt: skip
    measured = json.loads(report.read_text(encoding="utf-8")) if report.exists() else {"seconds": 1e9, "peak": 1e18}
    report.unlink(missing_ok=True)
    return Answer(
        code=done.returncode,
        said=tuple(_lines(done.stderr)),
        printed=done.stdout,
        seconds=float(measured["seconds"]),
        peak=int(measured["peak"]),
    )


def _lines(text: str) -> list[str]:
    return [line for line in text.split("\n") if line]


def _slowness() -> float:
    """How much longer than usual the processor takes for plain work just now: others may share it."""
    taken = []
    for _ in range(7):
        start = time.process_time()
        sum(number % 7 for number in range(_WORK))
        taken.append(time.process_time() - start)
    return sorted(taken)[3] / _USUAL_SECONDS


def faults(case: Case, answer: Answer) -> list[str]:
    """What is wrong with an answer; nothing when it is as it should be."""
    said = "\n".join(answer.said)
    found = [f"says {word!r}" for word in _NOT_SAID if word in said]
    if answer.code not in case.codes:
        found.append(f"exit code {answer.code}, not one of {case.codes}")
    if answer.code == 0:
        return found if not answer.said else [*found, "has something to say, and ends well"]
    lines = answer.said if answer.code == 2 else (*answer.said, *_lines(answer.printed))
    found += [f"does not say {word!r}" for word in case.says if word not in said]
    if not lines:
        found.append("says nothing")
    if case.at and not (answer.said and answer.said[0].startswith(case.at)):
        found.append(f"does not begin with {case.at!r}")
    if case.lines is not None and len(answer.said) != case.lines:
        found.append(f"says {len(answer.said)} lines, not {case.lines}")
    if len(answer.said) > _MOST_LINES or len(set(answer.said)) < len(answer.said):
        found.append("says too much, or one thing twice")
    found += [f"a line too long or with characters that can't be seen: {line[:80]!r}" for line in lines if _bad(line)]
    if answer.code == 2:
        found += [f"does not say what to do: {line}" for line in answer.said if ";" not in line and ", or " not in line]
    if answer.seconds > MOST_SECONDS and answer.seconds > MOST_SECONDS * _slowness():
        found.append(f"took {answer.seconds:.1f} s")
    if answer.peak > MOST_BYTES:
        found.append(f"took {answer.peak / 1e6:.0f} MB")
    return found


def _bad(line: str) -> bool:
    return len(line) > _LONGEST_LINE or not line.isprintable()


def everything_in(folder: Path) -> dict[str, object]:
    """All that is in a folder: names with the bytes, the target of a link, or the kind of anything else."""
    found: dict[str, object] = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink():
            found[name] = str(path.readlink())
        elif path.is_file():
            found[name] = path.read_bytes()
        else:
            found[name] = "folder" if path.is_dir() else "device"
    return found


def checked(case: Case, folder: Path, *, alone: bool = False) -> list[str]:
    """Run a case and return all that is wrong: in the answer, or in what became of the files."""
    with laid_out(case, folder) as work:
        before = everything_in(folder)
        answer = (answered_alone if alone else answered_here)(case, work)
        after = everything_in(folder)
    found = faults(case, answer)
    if answer.code != 0 and before != after:
        changed = [name for name in before.keys() | after.keys() if before.get(name) != after.get(name)]
        found.append(f"changed {sorted(changed)[:5]}")
    if answer.code == 0 and case.args[0] == "make" and not _proven(work):
        found.append("ended well without a proven folder")
    return [f"{case.name}: {one}\n  " + "\n  ".join(answer.said[:5]) for one in found]


def _proven(work: Path) -> bool:
    plans = [path for path in work.rglob("plan.json") if b'"passed": true' in path.read_bytes()]
    litter = list(work.rglob(".*cutjob*"))
    return bool(plans) and not litter
