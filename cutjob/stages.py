"""What a run may be asked for, and its stages: which is under way, and how long each took."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Literal

Effort = Literal["quick", "normal", "best"]
# The kinds of file that `--only`, or `only=` from Python, may name.
KINDS = ("gcode", "dxf", "svg", "picture", "pattern", "label", "sheet")
Progress = Callable[[str], None]


class StoppedError(Exception):
    """Whoever asked for a stage no longer wants it."""


Stop = Callable[[], bool]


def go_on(stop: Stop | None) -> None:
    """Raise StoppedError where `stop` says that a stage's work is no longer wanted."""
    if stop is not None and stop():
        raise StoppedError


class Clock:
    """Tells what is being done, and how long each stage took."""

    def __init__(self, progress: Progress | None) -> None:
        """Begin; `progress` is called with the name of every stage."""
        self._progress = progress
        self.seconds: dict[str, float] = {}

    def stage(self, name: str) -> _Stage:
        """Return a context that is one stage, told as it begins and timed."""
        if self._progress is not None:
            self._progress(name)
        return _Stage(name, self.seconds)


class _Stage:
    def __init__(self, name: str, seconds: dict[str, float]) -> None:
        self._name, self._seconds = name, seconds

    def __enter__(self) -> None:
        self._start = time.perf_counter()

    def __exit__(self, *_: object) -> None:
        took = time.perf_counter() - self._start
        self._seconds[self._name] = self._seconds.get(self._name, 0.0) + took
