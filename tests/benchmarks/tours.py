"""Air moves beside elkai, a binding of Helsgaun's LKH: `python -m tests.benchmarks.tours --places 200 500`.

The library takes minutes from about 1,000 places on, more so with many `--runs`; with `--without-library` our lengths
and times stand alone. `--jobs` are numbers of tasks: rings within rings with seven starts each, and marks.
"""

from __future__ import annotations

import argparse
import math
import random
import time
from collections.abc import Callable

from cutjob.program.tour import Start, sequence
from tests.outside.test_tours import (
    HOME,
    air_moves,
    library_air_moves,
    library_round_trip,
    random_lines,
    random_places,
    round_trip,
    tsplib_tours,
)


def main() -> None:
    """Print a line for each instance."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--places", nargs="*", type=int, default=[200, 500])
    parser.add_argument("--lines", nargs="*", type=int, default=[60, 150])
    parser.add_argument("--jobs", nargs="*", type=int, default=[30, 1000, 10_000])
    parser.add_argument("--runs", type=int, default=10, help="of the library")
    parser.add_argument("--without-library", action="store_true")
    options = parser.parse_args()
    round_trip(random_places(40))  # compiles
    print("instance      places      ours  seconds     elkai  seconds    ratio")

    def line(name: str, count: int, ours: Callable[[], float], library: Callable[[], float]) -> None:
        length, seconds = _timed(ours)
        text = f"{name:12s} {count:7d} {length:9.1f} {seconds:8.2f}"
        if not options.without_library:
            best, needed = _timed(library)
            text += f" {best:9.1f} {needed:8.2f} {length / best:8.4f}"
        print(text, flush=True)

    for tour in tsplib_tours():
        points = [(x, y) for x, y in tour["points"]]
        line(str(tour["name"]), len(points), lambda p=points: round_trip(p), lambda p=points: library_round_trip(p))
    for count in options.places:
        places = random_places(count)
        line("places", count, lambda p=places: round_trip(p), lambda p=places: library_round_trip(p, runs=options.runs))
    for count in options.lines:
        lines = random_lines(count, 60.0)
        line("lines", count, lambda p=lines: air_moves(p), lambda p=lines: library_air_moves(p, runs=options.runs))
    print("\ntasks, seven starts each     free  seconds  first starts only  seconds")
    for count in options.jobs:
        after, starts = _job(count)
        free, seconds = _timed(lambda a=after, s=starts: _length(a, s))
        fixed, needed = _timed(lambda a=after, s=starts: _length(a, [one[:1] for one in s]))
        print(f"{count:23d} {free:9.0f} {seconds:8.3f} {fixed:18.0f} {needed:8.3f}", flush=True)


def _timed(measure: Callable[[], float]) -> tuple[float, float]:
    begin = time.perf_counter()
    return measure(), time.perf_counter() - begin


def _length(after: list[list[int]], starts: list[list[Start]]) -> float:
    total, here = 0.0, HOME
    for _, start in sequence(after, starts, home=HOME):
        total += math.dist(here, start.point)
        here = start.end
    return total


def _job(count: int) -> tuple[list[list[int]], list[list[Start]]]:
    """Rings within rings, up to three deep, each waiting for what lies in it."""
    chance, side = random.Random(1), math.sqrt(count) * 60
    after: list[list[int]] = []
    starts: list[list[Start]] = []
    while len(after) < count:
        x, y, turn = chance.random() * side, chance.random() * side, chance.random()
        inner: list[int] = []
        for depth in range(min(chance.randint(1, 3), count - len(after))):
            radius, begins = 8.0 * (depth + 1), [turn + number * 2 * math.pi / 7 for number in range(7)]
            rim = [(x + radius * math.cos(angle), y + radius * math.sin(angle)) for angle in begins]
            after.append(inner)
            starts.append([Start(float(n), (px, py), (px + 0.5, py)) for n, (px, py) in enumerate(rim)])
            inner = [*inner, len(after) - 1]
    return after, starts


if __name__ == "__main__":
    main()
