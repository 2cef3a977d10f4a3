"""A design file written for a test, and the item or the problems it comes to."""

from pathlib import Path
from typing import Any

import pytest

from cutjob.designs.evaluate import evaluate
from cutjob.errors import InputError, Location, Problem
from cutjob.job.model import Make
from cutjob.parts.part import Build, ShapedPart

HEAD = 'units = "mm"\nsummary = "a thing for the porch"\n'


def build(
    text: str, folder: Path, *, head: str = HEAD, thickness: float = 16.0, size: str = "medium", **rest: Any
) -> Build:
    (folder / "thing.toml").write_text(head + text, encoding="utf-8")
    make = Make.model_validate({"name": "porch thing", "design": "thing.toml", "size": size, "with": rest})
    return evaluate(
        make,
        unit="mm",
        location=Location(file="spring.toml", line=9),
        key_locations={key: Location(file="spring.toml", line=20 + at) for at, key in enumerate(rest)},
        folder=folder,
        thickness=thickness,
    ).build


def part(text: str, folder: Path, **rest: Any) -> ShapedPart:
    (only,) = build(text, folder, **rest).shaped
    return only


def problems(text: str, folder: Path, **rest: Any) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as caught:
        build(text, folder, **rest)
    return caught.value.problems
