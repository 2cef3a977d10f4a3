"""A program's moves for the player on the job sheet: whole numbers, a list for each program. 0.01 mm and ms.

Every move is five numbers, an arc seven: its kind (an index of `KINDS`), the way to its end in x, y and z, and its
time; an arc also has its centre, from its start. A wait has no way.
"""

from __future__ import annotations

from typing import Any

from cutjob.geometry.segment import Arc
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.program.moves import Move, Program
from cutjob.program.program import standing_seconds
from cutjob.program.time import move_seconds

KINDS = ("air", "straight", "clockwise", "counter-clockwise", "wait")
_STEPS_PER_MM = 100
_MS = 1000
_SHORT = 0.1  # mm; shorter arcs look straight


def play_data(program: Program, *, layout: BoardLayout, machine: Machine) -> dict[str, object]:
    """Return a program as the script's data, in the board's frame.

    `moves` are as above. Each of `steps` has the number of its first move, its part (0: none), operation and cutter.
    """
    every = [*(move for step in program.steps for move in step.moves), *program.end]
    start = (*program.origin, program.clear_z)
    clock = _Clock(iter(move_seconds(every, start, machine.motion)))
    track = _Track(start)
    steps: list[list[int]] = []
    operations: list[str] = []
    cutters = list(program.cutters)
    for section, wait in zip(program.sections, standing_seconds(program.sections, machine), strict=True):
        track.wait(clock.pause(wait))
        for step in section.steps:
            if step.op not in operations:
                operations.append(step.op)
            part = 0 if step.placement is None else step.placement + 1
            steps.append([track.count, part, operations.index(step.op), cutters.index(section.cutter)])
            for move in step.moves:
                track.add(move, clock.next())
    for move in program.end:
        track.add(move, clock.next())
    return {
        "file": program.file,
        "start": [track.steps_of(value) for value in start],
        "beam": machine.has_beam,
        "height": track.steps_of(layout.height),
        "cutters": [
            {"name": f"cutter {one.number}", "diameter": track.steps_of(one.diameter)} for one in cutters
        ],
        "operations": operations,
        "steps": steps,
        "moves": track.numbers,
    }  # fmt: skip


class _Clock:
    """Whole milliseconds, rounded from the start so that they add up to the program's time."""

    def __init__(self, seconds: Any) -> None:
        self._seconds, self._now = seconds, 0.0

    def next(self) -> int:
        return self.pause(next(self._seconds))

    def pause(self, seconds: float) -> int:
        before, self._now = round(self._now * _MS), self._now + seconds
        return round(self._now * _MS) - before


class _Track:
    """Places in whole steps; each move is the way from the last one's rounded end."""

    def __init__(self, start: tuple[float, float, float]) -> None:
        self._here = [self.steps_of(value) for value in start]
        self._last = start[:2]
        self.numbers: list[int] = []
        self.count = 0

    @staticmethod
    def steps_of(mm: float) -> int:
        return round(mm * _STEPS_PER_MM)

    def add(self, move: Move, ms: int) -> None:
        end = [self.steps_of(value) for value in (move.x, move.y, move.z)]
        way = [there - here for there, here in zip(end, self._here, strict=True)]
        kind = 0 if move.kind == "rapid" else 1
        turn: list[int] = []
        if move.centre is not None and self._long(move):
            kind = 2 if move.clockwise else 3
            turn = [self.steps_of(value) - here for value, here in zip(move.centre, self._here[:2], strict=True)]
        self.numbers += [kind, *way, ms, *turn]
        self._here, self._last = end, (move.x, move.y)
        self.count += 1

    def _long(self, move: Move) -> bool:
        """Whether an arc is long enough for its rounded ends to show which way round it goes."""
        start, end = (self._last[0], self._last[1]), (move.x, move.y)
        assert move.centre is not None
        return Arc(start, end, move.centre, move.clockwise).length > _SHORT

    def wait(self, ms: int) -> None:
        if ms > 0:
            self.numbers += [4, 0, 0, 0, ms]
            self.count += 1
