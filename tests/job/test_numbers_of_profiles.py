"""Numbers no workshop has: each number of the shipped profiles made tiny, huge or none is refused with its line."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.files.file_bytes import shipped_files
from cutjob.job.read_machine import read_machine

_NUMBER = re.compile(r"^(\s*\w+ = )(\d+(?:\.\d+)?)(\s*(?:#.*)?)$")


def numbers(profile: str) -> list[int]:
    """The lines, from 1, that hold a number."""
    lines = shipped_files("machines")[profile].read_text(encoding="utf-8").split("\n")
    return [at for at, line in enumerate(lines, start=1) if _NUMBER.match(line)]


@pytest.mark.parametrize("value", ["1e-300", "1e-12", "1e300", "-1e300", "inf", "nan"])
@pytest.mark.parametrize("profile", ["bench-router", "bench-laser", "long-bed-router"])
def test_a_number_that_makes_no_sense_is_refused_with_its_line(tmp_path: Path, profile: str, value: str) -> None:
    lines = shipped_files("machines")[profile].read_text(encoding="utf-8").split("\n")
    assert numbers(profile)
    for at in numbers(profile):
        found = _NUMBER.match(lines[at - 1])
        assert found is not None
        changed = [*lines[: at - 1], f"{found.group(1)}{value}", *lines[at:]]
        path = tmp_path / "own.toml"
        path.write_text("\n".join(changed), encoding="utf-8")
        with pytest.raises(InputError) as caught:
            read_machine(str(path), beside=None)
        # A table that is wrong as a whole is reported with the line it begins on.
        told = [problem.location.line for problem in caught.value.problems if problem.location is not None]
        assert told, lines[at - 1]
        assert at in told or all(line is not None and line <= at + 60 for line in told), (lines[at - 1], told)
