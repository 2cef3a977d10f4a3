"""A board's cuts to its programs: windows, sections of one cutter each, ordered steps with their moves, tabs, time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import shapely

from cutjob.cuts.board_cuts import BoardCuts
from cutjob.cuts.cut import LoopCut
from cutjob.cuts.entry import Surroundings
from cutjob.cuts.tabs import bridge_area
from cutjob.geometry.segment import Point, distance
from cutjob.holding.screws import obstacles
from cutjob.job.machine import Machine
from cutjob.program.moves import PlannedTab, Program, Section, Step
from cutjob.program.obstacles import check_nose, cleared, obstacles_of
from cutjob.program.precedence import Task, by_cutter, tasks_of
from cutjob.program.setting import Setting, setting_of
from cutjob.program.steps import starts_of, step_of
from cutjob.program.time import measure
from cutjob.program.tour import Start, sequence
from cutjob.program.travel import check_travel, extent, park_moves, park_place

# The number of evenly spread starts of a loop that the order may choose from, besides the middles of long segments.
_STARTS = 6


# A section and the tasks done in it.
_Made: TypeAlias = tuple[Section, tuple[Task, ...]]


@dataclass(frozen=True, slots=True)
class _Run:
    """Sections that make one file: those of a window on a machine with a changer, else those of one cutter."""

    window: int | None
    sections: tuple[Section, ...]
    tasks: tuple[Task, ...]


def programs_of(board: BoardCuts, *, machine: Machine) -> tuple[Program, ...]:
    """Return the programs that cut a board, in the order they are run.

    Every window has its own, with its zero at the window's start and the board's lower edge; a board without windows
    has its zero at the lower left of its box. Without a changer every cutter has its own.
    """
    tasks = tasks_of(board, far_end_first=machine.cutting.far_end_first)
    windows = range(len(board.layout.windows)) if board.layout.windows else (None,)
    runs: list[_Run] = []
    for window in windows:
        runs += _runs(board, tasks, window, machine)
    return tuple(_program(board, run, number, len(runs), machine) for number, run in enumerate(runs, start=1))


def _runs(board: BoardCuts, tasks: Sequence[Task], window: int | None, machine: Machine) -> list[_Run]:
    own = [index for index, task in enumerate(tasks) if window is None or task.window == window]
    place = {index: number for number, index in enumerate(own)}
    mine = [replace(tasks[index], after=tuple(place[before] for before in tasks[index].after)) for index in own]
    holds = [
        Task(cut=cut, placement=None)
        for down, cut in zip(board.layout.hold_downs, board.hold_downs, strict=True)
        if window is None or down.window == window
    ]
    groups = by_cutter(mine, last=board.cutters.outline.number)
    home = _home(board, window)
    maker = _Maker(board, machine, window, [*holds, *mine])
    sections: list[_Made] = []
    if holds:
        section, home = maker.section(holds, home)
        sections.append((section, tuple(holds)))
    for number, group in enumerate(groups):
        local = _local([mine[index] for index in group], group)
        section, home = maker.section(local, home, screws_first=bool(holds) and number == 0)
        sections.append((section, tuple(local)))
    if machine.controller.tool_change == "changer" or len({s.cutter.number for s, _ in sections}) <= 1:
        return [_joined(window, sections)] if sections else []
    files: list[list[_Made]] = []
    for section, done in sections:
        if files and files[-1][-1][0].cutter.number == section.cutter.number:
            files[-1].append((section, done))
        else:
            # Between two files the machine stands anyway: the opening says what is done by hand then.
            files.append([(section, done)])
    return [_joined(window, each) for each in files]


def _joined(window: int | None, sections: Sequence[_Made]) -> _Run:
    return _Run(
        window,
        tuple(section for section, _ in sections),
        tuple(task for _, tasks in sections for task in tasks),
    )


def _local(tasks: Sequence[Task], group: Sequence[int]) -> list[Task]:
    """The tasks of a section, waiting only for each other: those of the sections before are done."""
    place = {index: number for number, index in enumerate(group)}
    return [replace(task, after=tuple(place[b] for b in task.after if b in place)) for task in tasks]


def _home(board: BoardCuts, window: int | None) -> Point:
    return (0.0, 0.0) if window is None else (board.layout.windows[window].first, 0.0)


class _Maker:
    """Makes the sections of one board or window."""

    def __init__(self, board: BoardCuts, machine: Machine, window: int | None, tasks: Sequence[Task]) -> None:
        self._board, self._machine, self._window = board, machine, window
        self._tasks = tasks
        self._obstacles = obstacles_of(board.layout, window, machine)
        self._known: dict[int, tuple[Setting, Surroundings]] = {}

    def section(self, tasks: Sequence[Task], home: Point, *, screws_first: bool = False) -> tuple[Section, Point]:
        """A section of the tasks, all of one cutter, begun from `home`, and where it ends."""
        cutter = self._board.cutters.numbered(tasks[0].cut.cutter)
        setting, around = self._of(cutter.number)
        starts = [starts_of(task.cut, _STARTS, setting) for task in tasks]
        order = _in_ranks(tasks, starts, home)
        steps, end = _steps(tasks, starts, order, around, setting, home)
        steps = cleared(steps, cutter, self._obstacles, self._machine)
        row = cutter.feed_for(self._board.layout.board.material)
        rpm = row.rpm if row and not setting.laser else None
        return Section(cutter=cutter, rpm=rpm, steps=tuple(steps), screws_first=screws_first), end

    def _of(self, number: int) -> tuple[Setting, Surroundings]:
        if number not in self._known:
            cutter, layout = self._board.cutters.numbered(number), self._board.layout
            setting = setting_of(layout, cutter=cutter, machine=self._machine)
            blocked = [
                *_bridges(self._board, self._tasks),
                *obstacles(self._board, self._window, machine=self._machine),
            ]
            self._known[number] = setting, Surroundings(layout, cutter_radius=cutter.radius, bridges=blocked)
        return self._known[number]


def _in_ranks(tasks: Sequence[Task], starts: Sequence[Sequence[Start]], home: Point) -> list[tuple[int, Start]]:
    """The tasks of a section with their starts, rank by rank; each rank has the shortest air moves from where the
    cutter is when the rank before is done.
    """
    order: list[tuple[int, Start]] = []
    here = home
    for rank in sorted({task.rank for task in tasks}):
        own = [index for index, task in enumerate(tasks) if task.rank == rank]
        place = {index: number for number, index in enumerate(own)}
        after = [tuple(place[before] for before in tasks[index].after if before in place) for index in own]
        found = sequence(after, [starts[index] for index in own], home=here)
        order += [(own[number], start) for number, start in found]
        here = order[-1][1].end
    return order


def air_without_and_with_groups(board: BoardCuts, *, machine: Machine) -> tuple[float, float]:
    """Return the mm of air moves on a board: with its parts in any order, and with its parts freed by groups, the group
    farthest from a hold first.
    """
    free = replace(board, layout=replace(board.layout, holding=None))
    without, grouped = (sum(one.air_mm for one in programs_of(each, machine=machine)) for each in (free, board))
    return without, grouped


def _program(board: BoardCuts, run: _Run, number: int, count: int, machine: Machine) -> Program:
    layout = board.layout
    moves = [move for section in run.sections for step in section.steps for move in step.moves]
    box = extent(moves)
    check_travel(box, layout, machine.travel)
    check_nose(run.sections, layout, run.window, machine)
    origin = _home(board, run.window)
    laser = machine.has_beam
    safe_z = 0.0 if laser else machine.motion.safe_height
    clear_z = obstacles_of(layout, run.window, machine).clear_z
    place = park_place(box, layout, run.window, origin, machine)
    end = park_moves(moves[-1] if moves else None, place, clear_z)
    seconds, cut_mm, air_mm = measure([*moves, *end], (*origin, clear_z), machine.motion)
    extension = machine.controller.extension
    return Program(
        file=f"{layout.id}.{extension}" if count == 1 else f"{layout.id}-{number}.{extension}",
        board=layout.id,
        number=number,
        count=count,
        window=run.window,
        sections=run.sections,
        origin=origin,
        safe_z=safe_z,
        clear_z=clear_z,
        end=end,
        depth=max(0.0, -min((move.z for move in moves), default=0.0)),
        skin=0.0 if laser else machine.skin,
        tabs=_tabs(run.tasks),
        seconds=seconds + sum(standing_seconds(run.sections, machine)),
        cut_mm=cut_mm,
        air_mm=air_mm,
        warnings=(*_bare_starts([step for section in run.sections for step in section.steps]), *board.warnings),
    )


def standing_seconds(sections: Sequence[Section], machine: Machine) -> tuple[float, ...]:
    """Return the seconds the machine waits before each section: for the spindle to come up to speed, or for the
    changer.

    Work by hand while the program is halted is not counted.
    """
    if machine.has_beam:
        return (0.0,) * len(sections)
    waits = []
    for place, section in enumerate(sections):
        change = place > 0 and sections[place - 1].cutter.number != section.cutter.number
        start = place == 0 or section.screws_first or change
        waits.append(start * machine.spindle.seconds_to_speed + change * machine.controller.seconds_to_change)
    return tuple(waits)


def _steps(
    tasks: Sequence[Task],
    starts: Sequence[Sequence[Start]],
    order: Sequence[tuple[int, Start]],
    around: Surroundings,
    setting: Setting,
    home: Point,
) -> tuple[list[Step], Point]:
    """Moves of each task in turn, and where the last ends. Of a loop's starts the one that the order chose is tried
    first, then those nearest to where the cutter really is.
    """
    steps = []
    here = home
    for index, chosen in order:
        task = tasks[index]
        near = sorted(starts[index], key=lambda start: (start != chosen, distance(start.point, here), start.along))
        step = step_of(task.cut, placement=task.placement, starts=near, around=around, setting=setting)
        steps.append(step)
        here = (step.moves[-1].x, step.moves[-1].y)
    return steps, here


def _bare_starts(steps: Sequence[Step]) -> tuple[str, ...]:
    parts = sorted({step.placement + 1 for step in steps if step.bare and step.placement is not None})
    if not parts:
        return ()
    if len(parts) == 1:
        return (f"no room for a lead-in beside part {parts[0]}: its cut starts on the part's edge",)
    return (f"no room for a lead-in beside parts {', '.join(map(str, parts))}: their cuts start on the parts' edges",)


def _bridges(board: BoardCuts, tasks: Sequence[Task]) -> list[shapely.Polygon]:
    """The wood of all tabs on outlines and openings, and the wood they end in."""
    return [
        bridge_area(
            task.cut,
            tab,
            away=board.cutters.numbered(task.cut.cutter).radius
            + board.layout.placements[task.placement].part.deviation,
        )
        for task in tasks
        if isinstance(task.cut, LoopCut) and task.placement is not None
        for tab in task.cut.tabs
    ]


def _tabs(tasks: Sequence[Task]) -> tuple[PlannedTab, ...]:
    return tuple(
        PlannedTab(placement=task.placement, at=tab.at, width=tab.width, height=tab.height)
        for task in tasks
        if isinstance(task.cut, LoopCut) and task.placement is not None
        for tab in task.cut.tabs
    )
