"""A job laid out so that its boards hold together: layouts are tried until one is held, and its cuts come out.

The layout as it comes is taken where clamps find a place and bridges hold every part. Where it is not held, more room
is made in a few ways, each looked for quickly; of those that hold, the cheapest boards win.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Protocol

from cutjob.cuts.cutter_choice import Cutters
from cutjob.cuts.holding import ThinWasteError
from cutjob.errors import InputError, Problem
from cutjob.holding.choose import Fault
from cutjob.holding.hold import Held
from cutjob.holding.room import MoreRoom, ways_to_make_room
from cutjob.job.job import Job
from cutjob.job.machine import Machine
from cutjob.job_cuts import JobCuts
from cutjob.job_order import gap_of
from cutjob.layout.held import HeldBy
from cutjob.layout.layout import Layout
from cutjob.stages import Effort
from cutjob.tolerances import TOLERANCES

_MOST_NAMED = 8  # parts named in a refusal
# A way that leaves at most this many pieces unheld is tried with other layouts: the best so many of them, so many times
# each. Our choice: each try costs a layout.
_FEW_FAULTS, _MOST_NEAR, _MOST_AGAIN = 4, 2, 3


class LayOut(Protocol):
    """Lays the job out once."""

    def __call__(self, *, more: MoreRoom | None = None, effort: Effort | None = None, again: int = 0) -> Layout:
        """Return a layout with more room, at another effort than the run's where that is given; another one each time
        it is laid out `again`.
        """


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldLayout:
    """A layout, the cuts of its boards as they are held, and warnings. `room` is what the layout leaves for it, and it
    was laid out `again` so many times.
    """

    layout: Layout
    cuts: JobCuts
    by: HeldBy
    room: MoreRoom | None = None
    again: int = 0

    @property
    def held(self) -> bool:
        """Whether every board holds together to the last cut."""
        return all(board.good for board in self.cuts.held)

    @property
    def faults(self) -> float:
        """How much is not held: nodes, a board without any hold counting as beyond hope."""
        return sum(math.inf if board.no_hold else len(board.faults) for board in self.cuts.held)


def lay_out_held(
    job: Job,
    machine: Machine,
    cutters: Cutters,
    *,
    lay_out: LayOut,
    cut: Callable[[Layout, HeldBy], JobCuts],
    effort: Effort,
) -> HeldLayout:
    """Return the layout of a job and its cuts, held. `cut` makes a layout's cuts, held in the way named.

    Raises InputError for what can't be laid out, cut or held, with what would work.
    """

    def tried(by: HeldBy, more: MoreRoom | None, at: Effort | None, again: int = 0) -> HeldLayout:
        layout = lay_out(more=more, effort=at, again=again)
        return HeldLayout(layout=layout, cuts=cut(layout, by), by=by, room=more, again=again)

    by: HeldBy = job.file.board_held_by
    plain = lay_out()
    thin: ThinWasteError | None = None
    first: HeldLayout | None = None
    try:
        first = HeldLayout(layout=plain, cuts=cut(plain, by), by=by)
        if first.held:
            return first
    except ThinWasteError as error:
        thin = error
    best: HeldLayout | None = None
    almost: list[HeldLayout] = []
    for way_by, more, again in _ways_in_turn(_ways(job, machine, cutters, by, thin), almost):
        if best is not None and (way_by != best.by or _cost(best.layout)[:2] <= _cost(plain)[:2]):
            break  # screws only where no clamps do
        try:
            found = tried(way_by, more, "quick", again)
        except InputError:
            continue  # there is no room for so much room, or none for screws all the same
        if not found.held:
            almost.append(found)
        elif best is None or _cost(found.layout) < _cost(best.layout):
            best = found
    if best is None:
        if first is None and thin is not None:
            raise thin
        # The mistakes to report are those of the layout that comes nearest to being held.
        nearest = min([*([] if first is None else [first]), *almost], key=lambda one: one.faults)
        problems = {str(problem): problem for board in nearest.cuts.held for problem in _problems(job, board)}
        raise InputError(problems.values())
    if effort == "quick":
        return best
    try:
        longer = tried(best.by, best.room, None, best.again)
    except InputError:
        return best
    return longer if longer.held and _cost(longer.layout) <= _cost(best.layout) else best


def _ways_in_turn(
    ways: Iterable[tuple[HeldBy, MoreRoom | None]], almost: Sequence[HeldLayout]
) -> Iterator[tuple[HeldBy, MoreRoom | None, int]]:
    """The ways, those of clamps first; then again those that `almost` held, with other layouts, before the next hold is
    tried.
    """
    for by, group in groupby(ways, key=lambda way: way[0]):
        for _, more in group:
            yield by, more, 0
        near = sorted((one for one in almost if one.by == by and one.faults <= _FEW_FAULTS), key=lambda one: one.faults)
        for again in range(1, _MOST_AGAIN + 1):
            for one in near[:_MOST_NEAR]:
                yield by, one.room, again


def _cost(layout: Layout) -> tuple[float, int, float]:
    """Price, number and area of a layout's boards."""
    runs = [(board.board, board.stack * board.copies) for board in layout.boards]
    return (
        round(sum(board.price * count for board, count in runs), 6),
        sum(count for _, count in runs),
        sum(abs(board.outline.signed_area) * count for board, count in runs),
    )


def _ways(
    job: Job, machine: Machine, cutters: Cutters, by: HeldBy, thin: ThinWasteError | None
) -> Iterator[tuple[HeldBy, MoreRoom | None]]:
    """Ways to hold the job's boards and to lay it out for that: more room first, then screws where the job leaves it
    open.
    """
    width = 0.0 if machine.tabs is None else machine.tabs.width
    lead = machine.cutting.lead
    # So wide that a bridge's width of wood stays between two slots, ways in and out at both sides.
    wide = 2 * (cutters.outline.diameter + 2 * TOLERANCES.acceptance) + width + 2 * lead
    apart = max(0.0, wide - gap_of(job, cutters.outline))
    margin = None
    if by == "screws" and machine.screws is not None:
        margin = machine.screws.margin if thin is None else thin.margin
    for more in ways_to_make_room(width=width, lead=lead, apart=apart, clamps=by == "clamps", screw_margin=margin):
        yield by, more
    if by == "clamps" and machine.screws is not None and "board_held_by" not in job.file.model_fields_set:
        yield "screws", None
        yield from _ways(job, machine, cutters, "screws", None)


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
                message=f"{_counted(len(faults), 'piece')} of waste would come loose while the board is cut",
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


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"
