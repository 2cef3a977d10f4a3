"""The fuzzer itself: it follows the code of every reader, and finds nothing in a few seconds."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path

import pytest

from tests.hostile.mutate import good_files
from tests.hostile.readers import READERS

needs_atheris = pytest.mark.skipif(
    importlib.util.find_spec("atheris") is None, reason="the extra `fuzz` is not installed"
)


@needs_atheris
@pytest.mark.slow
@pytest.mark.parametrize("reader", READERS)
def test_a_few_seconds_find_nothing(reader: str, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "tests.hostile.fuzz", reader, "--seconds", "4", "--keep", str(tmp_path)]
    done = subprocess.run(
        command,
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        errors="replace",
    )
    assert done.returncode == 0, done.stderr[-3000:]
    assert "stat::number_of_executed_units" in done.stderr
    assert "no interesting inputs were found" not in done.stderr  # as it says when it can't see what code runs


def test_every_reader_takes_its_good_files(tmp_path: Path) -> None:
    good = good_files()
    assert {one.kind for one in good} == set(READERS)
    for one in good:
        READERS[one.kind](one.data, tmp_path)
