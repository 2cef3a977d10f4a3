"""Boards with the numbers of their parts, cut by a cutter that is fine enough for their height. mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from cutjob.cuts.cutter_choice import Cutters
from cutjob.cuts.nose_margin import off_clamps
from cutjob.cuts.number_marks import number_lettering
from cutjob.errors import InputError, Location, Problem
from cutjob.job.machine import Cutter, Machine
from cutjob.layout.layout import BoardLayout
from cutjob.units import RULE, TAPE, Unit, format_length

# Letters lower than this many widths of their strokes can't be read: so high, the rounds of an 8 are just as wide as a
# stroke. Common practice, no source.
_LEAST_STROKES = 4.0
_STEP = {"mm": RULE["mm"], "in": TAPE["in"]}  # of heights told to users, mm
_SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class _Attempt:
    """Boards numbered with one cutter, and by board the placements that had no room."""

    boards: tuple[BoardLayout, ...]
    without: tuple[tuple[int, ...], ...]

    @property
    def lacking(self) -> int:
        return sum(map(len, self.without))


def numbered_boards(
    boards: Sequence[BoardLayout],
    *,
    where: Literal["part", "waste"],
    height: float,
    asked: bool,
    cutters: Cutters,
    machine: Machine,
    unit: Unit,
    location: Location | None = None,
) -> tuple[tuple[BoardLayout, ...], tuple[str, ...]]:
    """Return the boards with the numbers of their parts, `height` mm high or less where there is no room, and warnings
    of those left out.

    The cutter for outlines makes them where they can be read then and all have room, which saves a change; else the
    finest does. A height that was `asked` for and can't be read is refused, where none was, they are made higher.
    Raises InputError with the least height for the finest cutter; `location` is the height's.
    """
    depth = machine.cutting.mark_depth
    finest = cutters.for_strokes(depth=depth)
    if asked and height < _least(finest) - _SLACK:
        raise InputError(_too_low(height, finest, unit, location))
    choices = dict.fromkeys([cutters.outline, finest] if _may_number(cutters, depth, height) else [finest])
    best: _Attempt | None = None
    for cutter in choices:
        attempt = _numbered(
            boards, cutter, machine, where=where, height=height, depth=depth, slot=cutters.outline.diameter
        )
        if best is None or attempt.lacking < best.lacking:
            best = attempt
        if not best.lacking:
            break
    assert best is not None
    return best.boards, tuple(_warnings(best, finest, unit))


def _may_number(cutters: Cutters, depth: float, height: float) -> bool:
    outline = cutters.outline
    return not outline.only_down and depth <= outline.cutting_length and height >= _least(outline) - _SLACK


def _least(cutter: Cutter) -> float:
    return _LEAST_STROKES * cutter.diameter


def _numbered(
    boards: Sequence[BoardLayout],
    cutter: Cutter,
    machine: Machine,
    *,
    where: Literal["part", "waste"],
    height: float,
    depth: float,
    slot: float,
) -> _Attempt:
    made, without = [], []
    for board in boards:
        found, lacking = number_lettering(
            replace(board, board=off_clamps(board.board, cutter, depth, machine, kept=0.0)),
            where=where,
            height=height,
            least_height=_least(cutter),
            depth=depth,
            line_width=cutter.diameter,
            slot=slot,
        )
        made.append(replace(board, lettering=tuple(replace(one, cutter=cutter.number) for one in found)))
        without.append(lacking)
    return _Attempt(tuple(made), tuple(without))


def _warnings(attempt: _Attempt, finest: Cutter, unit: Unit) -> list[str]:
    high = f"which cutter {finest.number} must make at least {_up(_least(finest), unit)} high to be read"
    return [
        f"{board.id}: no room for the numbers of parts {', '.join(str(index + 1) for index in without)}, {high}"
        for board, without in zip(attempt.boards, attempt.without, strict=True)
        if without
    ]


def _too_low(height: float, finest: Cutter, unit: Unit, location: Location | None) -> Problem:
    size = format_length(finest.diameter, unit=unit)
    return Problem(
        location=location,
        place="number_height",
        message=f"numbers {format_length(height, unit=unit)} high can't be read when cut {size} wide by cutter "
        f"{finest.number}, the finest there is for them",
        advice=f"give at least {_up(_least(finest), unit)}, or name a finer cutter in the job's cutter as well",
    )


def _up(mm: float, unit: Unit) -> str:
    return format_length(math.ceil(mm / _STEP[unit] - _SLACK) * _STEP[unit], unit=unit)
