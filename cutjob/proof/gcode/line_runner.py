"""The controller's state, and one line of words carried out in the order of table 8 of NISTIR 6556.

A line becomes motions and events, in mm and mm/min. A line that breaks a rule raises, and the reader of the file turns
that into a problem with its place.

Arcs outside the XY plane become short straight lines: NISTIR 6556, section 3.5.3, planes G18 and G19. mm, radians.

Seen from the positive end of the axis across the plane, the first axis leads to the second counter-clockwise: X and Y
in G17, Z and X in G18, Y and Z in G19. The places where the arc is farthest along an axis are ends of lines, so depths
and reach are exact, and everything between is within TOLERANCES.path.

The centre and the turn of an arc written with I and J, or with R, follow NISTIR 6556, section 3.5.3.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple, TypeAlias

from cutjob.proof.gcode.canned import CYCLES, NEEDED_WORDS, CyclePause, CycleWords, drill_cycle
from cutjob.proof.gcode.line_state import FARTHEST, Codes, LineState, ProgramEnd
from cutjob.proof.gcode.reading import Place
from cutjob.proof.gcode.words import INTEGER, Word, WordError
from cutjob.tolerances import TOLERANCES

MOST_LINES = 20_000  # a larger arc is a typing error
_QUARTER = math.pi / 2


class Plane(NamedTuple):
    """The axes of a plane, by index and letter, and those across it; the letters of the centre's offsets."""

    first: int
    second: int
    across: int
    axes: str
    offsets: str


PLANES = {
    "17": Plane(0, 1, 2, "XY", "IJ"),
    "18": Plane(2, 0, 1, "ZX", "KI"),
    "19": Plane(1, 2, 0, "YZ", "JK"),
}


def lines_of_arc(
    start: Place, end: Place, centre: tuple[float, float], sweep: float, plane: Plane
) -> Iterator[Place] | None:
    """Return the ends of the lines that stand for an arc of signed `sweep` about `centre` in a plane; None for an arc
    far too large.
    """
    u, v = start[plane.first] - centre[0], start[plane.second] - centre[1]
    radius, begin = math.hypot(u, v), math.atan2(v, u)
    step = 2 * math.acos(max(0.0, 1 - TOLERANCES.path / radius)) if radius > TOLERANCES.path else _QUARTER
    if abs(sweep) / step > MOST_LINES:
        return None
    return _places(start, end, centre, (radius, begin, sweep, step), plane)


def _places(
    start: Place, end: Place, centre: tuple[float, float], arc: tuple[float, float, float, float], plane: Plane
) -> Iterator[Place]:
    radius, begin, sweep, step = arc
    for angle in _angles(begin, sweep, step):
        share = (angle - begin) / sweep
        place = [0.0, 0.0, 0.0]
        place[plane.first] = centre[0] + radius * math.cos(angle)
        place[plane.second] = centre[1] + radius * math.sin(angle)
        place[plane.across] = start[plane.across] + share * (end[plane.across] - start[plane.across])
        yield place[0], place[1], place[2]
    yield end


def _angles(begin: float, sweep: float, step: float) -> Iterator[float]:
    """The angles between the arc's ends: every multiple of a quarter turn, and as many between as `step` asks for."""
    way = math.copysign(1.0, sweep)
    quarter = math.floor(begin * way / _QUARTER) + 1
    stops = [begin]
    while (quarter * _QUARTER - begin * way) < abs(sweep):
        stops.append(quarter * _QUARTER * way)
        quarter += 1
    stops.append(begin + sweep)
    last = len(stops) - 2
    for number, (one, other) in enumerate(pairwise(stops)):
        count = max(1, math.ceil(abs(other - one) / step))
        for part in range(1, count):
            yield one + (other - one) * part / count
        if number < last:
            yield other


Point: TypeAlias = tuple[float, float]
_FULL = 2 * math.pi
_SLACK = 1e-6  # degrees; arithmetic


# Section 3.5.3.1: arcs in R form are suitable up to 165 degrees, and from 195 to 345.
_FIT = ((0.0, 165.0), (195.0, 345.0))


class ArcError(ValueError):
    """An arc that breaks a rule of the standard."""


def arc_by_centre(start: Point, end: Point, centre: Point, *, clockwise: bool, radii_may_differ: float) -> float:
    """Return the signed sweep in radians; equal ends make a full turn. Raises ArcError for radii too far apart (mm)."""
    ux, uy, vx, vy = start[0] - centre[0], start[1] - centre[1], end[0] - centre[0], end[1] - centre[1]
    at_start, at_end = math.hypot(ux, uy), math.hypot(vx, vy)
    if abs(at_start - at_end) > radii_may_differ:
        raise ArcError(
            f"the arc's radii are {at_start:.5f} mm at its start and {at_end:.5f} mm at its end; "
            f"they may differ by {radii_may_differ:.5f} mm"
        )
    if at_start == 0:
        raise ArcError("the arc's radius is zero")
    if start == end:
        return -_FULL if clockwise else _FULL
    angle = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
    if clockwise:
        return angle if angle < 0 else angle - _FULL
    return angle if angle > 0 else angle + _FULL


def is_uncertain(sweep: float) -> bool:
    """Whether rounding its numbers moves the centre of an arc in R form with this sweep (radians) far off."""
    turned = math.degrees(abs(sweep))
    return not any(least - _SLACK <= turned <= most + _SLACK for least, most in _FIT)


def arc_by_radius(start: Point, end: Point, radius: float, *, clockwise: bool) -> tuple[Point, float]:
    """Return the centre and the signed sweep; a negative radius asks for more than half a turn. Raises ArcError."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(dx, dy)
    if chord == 0:
        raise ArcError("an arc in R form can't end where it starts")
    if radius == 0:
        raise ArcError("the arc's radius is zero")
    half = chord / 2
    # A half turn whose radius was rounded down may fall short of the chord by the rounding.
    if half > abs(radius) + 0.001:
        raise ArcError(f"radius {abs(radius):.5f} mm doesn't reach over the chord of {chord:.5f} mm")
    half_angle = math.asin(min(1.0, half / abs(radius)))
    sweep = 2 * half_angle if radius > 0 else _FULL - 2 * half_angle
    off = math.sqrt(max(0.0, radius * radius - half * half))
    # The centre is left of the chord for a counter-clockwise arc below half a turn; each of the two changes the side.
    side = 1.0 if (radius > 0) != clockwise else -1.0
    centre = (start[0] + dx / 2 - side * off * dy / chord, start[1] + dy / 2 + side * off * dx / chord)
    return centre, -sweep if clockwise else sweep


_WORD_USERS = {
    "P": "G4 and the canned cycles that wait",
    "Q": "G83",
    "R": "an arc or a canned cycle",
    "L": "a canned cycle",
    "H": "G43",
    "D": "cutter compensation",
    "I": "an arc in the XY or XZ plane",
    "J": "an arc in the XY or YZ plane",
    "K": "an arc in the XZ or YZ plane",
}


@dataclass(slots=True)
class LineRunner(LineState):
    """Carries out one line after another."""

    def execute(self, codes: Codes) -> None:
        """Carry out one line. Raises WordError, ArcError or CycleError, and ProgramEnd at the end of the program."""
        used: set[str] = set()
        self._feeds_and_tools(codes, used)
        if codes.code("non-modal") == "4":
            self._dwell(codes, used)
        self._modes(codes, used)
        if codes.code("non-modal") in ("28", "30"):
            self._go_home(codes, used)
        else:
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
            self.event("speed", word.value)
        if word := codes.words.get("T"):
            used.add("T")
            self.selected = _whole(word)
        if codes.m_code("change"):
            self.tool, self.spindle = self.selected, 0
            # A changer may leave the tool anywhere; the file has to state its place again.
            self.x_known = self.y_known = self.z_known = False
            self.event("tool", self.tool)
        if code := codes.m_code("spindle"):
            self.spindle = {"3": 1, "4": -1, "5": 0}[code]
            self.event("spindle", self.spindle)
        if code := codes.m_code("coolant"):
            self.event("coolant", float(code))

    def _dwell(self, codes: Codes, used: set[str]) -> None:
        word = codes.words.get("P")
        if word is None:
            raise WordError(codes.g["non-modal"].column, "G4 needs a P word, the seconds to wait")
        if word.value < 0:
            raise WordError(word.column, "a dwell can't be negative")
        used.add("P")
        self.event("dwell", word.value)

    def _go_home(self, codes: Codes, used: set[str]) -> None:
        """G28 and G30 are rapids over the named place, if any, to a home that only the machine knows."""
        word = codes.g["non-modal"]
        if "motion" in codes.g and codes.code("motion") != "80":
            raise WordError(word.column, f"G{codes.code('non-modal')} and a motion code on one line both want the axes")
        axes = [letter for letter in "XYZ" if letter in codes.words]
        used.update(axes)
        end = self._end(codes)
        if axes and end != self.place:
            self.say_where("X" in axes, "Y" in axes, "Z" in axes)
            self.move("rapid", end)
        self.event("home", 1.0 if axes == ["Z"] else 0.0)
        self.x_known = self.y_known = self.z_known = False
        message = "the way to the machine's home is not judged; the file doesn't say where that is"
        self.remarks.append((self.line, word.column, message))

    def _modes(self, codes: Codes, used: set[str]) -> None:
        if code := codes.code("plane"):
            self.plane = code
        if code := codes.code("units"):
            unit = 25.4 if code == "20" else 1.0
            if self.motions and unit != self.unit:
                message = "the units change between motions; whoever reads the file will confuse them"
                self.remarks.append((self.line, codes.g["units"].column, message))
            self.unit = unit
        if codes.code("tool length") == "43":
            if (word := codes.words.get("H")) is None:
                raise WordError(codes.g["tool length"].column, "G43 needs an H word, the number of the tool's length")
            used.add("H")
            self.event("tool length", _whole(word))
        elif codes.code("tool length") == "49":
            self.event("tool length", 0.0)
        if code := codes.code("distance"):
            self.relative = code == "91"
        if code := codes.code("return"):
            self.return_to_old = code == "98"
        self.modes |= {group for group in ("plane", "units", "distance", "feed mode") if group in codes.g}

    def _stop(self, codes: Codes) -> None:
        code = codes.m_code("stop")
        if code in ("0", "1"):
            self.event("stop", float(code))
        elif code in ("2", "30"):
            self.event("end", float(code))
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
                self.sticky, self.returned_low = {}, False
            self.motion = stated
        if not axes:
            self._without_axes(codes, stated)
            return
        if codes.code("non-modal") == "4" and stated is None:
            raise WordError(codes.words[axes[0]].column, "G4 takes no axis words")
        used.update(axes)
        if self.motion in (None, "80"):
            raise WordError(codes.words[axes[0]].column, "axis words without a motion code")
        if self.motion in CYCLES:
            self._cycle(codes, used)
        elif self.motion in ("2", "3"):
            self._arc(codes, used)
        else:
            if self.motion == "1":
                self._need_feed(codes)
            end = self._end(codes)
            self.say_where("X" in codes.words, "Y" in codes.words, "Z" in codes.words)
            self.move("rapid" if self.motion == "0" else "feed", end)

    def _without_axes(self, codes: Codes, stated: str | None) -> None:
        if stated in ("2", "3"):
            wanted = " or ".join(sorted(PLANES[self.plane].axes))
            message = f"an arc needs {wanted}; even a full circle must name its end"
            raise WordError(codes.g["motion"].column, message)
        if stated in ("0", "1"):
            # By sections 3.5.1 and 3.5.2 an error; nothing moves either way.
            message = f"G{stated} with no X, Y or Z is an error by the standard; not every controller reads on"
            self.remarks.append((self.line, codes.g["motion"].column, message))
        elif stated in CYCLES:
            raise WordError(codes.g["motion"].column, f"G{stated} needs X, Y or Z")

    def _end(self, codes: Codes) -> Place:
        values = []
        for letter, here in zip("XYZ", self.place, strict=True):
            word = codes.words.get(letter)
            values.append(here if word is None else (here if self.relative else 0.0) + word.value * self.unit)
        return values[0], values[1], values[2]

    def _need_feed(self, codes: Codes) -> None:
        if self.inverse_time and "F" not in codes.words:
            raise WordError(codes.column, "with G93 every line that cuts needs its own F")
        if self.feed is None:
            raise WordError(codes.column, "a cut before any feed was set; give an F word")

    def _arc(self, codes: Codes, used: set[str]) -> None:
        words, plane = codes.words, PLANES[self.plane]
        self._need_feed(codes)
        if not any(letter in words for letter in plane.axes):
            raise WordError(codes.column, f"an arc in the G{self.plane} plane needs {' or '.join(sorted(plane.axes))}")
        end, clockwise = self._end(codes), self.motion == "2"
        start = self.place
        self.stated_end = end
        flat_start, flat_end = (start[plane.first], start[plane.second]), (end[plane.first], end[plane.second])
        given = [letter for letter in plane.offsets if letter in words]
        if "R" in words:
            if given:
                raise WordError(words["R"].column, f"an arc takes either R or {' and '.join(sorted(plane.offsets))}")
            used.add("R")
            radius = words["R"].value * self.unit
            centre, sweep = arc_by_radius(flat_start, flat_end, radius, clockwise=clockwise)
            if is_uncertain(sweep):
                self.uncertain_arcs.append(len(self.motions))
        else:
            if not given:
                raise WordError(codes.column, f"an arc needs {' or '.join(sorted(plane.offsets))}, or R")
            used.update(plane.offsets)
            offset = [words[letter].value * self.unit if letter in words else 0.0 for letter in plane.offsets]
            centre = (flat_start[0] + offset[0], flat_start[1] + offset[1])
            sweep = arc_by_centre(
                flat_start, flat_end, centre, clockwise=clockwise, radii_may_differ=self.radii_may_differ()
            )
        self.say_where("X" in words, "Y" in words, "Z" in words)
        if self.plane == "17":
            self.move("arc", end, centre=centre, sweep=sweep)
        else:
            self._other_plane(codes, end, centre, sweep)

    def _other_plane(self, codes: Codes, end: Place, centre: tuple[float, float], sweep: float) -> None:
        """An arc outside the XY plane, as lines that are short enough to make no difference."""
        if self.other_planes is None:
            self.other_planes = self.line
        start, plane = self.place, PLANES[self.plane]
        if max(abs(centre[0]), abs(centre[1])) >= FARTHEST:
            raise WordError(codes.column, "the arc's centre is farther away than any machine reaches")
        lines = lines_of_arc(start, end, centre, sweep, plane)
        if lines is None:
            raise WordError(codes.column, "an arc too large to be judged outside the XY plane")
        places = [start, *lines]
        whole = sum(math.dist(one, other) for one, other in pairwise(places))
        for one, other in pairwise(places):
            self.move("feed", other, share=math.dist(one, other) / whole if whole else 1.0)

    def _cycle(self, codes: Codes, used: set[str]) -> None:
        words, kind = codes.words, self.motion or ""
        if self.plane != "17":
            raise WordError(codes.column, "a canned cycle outside the XY plane (G17) is not judged")
        if self.inverse_time:
            raise WordError(codes.column, "a canned cycle can't run with inverse time feed (G93)")
        if kind == "86" and not self.spindle:
            raise WordError(codes.column, "G86 stops the spindle and starts it again, so it has to turn before")
        self._need_feed(codes)
        for letter in NEEDED_WORDS[kind]:
            if letter in words:
                used.add(letter)
                self.sticky[letter] = words[letter].value * (1.0 if letter == "P" else self.unit)
            elif letter not in self.sticky:
                raise WordError(codes.column, f"G{kind} needs a {letter} word")
        repeats = 1
        if "L" in words:
            used.add("L")
            repeats = _whole(words["L"])
        if self.return_to_old and self.returned_low:
            message = "G98 after G99 in a row of cycles: controllers differ on its height; write G80 before it"
            raise WordError(codes.column, message)
        self.returned_low = not self.return_to_old
        self._run_cycle(codes, repeats)

    def _run_cycle(self, codes: Codes, repeats: int) -> None:
        x, y, _ = self._end(codes)
        old, way = self.place, self.spindle
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
        begun = False
        for step in drill_cycle(plan, old):
            if isinstance(step, CyclePause):
                self.spindle = {"spindle off": 0, "spindle on": way}.get(step.kind, self.spindle)
                if step.kind == "dwell":
                    self.event("dwell", step.value)
                else:
                    self.event("spindle", self.spindle)
                continue
            if not begun:
                # Its Z and R give the height from the first motion on: a tool that was lower comes up to R.
                self.say_where("X" in codes.words, "Y" in codes.words, True)
                begun = True
            self.move(step.kind, step.end, cycle=True)


def _whole(word: Word) -> int:
    whole = round(word.value)
    if whole < 0 or abs(word.value - whole) > INTEGER:
        raise WordError(word.column, f"{word.letter} takes a whole number, not {word.text}")
    return whole
