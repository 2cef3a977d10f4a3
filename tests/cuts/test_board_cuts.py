"""Layouts to cuts: one look at each part, and everything the cutter can't do told at once."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutjob.cuts.board_cuts import cut_layouts, stack_warnings
from cutjob.cuts.cutter_choice import other_cutter
from cutjob.errors import InputError, Location
from cutjob.geometry.contour import circle, rectangle
from cutjob.geometry.transform import Transform
from cutjob.job.read_machine import read_machine
from cutjob.layout.holding import Holding
from cutjob.layout.layout import BoardLayout
from cutjob.parts.part import Hole
from cutjob.units import each_spelled, spelled
from tests.cuts.makers import alone, cutter, layout_of, router, shaped
from tests.layout.makers import ell, slot, star

LINE = Location(file="spring.toml", line=7)


def cut(*layouts: BoardLayout, diameter: float = 6.35):
    return cut_layouts(
        layouts,
        cutters=alone(cutter(diameter)),
        machine=router(),
        gap=diameter + 2,
        locations={"gate latch": LINE},
    )


def test_each_placement_is_cut_where_it_lies() -> None:
    part = shaped(rectangle(60, 40), holes=(Hole(at=(20, 20), diameter=10),))
    places = [Transform(x=30, y=30), Transform(x=200, y=30, degrees=90), Transform(x=300, y=200, mirrored=True)]
    (board,), warnings = cut(layout_of(*((part, place) for place in places)))
    assert warnings == ()
    assert [one.placement for one in board.parts] == [0, 1, 2]
    for one, place in zip(board.parts, places, strict=True):
        assert one.inner[0].at == place.point((20, 20))
        assert one.outline[0].path.bounds == pytest.approx(
            place.contour(Transform(x=-3.175, y=-3.175).contour(rectangle(66.35, 46.35))).bounds, abs=1e-9
        )


def test_what_can_not_be_cut_is_reported_once_with_its_line() -> None:
    host = Transform(x=0, y=0).contour(rectangle(90, 60))
    narrow = Transform(x=45, y=30).contour(slot(30, 4))
    bad = shaped(host, narrow)
    with pytest.raises(InputError) as caught:
        cut(layout_of((bad, Transform(x=20, y=20)), (bad, Transform(x=150, y=20)), stack=3))
    [said] = caught.value.problems
    assert said.location == LINE
    assert 'item "gate latch": part "piece"' in str(said)
    assert "can't reach an opening or slot" in str(said)


def test_advice_names_no_cutter_that_is_too_large() -> None:
    cutters = alone(cutter(6.35))
    one, none = (spelled(other_cutter(router(), wide, cutters, otherwise="drill it"), "mm") for wide in (4.0, 2.0))
    assert one == (
        "a cutter of at most 4 mm would do: name cutter 2 (3.175 mm) in the job's cutter as well, or drill it"
    )
    assert none == "a cutter of at most 2 mm would do, which this profile does not have: add one, or drill it"


def test_corners_are_refused_only_where_the_job_wants_them_exact() -> None:
    part = shaped(ell(90, 60, 20))
    one = layout_of((part, Transform(x=20, y=20)))
    keys = {"cutters": alone(cutter(6.35)), "machine": router(), "gap": 8.35, "locations": {"gate latch": LINE}}
    assert len(cut_layouts([one], **keys)[1]) == 1
    with pytest.raises(InputError) as caught:
        cut_layouts([one], **keys, exact={"gate latch"})
    (problem,) = caught.value.problems
    assert problem.location == LINE
    assert problem.message.startswith("an inside corner tighter than the cutter; up to ")
    assert problem.message.endswith(', and inside_corners = "exact" allows none')


def test_a_saw_has_no_corners_left_and_a_beam_no_hand_work() -> None:
    """A star of 24 points, whose inside corners no cutter gets into."""
    part = shaped(star(24, 60, 40))
    one = layout_of((part, Transform(x=80, y=80)))
    saw, beam = read_machine("bandsaw", beside=None), read_machine("laser-service", beside=None)
    for machine, says in (
        (saw, ()),
        (beam, ("24 inside corners sharper than a beam 0.2 mm wide can cut; up to ",)),
    ):
        _, warnings = cut_layouts([one], cutters=alone(machine.cutter[0]), machine=machine, gap=3.0, locations={})
        assert len(warnings) == len(says)
        for warning, begin in zip(each_spelled(warnings, "mm"), says, strict=True):
            assert warning.startswith(f'item "gate latch": part "piece": {begin}')
            assert "left round, most at" in warning
            assert "hand work" not in warning


def test_inside_corners_are_told_once() -> None:
    part = shaped(ell(90, 60, 20))
    (_,), warnings = cut(layout_of((part, Transform(x=20, y=20)), (part, Transform(x=200, y=20))))
    (warning,) = each_spelled(warnings, "mm")
    assert "an inside corner tighter than the cutter" in warning
    assert "most at x 20 mm, y 20 mm of the part" in warning
    window = shaped(rectangle(90, 60), Transform(x=20, y=20).contour(rectangle(30, 20)))
    (_,), warnings = cut(layout_of((window, Transform(x=20, y=20))))
    assert "4 inside corners tighter" in warnings[0]


def test_nothing_is_said_of_what_the_cutter_reaches() -> None:
    ring = shaped(circle((0, 0), 40), circle((0, 0), 20))
    _, warnings = cut(layout_of((ring, Transform(x=100, y=100))))
    assert not any("corner" in warning for warning in warnings)


def test_a_stack_is_warned_of() -> None:
    part = shaped(rectangle(60, 40))
    pair = layout_of((part, Transform(x=20, y=20)), stack=2)
    (said,) = stack_warnings([pair], router())
    assert said.startswith("in a stack the tabs hold the lowest board only: fix every board to the next")
    pressed, taped = Holding(by="clamps"), Holding(by="clamps", between_boards="tape")
    assert stack_warnings([replace(pair, holding=pressed)], router()) == ()
    (said,) = stack_warnings([replace(pair, holding=taped), replace(pair, holding=taped, stack=3)], router())
    assert said.startswith("in a stack only tape holds the parts of the upper boards")
    assert stack_warnings([replace(pair, stack=1)], router()) == ()
    assert cut(layout_of((part, Transform(x=20, y=20))))[1] == ()
