"""The same search on threads, on processes and on a cluster: the layout must be the same; seconds are told.

    python -m tests.benchmarks.cluster [--moves 200000] [--workers 2]

The cluster is `dask.distributed`'s local one (the extra `bench`), reached through its client's executor, as one on
other machines would be. Without it the program says so and ends well. Ends with an error where two layouts differ.
"""

from __future__ import annotations

import argparse
import importlib.util
import math
import random
import time
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context

from shapely import Polygon, affinity

from tests.benchmarks.strip import StripLayout, StripPart, lay_strip

_WIDTH = 5.5  # inches, a picket


def parts(seed: int = 1) -> list[StripPart]:
    """Leaves and stars for a picket: two dozen parts of eight kinds, turned by halves or sixths."""
    rng = random.Random(seed)
    made = []
    for number in range(8):
        size = rng.uniform(0.8, 2.2)
        if number % 2:
            points = [(size * (1 + i % 2) / 2, math.pi * i / 5) for i in range(10)]
        else:
            points = [(size, 2 * math.pi * i / 36) for i in range(36)]
        shape = Polygon([(radius * math.cos(angle), radius * math.sin(angle)) for radius, angle in points])
        shape = shape if number % 2 else affinity.scale(shape, 1.6, 0.6, origin=(0, 0))
        made.append(
            StripPart(polygon=shape, count=3, rotations=(0.0, 60.0, 120.0, 180.0) if number % 2 else (0.0, 180.0))
        )
    return made


@contextmanager
def cluster(workers: int) -> Iterator[Executor]:
    """The executor of a client of a local cluster of processes with one thread each."""
    from distributed import Client, LocalCluster

    local = LocalCluster(n_workers=workers, threads_per_worker=1, processes=True, dashboard_address=None)
    with local, Client(local) as client, client.get_executor(pure=False) as executor:
        yield executor


def laid(executor: Executor | None, *, moves: int, workers: int, seed: int = 0) -> tuple[StripLayout, float]:
    """The layout and its seconds, after a short search that compiles and starts what is needed."""
    lay_strip(parts(), _WIDTH, gap=0.125, moves=2_000, executor=executor, workers=workers)
    start = time.perf_counter()
    layout = lay_strip(parts(), _WIDTH, gap=0.125, seed=seed, moves=moves, executor=executor, workers=workers)
    return layout, time.perf_counter() - start


def main() -> None:
    """Print a row for every place the search can run in."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--moves", type=int, default=200_000)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    if importlib.util.find_spec("distributed") is None:
        print("distributed is not installed (pip install -e .[bench]); nothing to compare")
        return
    options = {"moves": given.moves, "workers": given.workers}
    found = {"no pool": laid(None, **options)}
    with ThreadPoolExecutor(given.workers) as threads:
        found["threads"] = laid(threads, **options)
    with ProcessPoolExecutor(given.workers, mp_context=get_context("spawn")) as processes:
        found["processes"] = laid(processes, **options)
    with cluster(given.workers) as executor:
        found["cluster"] = laid(executor, **options)
    first = found["no pool"][0]
    print(f"{'where':<12}{'length':>10}{'seconds':>9}  same layout")
    for where, (layout, seconds) in found.items():
        print(f"{where:<12}{layout.length:>10.4f}{seconds:>9.2f}  {'yes' if layout == first else 'NO'}")
    if any(layout != first for layout, _ in found.values()):
        raise SystemExit("the layouts differ")


if __name__ == "__main__":
    main()
