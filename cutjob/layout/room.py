"""Room that parts leave beside what stands on a board, beyond the gap; and refusals that come of it, told as such."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from cutjob.errors import Problem
from cutjob.job.stock import Board


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """`beside` gives, for a board as it is, one that parts are laid on in its place: all that stands there grown.

    `taken_by` says what takes the room ("the spindle's nose"), `advice` what would do without it.
    """

    beside: Callable[[Board], Board]
    taken_by: str
    advice: str

    def told(self, problem: Problem) -> Problem:
        """A problem that is none without the room."""
        return replace(
            problem,
            message=f"{problem.message}; {self.taken_by} needs room beside what stands on boards, without which it "
            "would do",
            advice=f"{self.advice}; or {problem.advice}",
        )

    def told_as_may_be(self, problem: Problem) -> Problem:
        """A problem that the room may be the cause of."""
        return replace(
            problem,
            message=f"{problem.message}; {self.taken_by} takes room beside what stands on boards",
            advice=f"{problem.advice}; or {self.advice}",
        )

    def told_unless(self, problems: Sequence[Problem], without: Sequence[Problem]) -> list[Problem]:
        """Problems, of which those of a place that has one `without` the room too stay as they are."""
        places = {problem.place for problem in without}
        return [problem if problem.place in places else self.told(problem) for problem in problems]
