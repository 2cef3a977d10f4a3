"""How long the ways over pockets' floors and round their walls are, against the least one may hope for.

    python -m tests.benchmarks.pockets [--diameter 6.35] [--stepover 0.4] [--allowance 0.3] [--runs 3]

Per shape and way of clearing: floor area (mm2), length of clearings and walls (mm), area / stepover + perimeter, their
ratio, how many times the cutter comes down, and the median of the seconds it took.
"""

from __future__ import annotations

import argparse
import statistics
import time

from cutjob.cuts.clearing import clear
from cutjob.geometry.contour import Region, circle, rectangle
from cutjob.geometry.transform import Transform
from tests.cuts.pocket_shapes import fair_length, length
from tests.cuts.test_clearing import SHAPES

LARGE = {
    "tray, 400 x 300": Region(rectangle(400, 300)),
    "tray with 12 pegs": Region(
        rectangle(400, 300), tuple(circle((50 + 100 * i, 50 + 100 * j), 12) for i in range(4) for j in range(3))
    ),
    "tray with 6 ribs": Region(
        rectangle(400, 300), tuple(Transform(x=50 * i + 45, y=40).contour(rectangle(10, 220)) for i in range(6))
    ),
}


def main() -> None:
    """Print a row for every shape and way."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--diameter", type=float, default=6.35)
    parser.add_argument("--stepover", type=float, default=0.4, help="share of the diameter")
    parser.add_argument("--allowance", type=float, default=0.3)
    parser.add_argument("--runs", type=int, default=3)
    given = parser.parse_args()
    stepover = given.diameter * given.stepover
    print(f"{'shape':<28}{'way':<13}{'area':>10}{'length':>10}{'hoped for':>11}{'ratio':>7}{'downs':>7}{'seconds':>9}")
    for name, area in {**SHAPES, **LARGE}.items():
        for along in ("outward", "along grain"):
            seconds = []
            for _ in range(given.runs):
                start = time.perf_counter()
                cleared = clear(
                    area,
                    radius=given.diameter / 2,
                    stepover=stepover,
                    allowance=given.allowance,
                    counter_clockwise_walls=True,
                    along=along,
                )
                seconds.append(time.perf_counter() - start)
            hoped = fair_length(area, stepover)
            print(
                f"{name:<28}{along:<13}{area.area:10.0f}{length(cleared):10.0f}{hoped:11.0f}"
                f"{length(cleared) / hoped:7.3f}{len(cleared.clearings):7}{statistics.median(seconds):9.3f}"
            )


if __name__ == "__main__":
    main()
