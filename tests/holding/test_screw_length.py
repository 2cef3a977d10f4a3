"""Screws that would not hold in the spoilboard, or go through it into the machine's bed, are refused."""

from __future__ import annotations

import pytest

from cutjob.cuts.board_cuts import cut_layouts
from cutjob.errors import InputError
from cutjob.geometry.contour import rectangle
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from tests.cuts.makers import alone, cutter, layout_of, router, shaped
from tests.holding.boards import lies_fast


def screwed(machine: Machine, *, thickness: float, stack: int = 1) -> BoardLayout:
    """A plate on a board with room for screws round it; the cutter is that of the holes too."""
    own = alone(cutter(6.35, cutting_length=60.0))
    layout = layout_of((shaped(rectangle(60, 40)), Transform(x=150, y=130)), thickness=thickness, stack=stack)
    boards, _ = cut_layouts([layout], cutters=own, machine=machine, gap=8.0, locations={})
    return lies_fast(boards[0], machine=machine).layout


def refused(machine: Machine, *, thickness: float, stack: int = 1) -> str:
    with pytest.raises(InputError) as caught:
        screwed(machine, thickness=thickness, stack=stack)
    (problem,) = caught.value.problems
    return str(problem)


def test_too_short_for_the_stack() -> None:
    machine = router(screws={"length": (25.0, 40.0)}, cutting={"spoilboard": None})
    assert screwed(machine, thickness=15.0, stack=2).hold_downs
    assert refused(machine, thickness=15.5, stack=2) == (
        "board-01: no screw of the profile has the length for 2 boards, 31 mm high: it must be at least 41 mm long to "
        "hold in the spoilboard (least_bite of [screws]), and there are 25 mm, 40 mm; add the length of a screw in "
        "that range to length in [screws], or use clamps"
    )


def test_through_the_spoilboard_into_the_bed() -> None:
    machine = router(screws={"length": (40.0,)}, cutting={"spoilboard": 25.0})
    assert screwed(machine, thickness=15.0).hold_downs
    said = refused(machine, thickness=14.0)
    assert "it must be at least 24 mm long" in said
    assert "and at most 39 mm, or it goes through the spoilboard into the bed (spoilboard of [cutting])" in said


def test_not_checked_without_a_length() -> None:
    machine = router(screws={"length": None}, cutting={"spoilboard": 1.0})
    assert screwed(machine, thickness=40.0).hold_downs
