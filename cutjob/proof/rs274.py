"""G-code bytes to motions and events: a reader of the RS-274/NGC language after NISTIR 6556, version 3.

Read are the line rules of section 3.3, the modal groups of table 4, the order of execution of table 8, lines, arcs and
helices in the XY plane, dwells, canned cycles G81 to G83, inverse time feed and the M codes of a mill. What can't be
judged from the file alone (home positions, tables in the controller, parameters, rotary axes) is a `Problem`, never
a guess. Lengths come out in mm and feeds in mm/min whatever the file's units.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from cutjob.errors import Location, Problem
from cutjob.proof.arc_words import ArcError, arc_by_centre, arc_by_radius
from cutjob.proof.canned import CycleError, CycleWords, drill_cycle
from cutjob.proof.modal import Codes, code_of, sort_codes
from cutjob.proof.reading import Event, EventKind, Motion, MotionKind, Place, Reading
from cutjob.proof.words import LONGEST_LINE, Word, WordError, split_line
from cutjob.tolerances import TOLERANCES

_N = r"([+-]?(?:\d+\.?\d*|\.\d+))"
# The lines a file is mostly made of: one motion code and axis words in the usual order. All others go the long way.
_COMMON = re.compile(
    rf"(?:N\d{{1,5}} ?)?(?:G0?([0-3]) ?)?(?:X{_N} ?)?(?:Y{_N} ?)?(?:Z{_N} ?)?(?:I{_N} ?)?(?:J{_N} ?)?(?:F{_N})?",
    re.ASCII,
)
_COMMENT = re.compile(r"\([^)]*\)|;.*")
_MOST_PROBLEMS = 100
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


def read_gcode(data: bytes, *, name: str, start: Place = (0.0, 0.0, 0.0), skip_common: bool = False) -> Reading:
    """Return what the file says; `name` is for messages, `start` where the tool stands (mm).

    Every line in error becomes a `Problem` with its line and column, up to a hundred of them; nothing is raised.
    `skip_common` reads every line the long way, for comparing the two.
    """
    reader = _Reader(name, start)
    lines = data.decode("latin-1").split("\n")
    lines = [line.removesuffix("\r") for line in lines]
    reader.run(lines, common=not skip_common)
    return reader.reading(lines)


class _StopError(Exception):
    """The program ended, or too much is wrong."""


@dataclass(slots=True)
class _Reader:
    """The controller's state while a file is read."""

    name: str
    place: Place
    motions: list[Motion] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    styles: set[str] = field(default_factory=set)
    letters: set[str] = field(default_factory=set)
    codes: set[str] = field(default_factory=set)
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
    sticky: dict[str, float] = field(default_factory=dict)
    ended: bool = False
    percent: bool = False
    line: int = 0

    # -- the file ------------------------------------------------------------------------------------------------

    def run(self, lines: list[str], *, common: bool) -> None:
        first = next((number for number, line in enumerate(lines) if line.strip(" \t")), None)
        self.percent = first is not None and lines[first].strip(" \t") == "%"
        begin = first + 1 if self.percent and first is not None else 0
        match = _COMMON.fullmatch
        try:
            for number in range(begin, len(lines)):
                line = lines[number]
                self.line = number + 1
                if common and self.motion in _SIMPLE and (found := match(line)) and not self.inverse_time:
                    if self._common(found) or not line:
                        continue
                elif line.strip(" \t") == "%":
                    if not self.percent:
                        self._problem(1, "a percent sign ends a file that didn't begin with one")
                    raise _StopError
                self._any(line)
            if self.percent:
                self._problem(None, "the file begins with a percent sign and doesn't end with one")
        except _StopError:
            pass

    def _common(self, found: re.Match[str]) -> bool:
        """Do a common line; False when it takes the long way, for its errors or because its letters say more."""
        g, xs, ys, zs, i_text, j_text, f_text = found.groups()
        if len(found.string) > LONGEST_LINE:
            return False
        motion = g or self.motion
        if (i_text is None and j_text is None) != (motion not in ("2", "3")) or self.plane != "17":
            return False
        if xs is None and ys is None and (zs is None or motion in ("2", "3")):
            return False
        unit = self.unit
        feed = self.feed if f_text is None else float(f_text) * unit
        if feed is None and motion != "0":
            return False
        if feed is not None and feed < 0:
            return False
        x0, y0, z0 = place = self.place
        if self.relative:
            x0r, y0r, z0r = place
        else:
            x0r = y0r = z0r = 0.0
        end = (
            x0 if xs is None else x0r + float(xs) * unit,
            y0 if ys is None else y0r + float(ys) * unit,
            z0 if zs is None else z0r + float(zs) * unit,
        )
        centre: tuple[float, float] | None = None
        sweep = 0.0
        if motion in ("2", "3"):
            centre = (
                x0 + (float(i_text) * unit if i_text is not None else 0.0),
                y0 + (float(j_text) * unit if j_text is not None else 0.0),
            )
            try:
                sweep = arc_by_centre(
                    place[:2], end[:2], centre, clockwise=motion == "2", radii_may_differ=self._radii_may_differ()
                )
            except ArcError:
                return False
        self.feed = feed
        self.motion = motion
        if g is not None:
            self.codes.add("G" + g)
        if zs is not None:
            self.z_known = True
        kind: MotionKind = "rapid" if motion == "0" else "feed" if motion == "1" else "arc"
        self._move(kind, end, centre=centre, sweep=sweep)
        return True

    def _any(self, line: str) -> None:
        try:
            split = split_line(line)
            self.styles |= split.comments
            if split.deleted:
                self.codes.add("/")
            words = [word for word in split.words if word.letter != "N"]
            if words:
                codes = sort_codes(words)
                self.letters.update(word.letter for word in words)
                self.codes.update(word.letter + code_of(word) for word in words if word.letter in "GM")
                self._execute(codes)
        except WordError as error:
            self._problem(error.column, str(error))
        except (ArcError, CycleError) as error:
            self._problem(None, str(error))

    def _problem(self, column: int | None, message: str) -> None:
        location = Location(file=self.name, line=self.line, column=column)
        self.problems.append(Problem(message=message, location=location))
        if len(self.problems) >= _MOST_PROBLEMS:
            raise _StopError

    # -- one line, in the order of table 8 -----------------------------------------------------------------------

    def _execute(self, codes: Codes) -> None:
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
        if word := codes.words.get("T"):
            used.add("T")
            self.selected = _whole(word)
        if codes.m_code("change"):
            self.tool, self.spindle = self.selected, 0
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
            _whole(word)
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
            raise _StopError

    # -- motions -------------------------------------------------------------------------------------------------

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
        if self.motion in ("81", "82", "83"):
            self._cycle(codes, used)
        elif self.motion in ("2", "3"):
            self._arc(codes, used)
        else:
            if self.motion == "1":
                self._need_feed(codes)
            self._move("rapid" if self.motion == "0" else "feed", self._end(codes))

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
            sweep = arc_by_centre(
                start, end[:2], centre, clockwise=clockwise, radii_may_differ=self._radii_may_differ()
            )
        self._move("arc", end, centre=centre, sweep=sweep)

    def _radii_may_differ(self) -> float:
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
                self._move(kind, place, cycle=True)

    def _move(
        self, kind: MotionKind, end: Place, *, centre: tuple[float, float] | None = None, sweep: float = 0.0,
        cycle: bool = False,
    ) -> None:  # fmt: skip
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

    # -- the result ----------------------------------------------------------------------------------------------

    def reading(self, lines: list[str]) -> Reading:
        longest = max(range(len(lines)), key=lambda number: len(lines[number]))
        plain = [_COMMENT.sub("", line) if "(" in line or ";" in line else line for line in lines]
        text = "\n".join(plain).replace(" ", "").replace("\t", "").upper()
        decimals = 0
        while re.search(rf"[XYZIJKR][+-]?\d*\.\d{{{decimals + 1}}}", text):
            decimals += 1
        used = self.letters | {letter for letter in "XYZIJF" if letter in text}
        return Reading(
            name=self.name,
            motions=tuple(self.motions),
            events=tuple(self.events),
            problems=tuple(self.problems),
            letters=frozenset(used),
            codes=frozenset(self.codes),
            comment_styles=frozenset(self.styles),
            set_before_motion=frozenset(self.modes) if self.modes_before is None else self.modes_before,
            ended=self.ended,
            percent=self.percent,
            longest_line=(len(lines[longest]), longest + 1),
            decimals=decimals,
            inches=self.unit != 1.0,
        )


_SIMPLE = frozenset("0123")


def _whole(word: Word) -> int:
    if word.value < 0 or word.value != int(word.value):
        raise WordError(word.column, f"{word.letter} takes a whole number, not {word.text}")
    return int(word.value)
