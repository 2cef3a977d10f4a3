"""Whole time of `make` on every sample, by stage; peak memory; G-code lines against chords of equal tolerance.

    python -m tests.benchmarks.samples [--runs 5] [--effort normal]

Medians over the runs, one process, output to a folder that is thrown away.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import tempfile
from pathlib import Path

from cutjob.geometry.segment import Arc
from cutjob.making import MakeResult, make_job
from cutjob.tolerances import TOLERANCES

SAMPLES = Path(__file__).parents[2] / "samples"
STAGES = ("reading", "layout", "cuts", "program", "files", "proof", "folder")


def moves_and_chords(result: MakeResult) -> tuple[int, int]:
    """Moves of all programs as written, and how many they would be with every arc as chords within the tolerance."""
    moves = chords = 0
    for program in result.programs:
        here = program.origin
        for step in program.steps:
            for move in step.moves:
                end = (move.x, move.y)
                moves += 1
                chords += 1
                if move.centre is not None:
                    chords += len(Arc(here, end, move.centre, move.clockwise).chords(TOLERANCES.chord)) - 1
                here = end
    return moves, chords


def main() -> None:
    """Print a row for every sample."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--effort", choices=["quick", "normal", "best"], default="normal")
    given = parser.parse_args()
    print(
        f"{'sample':<16}" + "".join(f"{stage:>9}" for stage in (*STAGES, "whole")) + "   gouge    left   moves/chords"
    )
    for job in sorted(SAMPLES.glob("*.toml")):
        rows: list[dict[str, float]] = []
        with tempfile.TemporaryDirectory() as folder:
            for _ in range(given.runs):
                result = make_job(job, out=Path(folder) / "out", effort=given.effort)
                rows.append(result.seconds)
        medians = [statistics.median(row[stage] for row in rows) for stage in STAGES]
        moves, chords = moves_and_chords(result)
        share = f"1/{chords / moves:.1f} of {chords}" if moves else "no G-code"
        print(
            f"{job.stem:<16}"
            + "".join(f"{value:9.2f}" for value in (*medians, sum(medians)))
            + f"{result.proof.worst_gouge:8.4f}{result.proof.worst_left:8.4f}   {share}"
        )
    print(f"greatest memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
