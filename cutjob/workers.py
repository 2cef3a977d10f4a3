"""Who does the work: this process, others on this machine, or the caller's executor. The bytes are the same.

    processes      new processes on this machine, for a job with many parts
    workers        the caller's executor where there is one, else the processes above
    SentOnce       marks values that many tasks share: each worker is sent them once, and keeps them

A task is a function with its arguments. In its pickle the values that are sent once are only numbers. The values go a
way of their own: to processes on this machine by a file that each reads once, to a Dask cluster as a task that the
others depend on. Dask takes its result from worker to worker, once to each, and repeats it where it is lost. To an
executor of any other kind they go with every task.
"""

from __future__ import annotations

import gc
import hashlib
import io
import multiprocessing
import pickle
import platform
import signal
import tempfile
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import CancelledError, Executor, Future, InvalidStateError, ProcessPoolExecutor
from concurrent.futures import ThreadPoolExecutor as Threads
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cache, lru_cache, partial
from importlib import metadata
from pathlib import Path
from typing import Any

from cutjob.errors import InputError, Problem

# Starting a second process takes about a second, which only pays with this many parts.
_WORTH_SHARING = 400
# A process collects garbage after this many new objects.
_COLLECT_AFTER = 200_000
_MOST_KEPT = 16  # values sent once that a process keeps; a search has two or three
# The libraries whose versions may change a layout or a file.
_ENGINES = ("numpy", "shapely", "numba", "pyclipper", "ezdxf", "Hershey-Fonts")


class SentOnce:
    """A value that many tasks share. Other processes are sent it once, and keep it."""

    __slots__ = ()


@contextmanager
def workers(given: Executor | None, *, parts: int, cores: int) -> Iterator[Executor | None]:
    """Give the executor that does the work: the one `given`, else new processes where the number of parts makes that
    faster, else None.

    Where the block ends with an error, nobody waits for the unfinished work.
    """
    if given is None:
        with processes(parts, cores=cores) as pool:
            yield pool
    elif isinstance(given, (Threads, Sender)):
        yield given
    else:
        sender = Sender(given)
        try:
            yield sender
        finally:
            sender.shutdown(wait=False, cancel_futures=True)


@contextmanager
def processes(parts: int, *, cores: int) -> Iterator[Executor | None]:
    """Give an executor with `cores` processes where the number of parts on all boards makes that faster, else None."""
    if cores < 2 or parts < _WORTH_SHARING:
        yield None
        return
    others = set(multiprocessing.active_children())
    with ProcessPoolExecutor(cores, mp_context=multiprocessing.get_context("spawn"), initializer=_begin) as pool:
        with _ctrl_c_ignored():
            for _ in range(cores):
                pool.submit(_nothing)  # each starts a process
        try:
            yield pool
        except BaseException:
            # After a stop nobody waits for the unfinished work.
            for process in set(multiprocessing.active_children()) - others:
                process.terminate()
            raise


def _begin() -> None:
    """Make a new process ready for work."""
    # There are some hundred thousand values without cycles. Searching them for garbage takes a fifth of the time.
    gc.set_threshold(_COLLECT_AFTER)
    # The terminal sends Ctrl-C to every process; only the first one acts on it.
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _nothing() -> None:
    """Work that is already done."""


@contextmanager
def _ctrl_c_ignored() -> Iterator[None]:
    """Start processes that ignore Ctrl-C from the start, on systems where a new process inherits that."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler if before is None else before)


@contextmanager
def unfinished_cancelled(futures: Iterable[Future[Any]]) -> Iterator[None]:
    """Cancel the futures where the block that waits for them ends with an error, or by Ctrl-C."""
    try:
        yield
    except BaseException:
        for future in futures:
            future.cancel()
        raise


@cache
def versions() -> dict[str, str]:
    """Return what a worker must have in common with the caller, by name: Python, cutjob, and the libraries that decide
    about layouts and files.
    """
    found = {"Python": ".".join(platform.python_version_tuple()[:2]), "cutjob": _own_version()}
    for name in _ENGINES:
        with suppress(metadata.PackageNotFoundError):
            found[name] = metadata.version(name)
    return found


def _own_version() -> str:
    """The version and a digest of all of cutjob's own files, since files may be changed without a new version."""
    digest = hashlib.blake2b(digest_size=4)
    package = Path(__file__).parent
    for path in sorted(package.rglob("*.py")):
        digest.update(path.relative_to(package).as_posix().encode())
        digest.update(path.read_bytes().replace(b"\r\n", b"\n"))
    try:
        version = metadata.version("cutjob")
    except metadata.PackageNotFoundError:  # run from a copy of its files
        version = "not installed"
    return f"{version} ({digest.hexdigest()})"


def other_versions(worker: str, theirs: Mapping[str, str]) -> Problem | None:
    """Return the problem with a worker's versions; None where they are those of this process."""
    ours = versions()
    for name in dict.fromkeys([*ours, *theirs]):
        here, there = ours.get(name, "none"), theirs.get(name, "none")
        if here != there:
            return Problem(
                place=worker,
                message=f"the worker has {name} {there}, and this computer {here}; the files could differ",
                advice="install the same versions on every computer, start the workers again, and make the job again",
            )
    return None


@dataclass(frozen=True, slots=True)
class _Filed:
    """A value in a file of this machine."""

    path: str


@dataclass(frozen=True, slots=True)
class _Enclosed:
    """A value that goes with its task."""

    data: bytes


@lru_cache(maxsize=_MOST_KEPT)
def _read(filed: _Filed) -> object:
    return pickle.loads(Path(filed.path).read_bytes())


class _Given(threading.local):
    """The values that the task of this thread shares with others, by number."""

    def __init__(self) -> None:
        self.values: list[object] = []


_given = _Given()


def _value(number: int) -> object:
    return _given.values[number]


def _worked_out(task: bytes, asked: Mapping[str, str], *shared: object) -> Any:
    """In a worker: the result of a task. `asked` are the versions to have."""
    if asked != versions():
        raise InputError(
            Problem(
                message="a worker of the cluster has other versions of cutjob or its libraries",
                advice="install the same versions on every computer, start the workers again, and make the job again",
            )
        )
    _given.values = [
        _read(one) if isinstance(one, _Filed) else pickle.loads(one.data) if isinstance(one, _Enclosed) else one
        for one in shared
    ]
    try:
        function, arguments, options = pickle.loads(task)
    finally:
        _given.values = []
    return function(*arguments, **options)


class _Packer(pickle.Pickler):
    """Pickles a task with numbers in place of the values that are sent once."""

    def __init__(self, file: io.BytesIO) -> None:
        super().__init__(file, protocol=pickle.HIGHEST_PROTOCOL)
        self.shared: list[SentOnce] = []

    def reducer_override(self, value: object) -> Any:
        """Put a number in the place of a value that is sent once."""
        if not isinstance(value, SentOnce):
            return NotImplemented
        self.shared.append(value)
        return _value, (len(self.shared) - 1,)


class Sender(Executor):
    """Sends tasks to an executor whose workers are other processes, on this machine or on others.

    `lost` makes the error to raise for tasks that the executor gave up or cancelled.
    """

    def __init__(self, executor: Executor, *, lost: Callable[[BaseException], BaseException] | None = None) -> None:
        """Begin with no task."""
        self._executor = executor
        self._lost = lost
        self._known: dict[int, tuple[SentOnce, object]] = {}
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._open: dict[Future[Any], None] = {}
        self._failed: BaseException | None = None
        self.tasks = self.sent = 0
        """The number of tasks so far, and the bytes sent for them, with what they share."""

    def submit(self, function: Callable[..., Any], /, *arguments: Any, **options: Any) -> Future[Any]:
        """Send a task. Its result comes through the future, as does the error it raises."""
        outer: Future[Any] = Future()
        if self._failed is not None:
            outer.set_exception(self._failed)
            return outer
        file = io.BytesIO()
        packer = _Packer(file)
        packer.dump((function, arguments, options))
        task, shared = file.getvalue(), [self._carried(value) for value in packer.shared]
        self.tasks += 1
        self.sent += len(task) + sum(len(one.data) for one in shared if isinstance(one, _Enclosed))
        self._open[outer] = None
        outer.add_done_callback(lambda done: self._open.pop(done, None))
        inner = self._executor.submit(_worked_out, task, versions(), *shared)
        outer.add_done_callback(lambda done: inner.cancel() if done.cancelled() else None)
        inner.add_done_callback(partial(self._done, outer))
        return outer

    def fail(self, error: BaseException) -> None:
        """Let every task, and every later one, end with an error."""
        self._failed = error
        for future in list(self._open):
            with suppress(InvalidStateError):
                future.set_exception(error)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Wait for open tasks, or cancel them. The executor underneath is its owner's."""
        for future in list(self._open):
            if cancel_futures:
                future.cancel()
            elif wait:
                future.exception()
        self._known = {}
        if self._folder is not None:
            self._folder.cleanup()
            self._folder = None

    def _carried(self, value: SentOnce) -> object:
        """A value in the form in which tasks carry it."""
        if id(value) not in self._known:
            data = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
            carried = self._carry(data)
            self._known[id(value)] = value, carried  # with the value, so that no other takes its id
        return self._known[id(value)][1]

    def _carry(self, data: bytes) -> object:
        client = getattr(self._executor, "_client", None)  # of Dask's executor, which has no public name for it
        if client is None and not isinstance(self._executor, ProcessPoolExecutor):
            return _Enclosed(data)
        self.sent += len(data)
        if client is not None:
            return client.submit(pickle.loads, data, pure=False)
        if self._folder is None:
            self._folder = tempfile.TemporaryDirectory(prefix="cutjob-", ignore_cleanup_errors=True)
        path = Path(self._folder.name) / str(len(self._known))
        path.write_bytes(data)
        return _Filed(str(path))

    def _done(self, outer: Future[Any], inner: Future[Any]) -> None:
        with suppress(InvalidStateError):  # cancelled meanwhile
            try:
                result = inner.result()
            except (Exception, CancelledError) as error:
                outer.set_exception(error if self._lost is None else self._lost(error))
            else:
                outer.set_result(result)
