"""Whole jobs at random: each ends in a proven folder or in a clear refusal, never in a failed proof or a crash."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from tests.random_jobs import write_random_job
from tests.random_jobs.outcome import outcome_of, reason_of, short_search

QUICK, SLOW = range(1000, 1012), range(30000, 30300)
TOGETHER = 25  # jobs in one of the slow tests
# Of the jobs the generator writes, about six in ten can be made; far fewer would mean that it has gone blind.
LEAST_MADE = 0.35


@pytest.fixture(autouse=True)
def _short() -> Iterator[None]:
    with short_search():
        yield


def all_end_well(folder: Path, seeds: Sequence[int]) -> None:
    outcomes = [outcome_of(folder / str(seed), seed) for seed in seeds]
    failed = [f"seed {outcome.seed}: {outcome.failure}" for outcome in outcomes if outcome.failure]
    assert not failed, "\n".join(failed)
    assert sum(outcome.made for outcome in outcomes) >= LEAST_MADE * len(seeds)


def test_jobs_at_random(tmp_path: Path) -> None:
    all_end_well(tmp_path, QUICK)


@pytest.mark.slow
@pytest.mark.parametrize("first", SLOW[::TOGETHER])
def test_more_jobs_at_random(tmp_path: Path, first: int) -> None:
    all_end_well(tmp_path, range(first, first + TOGETHER))


def test_the_same_seed_writes_the_same_job(tmp_path: Path) -> None:
    one, two = (write_random_job(tmp_path / name, 7).path.read_bytes() for name in ("one", "two"))
    assert one == two


def test_reasons_are_messages_without_names_and_numbers() -> None:
    one = 'job.toml:12:9: make "gate": hole: 1 1/8 in leaves no wood; at most 0.5 in'
    two = 'other.toml:3:1: make "star 2": hole: 2 in leaves no wood; at most 7/8 in'
    assert reason_of(one) == reason_of(two) == 'make "…": hole: 0 in leaves no wood; at most 0 in'
