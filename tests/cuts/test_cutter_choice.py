"""Which cutter does what: the largest that reaches every detail, the fewest changes, and none that does not fit."""

from __future__ import annotations

import pytest

from cutjob.cuts.cutter_choice import Cutters, choose_cutters
from cutjob.geometry.contour import Contour, circle, polyline, rectangle
from cutjob.geometry.segment import Arc, Line
from cutjob.geometry.transform import Transform
from cutjob.parts.part import ShapedPart
from tests.cuts.makers import board, cutter, router, shaped

THICK = cutter(10.0, number=1)
MIDDLE = cutter(6.0, number=2)
THIN = cutter(3.0, number=3, cutting_length=8.0)
DRILL = cutter(5.0, number=4, only_down=True)
MACHINE = router().model_copy(update={"cutter": (THIN, THICK, MIDDLE, DRILL)})
BOARDS = [board(400, 200)]


def chosen(*parts: ShapedPart, numbers: tuple[int, ...] = (), changer: bool = False) -> Cutters:
    way = "changer" if changer else "by hand"
    machine = MACHINE.model_copy(update={"controller": MACHINE.controller.model_copy(update={"tool_change": way})})
    through = (THICK, MIDDLE) if not numbers else tuple(c for c in MACHINE.cutter if c.number == numbers[0])
    return choose_cutters(through, machine, BOARDS, numbers=numbers, parts=parts)


def notched(width: float, depth: float = 20.0) -> Contour:
    """A board of 80 x 50 with a slot from its upper edge."""
    a, b = 40 - width / 2, 40 + width / 2
    return polyline([(0, 0), (80, 0), (80, 50), (b, 50), (b, 50 - depth), (a, 50 - depth), (a, 50), (0, 50)])


def hollow(radius: float) -> Contour:
    """A square of 60 with an inside corner of a radius."""
    r = radius
    return Contour((
        Line((0, 0), (60, 0)), Line((60, 0), (60, 30)), Line((60, 30), (30 + r, 30)),
        Arc((30 + r, 30), (30, 30 + r), (30 + r, 30 + r), True),
        Line((30, 30 + r), (30, 60)), Line((30, 60), (0, 60)), Line((0, 60), (0, 0)),
    ))  # fmt: skip


@pytest.mark.parametrize(
    ("outline", "number"),
    [
        (rectangle(80, 50), 1),
        (notched(12.0), 1),
        (notched(8.0), 2),
        (notched(4.0), 2),  # none gets in: the smallest is told of then
        (hollow(5.5), 1),
        (hollow(4.5), 2),
        (polyline([(0, 0), (60, 0), (60, 30), (30, 30), (30, 60), (0, 60)]), 1),  # a sharp corner is for none
    ],
)
def test_the_largest_that_reaches_every_detail_goes_round(outline: Contour, number: int) -> None:
    assert chosen(shaped(rectangle(30, 30)), shaped(outline)).outline.number == number


def test_one_that_is_named_is_the_only_one() -> None:
    only = chosen(shaped(notched(8.0)), numbers=(1,))
    assert (only.outline, only.usable) == (THICK, (THICK,))
    several = chosen(shaped(notched(8.0)), numbers=(1, 3))
    assert (several.outline, several.usable) == (THICK, (THICK, THIN))


@pytest.mark.parametrize(
    ("diameter", "depth", "changer", "number"),
    [
        (20.0, 12.3, False, 1),  # bored by the cutter that is in anyway
        (10.0, 12.3, False, 1),
        (8.0, 12.3, False, 2),
        (6.0, 12.3, False, 2),
        (5.0, 12.3, False, 4),  # only the drill bit is that narrow and long enough
        (5.0, 5.0, False, 4),
        (4.0, 5.0, False, 3),
        (4.0, 9.0, False, None),  # too deep for the thin one
        (2.0, 5.0, False, None),
        (6.0, 5.0, True, 2),
    ],
)
def test_holes(diameter: float, depth: float, changer: bool, number: int | None) -> None:
    found = chosen(changer=changer).for_hole(diameter, depth=depth)
    assert (found and found.number) == number


def test_a_changer_drills_with_the_cutter_of_the_holes_own_size() -> None:
    small = chosen(shaped(notched(8.0)), changer=True)
    assert small.outline.number == 2
    found = small.for_hole(10.0, depth=5.0)
    assert found is not None
    assert found.number == 1
    by_hand = chosen(shaped(notched(8.0))).for_hole(10.0, depth=5.0)
    assert by_hand is not None
    assert by_hand.number == 2


def test_openings_the_large_cutter_does_not_get_into() -> None:
    slot = Transform(x=10, y=10).contour(rectangle(40, 7.0))
    assert chosen().for_opening(slot, depth=12.3).number == 2
    assert chosen().for_opening(Transform(x=10, y=10).contour(rectangle(40, 30.0)), depth=12.3).number == 1
    # Deeper than the thin one cuts, no other gets in: the outlines' own is told of.
    assert chosen().for_opening(Transform(x=10, y=10).contour(rectangle(40, 4.0)), depth=12.3).number == 1
    assert chosen().for_opening(circle((0, 0), 5.2).reversed(), depth=12.3).number == 1


def test_letters_are_cut_by_the_smallest() -> None:
    assert chosen().for_strokes(depth=0.5).number == 3
    assert chosen().for_strokes(depth=9.0).number == 2
    assert chosen().for_strokes(depth=0.5, number=2).number == 2
