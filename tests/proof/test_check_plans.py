"""Plans that were altered, or that never passed: each refused with its place; the plans as they are stay accepted."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from cutjob.errors import InputError
from cutjob.proof.plan.reader import planned_programs
from tests.proof import two_cutters as two
from tests.proof import workshop as ws
from tests.proof.test_check import full_plan, held_plan, plan

Spoil = Callable[[dict[str, Any]], object]


def board(data: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = data["boards"][0]
    return found


def part(data: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = board(data)["placements"][0]
    return found


def with_proof(**changes: Any) -> Spoil:
    proof = {"passed": True, "worst_gouge_mm": 0.001, "worst_left_mm": 0.002, "findings": []}
    return lambda data: data.update(proof=proof | changes)


def bigger(ring: list[list[float]], by: float) -> list[list[float]]:
    """A rectangle from its lower left corner on, larger by so much."""
    (x0, y0), _, (x1, y1), _ = ring
    return [[x0, y0], [x1 + by, y0], [x1 + by, y1 + by], [x0, y1 + by]]


def pocketed(data: dict[str, Any]) -> list[dict[str, Any]]:
    ring = [[60.0, 40.0], [80.0, 40.0], [80.0, 60.0], [60.0, 60.0]]
    island = [[65.0, 45.0], [65.0, 50.0], [70.0, 50.0], [70.0, 45.0]]
    pocket = {"op": "pocket", "depth": 3.0, "outline": ring, "islands": [island]}
    part(data)["features"] = [pocket]
    return part(data)["features"]  # type: ignore[no-any-return]


SPOILED: list[tuple[Spoil, str]] = [
    (lambda data: data.update(schema="cutjob-plan/2"), 'plan.schema: should be "cutjob-plan/1", not \'cutjob-plan/2\''),
    (lambda data: data.pop("schema"), 'plan.schema: should be "cutjob-plan/1", not nothing'),
    (with_proof(passed=False), "plan.proof.passed: should be true, not False"),
    (lambda data: data.update(proof=None), "plan.proof.passed: should be true, not nothing"),
    (with_proof(worst_gouge_mm=0.4), "plan.proof.worst_gouge_mm: is 0.4 mm, more than 0.01 mm"),
    (with_proof(findings=[{"severity": "error"}]), "plan.proof.findings[0]: is an error"),
    (lambda data: board(data).update(material=""), "plan.boards[0].material: is missing or empty"),
    (lambda data: board(data).pop("material"), "plan.boards[0].material: is missing or empty"),
    (lambda data: board(data).update(material="balsa"), 'plan.boards[0].material: "balsa" has no feeds in the profile'),
    (lambda data: board(data).update(stock="cedar picket"), 'plan.boards[0].hazards: leaves out "cedar"'),
    (lambda data: board(data).update(hazards=["cedar", "stone"]), "plan.boards[0].hazards[1]: should be"),
    (lambda data: board(data)["outline"].reverse(), "plan.boards[0].outline: runs clockwise"),
    (lambda data: part(data)["outline"].reverse(), "plan.boards[0].placements[0].outline: runs clockwise"),
    (lambda data: part(data)["holes"][0].reverse(), "plan.boards[0].placements[0].holes[0]: runs counter-clockwise"),
    (lambda data: pocketed(data)[0]["outline"].reverse(), "placements[0].features[0].outline: runs clockwise"),
    (lambda data: pocketed(data)[0]["islands"][0].reverse(), "features[0].islands[0]: runs counter-clockwise"),
    (lambda data: board(data)["keep_out"][0].reverse(), "plan.boards[0].keep_out[0]: runs clockwise"),
    (lambda data: board(data)["holds"][0].update(area=bigger(board(data)["holds"][0]["area"], 1.0)),
     "plan.boards[0].holds[0].area: is not that of the keep-out of a clamp"),
    (lambda data: board(data)["keep_out"].pop(), "keep_out_heights: has 2 heights for 1 keep-out"),
    (lambda data: board(data).update(keep_out=[], keep_out_heights=[]), "plan.boards[0].holds[1].area: is not that of"),
    (lambda data: board(data)["holds"][1].update(height=9.0), "plan.boards[0].holds[1].height: is 9 mm; that of"),
    (lambda data: board(data).update(held_by="tape"), "plan.boards[0].holds[0].area: is not that of the board"),
]  # fmt: skip


@pytest.mark.parametrize(("spoil", "says"), SPOILED)
def test_an_altered_plan_is_refused_with_its_place(spoil: Spoil, says: str) -> None:
    data = copy.deepcopy(held_plan())
    assert planned_programs(data, "board-01.nc", ws.router())
    spoil(data)
    with pytest.raises(InputError) as caught:
        planned_programs(data, "board-01.nc", ws.router())
    assert says in str(caught.value)


def test_all_that_is_wrong_is_said_together() -> None:
    data = plan()
    board(data)["material"] = "balsa"
    part(data)["outline"].reverse()
    with pytest.raises(InputError) as caught:
        planned_programs(data, "board-01.nc", ws.router())
    assert [problem.place for problem in caught.value.problems] == [
        "plan.boards[0].material",
        "plan.boards[0].placements[0].outline",
    ]


@pytest.mark.parametrize(("key", "size"), [("head", 9.0), ("diameter", 5.0), ("height", 1.0)])
def test_screws_of_other_sizes_than_the_profile_s(key: str, size: float) -> None:
    screws = {"hole": 6.0, "head": 14.0, "height": 3.0, "margin": 2.0, "every": 300.0}
    data = full_plan()
    assert planned_programs(data, "board-01-1.nc", two.router(screws=screws))
    board(data)["hold_downs"][1][key] = size
    with pytest.raises(InputError, match=rf"plan.boards\[0\].hold_downs\[1\].{key}: is {size:g} mm; that of"):
        planned_programs(data, "board-01-1.nc", two.router(screws=screws))


def test_holds_of_screws_are_their_heads() -> None:
    data = full_plan()
    (x, y), head = two.SCREWS[0], two.HEAD
    area = [[x - head, y], [x, y - head], [x + head, y], [x, y + head]]
    board(data).update(held_by="screws", holds=[{"window": 0, "area": area, "height": two.HEIGHT}])
    with pytest.raises(InputError, match=r"plan.boards\[0\].holds\[0\].area: is not that of a screw's head"):
        planned_programs(data, "board-01-1.nc", two.router())
    board(data)["holds"] = []
    with pytest.raises(InputError, match=r"plan.boards\[0\].holds: are 0 for 2 screws"):
        planned_programs(data, "board-01-1.nc", two.router())
