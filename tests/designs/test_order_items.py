"""Every line of an order is judged, whatever else is wrong in the file."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutjob.designs.evaluate import order_items
from cutjob.errors import InputError
from cutjob.files.source import parse_source
from cutjob.resolved import read_order

JOB = """\
units = "mm"
machine = "bench-ruoter"

[[make]]
name = "coaster"
design = "round"
size = "tiny"

[[make]]
name = "gull"
design = "star"
count = -1

[[make]]
name = "shade"
design = "round"
with = { diameter = 90, hole = 200 }

[[board]]
name = "plank"
length = 800
widht = 140
thickness = 16
"""


def test_mistakes_of_the_file_and_of_the_designs_come_together(tmp_path: Path) -> None:
    path = tmp_path / "stall.toml"
    path.write_text(JOB, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_order(path)
    lines = {problem.location.line for problem in caught.value.problems if problem.location}
    assert {2, 7, 12, 17, 22} <= lines
    assert len(set(caught.value.problems)) == len(caught.value.problems)


def test_tables_wrong_in_themselves_are_left_to_the_reader() -> None:
    items, problems = order_items(parse_source(JOB.encode(), name="stall.toml"), folder=Path(), thickness=16.0)
    assert items == ()
    assert {problem.place.split(":")[0] for problem in problems} == {'make "coaster"', 'make "shade"'}


def test_items_of_a_sound_order() -> None:
    text = 'units = "in"\n[[make]]\nname = "coaster"\ndesign = "round"\ncount = 3\nwith = { diameter = 4 }\n'
    (item,), problems = order_items(parse_source(text.encode(), name="stall.toml"), folder=Path(), thickness=16.0)
    assert problems == ()
    assert item.count == 3
    x0, _, x1, _ = item.build.shaped[0].region.bounds
    assert x1 - x0 == pytest.approx(101.6, abs=1e-9)
