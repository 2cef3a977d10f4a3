"""Ctrl-C reaches every process of a terminal: the shared work takes it as the first process does."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no groups of processes to signal")

# The first process says what it has done on standard output, and the test answers with Ctrl-C for all of them.
PROGRAM = """
import os, signal, time
from cutjob.workers import processes

def number():
    return os.getpid()

if __name__ == "__main__":
    {before}
    with processes(100_000, cores=2) as executor:
        print("begun", flush=True)
        {work}
"""
KEPT = """
        while not heard:
            time.sleep(0.01)
        print(executor.submit(number).result() > 0, flush=True)
"""
ENDED = """
        executor.submit(number).result()
        print("at work", flush=True)
        executor.submit(time.sleep, 100_000).result()
"""
WAIT = 120  # seconds after which a test gives up


def started(folder: Path, before: str, work: str) -> subprocess.Popen[str]:
    script = folder / "work.py"
    script.write_text(PROGRAM.format(before=before, work=work.strip()), encoding="utf-8")
    return subprocess.Popen(
        [sys.executable, str(script)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        cwd=Path(__file__).parents[1],
    )


def press_after(process: subprocess.Popen[str], words: str) -> tuple[str, str]:
    """Press Ctrl-C once the words were printed; returns what follows on both outputs."""
    assert process.stdout is not None
    while words not in (line := process.stdout.readline()):
        assert line, process.communicate()
    os.killpg(process.pid, signal.SIGINT)
    return process.communicate(timeout=WAIT)


def test_processes_work_on_when_the_first_one_does(tmp_path: Path) -> None:
    """They are only just starting when it comes."""
    before = "heard = []; signal.signal(signal.SIGINT, lambda *_: heard.append(1))"
    process = started(tmp_path, before, KEPT)
    assert press_after(process, "begun") == ("True\n", "")
    assert process.returncode == 0


def test_processes_end_with_the_first_one(tmp_path: Path) -> None:
    process = started(tmp_path, "pass", ENDED)
    # Its outputs end only when no process holds them any more, or this waits in vain.
    out, said = press_after(process, "at work")
    assert out == ""
    assert said.rstrip().endswith("KeyboardInterrupt")
    assert said.count("Traceback") == 1, said
    assert process.returncode != 0
