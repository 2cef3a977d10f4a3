"""Checks G-code files as a user asks for it: files and options in, findings and their picture out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from cutjob.errors import InputError, Location, Problem
from cutjob.files.file_bytes import bytes_of, shipped_files
from cutjob.geometry.contour import rectangle
from cutjob.geometry.segment import Arc, Bounds, around
from cutjob.job.machine import Machine
from cutjob.job.read_machine import read_machine
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout
from cutjob.output.picture.findings import findings_picture, moves_as_read, program_as_read, program_of, ring_numbers
from cutjob.program.time import move_seconds
from cutjob.proof.check import Checked, StatedStock, examine_board, examine_drawing, examine_patterns, examine_program
from cutjob.proof.finding import ProofReport
from cutjob.proof.gcode.reading import Motion, Reading
from cutjob.proof.plan.file import read_plan
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit, parse_length

_GREATEST_PROGRAM = 10_000_000  # bytes; a larger file has more moves than can be judged
_GREATEST_THICKNESS = 1000.0  # mm
_ON_PAPER = ".pdf"


@dataclass(frozen=True, slots=True, kw_only=True)
class FileCuts:
    """What a G-code file cuts: the box round the cutter's middle in the file's own coordinates (None: it cuts nothing),
    the deepest cut below the stock's top, mm, and the time of its moves, s (None: a cut has no feed, or
    they are too many).
    """

    file: str
    box: Bounds | None
    depth: float
    seconds: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckResult:
    """The outcome of a check: the report, the files judged, the unit for places, the number of each finding's ring in
    the picture (None where it has none), what could not be judged, and what each G-code file cuts.
    """

    report: ProofReport
    files: tuple[str, ...]
    units: Unit
    rings: tuple[int | None, ...]
    not_judged: tuple[str, ...]
    cuts: tuple[FileCuts, ...] = ()


def check_files(
    files: Sequence[Path],
    *,
    machine: str | None = None,
    plan: Path | None = None,
    picture: Path | None = None,
    thickness: str | None = None,
    material: str | None = None,
    cutter: int | None = None,
) -> CheckResult:
    """Judge G-code files for a `machine` (a profile's name or path). With a plan.json, compare G-code files, DXF files
    and patterns in PDF with their parts.

    With a plan every board is judged as a whole. Its files that are not given are looked for beside the given ones,
    then beside the plan. The machine need not be named where the plan names a shipped profile. `picture` is the path
    for an SVG of the board that shows what the files do, with a ring round every place found. `thickness`, `material`
    and the number of the `cutter` are for files without a plan; a bare thickness is in the profile's unit.
    Raises InputError with everything wrong in the files and options.
    """
    problems = list(_odd_options(files, machine, plan, picture, (thickness, material, cutter)))
    given = {str(file): _collected(problems, lambda file=file: _bytes(file)) for file in files}  # type: ignore[misc]
    boards = [] if plan is None else _boards(files, plan, problems)
    if machine is None and plan is not None and boards:
        machine = _collected(problems, lambda: _made_for(boards[0].plan, plan))
    profile: Machine | None = None
    if machine is not None:
        profile = _collected(problems, lambda: read_machine(machine, beside=None))
    thick = _collected(problems, lambda: _thickness(thickness, "mm" if profile is None else profile.units))
    if plan is not None and picture is not None and len(boards) > 1:
        message, advice = "the files belong to several boards", "draw one board at a time"
        problems.append(Problem(place="--picture", message=message, advice=advice))
    if profile is None or problems:
        raise InputError(problems)
    if plan is None:
        stated = StatedStock(thickness=thick, material=material or "", cutter=cutter)
        judged = [
            examine_program(data, name=name, machine=profile, plan=None, stated=stated) for name, data in given.items()
        ]
    else:
        judged = [_examined(board, given, profile, plan) for board in boards]
    return _result(judged, [board.plan for board in boards], picture, plan, profile, stated_cutter=cutter)


@dataclass(frozen=True, slots=True)
class _Board:
    """A board to judge: its plan and its files. Files that are not given are looked for."""

    plan: dict[str, object]
    files: tuple[Path, ...]


def _odd_options(
    files: Sequence[Path], machine: str | None, plan: Path | None, picture: Path | None, stock: tuple[object, ...]
) -> Iterator[Problem]:
    """A problem for every option that has no effect beside the others, or is missing."""
    if plan is not None and any(one is not None for one in stock):
        message = "the plan states the thickness, the material and the cutter already"
        advice = "leave out --thickness, --material and --cutter, or --plan"
        yield Problem(place="--plan", message=message, advice=advice)
    if plan is None and picture is not None and len(files) > 1:
        message, advice = "without a plan only one file can be drawn", "give one file, or --plan too"
        yield Problem(place="--picture", message=message, advice=advice)
    if plan is None and machine is None:
        advice = "name a shipped profile or the path of one, or give --plan"
        yield Problem(place="--machine", message="the machine is not named", advice=advice)
    if picture is not None and any(map(_is_drawing, files)):
        message, advice = "only G-code files can be drawn", "leave --picture out, or give G-code files only"
        yield Problem(place="--picture", message=message, advice=advice)
    if plan is None and any(map(_is_drawing, files)):
        message = "a drawing can only be checked against its plan"
        yield Problem(place="--plan", message=message, advice="give the plan.json from the folder of the drawing")
    names = [file.name for file in files]
    for name in dict.fromkeys(name for name in names if plan is not None and names.count(name) > 1):
        message, advice = f"{name} is given twice", "give each file of the plan once"
        yield Problem(message=message, advice=advice)


def _is_drawing(file: Path) -> bool:
    """Whether a file draws the parts: as DXF, or on paper."""
    return file.suffix.lower() in (".dxf", ".svg", _ON_PAPER)


def _bytes(file: Path) -> bytes:
    return bytes_of(file, most=_GREATEST_PROGRAM, advice="split it, or check its name")


def _boards(files: Sequence[Path], plan: Path, problems: list[Problem]) -> list[_Board]:
    """The boards of a plan that the files belong to, each with all of its files that exist."""
    given = {file.name: file for file in files}
    found: list[_Board] = []
    known: set[str] = set()
    for name, file in given.items():
        if name in known:
            continue
        wanted = None if file.suffix.lower() == _ON_PAPER else name
        data = _collected(problems, lambda wanted=wanted: read_plan(plan, wanted))  # type: ignore[misc]
        if data is None:
            return found
        own = [name] if _is_drawing(file) else _named_with(data, name)
        known.update(own)
        beside = (given.get(one) or _there(one, (file.parent, plan.parent)) for one in own)
        found.append(_Board(data, (file, *(one for one in beside if one is not None and one != file))))
    return found


def _named_with(plan: dict[str, object], name: str) -> list[str]:
    """The names of all files of the board that has a file of that name; entries of the plan that are no names are
    skipped.
    """
    boards = plan.get("boards")
    for board in boards if isinstance(boards, list) else []:
        programs = board.get("programs") if isinstance(board, dict) else None
        entries = [one for one in programs if isinstance(one, dict)] if isinstance(programs, list) else []
        names = [one["file"] for one in entries if isinstance(one.get("file"), str)]
        if name in names:
            return names
    return [name]


def _there(name: str, folders: Sequence[Path]) -> Path | None:
    """The first file of that name in the folders; None where the name leads out of the folder."""
    if Path(name).name != name:
        return None
    return next((folder / name for folder in folders if (folder / name).is_file()), None)


def _made_for(plan: dict[str, object], path: Path) -> str:
    """The machine that a plan names. Raises InputError where it is no shipped profile."""
    named = plan.get("machine")
    if isinstance(named, str):
        name = named.replace(" ", "-")  # as the shipped profiles' files are named
        if name in shipped_files("machines"):
            return name
    message = "the plan names no shipped profile" + (f': "{named[:40]}"' if isinstance(named, str) else "")
    raise InputError(
        Problem(
            place="--machine",
            message=message,
            advice="give the path of the profile the job was made with",
            location=Location(file=str(path)),
        )
    )


def _examined(board: _Board, given: Mapping[str, bytes], machine: Machine, plan: Path) -> Checked:
    """A board judged with all of its files that exist."""
    files = {str(file): given[str(file)] if str(file) in given else _bytes(file) for file in board.files}
    try:
        if _is_drawing(board.files[0]):
            ((name, data),) = files.items()
            examine = examine_patterns if board.files[0].suffix.lower() == _ON_PAPER else examine_drawing
            return examine(data, name=name, machine=machine, plan=board.plan)
        return examine_board(files, machine=machine, plan=board.plan, comments_required=True)
    except InputError as error:
        raise InputError([_in_plan(problem, plan) for problem in error.problems]) from None


def _result(
    judged: Sequence[Checked],
    plans: Sequence[dict[str, object]],
    picture: Path | None,
    plan: Path | None,
    machine: Machine,
    *,
    stated_cutter: int | None,
) -> CheckResult:
    """All boards or files judged as one result, its picture drawn."""
    findings = tuple(finding for one in judged for finding in one.report.findings)
    patterns = [one.report.worst_pattern for one in judged]
    report = ProofReport(
        findings=findings,
        worst_gouge=max(one.report.worst_gouge for one in judged),
        worst_left=max(one.report.worst_left for one in judged),
        worst_pattern=max((one for one in patterns if one is not None), default=None),
    )
    inches = any(reading.inches for one in judged for reading in one.readings)
    units = _units_of(plans[0] if plan is not None and plans else None, inches=inches)
    names = tuple(name for one in judged for name in one.files)
    rings: tuple[int | None, ...] = (None,) * len(findings)
    not_judged = tuple(dict.fromkeys(text for one in judged for text in one.not_judged))
    if picture is not None:
        title = f"Check of {', '.join(Path(name).name for name in names)}"
        if judged[0].programs:
            data: bytes | None = _drawn(judged[0], units=units, title=title)
        else:
            data = _drawn_alone(judged[0], machine, stated_cutter, units=units, title=title)
        if data is None:
            not_judged = (*not_judged, f"{picture}, as the file cuts nothing that could be drawn")
        else:
            _write(picture, data)
            rings = ring_numbers(findings)
    cuts = tuple(_file_cuts(one, number, machine) for one in judged for number in range(len(one.readings)))
    return CheckResult(report=report, files=names, units=units, rings=rings, not_judged=not_judged, cuts=cuts)


_MOST_TIMED = 50_000  # motions; of more only the ends are looked at, and no time is worked out


def _file_cuts(checked: Checked, number: int, machine: Machine) -> FileCuts:
    reading = _readable(checked.readings[number])
    top = checked.programs[number].stock_top_z if checked.programs else checked.stock_top
    cuts = _cutting(reading, top, machine)
    timed = len(reading.motions) <= _MOST_TIMED
    boxes = [_box(motion) if timed else (*motion.end[:2], *motion.end[:2]) for motion in cuts]
    moves = moves_as_read(reading, origin=(0.0, 0.0), stock_top=top) if timed else ()
    start = reading.motions[0].start if reading.motions else (0.0, 0.0, 0.0)
    unfed = any(move.kind != "rapid" and move.feed <= 0 for move in moves)
    return FileCuts(
        file=reading.name,
        box=around(boxes) if boxes else None,
        depth=max((top - min(motion.start[2], motion.end[2]) for motion in cuts), default=0.0),
        seconds=None if unfed or not timed else sum(move_seconds(moves, start, machine.motion)),
    )


def _readable(reading: Reading) -> Reading:
    """What a file does down to the first line that can't be read: nothing from there on is judged."""
    lines = [problem.location.line or 1 for problem in reading.problems if problem.location is not None]
    return reading.before(min(lines)) if lines else reading


def _cutting(reading: Reading, top: float, machine: Machine) -> list[Motion]:
    """The motions that cut: below the stock's top, or with the beam on."""
    if machine.has_beam:
        return [one for one in reading.motions if one.kind != "rapid" and one.spindle and one.speed > 0]
    return [
        one
        for one in reading.motions
        if one.kind != "rapid" and one.z_known and min(one.start[2], one.end[2]) < top - TOLERANCES.same_point
    ]


def _box(motion: Motion) -> Bounds:
    start, end = motion.start[:2], motion.end[:2]
    if motion.centre is not None:
        return Arc(start, end, motion.centre, motion.clockwise).bounds
    return around([(*start, *start), (*end, *end)])


_ROUND_A_FILE = 20.0  # mm of board drawn round what a file without a plan cuts


def _drawn_alone(
    checked: Checked, machine: Machine, stated_cutter: int | None, *, units: Unit, title: str
) -> bytes | None:
    """The picture of one file without a plan, on a board as large as what it cuts; None where it cuts nothing."""
    reading = _readable(checked.readings[0])
    cuts = _cutting(reading, checked.stock_top, machine)
    if not cuts:
        return None
    x0, y0, x1, y1 = around([_box(motion) for motion in cuts])
    dx, dy = _ROUND_A_FILE - x0, _ROUND_A_FILE - y0
    numbers = {stated_cutter, *(motion.tool for motion in cuts)}
    known = [cutter for cutter in machine.cutter if cutter.number in numbers]
    cutter = known[0] if known else min(machine.cutter, key=lambda one: one.diameter)
    depth = max(checked.stock_top - min(motion.start[2], motion.end[2]) for motion in cuts)
    board = Board(
        name=Path(reading.name).name,
        outline=rectangle(x1 - x0 + 2 * _ROUND_A_FILE, y1 - y0 + 2 * _ROUND_A_FILE),
        keep_outs=(),
        thickness=max(depth, TOLERANCES.same_point),
        grain="none",
        material="a board drawn round it",
        count=1,
        price=0.0,
    )
    layout = BoardLayout(id="what the file cuts", board=board, placements=())
    moves = moves_as_read(reading, origin=(dx, dy), stock_top=checked.stock_top)
    program = program_of(moves, file=reading.name, board=layout.id, cutter=cutter)
    findings = [
        one if one.at is None else replace(one, at=(one.at[0] + dx, one.at[1] + dy)) for one in checked.report.findings
    ]
    return findings_picture(layout, findings=findings, programs=[program], units=units, title=title)


def _drawn(checked: Checked, *, units: Unit, title: str) -> bytes:
    """The picture of a board judged with its plan."""
    programs = [
        program_as_read(reading, program) for reading, program in zip(checked.readings, checked.programs, strict=True)
    ]
    findings = checked.report.findings
    return findings_picture(checked.programs[0].board, findings=findings, programs=programs, units=units, title=title)


def _write(picture: Path, data: bytes) -> None:
    try:
        picture.write_bytes(data)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        message, advice = f"the picture can't be written: {reason}", "give another place for it"
        raise InputError(Problem(message=message, advice=advice, location=Location(file=str(picture)))) from None


def _thickness(text: str | None, unit: Unit) -> float | None:
    if text is None:
        return None
    if "/" in text and unit == "mm" and text.strip().replace("/", "").replace(" ", "").isdigit():
        # A fraction always means inches. Taken for mm, it would be the thickness of a veneer.
        message, advice = f"{text!r} has no unit, and the profile is in mm", f'write "{text.strip()} in"'
        raise InputError(Problem(place="--thickness", message=message, advice=advice))
    try:
        value = parse_length(text, unit=unit)
    except ValueError as error:
        raise InputError(Problem(place="--thickness", message=str(error))) from None
    if not 0 < value < _GREATEST_THICKNESS:
        advice = "give the measured thickness; for a stack, that of all its boards together"
        raise InputError(Problem(place="--thickness", message=f"{text!r} is no thickness of stock", advice=advice))
    return value


def _in_plan(problem: Problem, plan: Path | None) -> Problem:
    """A problem of a plan's data, with the plan's file as its location."""
    own = plan is not None and problem.location is None and problem.place.startswith("plan")
    return replace(problem, location=Location(file=str(plan))) if own else problem


def _units_of(plan: dict[str, object] | None, *, inches: bool) -> Unit:
    """The unit for places in messages: the job's, or without a plan the file's."""
    units = None if plan is None else plan.get("units")
    if units == "in" or (units != "mm" and inches):
        return "in"
    return "mm"


def _collected(problems: list[Problem], read: Callable[[], Any]) -> Any:
    """The reader's result; its problems are added to the list, so that the mistakes of all files show at once."""
    try:
        return read()
    except InputError as error:
        problems.extend(error.problems)
        return None
