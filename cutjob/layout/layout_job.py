"""Lays out a whole job: from items and boards to the layouts of as many boards as needed.

Sawn parts are taken off first. Then plan_search looks for a plan: the boards, the layouts to repeat, the places of
parts.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache

from cutjob.counting import counted
from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import polyline
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board, KeepOut
from cutjob.layout.check import LayoutError, check_layout
from cutjob.layout.clear_space import room_area
from cutjob.layout.kept import Kept, boards_asked, may_take, put_in, set_apart, without_kept
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.layout.misfit import (
    boards_ran_out,
    fits_board,
    groups_too_large,
    more_than_boards,
    no_board,
    too_large,
    turns_to_try,
    unusable_boards,
)
from cutjob.layout.rules import Clearance, Room
from cutjob.layout.sawing import Sawing, saw_alike, saw_off
from cutjob.layout.search.batches import Demand, demands, lots_of
from cutjob.layout.search.board_groups import boards_used, layouts_of, place_of_cost, score, sheets_of
from cutjob.layout.search.crew import Crew
from cutjob.layout.search.feasible import fits_alone
from cutjob.layout.search.first_plans import FirstPlan
from cutjob.layout.search.packing_problem import Fits, PackingProblem, is_mixed, packing_problem, prices_of
from cutjob.layout.search.plan_search import POSITIONS, search
from cutjob.layout.search.progress import Quiet, Watch
from cutjob.parts.part import Item, ShapedPart
from cutjob.remembered import remembered, same
from cutjob.stages import Effort

__all__ = ["Effort", "lay_out"]

_CORES = 2  # of an executor of our own
_FEW_PARTS = 150  # whose no-fit polygons take little memory
_GETTING_READY = "getting the layout engine ready (some seconds the first time on a machine)"
_MOST_REPORTED = 40  # parts that fit no board, each with advice
_LEAST_LEFTOVER = (150.0, 50.0)
_LIKELY = 0.8  # of the room, with half the gaps: parts seldom fill more
_BESIDE = 1.0  # mm by which what is kept free reaches over a board's edges


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """A plan for boards sawn in a way, and what it is worth, less being better."""

    worth: tuple[float, ...]
    sawing: Sawing
    packing: PackingProblem
    first_plan: FirstPlan


def lay_out(
    items: Sequence[Item],
    boards: Sequence[Board],
    *,
    gap: float,
    edge_margin: float,
    stack: int,
    saw_kerf: float,
    seed: int,
    effort: Effort,
    share: float = 1.0,
    seconds: float | None = None,
    prefer: Sequence[str] | None = None,
    least_leftover: tuple[float, float] = _LEAST_LEFTOVER,
    longest: float | None = None,
    rail: float = 0.0,
    beside: float = 0.0,
    room: Room | None = None,
    kept: Sequence[Kept] = (),
    watch: Watch | None = None,
    executor: Executor | None = None,
) -> Layout:
    """Return a layout of all shaped and sawn parts of the items on the boards. Lengths mm.

    No part is longer along the board than `longest` (None: any length). `stack` boards of a kind may be cut at once.
    Narrow parts keep `rail` more than the margin from the board's edge; parts too wide for that keep `beside` more than
    the gap along the board. Parts leave `room` beside clamps and other things on the boards; sawn pieces need none.
    Parts that are `kept` stay where they are. The search takes a `share` of its effort.
    `prefer` says what matters, the most important first: the "cost" of the boards, the largest usable "leftover" (one
    that holds `least_leftover`), runs of the machine and the length of "cut". After these words count, in this order,
    the cost, few different layouts, the leftover and the runs; with None runs come second where boards are stacked. The
    same arguments give the same layout with any `executor`,
    unless `seconds` limit the search or `watch` ends it. Raises InputError for parts that fit no board and for too few
    boards, LayoutError if the finished layout breaks a rule.
    """
    if stack < 1:
        raise ValueError("a stack is at least one board high")
    missing_board = no_board(boards)
    if missing_board is not None and any(item.build.shaped or item.build.sawn for item in items):
        raise InputError([missing_board])
    clearance = Clearance(
        gap=gap, edge_margin=edge_margin, longest=math.inf if longest is None else longest, rail=rail, beside=beside
    )
    sawing = saw_off(items, boards, saw_kerf=saw_kerf)
    others = without_kept(items, kept) if kept else tuple(items)
    wanted = demands(others)
    laid: tuple[BoardLayout, ...] = ()
    unfinished = False
    apart = {sawing.boards: set_apart(items, sawing.boards, kept, clearance=clearance)} if kept else {}
    if kept and not wanted:
        laid = put_in((), apart[sawing.boards])
    if wanted:
        sawings = [sawing, *_stackable(items, boards, sawing, stack=stack, saw_kerf=saw_kerf)]
        order, looking_on = _preferred(prefer, stack), watch or Quiet()
        found: list[_Found] = []
        parts = sum(entry.count for entry in wanted)
        with _executor(executor, parts) as workers:

            def free_of(way: Sawing) -> tuple[Board, ...]:
                """The boards sawn in a way, those with kept parts apart."""
                return apart[way.boards].boards if kept else way.boards

            def tried(way: Sawing, roomy: tuple[Board, ...], *, effort: Effort, may_fail: bool) -> None:
                """Add the plans found for boards sawn in a way, with room beside what stands on them."""
                try:
                    fits = _fitting(others, wanted, roomy, free_of(way), room=room, kept=kept, clearance=clearance)
                except InputError:
                    if may_fail:
                        return
                    raise
                crew = Crew(workers, looking_on, positions=int(share * POSITIONS[effort]), seconds=seconds)
                crew.tell(_GETTING_READY)
                lots = lots_of(others, wanted)
                shops = [
                    packing_problem(
                        roomy,
                        wanted,
                        lots,
                        fits,
                        clearance=clearance,
                        stack=stack,
                        saw_kerf=saw_kerf,
                        least_leftover=least_leftover,
                        prefer=order,
                        across=across,
                    )
                    for across in ((False, True) if is_mixed(roomy, wanted, fits) else (False,))
                ]
                crew.positions = max(1, int(crew.positions / shops[0].heaviness))
                here = len(found)
                for packing in shops:
                    if not (crew.overdrawn and found[here:] and not any(found[here].first_plan.missing)):
                        first_plan = search(packing, crew, effort=effort, seed=seed)
                        worth = _worth(packing, first_plan, way, boards)
                        found.append(_Found(worth=worth, sawing=way, packing=packing, first_plan=first_plan))

            for way in sawings:
                # What is sawn first for few boards is refused where it can't be laid out.
                if kept and way is not sawing:
                    apart[way.boards] = set_apart(items, way.boards, kept, clearance=clearance)
                tried(way, _with_room(free_of(way), room), effort=effort, may_fail=way is not sawing)
            best = min(found, key=lambda one: one.worth)
            runs_first = order.index("runs") < order.index("cost")
            short = tuple(_within_bed(board, clearance) for board in best.packing.boards)
            if short != best.packing.boards and not any(best.first_plan.missing):
                if runs_first or _may_do_without_windows(best, short, clearance):
                    tried(best.sawing, short, effort=effort if runs_first else "quick", may_fail=True)
                best = min(found, key=lambda one: one.worth)
        sawing, packing = best.sawing, best.packing
        roomy = _with_room(free_of(sawing), room)
        _refuse_missing(packing, best.first_plan, room if roomy != free_of(sawing) else None)
        own = dict(zip(packing.boards, free_of(sawing), strict=True))
        laid = tuple(replace(entry, board=own[entry.board]) for entry in layouts_of(packing, best.first_plan.plan))
        if kept:
            laid = put_in(laid, apart[sawing.boards])
        unfinished = best.first_plan.unfinished
    return _checked(laid, sawing, items, clearance=clearance, seed=seed, unfinished=unfinished)


def _stackable(
    items: Sequence[Item], boards: Sequence[Board], sawing: Sawing, *, stack: int, saw_kerf: float
) -> list[Sawing]:
    """Another way to take the sawn parts off, where boards are stacked: what is left of as many is alike."""
    if stack == 1 or not sawing.pieces:
        return []
    alike = saw_alike(items, boards, saw_kerf=saw_kerf, stack=stack)
    return [] if alike is None or alike.boards == sawing.boards else [alike]


def _with_room(boards: tuple[Board, ...], room: Room | None) -> tuple[Board, ...]:
    return tuple(same(board if room is None else room.beside(board)) for board in boards)


def _worth(
    packing: PackingProblem, first_plan: FirstPlan, sawing: Sawing, boards: Sequence[Board]
) -> tuple[float, ...]:
    """What counts of a plan, less being better: parts that are missing, then what is preferred, where the cost is that
    of the boards sawn as well: what is left of them is free in the plan.
    """
    values = list(score(packing, first_plan.plan))
    price = dict(zip((board.name for board in boards), prices_of(boards), strict=True))
    values[place_of_cost(packing.prefer)] += sum(price[name] * count for name, count in sawing.sawn_from)
    return (float(sum(first_plan.missing)), *values)


def _within_bed(board: Board, clearance: Clearance) -> Board:
    """The board with its wood beyond the first bed's length kept free."""
    end = clearance.edge_margin + clearance.longest
    if end + clearance.edge_margin >= board.length:
        return board
    beyond = polyline(
        [
            (end + clearance.gap, -_BESIDE),
            (board.length + _BESIDE, -_BESIDE),
            (board.length + _BESIDE, board.width + _BESIDE),
            (end + clearance.gap, board.width + _BESIDE),
        ]
    )
    return replace(board, keep_outs=(*board.keep_outs, KeepOut(beyond)))


def _may_do_without_windows(best: _Found, short: Sequence[Board], clearance: Clearance) -> bool:
    """Whether as many boards might do with parts on the first bed's length of each, where now some are slid."""
    packing, plan = best.packing, best.first_plan.plan
    if all(sheet.windows == 1 for sheet in sheets_of(packing, plan)):
        return False
    parts = sum(packing.whole.areas[demand] * lot.count for lot in packing.lots for demand in lot.parts)
    used = boards_used(packing, plan)
    return parts <= _LIKELY * sum(room_area(short[kind], clearance=clearance) * count for kind, count in used.items())


def _checked(
    laid: tuple[BoardLayout, ...],
    sawing: Sawing,
    items: Sequence[Item],
    *,
    clearance: Clearance,
    seed: int,
    unfinished: bool,
) -> Layout:
    layout = Layout(
        boards=laid,
        sawn=sawing.pieces,
        gap=clearance.gap,
        edge_margin=clearance.edge_margin,
        seed=seed,
        sawn_from=sawing.sawn_from,
        after_sawing=sawing.boards,
        saw_order=sawing.order,
        unfinished=unfinished,
    )
    problems = check_layout(layout, items)
    if problems:
        raise LayoutError(problems)
    return layout


_USUAL = ("cost", "layouts", "leftover", "runs", "cut")
_USUAL_STACKED = ("cost", "runs", "layouts", "cut", "leftover")
_MEANT = {"cut": ("runs", "cut")}  # what a word of the job stands for, if not for itself


def _preferred(prefer: Sequence[str] | None, stack: int) -> tuple[str, ...]:
    """The words of a score: those that the job states first, then the usual ones."""
    stated = tuple(meant for word in prefer or () for meant in _MEANT.get(word, (word,)))
    usual = _USUAL_STACKED if prefer is None and stack > 1 else _USUAL
    return (*stated, *(word for word in usual if word not in stated))


@contextmanager
def _executor(given: Executor | None, parts: int) -> Iterator[Executor]:
    """The executor given, else threads of our own: for few parts those of the layouts before, which know no-fit
    polygons; for many parts new ones, whose memory is free again at the end.
    """
    if given is not None:
        yield given
    elif parts <= _FEW_PARTS:
        yield _lasting_threads()
    else:
        with ThreadPoolExecutor(_CORES) as own:
            yield own


@cache
def _lasting_threads() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(_CORES)


def _fitting(
    items: Sequence[Item],
    wanted: Sequence[Demand],
    boards: Sequence[Board],
    real: Sequence[Board],
    *,
    room: Room | None,
    kept: Sequence[Kept],
    clearance: Clearance,
) -> Fits:
    """A place for each demand on each kind of board, with the extra room (`real` are the boards without it). Raises
    InputError for demands that fit none.
    """
    asked = boards_asked(kept)
    known: dict[tuple[ShapedPart, int], Transform | None] = {}
    fits: dict[tuple[int, int], Transform] = {}
    for i, entry in enumerate(wanted):
        for kind, board in enumerate(boards):
            key = (entry.part, kind)
            if key not in known:
                known[key] = _alone(entry.part, board, clearance)
            found = known[key]
            if found is not None and may_take(asked, entry, board):
                fits[i, kind] = found
    lost = [entry for i, entry in enumerate(wanted) if not any((i, kind) in fits for kind in range(len(boards)))]
    problems = [too_large(entry, boards, clearance=clearance) for entry in lost[:_MOST_REPORTED]]
    if room is not None:
        problems = [
            room.caused(problem)
            if any(fits_board(entry.part, board, clearance=clearance) for board in real)
            else problem
            for entry, problem in zip(lost, problems, strict=False)
        ]
    if len(lost) > _MOST_REPORTED:
        message = f"no board fits {counted(len(lost) - _MOST_REPORTED, 'more part')}"
        problems.append(Problem(message=message, advice="fix these first", location=lost[0].location))
    others = _others(items, wanted, boards, lost=bool(lost), clearance=clearance)
    if others and room is not None:
        without = _others(items, wanted, real, lost=bool(lost), clearance=clearance)
        others = room.caused_unless(others, without)
    problems = [*others, *problems]
    if problems:
        raise InputError(problems)
    return fits


@remembered(most=2048, by_value=(Clearance,))
def _alone(part: ShapedPart, board: Board, clearance: Clearance) -> Transform | None:
    angles = turns_to_try(part, board, edge_margin=clearance.edge_margin)
    return fits_alone(part, board, clearance=clearance, angles=angles)


def _others(
    items: Sequence[Item],
    wanted: Sequence[Demand],
    boards: Sequence[Board],
    *,
    lost: bool,
    clearance: Clearance,
) -> list[Problem]:
    """Problems other than the parts in `lost`, which fit no board: boards, groups, too little wood."""
    problems = unusable_boards(boards, clearance=clearance) if lost else []
    problems += groups_too_large([item for item in items if item.together], boards, clearance=clearance)
    return problems or ([] if lost else more_than_boards(wanted, boards, clearance=clearance))


def _refuse_missing(packing: PackingProblem, first_plan: FirstPlan, room: Room | None) -> None:
    """Raise InputError for lots that found no board."""
    if not any(first_plan.missing):
        return
    remaining = [0] * len(packing.wanted)
    for lot, count in zip(packing.lots, first_plan.missing, strict=True):
        for demand in lot.parts:
            remaining[demand] += count
    short = [i for i, count in enumerate(remaining) if count]
    usable = [kind for kind in packing.rank if any((i, kind) in packing.fits for i in short)]
    usable.sort(key=lambda kind: packing.boards[kind].sawn_off > 0 or packing.boards[kind].price == 0)
    boards = [packing.boards[kind] for kind in usable]
    problems = boards_ran_out(packing.wanted, remaining, boards)
    raise InputError(problems if room is None else map(room.may_have_caused, problems))
