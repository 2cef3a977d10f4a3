"""Do the tests notice? Small changes to a module, one at a time, with the tests that ought to fail then.

`python -m tests.mutation units --most 100 --seed 1` with the extra `mutation` installed. The changes are made by
cosmic-ray in a copy of the last commit, never here. Prints the score and every change that no test noticed.
"""

from __future__ import annotations

import argparse
import random
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
_RULES = (
    "tests/proof/test_rules_alone.py tests/proof/test_check.py tests/proof/test_check_odd_files.py "
    "tests/proof/test_prove_cutters.py "
    "tests/proof/test_prove_laser.py tests/proof/test_prove_finish.py tests/proof/test_prove_windows.py"
)
# The module, and the tests that are about it.
TARGETS = {
    "units": ("cutjob/units.py", "tests/test_units.py"),
    "offset": ("cutjob/geometry/offset.py", "tests/geometry/test_offset.py"),
    "gcode": ("cutjob/output/gcode/write.py", "tests/output/gcode/test_write.py tests/output/gcode/test_sections.py"),
    "motion_lines": (
        "cutjob/output/gcode/write.py",
        "tests/output/gcode/test_motion_lines.py tests/output/gcode/test_write.py tests/output/gcode/test_sections.py",
    ),
    "numbers": ("cutjob/output/numbers.py", "tests/output/test_numbers.py tests/output/gcode/test_write.py"),
    "precedence": ("cutjob/program/precedence.py", "tests/program/test_precedence.py"),
    "tour": ("cutjob/program/tour.py", "tests/program/test_tour.py"),
    "sweep": ("cutjob/proof/sweep/sweep.py", "tests/proof"),
    "height_rules": ("cutjob/proof/gcode/height_rules.py", _RULES),
    "feed_rules": ("cutjob/proof/gcode/feed_rules.py", _RULES),
}
CONFIG = """\
[cosmic-ray]
module-path = "{module}"
timeout = {timeout}
excluded-modules = []
test-command = "{python} -m pytest -q -x -n0 -p no:randomly -p no:cacheprovider {tests}"

[cosmic-ray.distributor]
name = "local"
"""


def main() -> int:
    """Run one target."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation")
    parser.add_argument("target", choices=sorted(TARGETS))
    parser.add_argument("--most", type=int, default=100, help="changes at most, chosen by the seed")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--timeout", type=float, default=120.0, help="seconds after which a change counts as noticed")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as work:
        place = Path(work)
        archive = subprocess.run(["git", "archive", "HEAD"], cwd=ROOT, capture_output=True, check=True).stdout
        subprocess.run(["tar", "-x"], cwd=place, input=archive, check=True)
        return _run(place, *TARGETS[asked.target], asked)


def _run(place: Path, module: str, tests: str, asked: argparse.Namespace) -> int:
    config, session = place / "cosmic-ray.toml", place / "session.sqlite"
    text = CONFIG.format(module=module, tests=tests, timeout=asked.timeout, python=sys.executable)
    config.write_text(text, encoding="utf-8")
    command = [sys.executable, "-c", "from cosmic_ray.cli import main; main()"]
    for words in (["baseline", str(config)], ["init", str(config), str(session)]):
        subprocess.run([*command, *words], cwd=place, check=True)
    total = _choose(session, asked.most, asked.seed)
    subprocess.run([*command, "exec", str(config), str(session)], cwd=place, check=True)
    return _report(session, module, total)


def _choose(session: Path, most: int, seed: int) -> int:
    """Skip all but some of the changes, the same ones for a seed; returns how many there are in all."""
    from cosmic_ray.work_db import WorkDB, use_db
    from cosmic_ray.work_item import WorkerOutcome, WorkResult

    with use_db(str(session), WorkDB.Mode.open) as base:
        # "int | None" and the like change nothing when they are spoiled: no annotation is ever looked at.
        items = [item for item in base.work_items if "_BitOr_" not in item.mutations[0].operator_name]
        for item in base.work_items:
            if item not in items:
                base.set_result(item.job_id, WorkResult(worker_outcome=WorkerOutcome.SKIPPED))
        jobs = [item.job_id for item in items]
        chosen = set(random.Random(seed).sample(range(len(jobs)), min(most, len(jobs))))
        for number, job in enumerate(jobs):
            if number not in chosen:
                base.set_result(job, WorkResult(worker_outcome=WorkerOutcome.SKIPPED))
    return len(jobs)


def _report(session: Path, module: str, total: int) -> int:
    from cosmic_ray.work_db import WorkDB, use_db
    from cosmic_ray.work_item import TestOutcome, WorkerOutcome

    with use_db(str(session), WorkDB.Mode.open) as base:
        done = [result for _, result in base.results if result.worker_outcome is not WorkerOutcome.SKIPPED]
    survived = [result for result in done if result.test_outcome is TestOutcome.SURVIVED]
    for result in survived:
        print(result.diff)
    print(f"{module}: {len(done) - len(survived)} of {len(done)} changes noticed ({total} there could be)")
    return 1 if survived else 0


if __name__ == "__main__":
    sys.exit(main())
