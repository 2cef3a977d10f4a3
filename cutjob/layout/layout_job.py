"""A whole job laid out: items and boards in, the layouts of as many boards as it takes out.

Sawn parts come off first. Then board by board: leftovers, then the board cheapest for its area; as many boards stacked
as fill as well as one would; a layout that what is left still covers is cut again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import shapely

from cutjob.errors import InputError, Problem
from cutjob.geometry.polygons import to_polygon
from cutjob.job.stock import Board
from cutjob.layout.check import LayoutError, check_layout
from cutjob.layout.demand import Demand, demands
from cutjob.layout.layout import BoardLayout, Layout, Placement
from cutjob.layout.misfit import boards_ran_out, fits, too_large
from cutjob.layout.order_placer import OrderPlacer
from cutjob.layout.place import Laid, Placer, Wanted
from cutjob.layout.rules import Clearance
from cutjob.layout.sawing import saw_off
from cutjob.parts.part import Item
from cutjob.units import Unit

Effort = Literal["quick", "normal", "best"]

# Work for the whole job, in the placer's measure (see Placer.fill): about one, ten and sixty seconds.
_BUDGET: dict[Effort, int] = {"quick": 2_000_000, "normal": 16_000_000, "best": 80_000_000}
# The stack asked for saves runs of the machine: a lower one must fill its boards better by more than this.
_AS_GOOD = 1.5
_WELL_FILLED = 0.7  # share of a board's area that parts take up as a rule


@dataclass(slots=True)
class _Kind:
    """A kind of board, how many are left of it, its clear area, and which demands fit it."""

    board: Board
    left: int
    area: float
    holds: list[bool]

    @property
    def price(self) -> float:
        """Price of taking one more: nothing when it has been sawn from already."""
        return 0.0 if self.board.sawn_off else self.board.price


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
    progress: Callable[[str], None] | None = None,
    unit: Unit = "mm",
    engine: Callable[[Clearance], Placer] = OrderPlacer,
) -> Layout:
    """Return a layout of all shaped and sawn parts of the items on the boards. Lengths mm; `unit` is for messages.

    `stack` boards of a kind may be cut at once. The same arguments give the same layout. Raises InputError for parts
    that fit no board and for boards that run out, LayoutError if the finished layout breaks a rule.
    """
    if stack < 1:
        raise ValueError("a stack is at least one board high")
    clearance = Clearance(gap=gap, edge_margin=edge_margin)
    sawing = saw_off(items, boards, saw_kerf=saw_kerf, unit=unit)
    wanted = demands(items)
    placer = engine(clearance)
    kinds = _ranked(sawing.boards, wanted, placer)
    lost = [entry for i, entry in enumerate(wanted) if not any(kind.holds[i] for kind in kinds)]
    if lost:
        raise InputError(
            too_large(entry, sawing.boards, clearance=clearance, engine=engine, unit=unit) for entry in lost
        )
    run = _Run(wanted, kinds, placer, stack=stack, seed=seed, budget=_BUDGET[effort], progress=progress)
    run.lay_all()
    if any(run.remaining):
        usable = [kind.board for kind in kinds if any(n and kind.holds[i] for i, n in enumerate(run.remaining))]
        usable.sort(key=lambda board: board.sawn_off > 0 or board.price == 0)
        raise InputError(boards_ran_out(wanted, run.remaining, usable, unit=unit))
    layout = Layout(
        boards=tuple(run.layouts),
        sawn=sawing.pieces,
        gap=gap,
        edge_margin=edge_margin,
        seed=seed,
        sawn_from=sawing.sawn_from,
    )
    problems = check_layout(layout, items)
    if problems:
        raise LayoutError(problems)
    return layout


def _ranked(boards: Sequence[Board], wanted: Sequence[Demand], placer: Placer) -> list[_Kind]:
    """The kinds of board, leftovers first (small ones before large), then the cheapest for its clear area."""
    kinds = []
    for board in boards:
        knots = shapely.union_all([to_polygon(knot) for knot in board.keep_outs])
        area = to_polygon(board.outline).difference(knots).area
        holds = [fits(placer, entry.part, board) for entry in wanted]
        kinds.append(_Kind(board, board.count, area, holds))
    return sorted(kinds, key=lambda kind: (kind.price > 0, kind.price / kind.area if kind.price else kind.area))


class _Run:
    """The boards filled so far and what is still wanted."""

    def __init__(
        self,
        wanted: Sequence[Demand],
        kinds: list[_Kind],
        placer: Placer,
        *,
        stack: int,
        seed: int,
        budget: int,
        progress: Callable[[str], None] | None,
    ) -> None:
        self.wanted, self.kinds, self.placer = wanted, kinds, placer
        self.stack, self.seed, self.budget, self.progress = stack, seed, budget, progress
        self.remaining = [entry.count for entry in wanted]
        self.areas = [entry.part.region.area for entry in wanted]
        # A hole that stops partway down would be missing in all boards of a stack but the top one.
        self.stackable = [all(hole.depth is None for hole in entry.part.holes) for entry in wanted]
        self.layouts: list[BoardLayout] = []

    def lay_all(self) -> None:
        """Fill boards until nothing is wanted or no board is left for it."""
        while any(self.remaining):
            choice = self._choice()
            if choice is None:
                return
            kind, height = choice
            budget = self._share(kind, height)
            self.budget -= budget
            laid = self._fill(kind, height, budget)
            if not laid:
                raise LayoutError(
                    Problem(message=f'nothing was laid on board "{kind.board.name}", though parts fit it')
                )
            self._record(kind, height, laid)

    def _pool(self, kind: _Kind, height: int) -> list[int]:
        """How many of each demand a stack of that height may take without making too many."""
        return [
            count // height if kind.holds[i] and (height == 1 or self.stackable[i]) else 0
            for i, count in enumerate(self.remaining)
        ]

    def _fill(self, kind: _Kind, height: int, budget: int) -> tuple[Laid, ...]:
        pool = self._pool(kind, height)
        chosen = [i for i, count in enumerate(pool) if count]
        open_kinds = [other for other in self.kinds if other.left > 0]
        asked = [
            Wanted(
                part=self.wanted[i].part,
                count=pool[i],
                urgent=len(open_kinds) > 1 and sum(other.holds[i] for other in open_kinds) == 1,
            )
            for i in chosen
        ]
        laid = self.placer.fill(kind.board, asked, budget=budget, seed=self.seed * 1_000_003 + len(self.layouts))
        return tuple(Laid(index=chosen[entry.index], transform=entry.transform) for entry in laid)

    def _choice(self) -> tuple[_Kind, int] | None:
        """The kind of board to fill next and how many of it to stack."""
        for kind in self.kinds:
            height = self._height(kind)
            if height:
                return self._finishing(kind.price * height) or (kind, height)
        return None

    def _height(self, kind: _Kind) -> int:
        """The highest stack whose boards are filled about as well as those of any lower one; 0 if nothing fits."""
        heights = [h for h in range(min(self.stack, kind.left), 0, -1) if any(self._pool(kind, h))]
        if len(heights) < 2:
            return heights[0] if heights else 0
        best, share = 0, 0.0
        for height in heights:
            filled = sum(self.areas[entry.index] for entry in self._fill(kind, height, 0))
            if filled > share * _AS_GOOD:
                best, share = height, filled
        return best

    def _finishing(self, price: float) -> tuple[_Kind, int] | None:
        """One board that takes all that is left for no more than `price`: the cheapest, then the smallest."""
        area = sum(size * count for size, count in zip(self.areas, self.remaining, strict=True))
        able = [
            kind
            for kind in self.kinds
            if kind.left and kind.price <= price and kind.area >= area and self._pool(kind, 1) == self.remaining
        ]
        for kind in sorted(able, key=lambda kind: (kind.price, kind.area)) if len(self.kinds) > 1 else ():
            if len(self._fill(kind, 1, 0)) == sum(self.remaining):
                return kind, 1
        return None

    def _share(self, kind: _Kind, height: int) -> int:
        """The share of the work left that this board gets: by area, and more where one layout serves several boards."""
        pool = self._pool(kind, height)
        area = sum(size * count for size, count in zip(self.areas, self.remaining, strict=True))
        boards = area / (kind.area * _WELL_FILLED * height)
        repeats = min((count for count in pool if count), default=1)
        return int(self.budget / max(1.0, boards / repeats))

    def _record(self, kind: _Kind, height: int, laid: tuple[Laid, ...]) -> None:
        numbers = Counter(entry.index for entry in laid)
        repeats = min(self.remaining[i] // height // number for i, number in numbers.items())
        copies = min(repeats, kind.left // height)
        made: Counter[int] = Counter()
        placements = []
        for entry in laid:
            demand = self.wanted[entry.index]
            first = demand.count - self.remaining[entry.index] + made[entry.index]
            made[entry.index] += height
            placements.append(
                Placement(part=demand.part, item=demand.item, unit=demand.unit_of(first), transform=entry.transform)
            )
        for i, number in numbers.items():
            self.remaining[i] -= number * height * copies
        kind.left -= height * copies
        name = f"board-{len(self.layouts) + 1:02d}"
        self.layouts.append(
            BoardLayout(id=name, board=kind.board, placements=tuple(placements), stack=height, copies=copies)
        )
        if self.progress is not None:
            times = f", {height * copies} boards" if height * copies > 1 else ""
            left = sum(self.remaining)
            self.progress(f'{name}: {len(laid)} parts on "{kind.board.name}"{times}; {left} parts to go')
