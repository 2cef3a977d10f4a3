"""Lays out a job so that its boards hold together: tries layouts until one is held, and returns it with its cuts.

    lay_out_wood   the parts of one kind of wood on its boards
    cut_wood       all cuts on them, with numbers, and the clamps or screws of the boards
    lay_out_held   both, repeated until a layout is held
    held_job       all woods of a job in one value

The plain layout is taken where the clamps find a place and bridges hold every part. Otherwise a few ways to make more
room are tried, each with a short search; of the ways that hold, the one with the cheapest boards is laid out in full.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial
from itertools import groupby
from typing import Protocol

from cutjob.counting import counted
from cutjob.cuts.board_cuts import BoardCuts, cut_layouts, stack_warnings
from cutjob.cuts.fitness import thin_wood_warnings, unfit_parts
from cutjob.cuts.numbers import numbered_boards
from cutjob.errors import InputError, Problem
from cutjob.holding.choose import Fault
from cutjob.holding.clamps import room_for_clamps
from cutjob.holding.hold import Held, hold_boards
from cutjob.holding.room import MoreRoom, beside_clamps, room_for_nose, room_for_screws, ways_to_make_room
from cutjob.holding.screws import ThinWaste, bed_for_parts, held_down, with_windows
from cutjob.job.boards import check_boards
from cutjob.job.job import Job
from cutjob.layout.holding import HeldBy
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.layout.layout_job import lay_out
from cutjob.layout.leftovers import LeftoverRule
from cutjob.layout.search.progress import Watch
from cutjob.resolved import ResolvedWood, refuse
from cutjob.stages import Effort, Stop, go_on
from cutjob.tolerances import TOLERANCES


def lay_out_wood(
    wood: ResolvedWood,
    *,
    seed: int,
    effort: Effort,
    seconds: float | None = None,
    watch: Watch | None = None,
    more: MoreRoom | None = None,
    first: int = 1,
    share: float = 1.0,
    executor: Executor | None = None,
) -> Layout:
    """Lay the parts of one wood on its boards, and check that the sawn boards fit the machine.

    With `more`, that extra room is left as well. The layouts are numbered from `first`. The search takes a `share`
    of its effort. Raises InputError where something does not fit.
    """
    file, machine, cutters, boards = wood.job.file, wood.machine, wood.cutters, wood.boards
    cutter, gap, edge_margin, parts = cutters.outline, wood.gap, wood.edge_margin, wood.parts
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
        stack=wood.stack,
        numbers=file.numbers != "none",
    )
    if more.clamps:
        room = beside_clamps(room, clamped)
    if more.screw_margin is not None and machine.screws is not None:
        room = room_for_screws(room, screws=machine.screws, margin=more.screw_margin, slot=slot, gap=gap, bed=bed)
    layout = lay_out(
        wood.items,
        boards,
        gap=gap,
        edge_margin=edge_margin,
        rail=rail,
        beside=max(0.0, 2 * slot + more.rail - gap) if more.rail else 0.0,
        stack=wood.stack,
        saw_kerf=machine.saw_kerf,
        seed=seed,
        effort=effort,
        share=share,
        seconds=seconds,
        prefer=file.prefer if "prefer" in file.model_fields_set else None,
        least_leftover=file.least_leftover,
        longest=bed_for_parts(machine, cutter),
        room=room,
        kept=wood.kept,
        watch=watch,
        executor=executor,
    )
    problems = [
        problem
        for board in sorted(layout.boards, key=lambda board: board.board.sawn_off)
        for problem in check_boards([board.board], machine, cutter, board.stack, where=wood.job.board_location)
    ]
    # Boards of a kind that were sawn to different lengths share one line of the job, and are reported once.
    reported: dict[tuple[object, str], Problem] = {}
    for problem in problems:
        reported.setdefault((problem.location, problem.place), problem)
    refuse(list(reported.values()))
    return layout if first == 1 else _numbered(layout, first)


def _numbered(layout: Layout, first: int) -> Layout:
    """The layout with its boards numbered from `first`."""
    boards = (replace(board, id=f"board-{number:02d}") for number, board in enumerate(layout.boards, start=first))
    return replace(layout, boards=tuple(boards))


@dataclass(frozen=True, slots=True, kw_only=True)
class JobCuts:
    """All cuts on the boards of one wood, each board as it is held, and warnings.

    Where the waste is too thin for its screws, no board is held, and `thin` names the places.
    """

    held: tuple[Held, ...]
    warnings: tuple[str, ...]
    thin: ThinWaste | None = None

    @property
    def boards(self) -> tuple[BoardCuts, ...]:
        """The cuts of each board."""
        return tuple(each.board for each in self.held)

    @property
    def all_held(self) -> bool:
        """Whether every board holds together to the last cut."""
        return self.thin is None and all(board.good for board in self.held)


def cut_wood(
    wood: ResolvedWood, layout: Layout, *, by: HeldBy, executor: Executor | None = None, stop: Stop | None = None
) -> JobCuts:
    """Return the cuts of every board of a layout, with its windows, numbers, screws and bridges; boards are held `by`
    that.

    Raises InputError where something can't be cut, and StoppedError between two boards once `stop` says so.
    """
    job, machine, cutters = wood.job, wood.machine, wood.cutters
    locations = {item.name: item.location for item in wood.items}
    refuse(unfit_parts(layout.boards, cutter=cutters.outline, machine=machine, locations=locations))
    prepared, lettering_warnings = _prepared(wood, layout)
    cuts, warnings = cut_layouts(
        prepared,
        cutters=cutters,
        machine=machine,
        gap=layout.gap,
        locations=locations,
        exact={make.name for make in job.file.make if make.inside_corners == "exact"},
        executor=executor,
    )
    fixed: list[BoardCuts] = []
    for board in cuts:
        go_on(stop)
        down = held_down(board, machine=machine, screws=by == "screws", leftovers=wood.leftovers)
        if isinstance(down, ThinWaste):
            return JobCuts(held=(), warnings=(), thin=down)
        fixed.append(down)
    held = hold_boards(
        fixed, machine=machine, by=by, between_boards=job.file.between_boards, executor=executor, stop=stop
    )
    stacked = stack_warnings([each.board.layout for each in held], machine)
    return JobCuts(
        held=held,
        warnings=(*lettering_warnings, *warnings, *thin_wood_warnings(layout.boards, machine), *stacked),
    )


def _prepared(wood: ResolvedWood, layout: Layout) -> tuple[tuple[BoardLayout, ...], tuple[str, ...]]:
    """The boards with their windows and the numbers cut into them; and warnings."""
    job, machine, cutters = wood.job, wood.machine, wood.cutters
    boards = [with_windows(board, machine=machine, cutter=cutters.outline) for board in layout.boards]
    where = job.file.numbers
    if where == "none" or machine.by_hand:
        return tuple(boards), ()
    return numbered_boards(
        boards,
        where=where,
        height=job.file.number_height,
        asked="number_height" in job.file.model_fields_set,
        cutters=cutters,
        machine=machine,
        location=job.source.at(("number_height",)),
    )


_MOST_NAMED = 8  # parts named in a refusal
# A way that leaves at most _NEAR pieces unheld is tried again with other layouts: the best _MOST_NEAR ways,
# _MOST_AGAIN times each. Our choice: each try costs a layout.
_FEW_FAULTS, _MOST_NEAR, _MOST_AGAIN = 4, 2, 3
# The share of the quick search that shows whether a way holds; on the samples it agrees with the whole search.
_TRIAL = 0.15


class LayOut(Protocol):
    """Lays one wood of a job out once."""

    def __call__(
        self, *, more: MoreRoom | None = None, effort: Effort | None = None, again: int = 0, share: float = 1.0
    ) -> Layout:
        """Return a layout with more room, found with a share of the given effort, or of the run's; each number `again`
        gives another layout.
        """


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldLayout:
    """A layout of one wood, the cuts of its boards as they are held, and warnings. `room` is the extra room that the
    layout leaves for holding, and `again` how often it was laid out again.
    """

    layout: Layout
    cuts: JobCuts
    by: HeldBy
    room: MoreRoom | None = None
    again: int = 0

    @property
    def as_cut(self) -> Layout:
        """The layout with its boards as they are cut and held."""
        return replace(self.layout, boards=tuple(board.layout for board in self.cuts.boards))

    @property
    def faults(self) -> float:
        """The number of pieces that are not held; infinite where a board has no hold at all."""
        return sum(math.inf if board.no_hold else len(board.faults) for board in self.cuts.held)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldJob:
    """A job laid out, cut and held: `layout` has the boards of all woods before they are held, `boards` their cuts as
    they are held, `leftovers` the rule for the offcuts of each board layout, by its id; warnings; and each of the
    `woods` by itself.
    """

    layout: Layout
    boards: tuple[BoardCuts, ...]
    leftovers: Mapping[str, LeftoverRule]
    warnings: tuple[str, ...]
    woods: tuple[tuple[ResolvedWood, HeldLayout], ...] = ()

    @property
    def as_cut(self) -> Layout:
        """The layout with its boards as they are cut and held."""
        return replace(self.layout, boards=tuple(board.layout for board in self.boards))


def held_job(woods: Sequence[tuple[ResolvedWood, HeldLayout]]) -> HeldJob:
    """Return the woods of a job in one value. Their layouts are numbered, each from the end of the one before."""
    layouts = [held.layout for _, held in woods]
    first = layouts[0]
    return HeldJob(
        layout=replace(
            first,
            boards=tuple(board for layout in layouts for board in layout.boards),
            sawn=tuple(piece for layout in layouts for piece in layout.sawn),
            gap=min(layout.gap for layout in layouts),
            sawn_from=tuple(entry for layout in layouts for entry in layout.sawn_from),
            saw_order=tuple(entry for layout in layouts for entry in layout.saw_order),
            after_sawing=tuple(board for layout in layouts for board in layout.after_sawing),
            unfinished=any(layout.unfinished for layout in layouts),
        ),
        boards=tuple(board for _, held in woods for board in held.cuts.boards),
        leftovers={board.id: wood.leftovers for wood, held in woods for board in held.layout.boards},
        warnings=tuple(dict.fromkeys(warning for _, held in woods for warning in held.cuts.warnings)),
        woods=tuple(woods),
    )


def lay_out_held(
    wood: ResolvedWood, *, lay_out: LayOut, cut: Callable[[Layout, HeldBy], JobCuts], effort: Effort
) -> HeldLayout:
    """Return the layout of one wood and its cuts, held. `cut` makes a layout's cuts, held in the way named.

    Short searches find out how much room the holding takes; a layout of the full effort is then made with this room.
    One layout is tried for each way to make room, then at most `_MOST_NEAR` times `_MOST_AGAIN` more for clamps and as
    many for screws. Raises InputError where something can't be laid out, cut or held, with advice.
    """

    def tried(by: HeldBy, more: MoreRoom | None, at: Effort | None, again: int = 0, share: float = 1.0) -> HeldLayout:
        layout = lay_out(more=more, effort=at, again=again, share=share)
        return HeldLayout(layout=layout, cuts=cut(layout, by), by=by, room=more, again=again)

    by: HeldBy = wood.job.file.board_held_by
    trial = _or_none(lambda: tried(by, None, "quick", share=_TRIAL))
    plain = tried(by, None, None) if trial is None or trial.cuts.all_held else None
    if plain is not None and plain.cuts.all_held:
        return plain
    first = plain or trial
    assert first is not None
    failed: list[HeldLayout] = [first]
    best: HeldLayout | None = None
    for share in (_TRIAL, 1.0):
        almost: list[HeldLayout] = []
        several = _ways_in_turn(ways_to_hold(wood, by, first.cuts.thin), almost)
        best = _cheapest_held(several, first, almost, partial(tried, at="quick", share=share))
        failed += almost
        if best is not None:
            break
    if plain is None and (best is None or _cost(best.layout)[:2] > _cost(first.layout)[:2]):
        plain = tried(by, None, None)  # after all, as nothing else is as cheap
        if plain.cuts.all_held and (best is None or _cost(plain.layout) <= _cost(best.layout)):
            return plain
    if best is None:
        assert plain is not None
        if plain.cuts.thin is not None:
            raise InputError(plain.cuts.thin.problem)
        # Report the mistakes of the layout that is nearest to being held.
        nearest = min([plain, *failed], key=lambda one: one.faults)
        raise InputError(dict.fromkeys(wrong for board in nearest.cuts.held for wrong in _problems(wood.job, board)))
    if effort == "quick" and share == 1.0:
        return best
    for again in (best.again, best.again + 1):
        longer = _or_none(partial(tried, best.by, best.room, None, again))
        if longer is not None and longer.cuts.all_held and _cost(longer.layout)[:2] <= _cost(best.layout)[:2]:
            return longer
    return best


def _or_none(attempt: Callable[[], HeldLayout]) -> HeldLayout | None:
    """What an attempt comes to, or None where the boards have no space for it."""
    try:
        return attempt()
    except InputError:
        return None


def _cheapest_held(
    ways: Iterable[tuple[HeldBy, MoreRoom | None, int]],
    first: HeldLayout,
    almost: list[HeldLayout],
    attempt: Callable[..., HeldLayout],
) -> HeldLayout | None:
    """The cheapest layout that is held, of the ways in turn, until one takes no more boards than the `first` layout,
    which is not held; None where no way holds. Layouts that are nearly held are added to `almost`.
    """
    best: HeldLayout | None = None
    for by, more, again in ways:
        if best is not None and (by != best.by or _cost(best.layout)[:2] <= _cost(first.layout)[:2]):
            break  # screws only where no clamps hold
        found = _or_none(partial(attempt, by, more, again=again))
        if found is None or found.cuts.thin is not None:
            continue  # no space for this extra room, or still none for the screws
        if not found.cuts.all_held:
            almost.append(found)
        elif best is None or _cost(found.layout) < _cost(best.layout):
            best = found
    return best


def _ways_in_turn(
    ways: Iterable[tuple[HeldBy, MoreRoom | None]], almost: Sequence[HeldLayout]
) -> Iterator[tuple[HeldBy, MoreRoom | None, int]]:
    """The ways to hold, those with clamps first. Ways that `almost` held are repeated with other layouts before the
    next kind of hold is tried.
    """
    for by, group in groupby(ways, key=lambda way: way[0]):
        for _, more in group:
            yield by, more, 0
        near = sorted((one for one in almost if one.by == by and one.faults <= _FEW_FAULTS), key=lambda one: one.faults)
        for again in range(1, _MOST_AGAIN + 1):
            for one in near[:_MOST_NEAR]:
                yield by, one.room, again


def _cost(layout: Layout) -> tuple[float, int, float]:
    """Price and number of the boards a job takes, those that are only sawn up too; area of those cut."""
    runs = [(board.board, board.stack * board.copies) for board in layout.boards]
    taken = [(board, count) for board, count in runs if not board.sawn_off]
    taken += [(board, board.count) for board in layout.after_sawing if board.sawn_off]
    return (
        round(sum(board.price * count for board, count in taken), 6),
        sum(count for _, count in taken),
        sum(abs(board.outline.signed_area) * count for board, count in runs),
    )


def ways_to_hold(
    wood: ResolvedWood, by: HeldBy, thin: ThinWaste | None = None
) -> Iterator[tuple[HeldBy, MoreRoom | None]]:
    """Yield ways to hold a wood's boards where no extra room does, each with the room it needs: more room first, then
    screws where the job leaves the choice open. `thin` is the waste that was too thin for screws, where known.
    """
    machine, cutter = wood.machine, wood.cutters.outline
    width = 0.0 if machine.tabs is None else machine.tabs.width
    lead = machine.cutting.lead
    # Wide enough for a bridge's width of wood between two slots, with lead-ins and lead-outs at both sides.
    wide = 2 * (cutter.diameter + 2 * TOLERANCES.acceptance) + width + 2 * lead
    apart = max(0.0, wide - wood.gap)
    margin = None
    if by == "screws" and machine.screws is not None:
        margin = machine.screws.margin if thin is None else thin.margin
    for more in ways_to_make_room(width=width, lead=lead, apart=apart, clamps=by == "clamps", screw_margin=margin):
        yield by, more
    if by == "clamps" and machine.screws is not None and "board_held_by" not in wood.job.file.model_fields_set:
        yield "screws", None
        yield from ways_to_hold(wood, "screws")


_LACKS = {
    "joined": "nothing joins them to what is held",
    "chain": "more than three bridges lie between them and what is held",
    "single": "a single bridge that snaps would free them",
    "spread": "their bridges lie all to one side",
    "by hand": "a tab that the job places by hand would hold nothing there",
}


def _problems(job: Job, held: Held) -> Iterator[Problem]:
    layout = held.board.layout
    advice = 'give a larger edge_margin or gap, make fewer parts at once, or hold the board with board_held_by = "tape"'
    if held.no_hold:
        asked = "board_held_by" in job.file.model_fields_set  # else screws have been tried
        screws = ' or "screws"' if asked and job.machine.screws is not None else ""
        yield Problem(
            location=layout.board.location,
            place=layout.id,
            message="the waste has no room for two clamps, one near each end of what lies on the machine",
            advice=f"{advice}{screws}",
        )
        return
    by_lack: dict[str, list[Fault]] = {}
    for fault in held.faults:
        by_lack.setdefault(fault.lacks, []).append(fault)
    for lacks, faults in by_lack.items():
        parts = [fault.node for fault in faults if fault.node < len(layout.placements)]
        if not parts:
            yield Problem(
                location=layout.board.location,
                place=layout.id,
                message=f"{counted(len(faults), 'piece')} of waste would come loose while the board is cut",
                advice=advice,
            )
            continue
        counts = Counter(layout.placements[part].part.name for part in parts)
        names = [f"{count} x {name}" if count > 1 else name for name, count in counts.items()]
        listed = ", ".join(names[:_MOST_NAMED]) + (" and others" if len(names) > _MOST_NAMED else "")
        hand = lacks == "by hand"
        item = layout.placements[parts[0]].item
        index = next((i for i, make in enumerate(job.file.make) if make.name == item), None)
        yield Problem(
            location=job.source.at(("make", index, "tabs")) if hand and index is not None else layout.board.location,
            place=f'make "{item}": tabs' if hand else layout.id,
            message=f"can't be held: {listed}; {_LACKS[lacks]}",
            advice="put them further apart, or where there is wood beside the cut" if hand else advice,
        )
