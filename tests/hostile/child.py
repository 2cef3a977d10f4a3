"""Run a command and write what it took: `python -m tests.hostile.child REPORT ARGS...`."""

from __future__ import annotations

import json
import resource
import sys
from pathlib import Path


def peak_bytes() -> int:
    """The most memory this process had, in bytes. What it was forked from does not count, which rusage would add."""
    status = Path("/proc/self/status")
    if status.exists():
        for line in status.read_text(encoding="ascii", errors="replace").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) * 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)


def run(report: Path, args: list[str]) -> None:
    """Run the command, ending with its exit code."""
    # Rather a plain end than a machine that swaps: far above what is allowed.
    resource.setrlimit(resource.RLIMIT_CPU, (60, 60))
    resource.setrlimit(resource.RLIMIT_AS, (8_000_000_000, 8_000_000_000))
    from cutjob.cli.commands import main

    try:
        main(args)
    finally:
        used = resource.getrusage(resource.RUSAGE_SELF)
        report.write_text(
            json.dumps({"seconds": used.ru_utime + used.ru_stime, "peak": peak_bytes()}), encoding="utf-8"
        )


if __name__ == "__main__":
    run(Path(sys.argv[1]), sys.argv[2:])
