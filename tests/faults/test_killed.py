"""Runs killed at every step and at any moment leave the old or the new, whole, and the next run tidies up."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from tests.faults.jobs import ROOT, complete, hashes, litter, made, start, write_job

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")
LEAST_STEPS = 60  # a run takes more than these; fewer would mean that they aren't seen any more


def steps_of(work: Path, *words: str) -> list[dict[str, Any]]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults.steps", str(work), *words],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return [json.loads(line) for line in done.stdout.splitlines()]


@pytest.mark.parametrize("how", ["at-one-stroke", "two-renames"])
def test_killed_at_every_step(tmp_path: Path, how: str) -> None:
    made(tmp_path / "before", "winter", count=3)
    write_job(tmp_path, "job", count=5, shed=False)
    lines = steps_of(tmp_path, how)
    *killed, through = lines
    assert len(killed) >= LEAST_STEPS
    assert all(line["died"] == signal.SIGKILL for line in killed)
    old, new = killed[0]["killed"], through["next"]
    assert old["out"] != new["out"]
    assert old["stock"] != new["stock"]
    assert new["beside"] == []
    seen = set()
    for line in lines:
        after = line["killed"]
        which = "old" if after["out"] == old["out"] else "new" if after["out"] == new["out"] else "neither"
        if which == "neither":
            # Between two renames there is no folder, but all that was in it stands beside it for the next run.
            assert how == "two-renames"
            assert after["out"] is None
            assert ".out.cutjob-old" in after["beside"]
        # The file of stock is changed last: it never says that boards are gone for files that aren't there.
        assert after["stock"] in ([old["stock"]] if which != "new" else [old["stock"], new["stock"]])
        seen.add((which, after["stock"] == new["stock"]))
        assert line["next"] == new, f"step {line['step']}"
    assert {("old", False), ("new", False), ("new", True)} <= seen
    assert (("neither", False) in seen) == (how == "two-renames")


@pytest.mark.slow
def test_killed_at_any_moment(tmp_path: Path) -> None:
    """The whole command, killed at random moments, more of them near its end, where it writes."""
    made(tmp_path / "before", "winter", count=3)
    place = tmp_path / "place"
    chance = random.Random(5)

    def begin() -> subprocess.Popen[str]:
        shutil.rmtree(place, ignore_errors=True)
        shutil.copytree(tmp_path / "before", place)
        return start(write_job(place, "job", count=5), place / "out", "--keep-offcuts", str(place / "shed.toml"))

    begun = time.monotonic()
    assert begin().communicate(timeout=300)[1] == ""
    length = time.monotonic() - begun
    old, new = hashes(tmp_path / "before" / "out"), hashes(place / "out")
    ends = set()
    for _ in range(25):
        process = begin()
        time.sleep(length * (chance.uniform(0, 1) if chance.random() < 0.3 else chance.uniform(0.75, 1.02)))
        process.send_signal(signal.SIGKILL)
        process.communicate(timeout=300)
        assert hashes(place / "out") in (old, new)
        assert complete(place / "out")
        ends.add((process.returncode == 0, hashes(place / "out") == new))
        last = start(place / "job.toml", place / "out", "--keep-offcuts", str(place / "shed.toml"))
        assert last.communicate(timeout=300)[1] == ""
        assert hashes(place / "out") == new
        assert litter(place) == []
    assert (False, False) in ends
