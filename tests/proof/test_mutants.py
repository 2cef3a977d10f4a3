"""Mutants of proven programs: all that matter are caught, and no proven program is refused."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from tests.proof.mutants.cases import JOBS, Case, all_cases
from tests.proof.mutants.cut import Cut, swept
from tests.proof.mutants.harness import Count, run_kinds, totals
from tests.proof.mutants.kinds import KINDS
from tests.proof.mutants.machine_run import Step, run
from tests.proof.mutants.oracle import Oracle

# Small jobs for the quick run: outlines, pockets and several cutters, screws and windows, inches, a skin, a beam.
QUICK = ("gate-stars", "porch-shelf", "everything", "inches", "skin", "marked")
# Kinds that need what only some boards have may find no place.
RARE = 6


@pytest.fixture(scope="module")
def boards(tmp_path_factory: pytest.TempPathFactory) -> list[Case]:
    return all_cases(tmp_path_factory.mktemp("mutants"), jobs=QUICK)


def caught_all(counts: dict[str, Count]) -> None:
    every = totals(counts)
    assert every.escapes == [], "\n\n".join(every.escapes)
    assert every.mattered == every.caught > 0.6 * every.spoiled


def test_there_are_enough_kinds_and_jobs() -> None:
    assert len(KINDS) >= 25
    assert len({kind.name for kind in KINDS}) == len(KINDS)
    assert len(JOBS) >= 6


def test_no_proven_program_is_refused(boards: list[Case]) -> None:
    assert {case.job for case in boards} == set(QUICK)
    for case in boards:
        report = case.proof()
        assert report.passed, [str(finding) for finding in report.findings]
        assert Oracle(case).why(case) == ""


def test_what_matters_is_caught(boards: list[Case]) -> None:
    counts = run_kinds(boards, per_kind=1, seed=20)
    assert sum(count.spoiled == 0 for count in counts.values()) <= RARE
    caught_all(counts)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [21, 22])
def test_what_matters_is_caught_in_all_jobs(tmp_path: Path, seed: int) -> None:
    caught_all(run_kinds(all_cases(tmp_path), per_kind=10, seed=seed))


# The oracle itself.


def test_the_oracle_runs_lines_as_they_are_meant() -> None:
    lines = ["G20", "G17", "G90", "G94", "G0 Z1", "S9000 M3", "G4 P2", "G0 X1 Y1", "G1 Z-0.1 F10", "G2 X2 Y1 I0.5 J0"]
    ran = run(lines, origin=(100.0, 0.0), top=25.4, milliseconds=False)
    assert ran.broken == ""
    up, across, down, arc = ran.steps
    assert math.isnan(up.end[0])
    assert up.end[2] == 0.0
    assert across.end == (125.4, 25.4, 0.0)
    assert down.feed == 254.0
    assert down.warm == 2.0
    assert arc.arc is not None
    assert arc.arc[2] == pytest.approx(-math.pi)
    assert run(["G1 X1 Q2"], origin=(0, 0), top=0, milliseconds=False).broken
    assert run([*lines, "G2 X3 Y1 I0.6 J0"], origin=(0, 0), top=0, milliseconds=False).broken


def test_the_oracle_sweeps_what_a_cutter_does() -> None:
    step = Step((0, 0, -4.0), (10, 0, -8.0), None, False, 100, 1, 0, 0, 0, 0)
    assert swept([Cut(step, 3.0)], 2.0).area == pytest.approx(60 + 9 * math.pi, rel=1e-3)
    assert swept([Cut(step, 3.0)], 6.0).area == pytest.approx(30 + 9 * math.pi, rel=1e-3)
    assert swept([Cut(step, 3.0)], 9.0).is_empty
    ring = replace_arc(step, (0.0, 5.0, 2 * math.pi))
    assert swept([Cut(ring, 1.0)], 1.0).area == pytest.approx(2 * math.pi * 5 * 2, rel=1e-3)


def replace_arc(step: Step, arc: tuple[float, float, float]) -> Step:
    return step._replace(start=(0.0, 0.0, -4.0), end=(0.0, 0.0, -4.0), arc=arc)


@pytest.mark.parametrize(("by", "matters"), [(0.0, False), (0.001, False), (0.05, True), (0.3, True)])
def test_the_oracle_tells_a_twentieth_from_a_rounding(boards: list[Case], by: float, matters: bool) -> None:
    """Every part 'by' mm aside of where the cutter thinks it is: the same as all cuts moved the other way."""
    case = next(case for case in boards if case.job == "gate-stars")
    oracle = Oracle(case)
    file = case.programs[0].file
    moved = replace(case.programs[0], origin=(case.programs[0].origin[0] + by, case.programs[0].origin[1]))
    ran = oracle._cuts(moved, oracle._run(moved, case.files[file]))
    old = [cut for cut in oracle.cuts[file] if by]
    assert bool(oracle._geometry(old, ran)) is matters


def test_the_oracle_takes_one_board_for_another(boards: list[Case]) -> None:
    one, two = [case for case in boards if case.job == "gate-stars"]
    other = one.with_lines(one.programs[0].file, two.files[two.programs[0].file])
    assert Oracle(one).why(other)
