"""The controller's state, and one line of words carried out in the order of table 8 of NISTIR 6556.

What a line does becomes motions and events, in mm and mm/min. A line that breaks a rule raises, and the reader of the
file turns that into a problem with its place.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from cutjob.proof.arc_words import arc_by_centre, arc_by_radius
from cutjob.proof.canned import CycleWords, drill_cycle
from cutjob.proof.modal import Codes
from cutjob.proof.reading import Event, EventKind, Motion, MotionKind, Place
from cutjob.proof.words import Word, WordError
from cutjob.tolerances import TOLERANCES

_WORD_USERS = {
    "P": "G4, G82",
    "Q": "G83",
    "R": "an arc or a canned cycle",
    "L": "a canned cycle",
    "H": "G43",
    "D": "cutter compensation",
    "I": "an arc",
    "J": "an arc",
    "K": "an arc",
}


FARTHEST = 1e6  # mm; beyond it numbers are slips of the pen, and their squares no longer exact


class ProgramEnd(Exception):  # noqa: N818 - no error: how a program ends
    """M2 or M30 was reached."""


@dataclass(slots=True)
class LineRunner:
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
    z_known: bool = False
    first_axes: frozenset[str] | None = None
    sticky: dict[str, float] = field(default_factory=dict)
    ended: bool = False
    line: int = 0

    def execute(self, codes: Codes) -> None:
        """Carry out one line. Raises WordError, ArcError or CycleError, and ProgramEnd at the end of the program."""
        used: set[str] = set()
        self._feeds_and_tools(codes, used)
        if codes.code("non-modal") == "4":
            self._dwell(codes, used)
        self._modes(codes, used)
        self._motion(codes, used)
        for letter, word in codes.words.items():
            if letter not in used:
                users = _WORD_USERS.get(letter, "a motion")
                raise WordError(word.column, f"{letter} has no use on this line: it goes with {users}")
        self._stop(codes)

    def _feeds_and_tools(self, codes: Codes, used: set[str]) -> None:
        if mode := codes.code("feed mode"):
            if self.inverse_time != (mode == "93"):
                self.feed = None  # a feed in one mode means nothing in the other
            self.inverse_time = mode == "93"
            self.modes.add("feed mode")
        if word := codes.words.get("F"):
            used.add("F")
            if word.value < 0:
                raise WordError(word.column, "a feed can't be negative")
            self.feed = word.value if self.inverse_time else word.value * self.unit
        if word := codes.words.get("S"):
            used.add("S")
            if word.value < 0:
                raise WordError(word.column, "a speed can't be negative")
            self.speed = word.value
            self._event("speed", word.value)
        if word := codes.words.get("T"):
            used.add("T")
            self.selected = _whole(word)
        if codes.m_code("change"):
            self.tool, self.spindle = self.selected, 0
            # A changer leaves the tool wherever it likes; how high, the file has to say again.
            self.z_known = False
            self._event("tool", self.tool)
        if code := codes.m_code("spindle"):
            self.spindle = {"3": 1, "4": -1, "5": 0}[code]
            self._event("spindle", self.spindle)
        if code := codes.m_code("coolant"):
            self._event("coolant", float(code))

    def _dwell(self, codes: Codes, used: set[str]) -> None:
        word = codes.words.get("P")
        if word is None:
            raise WordError(codes.g["non-modal"].column, "G4 needs a P word, the seconds to wait")
        if word.value < 0:
            raise WordError(word.column, "a dwell can't be negative")
        used.add("P")
        self._event("dwell", word.value)

    def _modes(self, codes: Codes, used: set[str]) -> None:
        if code := codes.code("plane"):
            self.plane = code
        if code := codes.code("units"):
            self.unit = 25.4 if code == "20" else 1.0
        if codes.code("tool length") == "43":
            word = codes.words.get("H")
            if word is None:
                raise WordError(codes.g["tool length"].column, "G43 needs an H word, the number of the tool's length")
            used.add("H")
            self._event("tool length", _whole(word))
        elif codes.code("tool length") == "49":
            self._event("tool length", 0.0)
        if code := codes.code("distance"):
            self.relative = code == "91"
        if code := codes.code("return"):
            self.return_to_old = code == "98"
        self.modes |= {group for group in ("plane", "units", "distance", "feed mode") if group in codes.g}

    def _stop(self, codes: Codes) -> None:
        code = codes.m_code("stop")
        if code in ("0", "1"):
            self._event("stop", float(code))
        elif code in ("2", "30"):
            self._event("end", float(code))
            self.spindle = 0
            self.ended = True
            raise ProgramEnd

    def _motion(self, codes: Codes, used: set[str]) -> None:
        stated = codes.code("motion")
        for letter in "ABC":
            if word := codes.words.get(letter):
                raise WordError(word.column, f"{letter} turns a rotary axis; only X, Y and Z are judged")
        axes = [letter for letter in "XYZ" if letter in codes.words]
        if stated is not None:
            if stated != self.motion:
                self.sticky = {}
            self.motion = stated
        if not axes:
            if stated in ("2", "3"):
                raise WordError(codes.g["motion"].column, "an arc needs X or Y")
            if stated in ("0", "1", "81", "82", "83"):
                raise WordError(codes.g["motion"].column, f"G{stated} needs X, Y or Z")
            return
        if codes.code("non-modal") == "4" and stated is None:
            raise WordError(codes.words[axes[0]].column, "G4 takes no axis words")
        used.update(axes)
        if self.motion in (None, "80"):
            raise WordError(codes.words[axes[0]].column, "axis words, but no motion code says what to do with them")
        if "Z" in codes.words:
            self.z_known = True
        if self.first_axes is None:
            self.first_axes = frozenset(axes)
        if self.motion in ("81", "82", "83"):
            self._cycle(codes, used)
        elif self.motion in ("2", "3"):
            self._arc(codes, used)
        else:
            if self.motion == "1":
                self._need_feed(codes)
            self.move("rapid" if self.motion == "0" else "feed", self._end(codes))

    def _end(self, codes: Codes) -> Place:
        values = []
        for letter, here in zip("XYZ", self.place, strict=True):
            word = codes.words.get(letter)
            values.append(here if word is None else (here if self.relative else 0.0) + word.value * self.unit)
        return values[0], values[1], values[2]

    def _need_feed(self, codes: Codes) -> None:
        if self.inverse_time and "F" not in codes.words:
            raise WordError(1, "with G93 every line that cuts needs its own F")
        if self.feed is None:
            raise WordError(1, "a cut before any feed was set; give an F word")

    def _arc(self, codes: Codes, used: set[str]) -> None:
        words = codes.words
        column = next(iter(words.values())).column
        if self.plane != "17":
            raise WordError(column, f"an arc in the G{self.plane} plane; only arcs in the XY plane (G17) are judged")
        self._need_feed(codes)
        if "X" not in words and "Y" not in words:
            raise WordError(column, "an arc needs X or Y")
        end, clockwise = self._end(codes), self.motion == "2"
        start = self.place[:2]
        if "R" in words:
            if "I" in words or "J" in words:
                raise WordError(words["R"].column, "an arc takes either R or I and J")
            used.add("R")
            centre, sweep = arc_by_radius(start, end[:2], words["R"].value * self.unit, clockwise=clockwise)
        else:
            if "I" not in words and "J" not in words:
                raise WordError(column, "an arc needs I or J, or R")
            used.update("IJ")
            offset = [words[letter].value * self.unit if letter in words else 0.0 for letter in "IJ"]
            centre = (start[0] + offset[0], start[1] + offset[1])
            sweep = arc_by_centre(start, end[:2], centre, clockwise=clockwise, radii_may_differ=self.radii_may_differ())
        self.move("arc", end, centre=centre, sweep=sweep)

    def radii_may_differ(self) -> float:
        """The standard's limit, with a hair for the arithmetic: a difference of exactly the limit passes."""
        limit = TOLERANCES.arc_radii if self.unit == 1.0 else TOLERANCES.arc_radii_in * 25.4
        return limit + 1e-9

    def _cycle(self, codes: Codes, used: set[str]) -> None:
        words = codes.words
        if self.plane != "17":
            raise WordError(1, "a canned cycle outside the XY plane (G17) is not judged")
        if self.inverse_time:
            raise WordError(1, "a canned cycle can't run with inverse time feed (G93)")
        self._need_feed(codes)
        needed = {"81": "ZR", "82": "ZRP", "83": "ZRQ"}[self.motion or ""]
        for letter in needed:
            if letter in words:
                used.add(letter)
                self.sticky[letter] = words[letter].value * (1.0 if letter == "P" else self.unit)
            elif letter not in self.sticky:
                raise WordError(1, f"G{self.motion} needs a {letter} word")
        repeats = 1
        if "L" in words:
            used.add("L")
            repeats = _whole(words["L"])
        x, y, _ = self._end(codes)
        old = self.place
        plan = CycleWords(
            kind=self.motion or "",
            step=(x - old[0], y - old[1]) if self.relative else (0.0, 0.0),
            first=(x, y),
            bottom=self.sticky["Z"],
            clear=self.sticky["R"],
            relative=self.relative,
            repeats=repeats,
            dwell=self.sticky.get("P", 0.0),
            peck=self.sticky.get("Q", 0.0),
            return_to_old=self.return_to_old,
            back_off=0.254,
        )
        for kind, place, seconds in drill_cycle(plan, old):
            if seconds:
                self._event("dwell", seconds)
            else:
                self.move(kind, place, cycle=True)

    def move(
        self, kind: MotionKind, end: Place, *, centre: tuple[float, float] | None = None, sweep: float = 0.0,
        cycle: bool = False,
    ) -> None:  # fmt: skip
        """Add a motion from where the tool stands. Raises WordError for a place no machine reaches."""
        if max(map(abs, (*end, *(centre or ())))) >= FARTHEST:
            raise WordError(1, "the motion leads farther away than any machine reaches")
        if self.modes_before is None:
            self.modes_before = frozenset(self.modes)
        feed = 0.0 if kind == "rapid" or self.feed is None else self.feed
        motion = Motion(
            self.line, kind, self.place, end, centre, sweep, feed, self.spindle, self.speed, self.tool, cycle,
            self.z_known,
        )  # fmt: skip
        if self.inverse_time and kind != "rapid":
            motion = motion._replace(feed=motion.length * feed)
        self.motions.append(motion)
        self.place = end

    def _event(self, kind: EventKind, value: float) -> None:
        self.events.append(Event(self.line, len(self.motions), kind, value))


def _whole(word: Word) -> int:
    if word.value < 0 or word.value != int(word.value):
        raise WordError(word.column, f"{word.letter} takes a whole number, not {word.text}")
    return int(word.value)
