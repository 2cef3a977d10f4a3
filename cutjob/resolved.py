"""Turns a job file into a `ResolvedJob`, with its items built and every default filled in; or into its mistakes.

The machine's defaults, the way parts are held, what each part is cut from, the cutters for each kind of wood, and the
boards within reach are decided here, once. The later stages read these decisions. mm.
"""

from __future__ import annotations

import math
from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypedDict

from cutjob.counting import counted
from cutjob.cuts.cutter_choice import Cutters, choose_cutters, other_cutter
from cutjob.designs.evaluate import order_items
from cutjob.errors import InputError, Problem, errors_in
from cutjob.files.file_bytes import NO_SUCH_FILE
from cutjob.files.read_toml import problem_at
from cutjob.files.source import Source, read_source
from cutjob.files.values import nearest
from cutjob.job.boards import BoardEntry, alike_thick, check_boards, highest_stack, through_cutters
from cutjob.job.finish import unknown_parts
from cutjob.job.holding_keys import held_machine
from cutjob.job.job import Job
from cutjob.job.machine import Cutter, Machine
from cutjob.job.model import OpenCount
from cutjob.job.read_job import job_of, likely_thickness, no_boards
from cutjob.job.read_stock import LeftAside, left_aside, not_of, plain_boards
from cutjob.job.stock import Board
from cutjob.layout.kept import Kept
from cutjob.layout.leftovers import LeftoverRule
from cutjob.parts.edge_pockets import with_trimmed_pockets
from cutjob.parts.part import Hole, Item, ShapedPart, Wood, alike, kind_of_part
from cutjob.parts.relief import relieved
from cutjob.remembered import same
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit, length, length_by, spelled


@dataclass(frozen=True, slots=True, kw_only=True)
class ResolvedWood:
    """One kind of wood of a job with all that is cut from it, and nothing left open.

    `items` have only the parts that come off its `boards`. `cutters` are those for them, `stack` how many boards are
    cut at once, `gap` is the least wood between two parts and `edge_margin` the least along a board's edge, mm.
    `leftovers` says which offcuts are worth keeping, and
    `kept` which parts stay where they are.
    """

    job: Job
    machine: Machine
    items: tuple[Item, ...]
    boards: tuple[Board, ...]
    cutters: Cutters
    stack: int
    gap: float
    edge_margin: float
    leftovers: LeftoverRule
    kept: tuple[Kept, ...] = ()

    @property
    def parts(self) -> tuple[ShapedPart, ...]:
        """The shaped parts of one of each item."""
        return tuple(part for item in self.items for part in item.build.shaped)

    @property
    def weight(self) -> int:
        """The number of its shaped parts, as a share of the work of laying the job out."""
        return sum(item.count * len(item.build.shaped) for item in self.items)


@dataclass(frozen=True, slots=True, kw_only=True)
class ResolvedJob:
    """A job with nothing left open.

    `items` have the tabs, reliefs and trimmed pockets the job asks for; each part has its wood. `machine` is the job's
    machine, set to hold parts with tabs, with a skin, or with neither. `woods` has each kind of wood with what is cut
    from it; no board is in two of them. `left_aside` are the boards in stock that the job does not use. `order` has the
    items as the designs make them. While a count is open, the item's is 1; items of which none are made are left out.
    """

    job: Job
    items: tuple[Item, ...]
    machine: Machine
    woods: tuple[ResolvedWood, ...]
    left_aside: tuple[LeftAside, ...]
    warnings: tuple[str, ...]
    order: tuple[Item, ...] = ()

    @property
    def open_counts(self) -> dict[str, OpenCount]:
        """The counts that are left open, by the name of the item."""
        return {make.name: make.count for make in self.job.file.make if isinstance(make.count, OpenCount)}

    @property
    def units(self) -> Unit:
        """The units of the job's lengths."""
        return self.job.file.units

    @property
    def boards(self) -> tuple[Board, ...]:
        """The boards that the machine takes, of all woods."""
        return tuple(board for wood in self.woods for board in wood.boards)


def resolve(job: Job, items: Sequence[Item]) -> ResolvedJob:
    """Return a job with its items fitted and its defaults filled in. Raises InputError with everything that can't be
    made.
    """
    with errors_in(job.file.units):
        return _resolved(job, items)


def with_counts(resolved: ResolvedJob, counts: Mapping[str, int]) -> ResolvedJob:
    """Return a job with these numbers of items, by name; the others stay. Raises InputError as `resolve` does."""
    job = resolved.job
    make = tuple(one.model_copy(update={"count": counts.get(one.name, one.count)}) for one in job.file.make)
    items = [replace(item, count=counts.get(item.name, item.count)) for item in resolved.order]
    return resolve(replace(job, file=job.file.model_copy(update={"make": make})), items)


def _resolved(job: Job, items: Sequence[Item]) -> ResolvedJob:
    order, items = tuple(items), [item for item in items if item.count > 0]
    if not items:
        refuse([problem_at(job.source, ("make",), "nothing is made: every count is 0", advice="give one a count")])
    machine, holding_warnings, wrong = held_machine(job, items)
    machine = same(machine)
    refuse([*wrong, *_unknown_names(job, items), *_kept_problems(job, items)])
    shares = wood_shares(items, job.boards)
    woods: list[ResolvedWood] = []
    warnings: dict[str, None] = dict.fromkeys(holding_warnings)
    problems: list[Problem] = []
    left: list[LeftAside] = []
    for own, boards in shares:
        try:
            wood, said, too_large = _resolved_wood(job, machine, own, boards, alone=len(shares) == 1)
        except InputError as error:
            problems += error.problems if len(shares) == 1 else [_cut_from(problem, own) for problem in error.problems]
            continue
        woods.append(wood)
        warnings.update(dict.fromkeys(said))
        left += too_large
    refuse(list(dict.fromkeys(problems)))
    return ResolvedJob(
        job=job,
        items=_joined(items, woods),
        machine=machine,
        woods=tuple(woods),
        left_aside=(*job.left_aside, *left),
        warnings=tuple(warnings),
        order=order,
    )


def _resolved_wood(
    job: Job, machine: Machine, items: tuple[Item, ...], boards: tuple[Board, ...], *, alone: bool
) -> tuple[ResolvedWood, list[str], list[LeftAside]]:
    """One wood, warnings, and the boards in stock that are too large. A stack too high for it is lowered unless it is
    `alone`, where it is refused.
    """
    stack, warnings = job.file.stack, []
    on_machine = boards if alone or any(item.build.shaped for item in items) else ()  # a saw needs no cutter
    if not alone:
        stack = highest_stack(on_machine, job.machine, numbers=job.file.cutter or (), stack=job.file.stack)
        if stack < job.file.stack:
            warnings.append(_lowered(boards[0], stack, job.file.stack))
    cutters = cutters_for(job, items, on_machine, stack=stack)
    cutter = cutters.outline
    without_bed = job.machine.model_copy(update={"travel": None})
    refuse(check_boards(on_machine, without_bed, cutter, stack, where=job.board_location))
    fitted, fitting_warnings = _fitted_items(job, items, cutter)
    fitted, drilling_warnings = _holes_by_hand(fitted, cutters, job, boards, stack=stack)
    refuse(_narrow_gap(job, fitted, cutter))
    within, too_large = _within_reach(job, fitted, boards, cutter)
    wood = ResolvedWood(
        job=job,
        machine=machine,
        items=tuple(
            replace(item, build=replace(item.build, shaped=tuple(map(same, item.build.shaped)))) for item in fitted
        ),
        boards=tuple(map(same, within)),
        cutters=same(cutters),
        stack=stack,
        gap=gap_of(job, cutter),
        edge_margin=edge_margin_of(job),
        leftovers=LeftoverRule(
            gap=gap_of(job, cutter),
            edge_margin=edge_margin_of(job),
            saw_kerf=job.machine.saw_kerf,
            least=job.file.least_leftover,
        ),
        kept=tuple(_kept(job, fitted)),
    )
    return wood, [*warnings, *fitting_warnings, *drilling_warnings], too_large


def _cut_from(problem: Problem, items: Sequence[Item]) -> Problem:
    """A problem of a board, with the parts that are to be cut from it."""
    if not problem.place.startswith("board "):
        return problem
    kinds = {f'"{kind_of_part(part.name)}" of "{item.name}"' for item in items for part in item.build.shaped}
    named = sorted(kinds)[:3]
    more = " and others" if len(kinds) > len(named) else ""
    return replace(problem, message=f"{problem.message}; {', '.join(named)}{more} would be cut from it")


def _lowered(board: Board, stack: int, asked: int) -> str:
    how = "one at a time" if stack == 1 else f"{stack} at once"
    return (
        f"boards {length(board.thickness)} thick are cut {how}, not {asked} at once as stack asks: no cutter goes "
        "through so many"
    )


def wood_shares(
    items: Sequence[Item], boards: Sequence[Board]
) -> tuple[tuple[tuple[Item, ...], tuple[Board, ...]], ...]:
    """Return the items in shares that have no board in common, each with the parts and the boards of its wood only.

    Parts whose woods have a board in common are in the same share. In the order of the parts; one share, with all
    boards, where no part comes off a board.
    """
    woods = list(dict.fromkeys(part.wood for item in items for part in item.build.from_boards))
    groups: list[tuple[set[Wood | None], set[str]]] = []
    for wood in woods:
        names = {board.name for board in boards if wood is None or is_of(board, wood)}
        group: tuple[set[Wood | None], set[str]] = ({wood}, names)
        for other in [one for one in groups if one[1] & names]:
            groups.remove(other)
            group = (other[0] | group[0], other[1] | group[1])
        groups.append(group)
    if not groups:
        return ((tuple(items), tuple(boards)),)
    first = {wood: place for place, wood in enumerate(woods)}
    groups.sort(key=lambda group: min(first[wood] for wood in group[0]))
    return tuple(
        (_only(items, kinds), tuple(board for board in boards if board.name in names)) for kinds, names in groups
    )


def is_of(board: Board, wood: Wood) -> bool:
    """Whether a board is of a wood."""
    return wood.takes(thickness=board.thickness, material=board.material)


def _only(items: Sequence[Item], woods: Container[Wood | None]) -> tuple[Item, ...]:
    """The items with their parts of these woods only, without items that have none."""
    found: list[Item] = []
    for item in items:
        shaped = tuple(part for part in item.build.shaped if part.wood in woods)
        sawn = tuple(part for part in item.build.sawn if part.wood in woods)
        if shaped or sawn:
            found.append(replace(item, build=replace(item.build, shaped=shaped, sawn=sawn)))
    return tuple(found)


def _joined(items: Sequence[Item], woods: Sequence[ResolvedWood]) -> tuple[Item, ...]:
    """The items with all their parts as they are fitted in each wood."""
    fitted = {(item.name, part.name): part for wood in woods for item in wood.items for part in item.build.shaped}
    return tuple(
        replace(
            item,
            build=replace(
                item.build, shaped=tuple(fitted.get((item.name, part.name), part) for part in item.build.shaped)
            ),
        )
        for item in items
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
    items, problems = _items(job)
    plain = _plain_boards(job, items)
    if plain and job.file.thickness is None and job.wood is not None and not is_of(plain[0], job.wood):
        # Its first boards are of the wood that a design asks for: the others are the job's.
        alike_ones = [board.material for board in plain if alike(board.thickness, plain[0].thickness)]
        materials = (job.file.material,) if job.file.material else tuple(dict.fromkeys(alike_ones))
        job = replace(job, wood=Wood(thickness=plain[0].thickness, materials=materials))
        items, problems = _items(job)
    with errors_in(job.file.units):
        lacking = list(_no_such_wood(job, items))
        refuse([*(lacking or _mixed_thickness(job, items)), *problems])
    if not job.boards:
        parts = [(item.name, part.name) for item in items for part in item.build.from_boards]
        refuse([no_boards(job.source, *names) for names in parts[:1]])
        return job, items
    return _with_woods(job, items)


def _items(job: Job) -> tuple[tuple[Item, ...], tuple[Problem, ...]]:
    return order_items(job.source, **built_for(job))


class BuiltFor(TypedDict):
    """What the designs of a job know of it; mm."""

    folder: Path
    thickness: float
    edge_margin: float
    gap: float
    woods: Mapping[str, Wood]


def built_for(job: Job) -> BuiltFor:
    """Return what the designs of a job know of it."""
    return BuiltFor(
        folder=job.folder,
        thickness=job.wood.thickness if job.wood is not None else job.file.thickness or _ANY_THICKNESS,
        edge_margin=edge_margin_of(job),
        gap=_widest_gap(job),
        woods=job.woods,
    )


def _plain_boards(job: Job, items: Sequence[Item]) -> list[Board]:
    """The job's own boards that neither the order nor a design asks for."""
    woods = job.woods
    cut = [woods[name] for make in job.file.make for name in make.boards_named if name in woods]
    cut += [part.wood for item in items for part in item.build.shaped if part.wood is not None]
    sawn = [woods[make.sawn_from] for make in job.file.make if make.sawn_from in woods]
    sawn += [part.wood for item in items for part in item.build.sawn if part.wood is not None]
    own = [entry for entry in job.entries if entry.source is job.source]
    return [entry.board for entry in plain_boards(own, cut=cut, sawn=sawn)]


def _with_woods(job: Job, items: Sequence[Item]) -> tuple[Job, tuple[Item, ...]]:
    """The job with the boards that its parts come off, the others left aside, and the items with the wood of every
    part. Raises InputError for parts whose wood the job does not have.
    """
    assert job.wood is not None
    whole = job.wood
    items = tuple(
        replace(
            item,
            build=replace(
                item.build,
                shaped=tuple(same(replace(part, wood=part.wood or whole)) for part in item.build.shaped),
                sawn=tuple(replace(part, wood=part.wood or whole) for part in item.build.sawn),
            ),
        )
        for item in items
    )
    woods = list(dict.fromkeys(part.wood or whole for item in items for part in item.build.from_boards)) or [whole]
    asked = [entry for entry in job.spare if any(is_of(entry.board, wood) for wood in woods)]
    entries = tuple(entry for entry in (*job.entries, *asked) if any(is_of(entry.board, wood) for wood in woods))
    with errors_in(job.file.units):
        refuse([*_no_such_wood(job, items), *_apart(job, items)])
    taken = {entry.board.name for entry in entries}
    unused = [entry for entry in job.entries if entry.board.name not in taken]
    aside = [one for one in job.left_aside if one.board not in taken]
    for entry in unused:
        if entry.source is not job.source:
            aside.append(left_aside(entry, spelled(not_of(whole, entry.board), job.file.units)))
    return replace(job, entries=entries, left_aside=tuple(aside), unused=_unused(job, unused)), items


def _unused(job: Job, entries: Sequence[BoardEntry]) -> tuple[str, ...]:
    """A warning for every board of the job itself that no part is cut from."""
    return tuple(
        f'board "{entry.board.name}" is not used: no part is cut from {entry.board.material} '
        f'{length(entry.board.thickness)} thick; name it in a [[make]] with wood = "{entry.board.name}", or leave it '
        "out"
        for entry in entries
        if entry.source is job.source
    )


def _no_such_wood(job: Job, items: Sequence[Item]) -> Iterator[Problem]:
    """A problem for every kind of part whose wood none of the job's boards has."""
    entries = (*job.entries, *job.spare)
    there = dict.fromkeys((entry.board.thickness, entry.board.material) for entry in entries)
    have = ", ".join(f"{length(thick)} {material}" for thick, material in there)
    index = {make.name: place for place, make in enumerate(job.file.make)}
    for item in items:
        missing: dict[str, Wood] = {}
        for part in item.build.from_boards:
            wood = part.wood
            if wood is not None and not any(is_of(entry.board, wood) for entry in entries):
                missing.setdefault(kind_of_part(part.name), wood)
        for kind, wood in missing.items() if entries else ():
            of = f"{' or '.join(wood.materials)} " if wood.materials else "boards "
            yield Problem(
                location=job.source.at(("make", index[item.name])),
                place=f'item "{item.name}"',
                message=f'part "{kind}" is cut from {of}{length(wood.thickness)} thick; the job has only {have}',
                advice="add such a [[board]], or name one of the job's boards for it: "
                f'wood = {{ "{kind}" = "{entries[-1].board.name}" }}',
            )


def _apart(job: Job, items: Sequence[Item]) -> Iterator[Problem]:
    """A problem for every item that is to lie on one board although its parts are of several woods, and for every
    board that sawn parts are to come off although it is of another wood.
    """
    woods = job.woods
    for index, (make, item) in enumerate(zip(job.file.make, items, strict=True)):
        if make.together and len({part.wood for part in item.build.shaped}) > 1:
            yield Problem(
                location=job.source.at(("make", index, "together")),
                place=f'item "{item.name}": together',
                message="its parts are cut from different woods, so they can't lie on one board",
                advice="leave it out",
            )
        board = woods.get(make.sawn_from or "")
        for part in item.build.sawn:
            if board is None or part.wood is None:
                continue
            if not part.wood.takes(thickness=board.thickness, material=board.materials[0]):
                yield Problem(
                    location=job.source.at(("make", index, "sawn_from")),
                    place=f'item "{item.name}": sawn_from',
                    message=f'part "{part.name}" is of another wood than board "{make.sawn_from}"',
                    advice="leave it out, or the part's wood",
                )
                break


def _with_designs(source: Source, path: Path, problems: Sequence[Problem]) -> list[Problem]:
    """The mistakes of a job file that can't be read in full, and of those designs that can still be checked."""
    if source.data.get("units") not in ("in", "mm"):
        return list(problems)  # without a unit sizes can't be checked
    thickness = likely_thickness(source, path.parent) or _ANY_THICKNESS
    _, found = order_items(source, folder=path.parent, thickness=thickness)
    return list(dict.fromkeys([*problems, *found]))


def cutters_for(job: Job, items: Sequence[Item], boards: Sequence[Board], *, stack: int) -> Cutters:
    """Return the cutters for one wood of a job: those the job names, or the machine's largest ones that reach every
    detail.
    """
    through = _through(job, boards, stack=stack)
    if isinstance(through, list):
        raise InputError(through)
    parts = [part for item in items for part in item.build.shaped]
    by_tabs = (
        job.machine.has_spindle and job.file.parts_held_by == "tabs" and job.file.board_held_by in ("clamps", "screws")
    )
    return choose_cutters(
        through,
        job.machine,
        boards,
        numbers=job.file.cutter or (),
        parts=parts,
        tabs=job.machine.tabs if by_tabs else None,
    )


def _through(job: Job, boards: Sequence[Board], *, stack: int) -> tuple[Cutter, ...] | list[Problem]:
    return through_cutters(
        boards,
        job.machine,
        numbers=job.file.cutter or (),
        stack=stack,
        where=job.board_location,
        at=lambda key: job.source.at((key,)),
    )


def _mixed_thickness(job: Job, items: Sequence[Item]) -> Iterator[Problem]:
    """A problem for every board of the job that differs in thickness, where a part says nothing about its wood: nobody
    knows which of them to cut it from.
    """
    open_ = next((item for item in items if any(part.wood is None for part in item.build.from_boards)), None)
    if open_ is None or job.file.thickness is not None or job.wood is None:
        return
    plain = _plain_boards(job, items) or [entry.board for entry in job.entries if entry.source is job.source]
    part = next(kind_of_part(part.name) for part in open_.build.from_boards if part.wood is None)
    for board in plain:
        if not alike(board.thickness, job.wood.thickness):
            yield Problem(
                location=job.board_location(board, "thickness"),
                place=f'board "{board.name}": thickness',
                message=f'differs from that of board "{plain[0].name}", and "{open_.name}" does not say which of them '
                f"its parts are cut from",
                advice=f'add wood = "{board.name}" to the [[make]] of what is cut from it, or for one part wood = '
                f'{{ "{part}" = "{board.name}" }}; or leave the board out',
            )


def gap_of(job: Job, cutter: Cutter) -> float:
    """Return the least wood between two parts, mm."""
    return cutter.diameter + job.machine.cutting.web if job.file.gap is None else job.file.gap


def _widest_gap(job: Job) -> float:
    """The gap for the widest cutter that may go round parts; the parts decide which cutter will."""
    if job.file.gap is not None:
        return job.file.gap
    groups = alike_thick(job.boards)
    found = [
        cutter
        for boards in groups
        for cutter in _through(job, boards, stack=job.file.stack if len(groups) == 1 else 1)
        if isinstance(cutter, Cutter)
    ]
    return max((gap_of(job, cutter) for cutter in found), default=0.0)


def edge_margin_of(job: Job) -> float:
    """Return the wood left along the edges of boards, mm."""
    return job.machine.cutting.edge_margin if job.file.edge_margin is None else job.file.edge_margin


def refuse(problems: Sequence[Problem]) -> None:
    """Raise InputError if there are problems."""
    if problems:
        raise InputError(problems)


def _fitted_items(job: Job, items: Sequence[Item], cutter: Cutter) -> tuple[tuple[Item, ...], tuple[str, ...]]:
    """Return the items with the tabs and corner reliefs the job asks for and their pockets trimmed to the parts; and
    warnings. Reliefs are as wide as `cutter`, which goes round the parts.
    """
    asked = {make.name: make for make in job.file.make}
    fitted: list[Item] = []
    warnings: dict[str, None] = {}
    for item in items:
        make = asked[item.name]
        shaped = []
        for part in item.build.shaped:
            part = with_trimmed_pockets(replace(part, tab_places=make.tabs.get(part.name, ())))
            if make.relief != "none":
                part, unrelieved = _relieved(job, item, part, make.relief, cutter)
                warnings.update(dict.fromkeys(unrelieved))
            shaped.append(part)
        fitted.append(replace(item, build=replace(item.build, shaped=tuple(shaped))))
    return tuple(fitted), tuple(warnings)


def _holes_by_hand(
    items: tuple[Item, ...], cutters: Cutters, job: Job, boards: Sequence[Board], *, stack: int
) -> tuple[tuple[Item, ...], tuple[str, ...]]:
    """Return the items with the holes that no cutter can make marked for drilling by hand, and a warning for each part.

    Such holes are narrower than every cutter, or too deep for every cutter that is narrow enough.
    """
    machine = job.machine
    if machine.by_hand or not boards:
        return items, ()
    through = machine.through(stack * boards[0].thickness)
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


def _unknown_names(job: Job, items: Sequence[Item]) -> Iterator[Problem]:
    """What is wrong with the names that the order gives: parts for tabs by hand and for a finish, and the board of sawn
    parts.
    """
    asked = {make.name: (index, make) for index, make in enumerate(job.file.make)}
    for item in items:
        index, make = asked[item.name]
        names = [part.name for part in item.build.shaped]
        for name in make.tabs:
            if name not in names:
                yield Problem(
                    location=job.source.at(("make", index, "tabs", name)),
                    place=f'make "{make.name}": tabs',
                    message=f'it has no part "{name}"',
                    advice=f"its parts are {', '.join(dict.fromkeys(names))}"
                    if names
                    else "none of its parts is cut out",
                )
        for path, message, advice in unknown_parts(make.finish, item.build):
            yield problem_at(job.source, ("make", index, "finish", *path), message, advice=advice)
        if item.sawn_from is not None and not item.build.sawn:
            yield Problem(
                location=job.source.at(("make", index, "sawn_from")),
                place=f'item "{item.name}": sawn_from',
                message="no part of it is sawn off a board",
                advice="leave it out",
            )


def _kept_problems(job: Job, items: Sequence[Item]) -> Iterator[Problem]:
    """What is wrong with the names of the parts that are kept."""
    by_name = {item.name: item for item in items}
    boards = [board.name for board in job.boards]
    seen: set[tuple[str, str, int]] = set()
    for index, one in enumerate(job.file.keep):
        item = by_name.get(one.item)
        if item is None:
            yield problem_at(
                job.source, ("keep", index, "item"), f'there is no item "{one.item}"', advice=nearest(one.item, by_name)
            )
            continue
        names = [part.name for part in item.build.shaped]
        if one.part not in names:
            advice = nearest(one.part, names) if names else "none of its parts is cut out"
            yield problem_at(
                job.source, ("keep", index, "part"), f'"{one.item}" has no part "{one.part}"', advice=advice
            )
        if one.unit > item.count:
            advice = f"write a number from 1 to {item.count}"
            yield problem_at(job.source, ("keep", index, "unit"), f"there are {item.count} of it", advice=advice)
        if one.board not in boards:
            advice = nearest(one.board, boards) if boards else "add a [[board]]"
            yield problem_at(job.source, ("keep", index, "board"), f'there is no board "{one.board}"', advice=advice)
        if item.together:
            message = f'all parts of one "{one.item}" lie on one board (together)'
            yield problem_at(job.source, ("keep", index), message, advice="leave together out, or this entry")
        if (one.item, one.part, one.unit) in seen:
            yield problem_at(job.source, ("keep", index), "this part is kept twice", advice="leave one entry out")
        seen.add((one.item, one.part, one.unit))


def _kept(job: Job, items: Sequence[Item]) -> Iterator[Kept]:
    """The parts of a wood that are kept."""
    parts = {(item.name, part.name) for item in items for part in item.build.shaped}
    for index, one in enumerate(job.file.keep):
        if (one.item, one.part) in parts:
            yield Kept(
                item=one.item,
                part=one.part,
                unit=one.unit,
                board=one.board,
                number=one.number,
                at=one.at,
                turned=one.turned,
                mirrored=one.mirrored,
                location=job.source.at(("keep", index)),
            )


def _relieved(job: Job, item: Item, part: ShapedPart, way: str, cutter: Cutter) -> tuple[ShapedPart, list[str]]:
    done = relieved(part, way="side" if way == "side" else "diagonal", cutter_diameter=cutter.diameter)
    warnings = [
        f'item "{item.name}": part "{part.name}": no room for a relief in the corner at '
        f"x {length(x)}, y {length(y)} of the part"
        for x, y in done.skipped
    ]
    return done.part, warnings


def _within_reach(
    job: Job, items: Sequence[Item], boards: tuple[Board, ...], cutter: Cutter
) -> tuple[tuple[Board, ...], list[LeftAside]]:
    """The boards the machine takes. A board of the job's own that is too large is refused; one in
    stock is left aside.
    """
    if any(item.build.sawn for item in items):
        return boards, []  # the pieces sawn off first may make them short enough
    names = {board.name for board in boards}
    entries = [entry for entry in job.entries if entry.board.name in names]
    found = {
        entry.board.name: check_boards([entry.board], job.machine, cutter, 1, where=job.board_location)
        for entry in entries
    }
    fit = tuple(board for board in boards if not found[board.name])
    for entry in entries:
        if found[entry.board.name] and (entry.source is job.source or not fit):
            refuse([problem for each in found.values() for problem in each])
    large = [entry for entry in entries if found[entry.board.name]]
    return fit, [left_aside(entry, "too large for the machine") for entry in large]


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
