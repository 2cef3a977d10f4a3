"""From a job file to a folder of proven files: one line per stage, top to bottom. Read this first."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import get_args

from cutjob.choosing.choose import choose, question_of
from cutjob.costs.account import Account, Goods, account_of, coats_of
from cutjob.costs.chosen import HOURS_NOISE, Chosen, hours_of
from cutjob.costs.finishes import finishes_of
from cutjob.costs.prices import prices_of
from cutjob.costs.wood_used import boards_used
from cutjob.costs.work import amounts_of
from cutjob.errors import InputError, errors_in
from cutjob.files.source import Source
from cutjob.finishing import FilesWanted, Finished, finish_boards, joined, prove_paper, prove_patterns
from cutjob.holding.room import MoreRoom
from cutjob.holding.screws import bed_for_parts
from cutjob.job.job import Job
from cutjob.job.model import JobFile
from cutjob.job.paper import PatternsWanted, usual_paper
from cutjob.laying_out import HeldJob, HeldLayout, JobCuts, cut_wood, held_job, lay_out_held, lay_out_wood
from cutjob.layout.bounds import LeastBoards, least_boards, least_of_all
from cutjob.layout.hints import plan_hints
from cutjob.layout.holding import HeldBy
from cutjob.layout.layout import Layout
from cutjob.layout.leftovers import Leftover, sawn_leftovers
from cutjob.layout.rules import Clearance
from cutjob.layout.search.progress import SEARCH_STAGE, Remembering, Watch
from cutjob.layout.sets import sets_of
from cutjob.output.folder import remove_refused, replace_folder, write_refused
from cutjob.output.leftovers import LEFTOVERS_FILE, kept_leftovers, stick_entries, title_of, write_leftovers
from cutjob.output.paper.files import BOOKLET_FILE, OnPaper, paper_files
from cutjob.output.picture.findings import findings_picture, ring_numbers
from cutjob.output.picture.finished import Views, finished_picture, looks_of, picture_file
from cutjob.output.picture.png import check_png, write_png
from cutjob.output.stock_file import check_stock_file, keep_in_stock, kept_of
from cutjob.output.words.cautions import job_cautions, keep_out_warnings
from cutjob.parts.part import Item, pockets_left
from cutjob.program.moves import Program
from cutjob.program.program import programs_of
from cutjob.proof.finding import ProofReport
from cutjob.reports.money import COSTS_FILE, costs_csv
from cutjob.reports.plan.plan import plan_of, write_plan
from cutjob.reports.sheet.notebook import BoardView, board_views, result_html
from cutjob.reports.sheet.sheet import SHEET_FILE, write_job_sheet
from cutjob.resolved import ResolvedJob, ResolvedWood, order_of, read_order, resolve
from cutjob.result import JobResult, Search
from cutjob.stages import KINDS, Clock, Effort, Progress, Stop, go_on
from cutjob.sticks.lists import StickList, stick_lists, stick_warnings
from cutjob.units import each_spelled, spelled
from cutjob.workers import workers


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class MakeResult:
    """The outcome of a run: the finished `job`, its `plan` as in plan.json, and the seconds each stage took.

    The seconds of `program`, `files` and `proof` are parts of the stage `boards`, added up over boards, which may run
    at the same time. The files are in `folder` where the proof passed. Otherwise the folder is unchanged, `refused` is
    a folder with pictures of the findings, and `rings` has the numbers of the findings' rings in them.
    """

    job: JobResult
    folder: Path
    plan: dict[str, object]
    proof: ProofReport
    seconds: dict[str, float]
    files: dict[str, bytes]
    refused: Path | None = None
    rings: tuple[int | None, ...] = ()

    @property
    def items(self) -> tuple[Item, ...]:
        """What was made."""
        return self.job.items

    @property
    def layout(self) -> Layout:
        """All boards as they are cut and held."""
        return self.job.layout

    @property
    def programs(self) -> tuple[Program, ...]:
        """The programs of all boards."""
        return self.job.programs

    @property
    def pictures(self) -> tuple[BoardView, ...]:
        """The boards seen from above with the cutter's paths, as a notebook shows them."""
        return board_views(self.job)

    def __repr__(self) -> str:
        """One line: what was made, whether it is proven, and where it is."""
        return f"<MakeResult {repr(self.job).removeprefix('<JobResult ')[:-1]}; {self.folder}>"

    def _repr_html_(self) -> str:
        """What a notebook shows: the figures and the boards' pictures."""
        return result_html(self.job)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkedOut:
    """A job worked out to its last file, with nothing written yet.

    `files` are all files but the plan, by name; `boards` has the results of each board, `seconds` the time of each
    stage.
    """

    job: JobResult
    proof: ProofReport
    files: dict[str, bytes]
    boards: tuple[Finished, ...]
    seconds: dict[str, float]


def make_job(
    job_path: Path,
    *,
    source: Source | None = None,
    out: Path | None = None,
    seed: int = 0,
    effort: Effort = "normal",
    seconds: float | None = None,
    only: frozenset[str] | None = None,
    png: bool = False,
    cores: int = 1,
    executor: Executor | None = None,
    keep_offcuts: Path | None = None,
    progress: Progress | None = None,
    watch: Watch | None = None,
) -> MakeResult:
    """Make all files of a job, prove them, and put them in the output folder (default `out/<job's name>`).

    Where a `source` is given, it is not read again: `job_path` then only gives the job's name and the folder from which
    its files are looked for. The search for a layout ends after `seconds` where they are given, else with the `effort`;
    the same seed and effort give the same layout. `progress` is called with the name of every stage as it begins.
    `watch` sees how far the search is, and may end it with the best layout so far. `only` limits the kinds of file to
    some of gcode, dxf, picture, pattern, label, booklet and sheet; `png` writes the pictures as PNG as well. With more
    than one of the processor's `cores` a job of many parts is shared among new processes; a script must then be guarded
    by `__name__`. An `executor` of threads, processes or a cluster does the work of search and boards instead; the
    bytes are the same. `keep_offcuts` names a file of stock: once all is proven, the offcuts are added to it and the
    boards taken from it are marked.
    Raises InputError with every mistake in the job, ValueError for a wrong argument; a failed proof is in the result.
    """
    refuse_odd(seed=seed, effort=effort, seconds=seconds, only=only, cores=cores)
    clock = Clock(progress)
    if png:
        check_png()
        only = None if only is None else only | {"picture"}
    with clock.stage("reading"):
        if keep_offcuts is not None:
            check_stock_file(keep_offcuts)
        resolved = resolve(*(read_order(job_path) if source is None else order_of(source, job_path)))
    made = work_out(
        resolved,
        seed=seed,
        effort=effort,
        seconds=seconds,
        only=only,
        png=png,
        cores=cores,
        executor=executor,
        booked=keep_offcuts,
        watch=watch,
        clock=clock,
    )
    with clock.stage("folder"):
        folder = out if out is not None else default_folder(job_path)
        return write_out(made, resolved, folder=folder, keep_offcuts=keep_offcuts)


def default_folder(job_path: Path) -> Path:
    """Return the folder that a job's files go to where none is named."""
    return Path("out") / job_path.stem


def write_out(made: WorkedOut, resolved: ResolvedJob, *, folder: Path, keep_offcuts: Path | None = None) -> MakeResult:
    """Put the files of a job that is worked out in its folder, where they are proven; otherwise show the findings.

    `keep_offcuts` is the file of stock that the offcuts then go to. Raises InputError where the folder can't be
    written.
    """
    job, report = made.job, made.proof
    plan = plan_of(job)
    files = {**made.files, "plan.json": write_plan(plan)}
    refused: Path | None = None
    rings: tuple[int | None, ...] = (None,) * len(report.findings)
    if not report.passed:
        refused, rings = _show_refused(folder, job, plan, made.boards)
    elif keep_offcuts is not None:
        leftovers = [kept.leftover for kept in job.leftovers]
        change = kept_of(resolved.job, job.layout, leftovers, keep_offcuts)
        keep_in_stock(keep_offcuts, change, before=lambda: replace_folder(folder, files))
    else:
        replace_folder(folder, files)
    if report.passed:
        remove_refused(folder)
    return MakeResult(
        job=job,
        folder=folder,
        plan=plan,
        proof=report,
        seconds=made.seconds,
        files=files,
        refused=refused,
        rings=rings,
    )


def work_out(
    resolved: ResolvedJob,
    *,
    seed: int = 0,
    effort: Effort = "normal",
    seconds: float | None = None,
    only: frozenset[str] | None = None,
    png: bool = False,
    cores: int = 1,
    executor: Executor | None = None,
    booked: Path | None = None,
    watch: Watch | None = None,
    clock: Clock | None = None,
    stop: Stop | None = None,
) -> WorkedOut:
    """Return a job laid out, cut, written and proven, in memory: all files that `make_job` writes but plan.json.

    Counts that are left open are chosen first. Options are those of `make_job`; `booked` is the file of stock for the
    offcuts. Raises InputError, and StoppedError between two boards or layouts once `stop` says so.
    """
    clock = Clock(None) if clock is None else clock

    def worked(plain: ResolvedJob, judge: Callable[[Account], Chosen] | None = None) -> WorkedOut:
        return _worked_out(
            plain,
            seed=seed,
            effort=effort,
            seconds=seconds,
            only=only,
            png=png,
            cores=cores,
            executor=executor,
            booked=booked,
            watch=watch,
            clock=clock,
            stop=stop,
            judge=judge,
        )

    if not resolved.open_counts:
        return worked(resolved)
    with errors_in(resolved.units):
        with clock.stage("choosing"):
            question = question_of(resolved, seed=seed, effort=effort, stop=stop)
        return choose(question, worked, effort=effort)


def _worked_out(
    resolved: ResolvedJob,
    *,
    seed: int,
    effort: Effort,
    seconds: float | None,
    only: frozenset[str] | None,
    png: bool,
    cores: int,
    executor: Executor | None,
    booked: Path | None,
    watch: Watch | None,
    clock: Clock,
    stop: Stop | None,
    judge: Callable[[Account], Chosen] | None,
) -> WorkedOut:
    """A job with plain counts, worked out; `judge` says of its account what was chosen."""
    timed = clock
    looking_on = Remembering(watch)
    shaped = sum(item.count * len(item.build.shaped) for item in resolved.items)
    whole = sum(wood.weight for wood in resolved.woods)
    with errors_in(resolved.units), workers(executor, parts=shaped, cores=cores) as at_work:
        asked_effort, asked_seed = effort, seed

        def held_wood(wood: ResolvedWood, first: int) -> HeldLayout:
            clock_share = None if seconds is None else seconds * wood.weight / max(1, whole)

            def lay_out(
                *, more: MoreRoom | None = None, effort: Effort | None = None, again: int = 0, share: float = 1.0
            ) -> Layout:
                go_on(stop)
                with timed.stage(SEARCH_STAGE):
                    return lay_out_wood(
                        wood,
                        seed=asked_seed + again,
                        effort=effort or asked_effort,
                        share=share,
                        seconds=clock_share if effort is None else None,
                        watch=looking_on,
                        more=more,
                        first=first,
                        executor=None if executor is None else at_work,
                    )

            def cut(layout: Layout, by: HeldBy) -> JobCuts:
                with timed.stage("cuts"):
                    return cut_wood(wood, layout, by=by, executor=at_work, stop=stop)

            return lay_out_held(wood, lay_out=lay_out, cut=cut, effort=asked_effort)

        woods: list[tuple[ResolvedWood, HeldLayout]] = []
        for wood in resolved.woods:
            first = 1 + sum(len(held.layout.boards) for _, held in woods)
            woods.append((wood, held_wood(wood, first)))
        held = held_job(woods)
        with clock.stage("boards"):
            order = _order(resolved, held, only=only, png=png)
            finished = finish_boards(held.boards, order, executor=at_work, stop=stop)
    with clock.stage("sticks"):
        sticks = stick_lists(
            resolved.items,
            (*resolved.job.rods, *resolved.job.strips),
            saw_kerf=resolved.machine.saw_kerf,
            end_trim=resolved.job.file.end_trim,
        )
    with clock.stage("paper"):
        cut_layout = held.as_cut
        on_paper = paper_files(cut_layout, resolved.items, file=resolved.job.file, machine=resolved.machine, only=only)
        paper_proof = prove_paper(on_paper, cut_layout, resolved.job.file.patterns or PatternsWanted())
        report = joined([*(board.proof for board in finished), *([] if paper_proof is None else [paper_proof])])
    with clock.stage("folder"):
        search = Search(
            seed=seed,
            effort=effort if seconds is None else None,
            seconds=seconds,
            stopped=looking_on.stopped,
            unfinished=held.layout.unfinished,
        )
        files = {name: data for board in finished for name, data in board.files.items()} | on_paper.files
        job = job_result(
            resolved, held, finished, sticks=sticks, on_paper=on_paper, proof=report, search=search, booked=booked
        )
        if only is None or "picture" in only:
            files |= dict(_item_pictures(job, png=png))
        if resolved.job.file.booklet is not False if only is None else "booklet" in only:
            job, report = with_booklet(job, resolved.job.file)
            files[BOOKLET_FILE] = job.booklet.data if job.booklet is not None else b""
        if judge is not None and job.account is not None:
            job = replace(job, chosen=judge(job.account))
        rests = tuple(_stick_rests(resolved, sticks))
        if (job.leftovers or rests) and only is None:
            files[LEFTOVERS_FILE] = write_leftovers(job.leftovers, title=job.title, units=job.units, sticks=rests)
        sheet = only is None or "sheet" in only
        if only is None:
            files[COSTS_FILE] = costs_csv(job)
        job = replace(job, files=(*files, *([SHEET_FILE] if sheet else [])))
        if sheet:
            files[SHEET_FILE] = write_job_sheet(job)
    for stage in ("program", "files", "proof"):
        clock.seconds[stage] = sum(board.seconds[stage] for board in finished)
    return WorkedOut(job=job, proof=report, files=files, boards=finished, seconds=clock.seconds)


def job_result(
    resolved: ResolvedJob,
    held: HeldJob,
    finished: Sequence[Finished],
    *,
    sticks: tuple[StickList, ...] = (),
    on_paper: OnPaper,
    proof: ProofReport | None = None,
    search: Search | None = None,
    booked: Path | None = None,
) -> JobResult:
    """Return a job's results in one value: its boards as they are `held` and `finished`, its sticks and its patterns.

    `booked` is the file of stock for the offcuts. The caller that writes the files adds their names.
    """
    job, items, machine, units = resolved.job, resolved.items, resolved.machine, resolved.units
    layout = held.as_cut
    programs = tuple(program for board in finished for program in board.programs)
    leftovers = (
        *(left for board in finished for left in board.leftovers),
        *sawn_leftovers(
            held.layout.boards,
            held.layout.after_sawing,
            edge_margin=held.layout.edge_margin,
            least=job.file.least_leftover,
        ),
    )
    account = _account(resolved, layout, programs, sticks, leftovers)
    made = {item.name for item in items}
    least = [_least(wood, each) for wood, each in held.woods]
    if search is not None:
        # A wood whose boards are as few as can be is finished, whatever its search had left to try.
        open_ = (
            each.layout.unfinished for (_, each), one in zip(held.woods, least, strict=True) if one and one.cheaper
        )
        search = replace(search, unfinished=any(open_))
    sets = [one for one in job.file.set if made.issuperset(one.items)]
    result = JobResult(
        title=job.file.title,
        units=units,
        machine=machine,
        items=items,
        layout=layout,
        stock=job.boards,
        programs=programs,
        drawings=tuple(drawing for board in finished for drawing in board.drawings),
        on_paper=on_paper,
        patterns=job.file.patterns or PatternsWanted(),
        sticks=sticks,
        leftovers=kept_leftovers(leftovers, title=title_of(job), units=units),
        left_aside=resolved.left_aside,
        account=account,
        priced=prices_of(
            account,
            asked={make.name: make.price for make in job.file.make},
            sets=sets,
            fixed=job.file.fixed,
        ),
        sold_sets={one.name: one.items for one in sets},
        packs=_packs(job),
        own_things=tuple(_own_things(job, items)),
        fixed=job.file.fixed,
        views=tuple(Views(item.build, looks_of(item, layout, stock=job.boards, sticks=sticks)) for item in items),
        finishes=finishes_of(items, layout, coats=coats_of(job, job.shop), drying=job.shop.file.paint.drying),
        search=search,
        least=least_of_all(least),
        warnings=(
            *_warnings(resolved, held, layout, programs, sticks, on_paper, booked, searched=search is not None),
            *_over_hours(job, account),
        ),
        proof=proof,
    )
    cautions = job_cautions(
        layout, machine=machine, programs=programs, sticks=bool(sticks), drilled=bool(result.hand_holes)
    )
    return replace(result, cautions=cautions)


def with_booklet(job: JobResult, file: JobFile) -> tuple[JobResult, ProofReport]:
    """Return a result with its booklet, and the proof with that of the booklet's templates."""
    # Imported here because they bring the library for PDF with them.
    from cutjob.reports.booklet.booklet import of_items, write_booklet

    booklet = write_booklet(job, names=file.in_booklet, paper=file.paper or usual_paper(file.units))
    layout = of_items(job.layout, booklet.items)
    proof = prove_patterns(booklet.templates, layout, PatternsWanted(), file=BOOKLET_FILE)
    report = joined([*([] if job.proof is None else [job.proof]), proof])
    return replace(job, booklet=booklet.templates, in_booklet=booklet.items, proof=report), report


def _order(resolved: ResolvedJob, held: HeldJob, *, only: frozenset[str] | None, png: bool) -> FilesWanted:
    return FilesWanted(
        title=resolved.job.file.title,
        units=resolved.units,
        machine=resolved.machine,
        boards=len(held.boards),
        only=only,
        png=png,
        leftovers=held.leftovers,
        sets=sets_of(held.as_cut, resolved.items),
    )


def _warnings(
    resolved: ResolvedJob,
    held: HeldJob,
    layout: Layout,
    programs: Sequence[Program],
    sticks: Sequence[StickList],
    on_paper: OnPaper,
    booked: Path | None,
    *,
    searched: bool,
) -> tuple[str, ...]:
    """The warnings of all stages, from the designs to the pages, each once. For a first plan, that is not `searched`
    for, no stack is worked out once more: it would take as long as the plan.
    """
    job, items, machine, units = resolved.job, resolved.items, resolved.machine, resolved.units
    of_cuts = each_spelled(held.warnings, units)
    of_programs = dict.fromkeys(
        f"{program.board}: {warning}" for program in programs for warning in program.warnings if warning not in of_cuts
    )
    return (
        *(f'item "{item.name}": {warning}' for item in items for warning in item.build.warnings),
        *(spelled(warning, units) for warning in stick_warnings(sticks)),
        *([_not_booked(booked)] if sticks and booked is not None else ()),
        *(spelled(warning, units) for warning in (pockets_left(items) if machine.by_hand else ())),
        *keep_out_warnings([entry.stock for entry in job.entries], layout=layout, machine=machine, unit=units),
        *each_spelled((*job.unused, *resolved.warnings), units),
        *_unused_stack(job, layout),
        *(_slow_stack(held, programs) if searched else ()),
        *each_spelled((hint for wood, each in held.woods for hint in _hints(wood, each)), units),
        *of_cuts,
        *of_programs,
        *on_paper.warnings,
        *_bought_warnings(job, items),
    )


def _item_pictures(job: JobResult, *, png: bool) -> Iterator[tuple[str, bytes]]:
    """The picture of each finished item, by its file's name."""
    for number, (item, views) in enumerate(zip(job.items, job.views, strict=True), start=1):
        if views.drawings:
            name, picture = picture_file(number), finished_picture(views.drawings, title=f"{job.title}: {item.name}")
            yield name, picture
            if png:
                yield name.replace(".svg", ".png"), write_png(picture)


def _over_hours(job: Job, account: Account) -> Iterator[str]:
    """A warning where a job takes more hours than it gives."""
    if job.file.hours is None:
        return
    limit = job.file.hours.hours(sum(job.shop.file.week.minutes) / 60)
    by_hand, machine = hours_of(account)
    for hours, what in ((by_hand, "by hand"), (machine, "of the machine")):
        if float(hours) > limit + HOURS_NOISE:
            yield (
                f"the job takes {hours:.1f} hours {what}, more than the {limit:.1f} it gives; lower the counts, or "
                "give more hours"
            )


def _least(wood: ResolvedWood, held: HeldLayout) -> LeastBoards | None:
    """The fewest boards that one wood can take."""
    layout = held.as_cut
    clearance = Clearance(gap=wood.gap, edge_margin=wood.edge_margin)
    return least_boards(layout, wood.boards, used=boards_used(layout), clearance=clearance)


def _hints(wood: ResolvedWood, held: HeldLayout) -> Iterator[str]:
    file, layout = wood.job.file, held.as_cut
    return plan_hints(
        layout,
        wood.items,
        wood.boards,
        used=boards_used(layout),
        longest=bed_for_parts(wood.machine, wood.cutters.outline),
        runs_first="prefer" in file.model_fields_set and file.prefer[0] == "cut",
    )


def _unused_stack(job: Job, layout: Layout) -> Iterator[str]:
    """A warning where a job asks for stacks and none is cut: its cutters go through a whole stack all the same."""
    if job.file.stack > 1 and layout.boards and all(board.stack == 1 for board in layout.boards):
        yield (
            f"stack = {job.file.stack} is not used: too few boards get equal parts, or a hole or pocket goes only "
            "partway through; leave it out, and shorter cutters will do"
        )


def _slow_stack(held: HeldJob, programs: Sequence[Program]) -> Iterator[str]:
    """A warning where cutting the boards of a stack one at a time is quicker, with all that is then to set up.

    A stack takes as many more passes as it is higher, through bridges over its whole height, at lower feeds. The layout
    with most boards in stacks is worked out once more for single boards.
    """
    stacked = [
        (wood, each, board) for wood, each in held.woods for board in each.layout.boards if board.stack > 1 and programs
    ]
    if not stacked:
        return
    wood, each, board = max(stacked, key=lambda one: one[2].stack * one[2].copies)
    single = replace(each.layout, boards=(replace(board, stack=1),))
    try:
        cuts = cut_wood(wood, single, by=each.by)
    except InputError:
        return
    if not cuts.all_held:
        return
    own = [program for program in programs if program.board == board.id]
    alone = [program for one in cuts.boards for program in programs_of(one, machine=wood.machine)]
    minutes = wood.job.shop.file.minutes
    set_up = 60 * ((board.stack * len(alone) - len(own)) * minutes.program)
    at_once, one_by_one = sum(one.seconds for one in own), board.stack * sum(one.seconds for one in alone)
    if one_by_one + set_up < at_once:
        yield (
            f"{board.id}: {board.stack} boards at once take {at_once / 60:.0f} min of the machine, one at a time "
            f"{one_by_one / 60:.0f} min and {max(set_up, 0) / 60:.0f} min to set up: stack = 1 is quicker here"
        )


def _stick_rests(resolved: ResolvedJob, sticks: Sequence[StickList]) -> Iterator[tuple[str, dict[str, object]]]:
    """The table and keys of every offcut of a stick worth keeping."""
    least = resolved.job.file.least_leftover[0]
    yield from stick_entries(sticks, title=title_of(resolved.job), units=resolved.units, least=least)


def _show_refused(
    folder: Path, job: JobResult, plan: dict[str, object], finished: Sequence[Finished]
) -> tuple[Path | None, tuple[int | None, ...]]:
    """Write a picture of every board beside the output folder, with a ring round each finding, and no cutting file.

    Returns the folder, or None where it can't be written either, and the number of each finding's ring.
    """
    pictures = {
        f"{board.id}.svg": findings_picture(
            board,
            findings=one.proof.findings,
            programs=one.programs,
            units=job.units,
            title=f"Not proven: {job.title}",
        )
        for board, one in zip(job.layout.boards, finished, strict=True)
    }
    rings = tuple(ring for one in finished for ring in ring_numbers(one.proof.findings))
    data = write_plan({**plan, "files": sorted(pictures)})
    try:
        return write_refused(folder, {**pictures, "plan.json": data}), rings
    except InputError:
        return None, (None,) * len(rings)


def refuse_odd(*, seed: int, effort: str, seconds: float | None, only: frozenset[str] | None, cores: int) -> None:
    """Raise ValueError for a wrong argument; the message says what is allowed."""
    if isinstance(seed, bool) or not isinstance(seed, int) or seed < 0:
        raise ValueError(f"seed: {seed!r} is not a whole number from 0 up")
    if effort not in get_args(Effort):
        raise ValueError(f"effort: {effort!r} is not one of {', '.join(get_args(Effort))}")
    if seconds is not None and not 0 < seconds < math.inf:
        raise ValueError(f"seconds: {seconds!r} is not more than 0")
    for kind in sorted(only or ()):
        if kind not in KINDS:
            raise ValueError(f"only: {kind!r} is not one of {', '.join(KINDS)}")
    if only is not None and not only:
        raise ValueError(f"only: the list is empty; name some of {', '.join(KINDS)}, or leave it out for all")
    if isinstance(cores, bool) or not isinstance(cores, int) or cores < 1:
        raise ValueError(f"cores: {cores!r} is not a whole number from 1 up")


def _account(
    resolved: ResolvedJob,
    layout: Layout,
    programs: Sequence[Program],
    sticks: tuple[StickList, ...],
    leftovers: tuple[Leftover, ...],
) -> Account:
    """What the items cost in the job's shop; lengths in its words in the job's unit."""
    job, shop = resolved.job, resolved.job.shop
    amounts = amounts_of(resolved.items, layout, programs, sticks, resolved.machine, coats=coats_of(job, shop))
    goods = Goods(
        job=job,
        items=resolved.items,
        layout=layout,
        stock=job.boards,
        leftovers=leftovers,
        sticks=sticks,
        amounts=amounts,
        unit=resolved.units,
    )
    return account_of(goods, shop)


def _packs(job: Job) -> dict[str, tuple[float, int]]:
    """The price of a pack of each thing, and how many are in it; what the job says comes before the shop."""
    shops = {one.name: (one.price, one.pack) for one in job.shop.file.bought}
    return shops | {one.name: (one.price, one.pack) for one in job.file.bought if one.price is not None}


def _own_things(job: Job, items: Sequence[Item]) -> Iterator[tuple[str, int]]:
    """The things that the job itself asks for, beside those of its designs."""
    counts = {item.name: item.count for item in items}
    for one in job.file.bought:
        if one.count is not None and (one.item is None or one.item in counts):
            yield one.name, one.count * (1 if one.item is None else counts[one.item])


def _not_booked(stock: Path) -> str:
    return (
        f"{stock.name}: only boards are counted there; lower the counts of rods and strips by hand, and add "
        f"their offcuts from {LEFTOVERS_FILE}"
    )


def _bought_warnings(job: Job, items: Sequence[Item]) -> list[str]:
    """Warnings for prices of things that nothing needs; most likely the name differs from the design's."""
    needed = list(dict.fromkeys(thing.name for item in items for thing in item.build.bought))
    known = f"to buy are: {', '.join(needed)}" if needed else "nothing is to be bought"
    return [
        f'bought "{one.name}": no item needs it; {known}; give count for a thing of the job itself'
        for one in job.file.bought
        if one.name not in needed and one.count is None
    ]
