"""The parts of a job laid on its boards, and the boards and leftovers it reckons with."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

from cutjob.cuts.cutter_choice import Cutters
from cutjob.cuts.holding import bed_for_parts
from cutjob.cuts.nose_room import room_for_nose
from cutjob.cuts.screw_room import room_for_screws
from cutjob.errors import Problem
from cutjob.holding.clamps import room_for_clamps
from cutjob.holding.room import MoreRoom, beside_clamps
from cutjob.job.board_checks import check_boards
from cutjob.job.job import Job
from cutjob.job.machine import Cutter, Machine
from cutjob.job.read_stock import LeftAside, left_aside
from cutjob.job.stock import Board
from cutjob.job_order import edge_margin_of, gap_of, refuse
from cutjob.layout.layout import Layout
from cutjob.layout.layout_job import lay_out
from cutjob.layout.leftovers import LeftoverRule
from cutjob.layout.watch import Watch
from cutjob.parts.part import Item
from cutjob.stages import Effort
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit, format_length


def lay_out_job(
    job: Job,
    items: Sequence[Item],
    machine: Machine,
    cutters: Cutters,
    *,
    seed: int,
    effort: Effort,
    seconds: float | None = None,
    watch: Watch | None = None,
    more: MoreRoom | None = None,
) -> Layout:
    """Lay the items' parts on the job's boards, and check that the machine takes what lies on it then.

    `machine` is the job's as its parts are held, see `held_machine`. With `more` room, what that says is left as well.
    """
    file, cutter = job.file, cutters.outline
    refuse(_narrow_gap(job, items, cutter))
    boards, gap, edge_margin = _within_reach(job, items, cutter), gap_of(job, cutter), edge_margin_of(job)
    parts = [part for item in items for part in item.build.shaped]
    more = more or MoreRoom()
    slot = cutter.diameter + max((part.deviation for part in parts), default=0.0) + 2 * TOLERANCES.acceptance
    bed = machine.travel.x if machine.travel is not None and machine.travel.open_ends else None
    gap += more.gap
    rail = max(0.0, slot + more.rail - edge_margin) if more.rail else 0.0
    clamped = partial(
        room_for_clamps,
        clamps=machine.clamps,
        count=more.clamps,
        reach=max(0.0, slot + machine.clamps.margin - gap) + TOLERANCES.acceptance,
        bed=bed,
    )
    room = room_for_nose(
        [clamped(board) for board in boards] if more.clamps else boards,
        parts,
        cutters=cutters,
        machine=machine,
        gap=gap,
        stack=file.stack,
        numbers=file.numbers != "none",
    )
    if more.clamps:
        room = beside_clamps(room, clamped)
    if more.screw_margin is not None and machine.screws is not None:
        room = room_for_screws(room, screws=machine.screws, margin=more.screw_margin, slot=slot, gap=gap, bed=bed)
    layout = lay_out(
        items,
        boards,
        gap=gap,
        edge_margin=edge_margin,
        rail=rail,
        beside=max(0.0, 2 * slot + more.rail - gap) if more.rail else 0.0,
        stack=file.stack,
        saw_kerf=machine.saw_kerf,
        seed=seed,
        effort=effort,
        seconds=seconds,
        prefer=file.preferences if "prefer" in file.model_fields_set else None,
        least_leftover=file.least_leftover,
        longest=bed_for_parts(machine, cutter),
        room=room,
        watch=watch,
        unit=file.units,
    )
    problems = [
        problem
        for board in sorted(layout.boards, key=lambda board: board.board.sawn_off)
        for problem in check_boards(
            [board.board], machine, cutter, board.stack, unit=file.units, where=job.board_location
        )
    ]
    # Boards of a kind that were sawn to different lengths have one line in the job, and are told of once.
    told: dict[tuple[object, str], Problem] = {}
    for problem in problems:
        told.setdefault((problem.location, problem.place), problem)
    refuse(list(told.values()))
    return layout


def _within_reach(job: Job, items: Sequence[Item], cutter: Cutter) -> tuple[Board, ...]:
    """The boards the machine takes. One of the job's own that is too large is refused; one in stock is left aside."""
    if any(item.build.sawn for item in items):
        return job.boards  # what is sawn off first may bring them within reach
    found = [
        check_boards([board], job.machine, cutter, 1, unit=job.file.units, where=job.board_location)
        for board in job.boards
    ]
    fit = tuple(board for board, problems in zip(job.boards, found, strict=True) if not problems)
    for entry, problems in zip(job.entries, found, strict=True):
        if problems and (entry.source is job.source or not fit):
            refuse([problem for each in found for problem in each])
    return fit


def boards_left_aside(job: Job, items: Sequence[Item], cutter: Cutter) -> list[LeftAside]:
    """Return the boards in stock that are not for this job, with those the machine can't take."""
    fit = {board.name for board in _within_reach(job, items, cutter)}
    large = [entry for entry in job.entries if entry.board.name not in fit]
    return [*job.left_aside, *(left_aside(entry, "too large for the machine") for entry in large)]


def leftover_rule(job: Job, cutter: Cutter) -> LeftoverRule:
    """Return what leftovers of a job are judged by."""
    return LeftoverRule(
        gap=gap_of(job, cutter),
        edge_margin=edge_margin_of(job),
        saw_kerf=job.machine.saw_kerf,
        least=job.file.least_leftover,
    )


def _narrow_gap(job: Job, items: Sequence[Item], cutter: Cutter) -> list[Problem]:
    """The cutter must pass between two parts, and keep as far from each as its outline may be off the true one."""
    gap = job.file.gap
    deviation = max((part.deviation for item in items for part in item.build.shaped), default=0.0)
    least = cutter.diameter + 2 * (deviation + TOLERANCES.acceptance)
    if gap is None or gap >= least:
        return []
    size, unit = format_length(cutter.diameter, unit=job.file.units), job.file.units
    return [
        Problem(
            location=job.source.at(("gap",)),
            place="gap",
            message=f"{format_length(gap, unit=unit)} is too narrow for the {size} cutter {cutter.number} to pass",
            advice=f"give at least {_round_up(least, unit)}, or leave gap out for the cutter and the profile's web",
        )
    ]


def _round_up(mm: float, unit: Unit) -> str:
    """The length in words, rounded up to a tenth of a mm or a hundredth of an inch."""
    step = 0.254 if unit == "in" else 0.1
    return format_length(math.ceil(mm / step) * step, unit=unit)
