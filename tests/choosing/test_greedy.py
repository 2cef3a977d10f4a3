"""What is chosen beside what a greedy hand would make, each laid out, cut and costed as a whole: never worse.

The greedy hand makes as many as fit of the item that leaves most for its room, then as many as fit of the next.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from cutjob.choosing.choose import question_of
from cutjob.costs.chosen import Offer, sale_of
from cutjob.errors import InputError
from cutjob.making import work_out
from cutjob.resolved import ResolvedJob, read_order, resolve, with_counts
from tests.choosing.jobs import SHOP

_GCODE = frozenset({"gcode"})
_CENT = 0.01

JOB = """
title = "A mix from pickets"
units = "mm"
machine = "long-bed-router"
{top}

[[make]]
name = "plate"
design = "plate"
count = "as many as fit"
price = {plate}
with = {{ length = {length}, width = {width}, corner_radius = 6, corner_hole = 0 }}

[[make]]
name = "disc"
design = "round"
count = {count}
price = {disc}
with = {{ diameter = {diameter}, hole = 8 }}

[[board]]
name = "picket"
length = {board}
width = 140
thickness = 16
material = "softwood"
count = {boards}
price = 2.5
"""

# Invented mixes: a large piece beside a small one, pieces alike, and one of which only some are sold.
MIXES = [
    {"plate": 9.4, "length": 186, "width": 88, "disc": 5.1, "diameter": 92, "count": '"as many as fit"', "board": 900,
     "boards": 2, "top": ""},
    {"plate": 3.4, "length": 84, "width": 47, "disc": 6.6, "diameter": 105, "count": "{ least = 2, most = 14 }",
     "board": 1200, "boards": 2, "top": 'board_held_by = "tape"'},
]  # fmt: skip


@pytest.mark.slow
@pytest.mark.usefixtures("whole_search")
@pytest.mark.parametrize("mix", MIXES)
def test_a_greedy_hand_leaves_no_more(mix: dict[str, object], tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(JOB.format(**mix), encoding="utf-8")
    (tmp_path / "shop.toml").write_text(SHOP, encoding="utf-8")
    resolved = resolve(*read_order(job))
    chosen = work_out(resolved, effort="quick", only=_GCODE).job.chosen
    assert chosen is not None
    question = question_of(resolved, seed=0, effort="quick")
    lines = question.programme.lines
    counts = {line.name: line.least for line in lines}
    best = 0.0
    for place in sorted(range(len(lines)), key=lambda one: -lines[one].leaves / question.areas[one]):
        line, most = lines[place], lines[place].most
        low, high = counts[line.name], most + 1
        while high - low > 1:
            number = (low + high) // 2
            leaves = left_by(resolved, question.offers, {**counts, line.name: number})
            low, high = (low, number) if leaves is None else (number, high)
            best = best if leaves is None else max(best, leaves)
        counts[line.name] = low
    assert best > 0
    assert float(chosen.leaves) >= best - _CENT


def left_by(resolved: ResolvedJob, offers: Mapping[str, Offer], counts: dict[str, int]) -> float | None:
    """What plain counts leave; None where they don't fit."""
    try:
        made = work_out(with_counts(resolved, counts), effort="quick", only=_GCODE)
    except InputError:
        return None
    account = made.job.account
    assert account is not None
    sales = [(item.count, sale_of(account, item.name, offers[item.name])) for item in made.job.items]
    return sum(count * float(sale.leaves) for count, sale in sales if sale is not None)
