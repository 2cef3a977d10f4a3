"""Ctrl-C on a real terminal, pressed while a real program searches for a layout.

A search that goes on until it is told to stop stands in front of the real one; no test judges how long anything takes.
"""

from __future__ import annotations

import json
import os
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

pty = pytest.importorskip("pty", reason="there are no such terminals on this system")

JOB = """
units = "mm"
machine = "long-bed-router"
[[make]]
name = "pot foot"
design = "round"
count = 2
with = { diameter = 60, hole = 8 }
[[board]]
name = "larch picket"
length = 400
width = 140
thickness = 12
"""
# Files in a folder are the signs to begin the search and to find a layout, and the search's sign that it began.
PROGRAM = """
import pathlib, sys, time
import cutjob.making
from cutjob.cli.commands import main
from cutjob.layout.search.progress import SearchProgress

signs, plain = pathlib.Path(sys.argv.pop(1)), cutjob.making.lay_out_wood

def lay_out_wood(*given, watch, **options):
    watch.tell(SearchProgress(boards=0, yield_=0.0, done=0.0, what="getting ready, once on this machine"))
    while not (signs / "begin").exists():
        time.sleep(0.01)
    while not watch.stop:
        boards = 3 if (signs / "found").exists() else 0
        watch.tell(SearchProgress(boards=boards, yield_=0.5 if boards else 0.0, done=0.25, what="fewer boards"))
        (signs / "searching").touch()
        time.sleep(0.01)
    return plain(*given, watch=None, **options)

cutjob.making.lay_out_wood = lay_out_wood
sys.exit(main())
"""
WAIT = 120  # seconds after which a test gives up


class Terminal:
    """A program with a terminal for its standard error, and what was drawn there."""

    def __init__(self, process: subprocess.Popen[bytes], screen: int, signs: Path) -> None:
        self.process, self._screen, self._signs = process, screen, signs
        self.drawn = ""

    def wait_for(self, words: str) -> None:
        """Read on until the words are drawn, after all that was awaited before."""
        start, end = len(self.drawn), time.monotonic() + WAIT
        while words not in self.drawn[start:]:
            assert self._more(), f"never drawn: {words!r} in {self.drawn!r}"
            assert time.monotonic() < end, f"not drawn: {words!r} in {self.drawn[-2000:]!r}"

    def wait_until_searching(self) -> None:
        """Wait for the sign that the search began."""
        end = time.monotonic() + WAIT
        while not (self._signs / "searching").exists():
            assert time.monotonic() < end
            time.sleep(0.01)

    def begin(self) -> None:
        """Let the search begin."""
        (self._signs / "begin").touch()

    def find_a_layout(self) -> None:
        """Let the search find its first layout."""
        (self._signs / "found").touch()

    def press(self) -> None:
        """Press Ctrl-C."""
        self.process.send_signal(signal.SIGINT)

    def rest(self) -> tuple[int, str]:
        """The exit code, and what was printed on standard output."""
        while self._more():
            pass
        out, _ = self.process.communicate(timeout=WAIT)
        return self.process.returncode, out.decode()

    def _more(self) -> bool:
        ready, _, _ = select.select([self._screen], [], [], WAIT)
        assert ready, f"nothing more drawn after {self.drawn[-2000:]!r}"
        try:
            data = os.read(self._screen, 4096)
        except OSError:  # the last program at the other end has gone
            return False
        self.drawn += data.decode(errors="replace")
        return bool(data)


@contextmanager
def making(folder: Path, *words: str) -> Iterator[Terminal]:
    """Make a job of the folder's `job`, into its `out`."""
    screen, other_end = pty.openpty()
    for name in ("job", "signs"):
        (folder / name).mkdir()
    (folder / "job" / "spring.toml").write_text(JOB, encoding="utf-8")
    command = [sys.executable, "-c", PROGRAM, str(folder / "signs"), "make", "spring.toml", "-o", str(folder / "out")]
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "200"}
    process = subprocess.Popen(
        [*command, "--effort", "quick", *words],
        stdout=subprocess.PIPE,
        stderr=other_end,
        env=environment,
        cwd=folder / "job",
    )
    os.close(other_end)
    try:
        yield Terminal(process, screen, folder / "signs")
    finally:
        process.kill()
        process.wait()
        assert process.stdout is not None
        process.stdout.close()
        os.close(screen)


def test_once_keeps_the_best_layout_and_goes_on(tmp_path: Path) -> None:
    with making(tmp_path) as terminal:
        terminal.begin()
        terminal.find_a_layout()
        terminal.wait_for("layout: 3 boards, 50% in parts, 25% done")
        terminal.press()
        code, printed = terminal.rest()
    assert code == 0, terminal.drawn
    assert "search   stopped by hand with the best layout so far" in printed
    assert printed.splitlines()[-1] == f"files    {tmp_path / 'out'} (start with job-sheet.html)"
    plan = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    assert plan["search"] == {"seed": 0, "effort": "quick", "stopped": True, "clock_decided": True, "unfinished": False}
    assert plan["proof"]["passed"] is True
    assert (tmp_path / "out" / "board-01.nc").exists()


def test_without_a_layout_it_goes_on_to_the_first(tmp_path: Path) -> None:
    with making(tmp_path) as terminal:
        terminal.wait_for("layout: no layout yet; getting ready, once on this machine")
        terminal.begin()
        terminal.wait_for("layout: no layout yet, 25% done")
        terminal.press()
        terminal.wait_for("layout: will stop at the first layout found; Ctrl-C again ends at once")
        assert terminal.process.poll() is None
        terminal.find_a_layout()
        code, printed = terminal.rest()
    assert code == 0, terminal.drawn
    assert "search   stopped by hand" in printed
    assert "proof    passed" in printed


def test_twice_ends_at_once_and_leaves_everything_as_it_was(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine.txt").write_text("kept", encoding="utf-8")
    with making(tmp_path) as terminal:
        terminal.begin()
        terminal.wait_for("layout: no layout yet, 25% done")
        terminal.press()
        terminal.wait_for("layout: will stop at the first layout found")
        terminal.press()
        code, printed = terminal.rest()
    assert (code, printed) == (130, "")
    assert terminal.drawn.rstrip().endswith("stopped")
    assert "Traceback" not in terminal.drawn
    assert [file.name for file in (tmp_path / "out").iterdir()] == ["mine.txt"]
    assert [file.name for file in (tmp_path / "job").iterdir()] == ["spring.toml"]


def test_data_comes_without_a_line_and_is_stopped_as_well(tmp_path: Path) -> None:
    with making(tmp_path, "--json") as terminal:
        terminal.begin()
        terminal.wait_until_searching()
        terminal.press()
        terminal.wait_for("nothing written")
        terminal.find_a_layout()
        code, printed = terminal.rest()
    assert code == 0, terminal.drawn
    assert json.loads(printed)["search"]["stopped"] is True
    assert terminal.drawn.splitlines() == [
        "layout: will stop at the first layout found; Ctrl-C again ends at once, with nothing written"
    ]
