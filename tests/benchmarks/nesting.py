"""Strip packing on open data: our layouts beside those of `spyrrow` and beside published densities.

    python -m tests.benchmarks.nesting [FOLDER] [--seconds 20] [--seeds 1] [--gap 0.125] [--only fu swim]
                                       [--engines ours library] [--json FILE]

Both run one after the other on the same machine, with two workers, the same seconds and the same seed. Every layout
is judged by Shapely; one with a fault counts as none. Strips of whole numbers are widened by 0.01 % for both, densities
are counted with the width of the file. Instances that hold lengths for several gaps are run with each of them.
"""

from __future__ import annotations

import argparse
import json
import statistics
import time
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import nullcontext
from dataclasses import asdict, dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Literal

import shapely
from shapely import box

from tests.benchmarks.instances import DATA, Instance, read_instances
from tests.benchmarks.library_strips import INSTALLED, lay_by_library
from tests.benchmarks.strip_check import SLACK, Placed, faults, length_of, polygons_of

_WORKERS = 2
Pool = Literal["none", "threads", "processes"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One layout of one engine: length and density if it is sound, else what was wrong; seconds of the clock."""

    length: float | None = None
    density: float | None = None
    seconds: float = 0.0
    wrong: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """An instance at one gap and seed, laid by both."""

    instance: str
    parts: int
    gap: float
    seed: int
    budget: float
    best: float | None
    mean: float | None
    optimum: float | None
    needed: float | None
    ours: Run
    library: Run

    @property
    def ratio(self) -> float | None:
        """Our density over the library's."""
        if self.ours.density is None or self.library.density is None:
            return None
        return self.ours.density / self.library.density


def judged(instance: Instance, placements: tuple[Placed, ...], *, gap: float, seconds: float) -> Run:
    """A run's figures, taken from the parts as they lie and not from what the engine says."""
    wrong = faults(instance, placements, gap=gap)
    if wrong:
        more = f" and {len(wrong) - 1} more" if len(wrong) > 1 else ""
        return Run(seconds=seconds, wrong=wrong[0] + more)
    length = length_of(polygons_of(instance, placements))
    return Run(length=length, density=instance.density(length), seconds=seconds)


def lay_ours(instance: Instance, *, gap: float, seconds: float, seed: int, executor: Executor | None) -> Run:
    """Our layout within the seconds."""
    from tests.benchmarks.strip import StripPart, lay_strip

    parts = [StripPart(polygon=i.polygon, count=i.count, rotations=i.rotations) for i in instance.items]
    start = time.perf_counter()
    try:
        laid = lay_strip(
            parts, instance.strip_width, gap=gap, seed=seed, seconds=seconds, executor=executor, workers=_WORKERS
        )
    except Exception as error:  # told in its row; the other instances still run
        return Run(seconds=time.perf_counter() - start, wrong=f"{type(error).__name__}: {error}".splitlines()[0])
    taken = time.perf_counter() - start
    run = judged(instance, laid.placements, gap=gap, seconds=taken)
    if run.length is not None:
        # What it says is the right-most point, from 0; what counts is the extent, as for the library.
        low, _, high, _ = shapely.total_bounds(polygons_of(instance, laid.placements))
        if abs(laid.length - high) > 1e-6 * instance.width or low < -SLACK * instance.width:
            return Run(seconds=taken, wrong=f"says it ends at {laid.length:g}, lies from {low:g} to {high:g}")
    return run


def lay_theirs(instance: Instance, *, gap: float, seconds: float, seed: int) -> Run:
    """The library's layout within the seconds."""
    laid = lay_by_library(instance.items, instance.strip_width, gap=gap, seconds=seconds, seed=seed, workers=_WORKERS)
    if laid.failure:
        return Run(wrong=laid.failure)
    return judged(instance, laid.placements, gap=gap, seconds=laid.seconds)


def needed_at(instance: Instance, gap: float, seconds: float) -> float | None:
    """The file's length for that gap, of the run nearest in seconds."""
    rows = [(abs(given - seconds), length) for at, given, length in instance.needed if at == gap]
    return min(rows)[1] if rows else None


def heading() -> str:
    """The table's first line."""
    return (
        f"{'instance':<12}{'parts':>6}{'gap':>7}{'seed':>5}{'ours %':>8}{'best %':>8}{'mean %':>8}{'library %':>10}"
        f"{'ratio':>8}{'length':>11}{'theirs':>11}{'known':>9}{'over %':>8}{'seconds':>14}"
    )


def line(row: Row) -> str:
    """A row of the table."""
    known = row.optimum if row.optimum is not None else row.needed
    over = None if known is None or row.ours.length is None else 100 * (row.ours.length / known - 1)
    text = (
        f"{row.instance:<12}{row.parts:>6}{row.gap:>7g}{row.seed:>5}{_percent(row.ours.density):>8}"
        f"{_percent(row.best):>8}{_percent(row.mean):>8}{_percent(row.library.density):>10}{_fixed(row.ratio, 4):>8}"
        f"{_fixed(row.ours.length, 3):>11}{_fixed(row.library.length, 3):>11}{_fixed(known, 2):>9}{_fixed(over, 2):>8}"
        f"{row.ours.seconds:>7.1f}{row.library.seconds:>7.1f}"
    )
    wrong = [f"{name}: {run.wrong}" for name, run in (("ours", row.ours), ("library", row.library)) if run.wrong]
    return "; ".join([text, *wrong])


def _percent(share: float | None) -> str:
    return _fixed(None if share is None else 100 * share, 2)


def _fixed(value: float | None, decimals: int) -> str:
    return "-" if value is None else f"{value:.{decimals}f}"


def summary(rows: list[Row]) -> str:
    """Mean and lowest ratios to the library and to the best published densities."""
    told = []
    ratios = [(row.ratio, row.instance) for row in rows if row.ratio is not None]
    if ratios:
        mean = statistics.fmean(ratio for ratio, _ in ratios)
        lowest, name = min(ratios)
        told.append(f"ratio to the library: mean {mean:.4f}, lowest {lowest:.4f} ({name}), of {len(ratios)} runs")
    for title, runs in (("ours", [row.ours for row in rows]), ("library", [row.library for row in rows])):
        shares = [
            run.density / row.best
            for row, run in zip(rows, runs, strict=True)
            if row.best is not None and run.density is not None
        ]
        if shares:
            told.append(f"{title}, of the best published density: mean {statistics.fmean(shares):.4f}, "
                        f"lowest {min(shares):.4f}")  # fmt: skip
    wrong = sum(bool(run.wrong) for row in rows for run in (row.ours, row.library))
    return "\n".join([*told, f"{wrong} layouts failed or had faults"])


def executor_for(pool: Pool) -> Executor | None:
    """Where our search runs its workers."""
    if pool == "threads":
        return ThreadPoolExecutor(_WORKERS)
    if pool == "processes":
        return ProcessPoolExecutor(_WORKERS, mp_context=get_context("spawn"))
    return None


def warm_up(executor: Executor | None) -> None:
    """Compile (once per machine) and start the workers before any clock runs."""
    from tests.benchmarks.strip import StripPart, lay_strip

    lay_strip(
        [StripPart(polygon=box(0, 0, 3, 2), count=4, rotations=(0.0, 90.0))], 7.0, moves=200,
        executor=executor, workers=_WORKERS,
    )  # fmt: skip


def main() -> None:
    """Print the table, row by row as they come."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", nargs="?", type=Path, default=DATA)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--seeds", type=int, default=1, help="how many seeds, from 0")
    parser.add_argument("--gap", type=float, help="one gap for all, instead of those of the files")
    parser.add_argument("--only", nargs="+", default=[], metavar="NAME")
    parser.add_argument("--engines", nargs="+", choices=["ours", "library"], default=["ours", "library"])
    parser.add_argument("--pool", choices=["none", "threads", "processes"], default="threads")
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    if not given.folder.is_dir():
        print(f"no instances: {given.folder} is not there")
        return
    if "library" in given.engines and not INSTALLED:
        print("spyrrow is not installed (pip install -e .[bench]); its columns stay empty")
        given.engines.remove("library")
    rows = []
    pool = executor_for(given.pool) if "ours" in given.engines else None
    with pool or nullcontext() as executor:
        if "ours" in given.engines:
            warm_up(executor)
        print(heading())
        for instance in read_instances(given.folder, given.only):
            for gap in instance.gaps if given.gap is None else (given.gap,):
                for seed in range(given.seeds):
                    rows.append(_row(instance, gap, seed, given, executor))
                    print(line(rows[-1]), flush=True)
    print(summary(rows))
    if given.json:
        given.json.write_text(json.dumps([{**asdict(row), "ratio": row.ratio} for row in rows], indent=1) + "\n")


def _row(instance: Instance, gap: float, seed: int, given: argparse.Namespace, executor: Executor | None) -> Row:
    ours = library = Run()
    if "ours" in given.engines:
        ours = lay_ours(instance, gap=gap, seconds=given.seconds, seed=seed, executor=executor)
    if "library" in given.engines:
        library = lay_theirs(instance, gap=gap, seconds=given.seconds, seed=seed)
    return Row(
        instance=instance.name, parts=instance.count, gap=gap, seed=seed, budget=given.seconds,
        best=instance.best if gap == 0 else None, mean=instance.mean if gap == 0 else None,
        optimum=instance.optimum if gap == 0 else None, needed=needed_at(instance, gap, given.seconds),
        ours=ours, library=library,
    )  # fmt: skip


if __name__ == "__main__":
    main()
