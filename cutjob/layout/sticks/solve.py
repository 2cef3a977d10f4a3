"""The cheapest cutting of a task, and the bound that says how far from it one could be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutjob.layout.sticks.columns import Generated, by_length, generate, rounded_up
from cutjob.layout.sticks.dive import dive
from cutjob.layout.sticks.enumerate import ways_within
from cutjob.layout.sticks.fillings import TooManyError
from cutjob.layout.sticks.greedy import greedy
from cutjob.layout.sticks.programs import whole
from cutjob.layout.sticks.sums import sums_between
from cutjob.layout.sticks.task import Cutting, Task, Way

# More lengths than this in one task take minutes; the first cutting and the bound by length have to do then.
_MOST_LENGTHS = 400
_WORK = 200_000  # looks of the search times the ways, at once
_WORK_TO_FINISH = 250_000  # and over all
_MOST_WAYS = 2_000
_MOST_WAYS_AT_ONCE = 2_500  # before any are generated: so many are looked through sooner than generated
_DIVES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """A cutting, what no cutting costs less than, and what is known of the task from finding that out."""

    cutting: Cutting
    cost: int
    bound: int
    generated: Generated | None = None

    @property
    def proven(self) -> bool:
        """Whether no cutting is cheaper."""
        return self.bound >= self.cost


def solve(task: Task, *, start: Cutting | None = None) -> Solved | None:
    """Return the cheapest cutting, or as near to it as was found; None where no cutting within the limits was.

    `start` is a cutting within the limits that is known already.
    """
    if not task.lengths:
        return Solved(cutting=Cutting(), cost=0, bound=0)
    known = [cutting for cutting in (start, greedy(task)) if cutting is not None and not cutting.faults(task)]
    if not known:
        return None
    cutting = min(known, key=lambda one: one.cost(task))
    plain = by_length(task)
    solved = Solved(cutting=cutting, cost=cutting.cost(task), bound=max(0, rounded_up(plain.bound)))
    if solved.proven or len(task.lengths) > _MOST_LENGTHS:
        return solved
    solved = _finished(task, solved, plain, most=_MOST_WAYS_AT_ONCE)
    try:
        return solved if solved.proven else _generated(task, solved)
    except TooManyError:
        return solved


def _generated(task: Task, solved: Solved) -> Solved:
    """By column generation: the bound, a few dives, the ways met on them mixed, and at last all ways there are."""
    generated = generate(task, solved.cutting)
    solved = replace(solved, bound=max(solved.bound, rounded_up(generated.bound)), generated=generated)
    ways = dict.fromkeys(generated.ways)
    for passed_over in range(_DIVES):
        if solved.proven:
            return solved
        dived = dive(task, generated, enough=solved.bound, passed_over=passed_over)
        ways.update(dict.fromkeys(dived.ways))
        solved = _better(task, solved, dived.cutting)
    if not solved.proven:
        found = whole(task, list(ways), at_most=solved.cost - 1, enough=solved.bound, work=_WORK)
        solved = _better(task, solved, found.cutting)
    return solved if solved.proven else _finished(task, solved, generated, most=_MOST_WAYS)


def _better(task: Task, solved: Solved, cutting: Cutting | None) -> Solved:
    if cutting is None or cutting.cost(task) >= solved.cost:
        return solved
    return replace(solved, cutting=cutting, cost=cutting.cost(task))


def _finished(task: Task, solved: Solved, generated: Generated, *, most: int) -> Solved:
    """Look through all ways a cheaper cutting could be made of: those for any at first, else for ever lower costs."""
    left = _WORK_TO_FINISH
    while not solved.proven and left > 0:
        sums = sums_between(task, solved.bound, solved.cost - 1)
        solved = replace(solved, bound=sums[0] if sums else solved.cost)
        if not sums:
            return solved
        place, ways = _looked_through(task, generated, sums, most)
        if ways is None:
            return solved
        if ways:
            found = whole(task, ways, at_most=sums[place], enough=solved.bound, work=_WORK)
            solved, left = _better(task, solved, found.cutting), left - found.work
        bound = sums[place] + 1 if not ways else rounded_up(min(max(found.bound, solved.bound), sums[place] + 1))
        if bound <= solved.bound and not solved.proven:
            return solved
        solved = replace(solved, bound=min(solved.cost, max(bound, solved.bound)))
    return solved


def _looked_through(task: Task, generated: Generated, sums: Sequence[int], most: int) -> tuple[int, list[Way] | None]:
    """The highest of the sums, among every second, fourth, ..., for which there aren't too many ways, and those."""
    place = len(sums) - 1
    while True:
        try:
            return place, ways_within(task, generated, cost=sums[place], most=most, full=True)
        except TooManyError:
            if not place:
                return place, None
            place //= 2
