"""From a job file to a folder of proven files: one line per stage, top to bottom. Read this first."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from cutjob.cuts.board_cuts import BoardCuts, cut_layouts
from cutjob.designs.evaluate import evaluate
from cutjob.errors import InputError, Problem
from cutjob.geometry.offset import offset
from cutjob.job.board_checks import check_boards, choose_cutter
from cutjob.job.job import Job
from cutjob.job.machine import Cutter, Machine
from cutjob.job.read_job import read_job
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.layout.layout_job import lay_out
from cutjob.layout.rods import rod_warnings
from cutjob.output.cautions import cautions_for
from cutjob.output.dxf import DrawnPart, as_drawn, write_dxf
from cutjob.output.folder import replace_folder
from cutjob.output.gcode import write_gcode
from cutjob.output.picture import write_picture
from cutjob.output.plan import DrawingFile, plan_of, write_plan
from cutjob.parts.part import Item
from cutjob.program.moves import Program
from cutjob.program.program import program_of
from cutjob.proof.expect import ExpectedDrawing, ExpectedProgram, ExpectedTab
from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove

Effort = Literal["quick", "normal", "best"]
Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class MakeResult:
    """What a run came to: plan.json's content, the proof, and the seconds each stage took.

    The files are in `folder` when the proof passed; otherwise the folder is as it was.
    """

    folder: Path
    plan: dict[str, Any]
    proof: ProofReport
    seconds: dict[str, float]
    layout: Layout
    programs: tuple[Program, ...]


def make_job(
    job_path: Path,
    *,
    out: Path | None = None,
    seed: int = 0,
    effort: Effort = "normal",
    only: frozenset[str] | None = None,
    progress: Progress | None = None,
) -> MakeResult:
    """Make all files of a job, prove them, and put them in the output folder (default `out/<job's name>`).

    `only` limits the kinds of file to some of gcode, dxf and picture. Raises InputError with everything wrong in the
    job; a failed proof is in the result.
    """
    clock = _Clock(progress)
    with clock.stage("reading"):
        job = read_job(job_path)
        machine, cutter = job.machine, choose_cutter(job, job.machine)
        items = evaluate_items(job)
    with clock.stage("layout"):
        layout = lay_out_job(job, items, cutter, seed=seed, effort=effort, progress=progress)
    with clock.stage("cuts"):
        cuts, cut_warnings = cut_layouts(
            layout.boards,
            cutter=cutter,
            machine=machine,
            units=job.file.units,
            locations={item.name: item.location for item in items},
        )
    with clock.stage("program"):
        programs = make_programs(cuts, machine)
    with clock.stage("files"):
        files, drawings = write_files(job.file.title, job.file.units, layout, programs, machine, cutter, only)
    with clock.stage("proof"):
        report = prove_files(files, layout, programs, drawings, machine)
    with clock.stage("folder"):
        warnings = (*_design_warnings(items), *_rod_warnings(job, items), *cut_warnings)
        plan = plan_of(
            title=job.file.title,
            units=job.file.units,
            machine=machine,
            items=items,
            layout=layout,
            programs=programs,
            drawings=drawings,
            warnings=warnings,
            cautions=_cautions(layout, machine),
            proof={
                "passed": report.passed,
                "worst_gouge_mm": report.worst_gouge,
                "worst_left_mm": report.worst_left,
            },
        )
        folder = out if out is not None else Path("out") / job_path.stem
        if report.passed:
            replace_folder(folder, {"plan.json": write_plan(plan), **files})
    return MakeResult(folder=folder, plan=plan, proof=report, seconds=clock.seconds, layout=layout, programs=programs)


def evaluate_items(job: Job) -> tuple[Item, ...]:
    """Build the items of the order; every mistake of every line is raised at once."""
    problems: list[Problem] = list(_mixed_thickness(job))
    items = []
    for index, make in enumerate(job.file.make):
        try:
            items.append(
                evaluate(
                    make,
                    unit=job.file.units,
                    location=job.make_location(index),
                    key_locations=job.change_locations(index),
                    folder=job.folder,
                    thickness=job.boards[0].thickness,
                )
            )
        except InputError as error:
            problems.extend(error.problems)
    if problems:
        raise InputError(problems)
    return tuple(items)


def _mixed_thickness(job: Job) -> Sequence[Problem]:
    """A part may come off any board of a job, so all must be equally thick."""
    first = job.boards[0]
    return [
        Problem(
            location=job.board_location(board, "thickness"),
            place=f'board "{board.name}": thickness',
            message=f'differs from that of board "{first.name}", and a part may come off either',
            advice="make one job for each thickness",
        )
        for board in job.boards[1:]
        if board.thickness != first.thickness
    ]


def lay_out_job(
    job: Job, items: Sequence[Item], cutter: Cutter, *, seed: int, effort: Effort, progress: Progress | None
) -> Layout:
    """Lay the items' parts on the job's boards, and check that the machine takes what lies on it then."""
    machine, file = job.machine, job.file
    if not any(item.build.sawn for item in items):
        # With nothing sawn off first, a board too long for the machine is known before the search.
        _refuse(check_boards(job.boards, machine, cutter, 1, unit=file.units, where=job.board_location))
    layout = lay_out(
        items,
        job.boards,
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
        for board in layout.boards
        for problem in check_boards(
            [board.board], machine, cutter, board.stack, unit=file.units, where=job.board_location
        )
    ]
    _refuse(list({str(problem): problem for problem in problems}.values()))
    return layout


def _refuse(problems: Sequence[Problem]) -> None:
    if problems:
        raise InputError(problems)


def make_programs(cuts: Sequence[BoardCuts], machine: Machine) -> tuple[Program, ...]:
    """Put each board's cuts in order; none for a machine that reads no G-code."""
    return tuple(program_of(cut, machine=machine) for cut in cuts) if "gcode" in machine.writes else ()


def write_files(
    title: str,
    units: Literal["in", "mm"],
    layout: Layout,
    programs: Sequence[Program],
    machine: Machine,
    cutter: Cutter,
    only: frozenset[str] | None,
) -> tuple[dict[str, bytes], tuple[DrawingFile, ...]]:
    """Return the files of all boards by name, and what each drawing is for."""
    files: dict[str, bytes] = {}
    drawings = []
    by_board = {program.board: program for program in programs}
    for number, board in enumerate(layout.boards, start=1):
        program = by_board.get(board.id)
        if program is not None and _wanted("gcode", only):
            order = f"{number} of {len(layout.boards)}"
            files[program.file] = write_gcode(program, layout=board, machine=machine, title=title, order=order)
        if "dxf" in machine.writes and _wanted("dxf", only):
            drawn, by = drawn_parts(board, machine, cutter)
            drawings.append(DrawingFile(file=f"{board.id}.dxf", board=board.id, offset=by))
            files[f"{board.id}.dxf"] = write_dxf(board, machine=machine, drawn=drawn)
        if _wanted("picture", only):
            files[f"{board.id}.svg"] = write_picture(board, program=program, units=units, title=title)
    return files, tuple(drawings)


def _wanted(kind: str, only: frozenset[str] | None) -> bool:
    return only is None or kind in only


def drawn_parts(board: BoardLayout, machine: Machine, cutter: Cutter) -> tuple[tuple[DrawnPart, ...], float]:
    """Return the parts as a drawing shows them, and how far their outlines were moved: half the kerf or nothing."""
    parts = as_drawn(board, cutter_diameter=cutter.diameter)
    if machine.drawing.outlines == "as drawn":
        return parts, 0.0
    by = cutter.radius
    moved = tuple(
        DrawnPart(
            outline=offset(part.outline, by)[0],
            holes=tuple(path for hole in part.holes for path in offset(hole, -by)),
            circles=tuple(replace(circle, diameter=circle.diameter - 2 * by) for circle in part.circles),
            marks=part.marks,
        )
        for part in parts
    )
    return moved, by


def prove_files(
    files: Mapping[str, bytes],
    layout: Layout,
    programs: Sequence[Program],
    drawings: Sequence[DrawingFile],
    machine: Machine,
) -> ProofReport:
    """Read the written files back and compare them with the parts."""
    boards = {board.id: board for board in layout.boards}
    return prove(
        files,
        programs=[
            ExpectedProgram(
                file=program.file,
                board=boards[program.board],
                cutter=program.cutter,
                origin=program.origin,
                stock_top_z=boards[program.board].height if machine.motion.z_zero == "spoilboard" else 0.0,
                overcut=machine.cutting.overcut,
                tabs=tuple(
                    ExpectedTab(placement=tab.placement, at=tab.at, width=tab.width, height=tab.height)
                    for tab in program.tabs
                ),
            )
            for program in programs
            if program.file in files
        ],
        drawings=[
            ExpectedDrawing(file=drawing.file, board=boards[drawing.board], offset=drawing.offset)
            for drawing in drawings
        ],
        machine=machine,
    )


def _design_warnings(items: Sequence[Item]) -> list[str]:
    return [f'item "{item.name}": {warning}' for item in items for warning in item.build.warnings]


def _rod_warnings(job: Job, items: Sequence[Item]) -> tuple[str, ...]:
    return rod_warnings(items, job.file.rod, saw_kerf=job.machine.saw_kerf, unit=job.file.units)


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
