"""The page's server as a process of its own, as a user starts it."""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

_STARTS = 120.0  # s at most, also on a busy machine


@dataclass
class Served:
    """A running server: its process and its address."""

    process: subprocess.Popen[str]
    address: str

    def state(self) -> Any:
        with urllib.request.urlopen(f"{self.address}state", timeout=60) as answer:
            return json.load(answer)

    def ask(self, path: str, body: Any = None, *, method: str = "POST", headers: dict[str, str] | None = None) -> Any:
        data = body if isinstance(body, bytes) else json.dumps(body or {}).encode()
        request = urllib.request.Request(
            f"{self.address}{path}", data=data, method=method,
            headers={"Content-Type": "application/json", **(headers or {})},
        )  # fmt: skip
        with urllib.request.urlopen(request, timeout=120) as answer:
            return json.load(answer)

    def until(self, is_so: Any, *, seconds: float = 180.0) -> Any:
        """The state once something is so; fails where that takes too long."""
        end = time.monotonic() + seconds
        while True:
            state = self.state()
            if is_so(state):
                return state
            assert time.monotonic() < end, {key: state[key] for key in ("version", "doing", "failed")}
            time.sleep(0.1)

    def proven(self) -> Any:
        """The state once the newest text is proven with the effort asked for."""
        return self.until(
            lambda one: one["plan"] and one["plan"]["version"] == one["version"] and one["plan"].get("last")
        )

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(30)


@contextmanager
def served(job: Path | None, *, folder: Path, effort: str = "quick", port: int | None = None) -> Iterator[Served]:
    """Serve a job until the block ends."""
    start = "from cutjob.cli.commands import main; main()"
    words = [sys.executable, "-P", "-c", start, "open", *([str(job)] if job else []), "--no-browser"]
    words += ["--effort", effort, *(["--port", str(port)] if port else [])]
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2]), "PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen(
        words, cwd=folder, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    try:
        assert process.stdout is not None
        address, end, said = None, time.monotonic() + _STARTS, ""
        while address is None and time.monotonic() < end:
            line = process.stdout.readline()
            if not line:
                break
            said += line
            found = re.search(r"http://127\.0\.0\.1:\d+/", line)
            address = found[0] if found else None
        assert address is not None, said
        _until_it_answers(address)
        yield Served(process, address)
    finally:
        if process.poll() is None:
            process.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(20)
        if process.poll() is None:
            process.kill()
        process.wait(20)
        if process.stdout is not None:
            process.stdout.close()


def _until_it_answers(address: str) -> None:
    end = time.monotonic() + _STARTS
    while True:
        try:
            with urllib.request.urlopen(f"{address}job", timeout=30):
                return
        except OSError:
            assert time.monotonic() < end
            time.sleep(0.1)
