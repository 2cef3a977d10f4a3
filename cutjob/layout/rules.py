"""The rules for a part on a board: how it may be turned and mirrored, and the clear wood round it. Lengths mm.

Also the extra room that parts leave beside clamps and other things on a board, and the problems it causes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from cutjob.errors import Problem
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.parts.part import SawnPart, ShapedPart


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """`beside` replaces a board by one for the layout on which everything that stands on it is grown by the room.

    `taken_by` names the thing that needs the room ("the spindle's nose"), `advice` says how to do without it.
    """

    beside: Callable[[Board], Board]
    taken_by: str
    advice: str

    def caused(self, problem: Problem) -> Problem:
        """A problem that the room causes."""
        return replace(
            problem,
            message=f"{problem.message}; it would fit if {self.taken_by} didn't need room beside clamps and screws",
            advice=f"{self.advice}; or {problem.advice}",
        )

    def may_have_caused(self, problem: Problem) -> Problem:
        """A problem that the room may have caused."""
        return replace(
            problem,
            message=f"{problem.message}; {self.taken_by} needs room beside clamps and screws",
            advice=f"{problem.advice}; or {self.advice}",
        )

    def caused_unless(self, problems: Sequence[Problem], without: Sequence[Problem]) -> list[Problem]:
        """The problems, marked as caused by the room unless their place has a problem `without` the room too."""
        places = {problem.place for problem in without}
        return [problem if problem.place in places else self.caused(problem) for problem in problems]


_COSINES = (1, 0, -1, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearance:
    """`gap` is the least clear wood between two parts and between a part and a keep-out, `edge_margin` the least wood
    between a part and the board's edge; both in mm, exact to TOLERANCES.gap. `longest` is the greatest extent of a
    placed part along the board, mm: the length of a window of a long board. A part keeps `rail` mm more than the margin
    from the edges of the board's box, unless it is too long or too wide for that. A part that is too wide keeps
    `beside` mm more than the gap to its neighbours along the board.
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
    """Whether the part may lie on the board at any angle: it may unless both have grain."""
    return not (part.grain == "length" and board.grain == "length")


def may_lie_on(part: ShapedPart | SawnPart, board: Board) -> bool:
    """Whether the board is of the wood that the part is cut from."""
    return part.wood is None or part.wood.takes(thickness=board.thickness, material=board.material)


def is_allowed(transform: Transform, part: ShapedPart, board: Board) -> bool:
    """Whether a placement's turn and mirroring follow the rules; along the grain is exactly 0 or 180 degrees."""
    if transform.mirrored and not part.may_mirror:
        return False
    if free_rotation(part, board):
        return math.isfinite(transform.degrees)
    return transform.degrees % 180.0 == 0
