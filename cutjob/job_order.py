"""From a job file to its items and cutters, or to all its mistakes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from cutjob.cuts.cutter_choice import Cutters, choose_cutters
from cutjob.designs.order import order_items
from cutjob.errors import InputError, Problem
from cutjob.job.board_checks import through_cutters
from cutjob.job.job import Job
from cutjob.job.machine import Cutter
from cutjob.job.read_job import likely_thickness, no_boards, read_job
from cutjob.job.read_stock import alike
from cutjob.job.source import read_source
from cutjob.parts.part import Item

# Where no board of a job can be read, its designs are still judged for boards about this thick, mm.
_ANY_THICKNESS = 19.0


def read_order(job_path: Path) -> tuple[Job, tuple[Item, ...]]:
    """Read a job file and build its items. Raises InputError with the mistakes of the file and of every design."""
    try:
        job = read_job(job_path)
    except InputError as error:
        raise InputError(_with_designs(job_path, error.problems)) from None
    thickness = job.boards[0].thickness if job.boards else job.file.thickness or _ANY_THICKNESS
    items, problems = order_items(
        job.source, folder=job.folder, thickness=thickness, edge_margin=edge_margin_of(job), gap=_widest_gap(job)
    )
    refuse([*_mixed_thickness(job), *problems])
    if not job.boards:
        parts = [
            (item.name, name)
            for item in items
            for name in (*(one.name for one in item.build.shaped), *(one.name for one in item.build.sawn))
        ]
        refuse([no_boards(job.source, *names) for names in parts[:1]])
    return job, items


def _with_designs(job_path: Path, problems: Sequence[Problem]) -> list[Problem]:
    """The mistakes of a job file that can't be read in full, and those of the designs that still can be judged."""
    try:
        source = read_source(job_path)
    except InputError:
        return list(problems)
    if source.data.get("units") not in ("in", "mm"):
        return list(problems)  # sizes of unknown unit can't be judged
    thickness = likely_thickness(source, job_path.parent) or _ANY_THICKNESS
    _, found = order_items(source, folder=job_path.parent, thickness=thickness)
    return list(dict.fromkeys([*problems, *found]))


def cutters_for(job: Job, items: Sequence[Item]) -> Cutters:
    """Return the cutters of a job: those it names, or of the machine's the largest that reach every detail."""
    through = _through(job)
    if isinstance(through, list):
        raise InputError(through)
    parts = [part for item in items for part in item.build.shaped]
    by_tabs = (
        job.machine.kind == "router"
        and job.file.parts_held_by == "tabs"
        and job.file.board_held_by in ("clamps", "screws")
    )
    return choose_cutters(
        through,
        job.machine,
        job.boards,
        numbers=job.file.cutter or (),
        parts=parts,
        tabs=job.machine.tabs if by_tabs else None,
    )


def _through(job: Job) -> tuple[Cutter, ...] | list[Problem]:
    return through_cutters(
        job.boards,
        job.machine,
        numbers=job.file.cutter or (),
        stack=job.file.stack,
        unit=job.file.units,
        where=job.board_location,
        at=lambda key: job.source.at((key,)),
    )


def _mixed_thickness(job: Job) -> Sequence[Problem]:
    """A part may come off any board of a job, so all must be equally thick."""
    if not job.boards:
        return []
    first, stated = job.boards[0], job.file.thickness
    other = f'that of board "{first.name}"' if stated is None else "the thickness at the top of the job"
    return [
        Problem(
            location=job.board_location(board, "thickness"),
            place=f'board "{board.name}": thickness',
            message=f"differs from {other}, and a part may come off either",
            advice="make one job for each thickness",
        )
        for board in job.boards
        if not alike(board.thickness, first.thickness if stated is None else stated)
    ]


def gap_of(job: Job, cutter: Cutter) -> float:
    """Return the least wood between two parts, mm."""
    return cutter.diameter + job.machine.cutting.web if job.file.gap is None else job.file.gap


def _widest_gap(job: Job) -> float:
    """The gap of the widest cutter that may go round parts: which of them will, the parts decide."""
    if job.file.gap is not None:
        return job.file.gap
    through = _through(job)
    return max((gap_of(job, cutter) for cutter in through if isinstance(cutter, Cutter)), default=0.0)


def edge_margin_of(job: Job) -> float:
    """Return the wood left along the edges of boards, mm."""
    return job.machine.cutting.edge_margin if job.file.edge_margin is None else job.file.edge_margin


def refuse(problems: Sequence[Problem]) -> None:
    """Raise InputError where there are problems."""
    if problems:
        raise InputError(problems)
