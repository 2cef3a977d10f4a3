"""Moves and programs as immutable values. mm, mm/min, seconds; Z 0 is the stock's top."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from cutjob.cuts.cut import Feature
from cutjob.geometry.segment import Point
from cutjob.job.machine import Cutter, Operation

MoveKind = Literal["rapid", "plunge", "cut"]


@dataclass(frozen=True, slots=True)
class Move:
    """From the last position to (x, y, z): straight, or an arc or helix about `centre`.

    `rapid` moves cut nothing (beam off); `plunge` goes straight down or up at plunge feed; `cut` goes at `feed` along
    the work. `feed` is mm/min, 0 for a rapid; `power` is the laser's S word, 0 elsewhere.
    """

    kind: MoveKind
    x: float
    y: float
    z: float
    feed: float = 0.0
    centre: Point | None = None
    clockwise: bool = False
    power: float = 0.0

    def at_feed(self, feed: float) -> Move:
        """Return the same move at another feed."""
        # Several times as fast as `replace`: most arcs of a program are slowed down.
        return Move(self.kind, self.x, self.y, self.z, feed, self.centre, self.clockwise, self.power)

    def __reduce__(self) -> tuple[type[Move], tuple[object, ...]]:
        """Pickle as a call, which is fast: thousands of moves come from other processes."""
        return Move, (self.kind, self.x, self.y, self.z, self.feed, self.centre, self.clockwise, self.power)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """The moves of one operation, from above its first point to safe height again, and the feature they make."""

    op: Operation
    placement: int | None  # index in the board layout's placements; None for a hole that holds the board
    feature: Feature
    moves: tuple[Move, ...]
    bare: bool = False  # starts on the part's own edge, for want of room for a lead-in


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedTab:
    """A bridge left under a part: the place of its middle on the part's outline, and the wood left there, mm."""

    placement: int
    at: Point
    width: float
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Steps cut by one cutter without a stop. With `screws_first` the program halts before the section, so that the
    screws can be driven into the holes just drilled.
    """

    cutter: Cutter
    rpm: float | None
    steps: tuple[Step, ...]
    screws_first: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """One file's worth of cutting for one board layout, or for one window of it, in sections.

    `number` is the program's place among the board's `count` programs, in the order they are run. `origin` is the
    program's zero in the board's frame; `depth` the deepest cut below the stock's top, as a positive number. `safe_z`
    is the ordinary height of air moves above the stock's top, and `clear_z` one that clears everything on the board.
    `end` are the air moves from the last cut to where the cutter stays. With a `skin`, cuts round parts stop this far
    above the underside.
    """

    file: str
    board: str
    number: int = 1
    count: int = 1
    window: int | None = None
    sections: tuple[Section, ...]
    origin: Point
    safe_z: float
    clear_z: float = 0.0
    end: tuple[Move, ...] = ()
    depth: float
    skin: float = 0.0
    tabs: tuple[PlannedTab, ...] = ()
    seconds: float = 0.0
    cut_mm: float = 0.0
    air_mm: float = 0.0
    warnings: tuple[str, ...] = field(default=())

    def __post_init__(self) -> None:
        object.__setattr__(self, "clear_z", max(self.clear_z, self.safe_z))

    @property
    def steps(self) -> tuple[Step, ...]:
        """The steps of all sections in order."""
        return tuple(step for section in self.sections for step in section.steps)

    @property
    def cutters(self) -> tuple[Cutter, ...]:
        """The cutters it uses, each once, in the order they come."""
        return tuple({section.cutter.number: section.cutter for section in self.sections}.values())
