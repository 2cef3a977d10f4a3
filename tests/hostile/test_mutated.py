"""Good files spoiled by chance, some hundred: read, or refused with clear messages, and never more than that."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from cutjob.errors import CutjobError
from tests.hostile.bases import (
    DESIGN,
    DESIGN_JOB,
    DXF_JOB,
    INVENTORY,
    JOB,
    PANEL,
    PROFILE_JOB,
    STOCK,
    STOCK_JOB,
    SVG_JOB,
    profile,
)
from tests.hostile.case import MAKE, Case
from tests.hostile.judge import MOST_SECONDS, checked
from tests.hostile.mutate import Good, good_files, spoiled
from tests.hostile.readers import READERS

_EACH = 12  # seeds for each good file in every test run
_MORE = 150  # and when asked for
_WHOLE = 120  # whole commands for each kind of file, when asked for
GOOD = good_files()
_BY_NAME = [pytest.param(good, id=f"{good.kind} {good.name}") for good in GOOD]


def read(good: Good, seed: int, folder: Path) -> list[str]:
    """What is wrong with how a spoiled file is read."""
    start = time.process_time()
    lines: list[str] = []
    try:
        READERS[good.kind](spoiled(good.data, seed), folder)
    except CutjobError as error:
        lines = [str(problem) for problem in error.problems]
    seconds = time.process_time() - start
    faults = [f"seed {seed}: {line[:300]!r}" for line in lines if len(set(line) & set("\n\r")) > 0 or "Error:" in line]
    return [*faults, *([f"seed {seed}: {seconds:.1f} s"] if seconds > MOST_SECONDS else [])]


@pytest.mark.parametrize("good", _BY_NAME)
def test_it_is_read_or_refused(good: Good, tmp_path: Path) -> None:
    assert [fault for seed in range(_EACH) for fault in read(good, seed, tmp_path)] == []


@pytest.mark.slow
@pytest.mark.parametrize("good", _BY_NAME)
def test_many_are_read_or_refused(good: Good, tmp_path: Path) -> None:
    assert [fault for seed in range(_EACH, _EACH + _MORE) for fault in read(good, seed, tmp_path)] == []


def _whole(kind: str, seed: int) -> Case:
    """A job of which one file is spoiled."""
    first = {good.kind: good.data for good in GOOD}
    files = {
        "job": {"job.toml": JOB.encode()},
        "profile": {"mine.toml": profile().encode(), "job.toml": PROFILE_JOB.encode()},
        "stock": {"shed.toml": STOCK.encode(), "job.toml": STOCK_JOB.encode()},
        "design": {"own.toml": DESIGN.encode(), "job.toml": DESIGN_JOB.encode()},
        "panel": {"panel.toml": PANEL.encode(), "ends.toml": INVENTORY.encode()},
        "inventory": {"ends.toml": INVENTORY.encode(), "panel.toml": PANEL.encode()},
        "svg": {"shape.svg": first["svg"], "job.toml": SVG_JOB.encode()},
        "dxf": {"shape.dxf": first["dxf"], "job.toml": DXF_JOB.encode()},
    }[kind]
    name = next(iter(files))
    args = ("panel", "panel.toml") if "panel.toml" in files else MAKE
    spoilt = {**files, name: spoiled(files[name], seed)}
    return Case(name=f"{kind}, seed {seed}", files=spoilt, args=args, lines=None, codes=(0, 2))


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["job", "profile", "stock", "design", "panel", "inventory", "svg", "dxf"])
def test_a_job_with_a_spoiled_file_ends_proven_or_refused(kind: str, tmp_path: Path) -> None:
    found = []
    for seed in range(_WHOLE):
        folder = tmp_path / str(seed)
        folder.mkdir()
        found += checked(_whole(kind, seed), folder)
    assert found == []
