"""How a board is held while it is cut, and what of it is joined to what by the bridges left in its slots. mm.

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
    """An area of the waste that a clamp or a screw's head presses down, and how far that stands above the board.

    It holds during its `window` only; during all of them, or on a board without windows, where that is None.
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
    """How a board is held: by clamps or screws at `holds`, or from below, all over, by tape or vacuum (no `holds`).

    `chunks` are the outlines of the pieces of waste, `bridges` join them and the placements, and `to_hold` says for
    each placement how many bridges lie between it and what is held, at most over all windows; 0 where nothing is cut
    free or all is held from below. `between_boards` is what holds the boards of a stack on each other, as the job says.
    """

    by: HeldBy
    holds: tuple[Hold, ...] = ()
    chunks: tuple[Contour, ...] = ()
    bridges: tuple[Bridge, ...] = ()
    to_hold: tuple[int, ...] = ()
    between_boards: Literal["tape"] | None = None

    def holds_in(self, window: int | None) -> tuple[Hold, ...]:
        """The holds at work while a window is cut; all of them for None."""
        return tuple(hold for hold in self.holds if window is None or hold.window in (None, window))
