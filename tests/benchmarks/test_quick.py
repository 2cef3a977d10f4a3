"""The timings of quick starts: that they run, and that the job they time changes."""

from __future__ import annotations

from itertools import islice
from pathlib import Path

import pytest

from cutjob.files.file_bytes import shipped_folder
from cutjob.resolved import read_order
from tests.benchmarks.quick import changed, rows

SAMPLE = shipped_folder("samples") / "porch-spinner.toml"


def test_rows_of_one_process() -> None:
    found = rows(SAMPLE, change="16 1/2", runs=1, commands=False)
    assert len(found) == 2
    assert all(row.seconds > 0 for row in found)
    assert "wanted" in str(found[0])


def test_the_size_changes_each_time(tmp_path: Path) -> None:
    widths = [
        max(part.region.bounds[2] - part.region.bounds[0] for part in read_order(job)[1][0].build.shaped)
        for job in islice(changed(SAMPLE, "16 1/2", tmp_path), 3)
    ]
    assert widths == sorted(set(widths), reverse=True)


def test_a_length_that_the_job_does_not_have(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match='no "17"'):
        next(changed(SAMPLE, "17", tmp_path))
