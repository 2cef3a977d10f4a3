"""Work shared out among other processes: what tasks have in common is sent once, and errors and stops come through."""

from __future__ import annotations

import multiprocessing
import os
import tempfile
import threading
import time
from collections.abc import Iterator
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import pytest

import cutjob.workers
from cutjob.errors import InputError, Problem
from cutjob.workers import Sender, SentOnce, other_versions, processes, unfinished_cancelled, versions, workers

MANY = 1_000_000  # bytes
TASKS = 12


@dataclass(frozen=True, slots=True)
class Load(SentOnce):
    """A value that is worth sending once."""

    data: bytes


@dataclass(frozen=True, slots=True)
class Task:
    """A value of which every task has its own."""

    number: int
    load: Load


def weighed(task: Task) -> tuple[int, int, int, int]:
    """The task's number, the size of its load, and where in which process that lies."""
    return task.number, len(task.load.data), id(task.load), os.getpid()


def refused() -> None:
    raise InputError(Problem(message="too wide"))


def slept() -> None:
    time.sleep(0.2)


@pytest.fixture(scope="module")
def pool() -> Iterator[ProcessPoolExecutor]:
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as executor:
        yield executor


def test_few_parts_start_no_process() -> None:
    with processes(399, cores=2) as executor:
        assert executor is None


def test_one_core_starts_no_process_however_many_parts() -> None:
    with processes(100_000, cores=1) as executor:
        assert executor is None


def test_what_tasks_share_is_sent_once(pool: ProcessPoolExecutor) -> None:
    with Sender(pool) as sender:
        load = Load(os.urandom(MANY))
        futures = [sender.submit(weighed, Task(number, load)) for number in range(TASKS)]
        first = [future.result() for future in futures]
        again = [sender.submit(weighed, Task(number, load)).result() for number in range(TASKS)]
        assert [(number, size) for number, size, _, _ in (*first, *again)] == 2 * [(k, MANY) for k in range(TASKS)]
        assert MANY < sender.sent < MANY + 2 * TASKS * 1000
    places = {(place, process) for _, _, place, process in (*first, *again)}
    assert len(places) == len({process for _, process in places})  # each process keeps it


def test_an_executor_of_another_kind_gets_all_with_every_task() -> None:
    with ThreadPoolExecutor(1) as thread:  # in place of an executor that nothing is known of
        sender, load = Sender(thread), Load(os.urandom(MANY))
        assert [sender.submit(weighed, Task(number, load)).result()[1] for number in range(3)] == [MANY] * 3
        assert 3 * MANY < sender.sent < 3 * MANY + 3000


def test_each_load_is_told_from_others(pool: ProcessPoolExecutor) -> None:
    loads = [Load(b"x" * size) for size in (1, 2, 3)]
    with Sender(pool) as sender:
        assert [sender.submit(weighed, Task(0, loads[k])).result()[1] for k in (0, 1, 2, 1)] == [1, 2, 3, 2]
    with Sender(pool) as sender:  # another job
        assert [sender.submit(weighed, Task(0, loads[k])).result()[1] for k in (2, 1)] == [3, 2]


def test_the_files_of_loads_are_removed(
    pool: ProcessPoolExecutor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    with workers(pool, parts=1, cores=1) as executor:
        assert executor is not None
        executor.submit(weighed, Task(0, Load(b"abc"))).result()
        assert list(tmp_path.iterdir())
    assert not list(tmp_path.iterdir())


def test_an_error_comes_with_its_problems(pool: ProcessPoolExecutor) -> None:
    with pytest.raises(InputError, match="too wide"):
        Sender(pool).submit(refused).result()


def test_after_a_failure_every_task_ends_with_it(pool: ProcessPoolExecutor) -> None:
    sender = Sender(pool)
    before = sender.submit(slept)
    sender.fail(InputError(Problem(message="gone")))
    for future in (before, sender.submit(slept)):
        with pytest.raises(InputError, match="gone"):
            future.result()


def test_a_stop_cancels_what_is_open(pool: ProcessPoolExecutor) -> None:
    futures: list[Future[None]] = []

    def stopped() -> None:
        with workers(pool, parts=1, cores=1) as executor:
            assert executor is not None
            futures.extend(executor.submit(slept) for _ in range(20))
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stopped()
    assert futures[-1].cancelled()


def test_those_waited_for_are_cancelled() -> None:
    held = threading.Event()
    with ThreadPoolExecutor(1) as thread:
        futures = [thread.submit(held.wait) for _ in range(3)]
        with pytest.raises(ValueError, match="over"), unfinished_cancelled(futures):
            raise ValueError("over")
        held.set()
    assert [future.cancelled() for future in futures[1:]] == [True, True]


def test_threads_are_given_values_as_they_are() -> None:
    load = Load(b"abc")
    with ThreadPoolExecutor(1) as thread, workers(thread, parts=1, cores=1) as executor:
        assert executor is thread
        assert executor.submit(weighed, Task(1, load)).result()[2] == id(load)


def test_equal_versions_are_no_problem() -> None:
    assert other_versions("tcp://shed:1", dict(versions())) is None
    assert {"Python", "cutjob", "numpy", "shapely", "numba"} <= versions().keys()


@pytest.mark.parametrize("name", ["Python", "cutjob", "numpy"])
def test_another_version_is_named(name: str) -> None:
    problem = other_versions("tcp://shed:1", {**versions(), name: "0.0"})
    assert problem is not None
    assert str(problem).startswith(f"tcp://shed:1: the worker has {name} 0.0, and this computer {versions()[name]};")


def test_a_worker_of_other_versions_that_joins_later_works_for_nobody(
    pool: ProcessPoolExecutor, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = {**versions(), "numpy": "0.0"}
    monkeypatch.setattr(cutjob.workers, "versions", lambda: other)  # here; the processes have their own
    with pytest.raises(InputError, match="other versions"):
        Sender(pool).submit(slept).result()
