"""A job's plan as the page shows it: the boards, the figures, and what the proof found. Plain data, ready to be sent.

The first plan is there in a fraction of a second: the boards of a short search, the machine's time and the costs,
before it is known how the boards are held. Its figures are near those of the finished job, but nothing of it is cut.
"""

from __future__ import annotations

from typing import Any, Literal, TypeAlias

from cutjob.cuts.board_cuts import cut_layouts
from cutjob.errors import errors_in
from cutjob.finishing import Finished
from cutjob.holding.hold import Held
from cutjob.holding.screws import with_windows
from cutjob.laying_out import HeldLayout, JobCuts, held_job, lay_out_wood
from cutjob.layout.layout import BoardLayout, Layout, Placement
from cutjob.layout.search.progress import Watch
from cutjob.making import WorkedOut, job_result
from cutjob.output.paper.files import OnPaper
from cutjob.output.picture.key import class_words, sign
from cutjob.program.program import programs_of
from cutjob.proof.finding import ProofReport
from cutjob.reports.chosen import chosen_lines
from cutjob.reports.money import Rows, batch_lines, cost_rows, given_lines, money_data, price_rows
from cutjob.reports.sheet import facts
from cutjob.reports.sheet.notebook import board_view
from cutjob.resolved import ResolvedJob, ResolvedWood
from cutjob.result import JobResult
from cutjob.stages import Effort, Stop, go_on
from cutjob.sticks.lists import stick_lists

PlanStep: TypeAlias = Literal["first", "proven"]
_SHORT = 0.02  # of the quick search
_MOST_BOARDS = 60  # layouts drawn on the page
_NOTHING = ProofReport(findings=(), worst_gouge=0.0, worst_left=0.0)


def first_plan(resolved: ResolvedJob, *, seed: int, watch: Watch | None = None, stop: Stop | None = None) -> JobResult:
    """Return a job's first plan. Raises InputError where something does not fit, and StoppedError."""
    with errors_in(resolved.units):
        woods: list[tuple[ResolvedWood, HeldLayout]] = []
        for wood in resolved.woods:
            go_on(stop)
            first = 1 + sum(len(held.layout.boards) for _, held in woods)
            layout = lay_out_wood(wood, seed=seed, effort="quick", share=_SHORT, first=first, watch=watch)
            bare = [with_windows(board, machine=wood.machine, cutter=wood.cutters.outline) for board in layout.boards]
            cuts, warnings = cut_layouts(
                bare,
                cutters=wood.cutters,
                machine=wood.machine,
                gap=layout.gap,
                locations={item.name: item.location for item in wood.items},
                exact=set(),
            )
            not_held = JobCuts(held=tuple(Held(board=board) for board in cuts), warnings=warnings)
            woods.append((wood, HeldLayout(layout=layout, cuts=not_held, by=wood.job.file.board_held_by)))
        held = held_job(woods)
        finished = []
        for board in held.boards:
            go_on(stop)
            programs = programs_of(board, machine=resolved.machine) if resolved.machine.runs_gcode else ()
            finished.append(Finished(files={}, programs=programs, drawings=(), proof=_NOTHING, seconds={}))
        sticks = stick_lists(
            resolved.items,
            (*resolved.job.rods, *resolved.job.strips),
            saw_kerf=resolved.machine.saw_kerf,
            end_trim=resolved.job.file.end_trim,
        )
        return job_result(resolved, held, finished, sticks=sticks, on_paper=OnPaper(files={}, warnings=()))


def plan_data(job: JobResult, *, step: PlanStep, effort: Effort | None = None) -> dict[str, Any]:
    """Return a plan as data: its boards with their pictures, its figures in words, and the money of each item."""
    return {
        "step": step,
        "effort": effort,
        "boards": [_board(board, job) for board in job.layout.boards[:_MOST_BOARDS]],
        "more_boards": max(0, len(job.layout.boards) - _MOST_BOARDS),
        "summary": [[name, said] for name, said in facts.summary(job)],
        "costs": _table(cost_rows(job)),
        "prices": _table(price_rows(job)),
        "sold": [*chosen_lines(job), *batch_lines(job), *given_lines(job)],
        "chosen": [] if job.chosen is None else [[one.name, one.count, one.open] for one in job.chosen.items],
        "money": money_data(job),
        "warnings": list(job.warnings),
        "cautions": [caution.full for caution in job.cautions],
        "used": [[one.board.name, one.count] for one in job.boards_used],
        "seconds": round(job.machine_seconds, 1),
    }


def _board(board: BoardLayout, job: JobResult) -> dict[str, Any]:
    view = board_view(
        board,
        programs=job.programs_of(board),
        leftovers=[kept.leftover for kept in job.leftovers if kept.leftover.layout == board.id],
        units=job.units,
        title=f"{board.id}: the layout",
        sets=job.sets,
    )
    return {
        "id": board.id,
        "board": board.board.name,
        "line": facts.board_line(board, job.programs_of(board)),
        "svg": view.svg,
        "left": view.left,
        "bottom": view.bottom,
        "width": view.width,
        "height": view.height,
        "key": [[sign(name), class_words(name)] for name in view.classes],
        "parts": [_part(number, placement) for number, placement in enumerate(board.placements, start=1)],
        "bridges": _bridges(board),
        "numbers": _numbers(board, job.layout),
        "copies": board.copies,
        "stack": board.stack,
    }


def _numbers(board: BoardLayout, layout: Layout) -> list[int]:
    """The first and the last number of the boards of this kind among those of its name, sawn ones first: as a part that
    is kept names its board.
    """
    start = 1
    for one in sorted(layout.after_sawing or (board.board,), key=lambda one: one.sawn_off == 0):
        if one.name != board.board.name:
            continue
        if one.sawn_off == board.board.sawn_off and one.outline == board.board.outline:
            return [start, start + one.count - 1]
        start += one.count
    return [1, 1]


def _part(number: int, placement: Placement) -> dict[str, Any]:
    """A part on a board: how it lies, and its box there, mm."""
    return {
        "number": number,
        "item": placement.item,
        "unit": placement.unit,
        "part": placement.part.name,
        "turned": placement.transform.degrees,
        "mirrored": placement.transform.mirrored,
        "at": [placement.transform.x, placement.transform.y],
        "box": list(placement.region.bounds),
    }


def _bridges(board: BoardLayout) -> list[dict[str, Any]]:
    """The bridges at parts: the part's number, and where each stands, on the board and in the part's frame, mm."""
    holding = board.holding
    if holding is None:
        return []
    found = []
    for bridge in holding.bridges:
        for node, at in zip(bridge.joins, bridge.ends, strict=True):
            if node < len(board.placements):
                own = board.placements[node].transform.inverse().point(at)
                found.append({"number": node + 1, "at": list(at), "own": [round(own[0], 3), round(own[1], 3)]})
    return found


def _table(rows: Rows) -> dict[str, Any]:
    heads, lines = rows
    return {"heads": list(heads), "rows": [list(line) for line in lines]}


def proof_words(job: JobResult, proof: ProofReport) -> dict[str, Any]:
    """Return what the proof found, as data."""
    return {
        "passed": proof.passed,
        "findings": [finding.words(job.units) for finding in proof.findings[:20]],
        "more": max(0, len(proof.findings) - 20),
        "worst_gouge": proof.worst_gouge,
        "worst_left": proof.worst_left,
    }


def made_data(made: WorkedOut, *, effort: Effort) -> dict[str, Any]:
    """Return a plan that is worked out to its last file."""
    return {
        **plan_data(made.job, step="proven", effort=effort),
        "proof": proof_words(made.job, made.proof),
        "files": sorted([*made.files, "plan.json"]),
        "stopped": bool(made.job.search and made.job.search.stopped),
    }
