"""The progress line on the terminal: the stage of the work, how far the search for a layout is and when it ends.

Ctrl-C during the search for a layout: once asks the search to end with what it has, twice ends the program.
"""

from __future__ import annotations

import math
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TYPE_CHECKING, Any

import click

from cutjob import compiling
from cutjob.counting import counted
from cutjob.layout.search.progress import SEARCH_STAGE, SearchProgress

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderResult
    from rich.spinner import Spinner


class StopKey:
    """Listens for Ctrl-C between `begin` and `end`; outside of these Ctrl-C works as before.

    The first press sets `asked` and calls `heard`, in the middle of whatever the program does; the second raises
    KeyboardInterrupt. Nothing is changed outside the main thread, where Python allows no handler, nor where Ctrl-C is
    ignored, as for a program the shell runs in the background.
    """

    def __init__(self, heard: Callable[[], None] = lambda: None) -> None:
        """Take what to call at the first press."""
        self.asked = False
        self._heard = heard
        self._before: Any = None
        self._listening = False

    def begin(self) -> None:
        """Listen from now on."""
        in_main = threading.current_thread() is threading.main_thread()
        if self._listening or not in_main or signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
            return
        self._before = signal.signal(signal.SIGINT, self._pressed)
        self._listening = True

    def end(self) -> None:
        """Give Ctrl-C back to what it did before."""
        if self._listening:
            self._listening = False
            # None stands for a handler that was not set from Python and can't be set again.
            signal.signal(signal.SIGINT, signal.default_int_handler if self._before is None else self._before)

    def _pressed(self, number: int, frame: FrameType | None) -> None:
        if self.asked:
            signal.default_int_handler(number, frame)
        self.asked = True
        self._heard()


_REFRESHED = 8  # times a second
# Estimates of the time left follow new measurements within about this many seconds, so that the figure doesn't jump.
_SMOOTHED = 4.0
_ENOUGH_DONE = 0.02  # share done from which the time left can be estimated
_FIRST_RUN = "getting the program ready for this computer, on the first run only; some seconds"
_AGAIN = "Ctrl-C again ends at once, with nothing written"


def one_line(text: str) -> str:
    """Return text without line ends and control characters, which a file's content may carry to the terminal."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)


class TimeLeft:
    """Estimates the seconds left of a search from the share done and the time since work began; smoothed."""

    def __init__(self) -> None:
        """Nothing is known yet."""
        self._start = self._noted = self._done = 0.0
        self._whole: float | None = None

    def note(self, done: float, now: float) -> None:
        """Take note of the share done, 0 to 1, at a moment in seconds. Before anything is done, time doesn't count."""
        if done <= 0.0 or done < self._done:
            self._start, self._whole = now, None
        elif now > self._start:
            whole = (now - self._start) / done
            weight = 1.0 if self._whole is None else 1.0 - math.exp((self._noted - now) / _SMOOTHED)
            self._whole = whole if self._whole is None else self._whole + weight * (whole - self._whole)
        self._done, self._noted = done, now

    def seconds(self, now: float) -> float | None:
        """Return the seconds left, at a moment in seconds; None while too little is done to estimate them."""
        if self._whole is None or self._done < _ENOUGH_DONE:
            return None
        return max(0.0, self._start + self._whole - now)


def time_in_words(seconds: float) -> str:
    """`a few seconds left`, `about 35 s left`, `about 4 min left`, `about 2 h left`."""
    if seconds < 7.5:
        return "a few seconds left"
    if seconds < 90:
        return f"about {5 * round(seconds / 5)} s left"
    if seconds < 90 * 60:
        return f"about {round(seconds / 60)} min left"
    return f"about {round(seconds / 3600)} h left"


def search_in_words(progress: SearchProgress | None, left: float | None, *, stopping: bool) -> str:
    """Return how far a search is in one line; `left` is in seconds, None where it isn't known."""
    if progress is None or progress.boards == 0:
        words = "will stop at the first layout found" if stopping else "no layout yet"
    else:
        boards = counted(progress.boards, "board")
        words = f"{boards}, {progress.yield_:.0%} in parts"
        words = f"stopping, the best so far is kept: {words}" if stopping else words
    if stopping:
        return f"{SEARCH_STAGE}: {words}; {_AGAIN}"
    if progress is not None:
        words += f", {min(1.0, progress.done):.0%} done" if progress.done > 0 else ""
        words += f", {time_in_words(left)}" if left is not None else ""
        words += " (Ctrl-C keeps it)" if progress.boards > 0 else ""
        words += f"; {one_line(progress.what)}" if progress.what else ""
    return f"{SEARCH_STAGE}: {words}"


class ProgressLine:
    """Shows the stage of the work: takes the stages' names, follows the search for a layout, and listens for Ctrl-C
    meanwhile. Draws itself as one line, cut off where the terminal ends.
    """

    def __init__(self, *, shown: bool, clock: Callable[[], float] = time.monotonic) -> None:
        """Where the line is not `shown`, the first Ctrl-C is answered by a line of its own."""
        self._clock, self._shown = clock, shown
        self._stage = "reading"
        self._standing: SearchProgress | None = None
        self._left = TimeLeft()
        self._key = StopKey(self._pressed)
        self._spinner: Spinner | None = None

    def stage(self, name: str) -> None:
        """Take note of the stage that begins."""
        self._stage = one_line(name)
        if name == SEARCH_STAGE:
            self._key.begin()
        else:
            self._key.end()

    def end(self) -> None:
        """Listen for Ctrl-C no longer."""
        self._key.end()

    def tell(self, progress: SearchProgress) -> None:
        """Take note of how far the search is."""
        self._standing = progress
        self._left.note(progress.done, self._clock())

    @property
    def stop(self) -> bool:
        """Whether Ctrl-C was pressed and there is a layout to keep: without one the search goes on to the first."""
        return self._key.asked and self._standing is not None and self._standing.boards > 0

    @property
    def words(self) -> str:
        """The line as it is now."""
        if compiling.under_way():
            return f"{self._stage}: {_FIRST_RUN}"
        if self._stage != SEARCH_STAGE:
            return self._stage
        return search_in_words(self._standing, self._left.seconds(self._clock()), stopping=self._key.asked)

    def _pressed(self) -> None:
        if not self._shown:
            click.echo(self.words, err=True)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the line: a moving mark, to show that the program is at work, and the words."""
        from rich.spinner import Spinner
        from rich.text import Text

        if self._spinner is None:
            self._spinner = Spinner("dots")
        frame = self._spinner.render(console.get_time())
        mark = frame if isinstance(frame, Text) else Text()
        # As Text, since square brackets in the names of boards would be read as commands for the letters' look.
        yield Text.assemble(mark, " ", self.words, no_wrap=True, overflow="ellipsis")


@contextmanager
def progress_line(*, shown: bool) -> Iterator[ProgressLine]:
    """Give a line that is drawn on standard error while the block runs, if `shown`, and vanishes at its end."""
    line = ProgressLine(shown=shown)
    try:
        if not shown:
            yield line
            return
        from rich.console import Console
        from rich.live import Live

        console = Console(stderr=True)
        with Live(line, console=console, transient=True, refresh_per_second=_REFRESHED):
            yield line
    finally:
        line.end()
