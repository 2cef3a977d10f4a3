"""Bridges as high as the stack, passed in the air; tabs under a beam that is off; bores cleared from the middle."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import Any

import pytest

from cutjob.cuts.board_cuts import BoardCuts, cut_layouts
from cutjob.cuts.cutter_choice import Cutters
from cutjob.finishing import prove_board
from cutjob.geometry.contour import Contour, circle, rectangle
from cutjob.geometry.segment import Point
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.job.read_machine import read_machine
from cutjob.output.gcode.write import write_gcode
from cutjob.parts.part import Counterbore, Hole
from cutjob.program.moves import Program
from cutjob.program.program import programs_of
from cutjob.proof.finding import ProofReport
from tests.cuts.makers import alone, cutter, layout_of, router, shaped, tabbed_board
from tests.proof.spoil import Lines, Spoil, checks

LONG = cutter(6.35, cutting_length=40.0)
PLACES = ((210.0, 60.0), (210.0, 260.0), (60.0, 160.0), (360.0, 160.0))  # the middles of the sides of 300 x 200


class Made:
    """A board's program and its file, line by line."""

    def __init__(self, board: BoardCuts, machine: Machine) -> None:
        """Write the one program of a board."""
        self._board, self._machine = board, machine
        (self.program,) = programs_of(board, machine=machine)
        data = write_gcode(self.program, layout=board.layout, machine=machine, title="planters", order="board 1 of 1")
        self.lines = data.decode("ascii").splitlines()

    def judged(self, lines: Lines | None = None, program: Program | None = None) -> ProofReport:
        """The proof of the file, or of other lines or another plan in its place."""
        one = program or self.program
        data = "".join(f"{line}\n" for line in lines or self.lines).encode("ascii")
        return prove_board({one.file: data}, self._board.layout, (one,), (), self._machine)


def said(report: ProofReport) -> list[str]:
    return [str(finding) for finding in report.findings]


def machine(finish: float = 0.0, **cutting: Any) -> Machine:
    return router(cutting={"finish": finish, **cutting}, travel={"z": 100.0})


def bridged(
    contour: Contour | None = None, places: tuple[Point, ...] = PLACES, *, on: Machine | None = None, **more: Any
) -> Made:
    """A planter's side cut from two boards of 16 mm, with bridges over the whole height at places on its edge."""
    on = on or machine()
    part = shaped(contour or rectangle(300, 200), **more)
    layout = layout_of((part, Transform(x=60, y=60)), thickness=16.0, stack=2, length=600, width=400)
    (board,), _ = cut_layouts([layout], cutters=alone(LONG), machine=on, gap=8.0, locations={})
    return Made(tabbed_board(board, {0: places}, height=layout.height), on)


@pytest.mark.parametrize("direction", ["climb", "conventional"])
@pytest.mark.parametrize("finish", [0.0, 0.05, 0.4])
def test_bridges_over_the_whole_height_pass(finish: float, direction: str) -> None:
    made = bridged(on=machine(finish, direction=direction))
    assert {tab.height for tab in made.program.tabs} == {32.0}
    assert said(made.judged()) == []


@pytest.mark.parametrize("finish", [0.0, 0.4])
@pytest.mark.parametrize("count", [1, 2, 3, 5])
def test_bridges_on_a_curve_pass(count: int, finish: float) -> None:
    turns = [2 * math.pi * (number + 0.3) / count for number in range(count)]
    places = tuple((160 + 90 * math.cos(turn), 160 + 90 * math.sin(turn)) for turn in turns)
    made = bridged(circle((100, 100), 90), places, on=machine(finish))
    assert len(made.program.tabs) == count
    assert said(made.judged()) == []


def test_many_bridges_close_together_pass() -> None:
    """Between 12 mm of path the cutter comes down, cuts and goes up again on every pass; no lead has room anywhere."""
    places = tuple((60.0 + 25.0 * number, y) for number in range(1, 12) for y in (60.0, 260.0))
    sides = tuple((x, 60.0 + 25.0 * number) for number in range(1, 8) for x in (60.0, 360.0))
    for finish in (0.0, 0.4):
        made = bridged(places=(*places, *sides), on=machine(finish))
        assert len(made.program.tabs) == 36
        report = made.judged()
        assert [line for line in said(report) if "no room for a lead-in" not in line] == []


def crossing(lines: Lines, number: int) -> int:
    """The index of the line on which the cutter goes up before a bridge, the `number`th time it does."""
    ups = [n for n in range(len(lines) - 4) if lines[n] == "G0 Z6" and lines[n + 2] == "Z1"]
    # The first lift of the file comes before its first cut.
    return [n for n in ups if lines[n + 3].startswith("G1 Z-")][number]


def around(number: int, by: dict[int, Lines]) -> Spoil:
    """Replace lines of a crossing by others: 0 up, 1 over, 2 down to just above the stock, 3 down to the depth."""

    def spoil(lines: Lines) -> Lines:
        first = crossing(lines, number)
        result = list(lines)
        for place in sorted(by, reverse=True):
            result[first + place : first + place + 1] = by[place]
        return result

    return spoil


@pytest.mark.parametrize("finish", [0.0, 0.4])
@pytest.mark.parametrize(
    ("spoil", "check"),
    [
        # Down behind the first bridge of the first pass, three passes deep into the wood, and up to the pass again.
        (around(0, {3: ["G1 Z-9 F850", "Z-2.8"]}), "depth per pass"),
        # The same, and on at that depth.
        (around(0, {3: ["G1 Z-9 F850"]}), "depth per pass"),
        # Down as a rapid.
        (around(6, {3: ["Z-2.8", "G1 Z-5.8 F850"]}), "rapid"),
        (around(0, {0: ["G0 Z3"]}), "rapid"),
        # Through the bridge along the slot.
        (around(-1, {0: ["(through)"], 1: [], 2: ["Z-32.3"]}), "tab"),
        # Over it, but a pass deep in its wood.
        (around(0, {0: ["(over)"], 2: [], 3: ["F2844"]}), "tab"),
    ],
)
def test_spoiled_crossings_are_found(spoil: Spoil, check: str, finish: float) -> None:
    made = bridged(on=machine(finish))
    report = made.judged(spoil(made.lines))
    assert check in checks(report), said(report)


def test_a_rough_pass_too_deep_behind_a_bridge_is_found() -> None:
    """Beside a low tab a last pass may take the tab's height at once; beside one as high as the stack it may not."""
    # Of a side that begins at x 60 the place 0.38 of its 300 mm along is looked at: the bridge ends just before it.
    place = 60 + 300 * 0.381966
    made = bridged(places=((place + 9, 60.0), (210.0, 260.0)), on=machine(0.4))
    assert said(made.judged()) == []
    behind = next(n for n, line in enumerate(made.lines) if line.startswith("X177.") and made.lines[n + 1] == "Z1")
    assert made.lines[behind + 2].startswith("G1 Z-2.8")
    deep = [*made.lines[: behind + 2], "G1 Z-9 F850", "X170 F2844", "Z-2.8", *made.lines[behind + 3 :]]
    report = made.judged(deep)
    assert any("in one pass on the outline" in line for line in said(report)), said(report)


@pytest.mark.parametrize("finish", [0.0, 0.4])
@pytest.mark.parametrize("number", [4, 9, 20])
def test_a_pass_that_ends_too_early_before_a_bridge_is_found(number: int, finish: float) -> None:
    """The last line before the cutter goes up is left out: the next pass takes two passes there at once."""
    made = bridged(on=machine(finish))
    up = crossing(made.lines, number)
    lines = [*made.lines[: up - 1], *made.lines[up:]]
    assert checks(made.judged(lines)) == {"depth per pass"}


@pytest.mark.parametrize("beside", [0.05, 0.15, 0.18, 0.2, 0.22, 0.25, 0.3, 0.5, 1.0])
@pytest.mark.parametrize("finish", [0.0, 0.1, 0.4])
def test_the_round_end_of_a_last_pass_is_no_pass_of_its_own(beside: float, finish: float) -> None:
    """At a place of the edge that a last pass touches with its round end only, the rough ones may have ended before."""
    # Of a side from x 60 on, the place 0.38 of its 300 mm along is looked at; half a bridge is 3, the cutter 3.175.
    places = (60 + 300 * 0.381966 + 3 + 3.175 - beside, 60.0), (210.0, 260.0)
    assert said(bridged(places=places, on=machine(finish)).judged()) == []


def test_a_bridge_of_another_width_is_found() -> None:
    """Cut farther into the wood before a bridge goes up, on every pass."""
    made = bridged()
    wider, narrower = (
        [line.replace("X203.825", f"X{x}") for line in made.lines] for x in (203.6, 204.1)
    )  # fmt: skip
    assert made.lines not in (wider, narrower)
    for lines in (wider, narrower):
        assert checks(made.judged(lines)) == {"tab"}


def test_a_bridge_as_high_as_the_stack_has_no_ramps() -> None:
    """A profile whose tabs have ramps does not make a bridge wider towards the underside right: it has none."""
    plain = bridged()
    ramped = router(cutting={"finish": 0.0}, travel={"z": 100.0}, tabs={"ramp_degrees": 20.0})
    made = bridged(on=ramped)
    assert made.lines == plain.lines
    assert said(made.judged()) == []
    # The last passes stop before the bridge and begin behind it as a ramp from the stock's top would.
    lines = [line.replace("X203.825", "X203") if n > crossing(made.lines, -8) else line
             for n, line in enumerate(made.lines)]  # fmt: skip
    assert lines != made.lines
    assert "tab" in checks(made.judged(lines))


def test_the_time_is_that_of_the_moves() -> None:
    """Each of the 4 bridges is crossed on each of the 11 passes, and on the last one's way past its start."""
    made = bridged()
    rapids = [move for move in made.program.steps[0].moves if move.kind == "rapid"]
    over = [move for move in rapids if move.z == made.program.safe_z]
    assert len(over) >= 2 * 4 * 11
    with_low = bridged(places=())
    assert made.program.seconds > with_low.program.seconds + 4 * 11 * 1.0


def beam(passes: int = 2) -> Machine:
    made = read_machine("bench-laser", beside=None)
    (tool,) = made.cutter
    rows = tuple(row.model_copy(update={"passes": passes}) for row in tool.feed)
    return made.model_copy(update={"cutter": (tool.model_copy(update={"feed": rows}),)})


def lasered(on: Machine, *, places: tuple[Point, ...] = ((50.0, 20.0), (50.0, 60.0))) -> Made:
    """A plant tag of 60 x 40 at (20, 20) in thin ply, held by tabs of 1 mm."""
    material = on.cutter[0].feed[0].material
    layout = layout_of(
        (shaped(rectangle(60, 40)), Transform(x=20, y=20)), thickness=3.0, length=120, width=90, material=material
    )
    tool = on.cutter[0]
    cutters = Cutters(outline=tool, usable=(tool,), changer=False)
    (board,), _ = cut_layouts([layout], cutters=cutters, machine=on, gap=3.0, locations={})
    return Made(tabbed_board(board, {0: places}, width=1.0, height=3.0), on)


@pytest.mark.parametrize("passes", [1, 2])
def test_a_beam_is_off_over_its_tabs(passes: int) -> None:
    made = lasered(beam(passes))
    assert said(made.judged()) == []
    # Off and on again at both tabs on every round.
    assert made.lines.count("M5") == 1 + 1 + 2 * passes


def test_a_beam_on_over_a_tab_once_is_found() -> None:
    made = lasered(beam(2))
    text = "\n".join(made.lines)
    over = re.compile(r"M5\nG0 (X\S+)\nS0 (M[34])\nG1 (X\S+)( S\S+)?( F\S+)?")
    assert len(over.findall(text)) >= 2
    lines = over.sub(r"G1 \3", text, count=1).split("\n")
    assert "tab" in checks(made.judged(lines))


def test_a_lap_of_a_beam_that_ends_too_early_before_a_tab_is_found() -> None:
    made = lasered(beam(2))
    off = [n for n, line in enumerate(made.lines) if line == "M5"]
    for number in (1, 2, 3, 4):
        up = off[number]
        lines = [*made.lines[: up - 1], *made.lines[up:]]
        assert {"passes", "beam"} & checks(made.judged(lines)), number


def test_only_behind_a_planned_tab_may_a_beam_pierce_on_the_edge() -> None:
    made = lasered(beam(1))
    # The same file, where the plan has no tab at the upper side: wood is left, and the beam pierces for no reason.
    (lower,) = [tab for tab in made.program.tabs if tab.at[1] < 30]
    findings = made.judged(program=replace(made.program, tabs=(lower,))).findings
    assert sorted(finding.check for finding in findings) == ["pierce", "wood left"]


def bored(hole: Hole, *, stack: int = 2) -> Made:
    on = machine()
    layout = layout_of(
        (shaped(rectangle(120, 100), holes=(hole,)), Transform(x=60, y=60)), thickness=16.0, stack=stack,
        length=600, width=400,
    )  # fmt: skip
    (board,), _ = cut_layouts([layout], cutters=alone(LONG), machine=on, gap=8.0, locations={})
    return Made(tabbed_board(board, {0: ((120.0, 60.0), (120.0, 160.0))}, height=layout.height), on)


@pytest.mark.parametrize(
    "hole",
    [
        Hole(at=(60, 50), diameter=40.0),
        Hole(at=(60, 50), diameter=40.0, counterbore=Counterbore(diameter=52.0, depth=6.0)),
    ],
)
def test_a_wide_bore_is_cleared_right_through(hole: Hole) -> None:
    assert said(bored(hole, stack=1 if hole.counterbore else 2).judged()) == []


def test_rings_run_too_deep_in_a_bore_are_found() -> None:
    """The first level of the rings left out: the next is two passes deep at the wall."""
    made = bored(Hole(at=(60, 50), diameter=40.0))
    begin = made.lines.index("(bore: part 1, piece, gate latch)")
    end = next(n for n in range(begin + 1, len(made.lines)) if made.lines[n].startswith("("))
    bottom = [n for n in range(begin, end) if "Z-2.9" in made.lines[n]][-1]
    second = next(n for n in range(bottom, end) if "Z-5.8" in made.lines[n])
    assert second - bottom > 4
    lines = [*made.lines[: bottom + 1], *made.lines[second:]]
    assert "depth per pass" in checks(made.judged(lines))
