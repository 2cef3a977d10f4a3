"""Prints how many mutants of each kind the proof catches: `python -m tests.proof.mutants --per-kind 20 --seed 1`."""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from functools import partial
from pathlib import Path

from tests.proof.mutants.cases import JOBS, all_cases
from tests.proof.mutants.harness import HEAD, row, run_kinds, totals
from tests.proof.mutants.kinds import KINDS


def main() -> int:
    """Make the jobs, spoil them, print the table and what escaped. Returns 1 where anything did."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--per-kind", type=int, default=10, help="mutants of each kind")
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--job", action="append", choices=tuple(JOBS), help="only these jobs")
    words.add_argument("--kind", action="append", help="only kinds whose names hold this")
    given = words.parse_args()
    begin = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        cases = all_cases(Path(folder), jobs=tuple(given.job or ()))
    made = time.perf_counter() - begin
    print(f"{len(cases)} boards of {len({case.job for case in cases})} jobs, made and proven in {made:.1f} s")
    print(HEAD)
    kinds = [one for one in KINDS if not given.kind or any(name in one.name for name in given.kind)]
    told = partial(print, flush=True)
    counts = run_kinds(cases, per_kind=given.per_kind, seed=given.seed, kinds=kinds, told=told)
    every = totals(counts)
    print(row(f"all {len(kinds)} kinds", every))
    print("* refused, though the oracle saw no difference that matters")
    for escape in every.escapes:
        print(f"\nESCAPED {escape}")
    print(f"{time.perf_counter() - begin:.1f} s")
    return 1 if every.escapes else 0


if __name__ == "__main__":
    sys.exit(main())
