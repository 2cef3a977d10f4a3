"""The state that a controller keeps between the lines of a program, and the result of the lines so far. mm, mm/min.

Also the modal groups of G and M codes (NISTIR 6556, table 4), and which codes may be on one line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from cutjob.proof.gcode.reading import Event, EventKind, Motion, MotionKind, Place
from cutjob.proof.gcode.words import INTEGER, Word, WordError
from cutjob.tolerances import TOLERANCES

G_GROUPS: dict[str, tuple[str, ...]] = {
    "motion": ("0", "1", "2", "3", "38.2", "80", "81", "82", "83", "84", "85", "86", "87", "88", "89"),
    "plane": ("17", "18", "19"),
    "distance": ("90", "91"),
    "feed mode": ("93", "94"),
    "units": ("20", "21"),
    "cutter radius": ("40", "41", "42"),
    "tool length": ("43", "49"),
    "return": ("98", "99"),
    "coordinates": ("54", "55", "56", "57", "58", "59", "59.1", "59.2", "59.3"),
    "path": ("61", "61.1", "64"),
    "non-modal": ("4", "10", "28", "30", "53", "92", "92.1", "92.2", "92.3"),
}
M_GROUPS: dict[str, tuple[str, ...]] = {
    "stop": ("0", "1", "2", "30", "60"),
    "change": ("6",),
    "spindle": ("3", "4", "5"),
    "coolant": ("7", "8", "9"),
    "overrides": ("48", "49"),
}
MOST_M_WORDS = 4
_OF_G = {code: group for group, codes in G_GROUPS.items() for code in codes}
_OF_M = {code: group for group, codes in M_GROUPS.items() for code in codes}
REFUSED: dict[str, str] = {
    "G38.2": "the file doesn't say where a probe stops",
    "G84": "tapping needs a spindle that turns with the feed",
    "G87": "boring from below needs a tool that no profile knows",
    "G88": "the tool is taken out by hand",
    "G41": "cutter compensation moves the path by a number that is not in the file; write the centre's path",
    "G42": "cutter compensation moves the path by a number that is not in the file; write the centre's path",
    "G10": "it changes the controller's stored zero points",
    "G53": "the file doesn't say where the machine's own zero is",
    **{f"G{code}": "it moves the program's zero away from the stated one" for code in ("92", "92.1", "92.2", "92.3")},
    "M60": "there is no pallet to change",
}


@dataclass(frozen=True, slots=True)
class Codes:
    """The codes of a line by group, without leading zeros, and every other word by its letter."""

    g: dict[str, Word]
    m: dict[str, Word]
    words: dict[str, Word]

    def code(self, group: str) -> str | None:
        """The G code of a group on this line, like "17", or None."""
        word = self.g.get(group)
        return None if word is None else code_of(word)

    def m_code(self, group: str) -> str | None:
        """The M code of a group on this line, or None."""
        word = self.m.get(group)
        return None if word is None else code_of(word)

    @property
    def column(self) -> int:
        """The column of the first word."""
        words = (*self.g.values(), *self.m.values(), *self.words.values())
        return min((word.column for word in words), default=1)


def code_of(word: Word) -> str:
    """Return a code as the tables write it: G01 is 1, G59.10 is 59.1."""
    tenths = round(word.value * 10)
    # A value that was worked out counts as a code when it is nearly one.
    value = tenths / 10 if abs(word.value - tenths / 10) <= INTEGER else word.value
    return f"{value:.6f}".rstrip("0").rstrip(".")


def sort_codes(words: Sequence[Word]) -> Codes:
    """Return the words of a line by group and letter. Raises WordError for two of a kind and for unknown codes."""
    codes = Codes({}, {}, {})
    m_words = 0
    for word in words:
        if word.letter in "GM":
            name = word.letter + code_of(word)
            group = (_OF_G if word.letter == "G" else _OF_M).get(code_of(word))
            if group is None:
                raise WordError(word.column, f"{name} is not a code of the standard")
            if name in REFUSED:
                raise WordError(word.column, f"{name} is not judged: {REFUSED[name]}")
            into = codes.g if word.letter == "G" else codes.m
            # M7 and M8 may be on together, so the report allows both in one program, but not on one line.
            if group in into:
                other = word.letter + code_of(into[group])
                raise WordError(word.column, f"{other} and {name} are of one kind ({group}): only one may be on a line")
            into[group] = word
            m_words += word.letter == "M"
            if m_words > MOST_M_WORDS:
                raise WordError(word.column, f"more than {MOST_M_WORDS} M words on a line")
        elif word.letter in codes.words:
            raise WordError(word.column, f"{word.letter} is twice on the line")
        else:
            codes.words[word.letter] = word
    return codes


FARTHEST = 1e6  # mm; larger numbers are typing errors, and their squares no longer exact
MOST_MOTIONS = 300_000  # more need more memory than a small computer has to spare


class ProgramEnd(Exception):  # noqa: N818 - not an error: the way a program ends
    """M2 or M30 was reached."""


class TooManyError(WordError):
    """A file with more motions than are judged."""


@dataclass(slots=True)
class LineState:
    """The controller's state between lines, and the result of the lines so far."""

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
        """Note which axes the next motion names: in absolute mode the tool's place along these is known from then on.

        Call it before `move`.
        """
        if self.first_axes is None:
            self.first_axes = frozenset(name for name, named in (("X", x), ("Y", y), ("Z", z)) if named)
        if self.relative:
            # An incremental move from an unknown place leads to an unknown place.
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
        """Add a motion from the tool's place. `share` is its share of the whole written motion, for a feed in inverse
        time. Raises WordError for a place no machine reaches, and TooManyError.
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
        """Add something that isn't a motion."""
        self.events.append(Event(self.line, len(self.motions), kind, value))
