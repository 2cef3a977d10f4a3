"""G-code bytes to motions and events: a reader of the RS-274/NGC language after NISTIR 6556, version 3.

It reads the line rules of section 3.3 with parameters and expressions, the modal groups of table 4, the order of
execution of table 8, lines, arcs and helices in all three planes, dwells, the canned cycles of drilling and boring,
inverse time feed and the M codes of a mill. Anything that can't be judged from the file alone (home positions, tables
in the controller, parameters the file doesn't set, rotary axes) is a `Problem`, never a guess. Lengths come out in mm
and feeds in mm/min whatever the file's units.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from cutjob.errors import Location, Problem
from cutjob.proof.gcode.canned import CycleError
from cutjob.proof.gcode.line_runner import ArcError, LineRunner, arc_by_centre
from cutjob.proof.gcode.line_state import FARTHEST, ProgramEnd, TooManyError, code_of, sort_codes
from cutjob.proof.gcode.reading import MotionKind, Place, Reading
from cutjob.proof.gcode.words import LONGEST_LINE, WordError, split_line

_N = r"([+-]?(?:\d+\.?\d*|\.\d+))"
# Most lines of a file: one motion code and axis words in the usual order. All other lines are read the long way.
_COMMON = re.compile(
    rf"(?:N\d{{1,5}} ?)?(?:G0?([0-3]) ?)?(?:X{_N} ?)?(?:Y{_N} ?)?(?:Z{_N} ?)?(?:I{_N} ?)?(?:J{_N} ?)?(?:F{_N})?",
    re.ASCII,
)
_COMMENT = re.compile(r"\([^)]*\)|;.*")
# The number of a program before everything else, as larger controllers have it: common practice.
_PROGRAM_NUMBER = re.compile(r"[ \t]*[Oo][ \t]*\d{1,8}[ \t]*(?:\([ -'*-~]*\)[ \t]*)?", re.ASCII)
_MOST_PROBLEMS = 100
_MOST_LINES = 500_000
_MOST_WORKED_OUT = 50_000  # lines with expressions, which take their time


def read_gcode(data: bytes, *, name: str, start: Place = (0.0, 0.0, 0.0), skip_common: bool = False) -> Reading:
    """Return the file as read; `name` is for messages, `start` is the tool's place at first (mm).

    Every faulty line becomes a `Problem` with its line and column, up to a hundred of them; nothing is raised.
    `skip_common` reads every line the long way, to compare the two.
    """
    reader = _Reader(place=start, name=name)
    lines = data.decode("latin-1").split("\n")
    lines = [line.removesuffix("\r") for line in lines]
    reader.run(lines, common=not skip_common)
    return reader.reading(lines)


class _FileEnd(Exception):  # noqa: N818 - not an error: reading stops, as too much is wrong already
    """Nothing more is read."""


class _LastPercent(_FileEnd):
    """The closing percent sign."""


@dataclass(slots=True)
class _Reader(LineRunner):
    """Reads the lines of a file one after another."""

    name: str = ""
    problems: list[Problem] = field(default_factory=list)
    first_lines: dict[str, int] = field(default_factory=dict)
    parameters: dict[int, float] = field(default_factory=dict)
    percent: bool = False
    after_end: int | None = None
    understood: int = 0
    strange: int = 0
    worked_out: int = 0
    problem_places: dict[int, tuple[float, float]] = field(default_factory=dict)

    def run(self, lines: list[str], *, common: bool) -> None:
        first = next((number for number, line in enumerate(lines) if line.strip(" \t")), None)
        self.percent = first is not None and lines[first].strip(" \t") == "%"
        begin = first + 1 if self.percent and first is not None else 0
        try:
            self._lines(lines, begin, common=common)
            if self.percent:
                self._problem_at_end()
        except ProgramEnd:
            self._after_end(lines)
        except _LastPercent:
            self._after(lines[self.line :])
        except TooManyError as error:
            self._add_problem(error.column, str(error))
        except _FileEnd:
            pass

    def _lines(self, lines: list[str], begin: int, *, common: bool) -> None:
        match = _COMMON.fullmatch
        for number in range(begin, len(lines)):
            line = lines[number]
            self.line = number + 1
            if common and self.motion in _SIMPLE and (found := match(line)) and not self.inverse_time:
                if self._common(found) or not line:
                    continue
            elif line.strip(" \t") == "%":
                if not self.percent:
                    self._problem(1, "a percent sign ends a file that didn't begin with one")
                raise _LastPercent
            self._any(line)
            if number >= _MOST_LINES:
                self._problem(1, f"more than {_MOST_LINES} lines are not judged; split the file")
                raise _FileEnd

    def _after_end(self, lines: list[str]) -> None:
        """Check the lines after the program's end: a percent sign if the file began with one, else only comments."""
        if self.percent and not any(line.strip(" \t") == "%" for line in lines[self.line :]):
            self._problem_at_end()
        self._after(lines[self.line :])

    def _after(self, rest: list[str]) -> None:
        for number, line in enumerate(rest, start=self.line + 1):
            words = line.strip(" \t")
            if words and words != "%" and _COMMENT.sub("", words).strip(" \t"):
                self.after_end = number
                return

    def _common(self, found: re.Match[str]) -> bool:
        """Do a common line; False when it must be read the long way, because of errors or because its letters
        mean more.
        """
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
        if not (-FARTHEST < end[0] < FARTHEST and -FARTHEST < end[1] < FARTHEST and -FARTHEST < end[2] < FARTHEST):
            return False
        centre: tuple[float, float] | None = None
        sweep = 0.0
        if motion in ("2", "3"):
            centre = (
                x0 + (float(i_text) * unit if i_text is not None else 0.0),
                y0 + (float(j_text) * unit if j_text is not None else 0.0),
            )
            if not (-FARTHEST < centre[0] < FARTHEST and -FARTHEST < centre[1] < FARTHEST):
                return False
            try:
                sweep = arc_by_centre(
                    place[:2], end[:2], centre, clockwise=motion == "2", radii_may_differ=self.radii_may_differ()
                )
            except ArcError:
                return False
        self.feed = feed
        self.motion = motion
        if g is not None and (code := "G" + g) not in self.first_lines:
            self.first_lines[code] = self.line
        if self.first_axes is None or not (self.x_known and self.y_known and self.z_known):
            self.say_where(xs is not None, ys is not None, zs is not None)
        kind: MotionKind = "rapid" if motion == "0" else "feed" if motion == "1" else "arc"
        self.move(kind, end, centre=centre, sweep=sweep)
        self.understood += 1
        return True

    def _any(self, line: str) -> None:
        if not self.motions and _PROGRAM_NUMBER.fullmatch(line):
            message = "a program's number (O word) is not in the standard; not every controller reads on"
            self.remarks.append((self.line, 1, message))
            return
        try:
            split = split_line(line, self.parameters)
        except WordError as error:
            self.strange += 1
            self._problem(error.column, str(error))
            return
        self.understood += bool(split.words or split.settings)
        self.worked_out += split.worked_out
        if self.worked_out > _MOST_WORKED_OUT:
            raise TooManyError(1, f"more than {_MOST_WORKED_OUT} lines with expressions are not judged; split the file")
        self.remarks += [(self.line, column, message) for column, message in split.remarks]
        self._seen(split.comments)
        self._seen(name for name, there in (("/", split.deleted), ("#", split.worked_out)) if there)
        words = [word for word in split.words if word.letter != "N"]
        try:
            if words:
                codes = sort_codes(words)
                self._seen(word.letter for word in words if word.letter in _MEANINGFUL)
                self._seen(word.letter + code_of(word) for word in words if word.letter in "GM")
                self.execute(codes)
        except TooManyError:
            raise
        except WordError as error:
            self._problem(error.column, str(error))
        except ArcError as error:
            column = min(word.column for word in words)
            if self.x_known and self.y_known:
                self.problem_places[self.line] = self.place[:2]
            # The next line goes on from where this one should have ended: one faulty arc is one problem.
            self.place = self.stated_end or self.place
            self._problem(column, str(error))
        except CycleError as error:
            self._problem(min(word.column for word in words), str(error))
        finally:
            # A line's settings count from the next line on.
            self.parameters.update(split.settings)

    def _seen(self, names: Iterable[str]) -> None:
        for name in names:
            self.first_lines.setdefault(name, self.line)

    def _problem_at_end(self) -> None:
        self._add_problem(1, "the file begins with a percent sign and doesn't end with one")

    def _problem(self, column: int, message: str) -> None:
        self._add_problem(column, message)
        if len(self.problems) >= _MOST_PROBLEMS:
            raise _FileEnd

    def _add_problem(self, column: int, message: str) -> None:
        self.problems.append(self._problem_at(self.line, column, message))

    def _problem_at(self, line: int, column: int, message: str) -> Problem:
        return Problem(message=message, location=Location(file=self.name, line=max(line, 1), column=column))

    def reading(self, lines: list[str]) -> Reading:
        longest = max(range(len(lines)), key=lambda number: len(lines[number]))
        decimals, finest = _finest(lines)
        self.first_lines["decimals"] = finest
        names = self.first_lines
        return Reading(
            name=self.name,
            motions=tuple(self.motions),
            events=tuple(self.events),
            problems=tuple(self.problems),
            problem_places=dict(self.problem_places),
            remarks=tuple(self._problem_at(*remark) for remark in self.remarks[:_MOST_PROBLEMS]),
            letters=frozenset(name for name in names if name in _MEANINGFUL),
            codes=frozenset(name for name in names if name in "/#" or (name[0] in "GM" and len(name) > 1)),
            first_lines=dict(names),
            comment_styles=frozenset(name for name in names if name in _STYLES),
            set_before_motion=frozenset(self.modes) if self.modes_before is None else self.modes_before,
            first_axes=self.first_axes or frozenset(),
            unplaced=tuple(self.unplaced),
            uncertain_arcs=tuple(self.uncertain_arcs),
            other_planes=self.other_planes,
            ended=self.ended,
            after_end=self.after_end,
            percent=self.percent,
            longest_line=(len(lines[longest]), longest + 1),
            decimals=decimals,
            inches=self.unit != 1.0,
            understood=self.understood,
            strange=self.strange,
        )


def _finest(lines: list[str]) -> tuple[int, int]:
    """The greatest number of decimals of a coordinate, and the number of the first line that has them."""
    plain = [_COMMENT.sub("", line) if "(" in line or ";" in line else line for line in lines]
    text = "\n".join(plain).replace(" ", "").replace("\t", "").upper()
    decimals, at = 0, 0
    while found := re.search(rf"[XYZIJKR][+-]?\d*\.\d{{{decimals + 1}}}", text):
        decimals, at = len(found.group().partition(".")[2]), found.start()
    return decimals, text.count("\n", 0, at) + 1


_SIMPLE = frozenset("0123")
_STYLES = frozenset({"brackets", "semicolon"})
_MEANINGFUL = frozenset("DHLPQRST")  # letters that mean more than the end of a motion
