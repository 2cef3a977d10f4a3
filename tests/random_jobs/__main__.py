"""Many random jobs on request: `python -m tests.random_jobs 5000 --from 0 [--keep DIR] [--seconds N]`.

Prints how many were proven, refused (by kind of reason) and failed, and the slowest. Exit 1 when any failed.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.random_jobs.outcome import Outcome, outcome_of, short_search


def main() -> int:
    """Make them one after the other."""
    parser = argparse.ArgumentParser(prog="python -m tests.random_jobs")
    parser.add_argument("count", type=int)
    parser.add_argument("--from", dest="first", type=int, default=0)
    parser.add_argument("--keep", type=Path, help="folder for the jobs that fail")
    parser.add_argument("--seconds", type=float, help="stop after so long")
    parser.add_argument("--messages", type=Path, help="file for every message of a refusal")
    asked = parser.parse_args()
    outcomes: list[Outcome] = []
    end = time.monotonic() + (asked.seconds or 1e9)
    with tempfile.TemporaryDirectory() as work, short_search():
        for seed in range(asked.first, asked.first + asked.count):
            folder = Path(work) / str(seed)
            outcome = outcome_of(folder, seed)
            outcomes.append(outcome)
            if outcome.failure:
                print(f"seed {seed} FAILED: {outcome.failure}", flush=True)
                if asked.keep is not None:
                    shutil.copytree(folder, asked.keep / str(seed), dirs_exist_ok=True)
            shutil.rmtree(folder, ignore_errors=True)
            if time.monotonic() > end:
                break
    _report(outcomes)
    if asked.messages is not None:
        lines = [f"{one.seed}: {message}" for one in outcomes for message in one.messages]
        asked.messages.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return 1 if any(one.failure for one in outcomes) else 0


def _report(outcomes: list[Outcome]) -> None:
    proven = sum(one.made for one in outcomes)
    failed = [one for one in outcomes if one.failure]
    refused = len(outcomes) - proven - len(failed)
    seconds = sum(one.seconds for one in outcomes)
    print(f"{len(outcomes)} jobs in {seconds:.0f} s: {proven} proven, {refused} refused, {len(failed)} failed")
    for reason, count in Counter(reason for one in outcomes for reason in one.reasons).most_common():
        print(f"{count:6} {reason}")
    for one in sorted(outcomes, key=lambda one: -one.seconds)[:5]:
        print(f"slowest: seed {one.seed}, {one.seconds:.1f} s")
    if failed:
        print(f"failed: {', '.join(str(one.seed) for one in failed)}")


if __name__ == "__main__":
    sys.exit(main())
