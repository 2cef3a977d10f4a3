"""A G-code file as read, as immutable values. mm, mm/min, radians, seconds.

A `Motion` is one straight line or arc of the tool's tip; an `Event` is anything else that happens between motions.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple, TypeAlias

from cutjob.errors import Problem

Place: TypeAlias = tuple[float, float, float]
MotionKind: TypeAlias = Literal["rapid", "feed", "arc"]
EventKind: TypeAlias = Literal["dwell", "spindle", "speed", "tool", "tool length", "stop", "coolant", "home", "end"]


class Motion(NamedTuple):
    """One motion. `sweep` is the signed included angle of an arc about `centre`, positive counter-clockwise, at most a
    full turn; `feed` is 0 for a rapid. `spindle` is 1 clockwise (M3), -1 counter-clockwise (M4), 0 stopped, at `speed`
    (the S word). `cycle` marks motions made by a canned cycle; `z_known` is False until the file has stated a height.
    """

    line: int
    kind: MotionKind
    start: Place
    end: Place
    centre: tuple[float, float] | None
    sweep: float
    feed: float
    spindle: int
    speed: float
    tool: int
    cycle: bool
    z_known: bool

    @property
    def turns(self) -> float:
        """How many turns an arc makes, without sign; 0 for a line."""
        return abs(self.sweep) / (2 * math.pi)

    @property
    def clockwise(self) -> bool:
        """True for an arc run clockwise."""
        return self.sweep < 0

    @property
    def length(self) -> float:
        """Length of the path in mm; a helix counts with its rise."""
        rise = self.end[2] - self.start[2]
        if self.centre is None:
            return math.hypot(self.end[0] - self.start[0], self.end[1] - self.start[1], rise)
        radius = math.hypot(self.start[0] - self.centre[0], self.start[1] - self.centre[1])
        return math.hypot(radius * self.sweep, rise)


class Event(NamedTuple):
    """Something that isn't a motion, after `motions` motions: a dwell with its P word as `value` (seconds in the
    standard), the spindle's new direction, an S word, a tool's number, the number of the length taken from the table
    (G43, or 0 for G49), a stop (M0, M1), coolant (M7 to M9), the way to the machine's home (G28, G30; 1 where the file
    names only Z), the end (M2, M30).
    """

    line: int
    motions: int
    kind: EventKind
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A whole file as read.

    `problems` holds every line that breaks the language or can't be judged; trust nothing from the first of them on.
    `problem_places` has by line the tool's X and Y before a faulty arc. `remarks` are lines that move nothing, but that
    not every controller reads. `set_before_motion` names the modes stated before the first motion (units, plane,
    distance, feed mode), `first_axes` the axes that motion names. `letters` are the letters used that mean more than
    the end of a motion. `first_lines` has the number of the line on which a code, such a letter or a style of comment
    comes first, with "/" for a block delete, "#" for a value to be worked out and "decimals" for the finest coordinate.

    Motions by index: `unplaced` start or end where the file has not stated X and Y; `uncertain_arcs` are in R form, so
    near to a half or a full turn that the centre depends on rounding. `other_planes` is the line of the first arc
    outside the XY plane; such arcs are short straight motions here. `after_end` is the first line with words after the
    program's end. `decimals` is the greatest number of decimals of a coordinate, `longest_line` the length and the
    number of the longest line. `understood` lines have words; `strange` lines can't be split into words.
    """

    name: str
    motions: tuple[Motion, ...]
    events: tuple[Event, ...]
    problems: tuple[Problem, ...]
    problem_places: Mapping[int, tuple[float, float]]
    remarks: tuple[Problem, ...]
    letters: frozenset[str]
    codes: frozenset[str]
    first_lines: Mapping[str, int]
    comment_styles: frozenset[str]
    set_before_motion: frozenset[str]
    first_axes: frozenset[str]
    unplaced: tuple[int, ...]
    uncertain_arcs: tuple[int, ...]
    other_planes: int | None
    ended: bool
    after_end: int | None
    percent: bool
    longest_line: tuple[int, int]
    decimals: int
    inches: bool
    understood: int
    strange: int

    def before(self, line: int) -> Reading:
        """Return the motions and events of the lines before this one; facts about the whole file stay."""
        motions = tuple(motion for motion in self.motions if motion.line < line)
        count = len(motions)
        return replace(
            self,
            motions=motions,
            events=tuple(event for event in self.events if event.line < line),
            unplaced=tuple(index for index in self.unplaced if index < count),
            uncertain_arcs=tuple(index for index in self.uncertain_arcs if index < count),
        )
