"""Time and costs of items in the plan and in words."""

from __future__ import annotations

from dataclasses import replace

from cutjob.costs.item_costs import STICKS, ItemCost
from cutjob.parts.part import Build, Item
from cutjob.reports.plan.plan import plan_of
from cutjob.reports.words import cost_note, item_table
from cutjob.result import JobResult
from tests.reports.makers import job_result


def job(counts: dict[str, int], *costs: ItemCost) -> JobResult:
    items = tuple(
        Item(name=name, design="gate", size="small", count=count, build=Build()) for name, count in counts.items()
    )
    return job_result(items=items, costs=costs)


def test_in_the_plan_and_in_words() -> None:
    priced = ItemCost(
        seconds=480.0, boards=2.5, sticks=None, bought=1.5, machine=4.0, not_counted=("glass bead", STICKS)
    )
    bare = ItemCost(seconds=60.0, boards=0.0, sticks=None, bought=None, machine=None, not_counted=(STICKS,))
    made = job({"gate": 4, "label": 10}, priced, bare)
    plan = plan_of(made)
    assert plan["items"][0]["machine_seconds"] == 480.0
    assert plan["items"][0]["costs"] == {
        "boards": 2.5, "sticks": None, "bought": 1.5, "machine": 4.0, "in_all": 8.0, "each": 2.0,
        "not_counted": ["glass bead", "rods or strips"],
    }  # fmt: skip
    assert plan["items"][1]["costs"] is None
    assert item_table(made) == (
        ("item", "count", "minutes each", "boards", "bought", "machine", "in all", "cost each"),
        [
            ("gate", "4", "2.0", "2.50", "1.50", "4.00", "8.00", "2.00"),
            ("label", "10", "0.1", "", "", "", "", ""),
        ],
    )
    assert cost_note(made) == "without glass bead; rods or strips: no price is stated"


def test_of_what_is_not_known_nothing_is_said() -> None:
    gate = {"gate": 4}
    unknown = ItemCost(seconds=None, boards=0.0, sticks=None, bought=None, machine=None, not_counted=("hook",))
    assert item_table(job(gate, unknown))[1] == []
    assert item_table(job(gate))[1] == []
    assert cost_note(job(gate, unknown)) is None
    assert item_table(job(gate, replace(unknown, seconds=90.0))) == (
        ("item", "count", "minutes each"), [("gate", "4", "0.4")],
    )  # fmt: skip
    assert item_table(job(gate, replace(unknown, boards=6.0, not_counted=()))) == (
        ("item", "count", "boards", "cost each"), [("gate", "4", "6.00", "1.50")],
    )  # fmt: skip
