"""Plans while they are searched for: boards filled together, what they cost, and the sheets they come to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout
from cutjob.layout.leftovers import largest_leftover
from cutjob.layout.search.arrangement import Arrangement
from cutjob.layout.search.batches import Piece, Sheet, board_layouts, runs_of
from cutjob.layout.search.board_search import Entry, part_of_problem
from cutjob.layout.search.bodies import Problem
from cutjob.layout.search.packing_problem import Shop, turned_back

_LOOKED_AT = 6  # the emptiest boards, on which the largest leftover is looked for
_SAME = 1e-6

Score = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """Entries on boards that exchange parts: `spaces` are numbers in the shop's problem. All is made `times`."""

    times: int
    entries: tuple[Entry, ...]
    spaces: tuple[int, ...]
    at: Arrangement

    def on(self, space: int) -> list[int]:
        """The items that lie in a space."""
        return [int(i) for i in np.nonzero(self.at.space == space)[0]]

    def area(self, shop: Shop, space: int) -> float:
        """The area of the parts in a space, with half the gap round them."""
        return sum(shop.whole.areas[self.entries[i].demand] for i in self.on(space))


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A whole layout of the job, as benches and as single parts on boards of their own."""

    benches: tuple[Bench, ...]
    alone: tuple[Sheet, ...] = ()

    def with_bench(self, number: int, bench: Bench) -> Plan:
        """The plan with one bench exchanged."""
        return replace(self, benches=(*self.benches[:number], bench, *self.benches[number + 1 :]))


def problem_of(shop: Shop, bench: Bench, *, held: bool = False) -> Problem:
    """Return the bench's problem; with `held` bundles stay on the boards they lie on."""
    return part_of_problem(shop.whole, bench.entries, bench.spaces, shop.holds, bench.at if held else None)


def chosen(arrangement: Arrangement, items: Sequence[int], spaces: Sequence[int]) -> Arrangement:
    """Return the arrangement of some of the items in some of the spaces, both numbered anew in the order given."""
    number = {space: k for k, space in enumerate(spaces)}
    picked = list(items)
    return Arrangement(
        pose=arrangement.pose[picked],
        space=np.array([number.get(int(s), -1) for s in arrangement.space[picked]], np.int32),
        x=arrangement.x[picked],
        y=arrangement.y[picked],
    )


def part_of_bench(bench: Bench, spaces: Sequence[int]) -> tuple[Bench, list[int]]:
    """Return the bench of some of its spaces with what lies there, and the numbers of these items."""
    items = [i for space in spaces for i in bench.on(space)]
    small = Bench(
        times=bench.times,
        entries=tuple(bench.entries[i] for i in items),
        spaces=tuple(bench.spaces[space] for space in spaces),
        at=chosen(bench.at, items, spaces),
    )
    return small, items


def put_back(bench: Bench, spaces: Sequence[int], items: Sequence[int], kinds: Sequence[int], at: Arrangement) -> Bench:
    """Return the bench with a part of it, as `part_of_bench` gave it, laid anew; spaces left empty are dropped.

    `kinds` are what the part's spaces are now; there may be more of them than were taken.
    """
    now = list(bench.spaces)
    numbers = list(spaces)
    for k, kind in enumerate(kinds):
        if k < len(numbers):
            now[numbers[k]] = kind
        else:
            numbers.append(len(now))
            now.append(kind)
    pose, space = bench.at.pose.copy(), bench.at.space.copy()
    x, y = bench.at.x.copy(), bench.at.y.copy()
    for k, i in enumerate(items):
        pose[i], space[i], x[i], y[i] = at.pose[k], numbers[at.space[k]], at.x[k], at.y[k]
    return without_empty(replace(bench, spaces=tuple(now), at=Arrangement(pose=pose, space=space, x=x, y=y)))


def without_empty(bench: Bench) -> Bench:
    """Return the bench without the spaces in which nothing lies."""
    used = sorted({int(space) for space in bench.at.space if space >= 0})
    return replace(
        bench,
        spaces=tuple(bench.spaces[space] for space in used),
        at=chosen(bench.at, range(len(bench.entries)), used),
    )


def without(bench: Bench, items: set[int]) -> Bench:
    """Return the bench without some items."""
    kept = [i for i in range(len(bench.entries)) if i not in items]
    at = chosen(bench.at, kept, range(len(bench.spaces)))
    return without_empty(replace(bench, entries=tuple(bench.entries[i] for i in kept), at=at))


def boards_used(shop: Shop, plan: Plan) -> Counter[int]:
    """Return how many boards of each kind a plan takes."""
    used: Counter[int] = Counter()
    for bench in plan.benches:
        for space in bench.spaces:
            used[space // 2] += bench.times
    for sheet in plan.alone:
        used[sheet.kind] += sheet.times
    return used


def cost_of(shop: Shop, plan: Plan) -> float:
    """Return the price of all boards a plan takes."""
    return sum(shop.price[kind] * number for kind, number in sorted(boards_used(shop, plan).items()))


def sheets_of(shop: Shop, plan: Plan) -> tuple[Sheet, ...]:
    """Return the plan's sheets: those on the boards to be used first, and those made most often, first."""
    sheets = [_sheet(shop, bench, space) for bench in plan.benches for space in range(len(bench.spaces))]
    place = {kind: number for number, kind in enumerate(shop.rank)}
    sheets += plan.alone
    return tuple(sorted(sheets, key=lambda sheet: (place[sheet.kind], -sheet.times, -_wood(shop, sheet))))


def _wood(shop: Shop, sheet: Sheet) -> float:
    return sum(shop.whole.areas[piece.demand] for piece in sheet.pieces)


def _sheet(shop: Shop, bench: Bench, space: int) -> Sheet:
    kind, turned = divmod(bench.spaces[space], 2)
    pieces = []
    for i in bench.on(space):
        entry, pose = bench.entries[i], shop.whole.poses[bench.at.pose[i]]
        at = Transform(
            x=float(bench.at.x[i]), y=float(bench.at.y[i]), degrees=pose.degrees % 360.0, mirrored=pose.mirrored
        )
        pieces.append(
            Piece(
                lot=entry.lot,
                bundle=entry.bundle if entry.bundle >= 0 else i,
                demand=entry.demand,
                transform=turned_back(at, shop.boards[kind]) if turned else at,
            )
        )
    return Sheet(kind=kind, times=bench.times, pieces=tuple(pieces))


def layouts_of(shop: Shop, plan: Plan) -> tuple[BoardLayout, ...]:
    """Return the plan as layouts of boards."""
    return board_layouts(sheets_of(shop, plan), shop.lots, shop.wanted, shop.boards, stack=shop.stack)


def leftover_of(shop: Shop, plan: Plan) -> float:
    """Return the area of the largest usable leftover, mm2, as found on the boards with most wood left."""
    layouts = layouts_of(shop, plan)
    wood = {entry.id: sum(p.part.region.area for p in entry.placements) for entry in layouts}
    emptiest = sorted(layouts, key=lambda entry: wood[entry.id] - abs(entry.board.outline.signed_area))
    return max(
        (
            largest_leftover(
                entry,
                gap=shop.clearance.gap,
                edge_margin=shop.clearance.edge_margin,
                saw_kerf=shop.saw_kerf,
                least=shop.least_leftover,
            )
            for entry in emptiest[:_LOOKED_AT]
        ),
        default=0.0,
    )


def score(shop: Shop, plan: Plan) -> Score:
    """Return what counts of a plan, in the order preferred, less being better; then the number of layouts."""
    sheets = sheets_of(shop, plan)
    values: list[float] = []
    for word in shop.prefer:
        if word == "cost":
            values.append(round(cost_of(shop, plan), 6))
        elif word == "leftover":
            values.append(-round(leftover_of(shop, plan), 3))
        else:
            values += _cuts(shop, sheets)
    return (*values, len(sheets))


def _cuts(shop: Shop, sheets: Sequence[Sheet]) -> tuple[float, float]:
    """How often the machine is started, and the length of all outlines cut, each run counted once."""
    runs = [runs_of(sheet, shop.lots, shop.stack) for sheet in sheets]
    lengths = [
        sum(contour.length for piece in sheet.pieces for contour in shop.wanted[piece.demand].part.region.contours)
        for sheet in sheets
    ]
    return float(sum(runs)), round(sum(run * length for run, length in zip(runs, lengths, strict=True)), 3)


def filled_share(shop: Shop, plan: Plan) -> tuple[int, float]:
    """Return how many boards a plan takes and the share of their area that is parts."""
    used = boards_used(shop, plan)
    area = sum(abs(shop.boards[kind].outline.signed_area) * number for kind, number in used.items())
    wood = sum(entry.part.region.area * entry.count for entry in shop.wanted)
    return sum(used.values()), min(1.0, wood / area) if area else 0.0
