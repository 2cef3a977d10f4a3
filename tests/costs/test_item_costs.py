"""Time and costs of items, worked out by hand."""

from __future__ import annotations

import pytest

from cutjob.costs.item_costs import (
    MACHINE_TIME,
    ItemCost,
    Prices,
    SticksSawn,
    item_costs,
    machine_seconds,
)
from cutjob.cuts.cut import Feature
from cutjob.geometry.contour import Region, rectangle
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout, Layout, Placement, SawnPiece
from cutjob.parts.part import BoughtPart, Build, Item, RodPart, ShapedPart
from cutjob.program.moves import Move, Program, Section, Step
from cutjob.units import length
from tests.output.samples import machine, picket

ROUNDING = 1e-9  # relative, of a few sums of floats


def placed(item: str, width: float, height: float) -> Placement:
    part = ShapedPart(name="slat", region=Region(rectangle(width, height), ()))
    return Placement(part=part, item=item, unit=1, transform=Transform(x=10.0, y=10.0))


def item(name: str, count: int, **build: tuple[object, ...]) -> Item:
    return Item(name=name, design="gate", size="small", count=count, build=Build(**build))


def board(name: str, *placements: Placement, stack: int = 1, copies: int = 1, kind: str = "cedar picket"):
    return BoardLayout(id=name, board=picket(name=kind), placements=placements, stack=stack, copies=copies)


def laid(*boards: BoardLayout, sawn: tuple[SawnPiece, ...] = (), sawn_from: tuple[tuple[str, int], ...] = ()) -> Layout:
    return Layout(boards=boards, sawn=sawn, sawn_from=sawn_from, gap=4.0, edge_margin=1.0, seed=0)


def costs(items: list[Item], layout: Layout, prices: Prices | None = None, **more) -> tuple[ItemCost, ...]:
    given = {"stock": [picket(price=3.4)], "programs": (), "machine": machine()} | more
    return item_costs(items, layout, prices=prices or Prices(sticks={}, bought={}), **given)


def test_boards_are_shared_by_the_area_of_the_parts() -> None:
    """300 x 20 and 100 x 20 mm on one picket of 3.40: three quarters and one quarter of it."""
    layout = laid(board("board-01", placed("gate", 300, 20), placed("label", 100, 20)))
    gate, label = costs([item("gate", 1), item("label", 1)], layout)
    assert (gate.boards, label.boards) == (pytest.approx(2.55, rel=ROUNDING), pytest.approx(0.85, rel=ROUNDING))
    assert gate.seconds is gate.machine is gate.sticks is gate.bought is None
    assert gate.in_all == gate.boards


def test_stacks_copies_sawn_parts_and_kinds_of_board() -> None:
    """Six pickets of 3.40 cut in stacks and one plank of 10.00.

    On the pickets lie, six times, 300 x 20 mm of gates, 6 x 6000 = 36,000 mm2, and 12,000 mm2 of legs are sawn off for
    the bench: 20.40 x 3/4 = 15.30 and 5.10. The plank is the label's alone.
    """
    leg = SawnPiece(item="bench", part="leg", length=600.0, width=20.0, thickness=16.0, count=1, board="cedar picket")
    boards = (
        board("board-01", placed("gate", 300, 20), stack=2, copies=3),
        board("board-02", placed("label", 40, 40), kind="plank"),
    )
    stock = [picket(price=3.4), picket(name="plank", price=10.0)]
    items = [item("gate", 6), item("label", 1), item("bench", 1)]
    found = costs(items, laid(*boards, sawn=(leg,)), stock=stock)
    assert [one.boards for one in found] == [pytest.approx(value, rel=ROUNDING) for value in (15.30, 10.0, 5.10)]
    assert sum(one.boards for one in found) == pytest.approx(6 * 3.4 + 10, rel=ROUNDING)


def test_rods_by_length_and_things_by_the_piece() -> None:
    """Three sticks of 1.20 give 3.60. Spinners take 4 x 300, the lantern 1 x 600 mm: two thirds and one third."""
    spinner = item(
        "spinner",
        4,
        rods=(RodPart(name="centre rod", diameter=9.525, length=300.0),),
        bought=(BoughtPart(name="swivel hook", count=2), BoughtPart(name="glass bead")),
    )
    lantern = item("lantern", 1, rods=(RodPart(name="post", diameter=9.525, length=600.0),))
    prices = Prices(sticks={(9.525,): SticksSawn(cost=3.60, longest=1000.0)}, bought={"swivel hook": 0.75})
    one, other = costs([spinner, lantern], laid(), prices)
    assert (one.sticks, other.sticks) == (pytest.approx(2.40, rel=ROUNDING), pytest.approx(1.20, rel=ROUNDING))
    assert one.bought == pytest.approx(4 * 2 * 0.75, rel=ROUNDING)
    assert one.in_all == pytest.approx(8.40, rel=ROUNDING)
    assert one.not_counted == ("glass bead",)
    assert other.not_counted == ()
    bare = costs([lantern], laid())[0]
    assert (bare.sticks, bare.in_all, bare.not_counted) == (None, 0.0, (f"{length(9.525)} rod",))


def test_pieces_that_no_stick_gives_bear_no_cost() -> None:
    """A post of 1500 mm can't be sawn from sticks of 1000: all of 3.60 is the spinners'."""
    spinner = item("spinner", 4, rods=(RodPart(name="centre rod", diameter=9.525, length=300.0),))
    lantern = item("lantern", 1, rods=(RodPart(name="post", diameter=9.525, length=1500.0),))
    one, other = costs(
        [spinner, lantern], laid(), Prices(sticks={(9.525,): SticksSawn(cost=3.6, longest=1000.0)}, bought={})
    )
    assert (one.sticks, one.not_counted) == (pytest.approx(3.6, rel=ROUNDING), ())
    assert (other.sticks, other.not_counted) == (None, (f"{length(9.525)} rod",))


def program(*steps: Step, seconds: float, name: str = "board-01") -> Program:
    cutter = machine().cutter[0]
    section = Section(cutter=cutter, rpm=18000, steps=steps)
    return Program(
        file=f"{name}.nc", board=name, sections=(section,), origin=(0.0, 0.0), safe_z=5.0, depth=16.0, seconds=seconds
    )


def there_and_back(placement: int | None, length: float) -> Step:
    """Out along x at a feed far below the machine's acceleration, and back."""
    moves = (Move("cut", length, 0.0, 5.0, 60.0), Move("cut", 0.0, 0.0, 5.0, 60.0))
    return Step(op="outside cut", placement=placement, feature=Feature(kind="outline"), moves=moves)


def test_machine_time_is_that_of_the_moves_on_the_own_parts() -> None:
    """At 60 mm/min 2 x 30 mm take a minute and 2 x 90 three, but for the speeding up: a quarter and three quarters.

    Two boards of 8 minutes each, whatever else is in them: of the 16 minutes 4 are the labels' and 12 the gates'. With
    an hour at 30 that is 2 and 6.
    """
    layout = laid(board("board-01", placed("label", 100, 20), placed("gate", 300, 20), copies=2))
    steps = (there_and_back(None, 50.0), there_and_back(0, 30.0), there_and_back(1, 90.0))
    programs = (program(*steps, seconds=480.0),)
    near = 0.01  # relative: speeding up and slowing down at the ends
    found = machine_seconds(layout, programs, machine())
    assert found == {"label": pytest.approx(240, rel=near), "gate": pytest.approx(720, rel=near)}
    assert sum(found.values()) == pytest.approx(2 * 480, rel=ROUNDING)
    items = [item("gate", 6), item("label", 2)]
    rate = Prices(sticks={}, bought={}, shop_rate=30.0)
    gate, label = costs(items, layout, rate, programs=programs)
    assert (gate.machine, label.machine) == (pytest.approx(6, rel=near), pytest.approx(2, rel=near))
    assert gate.in_all == pytest.approx(gate.boards + gate.machine, rel=ROUNDING)
    unrated = costs(items, layout, programs=programs)
    assert [one.machine for one in unrated] == [None, None]
    assert {one.not_counted for one in unrated} == {(MACHINE_TIME,)}


def test_a_program_without_moves_on_parts_counts_alike() -> None:
    layout = laid(board("board-01", placed("label", 100, 20), placed("gate", 300, 20)))
    found = machine_seconds(layout, (program(there_and_back(None, 9.0), seconds=60.0),), machine())
    assert found == {"label": 30.0, "gate": 30.0}


def test_boards_without_a_price_are_named_and_those_for_nothing_are_not() -> None:
    layout = laid(board("board-01", placed("gate", 300, 20)), board("board-02", placed("gate", 40, 40), kind="end cut"))
    stock = [picket(price=None), picket(name="end cut", price=0.0)]
    [gate] = costs([item("gate", 1)], layout, stock=stock)
    assert (gate.boards, gate.not_counted) == (0.0, ("cedar picket",))


def test_sticks_of_one_section_may_have_a_price_and_others_none() -> None:
    """What the costs are without is named by its size: another column of sticks has a figure."""
    rods = (RodPart(name="centre", diameter=9.525, length=300.0), RodPart(name="cross", diameter=19.05, length=300.0))
    prices = Prices(sticks={(9.525,): SticksSawn(cost=1.2, longest=1000.0)}, bought={})
    [one] = costs([item("spinner", 1, rods=rods)], laid(), prices)
    assert (one.sticks, one.not_counted) == (pytest.approx(1.2, rel=ROUNDING), (f"{length(19.05)} rod",))
