"""Three hundred parts on twenty boards: time to a first valid layout, then time and yield of a normal one, memory.

    python -m tests.benchmarks.many_parts [--cases kinds different] [--efforts quick normal] [--seconds 60]

`kinds` are 30 kinds of part, ten of each; `different` are 300 parts no two of which are alike. Each layout is made in a
process of its own, which tells its peak memory (and that of the largest process it started).
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import random
import resource
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection
from typing import Any

from cutjob.geometry.contour import Contour, Region, circle, polyline
from cutjob.layout.layout_job import lay_out
from cutjob.parts.part import Build, Item, ShapedPart
from tests.benchmarks.picket_jobs import INCH, MARGIN, boards
from tests.layout.judge import assert_sound

_PARTS, _BOARDS = 300, 20
_CASES = {"kinds": 30, "different": _PARTS}
_GAP = 0.25 * INCH


def shape(rng: random.Random) -> Region:
    """A leaf, a wavy disc, a bracket or a ring for a board 5 1/2 in wide: up to 10 in long, 4 3/4 in wide."""
    kind, size = rng.choice(("leaf", "wave", "bracket", "ring")), rng.uniform(32, 60)
    if kind == "leaf":
        long = size * rng.uniform(1.5, 2.1)
        return Region(_around(lambda a: (long * math.cos(a), size * 0.8 * math.sin(a) * (1 + 0.25 * math.cos(a)))))
    if kind == "wave":
        waves, swing = rng.randint(3, 7), rng.uniform(0.05, 0.2)
        return Region(_around(lambda a: _polar(a, size * (1 + swing * math.cos(waves * a)) / (1 + swing))))
    if kind == "bracket":
        arm, long = size * rng.uniform(0.7, 1.2), size * rng.uniform(3, 4.2)
        return Region(polyline([(0, 0), (long, 0), (long, arm), (arm, arm), (arm, 2 * size), (0, 2 * size)]))
    return Region(circle((0, 0), size), (circle((0, 0), size * rng.uniform(0.2, 0.5)),))


def _polar(angle: float, radius: float) -> tuple[float, float]:
    return radius * math.cos(angle), radius * math.sin(angle)


def _around(at: Callable[[float], tuple[float, float]]) -> Contour:
    return polyline([at(2 * math.pi * step / 48) for step in range(48)])


def order(kinds: int, seed: int = 1) -> list[Item]:
    """Items of one part each, of so many kinds, 300 parts in all; every second kind keeps its grain."""
    rng = random.Random(seed)
    return [
        Item(
            name=f"shape {number + 1}",
            design="demo",
            size="medium",
            count=_PARTS // kinds,
            build=Build(
                shaped=(
                    ShapedPart(name=f"shape {number + 1}", region=shape(rng), grain="length" if number % 2 else "none"),
                )
            ),
        )
        for number in range(kinds)
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What a run came to: boards, share of their area that is parts, seconds, memory in MB, or why it failed."""

    boards: int = 0
    filled: float = 0.0
    first: float | None = None
    seconds: float = 0.0
    memory: float = 0.0
    failure: str = ""


class _Clock:
    """A watch that notes when the first whole layout was there."""

    def __init__(self) -> None:
        self.start = time.perf_counter()
        self.first: float | None = None

    @property
    def stop(self) -> bool:
        return False

    def tell(self, standing: Any) -> None:
        if standing.boards and self.first is None:
            self.first = time.perf_counter() - self.start


def measure(kinds: int, effort: Any, seconds: float | None) -> Figures:
    """Lay the order out in this process, judge the layout and tell the figures."""
    items = order(kinds)
    stock = [replace(board, count=_BOARDS) for board in boards("plain")]
    options: dict[str, Any] = {} if seconds is None else {"seconds": seconds}
    watch = _Clock()
    layout = lay_out(
        items, stock, gap=_GAP, edge_margin=MARGIN, stack=1, saw_kerf=3.0, seed=0, effort=effort, watch=watch, **options
    )
    taken = time.perf_counter() - watch.start
    peaks = [resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    assert_sound(layout, items)
    used = sum(entry.stack * entry.copies for entry in layout.boards)
    return Figures(
        boards=used,
        filled=_area(items) / (used * stock[0].length * stock[0].width),
        first=watch.first,
        seconds=taken,
        memory=sum(peaks) / 1024,
    )


def _area(items: list[Item]) -> float:
    return sum(part.region.area * item.count for item in items for part in item.build.shaped)


def _child(pipe: Connection, kinds: int, effort: str, seconds: float | None) -> None:
    try:
        pipe.send(measure(kinds, effort, seconds))
    except Exception as error:  # told in the table; the other cases still run
        pipe.send(Figures(failure=f"{type(error).__name__}: {error}".splitlines()[0]))


def measured_apart(kinds: int, effort: str, seconds: float | None) -> Figures:
    """The figures of a fresh process."""
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=_child, args=(there, kinds, effort, seconds))
    process.start()
    there.close()
    try:
        return here.recv()
    except EOFError:
        return Figures(failure="its process ended")
    finally:
        process.join()


def main() -> None:
    """Print a row for every case and effort."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", nargs="+", choices=list(_CASES), default=list(_CASES))
    parser.add_argument("--efforts", nargs="+", choices=["quick", "normal", "best"], default=["quick", "normal"])
    parser.add_argument("--seconds", type=float, help="let the clock decide instead of the effort")
    given = parser.parse_args()
    print(f"{'case':<11}{'effort':<8}{'boards':>7}{'filled %':>10}{'first s':>9}{'whole s':>9}{'memory MB':>11}")
    for case in given.cases:
        for effort in given.efforts:
            run = measured_apart(_CASES[case], effort, given.seconds)
            first = "-" if run.first is None else f"{run.first:.1f}"
            print(
                f"{case:<11}{effort:<8}{run.boards:>7}{100 * run.filled:>10.1f}{first:>9}{run.seconds:>9.1f}"
                f"{run.memory:>11.0f}  {run.failure}".rstrip(),
                flush=True,
            )


if __name__ == "__main__":
    main()
