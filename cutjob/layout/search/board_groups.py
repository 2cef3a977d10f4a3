"""Plans during the search: boards filled together, their cost, and their sheets."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout
from cutjob.layout.leftovers import largest_leftover
from cutjob.layout.search.arrangement import Arrangement
from cutjob.layout.search.batches import Piece, Sheet, board_layouts, merged, runs_of, windows_needed
from cutjob.layout.search.board_search import Entry, part_of_problem
from cutjob.layout.search.bodies import Problem
from cutjob.layout.search.packing_problem import PackingProblem, turned_back

_LOOKED_AT = 6  # number of emptiest boards on which the largest leftover is sought
_SAME = 1e-6

Score = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardGroup:
    """Entries on boards that exchange parts: `spaces` are numbers in the packing's problem.
    Everything is made `times`.
    """

    times: int
    entries: tuple[Entry, ...]
    spaces: tuple[int, ...]
    at: Arrangement

    def on(self, space: int) -> list[int]:
        """The items in a space."""
        return [int(i) for i in np.nonzero(self.at.space == space)[0]]

    def area(self, packing: PackingProblem, space: int) -> float:
        """The area of the parts in a space, with half the gap round them."""
        return sum(packing.whole.areas[self.entries[i].demand] for i in self.on(space))


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A whole layout of the job, as groups and as single parts on boards of their own."""

    groups: tuple[BoardGroup, ...]
    alone: tuple[Sheet, ...] = ()

    def with_group(self, number: int, group: BoardGroup) -> Plan:
        """The plan with one group exchanged."""
        return replace(self, groups=(*self.groups[:number], group, *self.groups[number + 1 :]))


def problem_of(packing: PackingProblem, group: BoardGroup, *, held: bool = False) -> Problem:
    """Return the group's problem; with `held` bundles stay on their boards."""
    return part_of_problem(packing.whole, group.entries, group.spaces, packing.holds, group.at if held else None)


def chosen(arrangement: Arrangement, items: Sequence[int], spaces: Sequence[int]) -> Arrangement:
    """Return the arrangement of some of the items in some of the spaces, both renumbered in the order given."""
    number = {space: k for k, space in enumerate(spaces)}
    picked = list(items)
    return Arrangement(
        pose=arrangement.pose[picked],
        space=np.array([number.get(int(s), -1) for s in arrangement.space[picked]], np.int64),
        x=arrangement.x[picked],
        y=arrangement.y[picked],
    )


def part_of_group(group: BoardGroup, spaces: Sequence[int]) -> tuple[BoardGroup, list[int]]:
    """Return a group of some of its spaces with their items, and the numbers of these items."""
    items = [i for space in spaces for i in group.on(space)]
    small = BoardGroup(
        times=group.times,
        entries=tuple(group.entries[i] for i in items),
        spaces=tuple(group.spaces[space] for space in spaces),
        at=chosen(group.at, items, spaces),
    )
    return small, items


def put_back(
    group: BoardGroup, spaces: Sequence[int], items: Sequence[int], kinds: Sequence[int], at: Arrangement
) -> BoardGroup:
    """Return the group with a part of it, as `part_of_group` gave it, laid again; empty spaces are dropped.

    `kinds` are the kinds of the part's spaces now; there may be more than before.
    """
    now = list(group.spaces)
    numbers = list(spaces)
    for k, kind in enumerate(kinds):
        if k < len(numbers):
            now[numbers[k]] = kind
        else:
            numbers.append(len(now))
            now.append(kind)
    pose, space = group.at.pose.copy(), group.at.space.copy()
    x, y = group.at.x.copy(), group.at.y.copy()
    for k, i in enumerate(items):
        pose[i], space[i], x[i], y[i] = at.pose[k], numbers[at.space[k]], at.x[k], at.y[k]
    return without_empty(replace(group, spaces=tuple(now), at=Arrangement(pose=pose, space=space, x=x, y=y)))


def without_empty(group: BoardGroup) -> BoardGroup:
    """Return the group without its empty spaces."""
    used = sorted({int(space) for space in group.at.space if space >= 0})
    return replace(
        group,
        spaces=tuple(group.spaces[space] for space in used),
        at=chosen(group.at, range(len(group.entries)), used),
    )


def without(group: BoardGroup, items: set[int]) -> BoardGroup:
    """Return the group without some items."""
    kept = [i for i in range(len(group.entries)) if i not in items]
    at = chosen(group.at, kept, range(len(group.spaces)))
    return without_empty(replace(group, entries=tuple(group.entries[i] for i in kept), at=at))


def boards_used(packing: PackingProblem, plan: Plan) -> Counter[int]:
    """Return the number of boards of each kind that a plan takes."""
    used: Counter[int] = Counter()
    for group in plan.groups:
        for space in group.spaces:
            used[space // 2] += group.times
    for sheet in plan.alone:
        used[sheet.kind] += sheet.times
    return used


def cost_of(packing: PackingProblem, plan: Plan) -> float:
    """Return the price of all boards that a plan takes."""
    return sum(packing.price[kind] * number for kind, number in sorted(boards_used(packing, plan).items()))


def sheets_of(packing: PackingProblem, plan: Plan) -> tuple[Sheet, ...]:
    """Return the plan's sheets, first those on the boards to use first, then those made most often.

    Sheets with the same parts on the same kind of board are one, laid like the shortest of them.
    """
    reached = [
        (_reach(packing, group, space), _sheet(packing, group, space))
        for group in plan.groups
        for space in range(len(group.spaces))
    ]
    reached.sort(key=lambda one: (one[1].windows, one[0]))
    sheets = merged([sheet for _, sheet in reached] + list(plan.alone), packing.lots, packing.shapes)
    place = {kind: number for number, kind in enumerate(packing.rank)}
    return tuple(sorted(sheets, key=lambda sheet: (place[sheet.kind], -sheet.times, -_wood(packing, sheet))))


def _reach(packing: PackingProblem, group: BoardGroup, space: int) -> float:
    box = packing.whole.bodies.box
    return max((float(group.at.x[i] + box[group.at.pose[i], 2]) for i in group.on(space)), default=0.0)


def _wood(packing: PackingProblem, sheet: Sheet) -> float:
    return sum(packing.whole.areas[piece.demand] for piece in sheet.pieces)


def _sheet(packing: PackingProblem, group: BoardGroup, space: int) -> Sheet:
    kind, turned = divmod(group.spaces[space], 2)
    pieces = []
    for i in group.on(space):
        entry, pose = group.entries[i], packing.whole.poses[group.at.pose[i]]
        at = Transform(
            x=float(group.at.x[i]),
            y=float(group.at.y[i]),
            degrees=pose.degrees % 360.0,
            mirrored=pose.mirrored,
        )
        pieces.append(
            Piece(
                lot=entry.lot,
                bundle=entry.bundle if entry.bundle >= 0 else i,
                demand=entry.demand,
                transform=turned_back(at, packing.boards[kind]) if turned else at,
            )
        )
    return Sheet(kind=kind, times=group.times, pieces=tuple(pieces), windows=_windows(packing, group, space))


def _windows(packing: PackingProblem, group: BoardGroup, space: int) -> int:
    longest = packing.clearance.longest
    if math.isinf(longest):
        return 1
    box = packing.whole.bodies.box
    spans = [(float(group.at.x[i]), group.at.pose[i]) for i in group.on(space)]
    return windows_needed([(x + float(box[pose, 0]), x + float(box[pose, 2])) for x, pose in spans], longest=longest)


def layouts_of(packing: PackingProblem, plan: Plan) -> tuple[BoardLayout, ...]:
    """Return the plan as layouts of boards."""
    return board_layouts(sheets_of(packing, plan), packing.lots, packing.wanted, packing.boards, stack=packing.stack)


def leftover_of(packing: PackingProblem, plan: Plan) -> float:
    """Return the area of the largest usable leftover, mm2, found on the boards with the most wood left."""
    layouts = layouts_of(packing, plan)
    wood = {entry.id: sum(p.part.region.area for p in entry.placements) for entry in layouts}
    emptiest = sorted(layouts, key=lambda entry: wood[entry.id] - abs(entry.board.outline.signed_area))
    return max(
        (
            largest_leftover(
                entry,
                gap=packing.clearance.gap,
                edge_margin=packing.clearance.edge_margin,
                saw_kerf=packing.saw_kerf,
                least=packing.least_leftover,
            )
            for entry in emptiest[:_LOOKED_AT]
        ),
        default=0.0,
    )


def score(packing: PackingProblem, plan: Plan) -> Score:
    """Return the score of a plan, smaller is better: its values in the preferred order."""
    sheets = sheets_of(packing, plan)
    return tuple(value for word in packing.prefer for value in _values(packing, plan, sheets, word))


def _values(packing: PackingProblem, plan: Plan, sheets: Sequence[Sheet], word: str) -> tuple[float, ...]:
    """What counts for a word: for runs, the slides of boards longer than the bed as well; for layouts, each window's
    program; for cut, the length of all outlines, each run counted once.
    """
    runs = [runs_of(sheet, packing.lots, packing.stack) for sheet in sheets]
    if word == "cost":
        return (round(cost_of(packing, plan), 6),)
    if word == "layouts":
        return (float(sum(sheet.windows for sheet in sheets)),)
    if word == "leftover":
        return (-round(leftover_of(packing, plan), 3),)
    if word == "runs":
        slides = sum(run - run // sheet.windows for run, sheet in zip(runs, sheets, strict=True))
        return float(sum(runs)), float(slides)
    lengths = [
        sum(contour.length for piece in sheet.pieces for contour in packing.wanted[piece.demand].part.region.contours)
        for sheet in sheets
    ]
    each = [run // sheet.windows for run, sheet in zip(runs, sheets, strict=True)]
    return (round(sum(run * length for run, length in zip(each, lengths, strict=True)), 3),)


def place_of_cost(prefer: Sequence[str]) -> int:
    """Return the place of the cost in a score."""
    return sum(2 if word == "runs" else 1 for word in prefer[: prefer.index("cost")])


def filled_share(packing: PackingProblem, plan: Plan) -> tuple[int, float]:
    """Return the number of boards that a plan takes and the share of their area that is parts."""
    used = boards_used(packing, plan)
    area = sum(abs(packing.boards[kind].outline.signed_area) * number for kind, number in used.items())
    wood = sum(entry.part.region.area * entry.count for entry in packing.wanted)
    return sum(used.values()), min(1.0, wood / area) if area else 0.0
