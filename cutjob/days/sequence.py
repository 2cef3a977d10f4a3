"""Tasks of one pair of hands, in the order in which the fewest are late: minutes and deadlines in, order out.

Everything is in whole minutes of work from now. A task is late when it is done after its deadline.

- By due date: no order has a smaller greatest lateness (J. R. Jackson, 1955, "Scheduling a production line to minimize
  maximum tardiness"). So if any order of the tasks has none late, this one has none late.
- Fewest late: take tasks by due date, and whenever one would be late, leave out the longest taken so far (J. M. Moore,
  1968, "An n job, one machine sequencing algorithm for minimizing the number of late jobs", with T. J. Hodgson's
  improvement).

The tests compare both with every order of small sets of tasks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Work of `minutes`, at least 0, to be done by the minute `deadline`; one before 0 can't be met."""

    name: str
    minutes: int
    deadline: int


def by_due_date(tasks: Sequence[Task]) -> tuple[Task, ...]:
    """Return the tasks, the earliest deadline first; equal ones stay in their order."""
    return tuple(sorted(tasks, key=lambda task: task.deadline))


def ends(tasks: Sequence[Task]) -> tuple[int, ...]:
    """Return the minute in which each task is done, one after the other."""
    return tuple(accumulate(task.minutes for task in tasks))


def greatest_lateness(tasks: Sequence[Task]) -> int:
    """Return how far the latest task is behind its deadline in this order; 0 or less where none is late.

    Raises ValueError where there are no tasks.
    """
    return max(end - task.deadline for task, end in zip(tasks, ends(tasks), strict=True))


def fewest_late(tasks: Sequence[Task]) -> tuple[tuple[Task, ...], tuple[Task, ...]]:
    """Return the tasks to do, in order and none of them late, and those left out, both by due date.

    No other choice leaves out fewer; among those that leave out as few, none takes less time. Of equally long tasks the
    one that is due last is left out.
    """
    ordered = by_due_date(tasks)
    taken: list[int] = []
    minutes = 0
    for place, task in enumerate(ordered):
        taken.append(place)
        minutes += task.minutes
        if minutes > task.deadline:
            longest = max(taken, key=lambda one: (ordered[one].minutes, one))
            taken.remove(longest)
            minutes -= ordered[longest].minutes
    left = set(range(len(ordered))).difference(taken)
    return tuple(ordered[one] for one in taken), tuple(ordered[one] for one in sorted(left))


def latest_starts(tasks: Sequence[Task]) -> tuple[int, ...]:
    """Return the latest minute in which each task may be begun so that neither it nor any after it is late.

    By due date, the first is the latest minute in which work may begin at all: each task is then done just before its
    own deadline or before the next must begin.
    """
    starts: list[int] = []
    for task in reversed(tasks):
        end = min(task.deadline, starts[-1]) if starts else task.deadline
        starts.append(end - task.minutes)
    return tuple(reversed(starts))


def earliest_end(tasks: Sequence[Task], minutes: int) -> int:
    """Return the earliest minute in which another task of `minutes` can be done without making any of `tasks` late.

    `tasks` are in an order in which none is late. The other is put where all after it have that much time to spare.
    """
    spare = [start - (end - task.minutes) for task, start, end in zip(tasks, latest_starts(tasks), ends(tasks),
                                                                     strict=True)]  # fmt: skip
    before = 0
    for task, room in zip(tasks, spare, strict=True):
        if room >= minutes:
            break
        before += task.minutes
    return before + minutes
