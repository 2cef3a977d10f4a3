"""All that is cut on the boards of a job, numbers too, and what holds the boards down."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

from cutjob.cuts.board_cuts import BoardCuts, cut_layouts, stack_warnings
from cutjob.cuts.cutter_choice import Cutters
from cutjob.cuts.fitness import unfit_parts
from cutjob.cuts.holding import held_down, with_windows
from cutjob.cuts.numbered_boards import numbered_boards
from cutjob.holding.hold import Held, hold_board
from cutjob.job.job import Job
from cutjob.job.machine import Machine
from cutjob.job_layout import leftover_rule
from cutjob.job_order import refuse
from cutjob.layout.held import HeldBy
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.parts.part import Item


@dataclass(frozen=True, slots=True, kw_only=True)
class JobCuts:
    """All that is cut on the boards of a job, each board as it is held, and warnings."""

    held: tuple[Held, ...]
    warnings: tuple[str, ...]

    @property
    def boards(self) -> tuple[BoardCuts, ...]:
        """The cuts of each board."""
        return tuple(each.board for each in self.held)


def cut_job(
    job: Job,
    items: Sequence[Item],
    layout: Layout,
    machine: Machine,
    cutters: Cutters,
    *,
    by: HeldBy,
    executor: Executor | None = None,
) -> JobCuts:
    """Return the cuts of every board of a layout, with its windows, numbers, screws and bridges, held `by` that.

    Raises InputError for what can't be cut, ThinWasteError where the parts lie too close for screws.
    """
    units, locations = job.file.units, {item.name: item.location for item in items}
    refuse(unfit_parts(layout.boards, cutter=cutters.outline, machine=machine, units=units, locations=locations))
    prepared, lettering_warnings = _prepared(job, layout, machine, cutters)
    cuts, warnings = cut_layouts(
        prepared, cutters=cutters, machine=machine, gap=layout.gap, units=units, locations=locations, executor=executor
    )
    rule = leftover_rule(job, cutters.outline)
    fixed = [held_down(board, machine=machine, screws=by == "screws", unit=units, leftovers=rule) for board in cuts]
    held = tuple(hold_board(board, machine=machine, by=by, between_boards=job.file.between_boards) for board in fixed)
    stacked = stack_warnings([each.board.layout for each in held], machine)
    return JobCuts(held=held, warnings=(*lettering_warnings, *warnings, *stacked))


def _prepared(
    job: Job, layout: Layout, machine: Machine, cutters: Cutters
) -> tuple[tuple[BoardLayout, ...], tuple[str, ...]]:
    """The boards with the windows they are cut in and the numbers cut into them; and warnings."""
    boards = [with_windows(board, machine=machine, cutter=cutters.outline) for board in layout.boards]
    where = job.file.numbers
    if where == "none" or machine.kind == "pattern":
        return tuple(boards), ()
    return numbered_boards(
        boards,
        where=where,
        height=job.file.number_height,
        asked="number_height" in job.file.model_fields_set,
        cutters=cutters,
        machine=machine,
        unit=job.file.units,
        location=job.source.at(("number_height",)),
    )
