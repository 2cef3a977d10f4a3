"""What the controller remembers between the lines of a program, and what the lines did so far. mm, mm/min."""

from __future__ import annotations

from dataclasses import dataclass, field

from cutjob.proof.reading import Event, EventKind, Motion, MotionKind, Place
from cutjob.proof.words import WordError
from cutjob.tolerances import TOLERANCES

FARTHEST = 1e6  # mm; beyond it numbers are slips of the pen, and their squares no longer exact
MOST_MOTIONS = 300_000  # more take more memory than a small computer spares


class ProgramEnd(Exception):  # noqa: N818 - no error: how a program ends
    """M2 or M30 was reached."""


class TooManyError(WordError):
    """A file with more motions than are judged."""


@dataclass(slots=True)
class LineState:
    """What the controller remembers between lines, and what the lines did so far."""

    place: Place
    motions: list[Motion] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    modes: set[str] = field(default_factory=set)
    modes_before: frozenset[str] | None = None
    unit: float = 1.0
    motion: str | None = None
    plane: str = "17"
    relative: bool = False
    inverse_time: bool = False
    return_to_old: bool = True
    feed: float | None = None
    speed: float = 0.0
    spindle: int = 0
    selected: int = 0
    tool: int = 0
    x_known: bool = False
    y_known: bool = False
    z_known: bool = False
    returned_low: bool = False
    stated_end: Place | None = None
    unplaced: list[int] = field(default_factory=list)
    uncertain_arcs: list[int] = field(default_factory=list)
    remarks: list[tuple[int, int, str]] = field(default_factory=list)
    other_planes: int | None = None
    first_axes: frozenset[str] | None = None
    sticky: dict[str, float] = field(default_factory=dict)
    ended: bool = False
    line: int = 0

    def say_where(self, x: bool, y: bool, z: bool) -> None:
        """Note which axes the next motion names: in absolute mode where the tool is along them is known from then on.

        Call it before `move`.
        """
        if self.first_axes is None:
            self.first_axes = frozenset(name for name, named in (("X", x), ("Y", y), ("Z", z)) if named)
        if self.relative:
            # A step from an unknown place leads to an unknown place.
            if not (self.x_known and self.y_known):
                self.unplaced.append(len(self.motions))
            return
        if not (self.x_known and self.y_known):
            self.unplaced.append(len(self.motions))
            self.x_known, self.y_known = self.x_known or x, self.y_known or y
        self.z_known = self.z_known or z

    def radii_may_differ(self) -> float:
        """The standard's limit, with a hair for the arithmetic: a difference of exactly the limit passes."""
        limit = TOLERANCES.arc_radii if self.unit == 1.0 else TOLERANCES.arc_radii_in * 25.4
        return limit + 1e-9

    def move(
        self, kind: MotionKind, end: Place, *, centre: tuple[float, float] | None = None, sweep: float = 0.0,
        cycle: bool = False, share: float = 1.0,
    ) -> None:  # fmt: skip
        """Add a motion from where the tool stands. `share` is the part it makes of the whole motion written, for a feed
        in inverse time. Raises WordError for a place no machine reaches, and TooManyError.
        """
        if max(map(abs, (*end, *(centre or ())))) >= FARTHEST:
            raise WordError(1, "the motion leads farther away than any machine reaches")
        if len(self.motions) >= MOST_MOTIONS:
            raise TooManyError(1, f"more than {MOST_MOTIONS} motions are not judged; split the file")
        if self.modes_before is None:
            self.modes_before = frozenset(self.modes)
        feed = 0.0 if kind == "rapid" or self.feed is None else self.feed
        motion = Motion(
            self.line, kind, self.place, end, centre, sweep, feed, self.spindle, self.speed, self.tool, cycle,
            self.z_known,
        )  # fmt: skip
        if self.inverse_time and kind != "rapid":
            motion = motion._replace(feed=motion.length / share * feed if share else 0.0)
        self.motions.append(motion)
        self.place = end

    def event(self, kind: EventKind, value: float) -> None:
        """Add something that is no motion."""
        self.events.append(Event(self.line, len(self.motions), kind, value))
