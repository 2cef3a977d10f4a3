"""Solves linear and whole-number programs over ways of sawing, with HiGHS.

Q. Huangfu and J. Hall, Parallelizing the dual revised simplex method, Mathematical Programming Computation 10, 2018.
The same program gives the same solution: work is limited by the number of checks of the search, never by the clock.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import highspy
import numpy as np

from cutjob.sticks.fillings import Floats
from cutjob.sticks.task import Cutting, Task, Way

_PRIMAL = 4  # the simplex method that continues from its last state when columns are added
_COLUMNS = highspy.MatrixFormat.kColwise
_FEASIBLE = 2  # of HiGHS's solution status
_LEAST_LOOKS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """The solution of a linear program: its cost, how often each way is taken, the value of a piece of each length, and
    the cost of each limit.
    """

    value: float
    times: Floats
    pieces: Floats
    limits: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Whole:
    """The result of a whole-number program: the cutting, if one was found, and a bound below which no cutting of these
    ways costs (infinite where there is none).
    """

    cutting: Cutting | None
    bound: float
    work: int  # checks of the search, times the ways


class Mix:
    """The linear program of a task: the cheapest fractional mix of ways; ways can be added."""

    def __init__(self, task: Task, ways: Iterable[Way]) -> None:
        """Begin with ways that meet the task."""
        self._task = task
        self._model = quiet_model()
        self._model.setOptionValue("simplex_strategy", _PRIMAL)
        rows = len(task.wanted) + len(task.limits)
        lower = [*map(float, task.wanted), *[-math.inf] * len(task.limits)]
        upper = [*[math.inf] * len(task.wanted), *(float(limit.most) for limit in task.limits)]
        none: Any = np.zeros(rows, np.int32)
        self._model.addRows(rows, np.array(lower), np.array(upper), 0, none, none[:0], np.zeros(0))
        self.add(ways)

    def add(self, ways: Iterable[Way]) -> None:
        """Add ways."""
        for way in ways:
            rows, values = _column(self._task, way)
            self._model.addCol(float(self._task.costs[way.kind]), 0.0, math.inf, len(rows), rows, values)

    def prices(self) -> Worth:
        """Return the cheapest mix; ways are in the order in which they were added."""
        self._model.run()
        if self._model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            raise RuntimeError(f"the linear program of sticks failed: {self._model.getModelStatus()}")
        solution = self._model.getSolution()
        duals, pieces = np.array(solution.row_dual), len(self._task.wanted)
        return Worth(
            value=float(self._model.getInfo().objective_function_value),
            times=np.array(solution.col_value),
            pieces=np.maximum(0.0, duals[:pieces]),
            limits=np.maximum(0.0, -duals[pieces:]),
        )


def whole(task: Task, ways: Sequence[Way], *, at_most: int, enough: int, work: int) -> Whole:
    """Look for the cheapest cutting of these ways up to a greatest cost, or for any cutting that is cheap `enough`."""
    number, budget = len(ways), len(task.wanted) + len(task.limits)
    columns = []
    for way in ways:
        rows, values = _column(task, way)
        columns.append((np.append(rows, budget), np.append(values, float(task.costs[way.kind]))))
    model = _model(
        [float(task.costs[way.kind]) for way in ways],
        columns,
        lower=[*map(float, task.wanted), *[-math.inf] * (len(task.limits) + 1)],
        upper=[*[math.inf] * len(task.wanted), *(float(limit.most) for limit in task.limits), float(at_most)],
        most=[math.inf] * number,
    )
    model.setOptionValue("objective_target", enough + 0.5)
    values, bound, done = searched(model, work)
    cutting = None if values is None else Cutting.of(zip(ways, map(round, values), strict=True))
    return Whole(cutting=None if cutting is None or cutting.faults(task) else cutting, bound=bound, work=done)


def tidiest(task: Task, ways: Sequence[Way], *, offcuts: Sequence[float], known: Cutting, work: int) -> Cutting | None:
    """Look for the cutting with the fewest different ways, less the value of one stick's offcut.

    `offcuts` has the value of each way's offcut, in ways; all ways of the `known` cutting are among the `ways`. The
    numbers of pieces are exactly those wanted.
    """
    number, rows = len(ways), len(task.wanted) + len(task.limits)
    most = [min(w // c for w, c in zip(task.wanted, way.counts, strict=True) if c) for way in ways]
    often, taken, longest = [], [], []
    # For each way: how often it is taken, whether it is taken, whether it has the offcut that counts.
    for index, (way, times) in enumerate(zip(ways, most, strict=True)):
        made, values = _column(task, way)
        at_all, the_one = rows + index, rows + number + index
        often.append((np.append(made, at_all), np.append(values, 1.0)))
        taken.append((np.array([at_all, the_one]), np.array([-float(times), -1.0])))
        longest.append((np.array([the_one, rows + 2 * number]), np.array([1.0, 1.0])))
    model = _model(
        [*[0.0] * number, *[1.0] * number, *(-value for value in offcuts)],
        [*often, *taken, *longest],
        lower=[*map(float, task.wanted), *[-math.inf] * (len(task.limits) + 2 * number + 1)],
        upper=[*map(float, task.wanted), *(float(one.most) for one in task.limits), *[0.0] * 2 * number, 1.0],
        most=[*map(float, most), *[1.0] * 2 * number],
    )
    start = highspy.HighsSolution()
    times_of = [float(known.times.get(way, 0)) for way in ways]
    first = max(range(number), key=lambda index: (times_of[index] > 0, offcuts[index]))
    at_all_of = [float(times > 0) for times in times_of]
    start.col_value = [*times_of, *at_all_of, *(float(index == first) for index in range(number))]
    model.setSolution(start)
    values, _, _ = searched(model, work)
    cutting = None if values is None else Cutting.of(zip(ways, map(round, values[:number]), strict=True))
    return None if cutting is None or cutting.faults(task) else cutting


def _column(task: Task, way: Way) -> tuple[Any, Any]:
    """The pieces that a way gives and its share of each limit: rows and values."""
    column = [*way.counts, *(limit.weights[way.kind] for limit in task.limits)]
    rows = [row for row, value in enumerate(column) if value]
    return np.array(rows, np.int32), np.array([float(column[row]) for row in rows])


def quiet_model() -> highspy.Highs:
    """Return an empty model that prints nothing and works in one thread."""
    make: Callable[[], highspy.Highs] = highspy.Highs
    model = make()
    model.setOptionValue("output_flag", False)
    model.setOptionValue("parallel", "off")
    return model


def _model(
    costs: Sequence[float], columns: Sequence[tuple[Any, Any]], *, lower: Any, upper: Any, most: Sequence[float]
) -> highspy.Highs:
    """A whole-number program, all variables from 0 to `most`."""
    program = highspy.HighsLp()
    program.num_col_, program.num_row_ = len(columns), len(lower)
    program.col_cost_, program.col_lower_, program.col_upper_ = np.array(costs), np.zeros(len(costs)), np.array(most)
    program.row_lower_, program.row_upper_ = np.array(lower), np.array(upper)
    program.a_matrix_.format_ = _COLUMNS
    program.a_matrix_.start_ = np.cumsum([0, *(len(rows) for rows, _ in columns)])
    program.a_matrix_.index_ = np.concatenate([rows for rows, _ in columns])
    program.a_matrix_.value_ = np.concatenate([values for _, values in columns])
    program.integrality_ = [highspy.HighsVarType.kInteger] * len(columns)
    model = quiet_model()
    model.setOptionValue("mip_rel_gap", 0.0)
    model.setOptionValue("mip_detect_symmetry", False)  # it takes minutes, without a check of the work
    model.passModel(program)
    return model


def searched(model: highspy.Highs, work: int) -> tuple[Any, float, int]:
    """Search until the work is used up; return the values found, or None, the bound, and the work used.

    HiGHS checks at every node and round of cuts, which take longer with more columns.
    """
    looks, most = 0, max(_LEAST_LOOKS, work // model.getNumCol())

    def look_up(event: Any) -> None:
        nonlocal looks
        looks += 1
        event.data_in.user_interrupt = looks > most

    model.cbMipInterrupt.subscribe(look_up)
    model.run()
    info, status = model.getInfo(), model.getModelStatus()
    if status == highspy.HighsModelStatus.kInfeasible:
        return None, math.inf, looks * model.getNumCol()
    found = info.primal_solution_status == _FEASIBLE
    bound = info.objective_function_value if status == highspy.HighsModelStatus.kOptimal else info.mip_dual_bound
    return (model.getSolution().col_value if found else None), float(bound), looks * model.getNumCol()
