"""The work behind the page, in a process of its own: plans, files and their proof, for the newest text only.

The page's server sends an `Asked` for every text; the worker drops what it does for an older one. It sends back plain
data: how far it is, plans, and at last the files that are proven. What was worked out last is kept, so that writing the
folder takes no second search. When the server is gone, the worker ends.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, Literal, TypeAlias

from cutjob.errors import InputError, Problem
from cutjob.stages import Effort

Kind: TypeAlias = Literal["stage", "plan", "proven", "refused", "mistakes", "written", "failed"]
_NICE = 10  # of 19, the least urgent
_TOLD_EVERY = 0.25  # s between two words on how far the search is


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A job's `text` to be worked out: its `version`, and how it is searched for. Where `write` is set, the files go to
    the `folder` once they are proven, and the offcuts to the file of stock `keep_offcuts`. `outside` are files that it
    names and may not. All that is said of it has its `number`.
    """

    number: int
    version: int
    text: str
    path: Path
    effort: Effort
    seed: int
    folder: Path
    write: bool = False
    keep_offcuts: Path | None = None
    outside: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class EnoughSearched:
    """The search of this version is to end with the best layout so far."""

    version: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the worker has to say of what was asked: the kind, plain data, mistakes, and the files that are proven."""

    number: int
    version: int
    kind: Kind
    data: dict[str, Any]
    problems: tuple[Problem, ...] = ()
    files: dict[str, bytes] | None = None


class Worker:
    """The server's side: starts the process, hands it the newest text, and passes on what it says."""

    def __init__(self, heard: Callable[[Said], None]) -> None:
        """`heard` is called with everything the worker says, from a thread of its own."""
        self._heard = heard
        self._lock = threading.Lock()
        self._sending = threading.Lock()  # a connection takes one message at a time
        self._connection: Connection | None = None
        self._process: Any = None
        self._last: Asked | None = None
        self._died_at = -1  # the number of what was asked when it ended
        self._closed = False

    def start(self) -> None:
        """Start the process."""
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(target=work, args=(theirs,), daemon=False, name="cutjob worker")
        process.start()
        theirs.close()
        with self._lock:
            self._connection, self._process = ours, process
        threading.Thread(target=self._listen, args=(ours,), daemon=True).start()

    def ask(self, asked: Asked) -> None:
        """Have this worked out, in place of everything asked before."""
        self._last = asked
        with self._lock:
            gone = self._connection is None
        if gone and not self._closed:
            self.start()
        self._send(asked)

    def enough(self, version: int) -> None:
        """End the search of a version with the best layout so far."""
        self._send(EnoughSearched(version=version))

    def close(self) -> None:
        """End the process."""
        self._closed = True
        with self._lock:
            process, connection = self._process, self._connection
        if connection is not None:
            connection.close()
        if process is not None:
            process.terminate()
            process.join(5)

    def _send(self, what: Asked | EnoughSearched) -> None:
        with self._lock:
            connection = self._connection
        if connection is not None:
            with self._sending, contextlib.suppress(OSError, ValueError):
                connection.send(what)

    def _listen(self, connection: Connection) -> None:
        while True:
            try:
                said: Said = connection.recv()
            except (EOFError, OSError):
                break
            self._heard(said)
        if self._closed:
            return
        # Killed, or out of memory: another takes over, and is asked again. Nothing is written a second time unasked.
        last = self._last
        again = last is None or last.number != self._died_at
        why = (
            "the worker ended; another has taken over"
            if again
            else "the worker ended twice; change the job, or its text"
        )
        if last is not None:
            self._died_at = last.number
            if last.write:
                why += ". If the files were being written, look whether they are there"
            self._heard(Said(number=last.number, version=last.version, kind="failed", data={"why": why}))
        if not again:
            with self._lock:
                self._connection = None  # the next text has a new one
            return
        self.start()
        if self._last is not None:
            self._send(replace(self._last, write=False, keep_offcuts=None))


def work(connection: Connection) -> None:
    """Be the worker, until the connection ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which then closes the connection
    with contextlib.suppress(OSError, AttributeError):
        os.nice(_NICE)  # the server, which follows a dragged value, comes first
    _Desk(connection).run()


class _Desk:
    """What is asked for now, and what was worked out last."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._newest: Asked | None = None
        self._enough = -1
        self._wake = threading.Condition()
        self._made: Any = None  # (text, effort, seed, job and items as read; WorkedOut; ResolvedJob)

    def run(self) -> None:
        threading.Thread(target=self._read, daemon=True).start()
        _prepare()
        done: Asked | None = None
        while True:
            with self._wake:
                while self._newest is done or self._newest is None:
                    self._wake.wait()
                asked = done = self._newest
            try:
                self._work(asked)
            except _DroppedError:
                continue
            except InputError as error:
                self._say(asked, "mistakes", {}, problems=error.problems)
            except Exception as error:  # the page says so, and goes on with the next change
                said = " ".join(str(error).split())[:200]
                self._say(asked, "failed", {"why": f"cutjob itself failed ({type(error).__name__}: {said})"})

    def _read(self) -> None:
        while True:
            try:
                got = self._connection.recv()
            except (EOFError, OSError):
                os._exit(0)
            with self._wake:
                if isinstance(got, Asked):
                    self._newest = got
                    self._wake.notify()
                else:
                    self._enough = got.version

    def _say(self, asked: Asked, kind: Kind, data: dict[str, Any], **more: Any) -> None:
        with contextlib.suppress(OSError, ValueError):
            self._connection.send(Said(number=asked.number, version=asked.version, kind=kind, data=data, **more))

    def _work(self, asked: Asked) -> None:
        from cutjob.errors import errors_in
        from cutjob.live.look import read_text
        from cutjob.live.plans import first_plan, made_data, plan_data
        from cutjob.making import work_out
        from cutjob.resolved import resolve
        from cutjob.stages import Clock, StoppedError

        def stale() -> bool:
            return self._newest is not asked

        key = (asked.text, asked.path, asked.effort, asked.seed)
        read = read_text(asked.text, asked.path, outside=asked.outside)
        if read.order is None:
            return
        if (
            asked.write
            and asked.keep_offcuts is None
            and self._made is not None
            and self._made[0] == (*key, read.order)
        ):
            self._write(asked, self._made[1], self._made[2])
            return
        resolved = resolve(*read.order)
        watch = _Watch(self, asked)
        clock = Clock(watch.stage)
        try:
            with errors_in(resolved.units):
                if not asked.write and not resolved.open_counts:
                    first = first_plan(resolved, seed=asked.seed, stop=stale)
                    self._say(asked, "plan", plan_data(first, step="first"))
                efforts: list[Effort] = ["quick"] if asked.effort == "quick" or asked.write else ["quick", asked.effort]
                if asked.write:
                    efforts = [asked.effort]
                for effort in efforts:
                    watch.effort = effort
                    made = work_out(
                        resolved,
                        seed=asked.seed,
                        effort=effort,
                        cores=os.cpu_count() or 1,
                        booked=asked.keep_offcuts,
                        watch=watch,
                        clock=clock,
                        stop=stale,
                    )
                    if stale():
                        raise _DroppedError
                    if effort == asked.effort:
                        self._made = ((*key, read.order), made, resolved)
                    kind: Kind = "proven" if made.proof.passed else "refused"
                    data = made_data(made, effort=effort)
                    data["last"] = effort == asked.effort
                    self._say(asked, kind, data, files=_files(made) if made.proof.passed else None)
                if asked.write:
                    self._write(asked, made, resolved)
        except StoppedError:
            raise _DroppedError from None

    def _write(self, asked: Asked, made: Any, resolved: Any) -> None:
        from cutjob.making import write_out

        try:
            written = write_out(made, resolved, folder=asked.folder, keep_offcuts=asked.keep_offcuts)
        except InputError as error:  # of the folder, not of the job: it may be written again
            self._say(asked, "written", {"said": [str(problem) for problem in error.problems]})
            return
        self._say(
            asked,
            "written",
            {
                "folder": str(written.folder),
                "passed": written.proof.passed,
                "files": sorted(written.files),
                "offcuts": None if asked.keep_offcuts is None else str(asked.keep_offcuts),
            },
        )


def _files(made: Any) -> dict[str, bytes]:
    from cutjob.reports.plan.plan import plan_of, write_plan

    return {**made.files, "plan.json": write_plan(plan_of(made.job))}


class _DroppedError(Exception):
    """What was worked on is not wanted any more."""


class _Watch:
    """Tells the page how far the search is, and ends it when it is enough, or when the text has changed."""

    def __init__(self, desk: _Desk, asked: Asked) -> None:
        self._desk, self._asked = desk, asked
        self._told = 0.0
        self.effort: Effort = "quick"

    def stage(self, name: str) -> None:
        """A stage begins."""
        self._tell({"stage": name})

    def tell(self, progress: Any) -> None:
        """The search is so far."""
        now = time.monotonic()
        if now - self._told >= _TOLD_EVERY:
            self._told = now
            self._tell({"stage": "layout", "done": progress.done, "boards": progress.boards, "what": progress.what})

    def _tell(self, data: dict[str, Any]) -> None:
        from cutjob.compiling import under_way

        self._desk._say(self._asked, "stage", {**data, "effort": self.effort, "compiling": under_way()})

    @property
    def stop(self) -> bool:
        """Whether the search must end."""
        return self._desk._newest is not self._asked or self._desk._enough == self._asked.version


def _prepare() -> None:
    """Load what every job needs while nothing is asked yet, and compile on a fresh computer."""
    from cutjob.compiling import help_with
    from cutjob.program.prepare import is_prepared

    if (os.cpu_count() or 1) > 1 and not is_prepared():
        help_with("cutjob.program.prepare")
