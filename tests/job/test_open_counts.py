"""Counts left open and hours of work, as a job file has them."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.files.read_toml import read_model
from cutjob.files.source import parse_source
from cutjob.job.model import JobFile, OpenCount, WorkLimit
from cutjob.resolved import order_of, resolve, with_counts

JOB = """
units = "mm"
machine = "bench-router"
{top}
[[make]]
name = "disc"
design = "round"
count = {count}
price = 5

[[board]]
name = "plank"
length = 400
width = 200
thickness = 16
"""


def read(count: str, top: str = "") -> JobFile:
    text = JOB.format(count=count, top=top)
    reading = read_model(parse_source(text.encode(), name="job.toml"), JobFile)
    if reading.model is None:
        raise InputError(reading.problems)
    return reading.model


@pytest.mark.parametrize(
    ("written", "count"),
    [
        ("3", 3),
        ("0", 0),
        ('"as many as fit"', OpenCount()),
        ("{ least = 4, most = 12 }", OpenCount(least=4, most=12)),
        ("{ most = 12 }", OpenCount(most=12)),
        ("{ least = 4 }", OpenCount(least=4)),
        ("{ least = 5, most = 5 }", OpenCount(least=5, most=5)),
    ],
)
def test_counts(written: str, count: int | OpenCount) -> None:
    make = read(written).make[0]
    assert make.count == count
    assert make.number == (count if isinstance(count, int) else 1)


@pytest.mark.parametrize(
    ("written", "words"),
    [
        (
            '"as many"',
            'job.toml:8: make "disc": count: "as many" is not a count; write a whole number, "as many as fit", ',
        ),
        ("-1", "count: -1 is too small; it must be at least 0"),
        ("2.5", "count: 2.5 is not a whole number"),
        ("true", "count: true is not a whole number"),
        ("{ least = 5, most = 2 }", "count: at least 5 is more than at most 2; give most a larger number"),
        ("{ least = -1 }", "count: least: -1 is too small; it must be at least 0"),
        ("{ most = 0 }", "count: most: 0 is too small; it must be at least 1"),
        ("{ leest = 5 }", 'count: leest: "leest" is not a key of this table; did you mean "least"?'),
        ("{}", "count: the count has no limit; write a whole number"),
        ("[4, 12]", "count: a list is not a whole number"),
    ],
)
def test_a_wrong_count_is_one_error_with_its_line(written: str, words: str) -> None:
    with pytest.raises(InputError) as raised:
        read(written)
    (problem,) = raised.value.problems
    assert words in str(problem)
    assert str(problem).startswith("job.toml:8: ")


@pytest.mark.parametrize(
    ("written", "limit", "hours"),
    [
        ("12.5", WorkLimit(number=12.5), 12.5),
        ('"2 weeks"', WorkLimit(number=2, weeks=True), 11.0),
        ('"1 week"', WorkLimit(number=1, weeks=True), 5.5),
        ('"1.5 weeks"', WorkLimit(number=1.5, weeks=True), 8.25),
    ],
)
def test_hours(written: str, limit: WorkLimit, hours: float) -> None:
    found = read("3", f"hours = {written}").hours
    assert found == limit
    assert found.hours(5.5) == pytest.approx(hours)


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ('"2 months"', '"2 months" is no time for work; write hours as a number, such as 12.5, or "2 weeks"'),
        ("0", "0 is too small; it must be at least 0.01"),
        ("-3", "-3 is too small"),
        ("true", "true is not a number"),
    ],
)
def test_wrong_hours(written: str, words: str) -> None:
    with pytest.raises(InputError) as raised:
        read("3", f"hours = {written}")
    (problem,) = raised.value.problems
    assert str(problem).startswith("job.toml:4: hours: ")
    assert words in str(problem)


def test_counts_written_in_are_those_of_the_job(tmp_path: Path) -> None:
    source = parse_source(JOB.format(count='"as many as fit"', top="").encode(), name="job.toml")
    open_ = resolve(*order_of(source, tmp_path / "job.toml"))
    assert open_.open_counts == {"disc": OpenCount()}
    closed = with_counts(open_, {"disc": 4})
    assert [item.count for item in closed.items] == [4]
    assert closed.open_counts == {}
    plain = parse_source(JOB.format(count="4", top="").encode(), name="job.toml")
    assert closed.items == resolve(*order_of(plain, tmp_path / "job.toml")).items
    with pytest.raises(InputError, match="nothing is made: every count is 0"):
        with_counts(open_, {"disc": 0})
