"""Who does the work: this process, others on this machine, or the caller's executor. The bytes are the same.

    processes      new processes on this machine, for a job with many parts
    workers        the caller's executor where there is one, else the processes above
    SentOnce       marks values that many tasks share: each worker is sent them once, and keeps them

A task is a function with its arguments. Its pickle has only the keys of the values that are sent once. A worker that
lacks one says so, and the task is sent again with these values. So nothing depends on which worker gets a task, and a
new worker can join, or take the place of a lost one, at any time.
"""

from __future__ import annotations

import gc
import hashlib
import io
import multiprocessing
import pickle
import platform
import signal
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import CancelledError, Executor, Future, InvalidStateError, ProcessPoolExecutor
from concurrent.futures import ThreadPoolExecutor as Threads
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cache, partial
from importlib import metadata
from pathlib import Path
from typing import Any

from cutjob.errors import InputError, Problem

# Starting a second process takes about a second, which only pays with this many parts.
_WORTH_SHARING = 400
# A process collects garbage after this many new objects.
_COLLECT_AFTER = 200_000
_MOST_KEPT = 16  # values sent once that a worker keeps; a search has two or three
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
class _Lacks:
    """The answer of a worker that was not yet sent a value of its task."""


class _LacksError(Exception):
    """A task needs a value that this worker was not yet sent."""


_kept: OrderedDict[str, object] = OrderedDict()
_lock = threading.Lock()


def _kept_value(key: str) -> object:
    with _lock:
        if key not in _kept:
            raise _LacksError(key)
        _kept.move_to_end(key)
        return _kept[key]


def _keep(key: str, data: bytes) -> None:
    value = pickle.loads(data)
    with _lock:
        _kept.setdefault(key, value)
        while len(_kept) > _MOST_KEPT:
            _kept.popitem(last=False)


def _worked_out(task: bytes, values: Mapping[str, bytes], asked: Mapping[str, str]) -> Any:
    """In a worker: the result of a task, or that a value is lacking. `asked` are the versions to have."""
    if asked != versions():
        problem = other_versions("", asked)
        if problem is not None:
            raise InputError(
                Problem(
                    message="a worker of the cluster has other versions of cutjob or its libraries",
                    advice="install the same versions on every computer, start the workers again, and make the job "
                    "again",
                )
            )
    for key, data in values.items():
        _keep(key, data)
    try:
        function, arguments, options = pickle.loads(task)
    except _LacksError:
        return _Lacks()
    return function(*arguments, **options)


class _Packer(pickle.Pickler):
    """Pickles a task with keys in place of the values that are sent once."""

    def __init__(self, file: io.BytesIO, key_of: Callable[[SentOnce], str]) -> None:
        super().__init__(file, protocol=pickle.HIGHEST_PROTOCOL)
        self._key_of = key_of
        self.keys: dict[str, None] = {}

    def reducer_override(self, value: object) -> Any:
        """Put a key in the place of a value that is sent once."""
        if not isinstance(value, SentOnce):
            return NotImplemented
        key = self._key_of(value)
        self.keys[key] = None
        return _kept_value, (key,)


class Sender(Executor):
    """Sends tasks to an executor whose workers are other processes, on this machine or on others.

    `lost` makes the error to raise for tasks that the executor gave up or cancelled.
    """

    def __init__(self, executor: Executor, *, lost: Callable[[BaseException], BaseException] | None = None) -> None:
        """Begin with no task."""
        self._executor = executor
        self._lost = lost
        self._known: dict[int, tuple[SentOnce, str]] = {}
        self._data: dict[str, bytes] = {}
        self._open: dict[Future[Any], None] = {}
        self._failed: BaseException | None = None
        self.sent = 0
        """Bytes of tasks, and of what they share, that were sent so far."""

    def submit(self, function: Callable[..., Any], /, *arguments: Any, **options: Any) -> Future[Any]:
        """Send a task. Its result comes through the future, as does the error it raises."""
        file = io.BytesIO()
        packer = _Packer(file, self._key_of)
        packer.dump((function, arguments, options))
        outer: Future[Any] = Future()
        self._open[outer] = None
        outer.add_done_callback(lambda done: self._open.pop(done, None))
        if self._failed is not None:
            outer.set_exception(self._failed)
        else:
            self._send(outer, file.getvalue(), tuple(packer.keys), {})
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

    def _key_of(self, value: SentOnce) -> str:
        if id(value) not in self._known:
            data = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
            key = hashlib.blake2b(data, digest_size=16).hexdigest()
            self._known[id(value)] = value, key  # with the value, so that no other takes its id
            self._data[key] = data
        return self._known[id(value)][1]

    def _send(self, outer: Future[Any], task: bytes, keys: tuple[str, ...], values: dict[str, bytes]) -> None:
        self.sent += len(task) + sum(map(len, values.values()))
        inner = self._executor.submit(_worked_out, task, values, versions())
        outer.add_done_callback(lambda done: inner.cancel() if done.cancelled() else None)
        inner.add_done_callback(partial(self._done, outer, task, keys))

    def _done(self, outer: Future[Any], task: bytes, keys: tuple[str, ...], inner: Future[Any]) -> None:
        if outer.done():
            return
        try:
            result = inner.result()
            if isinstance(result, _Lacks):
                self._send(outer, task, keys, {key: self._data[key] for key in keys})
                return
        except (Exception, CancelledError) as error:
            with suppress(InvalidStateError):
                outer.set_exception(error if self._lost is None else self._lost(error))
            return
        with suppress(InvalidStateError):
            outer.set_result(result)
