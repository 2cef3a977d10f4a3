"""Holes for screws and pins in a drawing: each once, where it is and as wide, on the layer of drilled holes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutjob.layout.layout import BoardLayout, HoldDown, Window
from tests.proof import workshop as ws
from tests.proof.test_drawings import Group, entities, file, layout, messages, round_entity

SCREW, PIN = (20.0, 20.0), (210.0, 20.0)


def held() -> BoardLayout:
    down = HoldDown(at=SCREW, diameter=4.0, head=7.0, height=3.0)
    windows = (
        Window(first=0.0, last=220.0, placements=(0,), holes=(PIN,)),
        Window(first=200.0, last=220.0, placements=(), pins=(PIN,)),
    )
    return replace(layout(), hold_downs=(down,), windows=windows)


def told(*holes: list[Group]) -> list[str]:
    profile = ws.router(travel={"pin": 6.0}, drawing={"version": "R2000", "units": "mm"})
    return messages(file([*entities(held()), *holes]), board=held(), profile=profile)


SCREWED, PINNED = round_entity("drill", *SCREW, 2.0), round_entity("drill", *PIN, 3.0)


def test_drawn_as_they_are() -> None:
    assert told(SCREWED, PINNED) == []


@pytest.mark.parametrize(
    ("holes", "says"),
    [
        ((SCREWED,), "for the pin at 210.00, 20.00 is not drawn"),
        ((PINNED,), "for the hold-down at 20.00, 20.00 is not drawn"),
        ((SCREWED, PINNED, PINNED), "is drawn 2 times"),
        ((round_entity("bore", *SCREW, 2.0), PINNED), "layer 'bore', not on 'drill'"),
        ((round_entity("drill", *SCREW, 2.05), PINNED), "isn't a contour of the layout"),
        ((round_entity("drill", 20.05, 20.0, 2.0), PINNED), "isn't a contour of the layout"),
    ],
)
def test_spoiled_holes_are_refused(holes: tuple[list[Group], ...], says: str) -> None:
    assert any(says in message for message in told(*holes))


def test_holes_of_a_board_that_needs_none() -> None:
    data = file([*entities(layout()), SCREWED])
    assert any("isn't a contour of the layout" in message for message in messages(data, board=layout()))
