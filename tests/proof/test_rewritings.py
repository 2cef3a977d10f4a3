"""Proven programs written another way that cuts the same: none is refused."""

from __future__ import annotations

import zlib
from itertools import islice

import pytest

from cutjob.proof.prove import prove
from tests.proof.mutants.cases import Case, all_cases
from tests.proof.mutants.rewritings import REWRITINGS, programs_of

QUICK = ("gate-stars", "porch-shelf", "everything", "inches", "skin", "marked")


@pytest.fixture(scope="module")
def boards(tmp_path_factory: pytest.TempPathFactory) -> list[Case]:
    return all_cases(tmp_path_factory.mktemp("rewritten"), jobs=QUICK)


def refused(case: Case, name: str) -> list[str] | None:
    """What the proof finds in a board's files written anew, or None where there is no place for it."""
    written = {program.file: REWRITINGS[name](program) for program in programs_of(case)}
    if all(lines is None or lines == case.files[file] for file, lines in written.items()):
        return None
    data = {
        file: "".join(f"{line}\n" for line in (case.files[file] if lines is None else lines)).encode("utf-8")
        for file, lines in written.items()
    }
    report = prove(data, programs=case.programs, drawings=(), machine=case.machine)
    return [str(finding) for finding in report.findings if finding.severity == "error"]


def test_there_are_as_many_as_were_promised() -> None:
    assert len(REWRITINGS) >= 23


@pytest.mark.parametrize("name", REWRITINGS)
def test_a_board_written_anew_is_proven(boards: list[Case], name: str) -> None:
    """Each on two boards that have a place for it, others each time."""
    begin = zlib.crc32(name.encode()) % len(boards)
    judged = ((case.job, refused(case, name)) for case in (*boards[begin:], *boards[:begin]))
    found = list(islice(((job, wrong) for job, wrong in judged if wrong is not None), 2))
    assert found
    assert [(job, wrong) for job, wrong in found if wrong] == []


@pytest.mark.slow
@pytest.mark.parametrize("name", REWRITINGS)
def test_every_board_written_anew_is_proven(boards: list[Case], name: str) -> None:
    found = [(case.job, wrong) for case in boards if (wrong := refused(case, name))]
    assert found == []
