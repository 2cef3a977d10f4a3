"""The options of a run, and its stages: which one is under way, and how long each took."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Literal

Effort = Literal["quick", "normal", "best"]
# The kinds of file that `--only`, or `only=` from Python, may name.
KINDS = ("gcode", "dxf", "svg", "picture", "pattern", "label", "booklet", "sheet")
Progress = Callable[[str], None]


class StoppedError(Exception):
    """The caller has asked the run to stop."""


Stop = Callable[[], bool]


def go_on(stop: Stop | None) -> None:
    """Raise StoppedError once `stop` says that the run is to stop."""
    if stop is not None and stop():
        raise StoppedError


class Clock:
    """Reports each stage as it begins, and measures how long it takes."""

    def __init__(self, progress: Progress | None) -> None:
        """Begin; `progress` is called with the name of every stage."""
        self._progress = progress
        self.seconds: dict[str, float] = {}

    def stage(self, name: str) -> _Stage:
        """Return a context for one stage, which is reported as it begins, and timed."""
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
