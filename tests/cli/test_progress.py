"""The line on the terminal: its words, the time left, and that names in it stay text."""

from __future__ import annotations

import io
import itertools
import signal
import sys
import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from cutjob.cli.progress import ProgressLine, TimeLeft, progress_line, search_in_words, time_in_words
from cutjob.layout.search.progress import SearchProgress

CLOSE = 1e-6  # of figures worked out with a few roundings


def standing(boards: int = 3, yield_: float = 0.714, done: float = 0.4, what: str = "") -> SearchProgress:
    return SearchProgress(boards=boards, yield_=yield_, done=done, what=what)


@pytest.mark.parametrize(
    ("at", "left", "stopping", "words"),
    [
        (None, None, False, "layout: no layout yet"),
        (
            standing(0, 0.0, 0.0, "getting the engine ready, once on this machine"),
            None,
            False,
            "layout: no layout yet; getting the engine ready, once on this machine",
        ),
        (standing(0, 0.0, 0.1), 60.0, False, "layout: no layout yet, 10% done, about 60 s left"),
        (standing(), 33.0, False, "layout: 3 boards, 71% in parts, 40% done, about 35 s left (Ctrl-C keeps it)"),
        (standing(1, what="two pickets less"), None, False,
         "layout: 1 board, 71% in parts, 40% done (Ctrl-C keeps it); two pickets less"),
        (standing(done=1.0000001), 0.0, False,
         "layout: 3 boards, 71% in parts, 100% done, a few seconds left (Ctrl-C keeps it)"),
        (None, None, True,
         "layout: will stop at the first layout found; Ctrl-C again ends at once, with nothing written"),
        (standing(), 33.0, True,
         "layout: stopping, the best so far is kept: 3 boards, 71% in parts; Ctrl-C again ends at once, with nothing "
         "written"),
    ],
)  # fmt: skip
def test_words(at: SearchProgress | None, left: float | None, stopping: bool, words: str) -> None:
    assert search_in_words(at, left, stopping=stopping) == words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.0, "a few seconds left"),
        (7.4, "a few seconds left"),
        (7.6, "about 10 s left"),
        (62.0, "about 60 s left"),
        (90.0, "about 2 min left"),
        (60 * 89.0, "about 89 min left"),
        (3600 * 1.6, "about 2 h left"),
    ],
)
def test_times(seconds: float, words: str) -> None:
    assert time_in_words(seconds) == words


@given(whole=st.floats(5.0, 1e5), ready=st.floats(0.0, 100.0), steps=st.integers(3, 60))
def test_steady_work_ends_when_it_is_said_to(whole: float, ready: float, steps: int) -> None:
    """Getting ready, with nothing done, is not counted as work."""
    left = TimeLeft()
    left.note(0.0, 0.0)
    left.note(0.0, ready)
    assert left.seconds(ready) is None
    for step in range(1, steps + 1):
        now = ready + whole * step / steps
        left.note(step / steps, now)
        said = left.seconds(now)
        if step / steps >= 0.02:
            assert said == pytest.approx(ready + whole - now, abs=whole * CLOSE)


def test_a_slower_stretch_moves_the_estimate_slowly() -> None:
    left = TimeLeft()
    left.note(0.0, 0.0)
    for second in range(1, 21):
        left.note(second / 40, float(second))
    said = [left.seconds(20.0)]
    for tenth in range(1, 11):  # a second in which nothing comes on
        left.note(0.5, 20.0 + tenth / 10)
        said.append(left.seconds(20.0 + tenth / 10))
    figures = [figure for figure in said if figure is not None]
    assert figures[0] == pytest.approx(20.0, abs=CLOSE)
    assert len(figures) == 11
    assert all(abs(late - soon) < 0.2 for soon, late in itertools.pairwise(figures))


def test_a_search_that_begins_again_forgets() -> None:
    left = TimeLeft()
    left.note(0.0, 0.0)
    left.note(0.9, 10.0)
    left.note(0.1, 11.0)
    assert left.seconds(11.0) is None
    left.note(0.2, 12.0)
    assert left.seconds(12.0) == pytest.approx(4.0, abs=CLOSE)


def test_the_line_follows_the_stages_and_the_search() -> None:
    line = ProgressLine(shown=False, clock=lambda: 0.0)
    assert line.words == "reading"
    line.stage("layout")
    try:
        assert line.words == "layout: no layout yet"
        line.tell(standing())
        assert line.words.startswith("layout: 3 boards, 71% in parts, 40% done")
        line.stage("cuts")
        assert line.words == "cuts"
    finally:
        line.end()


def test_ctrl_c_stops_the_search_once_there_is_a_layout(capsys: pytest.CaptureFixture[str]) -> None:
    before = signal.getsignal(signal.SIGINT)
    with progress_line(shown=False) as line:
        line.stage("layout")
        line.tell(standing(0))
        signal.raise_signal(signal.SIGINT)
        assert not line.stop
        line.tell(standing(1))
        assert line.stop
        line.stage("cuts")
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) == before
    said = capsys.readouterr()
    assert said.err.splitlines() == [
        "layout: will stop at the first layout found; Ctrl-C again ends at once, with nothing written"
    ]
    assert said.out == ""


def test_whatever_ends_the_search_ctrl_c_is_given_back() -> None:
    before = signal.getsignal(signal.SIGINT)

    def failing() -> None:
        with progress_line(shown=False) as line:
            line.stage("layout")
            assert signal.getsignal(signal.SIGINT) != before
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        failing()
    assert signal.getsignal(signal.SIGINT) == before


class _Terminal(io.StringIO):
    """A terminal that says when a text was written to it."""

    def __init__(self, awaited: str) -> None:
        super().__init__()
        self.awaited, self.seen = awaited, threading.Event()

    def isatty(self) -> bool:
        return True

    def write(self, text: str) -> int:
        written = super().write(text)
        if self.awaited in self.getvalue():
            self.seen.set()
        return written


@pytest.mark.parametrize("searching", [False, True])
def test_the_names_in_the_line_are_text(monkeypatch: pytest.MonkeyPatch, searching: bool) -> None:
    monkeypatch.setenv("TERM", "xterm")
    terminal = _Terminal("ply [/2]?[3J")
    monkeypatch.setattr(sys, "stderr", terminal)
    with progress_line(shown=True) as line:
        if searching:
            line.stage("layout")
            line.tell(standing(0, what="ply [/2]\x1b[3J"))
        else:
            line.stage("ply [/2]\x1b[3J")
        assert terminal.seen.wait(60)


def test_the_line_is_one_line_and_cut_off_at_the_edge() -> None:
    line = ProgressLine(shown=True)
    line.stage("layout")
    line.tell(standing(what="long " * 50))
    line.end()
    terminal = io.StringIO()
    Console(file=terminal, width=60).print(line, end="")
    drawn = terminal.getvalue().rstrip("\n")
    assert "\n" not in drawn
    assert len(drawn) <= 60
    assert drawn.endswith("…")
    assert "3 boards" in drawn
