"""A program to the text of its G-code file: RS-274/NGC (NISTIR 6556), as little of it as small controllers read.

The order of a file: opening comments; each mode on its own line (units first and alone, since F on their line would
still count in the old unit), with everything off that an earlier program may have left on; for every section its
cutter, the spindle or beam, and its moves; a lift before the spindle stops; away from the work; end. Every cut states
the spindle, X, Y, Z and F again, so that after a break a file can be run from there on. Cutter compensation, canned
cycles, R arcs, expressions and line numbers are never used. The same input gives the same bytes.

The motion lines come from a writer that remembers what the controller remembers. Words that would change nothing are
left out (G and F are modal, as are coordinates outside arcs). So are moves too short to be of use: the next move starts
where the last written one ended. Every arc starts at the rounded point where the last line ended. A laser's lines have
no Z: its beam is on from a cut's first move to the next rapid. A move too long for one line is written without blanks,
then with F on a line before it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias, assert_never

from cutjob.errors import InputError, Problem
from cutjob.geometry.segment import Arc, Point
from cutjob.job.machine import Controller, Machine
from cutjob.layout.layout import BoardLayout
from cutjob.output.gcode.comments import LONGEST_LINE, comment_lines, plain_ascii, profile_lines
from cutjob.output.numbers import Grid, fit_centre, fixed, fixed_down
from cutjob.output.words.held import DRIVE_SCREWS
from cutjob.output.words.line import Line
from cutjob.output.words.opening import by_dial, changes_cutters, halts_for_dial, opening_lines
from cutjob.program.moves import Move, Program, Section, Step
from cutjob.tolerances import TOLERANCES

_FEED_DECIMALS = {"mm": 1, "in": 2}
_POWER_DECIMALS = 1
# mm; no shorter move or chord is written: a controller that slows down at every joint would stand and rub there.
_SHORTEST = 0.01
# A longer arc is written as two: its ends lie close together, and rounding could close or open the circle.
_LARGEST_SWEEP = 1.5 * math.pi

Place: TypeAlias = tuple[float, float, float]
# X, Y and Z in whole steps; None where a line doesn't give one, or it isn't known yet.
Words: TypeAlias = tuple[int | None, int | None, int | None]
_UNKNOWN: Words = (None, None, None)


@dataclass(slots=True, kw_only=True)
class MotionLines:
    """Collects lines. `origin` is the program's zero in the board's frame, `raised` is added to Z, and `clear_z` is a
    height over the stock's top that clears everything on it, mm.
    """

    controller: Controller
    origin: Point
    raised: float
    laser: bool
    clear_z: float = 0.0
    lines: list[str] = field(default_factory=list)
    _grid: Grid = field(init=False)
    _true: Place = field(init=False, default=(0.0, 0.0, 0.0))  # unrounded, in the program's frame
    _at: Words = field(init=False, default=_UNKNOWN)  # as written
    _mode: str = field(init=False, default="")
    _feed: str = field(init=False, default="")
    _power: str = field(init=False, default="")
    _beam: bool = field(init=False, default=False)
    _afresh: bool = field(init=False, default=False)
    _longest: int = field(init=False)

    def __post_init__(self) -> None:
        self._grid = Grid(unit=self.controller.units, decimals=self.controller.decimals)
        self._longest = min(self.controller.longest_line, LONGEST_LINE)

    def insert(self, lines: Iterable[str]) -> None:
        """Add lines that aren't moves. The next move states its G word again, for controllers that forget it."""
        self.lines.extend(lines)
        self._mode = ""

    def lift(self, z: float) -> None:
        """Go straight up (or, at the start, to) height `z` above the stock's top as a rapid. Nothing on a laser."""
        height = z + self.raised
        self._true = (self._true[0], self._true[1], height)
        if not self.laser:
            self._straight("G0", (None, None, self._grid.steps(height)), "")

    def moved_by_hand(self) -> None:
        """Forget the tool's place and the feed: a changer, or someone at the machine, has been at work."""
        self._at = _UNKNOWN
        self._mode = ""
        self._feed = ""

    def state_afresh(self) -> None:
        """Have every word written again, X, Y and Z with the next rapid, so that a file can be run from here on."""
        self._mode = self._feed = self._power = ""
        self._afresh = True

    def beam_off(self) -> None:
        """Switch a laser's beam off, whether it was on or not."""
        self.insert(["M5"])
        self._beam = False

    def move(self, move: Move) -> None:
        """Write one move. Raises InputError when it is too long for the profile's longest line."""
        place = (move.x - self.origin[0], move.y - self.origin[1], move.z + self.raised)
        if move.kind == "rapid":
            self._rapid(place)
        else:
            self._prepare_cut(move)
            if move.centre is None:
                self._cut_to(place, move)
            else:
                self._arc(place, move, (move.centre[0] - self.origin[0], move.centre[1] - self.origin[1]))
        self._true = place

    def _rapid(self, place: Place) -> None:
        if self._beam:
            self.beam_off()
        x, y, z = self._same_place(self._words(place))
        known = self._at[2]
        afresh, self._afresh = self._afresh, False
        # Up before across and across before down: a rapid never runs slantwise through the stock.
        up = z is not None and (known is None or z > known or (z == known and self._is_clear(place[2])))
        if afresh:
            # A restart here may come from anywhere, at a height that clears everything: still across before down.
            self._at = (None, None, None if up else known)
        if up:
            self._straight("G0", (None, None, z), "")
        self._straight("G0", (x, y, None), "")
        if afresh and not up:
            self._at = (self._at[0], self._at[1], None)
        self._straight("G0", (None, None, z), "")

    def _is_clear(self, z: float) -> bool:
        return z - self.raised >= self.clear_z - TOLERANCES.same_point

    def _prepare_cut(self, move: Move) -> None:
        if move.feed <= 0:
            raise ValueError(f"a {move.kind} move needs a feed")
        if self._at[0] is None or self._at[1] is None:
            raise ValueError("a program must begin with a rapid to where it cuts")

    def _light(self) -> None:
        """Switch the beam on at no power: the first move's S word raises it, so that no spot is burned."""
        if self.laser and not self._beam:
            self.insert([f"S0 {'M4' if self.controller.beam == 'follows speed' else 'M3'}"])
            self._power = "0"
            self._beam = True

    def _cut_to(self, place: Place, move: Move) -> None:
        words = self._words(place)
        if move.kind == "plunge":
            words = self._same_place(words)
        if self._apart(words) >= _SHORTEST:
            self._straight("G1", words, self._feed_of(move), move.power)

    def _apart(self, words: Words) -> float:
        """The distance of a place from where the last written move ended, mm; infinite when that is not known."""
        known = [(there, here) for there, here in zip(words, self._at, strict=True) if there is not None]
        if any(here is None for _, here in known):
            return math.inf
        return self._grid.step * math.hypot(*(there - here for there, here in known if here is not None))

    def _same_place(self, words: Words) -> Words:
        """The words; with X and Y from the end of the last written move if that is near enough."""
        x, y, z = words
        return (*self._at[:2], z) if self._apart((x, y, None)) < _SHORTEST else words

    def _arc(self, place: Place, move: Move, centre: Point) -> None:
        whole = Arc(self._true[:2], place[:2], centre, move.clockwise)
        z0, z1 = self._true[2], place[2]
        if abs(whole.sweep) > _LARGEST_SWEEP:
            pieces = [(whole.part(0, 0.5), (z0 + z1) / 2), (whole.part(0.5, 1), z1)]
        else:
            pieces = [(whole, z1)]
        for arc, z in pieces:
            tiny = arc.length < _SHORTEST and self._apart(self._words((*arc.end, z))) < _SHORTEST
            if not tiny and not self._true_arc(arc, z, move):
                self._chords(arc, z, move)
            self._true = (*arc.end, z)

    def _true_arc(self, arc: Arc, z: float, move: Move) -> bool:
        """Write G2 or G3; False, and nothing written, where the controller or the rounding requires chords."""
        x0, y0, z0 = self._at
        x, y, z1 = self._words((*arc.end, z))
        climbs = z1 != z0
        if not self.controller.arcs or (climbs and not self.controller.helices):
            return False
        if x0 is None or y0 is None or x is None or y is None:
            raise AssertionError("an arc starts from a known place")
        centre = fit_centre(self._grid, start=(x0, y0), end=(x, y), arc=arc)
        if centre is None:
            return False
        self._light()
        # Unlike a straight move's, an arc's X and Y are both written, changed or not.
        words = (("X", x), ("Y", y), ("Z", z1 if climbs else None), ("I", centre[0]), ("J", centre[1]))
        if not self._line("G2" if arc.clockwise else "G3", words, self._feed_of(move), self._power_of(move.power)):
            return False
        self._at = (x, y, z1)
        return True

    def _chords(self, arc: Arc, z: float, move: Move) -> None:
        points = arc.chords(TOLERANCES.chord)
        z0 = self._true[2]
        for number, (x, y) in enumerate(points, start=1):
            self._cut_to((x, y, z0 + (z - z0) * number / len(points)), move)

    def _words(self, place: Place) -> Words:
        steps = self._grid.steps
        return steps(place[0]), steps(place[1]), None if self.laser else steps(place[2])

    def _feed_of(self, move: Move) -> str:
        # Down, so that a converted or rounded feed never exceeds what the machine allows.
        unit = self.controller.units
        return fixed_down(move.feed / self._grid.mm_per_unit, _FEED_DECIMALS[unit])

    def _power_of(self, power: float) -> str:
        return fixed(power, _POWER_DECIMALS) if self.laser else ""

    def _straight(self, mode: str, words: Words, feed: str, power: float = 0.0) -> None:
        (x, y, z), (x0, y0, z0) = words, self._at
        # Words that are not given or not new are left out.
        x, y, z = None if x == x0 else x, None if y == y0 else y, None if z == z0 else z
        if x is None and y is None and z is None:
            return
        if mode != "G0":
            self._light()
        written = (("X", x), ("Y", y), ("Z", z))
        if not self._line(mode, written, feed, self._power_of(power) if mode != "G0" else ""):
            raise InputError(
                Problem(
                    place="machine profile: controller.longest_line",
                    message=f"lines of {self.controller.longest_line} characters are too short for a straight move",
                    advice="raise longest_line, or use fewer decimals",
                )
            )
        self._at = (x0 if x is None else x, y0 if y is None else y, z0 if z is None else z)

    def _line(self, mode: str, words: Iterable[tuple[str, int | None]], feed: str, power: str) -> bool:
        """Write a motion line with as many blanks as fit; False, and nothing written, when it can't be short enough."""
        text = self._grid.text
        moving = [] if mode == self._mode else [mode]
        moving += [letter + text(steps) for letter, steps in words if steps is not None]
        settings = [f"S{power}"] if power and power != self._power else []
        settings += [f"F{feed}"] if feed and feed != self._feed else []
        lines = [" ".join([*moving, *settings])]
        if len(lines[0]) > self._longest:
            lines = ["".join([*moving, *settings])]
        if len(lines[0]) > self._longest:
            lines = [*settings, "".join(moving)]
            if max(map(len, lines)) > self._longest:
                return False
        self.lines.extend(lines)
        self._mode = mode
        self._feed = feed or self._feed
        self._power = power or self._power
        return True


# A beam burns these features as marks; it cuts all others through.
_MARKED = frozenset({"mark", "number"})


def write_gcode(
    program: Program,
    *,
    layout: BoardLayout,
    machine: Machine,
    title: str,
    order: str,
    programs: Sequence[Program] = (),
) -> bytes:
    """Return the G-code file of `program`, ASCII with line feeds at line ends.

    `layout` is the board it cuts. `programs` are all files of the board in the order to run them; a board with one file
    may leave them out. `title` is the job's, and `order` says in words which of its boards this is. Raises InputError
    when the profile's own lines or its longest line make the file impossible, and ValueError for a program that is not
    at its number's place in `programs`, or that has several cutters where they are changed by hand.
    """
    programs = tuple(programs) or (program,)
    if len(programs) != program.count or programs[program.number - 1].file != program.file:
        raise ValueError(f"{program.file} is not file {program.number} of the {len(programs)} given for its board")
    controller = machine.controller
    title = plain_ascii(title) or "untitled"
    opening = opening_lines(program, layout=layout, machine=machine, programs=programs, title=title, order=order)
    lines = comment_lines((_comment(line, controller) for line in opening), controller=controller)
    lines += _modes(machine)
    lines += profile_lines(controller.start, key="start", controller=controller)
    lines += _motion(program, layout, machine)
    lines += profile_lines(controller.end, key="end", controller=controller)
    lines.append(controller.program_end)
    if controller.percent_lines:
        lines = ["%", *lines, "%"]
    return "".join(f"{line}\n" for line in lines).encode("ascii")


def _comment(line: Line, controller: Controller) -> str:
    return f"{line.name}: {line.words(controller.units)}" if line.label else line.words(controller.units)


def _modes(machine: Machine) -> list[str]:
    """The safe start (NISTIR 6556, table 4): each modal group that bears on the file, a line each."""
    controller = machine.controller
    # A laser has no tool length: nothing moves up or down.
    off = [code for code in ("G40", "G49", "G80") if code != "G49" or not machine.has_beam]
    return [
        "G20" if controller.units == "in" else "G21",
        "G17",
        "G90",
        "G94",
        *(code for code in off if code not in controller.unknown_codes),
        *([controller.work_offset] if controller.work_offset is not None else []),
    ]


def _motion(program: Program, layout: BoardLayout, machine: Machine) -> list[str]:
    laser = machine.has_beam
    motion = MotionLines(
        controller=machine.controller,
        origin=program.origin,
        raised=layout.height if machine.motion.z_zero == "spoilboard" else 0.0,
        laser=laser,
        clear_z=program.clear_z,
    )
    if len(program.cutters) > 1 and not changes_cutters(machine):
        raise ValueError(f"{program.file} has {len(program.cutters)} cutters, which this machine can't change")
    if laser:
        motion.beam_off()
    before: Section | None = None
    air = "M9"
    for section in program.sections:
        if not laser:
            _begin(motion, section, before, program, machine)
        for step in section.steps:
            motion.insert(comment_lines([_what(step, layout)], controller=machine.controller))
            if not laser:
                motion.insert([_turning(section, machine)])
            if machine.controller.air_assist:
                # Stated before each cut, so that the file can be run from there.
                wanted = machine.controller.air_assist.get("mark" if step.feature.kind in _MARKED else "cut", "M9")
                motion.insert(["M9"] * (air not in ("M9", wanted)) + [wanted])
                air = wanted
            motion.state_afresh()
            for move in step.moves:
                motion.move(move)
        before = section
    motion.lift(program.clear_z)
    if motion.lines[-1] != "M5":
        motion.beam_off()
    if air != "M9":
        motion.insert(["M9"])
    for move in program.end:
        motion.move(move)
    if by_dial(machine):
        motion.insert(comment_lines(["Switch the router off"], controller=machine.controller))
    return motion.lines


def _begin(motion: MotionLines, section: Section, before: Section | None, program: Program, machine: Machine) -> None:
    """Write what comes before a section: a halt for work by hand, a change of cutter, the spindle up to speed.

    The opening says what to do before the first section: the program has not been started then.
    """
    changed = before is None or before.cutter.number != section.cutter.number
    new_speed = before is None or before.rpm != section.rpm
    stops = [] if before is None else _stops(section, machine, new_speed=new_speed)
    if not (changed or new_speed or stops):
        return
    if before is not None:
        motion.lift(program.clear_z)
        motion.insert(["M5"])
    if stops:
        motion.insert([*comment_lines(stops, controller=machine.controller), "M0"])
        motion.moved_by_hand()
    if changed and changes_cutters(machine):
        motion.insert(_change(section, machine))
        if before is not None and not knows_lengths(machine):
            stop = f"Stop: set Z again with cutter {section.cutter.number}"
            motion.insert([*comment_lines([stop], controller=machine.controller), "M0"])
        motion.moved_by_hand()
    motion.lift(program.clear_z)
    if before is None and halts_for_dial(machine):
        stop = f"Stop: switch the router on{_dial(section)}"
        motion.insert([*comment_lines([stop], controller=machine.controller), "M0"])
        motion.moved_by_hand()
        motion.lift(program.clear_z)
    motion.insert(_spindle_on(section, machine))


def _stops(section: Section, machine: Machine, *, new_speed: bool) -> list[str]:
    """The work by hand before a section, with the program halted."""
    stops = [f"Stop: {DRIVE_SCREWS}"] if section.screws_first else []
    if new_speed and by_dial(machine) and section.rpm is not None:
        stops.append(f"Stop: set the dial to {fixed(section.rpm, 0)} rpm for cutter {section.cutter.number}")
    if stops and by_dial(machine):
        stops = ["Stop: switch the router off", *stops, "Then switch the router on again"]
    return stops


def _dial(section: Section) -> str:
    return "" if section.rpm is None else f", its dial at {fixed(section.rpm, 0)} rpm"


def _change(section: Section, machine: Machine) -> list[str]:
    controller, number = machine.controller, section.cutter.number
    lines = [f"T{number} M6"]
    if controller.tool_length == "table":
        lines.append(f"G43 H{number}")
    return lines + profile_lines(controller.after_change, key="after_change", controller=controller)


def knows_lengths(machine: Machine) -> bool:
    """Whether the controller knows every cutter's length, or the profile's own lines set it with a halt."""
    controller = machine.controller
    return controller.tool_length == "table" or any("M0" in line.upper().split() for line in controller.after_change)


def _what(step: Step, layout: BoardLayout) -> str:
    if step.placement is None:
        return f"{step.op}: hole for a screw or pin that holds the board"
    placement = layout.placements[step.placement]
    return f"{step.op}: part {step.placement + 1}, {placement.part.name}, {placement.item}"


def _turning(section: Section, machine: Machine) -> str:
    turn = "M3" if machine.spindle.turns == "clockwise" else "M4"
    with_speed = machine.spindle.speed_word and section.rpm is not None
    return f"S{fixed(section.rpm, 0)} {turn}" if with_speed and section.rpm is not None else turn


def _spindle_on(section: Section, machine: Machine) -> list[str]:
    lines = [_turning(section, machine)]
    seconds = machine.spindle.seconds_to_speed
    if seconds > 0:
        match machine.controller.dwell:
            case "seconds":
                lines.append(f"G4 P{fixed(seconds, 3)}")
            case "milliseconds":
                lines.append(f"G4 P{fixed(seconds * 1000, 0)}")
            case "none":
                pass
            case other:
                assert_never(other)
    return lines
