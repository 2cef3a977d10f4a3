"""A job file to a `Job`, or to every mistake in it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import shapely
from shapely import Polygon

from cutjob.errors import InputError, Location, Problem
from cutjob.geometry.polygons import to_polygon
from cutjob.job.board_checks import check_boards, choose_cutter, cutter_for
from cutjob.job.fields import KeyPath, PointMm
from cutjob.job.job import Job
from cutjob.job.machine import Cutter, Machine
from cutjob.job.model import BoardStock, JobFile
from cutjob.job.read_machine import read_machine
from cutjob.job.read_toml import problem_at, read_model, read_part
from cutjob.job.source import Source, read_source
from cutjob.job.stock import Board, board_of
from cutjob.units import Unit, format_length

__all__ = ["Job", "check_boards", "choose_cutter", "read_job"]


def read_job(path: Path) -> Job:
    """Read a job file and the machine profile it names. Raises InputError with every mistake in both.

    Boards longer or wider than the machine reaches are let pass here, as sawn parts may still shorten them;
    `check_boards` judges the boards that are left.
    """
    source = read_source(path)
    reading = read_model(source, JobFile)
    problems = [*reading.problems, *_same_names(source)]
    machine, machine_problems = _machine(source, path)
    problems += machine_problems
    boards, board_problems = _boards(source)
    problems += board_problems
    if machine is not None:
        problems += _cutter_problems(source, machine, boards)
    if problems or reading.model is None or machine is None:
        raise InputError(_in_order(problems, source.name))
    return Job(path=path, file=reading.model, boards=tuple(boards.values()), machine=machine, source=source)


def _in_order(problems: Sequence[Problem], file: str) -> list[Problem]:
    """The job's own mistakes by line, those of its profile after them; each once."""

    def key(problem: Problem) -> tuple[bool, int]:
        where = problem.location
        return where is None or where.file != file, (where.line if where else None) or 0

    return sorted(dict.fromkeys(problems), key=key)


def _machine(source: Source, path: Path) -> tuple[Machine | None, list[Problem]]:
    name = source.data.get("machine")
    if not isinstance(name, str) or not name.strip():
        return None, []  # reported by the model
    try:
        return read_machine(name.strip(), beside=path.parent), []
    except InputError as error:
        return None, [
            problem
            if problem.location is not None
            else problem_at(source, ("machine",), problem.message, advice=problem.advice)
            for problem in error.problems
        ]


def _same_names(source: Source) -> Iterator[Problem]:
    for table in ("make", "board", "rod"):
        entries = source.data.get(table)
        seen: dict[str, KeyPath] = {}
        for index, entry in enumerate(entries if isinstance(entries, list) else []):
            name = entry.get("name") if isinstance(entry, dict) else None
            if not isinstance(name, str):
                continue
            path = (table, index, "name")
            if name.strip() in seen:
                first = source.at(seen[name.strip()]).line
                yield problem_at(source, path, f"line {first} has the same name", advice="name them apart")
            seen.setdefault(name.strip(), path)


def _units(source: Source) -> Unit:
    return "in" if source.data.get("units") == "in" else "mm"


def _boards(source: Source) -> tuple[dict[int, Board], list[Problem]]:
    """The boards that are right in themselves, by their index, and what is wrong with the shapes of the others."""
    boards: dict[int, Board] = {}
    problems: list[Problem] = []
    entries = source.data.get("board")
    for index in range(len(entries) if isinstance(entries, list) else 0):
        path: KeyPath = ("board", index)
        stock = read_part(source, path, BoardStock)
        if stock is None:
            continue  # reported by the model
        found = list(_outline_problems(stock, path, source))
        if not found:
            board = board_of(stock, location=source.at(path))
            found = list(_outside_keep_outs(board, path, source))
            boards[index] = board
        problems += found
    return boards, problems


def _outline_problems(stock: BoardStock, path: KeyPath, source: Source) -> Iterator[Problem]:
    outlines: list[tuple[KeyPath, tuple[PointMm, ...] | None]] = [((*path, "outline"), stock.outline)]
    outlines += [((*path, "keep_out", index, "outline"), area.outline) for index, area in enumerate(stock.keep_out)]
    for place, points in outlines:
        if points is None:
            continue
        message = _fault_of(points, _units(source))
        if message:
            advice = "give the corners in order, once round the edge"
            yield problem_at(source, place, message, advice=advice)


def _fault_of(points: Sequence[tuple[float, float]], unit: Unit) -> str:
    """What keeps points from being the corners of an area, or an empty text."""
    polygon = Polygon(points)
    # A square micrometre is less than the tip of any cutter leaves; smaller is a slip, not a board.
    if len(set(points)) < 3 or shapely.convex_hull(polygon).area < 1e-6:
        return "the points enclose no area"
    if polygon.is_valid:
        return ""
    place = shapely.is_valid_reason(polygon).partition("[")[2].rstrip("]").split()
    if len(place) != 2:
        return "the outline crosses or touches itself"
    x, y = (format_length(float(word), unit=unit) for word in place)
    return f"the outline crosses or touches itself at x {x}, y {y}"


def _outside_keep_outs(board: Board, path: KeyPath, source: Source) -> Iterator[Problem]:
    whole = to_polygon(board.outline)
    for index, area in enumerate(board.keep_outs):
        if not to_polygon(area).intersects(whole):
            message = "lies outside the board"
            advice = "its x is measured along the board's length, y across it, from the same zero as the outline"
            yield problem_at(source, (*path, "keep_out", index), message, advice=advice)


def _cutter_problems(source: Source, machine: Machine, boards: dict[int, Board]) -> list[Problem]:
    """What no cutter, or not the one the job names, can do with the boards; reach is left to `check_boards`."""
    number, stack = _whole(source, "cutter", 99), _whole(source, "stack", 50)
    if number == 0 or stack == 0 or not boards:
        return []  # reported by the model
    indexes = {board.name: index for index, board in boards.items()}

    def where(board: Board, key: str) -> Location:
        return source.at(("board", indexes[board.name], key))

    chosen = cutter_for(
        tuple(boards.values()),
        machine,
        number=number,
        stack=stack or 1,
        unit=_units(source),
        where=where,
        at=lambda key: source.at((key,)),
    )
    if not isinstance(chosen, Cutter):
        return chosen
    without_bed = machine.model_copy(update={"travel": None})
    return check_boards(tuple(boards.values()), without_bed, chosen, stack or 1, unit=_units(source), where=where)


def _whole(source: Source, key: str, greatest: int) -> int | None:
    """A whole number of the job's own keys: None when it is left out, 0 when it is wrong."""
    value = source.data.get(key)
    if value is None:
        return None
    right = isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= greatest
    return value if right else 0
