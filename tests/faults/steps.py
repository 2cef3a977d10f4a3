"""A run that dies at a step: `python -m tests.faults.steps WORK` kills one at every step, in a process of its own.

WORK holds `job.toml` and `before/`, with an output folder `out` and a file of stock `shed.toml` as an older run left
them. For every step a copy of `before/` is made, the files of the job are written there by a process that is killed
(SIGKILL, no clean-up of any kind) when it comes to that step, and then once more by one that isn't. A step is
whatever goes to the system: opening, writing, flushing, renaming, removing, looking into a folder. Prints one line of
JSON for each: what was there after the kill, and after the next run.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

from cutjob import making as pipeline
from cutjob.output import folder
from cutjob.output import folder as exchange_module

_STEPS = ("open", "os.", "shutil.", "fcntl.", "ctypes.dlsym", "write", "fsync", "close", "exchange")


class Steps:
    """Counts the steps of this process, and kills it at one of them (or never, for 0)."""

    def __init__(self, fatal: int) -> None:
        self.count, self.fatal, self.on = 0, fatal, False

    def take(self, event: str, *_: Any) -> None:
        if self.on and event.startswith(_STEPS):
            self.count += 1
            if self.count == self.fatal:
                os.kill(os.getpid(), signal.SIGKILL)

    @contextmanager
    def counted(self) -> Iterator[None]:
        """Count what the block does; writing and flushing have no event of their own, so they are wrapped."""
        sys.addaudithook(self.take)
        rename = exchange_module._rename()
        for name in ("fsync", "close"):
            self._wrap(os, name)
        if rename is not None:
            exchange_module._rename = lambda: self._counting("exchange", rename)
        Path.open = self._opened(Path.open)  # type: ignore[method-assign]
        self.on = True
        yield
        self.on = False

    def _wrap(self, module: Any, name: str) -> None:
        setattr(module, name, self._counting(name, getattr(module, name)))

    def _counting(self, event: str, call: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*given: Any, **options: Any) -> Any:
            self.take(event)
            return call(*given, **options)

        return counted

    def _opened(self, plain: Callable[..., Any]) -> Callable[..., Any]:
        """Files that are written in two halves, with a step before each, so that a file may stay half written."""
        steps = self

        def opened(path: Path, mode: str = "r", *given: Any, **options: Any) -> Any:
            if "b" not in mode or not set(mode) & set("wxa"):
                return plain(path, mode, *given, **options)
            raw = plain(path, mode, buffering=0)

            class Halves(io.BufferedWriter):
                def write(self, data: Any) -> int:
                    half = len(data) // 2
                    for piece in (data[:half], data[half:]):
                        steps.take("write")
                        super().write(piece)
                        super().flush()
                    return len(data)

            return Halves(raw)

        return opened


def _in_process(work: Callable[[], None]) -> int:
    """Do it in a child; returns the number of the signal it died of, or 0."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            work()
            code = 0
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return os.WTERMSIG(status)
    assert os.WEXITSTATUS(status) == 0, f"a run failed with {os.WEXITSTATUS(status)}"
    return 0


def _seen(place: Path) -> dict[str, Any]:
    out = place / "out"
    return {
        "out": {path.name: path.read_bytes().hex() for path in sorted(out.iterdir())} if out.exists() else None,
        "stock": (place / "shed.toml").read_text(encoding="utf-8"),
        "beside": sorted(path.name for path in place.iterdir() if path.name not in ("out", "shed.toml", "job.toml")),
    }


def main() -> None:
    """Kill at step 1, 2, 3 and so on, until a run comes through."""
    work, renames = Path(sys.argv[1]), sys.argv[2:] == ["two-renames"]
    if renames:
        folder.exchange = lambda one, two: False
    write = _writing(work)
    fatal = 0
    while True:
        fatal += 1
        place = work / "place"
        shutil.rmtree(place, ignore_errors=True)
        shutil.copytree(work / "before", place, symlinks=True)
        shutil.copy(work / "job.toml", place)
        died = _in_process(partial(_write, write, Steps(fatal)))
        after = _seen(place)
        ended = _in_process(partial(_write, write, Steps(0)))
        line = {"step": fatal, "died": died, "killed": after, "ended": ended, "next": _seen(place)}
        print(json.dumps(line), flush=True)
        if died == 0:
            return


def _writing(work: Path) -> Callable[[], None]:
    """Make the job once up to its writing, and return that: what `make` writes there is the same at every step."""
    place = work / "place"
    shutil.copytree(work / "before", place, symlinks=True)
    shutil.copy(work / "job.toml", place)
    keep, noted = pipeline.keep_in_stock, []
    pipeline.keep_in_stock = lambda *given, **options: noted.append(partial(keep, *given, **options))
    try:
        pipeline.make_job(place / "job.toml", out=place / "out", effort="quick", keep_offcuts=place / "shed.toml")
    finally:
        pipeline.keep_in_stock = keep
    (write,) = noted
    return write


def _write(write: Callable[[], None], steps: Steps) -> None:
    with steps.counted() if steps.fatal else contextlib.nullcontext():
        write()


if __name__ == "__main__":
    main()
