"""Checks single files: by the rules that a file alone allows and, with a plan, by the sweep of the whole board.

A plan is the data of `plan.json`, whatever wrote it. Its outlines are polygons, so the sweep judges against those.

Also decides whether a file can be a G-code program at all; if it can't, gives the reason.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath

from cutjob.errors import InputError, Location, Problem
from cutjob.job.machine import Cutter, Machine
from cutjob.proof.board.board_case import board_case
from cutjob.proof.drawing.drawing import judge_drawing
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding, ProofReport
from cutjob.proof.gcode.comments import judge_comments, odd_comments
from cutjob.proof.gcode.file_case import FileCase
from cutjob.proof.gcode.height_rules import with_heights
from cutjob.proof.gcode.reader import read_gcode
from cutjob.proof.gcode.reading import Reading
from cutjob.proof.gcode.rules import judge_rules
from cutjob.proof.paper.patterns import judge_patterns
from cutjob.proof.plan.other_job import nothing_in_place
from cutjob.proof.plan.patterns import planned_patterns
from cutjob.proof.plan.reader import planned_drawing, planned_programs
from cutjob.proof.prove import file_case
from cutjob.proof.sweep.sweep import sweep_board

_LONGEST_SHOWN = 30
_MANY = 50
# How files of other kinds begin.
_KINDS: tuple[tuple[bytes, str], ...] = (
    (b"\x89PNG", "a picture (PNG)"),
    (b"\xff\xd8\xff", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"BM", "a picture (BMP)"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"\x1f\x8b", "a compressed file (gzip)"),
    (b"\x7fELF", "a program for a computer"),
    (b"MZ", "a program for a computer"),
)


def kind_of_bytes(data: bytes) -> str:
    """Return what the bytes are if they certainly can't be a program, or "" if they may be one."""
    if not data.strip():
        return "the file is empty"
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or _every_other_is_nothing(data[:512]):
        return "this is text in UTF-16, which no controller reads; save it as plain ASCII"
    kind = _kind(data)
    return f"this is {kind}, not a G-code program" if kind else ""


def why_no_program(data: bytes, reading: Reading) -> str:
    """Return why the bytes can't be a program, as far as they were read, or "" if they may be one.

    A file is a program if at least as many of its lines can be split into words as can't. A few faulty lines make it a
    program with mistakes.
    """
    if reading.understood:
        return "" if reading.understood >= reading.strange else _strange_lines(data, reading)
    return _strange_lines(data, reading) if reading.strange else "the file has nothing but comments"


def _kind(data: bytes) -> str:
    for begin, kind in _KINDS:
        # Two letters alone may also begin a line of words.
        if data.startswith(begin) and (len(begin) > 2 or b"\0" in data[:512]):
            return kind
    if b"\0" in data[:4096]:
        return "a file of bytes that aren't text"
    begin = data[:4096].removeprefix(b"\xef\xbb\xbf").lstrip()
    if begin.startswith(b"<"):
        return "a page or a drawing (XML, SVG or HTML)"
    if begin.startswith((b"{", b'["')):
        return "data (JSON)"
    words = begin.split()
    if len(words) > 1 and words[0] in (b"0", b"999") and b"SECTION" in words:
        return "a drawing (DXF)"
    return ""


def _every_other_is_nothing(data: bytes) -> bool:
    return len(data) >= 4 and any(set(data[half::2]) == {0} for half in (0, 1))


def _strange_lines(data: bytes, reading: Reading) -> str:
    lines = [problem.location.line for problem in reading.problems if problem.location is not None]
    first = next((line for line in lines if line is not None), 1)
    text = data.decode("latin-1").split("\n")[first - 1].strip()
    shown = text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}..."
    others = reading.strange - 1
    more = f", and {others} more" if 0 < others < _MANY else ", and many more" if others else ""
    return f"this is not a G-code program: line {first} ({ascii(shown)[1:-1]}){more} can't be split into words"


_MOST_NAMED = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedStock:
    """What the user states about a file without a plan: the thickness of the stock (of a stack as a whole, mm), its
    material, and the number of the cutter in the machine.
    """

    thickness: float | None = None
    material: str = ""
    cutter: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """The report on a file or on the files of a board; the files as read, in the order to run them; the plan's program
    for each (none without a plan); and what was not judged. Or the report on a `drawing`. `stock_top` is the Z, mm,
    where a file without a plan is assumed to have the stock's top.
    """

    report: ProofReport
    readings: tuple[Reading, ...]
    programs: tuple[ExpectedProgram, ...]
    not_judged: tuple[str, ...]
    drawing: str | None = None
    stock_top: float = 0.0

    @property
    def files(self) -> tuple[str, ...]:
        """The files judged."""
        return (*(reading.name for reading in self.readings), *([self.drawing] if self.drawing is not None else []))


def examine_program(
    data: bytes, *, name: str, machine: Machine, plan: Mapping[str, object] | None, stated: StatedStock | None = None
) -> Checked:
    """Return the findings on one G-code file, and the file as read; with a plan see `examine_board`.

    Without a plan the stock's top is assumed at Z 0 or, where zero is on the spoilboard, at the stated thickness.
    Raises InputError for a file that isn't a program, and for a machine that reads no G-code.
    """
    if plan is not None:
        return examine_board({name: data}, machine=machine, plan=plan)
    _reads_gcode(machine)
    case = _from_elsewhere(machine, stated or StatedStock())
    reading = _read(data, name)
    report = _report([*judge_rules(replace(case, reading=reading)), *odd_comments(data, name, "warning")])
    return Checked(
        report=report,
        readings=(reading,),
        programs=(),
        not_judged=_not_judged(case, reading),
        stock_top=case.stock_top,
    )


def examine_board(
    files: Mapping[str, bytes], *, machine: Machine, plan: Mapping[str, object], comments_required: bool = False
) -> Checked:
    """Return the findings on the files of one board, by their paths, in the order in which the plan runs them.

    Cuts of absent files are not missed, and a cut that goes deep in one pass is only a warning where an absent file,
    run before, may have made room for it; `not_judged` names what could not be judged. Where `comments_required`, the
    opening of every file must say all that a file of this program says. Raises InputError for a file that isn't a
    program, for a plan that doesn't name a file, is another job's or isn't a plan, and for a machine that reads no
    G-code.
    """
    _reads_gcode(machine)
    paths = {PurePath(path).name: path for path in files}
    planned = planned_programs(plan, next(iter(paths)), machine)
    programs = tuple(replace(one, file=paths[one.file]) for one in planned if one.file in paths)
    by_path = {paths[one.file]: one for one in planned if one.file in paths}
    absent = tuple(one for one in planned if one.file not in paths)
    readings = tuple(_read(files[program.file], program.file) for program in programs)
    findings = [
        finding
        for program, reading in zip(programs, readings, strict=True)
        for finding in (
            *judge_rules(file_case(program, reading, machine)),
            *judge_comments(
                files[program.file], reading, by_path[program.file], planned, machine, required=comments_required
            ),
        )
    ]
    not_judged = [text for reading in readings for text in _unreadable(reading, named=len(planned) > 1)]
    if not_judged:
        if len(planned) > 1:
            not_judged.append("what the files of the board cut together")
        return Checked(report=_report(findings), readings=readings, programs=programs, not_judged=tuple(not_judged))
    for program, reading in zip(programs, readings, strict=True):
        if nothing_in_place(program, reading, machine):
            raise InputError(
                Problem(
                    message="the file cuts nothing at the places where the plan has parts",
                    advice="give the plan.json of the folder the file was made in, or make the job again",
                    location=Location(file=program.file),
                )
            )
    layout = programs[0].board
    case = board_case(layout, programs, readings, machine, one_of_several=bool(absent), holding_required=True)
    swept = sweep_board(case)
    placed = with_heights(swept.findings, programs, readings)
    kept = [finding for one in placed if (finding := _alone(one, planned, absent)) is not None]
    report = ProofReport(findings=(*findings, *kept), worst_gouge=swept.worst_gouge, worst_left=swept.worst_left)
    return Checked(
        report=report,
        readings=readings,
        programs=programs,
        not_judged=(*_left_out(planned, absent), *_without_comments(machine)),
    )


def examine_drawing(data: bytes, *, name: str, machine: Machine, plan: Mapping[str, object]) -> Checked:
    """Return the findings on a drawing of one board. It is judged as in the proof of its job, but against the plan's
    polygons, which lie within 0.002 mm of the parts. Raises InputError when the plan doesn't name it or is not a plan.
    """
    expected = replace(planned_drawing(plan, PurePath(name).name, machine), file=name)
    return Checked(
        report=_report(judge_drawing(data, expected, machine)), readings=(), programs=(), not_judged=(), drawing=name
    )


def examine_patterns(data: bytes, *, name: str, machine: Machine, plan: Mapping[str, object]) -> Checked:
    """Return the findings on paper patterns. They are judged as in the proof of their job, but against the plan's
    polygons. Raises InputError when the plan doesn't name the file or is not a plan.
    """
    expected = replace(planned_patterns(plan, PurePath(name).name, machine), file=name)
    findings, worst = judge_patterns(data, expected)
    report = replace(_report(findings), worst_pattern=worst)
    return Checked(report=report, readings=(), programs=(), not_judged=(), drawing=name)


def _reads_gcode(machine: Machine) -> None:
    """Raise InputError for a machine that takes no G-code."""
    if not machine.runs_gcode:
        raise InputError(
            Problem(
                place=f'machine "{machine.name}"',
                message="it reads no G-code, so no G-code file can be right for it",
                advice='name the machine the file is for; a profile that reads G-code has "gcode" in its writes',
            )
        )


def _read(data: bytes, name: str) -> Reading:
    if reason := kind_of_bytes(data):
        raise _no_program(name, reason)
    reading = read_gcode(data, name=name)
    if reason := why_no_program(data, reading):
        raise _no_program(name, reason)
    return reading


def _no_program(name: str, reason: str) -> InputError:
    return InputError(
        Problem(message=reason, advice="give the file that the machine runs", location=Location(file=name))
    )


def _report(findings: list[Finding]) -> ProofReport:
    return ProofReport(findings=tuple(findings), worst_gouge=0.0, worst_left=0.0)


def _from_elsewhere(machine: Machine, stated: StatedStock) -> FileCase:
    """The facts known about a file without a plan. Raises InputError for a material or cutter the machine
    doesn't have.
    """
    router = not machine.has_beam
    on_spoilboard = router and machine.motion.z_zero == "spoilboard"
    problems = []
    if on_spoilboard and stated.thickness is None:
        message = "the profile has zero on the spoilboard, so the file doesn't say how high the stock is"
        problems.append(Problem(place="--thickness", message=message, advice="say how thick the stock is"))
    if stated.material and stated.material not in machine.materials:
        message = f'"{stated.material}" has no feeds in the profile'
        known = ", ".join(machine.materials)
        problems.append(Problem(place="--material", message=message, advice=f"it has {known}" if known else ""))
    cutter = _stated_cutter(machine, stated)
    if stated.cutter is not None and cutter is None:
        numbers = ", ".join(str(one.number) for one in machine.cutter)
        message = f"the profile has no cutter {stated.cutter}"
        problems.append(Problem(place="--cutter", message=message, advice=f"it has {numbers}"))
    if problems:
        raise InputError(problems)
    return FileCase(
        reading=read_gcode(b"", name=""),
        machine=machine,
        cutters=(cutter,) if cutter is not None else (),
        material=stated.material,
        stock_top=(stated.thickness or 0.0) if on_spoilboard else 0.0,
        height=stated.thickness,
        planned=False,
    )


def _stated_cutter(machine: Machine, stated: StatedStock) -> Cutter | None:
    """The stated cutter; without one, the machine's if it has only one."""
    if stated.cutter is None:
        return machine.cutter[0] if len(machine.cutter) == 1 else None
    return next((one for one in machine.cutter if one.number == stated.cutter), None)


def _not_judged(case: FileCase, reading: Reading) -> tuple[str, ...]:
    """The questions on which a file without a plan was not judged."""
    without = [*_unreadable(reading, named=False), "what the file cuts (with --plan)"]
    if not case.machine.has_beam and case.height is None:
        without.append("how far it goes below the stock (with --thickness)")
    known = case.cutters or any(motion.tool for motion in reading.motions)
    if case.material == "" or not known:
        wanted = [] if known else ["--cutter"]
        wanted += [] if case.material else ["--material"]
        without.append(f"feeds by the table (with {' and '.join(wanted)})")
    return tuple(without)


def _unreadable(reading: Reading, *, named: bool) -> list[str]:
    """The line from which on a file can't be read, with the file's name where several are judged."""
    lines = [problem.location.line or 1 for problem in reading.problems if problem.location is not None]
    if not lines:
        return []
    return [f"anything from line {min(lines)}{f' of {reading.name}' if named else ''} on, which can't be read"]


def _left_out(planned: Sequence[ExpectedProgram], absent: Sequence[ExpectedProgram]) -> tuple[str, ...]:
    """The questions that can't be judged without the board's absent files."""
    if not absent:
        return ()
    names = _listed([one.file for one in absent])
    without = [
        f"whether everything is cut and the board held as planned, without {names} of the same board "
        "(give all files of the board, or put them beside the plan)"
    ]
    before = _may_have_made_room(planned, absent)
    if before:
        names = _listed([one.file for one in before])
        without.append(f"whether {names} made room for cuts that go deep in one pass: these are warnings only")
    return tuple(without)


def _without_comments(machine: Machine) -> tuple[str, ...]:
    """The questions not judged because the controller reads no comments."""
    if machine.controller.comments != "none":
        return ()
    return ("what a file says of its cutter, zero, stock and hold: the controller reads no comments",)


def _listed(names: Sequence[str]) -> str:
    shown = list(names[:_MOST_NAMED]) + ([f"{len(names) - _MOST_NAMED} more"] if len(names) > _MOST_NAMED else [])
    return " and ".join([", ".join(shown[:-1]), shown[-1]] if len(shown) > 1 else shown)


def _alone(finding: Finding, planned: Sequence[ExpectedProgram], absent: Sequence[ExpectedProgram]) -> Finding | None:
    """A finding adapted to absent files: it is dropped where an absent file may do the cut, and a warning where one
    that runs before may have made room.
    """
    if absent and finding.check == "missing":
        return None
    if absent and finding.check == "depth per pass":
        own = [one for one in planned if PurePath(finding.file).name == one.file] or planned
        if any(_made_room(one, other, planned) for one in absent for other in own):
            return replace(finding, severity="warning")
    return finding


def _may_have_made_room(
    planned: Sequence[ExpectedProgram], absent: Sequence[ExpectedProgram]
) -> tuple[ExpectedProgram, ...]:
    """The absent files that may have made room for a file that is present."""
    there = [one for one in planned if one not in absent]
    return tuple(one for one in absent if any(_made_room(one, other, planned) for other in there))


def _made_room(one: ExpectedProgram, other: ExpectedProgram, planned: Sequence[ExpectedProgram]) -> bool:
    """Whether a file runs before another on the same length of the board."""
    return one.window == other.window and planned.index(one) < planned.index(other)
