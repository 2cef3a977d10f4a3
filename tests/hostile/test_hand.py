"""Every case made by hand, answered in this process."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.hostile import drawings, jobs, own_designs, places, profiles, programs
from tests.hostile.case import Case
from tests.hostile.judge import checked

ALL = [case for table in (jobs, drawings, own_designs, profiles, programs, places) for case in table.cases()]


@pytest.mark.parametrize("case", [pytest.param(case, id=case.name) for case in ALL])
def test_the_answer_is_clear_and_nothing_is_touched(case: Case, tmp_path: Path) -> None:
    assert not checked(case, tmp_path)
