"""A board's cuts to one program: ordered steps with their moves, tabs, time and lengths."""

from __future__ import annotations

from collections.abc import Sequence

from cutjob.cuts.board_cuts import BoardCuts
from cutjob.cuts.board_tabs import bridge_area
from cutjob.cuts.cut import LoopCut
from cutjob.cuts.entry import Surroundings
from cutjob.geometry.segment import Point, distance
from cutjob.job.machine import Machine
from cutjob.program.moves import Move, PlannedTab, Program, Step
from cutjob.program.order import Start, Task, sequence, tasks_of
from cutjob.program.setting import Setting, setting_of
from cutjob.program.steps import starts_of, step_of
from cutjob.program.time import measure
from cutjob.program.travel import check_travel

# How many evenly spread starts of a loop the order may choose from, besides the middles of its long segments.
_STARTS = 6


def program_of(board: BoardCuts, *, machine: Machine) -> Program:
    """Return the program that cuts a board with its cutter; its zero is the lower left of the board's box."""
    layout, cutter = board.layout, board.cutter
    setting = setting_of(layout, cutter=cutter, machine=machine)
    tasks = tasks_of(board)
    starts = [
        [Start(along, point) for along, point in starts_of(task.cut, _STARTS, setting)] for task in tasks
    ]  # fmt: skip
    home = (0.0, 0.0)
    order = sequence(tasks, starts, home=home)
    steps = _steps(tasks, starts, order, _around(board, tasks), setting, home)
    moves = [move for step in steps for move in step.moves]
    check_travel(moves, layout, machine.travel)
    seconds, cut_mm, air_mm = measure(moves, (*home, setting.safe_z), machine.motion)
    row = cutter.feed_for(layout.board.material)
    spindle = 0.0 if setting.laser else machine.spindle.seconds_to_speed
    return Program(
        file=f"{layout.id}.{machine.controller.extension}",
        board=layout.id,
        cutter=cutter,
        origin=home,
        rpm=row.rpm if row and not setting.laser else None,
        safe_z=setting.safe_z,
        depth=_deepest(moves),
        steps=tuple(steps),
        tabs=_tabs(tasks),
        seconds=seconds + spindle,
        cut_mm=cut_mm,
        air_mm=air_mm,
        warnings=_bare_starts(steps),
    )


def _steps(
    tasks: Sequence[Task],
    starts: Sequence[Sequence[Start]],
    order: Sequence[tuple[int, Start]],
    around: Surroundings,
    setting: Setting,
    home: Point,
) -> list[Step]:
    """Moves of each task in turn; of a loop's starts those nearest to where the cutter really is come first."""
    steps = []
    here = home
    for index, _ in order:
        task = tasks[index]
        near = sorted(starts[index], key=lambda start: (distance(start.point, here), start.along))
        step = step_of(
            task.cut,
            placement=task.placement,
            starts=[start.along for start in near],
            around=around,
            setting=setting,
        )
        steps.append(step)
        here = (step.moves[-1].x, step.moves[-1].y)
    return steps


def _bare_starts(steps: Sequence[Step]) -> tuple[str, ...]:
    parts = sorted({step.placement + 1 for step in steps if step.bare and step.placement is not None})
    if not parts:
        return ()
    return (f"no room for a lead-in beside parts {', '.join(map(str, parts))}: these cuts start on the part's edge",)


def _around(board: BoardCuts, tasks: Sequence[Task]) -> Surroundings:
    radius = board.cutter.radius
    bridges = [
        bridge_area(task.cut, tab, away=radius + board.layout.placements[task.placement].part.deviation)
        for task in tasks
        if isinstance(task.cut, LoopCut)
        for tab in task.cut.tabs
    ]
    return Surroundings(board.layout, cutter_radius=radius, bridges=bridges)


def _tabs(tasks: Sequence[Task]) -> tuple[PlannedTab, ...]:
    return tuple(
        PlannedTab(placement=task.placement, at=tab.at, width=tab.width, height=tab.height)
        for task in tasks
        if isinstance(task.cut, LoopCut)
        for tab in task.cut.tabs
    )


def _deepest(moves: Sequence[Move]) -> float:
    return max(0.0, -min((move.z for move in moves), default=0.0))
