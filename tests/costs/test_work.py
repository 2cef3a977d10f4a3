"""Amounts of work, counted by hand on small layouts."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from cutjob.costs.work import amounts_of, machine_seconds
from cutjob.cuts.cut import Feature
from cutjob.job.read_machine import read_machine
from cutjob.layout.layout import Layout, SawnPiece, Window
from cutjob.layout.saw_order import SawCut, SawnBoard
from cutjob.parts.part import BoughtPart, HandHole, RodPart, SawnPart, ShapedPart, Stand
from cutjob.program.moves import Move, Program, Section, Step
from cutjob.sticks.lists import stick_lists
from tests.costs.test_account import board, item, laid, placed
from tests.output.samples import machine

NEAR = 1e-9  # relative, of a few sums of floats
SLAT_300 = placed("gate", 300, 20).part
SLAT_100 = placed("label", 100, 20).part


def program(
    *steps: Step, seconds: float = 60.0, name: str = "board-01", file: str | None = None, **more: Any
) -> Program:
    cutter = more.pop("cutter", machine().cutter[0])
    section = Section(cutter=cutter, rpm=18000, steps=steps)
    return Program(
        file=file or f"{name}.nc", board=name, sections=(section,), origin=(0.0, 0.0), safe_z=5.0, depth=16.0,
        seconds=seconds, **more,
    )  # fmt: skip


def there_and_back(placement: int | None, length: float) -> Step:
    """Out along x at a feed far below the machine's acceleration, and back."""
    moves = (Move("cut", length, 0.0, 5.0, 60.0), Move("cut", 0.0, 0.0, 5.0, 60.0))
    return Step(op="outside cut", placement=placement, feature=Feature(kind="outline"), moves=moves)


def gate(count: int = 6, part: ShapedPart = SLAT_300, **more: Any) -> Any:
    return item("gate", count, shaped=(part,), **more)


def label(count: int = 2) -> Any:
    return item("label", count, shaped=(SLAT_100,))


def found(items: list[Any], layout: Layout, programs: tuple[Program, ...] = (), **more: Any) -> Any:
    given = {"sticks": (), "machine": machine(), "coats": {}} | more
    sticks, on, coats = given["sticks"], given["machine"], given["coats"]
    return amounts_of(items, layout, programs, sticks, on, coats=coats)


def test_machine_time_is_that_of_the_moves_on_the_own_parts() -> None:
    """At 60 mm/min 2 x 30 mm take a minute and 2 x 90 three, but for the speeding up: a quarter and three quarters.

    Two boards of 8 minutes each, whatever else is in them: of the 16 minutes 4 are the labels' and 12 the gates'.
    """
    layout = laid(board("board-01", placed("label", 100, 20), placed("gate", 300, 20), copies=2))
    programs = (program(there_and_back(None, 50.0), there_and_back(0, 30.0), there_and_back(1, 90.0), seconds=480.0),)
    near = 0.01  # relative: speeding up and slowing down at the ends
    seconds = machine_seconds(layout, programs, machine())
    assert seconds == {"label": pytest.approx(240, rel=near), "gate": pytest.approx(720, rel=near)}
    assert sum(seconds.values()) == pytest.approx(2 * 480, rel=NEAR)


def test_work_on_a_board_is_shared_by_the_area_of_its_parts() -> None:
    """A layout cut three times, two boards at a time, in two windows and two files: six files loaded, six boards laid
    down, three slid on. Three quarters of the area are the gates'.
    """
    one = board("board-01", placed("label", 100, 20), placed("gate", 300, 20), stack=2, copies=3)
    windows = tuple(Window(first=at, last=at + 500, placements=()) for at in (0.0, 400.0))
    programs = (program(file="board-01-1.nc"), program(file="board-01-2.nc"))
    both = found([gate(), label()], laid(replace(one, windows=windows)), programs)
    for work, whole in (("program", 6.0), ("board", 6.0), ("window", 3.0)):
        assert both["gate"].work[work] == pytest.approx(whole * 3 / 4, rel=NEAR)
        assert both["label"].work[work] == pytest.approx(whole / 4, rel=NEAR)


def test_cutters_changed_by_hand_are_counted_in_the_order_of_the_files() -> None:
    """Cutters 1, 2 on the first board, cut twice, then 2 on the second: 1 2 1 2 2 are four changes. With a changer
    there are none.
    """
    cutters = read_machine("bench-router", beside=None).cutter[:2]
    layout = laid(board("board-01", placed("gate", 300, 20), copies=2), board("board-02", placed("gate", 300, 20)))
    programs = (
        program(cutter=cutters[0], file="board-01-1.nc"),
        program(cutter=cutters[1], file="board-01-2.nc"),
        program(cutter=cutters[1], name="board-02"),
    )
    by_hand = read_machine("bench-router", beside=None)
    assert found([gate()], layout, programs, machine=by_hand)["gate"].work["cutter_change"] == 4
    changer = read_machine("long-bed-router", beside=None)
    assert "cutter_change" not in found([gate()], layout, programs, machine=changer)["gate"].work


def test_saw_cuts_count_those_that_clear_an_end_and_rip() -> None:
    """Two boards: a cut that squares the end and one that takes the leg; a blank ripped into two feet is three cuts."""
    cuts = (
        SawCut(item="bench", part="leg", length=300.0, at=12.0, waste=9.0),
        SawCut(
            item="bench",
            part="foot",
            length=100.0,
            at=315.0,
            rips=(("bench", "foot 1", 40.0), ("bench", "foot 2", 40.0)),
        ),
    )
    pieces = (
        SawnPiece(item="bench", part="leg", length=300.0, width=140.0, thickness=16.0, count=2, board="cedar picket"),
        SawnPiece(item="bench", part="foot 1", length=100.0, width=40.0, thickness=16.0, count=2, board="cedar picket"),
    )
    bench = item(
        "bench", 2, sawn=(SawnPart(name="leg", length=300.0), SawnPart(name="foot 1", length=100.0, width=40.0))
    )
    layout = replace(laid(sawn=pieces), saw_order=(SawnBoard(board="cedar picket", end="left", count=2, cuts=cuts),))
    work = found([bench], layout)["bench"]
    assert work.work["saw_cut"] == 2 * (2 + 3)
    # Edges and faces of the pieces as they are sawn: the leg is as wide as its board.
    edge = 2 * (0.3 + 0.14) + 2 * (0.1 + 0.04)
    assert work.work["sand_edge"] == pytest.approx(2 * edge, rel=NEAR)
    assert work.work["sand_face"] == pytest.approx(2 * 2 * (0.3 * 0.14 + 0.1 * 0.04), rel=NEAR)


def test_edges_faces_coats_and_pieces() -> None:
    """A slat of 300 x 20 x 15.875 mm with a rod of 10 x 100, painted twice. The slat's edge is 0.64 m, its faces 0.012
    m2. Three pieces are put together, one of which turns on the rod and is not glued.
    """
    own = gate(
        3,
        rods=(RodPart(name="rod", diameter=10.0, length=100.0), RodPart(name="pin", diameter=10.0, length=100.0)),
        bought=(BoughtPart(name="hook", count=2),),
        hand_holes=(HandHole(part="slat", diameter=6.0, depth=None, note=""),),
        stands=(Stand(part="slat", outline=SLAT_300.region, seen="face", foot=0.0, thick=16.0, turns=True),),
    )
    work = found([own], laid(board("board-01", placed("gate", 300, 20), copies=3)), coats={"gate": 2})["gate"]
    around = 0.012 + 0.64 * 0.015875 + 2 * math.pi * 0.01 * 0.1
    expected = {"hole": 3, "sand_edge": 3 * 0.64, "sand_face": 3 * 0.012, "glue": 6, "assemble": 9, "fit": 6, "coat":
                3 * 2 * around, "pack": 3}  # fmt: skip
    assert work.work == {name: pytest.approx(value, rel=1e-6) for name, value in expected.items()}
    assert work.covered["glued part"] == 6
    assert work.covered["part"] == 9
    assert work.covered["item"] == 3


def test_sticks_and_outlines_sawn_by_hand() -> None:
    """On a saw the parts are sawn round patterns, two boards at once: 0.64 m for each of three stacks."""
    own = gate(6, rods=(RodPart(name="rod", diameter=10.0, length=100.0),))
    sticks = stick_lists([own], [], saw_kerf=3.0)
    layout = laid(board("board-01", placed("gate", 300, 20), stack=2, copies=3))
    work = found([own], layout, sticks=sticks, machine=read_machine("bandsaw", beside=None))["gate"].work
    assert (work["stick_cut"], work["pattern"]) == (6, 3)
    assert work["saw_outline"] == pytest.approx(3 * 0.64, rel=NEAR)
    assert "board" not in work
