"""Lettering in a drawing: all of it, once, on the layer of marks."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutjob.geometry.segment import Line
from cutjob.layout.layout import BoardLayout, Lettering
from tests.proof.test_drawings import Group, entities, file, layout, lwpolyline, messages

SEVEN = (Line((110.0, 100.0), (116.0, 100.0)), Line((116.0, 100.0), (112.0, 92.0)))
ONE = (Line((120.0, 92.0), (120.0, 100.0)),)


def lettered() -> BoardLayout:
    return replace(layout(), lettering=(Lettering(placement=0, paths=(SEVEN, ONE), depth=0.5),))


def drawn(*strokes: list[Group]) -> bytes:
    return file([*entities(lettered()), *strokes])


def stroke(path: tuple[Line, ...], layer: str = "mark") -> list[Group]:
    return lwpolyline(layer, path, closed=False)


def test_drawn_as_it_is() -> None:
    assert messages(drawn(stroke(SEVEN), stroke(ONE)), board=lettered()) == []


@pytest.mark.parametrize(
    ("strokes", "says"),
    [
        ((), "not all of the board's lettering"),
        ((stroke(SEVEN),), "not all of the board's lettering"),
        ((stroke(SEVEN), stroke(ONE), stroke(ONE)), "lettering is drawn twice"),
        ((stroke(SEVEN), stroke(ONE, "outside cut")), "not on 'mark'"),
        ((stroke(SEVEN), stroke((Line((120.05, 92.0), (120.05, 100.0)),))), "isn't a contour of the layout"),
        ((stroke(SEVEN), stroke((Line((120.0, 92.0), (120.0, 101.0)),))), "isn't a contour of the layout"),
    ],
)
def test_spoiled_lettering_is_refused(strokes: tuple[list[Group], ...], says: str) -> None:
    assert any(says in message for message in messages(drawn(*strokes), board=lettered()))


def test_lettering_of_a_board_that_has_none() -> None:
    assert any("isn't a contour" in message for message in messages(drawn(stroke(ONE)), board=layout()))
