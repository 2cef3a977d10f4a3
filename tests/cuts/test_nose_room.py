"""Parts laid so far from clamps that the spindle's nose passes: laid out, cut and checked, with and without room."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from cutjob.cuts.board_cuts import cut_layouts
from cutjob.cuts.cutter_choice import Cutters
from cutjob.cuts.nose_room import room_for_nose, with_own_keep_outs
from cutjob.errors import InputError
from cutjob.geometry.contour import circle, polyline, rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.job.machine import Machine
from cutjob.job.stock import Board
from cutjob.layout.layout import Layout
from cutjob.layout.layout_job import lay_out
from cutjob.layout.plan_search import POSITIONS
from cutjob.parts.part import Build, Item, SawnPart
from cutjob.program.program import programs_of
from tests.cuts.makers import board, changed, cutter, router, shaped

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
    return replace(made, keep_outs=(KNOT, CLAMP), heights=(0.0, HIGH), **more)  # type: ignore[arg-type]


def wish(*, sawn: tuple[SawnPart, ...] = ()) -> list[Item]:
    build = Build(shaped=(shaped(rectangle(60, 60)), shaped(rectangle(60, 40))), sawn=sawn)
    return [Item(name="gull", design="demo", size="small", count=5, build=build)]


def laid(items: list[Item], stock: Board) -> Layout:
    return lay_out(items, [stock], gap=GAP, edge_margin=4.0, stack=1, saw_kerf=3.0, seed=1, effort="quick")


def run(layout: Layout, on: Machine) -> None:
    cutters = Cutters(outline=on.cutter[0], usable=on.cutter, changer=False)
    boards, _ = cut_layouts(layout.boards, cutters=cutters, machine=on, gap=GAP, units="mm", locations={})
    for one in boards:
        assert programs_of(one, machine=on)


def room(stock: Board, on: Machine) -> Board:
    (made,) = room_for_nose([stock], machine=on, cutter=on.cutter[0], gap=GAP, stack=1)
    return made


def apart(layout: Layout) -> float:
    return min(
        shapely.distance(placement.polygon, to_polygon(area))
        for entry in layout.boards
        for placement in entry.placements
        for area, height in zip(entry.board.keep_outs, entry.board.heights, strict=True)
        if height > 0
    )


def test_with_room_the_nose_passes_where_it_would_meet_the_clamp() -> None:
    on, stock = machine(NOSE, 25.0), clamped(count=3)
    with pytest.raises(InputError, match="the spindle's nose would meet keep-out 2"):
        run(laid(wish(), stock), on)
    roomy = laid(wish(), room(stock, on))
    layout = with_own_keep_outs(roomy, [stock])
    run(layout, on)
    assert apart(layout) >= NOSE / 2
    assert layout.boards[0].board == replace(stock, count=layout.boards[0].board.count)
    assert [entry.placements for entry in layout.boards] == [entry.placements for entry in roomy.boards]


@pytest.mark.parametrize(
    ("nose", "stickout", "height"),
    [(None, 25.0, HIGH), (NOSE, None, HIGH), (NOSE, 12.3 + HIGH + 1.0, HIGH), (NOSE, 25.0, 0.0), (5.0, 25.0, HIGH)],
    ids=["nose unknown", "stickout unknown", "high enough", "nothing stands there", "no wider than the gap"],
)
def test_no_room_is_made_where_none_is_needed(nose: float | None, stickout: float | None, height: float) -> None:
    stock = replace(clamped(count=1), heights=(0.0, height))
    overcut = 0.3 - router().cutting.overcut  # as if the profile's were 0.3
    grown = room(stock, machine(nose, None if stickout is None else stickout - overcut + 1e-6))
    assert grown == stock


def test_what_is_flat_keeps_its_size_and_what_stands_grows_all_round() -> None:
    on = machine(NOSE, 25.0)
    stock = clamped(count=1)
    knot, grown = room(stock, on).keep_outs
    assert knot == KNOT
    least = NOSE / 2 + 3.0 - GAP  # the nose, and the cutter's middle beside the part, less what the gap is already
    own = to_polygon(CLAMP)
    assert to_polygon(grown).contains(own.buffer(least))
    assert to_polygon(grown).area < own.buffer(least + 8.0, join_style="mitre").area  # ways in and out, and corners


def test_boards_sawn_first_get_their_own_keep_outs_back_as_well() -> None:
    on, stock = machine(NOSE, 25.0), clamped(count=3, square_end="left")
    items = wish(sawn=(SawnPart(name="leg", length=100.0),))
    layout = with_own_keep_outs(laid(items, room(stock, on)), [stock])
    plain = laid(items, stock)
    sawn = [entry.board for entry in layout.boards if entry.board.sawn_off]
    assert sawn
    known = {(one.board.sawn_off, one.board.keep_outs, one.board.heights) for one in plain.boards}
    assert {(one.sawn_off, one.keep_outs, one.heights) for one in sawn} <= known
    run(layout, on)
