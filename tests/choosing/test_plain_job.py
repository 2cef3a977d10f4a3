"""Chosen counts written into a job file: single values change, everything else stays."""

from __future__ import annotations

import tomllib

import pytest

from cutjob.choosing.plain_job import plain_job
from cutjob.errors import InputError

JOB = """# the season's first batch
title = "Mix"  # kept
[[make]]
name = "star"   # five points
count   =   "as many as fit"   # fill up
[[make]]
name = 'foot'
count = { least = 4, most = 12 } # at least four
with = { diameter = 110 }

[[make]]
name = "plain"
count = 3
[[make]]
name = "one"
"""


def test_only_the_open_counts_change() -> None:
    new = plain_job(JOB.encode(), {"star": 7, "foot": 0, "plain": 3, "one": 1}, name="job.toml").decode()
    changed = [(a, b) for a, b in zip(JOB.split("\n"), new.split("\n"), strict=True) if a != b]
    assert changed == [
        ('count   =   "as many as fit"   # fill up', "count   =   7   # fill up"),
        ("count = { least = 4, most = 12 } # at least four", "count = 0 # at least four"),
    ]
    assert [one.get("count") for one in tomllib.loads(new)["make"]] == [7, 0, 3, None]


@pytest.mark.parametrize(
    "written",
    [
        '"count" = "as many as fit"',
        "'count' = 'as many as fit'",
        "count={least=2}",
        "count = {  most = 9  }",
    ],
)
def test_other_spellings(written: str) -> None:
    text = f'[[make]]\nname = "star"\n{written}\n'
    new = plain_job(text.encode(), {"star": 5}, name="job.toml").decode()
    assert tomllib.loads(new) == {"make": [{"name": "star", "count": 5}]}


def test_a_mark_windows_line_ends_and_utf_16_stay() -> None:
    text = '[[make]]\r\nname = "star"\r\ncount = "as many as fit"\r\n'
    for encoding, mark in (("utf-8", "\ufeff"), ("utf-16-le", "\ufeff"), ("utf-8", "")):
        data = (mark + text).encode(encoding)
        new = plain_job(data, {"star": 5}, name="job.toml")
        assert new == data.replace('"as many as fit"'.encode(encoding), "5".encode(encoding))


def test_a_list_on_one_line_is_changed_in_the_right_place() -> None:
    text = 'make = [{ name = "a", count = "as many as fit" }, { name = "b", count = { least = 1 } }]\n'
    new = plain_job(text.encode(), {"a": 2, "b": 3}, name="job.toml").decode()
    assert [one["count"] for one in tomllib.loads(new)["make"]] == [2, 3]


@pytest.mark.parametrize("written", ["count.least = 2\ncount.most = 4", "[make.count]\nleast = 2"])
def test_counts_over_several_lines_are_refused(written: str) -> None:
    text = f'[[make]]\nname = "star"\n{written}\n'
    with pytest.raises(InputError, match=r"job.toml:3: the counts are written in a way.*on one line"):
        plain_job(text.encode(), {"star": 5}, name="job.toml")
