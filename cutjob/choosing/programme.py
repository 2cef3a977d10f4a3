"""The choice of counts as a whole-number programme, solved with HiGHS: numbers in, the best mix and its worth out.

    largest    sum of leaves x count - cost x times of each column - cost x sticks
    so that    the columns taken give every piece that the counts need
               no more boards and sticks are taken than there are
               the hours by hand, and those of the machine, stay within the limit
               each count is within its own limits

Q. Huangfu and J. Hall, Parallelizing the dual revised simplex method, Mathematical Programming Computation 10, 2018.
The same programme gives the same mix: work is limited by the number of checks of the search, never by the clock.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import highspy
import numpy as np

from cutjob.sticks.programs import quiet_model, searched

_WORK = 400_000  # checks of one search times its columns
_WHOLE = 1e-6  # what a whole number may be off by in a solution


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One item: what one leaves, all paid but boards, sticks and the work that goes with boards; the hours of one by
    hand and on the machine, likewise; how many of each piece it needs, and how much of each section of stick, mm; and
    the limits of its count.
    """

    name: str
    leaves: float
    by_hand: float = 0.0
    machine: float = 0.0
    needs: tuple[float, ...] = ()
    sticks: tuple[float, ...] = ()
    least: int = 0
    most: int

    def within(self, least: int, most: int) -> Line:
        """The same item with other limits."""
        return replace(self, least=least, most=most)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A board of a kind (an index) laid out in one way: what it gives of each piece, its cost and its hours."""

    board: int
    gives: tuple[float, ...]
    cost: float = 0.0
    by_hand: float = 0.0
    machine: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stick:
    """Sticks of one kind: their section (an index), the length that each gives, mm, how many there are, and the cost of
    one.
    """

    section: int
    length: float
    count: int
    cost: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """All that a choice is made from. `boards` has the number of each kind, `hours` is the limit, by hand and of the
    machine alike.
    """

    lines: tuple[Line, ...]
    boards: tuple[int, ...]
    columns: tuple[Column, ...]
    sticks: tuple[Stick, ...] = ()
    hours: float = math.inf

    def with_columns(self, columns: Sequence[Column]) -> Programme:
        """The same with these columns too."""
        return replace(self, columns=(*self.columns, *columns))


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """The best counts found, with how often each column is taken and what all of it leaves; and a bound: no counts
    leave more, from these columns.
    """

    counts: tuple[int, ...]
    times: tuple[int, ...]
    leaves: float
    bound: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What a linear mix would pay for one more piece of a kind, one more board, an hour by hand or of the machine;
    all at least 0.
    """

    pieces: tuple[float, ...]
    boards: tuple[float, ...]
    by_hand: float
    machine: float


@dataclass(slots=True)
class _Rows:
    """The rows of a programme, and the greatest value of each of its numbers."""

    costs: list[float]
    least: list[float]
    most: list[float]
    rows: list[Mapping[int, float]]
    lower: list[float]
    upper: list[float]

    def add(self, row: Mapping[int, float], lower: float, upper: float) -> None:
        """Add a row."""
        self.rows.append({number: value for number, value in row.items() if value})
        self.lower.append(lower)
        self.upper.append(upper)

    def number(self, cost: float, least: float, most: float) -> int:
        """Add a number and return its index."""
        self.costs.append(cost)
        self.least.append(least)
        self.most.append(most)
        return len(self.costs) - 1

    def model(self, *, whole: bool) -> highspy.Highs:
        """The programme as HiGHS takes it: the least cost."""
        program = highspy.HighsLp()
        program.num_col_, program.num_row_ = len(self.costs), len(self.rows)
        program.col_cost_ = np.array(self.costs)
        program.col_lower_, program.col_upper_ = np.array(self.least), np.array(self.most)
        program.row_lower_, program.row_upper_ = np.array(self.lower), np.array(self.upper)
        program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        program.a_matrix_.start_ = np.cumsum([0, *(len(row) for row in self.rows)])
        program.a_matrix_.index_ = np.array([number for row in self.rows for number in row], np.int32)
        program.a_matrix_.value_ = np.array([value for row in self.rows for value in row.values()])
        if whole:
            program.integrality_ = [highspy.HighsVarType.kInteger] * len(self.costs)
        model = quiet_model()
        model.setOptionValue("mip_rel_gap", 0.0)
        model.setOptionValue("mip_detect_symmetry", False)  # it takes minutes, without a check of the work
        model.passModel(program)
        return model


def best_mix(
    programme: Programme,
    *,
    refused: Sequence[Sequence[int]] = (),
    within: tuple[Sequence[float], float] | None = None,
) -> Mix | None:
    """Return the mix that leaves most; None where the least counts can't be made.

    Counts that are `refused` can't be made, nor can counts that are as large in every item. `within` are weights of the
    counts and the most that they may come to together.
    """
    rows = _rows(programme)
    lines = programme.lines
    if within is not None:
        rows.add(dict(enumerate(within[0])), -math.inf, within[1])
    for counts in refused:
        _refuse(rows, programme, counts)
    values, bound, _ = searched(rows.model(whole=True), _WORK)
    if values is None:
        return None
    found = tuple(round(value) for value in values[: len(lines) + len(programme.columns)])
    return Mix(
        counts=found[: len(lines)],
        times=found[len(lines) :],
        leaves=-sum(cost * round(value) for cost, value in zip(rows.costs, values, strict=True)),
        bound=-bound,
    )


def linear_prices(programme: Programme) -> Prices | None:
    """Return the prices of a mix in which counts and boards need not be whole; None where the least can't be made."""
    rows = _rows(programme)
    model = rows.model(whole=False)
    model.run()
    if model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    duals = [float(value) for value in model.getSolution().row_dual]
    pieces, boards = len(programme.lines[0].needs), len(programme.boards)
    return Prices(
        pieces=tuple(max(0.0, value) for value in duals[:pieces]),
        boards=tuple(max(0.0, -value) for value in duals[pieces : pieces + boards]),
        by_hand=max(0.0, -duals[pieces + boards]),
        machine=max(0.0, -duals[pieces + boards + 1]),
    )


def best_filling(values: Sequence[float], sizes: Sequence[float], room: float, most: Sequence[int]) -> tuple[int, ...]:
    """Return how many of each thing fill a room with the greatest value."""
    rows = _Rows(costs=[], least=[], most=[], rows=[], lower=[], upper=[])
    for value, count in zip(values, most, strict=True):
        rows.number(-value, 0.0, float(count))
    rows.add(dict(enumerate(sizes)), -math.inf, room)
    found, _, _ = searched(rows.model(whole=True), _WORK)
    return tuple(0 for _ in values) if found is None else tuple(round(value) for value in found)


def _rows(programme: Programme) -> _Rows:
    """The programme with its numbers in this order: counts, times of columns, sticks; and its rows: pieces, boards,
    hours, sections.
    """
    lines, columns, sticks = programme.lines, programme.columns, programme.sticks
    rows = _Rows(costs=[], least=[], most=[], rows=[], lower=[], upper=[])
    counts = [rows.number(-line.leaves, float(line.least), float(line.most)) for line in lines]
    # Only the boards limit how often a column is taken, so that a linear mix has a price for each board.
    times = [rows.number(one.cost, 0.0, math.inf) for one in columns]
    taken = [rows.number(one.cost, 0.0, float(one.count)) for one in sticks]
    for piece in range(len(lines[0].needs)):
        row = {number: one.gives[piece] for number, one in zip(times, columns, strict=True)}
        row |= {number: -line.needs[piece] for number, line in zip(counts, lines, strict=True)}
        rows.add(row, 0.0, math.inf)
    for kind, count in enumerate(programme.boards):
        rows.add(
            {number: 1.0 for number, one in zip(times, columns, strict=True) if one.board == kind},
            -math.inf,
            float(count),
        )
    for hours in ("by_hand", "machine"):
        row = {number: getattr(line, hours) for number, line in zip(counts, lines, strict=True)}
        row |= {number: getattr(one, hours) for number, one in zip(times, columns, strict=True)}
        rows.add(row, -math.inf, programme.hours)
    for section in range(len(lines[0].sticks)):
        row = {number: one.length for number, one in zip(taken, sticks, strict=True) if one.section == section}
        if row:
            row |= {number: -line.sticks[section] for number, line in zip(counts, lines, strict=True)}
            rows.add(row, 0.0, math.inf)
    return rows


def _refuse(rows: _Rows, programme: Programme, counts: Sequence[int]) -> None:
    """Add rows by which at least one count is lower than in `counts`."""
    lower: dict[int, float] = {}
    for number, (line, count) in enumerate(zip(programme.lines, counts, strict=True)):
        if count <= line.least:
            continue
        one = rows.number(0.0, 0.0, 1.0)
        lower[one] = 1.0
        # count of the line <= count - 1 where `one` is 1
        rows.add({number: 1.0, one: float(line.most - count + 1)}, -math.inf, float(line.most))
    rows.add(lower, 1.0, math.inf)
