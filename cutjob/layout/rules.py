"""How a part may lie on a board: how it may be turned and mirrored, and the clear wood round it. Lengths mm.

Room that parts leave beside what stands on a board, beyond the gap; and refusals that come of it, told as such.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from cutjob.errors import Problem
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.parts.part import ShapedPart


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


_COSINES = (1, 0, -1, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearance:
    """`gap`: least clear wood between two parts and between a part and a keep-out; `edge_margin`: least wood between
    a part and the board's edge. Both mm, both kept to TOLERANCES.gap. `longest` is the greatest extent along the board
    that a part may have as it lies, mm: what a window of a long board takes. `rail` is how much farther than the margin
    a part is laid from the edges of the board's box, mm, where it is not too long or too wide for that. A part that is
    too wide keeps `beside` mm more than the gap to what lies beside it along the board.
    """

    gap: float
    edge_margin: float
    longest: float = math.inf
    rail: float = 0.0
    beside: float = 0.0

    def __post_init__(self) -> None:
        if self.gap < 0 or self.edge_margin < 0:
            raise ValueError("gap and edge margin can't be negative")


def free_rotation(part: ShapedPart, board: Board) -> bool:
    """Say whether the part may lie on the board at any angle: it may unless both have grain."""
    return not (part.grain == "length" and board.grain == "length")


def is_allowed(transform: Transform, part: ShapedPart, board: Board) -> bool:
    """Say whether a placement's turn and mirroring keep to the rules; along the grain is 0 or 180 degrees exactly."""
    if transform.mirrored and not part.may_mirror:
        return False
    if free_rotation(part, board):
        return math.isfinite(transform.degrees)
    return transform.degrees % 180.0 == 0
