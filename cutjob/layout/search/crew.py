"""Runs the tasks of a search on an executor, joins their results in order, and counts the budget they use."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

from cutjob.layout.search.arrangement import Limit
from cutjob.layout.search.progress import SearchProgress, Watch
from cutjob.workers import unfinished_cancelled

OVERDRAFT = 3  # budgets that may be used before first plans are made in haste


@dataclass(frozen=True, slots=True)
class Task:
    """A call for another process; its result ends with the number of positions tried."""

    function: Callable[..., tuple[Any, int]]
    arguments: tuple[Any, ...]
    options: dict[str, object]


class Crew:
    """Runs tasks side by side. The number and content of tasks must not depend on the executor."""

    def __init__(self, executor: Executor, watch: Watch, *, positions: int, seconds: float | None) -> None:
        """Work for a number of positions in all, or instead for a number of seconds."""
        self._executor, self._watch = executor, watch
        self.positions = positions
        self.used = 0
        self._began = time.monotonic()
        self.seconds = seconds
        self.deadline = None if seconds is None else self._began + seconds
        self.boards, self.filled = 0, 0.0

    @property
    def done(self) -> float:
        """The share of the budget that is used."""
        if self.seconds is not None:
            return min(1.0, (time.monotonic() - self._began) / self.seconds)
        return min(1.0, self.used / self.positions)

    @property
    def overdrawn(self) -> bool:
        """Whether the budget is exceeded by so much that only necessary work is still done."""
        return self.done >= 1.0 and (self.seconds is not None or self.used >= OVERDRAFT * self.positions)

    @property
    def stopped(self) -> bool:
        """Whether to end with the best plan so far."""
        return self._watch.stop

    def limit(self, positions: int) -> Limit:
        """A limit for one task: at most the positions asked for, and at most half of those left in the budget."""
        if self.seconds is None:
            positions = max(1, min(positions, (self.positions - self.used) // 2))
        return Limit(positions=positions, deadline=self.deadline)

    def tell(self, what: str, *, boards: int | None = None, filled: float | None = None) -> None:
        """Report the progress of the search."""
        self.boards = self.boards if boards is None else boards
        self.filled = self.filled if filled is None else filled
        self._watch.tell(SearchProgress(boards=self.boards, yield_=self.filled, done=self.done, what=what))

    def run(self, tasks: Sequence[Task], what: str) -> list[Any]:
        """Return the results of all tasks, in their order."""
        self.tell(what)
        futures = [self._executor.submit(task.function, *task.arguments, **task.options) for task in tasks]
        results = []
        with unfinished_cancelled(futures):
            for future in futures:
                result, tried = future.result()
                self.used += tried
                results.append(result)
        return results
