"""The first run on a computer: what is being compiled is known, and a helper compiles for the next process."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from cutjob import compiling
from cutjob.cli.progress import ProgressLine
from cutjob.compiled import compiled


def test_the_line_says_so_while_something_is_compiled() -> None:
    line = ProgressLine(shown=False)
    line.stage("reading")
    assert line.words == "reading"
    compiling.begin()
    try:
        assert line.words == "reading: getting the program ready for this computer, on the first run only; some seconds"
    finally:
        compiling.end()
    assert line.words == "reading"


def test_compiling_is_seen_and_ends(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[str] = []
    monkeypatch.setattr(compiling, "begin", lambda: seen.append("begin"))
    monkeypatch.setattr(compiling, "end", lambda: seen.append("end"))
    (tmp_path / "tripled.py").write_text("def triple(number):\n    return 3 * number\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    from tripled import triple  # type: ignore[import-not-found]

    assert compiled()(triple)(2) == 6
    assert seen == ["begin", "end"]


def test_a_helper_that_fails_is_not_missed() -> None:
    compiling.help_with("cutjob.no_such_module")
    compiling.wait_for_help()
    compiling.wait_for_help()  # nothing to wait for
    assert not compiling.under_way()


PROGRAM = """
from cutjob.program import prepare, tour_search, tour_moves
before = prepare.is_prepared()
prepare.prepare()
print(before, all(sum(f.stats.cache_hits.values()) for f in (tour_search.improve, tour_moves.choose_rows)))
"""


@pytest.mark.slow
def test_what_a_helper_compiled_is_kept(tmp_path: Path) -> None:
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)}

    def run() -> str:
        return subprocess.run(
            [sys.executable, "-c", PROGRAM], env=environment, capture_output=True, text=True, check=True, timeout=300
        ).stdout.strip()

    assert run() == "False False"
    assert run() == "True True"
