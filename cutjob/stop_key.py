"""Ctrl-C while a layout is searched for: once asks the search to end with what it has, twice ends the program."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable
from types import FrameType
from typing import Any


class StopKey:
    """Listens for Ctrl-C between `begin` and `end`; before and after it does what it did.

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
