"""How a board is held while it is cut, and which of its pieces are joined by bridges in the slots. mm.

A *chunk* is a connected piece of waste between slots. A *bridge* is wood left in a slot: a tab is a bridge at a part. A
board's *nodes* are its placements, by index, and then its chunks, from the number of placements on.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from cutjob.geometry.contour import Contour
from cutjob.geometry.segment import Point

HeldBy: TypeAlias = Literal["clamps", "screws", "tape", "vacuum"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """An area of the waste that a clamp or a screw's head presses down, and the height of that above the board.

    It holds during its `window` only; where that is None, during all windows, or on a board without windows.
    """

    area: Contour
    height: float
    window: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridge:
    """Wood left between two nodes: from `ends[0]` on the edge of the node `joins[0]` to `ends[1]` on that of
    `joins[1]`, `width` mm wide and `height` mm above the underside of the lowest board.
    """

    joins: tuple[int, int]
    ends: tuple[Point, Point]
    width: float
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """How a board is held: by clamps or screws at `holds`, or from below over its whole area by tape or vacuum.

    `chunks` are the outlines of the pieces of waste, and `bridges` join them and the placements. `to_hold` has for each
    placement the number of bridges between it and held wood, the most over all windows; 0 where nothing is cut free or
    all is held from below. `between_boards` holds the boards of a stack together, as the job says.
    """

    by: HeldBy
    holds: tuple[Hold, ...] = ()
    chunks: tuple[Contour, ...] = ()
    bridges: tuple[Bridge, ...] = ()
    to_hold: tuple[int, ...] = ()
    between_boards: Literal["tape"] | None = None

    def holds_in(self, window: int | None) -> tuple[Hold, ...]:
        """The holds during a window; all of them for None."""
        return tuple(hold for hold in self.holds if window is None or hold.window in (None, window))
