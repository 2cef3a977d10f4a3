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
from cutjob.proof.arc_words import ArcError, arc_by_centre
from cutjob.proof.canned import CycleError
from cutjob.proof.line_runner import FARTHEST, LineRunner, ProgramEnd
from cutjob.proof.modal import code_of, sort_codes
from cutjob.proof.reading import MotionKind, Place, Reading
from cutjob.proof.words import LONGEST_LINE, WordError, split_line

_N = r"([+-]?(?:\d+\.?\d*|\.\d+))"
# The lines a file is mostly made of: one motion code and axis words in the usual order. All others go the long way.
_COMMON = re.compile(
    rf"(?:N\d{{1,5}} ?)?(?:G0?([0-3]) ?)?(?:X{_N} ?)?(?:Y{_N} ?)?(?:Z{_N} ?)?(?:I{_N} ?)?(?:J{_N} ?)?(?:F{_N})?",
    re.ASCII,
)
_COMMENT = re.compile(r"\([^)]*\)|;.*")
_MOST_PROBLEMS = 100


def read_gcode(data: bytes, *, name: str, start: Place = (0.0, 0.0, 0.0), skip_common: bool = False) -> Reading:
    """Return what the file says; `name` is for messages, `start` where the tool stands (mm).

    Every line in error becomes a `Problem` with its line and column, up to a hundred of them; nothing is raised.
    `skip_common` reads every line the long way, for comparing the two.
    """
    reader = _Reader(place=start, name=name)
    lines = data.decode("latin-1").split("\n")
    lines = [line.removesuffix("\r") for line in lines]
    reader.run(lines, common=not skip_common)
    return reader.reading(lines)


class _FileEnd(Exception):  # noqa: N818 - no error: the closing percent sign, or too much is wrong already
    """Nothing more is read."""


@dataclass(slots=True)
class _Reader(LineRunner):
    """Reads the lines of a file one after another."""

    name: str = ""
    problems: list[Problem] = field(default_factory=list)
    styles: set[str] = field(default_factory=set)
    letters: set[str] = field(default_factory=set)
    codes: set[str] = field(default_factory=set)
    percent: bool = False

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
                    raise _FileEnd
                self._any(line)
            if self.percent:
                self._problem_at_end()
        except ProgramEnd:
            if self.percent and not any(line.strip(" \t") == "%" for line in lines[self.line :]):
                self._problem_at_end()
        except _FileEnd:
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
        if g is not None:
            self.codes.add("G" + g)
        if zs is not None:
            self.z_known = True
        if self.first_axes is None:
            named = {"X": xs, "Y": ys, "Z": zs}
            self.first_axes = frozenset(axis for axis, text in named.items() if text is not None)
        kind: MotionKind = "rapid" if motion == "0" else "feed" if motion == "1" else "arc"
        self.move(kind, end, centre=centre, sweep=sweep)
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
                self.execute(codes)
        except WordError as error:
            self._problem(error.column, str(error))
        except (ArcError, CycleError) as error:
            self._problem(None, str(error))

    def _problem_at_end(self) -> None:
        self._problem(None, "the file begins with a percent sign and doesn't end with one")

    def _problem(self, column: int | None, message: str) -> None:
        location = Location(file=self.name, line=self.line, column=column)
        self.problems.append(Problem(message=message, location=location))
        if len(self.problems) >= _MOST_PROBLEMS:
            raise _FileEnd

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
            first_axes=self.first_axes or frozenset(),
            ended=self.ended,
            percent=self.percent,
            longest_line=(len(lines[longest]), longest + 1),
            decimals=decimals,
            inches=self.unit != 1.0,
        )


_SIMPLE = frozenset("0123")
