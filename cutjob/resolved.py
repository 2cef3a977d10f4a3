"""Turns a job file into a `ResolvedJob`, with its items built and every default filled in; or into its mistakes.

The machine's defaults, the way parts are held, the cutters, and the boards within reach are decided here, once. The
later stages read these decisions. mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cutjob.counting import counted
from cutjob.cuts.cutter_choice import Cutters, choose_cutters, other_cutter
from cutjob.designs.evaluate import order_items
from cutjob.errors import InputError, Problem, errors_in
from cutjob.files.file_bytes import NO_SUCH_FILE
from cutjob.files.source import Source, read_source
from cutjob.job.boards import check_boards, through_cutters
from cutjob.job.holding_keys import held_machine
from cutjob.job.job import Job
from cutjob.job.machine import Cutter, Machine
from cutjob.job.read_job import job_of, likely_thickness, no_boards
from cutjob.job.read_stock import LeftAside, alike, left_aside
from cutjob.job.stock import Board
from cutjob.layout.leftovers import LeftoverRule
from cutjob.parts.edge_pockets import with_trimmed_pockets
from cutjob.parts.part import Hole, Item, ShapedPart
from cutjob.parts.relief import relieved
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit, length, length_by


@dataclass(frozen=True, slots=True, kw_only=True)
class ResolvedJob:
    """A job with nothing left open.

    `items` have the tabs, reliefs and trimmed pockets the job asks for. `machine` is the job's machine, set to hold
    parts with tabs, with a skin, or with neither. `gap` is the least wood between two parts and `edge_margin` the least
    wood along a board's edge, mm. `boards` are those the machine takes, `left_aside` those in stock that the job does
    not use, and `leftovers` says which offcuts are worth keeping.
    """

    job: Job
    items: tuple[Item, ...]
    machine: Machine
    cutters: Cutters
    gap: float
    edge_margin: float
    boards: tuple[Board, ...]
    left_aside: tuple[LeftAside, ...]
    leftovers: LeftoverRule
    warnings: tuple[str, ...]

    @property
    def units(self) -> Unit:
        """The units of the job's lengths."""
        return self.job.file.units

    @property
    def parts(self) -> tuple[ShapedPart, ...]:
        """The shaped parts of one of each item."""
        return tuple(part for item in self.items for part in item.build.shaped)


def resolve(job: Job, items: Sequence[Item]) -> ResolvedJob:
    """Return a job with its items fitted and its defaults filled in. Raises InputError with everything that can't be
    made.
    """
    with errors_in(job.file.units):
        return _resolved(job, items)


def _resolved(job: Job, items: Sequence[Item]) -> ResolvedJob:
    machine, holding_warnings, wrong = held_machine(job, items)
    cutters = cutters_for(job, items)
    cutter = cutters.outline
    fitted, fitting_warnings, problems = fitted_items(job, items, cutter)
    fitted, drilling_warnings = _holes_by_hand(fitted, cutters, job)
    refuse([*wrong, *problems])
    refuse(_narrow_gap(job, fitted, cutter))
    boards = _within_reach(job, fitted, cutter)
    return ResolvedJob(
        job=job,
        items=fitted,
        machine=machine,
        cutters=cutters,
        gap=gap_of(job, cutter),
        edge_margin=edge_margin_of(job),
        boards=boards,
        left_aside=_left_aside(job, boards),
        leftovers=LeftoverRule(
            gap=gap_of(job, cutter),
            edge_margin=edge_margin_of(job),
            saw_kerf=job.machine.saw_kerf,
            least=job.file.least_leftover,
        ),
        warnings=(*holding_warnings, *fitting_warnings, *drilling_warnings),
    )


# Where none of a job's boards can be read, its designs are still checked with this thickness, mm.
_ANY_THICKNESS = 19.0


def read_order(job_path: Path) -> tuple[Job, tuple[Item, ...]]:
    """Read a job file and build its items. Raises InputError with the mistakes of the file and of every design."""
    try:
        source = read_source(job_path)
    except InputError as error:
        if not any(one.message == NO_SUCH_FILE for one in error.problems):
            raise
        first = f"or write a first job: cutjob new graded-stack > {job_path.name}"
        raise InputError([replace(one, advice=f"{one.advice}, {first}") for one in error.problems]) from None
    return order_of(source, job_path)


def order_of(source: Source, path: Path) -> tuple[Job, tuple[Item, ...]]:
    """Return the job of a file already read, and its items; files it names are looked for from the folder of `path`.

    Raises InputError as `read_order` does.
    """
    try:
        job = job_of(source, path)
    except InputError as error:
        raise InputError(_with_designs(source, path, error.problems)) from None
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


def _with_designs(source: Source, path: Path, problems: Sequence[Problem]) -> list[Problem]:
    """The mistakes of a job file that can't be read in full, and of those designs that can still be checked."""
    if source.data.get("units") not in ("in", "mm"):
        return list(problems)  # without a unit sizes can't be checked
    thickness = likely_thickness(source, path.parent) or _ANY_THICKNESS
    _, found = order_items(source, folder=path.parent, thickness=thickness)
    return list(dict.fromkeys([*problems, *found]))


def cutters_for(job: Job, items: Sequence[Item]) -> Cutters:
    """Return the cutters of a job: those it names, or the machine's largest ones that reach every detail."""
    through = _through(job)
    if isinstance(through, list):
        raise InputError(through)
    parts = [part for item in items for part in item.build.shaped]
    by_tabs = (
        job.machine.has_spindle and job.file.parts_held_by == "tabs" and job.file.board_held_by in ("clamps", "screws")
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
        where=job.board_location,
        at=lambda key: job.source.at((key,)),
    )


def _mixed_thickness(job: Job) -> Sequence[Problem]:
    """A problem for every board of another thickness: a part may come off any board, so all must be equally thick."""
    if not job.boards:
        return []
    first, stated = job.boards[0], job.file.thickness
    other = f'that of board "{first.name}"' if stated is None else "the thickness at the top of the job"
    return [
        Problem(
            location=job.board_location(board, "thickness"),
            place=f'board "{board.name}": thickness',
            message=f"differs from {other}, but a part may come off any board",
            advice="make one job for each thickness",
        )
        for board in job.boards
        if not alike(board.thickness, first.thickness if stated is None else stated)
    ]


def gap_of(job: Job, cutter: Cutter) -> float:
    """Return the least wood between two parts, mm."""
    return cutter.diameter + job.machine.cutting.web if job.file.gap is None else job.file.gap


def _widest_gap(job: Job) -> float:
    """The gap for the widest cutter that may go round parts; the parts decide which cutter will."""
    if job.file.gap is not None:
        return job.file.gap
    through = _through(job)
    return max((gap_of(job, cutter) for cutter in through if isinstance(cutter, Cutter)), default=0.0)


def edge_margin_of(job: Job) -> float:
    """Return the wood left along the edges of boards, mm."""
    return job.machine.cutting.edge_margin if job.file.edge_margin is None else job.file.edge_margin


def refuse(problems: Sequence[Problem]) -> None:
    """Raise InputError if there are problems."""
    if problems:
        raise InputError(problems)


def fitted_items(
    job: Job, items: Sequence[Item], cutter: Cutter
) -> tuple[tuple[Item, ...], tuple[str, ...], tuple[Problem, ...]]:
    """Return the items with the tabs and corner reliefs the job asks for and their pockets trimmed to the parts;
    warnings; and problems.

    Reliefs are as wide as `cutter`, which goes round the parts.
    """
    asked = {make.name: (index, make) for index, make in enumerate(job.file.make)}
    fitted: list[Item] = []
    warnings: dict[str, None] = {}
    problems: list[Problem] = []
    for item in items:
        index, make = asked[item.name]
        names = [part.name for part in item.build.shaped]
        problems += _unknown_parts(job, index, make.tabs, names)
        problems += _unknown_board(job, index, item)
        shaped = []
        for part in item.build.shaped:
            part = with_trimmed_pockets(replace(part, tab_places=make.tabs.get(part.name, ())))
            if make.relief != "none":
                part, unrelieved = _relieved(job, item, part, make.relief, cutter)
                warnings.update(dict.fromkeys(unrelieved))
            shaped.append(part)
        fitted.append(replace(item, build=replace(item.build, shaped=tuple(shaped))))
    return tuple(fitted), tuple(warnings), tuple(problems)


def _holes_by_hand(items: Sequence[Item], cutters: Cutters, job: Job) -> tuple[tuple[Item, ...], tuple[str, ...]]:
    """Return the items with the holes that no cutter can make marked for drilling by hand, and a warning for each part.

    Such holes are narrower than every cutter, or too deep for every cutter that is narrow enough.
    """
    machine = job.machine
    if machine.by_hand or not job.boards:
        return tuple(items), ()
    through = machine.through(job.file.stack * job.boards[0].thickness)
    fitted: list[Item] = []
    warnings: dict[str, None] = {}
    for item in items:
        shaped = []
        for part in item.build.shaped:
            left = [
                hole
                for hole in part.round_holes
                if cutters.for_hole(hole.diameter, depth=through if hole.depth is None else hole.depth) is None
            ]
            if left:
                # The steps of a counterbored hole are separate, as a cutter may make its wide end.
                part = replace(part, holes=tuple(replace(step, by_hand=step in left) for step in part.round_holes))
                narrow = [hole for hole in left if not cutters.may_bore(hole.diameter)]
                deep = [hole for hole in left if hole not in narrow]
                why = [
                    *([_too_narrow(narrow, cutters, machine)] if narrow else []),
                    *([_too_deep(deep, cutters)] if deep else []),
                ]
                warnings.update((f'item "{item.name}": part "{part.name}": {words}', None) for words in why)
            shaped.append(part)
        fitted.append(replace(item, build=replace(item.build, shaped=tuple(shaped))))
    return tuple(fitted), tuple(warnings)


def _too_narrow(holes: Sequence[Hole], cutters: Cutters, machine: Machine) -> str:
    hole = min(holes, key=lambda one: one.diameter)
    least = min(cutters.usable, key=lambda cutter: cutter.diameter)
    which, are, them = _which(holes, hole)
    return (
        f"{which} {are} narrower than every cutter (cutter {least.number} is {length(least.diameter)}) and {are} not "
        f"cut; {other_cutter(machine, hole.diameter, cutters, otherwise=f'drill {them} by hand')}"
    )


def _too_deep(holes: Sequence[Hole], cutters: Cutters) -> str:
    hole = min(holes, key=lambda one: one.diameter)
    fitting = [cutter for cutter in cutters.usable if cutter.diameter <= hole.diameter + TOLERANCES.same_point]
    longest = max(fitting, key=lambda cutter: cutter.cutting_length)
    which, are, them = _which(holes, hole)
    reach = f"cutter {longest.number} goes {length(longest.cutting_length)} deep"
    return (
        f"{which} {are} too deep for the cutters that fit ({reach}) and {are} not cut; drill {them} by hand, or take "
        "a longer cutter or wider holes"
    )


def _which(holes: Sequence[Hole], smallest: Hole) -> tuple[str, str, str]:
    """`a hole of 6 mm at x 0 mm, y 0 mm of the part`, `is`, `it`; or the same of several."""
    x, y = smallest.at
    where = f"of {length(smallest.diameter)} at x {length(x)}, y {length(y)} of the part"
    return (
        (f"a hole {where}", "is", "it")
        if len(holes) == 1
        else (f"{counted(len(holes), 'hole')}, the smallest {where},", "are", "them")
    )


def _unknown_board(job: Job, index: int, item: Item) -> Iterator[Problem]:
    """What is wrong with the board that an item's sawn parts are to come off."""
    if item.sawn_from is None:
        return
    names = list(dict.fromkeys(board.name for board in job.boards))
    message, advice = "", ""
    if not item.build.sawn:
        message, advice = "no part of it is sawn off a board", "leave it out"
    elif item.sawn_from not in names:
        message, advice = f'there is no board "{item.sawn_from}"', f"take one of {', '.join(names)}, or leave it out"
    if message:
        location = job.source.at(("make", index, "sawn_from"))
        yield Problem(place=f'item "{item.name}": sawn_from', message=message, advice=advice, location=location)


def _unknown_parts(job: Job, index: int, tabs: Mapping[str, object], names: Sequence[str]) -> Iterator[Problem]:
    for name in tabs:
        if name not in names:
            yield Problem(
                location=job.source.at(("make", index, "tabs", name)),
                place=f'make "{job.file.make[index].name}": tabs',
                message=f'it has no part "{name}"',
                advice=f"its parts are {', '.join(dict.fromkeys(names))}" if names else "none of its parts is cut out",
            )


def _relieved(job: Job, item: Item, part: ShapedPart, way: str, cutter: Cutter) -> tuple[ShapedPart, list[str]]:
    done = relieved(part, way="side" if way == "side" else "diagonal", cutter_diameter=cutter.diameter)
    warnings = [
        f'item "{item.name}": part "{part.name}": no room for a relief in the corner at '
        f"x {length(x)}, y {length(y)} of the part"
        for x, y in done.skipped
    ]
    return done.part, warnings


def _within_reach(job: Job, items: Sequence[Item], cutter: Cutter) -> tuple[Board, ...]:
    """The boards the machine takes. A board of the job's own that is too large is refused; one in
    stock is left aside.
    """
    if any(item.build.sawn for item in items):
        return job.boards  # the pieces sawn off first may make them short enough
    found = [check_boards([board], job.machine, cutter, 1, where=job.board_location) for board in job.boards]
    fit = tuple(board for board, problems in zip(job.boards, found, strict=True) if not problems)
    for entry, problems in zip(job.entries, found, strict=True):
        if problems and (entry.source is job.source or not fit):
            refuse([problem for each in found for problem in each])
    return fit


def _left_aside(job: Job, boards: Sequence[Board]) -> tuple[LeftAside, ...]:
    """The boards in stock that this job does not use, with those the machine can't take."""
    fit = {board.name for board in boards}
    large = [entry for entry in job.entries if entry.board.name not in fit]
    return (*job.left_aside, *(left_aside(entry, "too large for the machine") for entry in large))


def _narrow_gap(job: Job, items: Sequence[Item], cutter: Cutter) -> list[Problem]:
    """A problem for a gap that the cutter can't pass with the outline's tolerance to each part."""
    gap = job.file.gap
    deviation = max((part.deviation for item in items for part in item.build.shaped), default=0.0)
    least = cutter.diameter + 2 * (deviation + TOLERANCES.acceptance)
    if gap is None or gap >= least:
        return []

    def enough(unit: Unit) -> float:
        """Gaps are given to a tenth of a mm or a hundredth of an inch."""
        step = 0.254 if unit == "in" else 0.1
        return math.ceil(least / step) * step

    return [
        Problem(
            location=job.source.at(("gap",)),
            place="gap",
            message=f"{length(gap)} is too narrow for the {length(cutter.diameter)} cutter {cutter.number} to pass",
            advice=f"give at least {length_by(enough)}, or leave gap out for the cutter and the profile's web",
        )
    ]
