"""One part to its cuts: where the cutter's centre goes, which way round, and what does not fit."""

from __future__ import annotations

import math
from typing import Literal

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.cut import HoleCut, LoopCut, MarkCut, placed
from cutjob.cuts.part_cuts import Examined, cut_part
from cutjob.geometry.contour import Contour, circle, polyline, rectangle
from cutjob.geometry.segment import Line
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Cutter
from cutjob.parts.part import Hole, Mark, ShapedPart
from cutjob.tolerances import TOLERANCES
from tests.assertions import distances_from, fine_polygon
from tests.cuts.makers import alone, cutter, router, shaped, stock_of
from tests.strategies import star_shaped

Direction = Literal["climb", "conventional"]
Turns = Literal["clockwise", "counter-clockwise"]


def cut(part: ShapedPart, *, tool: Cutter | None = None, **cutting: object) -> Examined:
    return cut_part(part, cutters=alone(tool), machine=router(cutting=cutting), stock=stock_of())


def window() -> ShapedPart:
    return shaped(
        rectangle(80, 60), Transform(x=20, y=20).contour(rectangle(30, 20)), holes=(Hole(at=(65, 50), diameter=10),)
    )


@pytest.mark.parametrize(
    ("direction", "turns", "outside_clockwise"),
    [
        # A clockwise spindle: climb is clockwise round an outside, counter-clockwise in a hole (from the geometry of
        # the cut: the tooth enters at full thickness when work and feed run alike).
        ("climb", "clockwise", True),
        ("conventional", "clockwise", False),
        ("climb", "counter-clockwise", False),
        ("conventional", "counter-clockwise", True),
    ],
)
def test_direction_of_cut(direction: Direction, turns: Turns, outside_clockwise: bool) -> None:
    machine = router(cutting={"direction": direction}, spindle={"turns": turns})
    cuts = cut_part(window(), cutters=alone(), machine=machine, stock=stock_of()).cuts
    (outside,) = cuts.outline
    (inside,) = [one for one in cuts.inner if isinstance(one, LoopCut)]
    (hole,) = [one for one in cuts.inner if isinstance(one, HoleCut)]
    assert (outside.path.signed_area < 0) == outside_clockwise
    assert (inside.path.signed_area < 0) != outside_clockwise
    assert hole.clockwise != outside_clockwise
    # The waste lies outside an outline and within an opening; the same side for both.
    assert outside.waste == inside.waste == ("left" if outside_clockwise else "right")


@pytest.mark.parametrize(("degrees", "roughly"), [(90.0, True), (40.0, True), (20.0, False)])
def test_no_rough_passes_where_a_notch_keeps_them_far_from_the_last_one(degrees: float, roughly: bool) -> None:
    """In a corner the rough path, 0.4 mm off, stays 0.4 / sin(half the angle) from the last one's: 0.57, 1.17, 2.3."""
    half = 30 * math.tan(math.radians(degrees / 2))
    notched = shaped(polyline([(0, 0), (100, 0), (100, 60), (50 + half, 60), (50, 30), (50 - half, 60), (0, 60)]))
    machine = router(cutting={"finish": 0.4})
    (outside,) = cut_part(notched, cutters=alone(cutter(1.0)), machine=machine, stock=stock_of()).cuts.outline
    assert (outside.rough is not None) is roughly


def test_waste_lies_where_it_is_said_to() -> None:
    for direction in ("climb", "conventional"):
        found = cut(window(), direction=direction).cuts
        part = fine_polygon(rectangle(80, 60)).difference(
            fine_polygon(Transform(x=20, y=20).contour(rectangle(30, 20)))
        )
        for loop in (*found.outline, *(one for one in found.inner if isinstance(one, LoopCut))):
            segment = max(loop.path.segments, key=lambda s: s.length)
            (x, y), (dx, dy) = segment.point_at(0.5), segment.direction_at(0.5)
            side = 1 if loop.waste == "left" else -1
            towards, away = (shapely.Point(x - way * side * dy, y + way * side * dx) for way in (1, -1))
            assert part.distance(towards) > part.distance(shapely.Point(x, y)) > part.distance(away)


@given(star_shaped(least=30, greatest=80), st.sampled_from([1.0, 6.0, 6.35]), st.sampled_from([0.0, 0.003]))
@settings(max_examples=40, deadline=None)
def test_the_cutter_touches_the_outline_and_never_enters(part: Contour, diameter: float, deviation: float) -> None:
    found = cut(shaped(part, deviation=deviation), tool=cutter(diameter)).cuts
    away = distances_from([loop.path for loop in found.outline], fine_polygon(part.turned(counter_clockwise=True)))
    # Offset paths are exact to `path`, and joined to longer moves within `join`; a fitted outline is kept its deviation
    # further off.
    assert abs(away - (diameter / 2 + deviation)).max() <= TOLERANCES.path + TOLERANCES.join


def test_the_loop_that_frees_the_part_comes_first() -> None:
    """A bay behind a mouth that closes up has a path of its own inside the outline's."""
    bay = polyline([(0, 0), (60, 0), (60, 50), (32.5, 50), (32.5, 40), (45, 40), (45, 10), (15, 10), (15, 40),
                    (27.5, 40), (27.5, 50), (0, 50)])  # fmt: skip
    found = cut(shaped(bay))
    assert len(found.cuts.outline) == 2
    first, second = found.cuts.outline
    assert abs(first.path.signed_area) > abs(second.path.signed_area)
    assert first.path.signed_area * second.path.signed_area < 0
    assert any(rest.lost for rest in found.uncut_corners)


@pytest.mark.parametrize(
    ("diameter", "op", "radius"),
    [
        (6.0, "drill", 0.0),
        (6.0 + 5e-7, "drill", 0.0),
        (6.02, "bore", 0.01),
        (14.0, "bore", 4.0),
        (6.0 - 5e-7, "drill", 0.0),
    ],
)
def test_drilled_or_bored(diameter: float, op: str, radius: float) -> None:
    found = cut(shaped(rectangle(50, 50), holes=(Hole(at=(20, 20), diameter=diameter, depth=5.0),)))
    (hole,) = found.cuts.inner
    assert isinstance(hole, HoleCut)
    assert (hole.op, hole.at, hole.depth) == (op, (20, 20), 5.0)
    assert hole.radius == pytest.approx(radius, abs=1e-9)


def test_a_hole_drilled_by_hand_is_not_cut() -> None:
    narrow = Hole(at=(10, 10), diameter=5.9, by_hand=True)
    found = cut(shaped(rectangle(50, 50), holes=(narrow, Hole(at=(30, 30), diameter=8))))
    assert len(found.cuts.inner) == 1


def test_marks_come_first_with_their_depth_or_the_profiles() -> None:
    path = (Line((10, 10), (30, 10)),)
    marks = (Mark(path=path), Mark(path=path, depth=1.5))
    found = cut(shaped(rectangle(50, 50), marks=marks, holes=(Hole(at=(30, 30), diameter=8),)), mark_depth=0.7)
    assert [one.depth for one in found.cuts.inner if isinstance(one, MarkCut)] == [0.7, 1.5]
    assert isinstance(found.cuts.inner[-1], HoleCut)


def test_sites_for_tabs_only_where_the_machine_has_tabs() -> None:
    part = shaped(rectangle(200, 100))
    assert cut(part).sites is not None
    bare = router().model_copy(update={"tabs": None})
    assert cut_part(part, cutters=alone(), machine=bare, stock=stock_of()).sites is None
    laser = router().model_copy(update={"kind": "laser"})
    assert cut_part(part, cutters=alone(), machine=laser, stock=stock_of()).sites is not None


def test_sites_on_inside_cuts_of_large_plugs_only() -> None:
    part = shaped(rectangle(200, 100), circle((50, 50), 35), circle((150, 50), 12))
    found = cut(part)
    (number, sites) = found.plugs[0]
    assert len(found.plugs) == 1
    assert found.cuts.inner[number].path.length == pytest.approx(2 * math.pi * 32)  # type: ignore[union-attr]
    assert sites.wanted >= 2


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("degrees", [0, 90, 180, 270])
def test_a_placed_cut_keeps_its_direction_and_its_waste(mirrored: bool, degrees: float) -> None:
    transform = Transform(x=200, y=150, degrees=degrees, mirrored=mirrored)
    found = cut(window()).cuts
    for one in (*found.outline, *found.inner):
        moved = placed(one, transform)
        if isinstance(one, LoopCut):
            assert isinstance(moved, LoopCut)
            assert moved.waste == one.waste
            assert moved.path.signed_area == pytest.approx(one.path.signed_area, rel=1e-12)
        elif isinstance(one, HoleCut):
            assert isinstance(moved, HoleCut)
            assert moved.at == transform.point(one.at)
            assert moved.clockwise == one.clockwise


def test_a_ring_has_an_inside_cut_as_round_as_its_opening() -> None:
    found = cut(shaped(circle((0, 0), 40), circle((0, 0), 25)))
    (inside,) = found.cuts.inner
    assert isinstance(inside, LoopCut)
    assert inside.path.circle() == ((0.0, 0.0), pytest.approx(22.0))
    assert found.cuts.outline[0].path.length == pytest.approx(2 * math.pi * 43)


def test_an_opening_whose_waste_gets_bridges_has_sites_for_them() -> None:
    """A triangle of 40 x 60 mm leaves a plug of 375 mm2 inside a cutter of 1/4 in: holding asks for a bridge."""
    tip = polyline([(35.0, 15.0), (55.0, 75.0), (75.0, 15.0)])
    found = cut(shaped(rectangle(140, 100), tip), tool=cutter(6.35))
    [(_, sites)] = found.plugs
    assert sites.sites
