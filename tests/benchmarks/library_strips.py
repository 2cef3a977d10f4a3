"""Strip layouts by the library `spyrrow`, each in a process of its own: a panic or a hang there ends that run only.

Needs the optional extra `bench`. Its own edge rule: with a gap it keeps parts that far from the strip's edges too (its
0.9 measured: a strip of 6 with a gap of 0.25 is used from 0.25 to 5.75). So it is given the width plus two gaps, and
parts may touch the edge as ours may.
"""

from __future__ import annotations

import importlib.util
import multiprocessing
import os
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Any

import shapely

from tests.benchmarks.instances import StripItem
from tests.benchmarks.strip_check import Placed

INSTALLED = importlib.util.find_spec("spyrrow") is not None
_SLOWNESS = 60.0  # seconds a run may take beyond its budget before it is ended
_POLL = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryStrip:
    """What a run came to: placements in our strip's frame and the seconds it took, or why there are none.

    `gave_up` tells a panic, an end or a hang of the library from a mistake in how it was called.
    """

    placements: tuple[Placed, ...] = ()
    seconds: float = 0.0
    failure: str = ""
    gave_up: bool = False


def lay_by_library(
    items: Sequence[StripItem],
    width: float,
    *,
    gap: float = 0.0,
    seconds: float,
    seed: int = 0,
    workers: int = 2,
    enough: float | None = None,
) -> LibraryStrip:
    """Return the library's layout of the items in a strip. It stops early at a layout no longer than `enough`.

    Left to its full time otherwise (no early termination of its own). Holes of parts are unknown to it.
    """
    task = {
        "width": width + 2 * gap,
        "gap": gap,
        "seconds": max(1, round(seconds)),
        "seed": seed,
        "workers": workers,
        "enough": None if enough is None else enough + 2 * gap,
        "items": [
            (
                str(index),
                [(x, y) for x, y in shapely.get_coordinates(item.polygon.exterior)[:-1].tolist()],
                item.count,
                item.rotations or None,  # None: any angle
            )
            for index, item in enumerate(items)
        ],
    }
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=_child, args=(there, task), daemon=True)
    process.start()
    there.close()
    try:
        if not here.poll(task["seconds"] + _SLOWNESS):
            return LibraryStrip(failure="no answer in time", gave_up=True)
        answer = here.recv()
    except EOFError:
        return LibraryStrip(failure="its process ended", gave_up=True)
    finally:
        process.kill()
        process.join()
    if isinstance(answer, str):
        return LibraryStrip(failure=answer, gave_up=answer.startswith("Panic"))
    placed, taken = answer
    return LibraryStrip(placements=tuple((i, turn, x - gap, y - gap) for i, turn, x, y in placed), seconds=taken)


def _child(pipe: Connection, task: dict[str, Any]) -> None:
    """Solve and answer; never returns, as the solver's threads would go on."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)  # a panic's trace; its first line is in the answer
    try:
        pipe.send(_solve(task))
    except BaseException as error:  # the library's panics are no Exceptions
        pipe.send(f"{type(error).__name__}: {error}".splitlines()[0])
    pipe.close()
    os._exit(0)


def _solve(task: dict[str, Any]) -> tuple[list[Placed], float]:
    import spyrrow

    items = [spyrrow.Item(*entry) for entry in task["items"]]
    instance = spyrrow.StripPackingInstance("strip", task["width"], items)
    config = spyrrow.StripPackingConfig(
        early_termination=False,
        min_items_separation=task["gap"] or None,
        total_computation_time=task["seconds"],
        num_workers=task["workers"],
        seed=task["seed"],
    )
    start = time.perf_counter()
    enough = task["enough"]
    best = instance.solve(config) if enough is None else _first_within(instance, config, enough)
    taken = time.perf_counter() - start
    return [(int(part.id), part.rotation, *part.translation) for part in best.placed_items], taken


def _first_within(instance: Any, config: Any, enough: float) -> Any:
    import spyrrow

    queue, ended = spyrrow.ProgressQueue(), []
    feasible = (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas, spyrrow.ReportType.Final)

    def run() -> None:
        try:
            ended.append(instance.solve(config, queue))
        except BaseException as error:  # handed over to the waiting thread
            ended.append(error)

    threading.Thread(target=run, daemon=True).start()
    while not ended:
        time.sleep(_POLL)
        for kind, found in queue.drain():
            if kind in feasible and found.width <= enough:
                return found
    if isinstance(ended[0], BaseException):
        raise ended[0]
    return ended[0]
