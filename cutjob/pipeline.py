"""From a job file to a folder of proven files: one line per stage, top to bottom. Read this first."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from cutjob.cuts.board_cuts import cut_layouts
from cutjob.cuts.fitness import unfit_parts
from cutjob.designs.order import order_items
from cutjob.errors import InputError, Problem
from cutjob.finish import Order, finish_boards, joined, processes
from cutjob.job.board_checks import check_boards, choose_cutter
from cutjob.job.job import Job
from cutjob.job.machine import Cutter, Machine
from cutjob.job.read_job import likely_thickness, read_job
from cutjob.job.source import read_source
from cutjob.job.stock import Board
from cutjob.layout.layout import Layout
from cutjob.layout.layout_job import lay_out
from cutjob.layout.rods import rod_warnings
from cutjob.output.cautions import cautions_for
from cutjob.output.folder import replace_folder
from cutjob.output.keep_outs import keep_out_warnings
from cutjob.output.plan import plan_of, write_plan
from cutjob.parts.part import Item
from cutjob.program.moves import Program
from cutjob.proof.finding import ProofReport
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit, format_length

Effort = Literal["quick", "normal", "best"]
Progress = Callable[[str], None]

# Where no board of a job can be read, its designs are still judged for boards about this thick, mm.
_ANY_THICKNESS = 19.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MakeResult:
    """What a run came to: plan.json's content, the proof, and the seconds each stage took.

    Of the stage `boards`, `program`, `files` and `proof` are the shares, added up over boards that may run at once.
    The files are in `folder` when the proof passed; otherwise the folder is as it was.
    """

    folder: Path
    plan: dict[str, Any]
    proof: ProofReport
    seconds: dict[str, float]
    items: tuple[Item, ...]
    layout: Layout
    programs: tuple[Program, ...]
    files: dict[str, bytes]


def make_job(
    job_path: Path,
    *,
    out: Path | None = None,
    seed: int = 0,
    effort: Effort = "normal",
    only: frozenset[str] | None = None,
    cores: int = 1,
    progress: Progress | None = None,
) -> MakeResult:
    """Make all files of a job, prove them, and put them in the output folder (default `out/<job's name>`).

    `only` limits the kinds of file to some of gcode, dxf and picture. With more than one of the processor's `cores` a
    job of many parts is shared out among new processes, for which a script must be guarded by `__name__`. Raises
    InputError with everything wrong in the job; a failed proof is in the result.
    """
    clock = _Clock(progress)
    with clock.stage("reading"):
        job, items = read_order(job_path)
        machine, cutter = job.machine, choose_cutter(job, job.machine, smallest_hole=_smallest_hole(items))
    with clock.stage("layout"):
        layout = lay_out_job(job, items, cutter, seed=seed, effort=effort, progress=progress)
    locations = {item.name: item.location for item in items}
    units = job.file.units
    _refuse(unfit_parts(layout.boards, cutter=cutter, machine=machine, units=units, locations=locations))
    with processes(sum(len(board.placements) for board in layout.boards), cores=cores) as executor:
        with clock.stage("cuts"):
            cuts, cut_warnings = cut_layouts(
                layout.boards, cutter=cutter, machine=machine, units=units, locations=locations, executor=executor
            )
        with clock.stage("boards"):
            order = Order(title=job.file.title, units=units, machine=machine, boards=len(cuts), only=only)
            finished = finish_boards(cuts, order, executor=executor)
    report = joined([board.proof for board in finished])
    programs = tuple(board.program for board in finished if board.program is not None)
    with clock.stage("folder"):
        program_warnings = [f"{program.board}: {warning}" for program in programs for warning in program.warnings]
        standing = keep_out_warnings([entry.stock for entry in job.entries], layout=layout, machine=machine, unit=units)
        warnings = (*_design_warnings(items), *_rod_warnings(job, items), *standing, *cut_warnings, *program_warnings)
        files = {name: data for board in finished for name, data in board.files.items()}
        plan = plan_of(
            title=job.file.title,
            units=job.file.units,
            machine=machine,
            items=items,
            layout=layout,
            stock=job.boards,
            programs=programs,
            drawings=[board.drawing for board in finished if board.drawing is not None],
            warnings=warnings,
            cautions=_cautions(layout, machine),
            files=list(files),
            proof={
                "passed": report.passed,
                "worst_gouge_mm": report.worst_gouge,
                "worst_left_mm": report.worst_left,
            },
        )
        folder = out if out is not None else Path("out") / job_path.stem
        files["plan.json"] = write_plan(plan)
        if report.passed:
            replace_folder(folder, files)
    for stage in ("program", "files", "proof"):
        clock.seconds[stage] = sum(board.seconds[stage] for board in finished)
    return MakeResult(
        folder=folder,
        plan=plan,
        proof=report,
        seconds=clock.seconds,
        items=items,
        layout=layout,
        programs=programs,
        files=files,
    )


def read_order(job_path: Path) -> tuple[Job, tuple[Item, ...]]:
    """Read a job file and build its items. Raises InputError with the mistakes of the file and of every design."""
    try:
        job = read_job(job_path)
    except InputError as error:
        raise InputError(_with_designs(job_path, error.problems)) from None
    items, problems = order_items(job.source, folder=job.folder, thickness=job.boards[0].thickness)
    _refuse([*_mixed_thickness(job), *problems])
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


def _smallest_hole(items: Sequence[Item]) -> float:
    return min((hole.diameter for item in items for part in item.build.shaped for hole in part.holes), default=math.inf)


def _mixed_thickness(job: Job) -> Sequence[Problem]:
    """A part may come off any board of a job, so all must be equally thick."""
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
        if abs(board.thickness - (first.thickness if stated is None else stated)) > TOLERANCES.same_point
    ]


def lay_out_job(
    job: Job, items: Sequence[Item], cutter: Cutter, *, seed: int, effort: Effort, progress: Progress | None
) -> Layout:
    """Lay the items' parts on the job's boards, and check that the machine takes what lies on it then."""
    machine, file = job.machine, job.file
    _refuse(_narrow_gap(job, items, cutter))
    boards = job.boards
    if not any(item.build.sawn for item in items):
        # With nothing sawn off first, a board too long for the machine is known before the search.
        boards = _within_reach(job, cutter)
    layout = lay_out(
        items,
        boards,
        gap=cutter.diameter + machine.cutting.web if file.gap is None else file.gap,
        edge_margin=machine.cutting.edge_margin if file.edge_margin is None else file.edge_margin,
        stack=file.stack,
        saw_kerf=machine.saw_kerf,
        seed=seed,
        effort=effort,
        progress=progress,
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
    _refuse(list(told.values()))
    return layout


def _within_reach(job: Job, cutter: Cutter) -> tuple[Board, ...]:
    """The boards the machine takes whole. One of the job's own that is too large is refused; one in stock stays there."""
    found = {
        entry.board: check_boards([entry.board], job.machine, cutter, 1, unit=job.file.units, where=job.board_location)
        for entry in job.entries
    }
    fit = tuple(board for board, problems in found.items() if not problems)
    _refuse(
        [problem for entry in job.entries if entry.source is job.source or not fit for problem in found[entry.board]]
    )
    return fit


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


def _refuse(problems: Sequence[Problem]) -> None:
    if problems:
        raise InputError(problems)


def _design_warnings(items: Sequence[Item]) -> list[str]:
    return [f'item "{item.name}": {warning}' for item in items for warning in item.build.warnings]


def _rod_warnings(job: Job, items: Sequence[Item]) -> tuple[str, ...]:
    return rod_warnings(items, job.rods, saw_kerf=job.machine.saw_kerf, unit=job.file.units)


def _cautions(layout: Layout, machine: Machine) -> list[str]:
    """The cautions that these boards and this machine call for, each once."""
    cautions = {
        caution.full: None
        for board in layout.boards
        for caution in cautions_for(kind=machine.kind, material=board.board.material, stack=board.stack)
    }
    return list(cautions)


class _Clock:
    """Tells what is being done, and how long each stage took."""

    def __init__(self, progress: Progress | None) -> None:
        self._progress = progress
        self.seconds: dict[str, float] = {}

    def stage(self, name: str) -> _Stage:
        if self._progress is not None:
            self._progress(name)
        return _Stage(name, self.seconds)


class _Stage:
    def __init__(self, name: str, seconds: dict[str, float]) -> None:
        self._name, self._seconds = name, seconds

    def __enter__(self) -> None:
        self._start = time.perf_counter()

    def __exit__(self, *_: object) -> None:
        self._seconds[self._name] = time.perf_counter() - self._start
