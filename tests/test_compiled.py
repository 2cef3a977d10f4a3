"""Compiled functions without a cache they could be kept in."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from numba.core.caching import FunctionCache

from cutjob.compiled import compiled


def double(number: int) -> int:
    return 2 * number


def test_a_full_disk_only_loses_the_cache(monkeypatch: pytest.MonkeyPatch) -> None:
    tried = []

    def full(*_: Any) -> None:
        tried.append(True)
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(FunctionCache, "save_overload", full)
    monkeypatch.setattr(FunctionCache, "load_overload", lambda *_: None)
    assert compiled()(double)(4) == 8
    assert tried


def test_no_folder_to_keep_it_in(monkeypatch: pytest.MonkeyPatch) -> None:
    def nowhere(*_: Any) -> None:
        raise RuntimeError("cannot cache function: no locator available")

    monkeypatch.setattr(FunctionCache, "__init__", nowhere)
    assert compiled()(double)(4) == 8


PROGRAM = """
import sys
from cutjob.compiled import compiled
sys.path.insert(0, sys.argv[1])
import doubled
made = compiled()(doubled.double)
print(made(4), sum(made.stats.cache_hits.values()))
"""


def run(folder: Path) -> str:
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(folder / "cache")}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(folder)],
        env=environment,
        cwd=Path(__file__).parents[1],
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    return done.stdout.strip()


def test_kept_for_the_next_run_and_made_anew_where_it_is_spoiled(tmp_path: Path) -> None:
    (tmp_path / "doubled.py").write_text("def double(number):\n    return 2 * number\n")
    assert run(tmp_path) == "8 0"
    assert run(tmp_path) == "8 1"
    for kept in (tmp_path / "cache").rglob("*.nb?"):
        kept.write_bytes(kept.read_bytes()[:100])
    assert run(tmp_path) == "8 0"
    assert run(tmp_path) == "8 1"
