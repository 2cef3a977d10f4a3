"""Air moves beside elkai, a binding of Helsgaun's LKH: `python -m tests.benchmarks.tours 200 500`.

LKH takes minutes from about 1,000 places on; `--without-library` gives our length and time alone.
"""

from __future__ import annotations

import argparse
import random
import time

from tests.outside.test_tours import round_trip, tour_length


def main() -> None:
    """Print a line for each number of places."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("places", nargs="*", type=int, default=[200, 500])
    parser.add_argument("--without-library", action="store_true")
    options = parser.parse_args()
    round_trip([(random.random(), random.random()) for _ in range(20)])  # compiles
    print("places      ours   seconds     elkai   seconds    ratio")
    for count in options.places:
        chance = random.Random(count)
        places = [(chance.random() * 1000, chance.random() * 1000) for _ in range(count)]
        begin = time.perf_counter()
        ours = round_trip(places)
        seconds = time.perf_counter() - begin
        line = f"{count:6d} {ours:9.1f} {seconds:9.2f}"
        if not options.without_library:
            import elkai

            begin = time.perf_counter()
            found = elkai.Coordinates2D({str(i): place for i, place in enumerate(places)}).solve_tsp()
            best = tour_length([places[int(i)] for i in found[:-1]])
            line += f" {best:9.1f} {time.perf_counter() - begin:9.2f} {ours / best:8.4f}"
        print(line, flush=True)


if __name__ == "__main__":
    main()
