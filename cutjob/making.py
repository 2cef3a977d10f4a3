"""From a job file to a folder of proven files: one line per stage, top to bottom. Read this first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, get_args

from cutjob.errors import InputError
from cutjob.finishing import Finished, Order, finish_boards, joined, processes, prove_paper
from cutjob.holding.room import MoreRoom
from cutjob.job.holding_keys import held_machine
from cutjob.job.job import Job
from cutjob.job.paper import PatternsWanted
from cutjob.laying_out import JobCuts, boards_left_aside, cut_job, lay_out_held, lay_out_job, leftover_rule
from cutjob.layout.holding import HeldBy
from cutjob.layout.layout import Layout
from cutjob.layout.leftovers import sawn_leftovers
from cutjob.layout.search.progress import SEARCH_STAGE, Remembering, Watch
from cutjob.order import cutters_for, fitted_items, read_order, refuse
from cutjob.output.costs import Prices, SticksSawn, item_costs
from cutjob.output.folder import remove_refused, replace_folder, write_refused
from cutjob.output.leftovers import LEFTOVERS_FILE, kept_leftovers, stick_entries, title_of, write_leftovers
from cutjob.output.paper.files import PATTERNS_FILE, OnPaper, paper_files
from cutjob.output.picture.findings import findings_picture, ring_numbers
from cutjob.output.picture.png import check_png
from cutjob.output.plan.patterns import patterns_data
from cutjob.output.plan.plan import plan_of, proof_data, write_plan
from cutjob.output.sheet.notebook import result_html
from cutjob.output.sheet.sheet import SHEET_FILE, write_job_sheet
from cutjob.output.stock_file import check_stock_file, keep_in_stock, kept_of
from cutjob.output.words.cautions import job_cautions, keep_out_warnings
from cutjob.parts.part import Item, pockets_left, with_hand_holes
from cutjob.program.moves import Program
from cutjob.proof.finding import ProofReport
from cutjob.stages import KINDS, Clock, Effort, Progress
from cutjob.sticks.lists import StickList, stick_lists, stick_warnings
from cutjob.units import Unit


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class MakeResult:
    """What a run came to: plan.json's content, the proof, and the seconds each stage took.

    Of the stage `boards`, `program`, `files` and `proof` are the shares, added up over boards that may run at once.
    The files are in `folder` when the proof passed; otherwise the folder is as it was, and `refused` is a folder with
    pictures of what was found, where `rings` are the numbers of the findings' rings.
    """

    folder: Path
    plan: dict[str, Any]
    proof: ProofReport
    seconds: dict[str, float]
    items: tuple[Item, ...]
    layout: Layout
    programs: tuple[Program, ...]
    files: dict[str, bytes]
    refused: Path | None = None
    rings: tuple[int | None, ...] = ()

    def __repr__(self) -> str:
        """One line: what was made, whether it is proven, and where it is."""
        counts = ((len(self.layout.boards), "board layout"), (len(self.programs), "program"), (len(self.files), "file"))
        made = ", ".join(f"{count} {what}{'' if count == 1 else 's'}" for count, what in counts)
        proven = "proven" if self.proof.passed else f"not proven, {len(self.proof.findings)} found"
        return f"<MakeResult {self.plan['title']!r}: {made}; {proven}; {self.folder}>"

    def _repr_html_(self) -> str:
        """What a notebook shows: the figures and the boards' pictures."""
        return result_html(self.plan, self.layout, self.programs)


def make_job(
    job_path: Path,
    *,
    out: Path | None = None,
    seed: int = 0,
    effort: Effort = "normal",
    seconds: float | None = None,
    only: frozenset[str] | None = None,
    png: bool = False,
    cores: int = 1,
    keep_offcuts: Path | None = None,
    progress: Progress | None = None,
    watch: Watch | None = None,
) -> MakeResult:
    """Make all files of a job, prove them, and put them in the output folder (default `out/<job's name>`).

    The layout is searched for with an `effort`, the same seed and effort giving the same layout, or for so many
    `seconds`, which take its place. `progress` is called with the name of every stage as it begins; `watch` sees how
    far the search is, and may end it with the best layout so far. `only` limits the kinds of file to some of gcode,
    dxf, picture, pattern, label and sheet; `png` has each board's picture written as PNG as well. With more than one
    of the processor's `cores` a job of many parts is shared out among new processes, for which a script must be
    guarded by `__name__`. `keep_offcuts` names a file of stock that what is left of the boards is put in, and where the
    boards taken from it are marked, once all is proven.
    Raises InputError with everything wrong in the job, ValueError for what is asked for wrongly; a failed proof is in
    the result.
    """
    _refuse_odd(seed=seed, effort=effort, seconds=seconds, only=only, cores=cores)
    clock = Clock(progress)
    if png:
        check_png()
        only = None if only is None else only | {"picture"}
    with clock.stage("reading"):
        if keep_offcuts is not None:
            check_stock_file(keep_offcuts)
        job, items = read_order(job_path)
        machine, holding_warnings, wrong = held_machine(job, items)
        cutters = cutters_for(job, items)
        cutter = cutters.outline
        items, fitting_warnings, problems = fitted_items(job, items, cutter)
        refuse([*wrong, *problems])
    looking_on = Remembering(watch)
    asked_effort = effort
    units = job.file.units
    with processes(sum(item.count * len(item.build.shaped) for item in items), cores=cores) as executor:

        def lay_out(*, more: MoreRoom | None = None, effort: Effort | None = None, again: int = 0) -> Layout:
            with clock.stage(SEARCH_STAGE):
                return lay_out_job(
                    job,
                    items,
                    machine,
                    cutters,
                    seed=seed + again,
                    effort=effort or asked_effort,
                    seconds=seconds if effort is None else None,
                    watch=looking_on,
                    more=more,
                )

        def cut(layout: Layout, by: HeldBy) -> JobCuts:
            with clock.stage("cuts"):
                return cut_job(job, items, layout, machine, cutters, by=by, executor=executor)

        held = lay_out_held(job, machine, cutters, lay_out=lay_out, cut=cut, effort=effort)
        laid, cuts, cut_warnings = held.layout, held.cuts.boards, held.cuts.warnings
        layout = replace(laid, boards=tuple(board.layout for board in cuts))
        with clock.stage("boards"):
            rule = leftover_rule(job, cutter)
            order = Order(
                title=job.file.title,
                units=units,
                machine=machine,
                boards=len(cuts),
                only=only,
                png=png,
                leftovers=rule,
            )
            finished = finish_boards(cuts, order, executor=executor)
    report = joined([board.proof for board in finished])
    programs = tuple(program for board in finished for program in board.programs)
    with clock.stage("sticks"):
        sticks = stick_lists(items, (*job.rods, *job.strips), saw_kerf=machine.saw_kerf, end_trim=job.file.end_trim)
    with clock.stage("paper"):
        on_paper = paper_files(layout, items, file=job.file, machine=machine, only=only)
        paper_proof = prove_paper(on_paper, layout, job.file.patterns or PatternsWanted())
        report = joined([report, *([] if paper_proof is None else [paper_proof])])
    with clock.stage("folder"):
        program_warnings = list(
            dict.fromkeys(
                f"{program.board}: {warning}"
                for program in programs
                for warning in program.warnings
                if warning not in cut_warnings
            )
        )
        standing = keep_out_warnings([entry.stock for entry in job.entries], layout=layout, machine=machine, unit=units)
        warnings = (
            *_design_warnings(items),
            *stick_warnings(sticks, unit=job.file.units),
            *([_not_booked(keep_offcuts)] if sticks and keep_offcuts is not None else ()),
            *(pockets_left(items, units) if machine.kind == "pattern" else ()),
            *standing,
            *holding_warnings,
            *fitting_warnings,
            *cut_warnings,
            *program_warnings,
            *on_paper.warnings,
            *_bought_warnings(job, items),
        )
        files = {name: data for board in finished for name, data in board.files.items()} | on_paper.files
        leftovers = (
            *(left for board in finished for left in board.leftovers),
            *sawn_leftovers(laid.boards, laid.after_sawing, edge_margin=rule.edge_margin, least=rule.least),
        )
        kept = kept_leftovers(leftovers, title=title_of(job), units=units)
        rests = tuple(stick_entries(sticks, title=title_of(job), units=units, least=job.file.least_leftover[0]))
        if (kept or rests) and only is None:
            files[LEFTOVERS_FILE] = write_leftovers(kept, title=job.file.title, units=units, sticks=rests)
        sheet = [SHEET_FILE] if only is None or "sheet" in only else []
        told = with_hand_holes(items) if machine.kind == "pattern" else items
        cautions = job_cautions(
            layout,
            machine=machine,
            programs=programs,
            sticks=bool(sticks),
            drilled=any(item.build.hand_holes for item in told),
        )
        plan = plan_of(
            title=job.file.title,
            units=job.file.units,
            machine=machine,
            items=told,
            layout=layout,
            search=_search(seed, effort, seconds, stopped=looking_on.stopped),
            stock=job.boards,
            programs=programs,
            drawings=[board.drawing for board in finished if board.drawing is not None],
            warnings=warnings,
            cautions=[caution.full for caution in cautions],
            files=[*files, *sheet],
            proof=proof_data(report),
            patterns=_patterns(on_paper, layout, job),
            leftovers=kept,
            sticks=sticks,
            left_aside=boards_left_aside(job, items, cutter),
            bought_prices={one.name: one.price for one in job.file.bought},
            costs=item_costs(
                items, layout, stock=job.boards, programs=programs, machine=machine, prices=_prices(job, sticks)
            ),
        )
        if sheet:
            files[SHEET_FILE] = write_job_sheet(
                plan,
                layout=layout,
                items=items,
                machine=machine,
                stock=job.boards,
                programs=programs,
                leftovers=leftovers,
            )
        folder = out if out is not None else Path("out") / job_path.stem
        files["plan.json"] = write_plan(plan)
        if report.passed and keep_offcuts is not None:
            change = kept_of(job, layout, leftovers, keep_offcuts)
            keep_in_stock(keep_offcuts, change, before=lambda: replace_folder(folder, files))
        elif report.passed:
            replace_folder(folder, files)
        refused: Path | None = None
        rings: tuple[int | None, ...] = (None,) * len(report.findings)
        if report.passed:
            remove_refused(folder)
        else:
            refused, rings = _show_refused(folder, plan, finished, layout, units=units, title=job.file.title)
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
        refused=refused,
        rings=rings,
    )


def _show_refused(
    folder: Path, plan: dict[str, Any], finished: Sequence[Finished], layout: Layout, *, units: Unit, title: str
) -> tuple[Path | None, tuple[int | None, ...]]:
    """Write a picture of every board beside the output folder, with what the proof found ringed, and no cutting file.

    Returns where, or None where that is refused too, and the number of each finding's ring.
    """
    pictures = {
        f"{board.id}.svg": findings_picture(
            board, findings=one.proof.findings, programs=one.programs, units=units, title=f"Not proven: {title}"
        )
        for board, one in zip(layout.boards, finished, strict=True)
    }
    rings = tuple(ring for one in finished for ring in ring_numbers(one.proof.findings))
    data = write_plan({**plan, "files": sorted(pictures)})
    try:
        return write_refused(folder, {**pictures, "plan.json": data}), rings
    except InputError:
        return None, (None,) * len(rings)


def _refuse_odd(*, seed: int, effort: str, seconds: float | None, only: frozenset[str] | None, cores: int) -> None:
    """Raise ValueError for what no run can be asked for, with what can."""
    if isinstance(seed, bool) or not isinstance(seed, int) or seed < 0:
        raise ValueError(f"seed: {seed!r} is no whole number from 0")
    if effort not in get_args(Effort):
        raise ValueError(f"effort: {effort!r} is none of {', '.join(get_args(Effort))}")
    if seconds is not None and not 0 < seconds < math.inf:
        raise ValueError(f"seconds: {seconds!r}; the seconds to search for must be more than 0")
    for kind in sorted(only or ()):
        if kind not in KINDS:
            raise ValueError(f"only: {kind!r} is none of {', '.join(KINDS)}")
    if only is not None and not only:
        raise ValueError(f"only: nothing is named; some of {', '.join(KINDS)}, or leave it out for all")
    if isinstance(cores, bool) or not isinstance(cores, int) or cores < 1:
        raise ValueError(f"cores: {cores!r} is no whole number from 1")


def _patterns(paper: OnPaper, layout: Layout, job: Job) -> dict[str, Any] | None:
    """What the patterns show, for the plan."""
    if paper.patterns is None:
        return None
    return patterns_data(paper.patterns, layout, job.file.patterns or PatternsWanted(), file=PATTERNS_FILE)


def _search(seed: int, effort: Effort, seconds: float | None, *, stopped: bool) -> dict[str, Any]:
    """How the layout was searched for; where the clock had a say, another run may give another layout."""
    asked = {"effort": effort} if seconds is None else {"seconds": seconds}
    return {"seed": seed, **asked, "stopped": stopped, "clock_decided": stopped or seconds is not None}


def _design_warnings(items: Sequence[Item]) -> list[str]:
    return [f'item "{item.name}": {warning}' for item in items for warning in item.build.warnings]


def _prices(job: Job, sticks: Sequence[StickList]) -> Prices:
    bought = {one.name: one.price for one in job.file.bought}
    sawn = {one.section: SticksSawn(cost=one.cost, longest=one.longest) for one in sticks if one.cost is not None}
    return Prices(sticks=sawn, bought=bought, shop_rate=job.file.shop_rate)


def _not_booked(stock: Path) -> str:
    return (
        f"{stock.name}: only boards are kept account of there; lower the counts of rods and strips by hand, and add "
        f"their rests from {LEFTOVERS_FILE}"
    )


def _bought_warnings(job: Job, items: Sequence[Item]) -> list[str]:
    """Prices for what no item needs: most likely a name written otherwise than the design writes it."""
    needed = list(dict.fromkeys(thing.name for item in items for thing in item.build.bought))
    known = f"to buy are: {', '.join(needed)}" if needed else "nothing is to be bought"
    return [f'bought "{one.name}": no item needs it; {known}' for one in job.file.bought if one.name not in needed]
