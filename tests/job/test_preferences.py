"""`prefer` and `together`: what counts in a layout, as the job file says it."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutjob.designs.evaluate import order_items
from cutjob.errors import InputError
from cutjob.job.job import Job
from cutjob.job.read_job import read_job

JOB = """units = "mm"
machine = "long-bed-router"
{head}
[[make]]
name = "pot foot"
design = "round"
with.diameter = 60
{make}
[[board]]
name = "larch picket"
length = 700
width = 140
thickness = 12
"""


def job(folder: Path, *, head: str = "", make: str = "") -> Job:
    path = folder / "spring.toml"
    path.write_text(JOB.format(head=head, make=make), encoding="utf-8")
    return read_job(path)


def mistakes(folder: Path, *, head: str = "", make: str = "") -> list[str]:
    with pytest.raises(InputError) as caught:
        job(folder, head=head, make=make)
    return [str(problem).rpartition("spring.toml:")[2] for problem in caught.value.problems]


@pytest.mark.parametrize(
    ("head", "message"),
    [
        (
            'prefer = ["cost", "cut", "cost"]',
            '3: prefer no. 3: "cost" is named twice; leave one of them out',
        ),
        ('prefer = [\n  "cost",\n  "cutt",\n]', '5: prefer no. 2: "cutt" is not known; did you mean "cut"?'),
        ('prefer = ["speed"]', '3: prefer no. 1: "speed" is not known; take one of cost, leftover, cut'),
        ('prefer = "cost"', '3: prefer: "cost" is not a list; write it in [ ]'),
        ("prefer = []", "3: prefer: 0 entries are too few; write at least 1"),
    ],
)
def test_wrong_words_are_told_with_their_line(tmp_path: Path, head: str, message: str) -> None:
    assert mistakes(tmp_path, head=head) == [message]


@pytest.mark.parametrize(("make", "together"), [("", False), ("together = false", False), ("together = true", True)])
def test_an_item_kept_together(tmp_path: Path, make: str, together: bool) -> None:
    read = job(tmp_path, make=make)
    items, problems = order_items(read.source, folder=tmp_path, thickness=12.0)
    assert problems == ()
    assert [item.together for item in items] == [together]


def test_together_is_true_or_false(tmp_path: Path) -> None:
    message = 'make "pot foot": together: "yes" is neither true nor false; write true or false, without quotes'
    assert mistakes(tmp_path, make='together = "yes"') == [f"8: {message}"]
