"""A job alone, on processes and on a cluster: the files must be the same; seconds, and what is sent with each task.

    python -m tests.benchmarks.cluster [JOB] [--effort quick] [--workers 2] [--cluster tcp://HOST:PORT]

JOB is a sample's name or a path. Without --cluster, Dask's own cluster on this machine is started (the extra
`cluster`), and reached as one on other machines would be. Without Dask the program says so and ends well. Ends with an
error where two results differ.
"""

from __future__ import annotations

import argparse
import importlib.util
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from cutjob.cluster import cluster
from cutjob.files.file_bytes import shipped_files, shipped_folder
from cutjob.making import make_job
from cutjob.workers import Sender

_EMPTY = 50  # tasks that do nothing, to time the way there and back


def nothing() -> None:
    """A task that is done at once."""


@contextmanager
def senders(workers: int, address: str | None) -> Iterator[dict[str, Sender]]:
    """The ways to send tasks: to processes and to a cluster."""
    from distributed import LocalCluster

    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as processes:
        if address is not None:
            with cluster(address) as sender:
                assert sender is not None
                yield {"processes": Sender(processes), "cluster": sender}
            return
        local = LocalCluster(n_workers=workers, threads_per_worker=1, processes=True, dashboard_address=None)
        with local, cluster(local.scheduler_address) as sender:
            assert sender is not None
            yield {"processes": Sender(processes), "cluster": sender}


def measured(job: Path, *, effort: Any, workers: int, address: str | None) -> dict[str, dict[str, float]]:
    """For each place: its seconds, tasks, bytes for each task, ms for an empty task, and whether the files are the
    same.
    """
    found: dict[str, dict[str, float]] = {}
    with tempfile.TemporaryDirectory() as folder, senders(workers, address) as ways:

        def made(executor: Executor | None) -> tuple[dict[str, bytes], float]:
            make_job(job, out=Path(folder) / "out", effort=effort, executor=executor)  # compiles what is needed
            start = time.perf_counter()
            result = make_job(job, out=Path(folder) / "out", effort=effort, executor=executor)
            return result.files, time.perf_counter() - start

        alone, seconds = made(None)
        found["alone"] = {"seconds": seconds, "same": 1.0}
        for name, sender in ways.items():
            start = time.perf_counter()
            for _ in range(_EMPTY):
                sender.submit(nothing).result()
            empty = (time.perf_counter() - start) / _EMPTY
            tasks, sent = sender.tasks, sender.sent
            files, seconds = made(sender)
            tasks, sent = (sender.tasks - tasks) / 2, (sender.sent - sent) / 2  # the job was made twice
            found[name] = {
                "seconds": seconds,
                "tasks": tasks,
                "bytes": sent / max(1.0, tasks),
                "empty": 1000 * empty,
                "same": float(files == alone),
            }
    return found


def rows() -> list[tuple[str, str, str]]:
    """What, measured, wanted: of a small job on two processes of a cluster on this machine."""
    if importlib.util.find_spec("distributed") is None:
        return [("a cluster", "not measured: distributed is not installed", "")]
    found = measured(_path("porch-spinner"), effort="quick", workers=2, address=None)
    same = all(one["same"] for one in found.values())
    own = found["cluster"]
    return [
        ("files made on a cluster and alone", "the same" if same else "DIFFERENT", "the same"),
        ("kB sent with each task, at most what is shared once", f"{own['bytes'] / 1000:.0f}", "200"),
        ("ms there and back for a task", f"{own['empty']:.1f}", "20"),
    ]


def _path(name: str) -> Path:
    return shipped_folder("samples") / f"{name}.toml" if name in shipped_files("samples") else Path(name)


def main() -> None:
    """Print a row for every place the job can be made in."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("job", nargs="?", default="porch-spinner")
    parser.add_argument("--effort", default="quick")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--cluster")
    given = parser.parse_args()
    if importlib.util.find_spec("distributed") is None:
        print("distributed is not installed (pip install -e .[cluster]); nothing to compare")
        return
    found = measured(_path(given.job), effort=given.effort, workers=given.workers, address=given.cluster)
    print(f"{'where':<12}{'seconds':>9}{'tasks':>7}{'kB a task':>11}{'ms empty':>10}  same files")
    for where, one in found.items():
        print(
            f"{where:<12}{one['seconds']:>9.2f}{one.get('tasks', 0):>7.0f}{one.get('bytes', 0) / 1000:>11.1f}"
            f"{one.get('empty', 0):>10.1f}  {'yes' if one['same'] else 'NO'}"
        )
    if not all(one["same"] for one in found.values()):
        raise SystemExit("the files differ")


if __name__ == "__main__":
    main()
