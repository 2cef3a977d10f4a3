"""Parts laid so far from clamps that the spindle's nose passes: laid out, cut and checked, with and without room."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
import shapely

from cutjob.cuts.board_cuts import cut_layouts
from cutjob.cuts.cutter_choice import Cutters
from cutjob.errors import InputError
from cutjob.geometry.contour import Contour, Region, circle, polyline, rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.transform import Transform
from cutjob.holding.room import room_for_nose
from cutjob.job.machine import Machine
from cutjob.job.stock import Board
from cutjob.layout.layout import Layout
from cutjob.layout.layout_job import lay_out
from cutjob.layout.rules import Room
from cutjob.layout.search.plan_search import POSITIONS
from cutjob.parts.part import Build, Hole, Item, Pocket, SawnPart
from cutjob.program.program import programs_of
from tests.cuts.makers import board, changed, cutter, router, shaped
from tests.layout.makers import areas_of, kept_out

CLAMP = polyline([(290, 60), (290, 90), (330, 90), (330, 60)])
KNOT = circle((60.0, 75.0), 8.0)
HIGH, NOSE, GAP = 20.0, 60.0, 8.0


@pytest.fixture(autouse=True)
def _little_work(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(POSITIONS, "quick", 60_000)


def machine(nose: float | None, stickout: float | None) -> Machine:
    made = changed(router(), spindle={"nose_diameter": nose})
    return made.model_copy(update={"cutter": (cutter(6.0, number=1).model_copy(update={"stickout": stickout}),)})


def clamped(**more: object) -> Board:
    made = board(600.0, 150.0, outline=rectangle(600.0, 150.0), thickness=12.0)
    return replace(made, keep_outs=kept_out((KNOT, CLAMP), heights=(0.0, HIGH)), **more)  # type: ignore[arg-type]


def wish(*, sawn: tuple[SawnPart, ...] = ()) -> list[Item]:
    build = Build(shaped=(shaped(rectangle(60, 60)), shaped(rectangle(60, 40))), sawn=sawn)
    return [Item(name="gull", design="demo", size="small", count=5, build=build)]


def laid(items: list[Item], stock: Board, room: Room | None = None) -> Layout:
    return lay_out(items, [stock], gap=GAP, edge_margin=4.0, stack=1, saw_kerf=3.0, seed=1, effort="quick", room=room)


def run(layout: Layout, on: Machine) -> None:
    cutters = Cutters(outline=on.cutter[0], usable=on.cutter, changer=False)
    boards, _ = cut_layouts(layout.boards, cutters=cutters, machine=on, gap=GAP, locations={})
    for one in boards:
        assert programs_of(one, machine=on)


def room(stock: Board, on: Machine, items: list[Item] | None = None, *, numbers: bool = False) -> Room | None:
    parts = [part for item in items or wish() for part in item.build.shaped]
    cutters = Cutters(outline=on.cutter[0], usable=on.cutter, changer=True)
    return room_for_nose([stock], parts, cutters=cutters, machine=on, gap=GAP, stack=1, numbers=numbers)


def grown(stock: Board, on: Machine) -> Board:
    made = room(stock, on)
    return stock if made is None else made.beside(stock)


def apart(layout: Layout) -> float:
    return min(
        shapely.distance(placement.polygon, to_polygon(area))
        for entry in layout.boards
        for placement in entry.placements
        for area, height in ((one.area, one.height) for one in entry.board.keep_outs)
        if height > 0
    )


def test_with_room_the_nose_passes_where_it_would_meet_the_clamp() -> None:
    on, stock = machine(NOSE, 25.0), clamped(count=3)
    with pytest.raises(InputError, match="the spindle's nose would meet keep-out 2"):
        run(laid(wish(), stock), on)
    layout = laid(wish(), stock, room(stock, on))
    run(layout, on)
    assert apart(layout) >= NOSE / 2
    assert layout.boards[0].board == stock


@pytest.mark.parametrize(
    ("nose", "stickout", "height"),
    [(None, 25.0, HIGH), (NOSE, None, HIGH), (NOSE, 12.3 + HIGH + 1.0, HIGH), (NOSE, 25.0, 0.0), (5.0, 25.0, HIGH)],
    ids=["nose unknown", "stickout unknown", "high enough", "nothing stands there", "no wider than the gap"],
)
def test_no_room_is_made_where_none_is_needed(nose: float | None, stickout: float | None, height: float) -> None:
    stock = replace(clamped(count=1), keep_outs=kept_out((KNOT, CLAMP), heights=(0.0, height)))
    overcut = 0.3 - router().cutting.overcut  # as if the profile's were 0.3
    assert room(stock, machine(nose, None if stickout is None else stickout - overcut + 1e-6)) is None


def test_what_is_flat_keeps_its_size_and_what_stands_grows_all_round() -> None:
    on = machine(NOSE, 25.0)
    stock = clamped(count=1)
    knot, clamp = areas_of(grown(stock, on))
    assert knot == KNOT
    least = NOSE / 2 + 3.0 - GAP  # the nose, and the cutter's middle beside the part, less what the gap is already
    own = to_polygon(CLAMP)
    assert to_polygon(clamp).contains(own.buffer(least))
    assert to_polygon(clamp).area < own.buffer(least + 8.0, join_style="mitre").area  # ways in and out, and corners


@pytest.mark.parametrize("length", [100.0, 210.0])
def test_what_is_sawn_off_needs_no_room(length: float) -> None:
    """Beyond the knot are 222 mm to the clamp, of which the nose leaves less than 200."""
    on, stock = machine(NOSE, 25.0), clamped(count=7, square_end="left")
    items = wish(sawn=(SawnPart(name="leg", length=length),))
    layout, plain = laid(items, stock, room(stock, on)), laid(items, stock)
    assert (layout.sawn, layout.saw_order, layout.after_sawing) == (plain.sawn, plain.saw_order, plain.after_sawing)
    assert {entry.board for entry in layout.boards} <= set(layout.after_sawing)
    run(layout, on)
    assert apart(layout) >= NOSE / 2


def two_cutters(stickout: float | None) -> Machine:
    """A long cutter for outlines, and a thin one that sticks out so far."""
    on = machine(NOSE, 40.0)
    thin = cutter(3.0, number=2).model_copy(update={"stickout": stickout})
    return on.model_copy(update={"cutter": (*on.cutter, thin)})


def plate(**more: object) -> list[Item]:
    build = Build(shaped=(shaped(rectangle(120, 90), **more),))  # type: ignore[arg-type]
    return [Item(name="tray", design="demo", size="small", count=1, build=build)]


def slot(x: float, *, wide: float = 4.0) -> Contour:
    return Transform(x=x, y=15.0).contour(rectangle(wide, 60.0))


@pytest.mark.parametrize(
    ("items", "needs"),
    [
        (plate(), False),
        (plate(holes=(Hole(at=(3.0, 40.0), diameter=3.0),)), True),
        (plate(holes=(Hole(at=(60.0, 45.0), diameter=3.0),)), False),  # farther from the edge than the nose reaches
        (plate(holes=(Hole(at=(3.0, 40.0), diameter=6.0),)), False),  # for the long cutter
        (plate(holes=(Hole(at=(3.0, 40.0), diameter=3.0, depth=3.9),)), False),  # 25 less that is above the clamp
        (plate(holes=(Hole(at=(3.0, 40.0), diameter=3.0, depth=4.1),)), True),
        (plate(pockets=(Pocket(region=Region(slot(3.0)), depth=3.9),)), False),
        (plate(pockets=(Pocket(region=Region(slot(3.0)), depth=4.1),)), True),
        (plate(pockets=(Pocket(region=Region(slot(3.0, wide=20.0)), depth=6.0),)), False),
    ],
    ids=["unused", "hole", "hole inside", "wide hole", "shallow hole", "deep hole", "shallow", "deep", "wide pocket"],
)
def test_only_cutters_in_use_count_each_as_deep_as_it_goes(items: list[Item], needs: bool) -> None:
    assert (room(clamped(count=1), two_cutters(25.0), items) is not None) == needs
    assert room(clamped(count=1), two_cutters(None), items) is None


def test_an_opening_for_the_thin_cutter_counts_right_through() -> None:
    part = shaped(rectangle(120, 90), slot(3.0).reversed())
    items = [Item(name="tray", design="demo", size="small", count=1, build=Build(shaped=(part,)))]
    assert room(clamped(count=1), two_cutters(25.0), items) is not None
    assert room(clamped(count=1), two_cutters(33.6), items) is None


def test_the_cutter_for_numbers_counts_as_deep_as_marks() -> None:
    on = two_cutters(HIGH + 1.0 + router().cutting.mark_depth - 0.01)
    assert room(clamped(count=1), on) is None
    assert room(clamped(count=1), on, numbers=True) is not None
    assert room(clamped(count=1), two_cutters(HIGH + 1.0 + router().cutting.mark_depth), numbers=True) is None


def refused(items: list[Item], stock: Board, on: Machine) -> str:
    with pytest.raises(InputError) as caught:
        laid(items, stock, room(stock, on, items))
    return str(caught.value)


def test_a_part_that_only_the_nose_keeps_off_is_refused_with_what_it_takes() -> None:
    long_one = shaped(rectangle(270, 140))
    items = [Item(name="tray", design="demo", size="small", count=1, build=Build(shaped=(long_one,)))]
    stock = replace(clamped(count=1), keep_outs=kept_out((CLAMP,), heights=(HIGH,)))
    stock = replace(stock, outline=rectangle(330.0, 150.0))
    text = refused(items, stock, machine(NOSE, 25.0))
    assert "it would fit if the spindle's nose didn't need room beside clamps and screws" in text
    told = re.search(r"let cutter 1 stick out ([\d.]+) mm or more and set its stickout in the profile", text)
    assert told is not None
    better = machine(NOSE, float(told[1]))
    run(laid(items, stock, room(stock, better, items)), better)


def test_a_part_too_large_in_any_case_is_refused_without_a_word_of_the_nose() -> None:
    items = [Item(name="tray", design="demo", size="s", count=1, build=Build(shaped=(shaped(rectangle(700, 140)),)))]
    assert "nose" not in refused(items, clamped(count=1), machine(NOSE, 25.0))


def test_boards_that_run_out_tell_of_the_room_for_the_nose() -> None:
    build = Build(shaped=(shaped(rectangle(240, 140)),))
    items = [Item(name="tray", design="demo", size="small", count=2, build=build)]
    stock = replace(clamped(count=1), keep_outs=kept_out((CLAMP,), heights=(HIGH,)))
    text = refused(items, stock, machine(NOSE, 25.0))
    assert "1 part is left over" in text
    assert "the spindle's nose needs room beside clamps and screws" in text
    assert "let cutter 1 stick out" in text
    laid(items, stock)
