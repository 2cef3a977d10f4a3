"""A job made on a cluster of several processes: the same bytes as alone, whatever ends in the middle."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

import cutjob
import cutjob.cluster
import cutjob.workers
from cutjob.cli.commands import main
from tests.test_making import write

ROOT = Path(__file__).parents[1]
WAIT = 300  # seconds after which a test gives up
SAMPLES = ["porch-spinner", "tide-fan"]

pytest.importorskip("distributed", reason="distributed, the engine of clusters, is not installed")


@dataclass
class Cluster:
    """Processes of a cluster on this machine."""

    address: str
    scheduler: subprocess.Popen[str]
    workers: list[subprocess.Popen[str]] = field(default_factory=list)


def program(name: str, *words: str) -> subprocess.Popen[str]:
    """One of the cluster's programs, in a folder of its own, with this package in its path."""
    return subprocess.Popen(
        [sys.executable, "-m", f"distributed.cli.{name}", *words, "--no-dashboard"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        start_new_session=True,
    )


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@contextmanager
def started(folder: Path, workers: int) -> Iterator[Cluster]:
    port = free_port()
    address = f"tcp://127.0.0.1:{port}"
    cluster = Cluster(address, program("dask_scheduler", "--host", "127.0.0.1", "--port", str(port)))
    try:
        listening(port)
        for number in range(workers):
            where = ("--local-directory", str(folder / str(number)))
            cluster.workers.append(program("dask_worker", address, "--nthreads", "1", "--no-nanny", *where))
        if workers:
            staffed(address, workers)
        yield cluster
    finally:
        for process in (*cluster.workers, cluster.scheduler):
            process.kill()
            process.wait()


def listening(port: int) -> None:
    end = time.monotonic() + WAIT
    while time.monotonic() < end:
        with suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
            return
        time.sleep(0.1)
    raise TimeoutError("the scheduler does not start")


def staffed(address: str, workers: int) -> None:
    from distributed import Client

    with Client(address, set_as_default=False, timeout=WAIT) as client:
        client.wait_for_workers(workers, timeout=WAIT)


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    with started(tmp_path_factory.mktemp("cluster"), 2) as one:
        yield one


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["make", *words, "--effort", "quick"])


def written(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.parametrize("name", SAMPLES)
def test_a_cluster_writes_the_same_bytes(cluster: Cluster, tmp_path: Path, name: str) -> None:
    job = str(ROOT / "samples" / f"{name}.toml")
    here, there = tmp_path / "here", tmp_path / "there"
    assert run(job, "-o", str(here)).exit_code == 0
    shared = run(job, "-o", str(there), "--cluster", cluster.address)
    assert shared.exit_code == 0, shared.output
    assert written(there) == written(here)


@pytest.mark.parametrize("kind", ["threads", "processes", "client"])
def test_any_executor_writes_the_same_bytes(cluster: Cluster, tmp_path: Path, kind: str) -> None:
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor

    from distributed import Client

    job = write(tmp_path)
    alone = cutjob.make(job, out=tmp_path / "here", effort="quick")

    def made(executor: Executor) -> dict[str, bytes]:
        return cutjob.make(job, out=tmp_path / "there", effort="quick", executor=executor).files

    if kind == "threads":
        with ThreadPoolExecutor(2) as threads:
            files = made(threads)
    elif kind == "processes":
        with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as processes:
            files = made(processes)
    else:
        with Client(cluster.address, set_as_default=False) as client:
            files = made(client.get_executor(pure=False))
    assert files == alone.files


class Passing(Executor):
    """Passes tasks on, and does something once a number of them are sent."""

    def __init__(self, executor: Executor, after: int, act: Callable[[], None]) -> None:
        self.executor, self.after, self.act = executor, after, act

    def submit(self, function: Callable[..., Any], /, *given: Any, **options: Any) -> Future[Any]:
        future = self.executor.submit(function, *given, **options)
        self.after -= 1
        if self.after == 0:
            self.act()
        return future


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no such signal")
def test_a_worker_that_is_killed_at_work_loses_nothing(tmp_path: Path) -> None:
    from distributed import Client

    job = ROOT / "samples" / "porch-spinner.toml"
    alone = cutjob.make(job, out=tmp_path / "here", effort="quick")
    killed: list[str] = []
    with (
        started(tmp_path / "workers", 2) as own,
        Client(own.address, set_as_default=False) as client,
    ):
        numbers = client.run(os.getpid)

        def kill() -> None:
            end = time.monotonic() + WAIT
            while time.monotonic() < end and not killed:
                killed.extend([worker for worker, tasks in client.processing().items() if tasks][:1])
            os.kill(numbers[killed[0]], signal.SIGKILL)

        killing = threading.Thread(target=kill)
        executor = Passing(client.get_executor(pure=False), 6, killing.start)
        shared = cutjob.make(job, out=tmp_path / "there", effort="quick", executor=executor)
        killing.join()
        left = list(client.scheduler_info()["workers"])
    assert len(left) == 1
    assert killed[0] not in left
    assert shared.files == alone.files


@pytest.mark.slow
def test_a_cluster_that_is_lost_leaves_the_old_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cutjob.cluster, "_GONE", 1.0)
    job, out = str(write(tmp_path)), tmp_path / "out"
    assert run(job, "-o", str(out)).exit_code == 0
    before = written(out)
    with started(tmp_path / "workers", 1) as own:
        plain = cutjob.workers.Sender.submit

        def submit(sender: Any, *given: Any, **options: Any) -> Any:
            own.scheduler.kill()
            return plain(sender, *given, **options)

        monkeypatch.setattr(cutjob.workers.Sender, "submit", submit)
        lost = run(job, "-o", str(out), "--seed", "1", "--cluster", own.address)
    assert lost.exit_code == 2
    assert lost.output.startswith(
        f"--cluster {own.address}: the connection to the cluster was lost; nothing is written;"
    )
    assert lost.output.count("\n") == 1
    assert written(out) == before


@pytest.mark.slow
def test_a_cluster_whose_workers_are_all_gone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cutjob.cluster, "_NONE_LEFT", 1.0)
    with started(tmp_path / "workers", 1) as own:
        plain = cutjob.workers.Sender.submit

        def submit(sender: Any, *given: Any, **options: Any) -> Any:
            own.workers[0].kill()
            return plain(sender, *given, **options)

        monkeypatch.setattr(cutjob.workers.Sender, "submit", submit)
        lost = run(str(write(tmp_path)), "-o", str(tmp_path / "out"), "--cluster", own.address)
    assert lost.exit_code == 2
    assert lost.output.startswith(f"--cluster {own.address}: the cluster has no workers; start some")
    assert not (tmp_path / "out").exists()


@pytest.mark.slow
def test_a_scheduler_without_workers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cutjob.cluster, "_WORKERS", 0.5)
    with started(tmp_path, 0) as own:
        none = run(str(write(tmp_path)), "-o", str(tmp_path / "out"), "--cluster", own.address)
    assert none.exit_code == 2
    assert none.output.startswith(f"--cluster {own.address}: the cluster has no workers; start some")
    assert not (tmp_path / "out").exists()


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no such signal")
def test_ctrl_c_ends_at_once(cluster: Cluster, tmp_path: Path) -> None:
    words = ["make", str(ROOT / "samples" / "porch-spinner.toml"), "-o", str(tmp_path / "out"), "--seconds", "1000"]
    code = "from cutjob.cli.commands import main; main()"
    process = subprocess.Popen(
        [sys.executable, "-c", code, *words, "--cluster", cluster.address],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    busy(cluster.address)
    process.send_signal(signal.SIGINT)
    assert process.stderr is not None
    assert "Ctrl-C again ends at once" in process.stderr.readline()
    process.send_signal(signal.SIGINT)
    out, said = process.communicate(timeout=WAIT)
    assert (out, said) == ("", "stopped\n")
    assert process.returncode == 130
    assert not (tmp_path / "out").exists()


def busy(address: str) -> None:
    """Return once a worker has a task."""
    from distributed import Client

    end = time.monotonic() + WAIT
    with Client(address, set_as_default=False) as client:
        while not any(client.processing().values()):
            assert time.monotonic() < end
            time.sleep(0.1)


@pytest.mark.parametrize(
    "address",
    [
        "shed",
        "192.168.1.20:8786",
        "tcp://",
        "tcp://shed",
        "tcp://shed:0",
        "tcp://shed:65536",
        "http://shed:80",
        "tcp://a b:1",
    ],
)
def test_what_is_no_address(tmp_path: Path, address: str) -> None:
    wrong = run(str(write(tmp_path)), "-o", str(tmp_path / "out"), "--cluster", address)
    assert wrong.exit_code == 2
    assert wrong.output == (
        f"--cluster {address}: this is not an address; give the one that the scheduler shows when it starts, such as "
        "tcp://192.168.1.20:8786\n"
    )
    assert not (tmp_path / "out").exists()


def no_answer(address: str) -> str:
    return (
        f"--cluster {address}: no cluster answers at this address; start its scheduler, or check the address and the "
        "network; or leave out --cluster to use this computer alone\n"
    )


def test_a_cluster_that_is_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cutjob.cluster, "_FIND", 1.0)
    address = f"tcp://127.0.0.1:{free_port()}"
    wrong = run(str(write(tmp_path)), "-o", str(tmp_path / "out"), "--cluster", address)
    assert (wrong.exit_code, wrong.output) == (2, no_answer(address))
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("answer", [b"", b"HTTP/1.0 400 Bad Request\r\nServer: shed\r\nDate: today\r\n\r\n"])
def test_another_kind_of_server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, answer: bytes) -> None:
    """One that says nothing, and one that says something else."""
    monkeypatch.setattr(cutjob.cluster, "_FIND", 1.0)
    with socket.create_server(("127.0.0.1", 0)) as server:
        open_ = []

        def serve() -> None:
            with suppress(OSError):
                while True:
                    one, _ = server.accept()
                    open_.append(one)
                    one.sendall(answer)

        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        address = f"tcp://127.0.0.1:{server.getsockname()[1]}"
        wrong = run(str(write(tmp_path)), "-o", str(tmp_path / "out"), "--cluster", address)
        server.shutdown(socket.SHUT_RDWR)
        thread.join(WAIT)
        for one in open_:
            one.close()
    assert (wrong.exit_code, wrong.output) == (2, no_answer(address))


def test_without_the_extra(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    wrong = run(str(write(tmp_path)), "-o", str(tmp_path / "out"), "--cluster", "tcp://shed:8786")
    assert (wrong.exit_code, wrong.output) == (
        2,
        "--cluster tcp://shed:8786: Dask is not installed here, which the work on a cluster needs; install cutjob with "
        'it: pip install "cutjob[cluster]"\n',
    )


@pytest.fixture
def another_version(monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """Another version of cutjob on this side."""
    monkeypatch.setattr(cutjob.workers, "_own_version", lambda: "0.0.9")
    cutjob.workers.versions.cache_clear()
    yield "0.0.9"
    cutjob.workers.versions.cache_clear()


def test_workers_of_another_version(cluster: Cluster, tmp_path: Path, another_version: str) -> None:
    wrong = run(str(write(tmp_path)), "-o", str(tmp_path / "out"), "--cluster", cluster.address)
    assert wrong.exit_code == 2, wrong.output
    lines = wrong.output.splitlines()
    assert len(lines) == 2  # one for each worker
    for line in lines:
        assert "the worker has cutjob 0." in line
        assert f", and this computer {another_version}; the files could differ; install the same" in line
    assert not (tmp_path / "out").exists()
