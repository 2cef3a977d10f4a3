"""What could take for ever or all memory, each in a process of its own: 5 s of the processor and 500 MB at most."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.hostile import heavy
from tests.hostile.heavy import Heavy
from tests.hostile.judge import checked


def _marked(case: Heavy) -> object:
    return pytest.param(case, id=case.name, marks=() if case.quick else pytest.mark.slow)


@pytest.mark.parametrize("case", [_marked(case) for case in heavy.cases()])
def test_it_is_refused_soon_and_takes_little(case: Heavy, tmp_path: Path) -> None:
    assert not checked(case.make(), tmp_path, alone=True)
