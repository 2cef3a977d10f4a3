"""One-dimensional cutting of open instances: `python -m tests.benchmarks.sticks FILE`.

FILE is JSON: `instances`, each with a `name`, the `stick`'s length, its `pieces` and the `best_known` number of sticks.
Prints for each how many sticks are taken, the bound, and the seconds; ends with how many reach the best known number.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter
from pathlib import Path

from cutjob.sticks.plan import Sticks, plan_sticks


def main() -> None:
    """Print a line for each instance."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("file", type=Path)
    parser.add_argument("--kerf", type=float, default=0.0, help="of the saw, in the file's unit")
    options = parser.parse_args()
    instances = json.loads(options.file.read_text(encoding="utf-8"))["instances"]
    print("instance        pieces  lengths  best known  sticks  bound  proven  seconds")
    reached, slowest = 0, 0.0
    for one in instances:
        wanted = [(float(length), count) for length, count in Counter(one["pieces"]).items()]
        begun = time.perf_counter()
        stock = [Sticks(length=float(one["stick"]), count=len(one["pieces"]))]
        plan = plan_sticks(stock, wanted, kerf=options.kerf)
        seconds = time.perf_counter() - begun
        best = one.get("best_known")
        reached += best is not None and plan.sticks <= best
        slowest = max(slowest, seconds)
        print(
            f"{one['name']:15s} {len(one['pieces']):6d} {len(wanted):8d} {best or '':>11} {plan.sticks:7d} "
            f"{plan.least_sticks:6d} {'yes' if plan.proven else 'no':>7s} {seconds:8.2f}",
            flush=True,
        )
    print(f"best known or fewer on {reached} of {len(instances)}; slowest {slowest:.2f} s")


if __name__ == "__main__":
    main()
