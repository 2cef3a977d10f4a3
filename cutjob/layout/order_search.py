"""Laying parts on one board in an order, each where it reaches least far along the board, and the search for an order.

States along an order are kept, so that a change costs only what comes after it; areas still free are worked out only
for the part whose turn it is, and carried on from state to state.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from cutjob.geometry.contour import Region
from cutjob.geometry.polygons import to_polygon
from cutjob.job.stock import Board
from cutjob.layout.nofit import SLACK, NoFits, Paths, Room, Shape, difference
from cutjob.layout.outline import UNITS, ring_points
from cutjob.layout.place import Wanted
from cutjob.layout.rules import Clearance, Turn

_Key: TypeAlias = tuple[int, Turn, bool]  # a shape's number, its turn, and whether slack is allowed


class Put(NamedTuple):
    """A part set down: its origin at x, y in whole units."""

    which: int  # of the parts wanted
    shape: Shape
    turn: Turn
    x: int
    y: int


class Gene(NamedTuple):
    """A part in the order of laying, and the turn it must take (None: the one that reaches least far)."""

    which: int
    turn: Turn | None = None


@dataclass(slots=True)
class State:
    """A board with some parts on it. Areas still free are remembered with the number of parts they allow for."""

    placed: tuple[Put, ...]
    free: dict[_Key, tuple[Paths, int]]
    full_for: frozenset[int]  # shapes that fit no more
    reach: int  # greatest x used, units
    area: float  # of the parts laid, mm2
    moment: float  # area times middle along x, a tie-break that pulls parts together


@dataclass(slots=True)
class Trial:
    """An order, the states before each of its genes and at the end, and what it costs."""

    order: list[Gene]
    states: list[State]
    cost: float


class Space:
    """A board as a room with keep-outs, and where each shape may lie while it is empty."""

    def __init__(self, board: Board, clearance: Clearance, numbers: Iterator[int]) -> None:
        """Prepare a board; `numbers` gives its keep-outs numbers of their own."""
        points = ring_points(board.outline, SLACK, grow=False)
        self.exact, self.loose = (Room(points, clearance=clearance.edge_margin, slack=slack) for slack in (0.0, SLACK))
        self.keep_outs = [Shape(next(numbers), Region(outline), gap=clearance.gap) for outline in board.keep_outs]
        self.area = to_polygon(board.outline).area
        self.width = board.width
        self.length = board.length
        self._empty: dict[_Key, Paths] = {}

    def empty(self, shape: Shape, turn: Turn, loose: bool, pairs: NoFits) -> Paths:
        """Feasible positions of the shape on the bare board; `loose` allows SLACK beyond the margin."""
        key = (shape.number, turn, loose)
        if key not in self._empty:
            paths = (self.loose if loose else self.exact).fit(shape, turn)
            against = [p for knot in self.keep_outs for p in pairs.between(knot, Turn(), shape, turn)]
            self._empty[key] = difference(paths, against) if paths and against else paths
        return self._empty[key]

    def excess(self, shape: Shape, turn: Turn, x: float, y: float) -> float:
        """How far the turned shape at x, y (mm) reaches beyond the margin, mm."""
        return max(
            edge.offset - shape.least(edge.normal, turn) - edge.normal[0] * x - edge.normal[1] * y
            for edge in self.exact.edges
        )


class Search:
    """The search for one board: states along an order are kept, so that a change costs only what comes after it.

    Late acceptance (E. Burke, Y. Bykov, 2017 [M]): a trial may be as poor as the current one was some trials ago, more
    of them the longer the search may last.
    """

    _LEAST_HISTORY = 8
    _WORK_PER_STEP_BACK = 200_000

    def __init__(
        self,
        space: Space,
        pairs: NoFits,
        wanted: list[Wanted],
        shapes: list[Shape],
        turns: list[tuple[Turn, ...]],
    ) -> None:
        """Take the board, the no-fit areas known, and the parts with their shapes and turns."""
        self.space, self.pairs = space, pairs
        self.wanted, self.shapes, self.turns = wanted, shapes, turns
        self.work = -pairs.work  # no-fit areas worked out from now on count too
        self.sizes = [self._size(index) for index in range(len(wanted))]

    def _size(self, index: int) -> tuple[float, float, float]:
        shape, turn = self.shapes[index], self.turns[index][0]
        along = -shape.least((-1.0, 0.0), turn) - shape.least((1.0, 0.0), turn)
        across = -shape.least((0.0, -1.0), turn) - shape.least((0.0, 1.0), turn)
        return shape.area, along, across

    def best(self, budget: int, rng: random.Random) -> tuple[Put, ...]:
        """Return the best layout found for about that much work; always at least a first one."""
        best: Trial | None = None
        for order in self._first_orders():
            if best is None or self.work + self.pairs.work < budget:
                best = self._lay(order, [self._start()], best.cost if best else float("inf")) or best
        assert best is not None  # a first order has no limit to exceed
        current = best
        history = [best.cost] * max(self._LEAST_HISTORY, budget // self._WORK_PER_STEP_BACK)
        count = 0
        while self.work + self.pairs.work < budget and len(best.order) > 0:
            changed = self._changed(current, rng)
            self.work += 200
            if changed is None:
                continue
            first, order = changed
            trial = self._lay(order, current.states[: first + 1], max(history[count % len(history)], current.cost))
            if trial is not None:
                current = trial
                if trial.cost < best.cost:
                    best = trial
            history[count % len(history)] = current.cost
            count += 1
        return best.states[-1].placed

    def _start(self) -> State:
        return State((), {}, frozenset(), 0, 0.0, 0.0)

    def _first_orders(self) -> list[list[Gene]]:
        """Large parts first, by area; then by length and by width. Urgent parts lead always."""
        orders = []
        for ruler in (0, 1, 2):
            ranked = sorted(
                range(len(self.wanted)), key=lambda i: (not self.wanted[i].urgent, -self.sizes[i][ruler], i)
            )
            orders.append([Gene(i) for i in ranked for _ in range(self._most(i))])
        return orders

    def _most(self, index: int) -> int:
        """No more of a part than the board's area holds."""
        return min(self.wanted[index].count, int(self.space.area / max(self.sizes[index][0], 1e-6)) + 1)

    def _lay(self, order: list[Gene], states: list[State], limit: float) -> Trial | None:
        """Lay the genes after the given states; None as soon as the cost must exceed the limit."""
        states = list(states)
        missing = sum(
            self._missing_cost(gene.which)
            for i, gene in enumerate(order[: len(states) - 1])
            if len(states[i].placed) == len(states[i + 1].placed)
        )
        for gene in order[len(states) - 1 :]:
            before = states[-1]
            after = self._with(before, gene)
            if after is before:
                missing += self._missing_cost(gene.which)
            if max(missing, after.reach / UNITS) > limit:
                return None
            states.append(after)
        end = states[-1]
        cost = end.reach / UNITS + 0.1 * end.moment / max(end.area, 1e-6)
        if missing:
            cost = missing + self.space.length + 0.1 * cost
        return Trial(order, states, cost) if cost <= limit else None

    def _missing_cost(self, index: int) -> float:
        """A part left over costs far more than any length; an urgent one more than anything else."""
        return self.sizes[index][0] * 1000 / self.space.width * (100 if self.wanted[index].urgent else 1)

    def _with(self, state: State, gene: Gene) -> State:
        """The board with one more part, or the same state when it does not fit."""
        shape, area = self.shapes[gene.which], self.sizes[gene.which][0]
        if shape.number in state.full_for or state.area + area > self.space.area:
            return state
        fitting = self._fitting(state, gene, loose=False) or self._fitting(state, gene, loose=True)
        if not fitting:
            if gene.turn is not None:
                return self._with(state, Gene(gene.which))
            state.full_for |= {shape.number}
            return state
        reach, y, _, x, turn = min(fitting)
        middle = (reach + x + shape.least((1.0, 0.0), turn) * UNITS) / 2 / UNITS
        return State(
            (*state.placed, Put(gene.which, shape, turn, x, y)),
            dict(state.free),
            state.full_for,
            max(state.reach, reach),
            state.area + area,
            state.moment + area * middle,
        )

    def _fitting(self, state: State, gene: Gene, *, loose: bool) -> list[tuple[int, int, int, int, Turn]]:
        """The best position of each turn: greatest x used, y, number of the turn, x and the turn; units."""
        shape, found = self.shapes[gene.which], []
        for number, turn in enumerate(self.turns[gene.which]):
            if gene.turn is None or gene.turn == turn:
                paths = self._free(state, shape, turn, loose)
                if paths:
                    x, y = (
                        self._tightest(paths, shape, turn) if loose else min((x, y) for path in paths for x, y in path)
                    )
                    found.append((x + round(-shape.least((-1.0, 0.0), turn) * UNITS), y, number, x, turn))
        return found

    def _tightest(self, paths: Paths, shape: Shape, turn: Turn) -> tuple[int, int]:
        """The position that takes least of the slack; free areas are slivers here, with the best in their middle."""
        spots = {(x, y) for path in paths for x, y in path}
        for path in paths:
            xs, ys = sorted({x for x, _ in path}), sorted({y for _, y in path})
            thin_x, thin_y = (values[-1] - values[0] < 3 * SLACK * UNITS for values in (xs, ys))
            middle = ((xs[0] + xs[-1]) // 2, (ys[0] + ys[-1]) // 2)
            spots |= {(middle[0] if thin_x else x, middle[1] if thin_y else y) for x, y in path}
        return min(
            spots, key=lambda spot: (round(self.space.excess(shape, turn, spot[0] / UNITS, spot[1] / UNITS), 5), spot)
        )

    def _free(self, state: State, shape: Shape, turn: Turn, loose: bool) -> Paths:
        """Positions still free for the turned shape."""
        key = (shape.number, turn, loose)
        paths, seen = state.free.get(key) or (self.space.empty(shape, turn, loose, self.pairs), 0)
        if paths and seen < len(state.placed):
            against: Paths = []
            for there in state.placed[seen:]:
                no_fit = self.pairs.between(there.shape, there.turn, shape, turn)
                against += [[(x + there.x, y + there.y) for x, y in path] for path in no_fit]
            self.work += 40 + sum(map(len, against)) + sum(map(len, paths))
            paths = difference(paths, against) if against else paths
        state.free[key] = (paths, len(state.placed))
        return paths

    def _changed(self, trial: Trial, rng: random.Random) -> tuple[int, list[Gene]] | None:
        """A changed order and the first place it differs at, or None when the change changes nothing."""
        order = list(trial.order)
        laid = sum(1 for a, b in zip(trial.states, trial.states[1:], strict=False) if a is not b)
        i = rng.randrange(max(1, min(len(order), laid + 2)))
        j = rng.randrange(len(order))
        kind = rng.random()
        if kind < 0.4:
            order[i], order[j] = order[j], order[i]
        elif kind < 0.7:
            order.insert(i, order.pop(j))
        else:
            order[i] = Gene(order[i].which, rng.choice((None, *self.turns[order[i].which])))
        for place, (old, new) in enumerate(zip(trial.order, order, strict=True)):
            if old != new:
                return place, order
        return None
