"""Reads a job file and the stock files it names into a `Job`, or into a list of every mistake in them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from cutjob.errors import InputError, Location, Problem, errors_in
from cutjob.files.fields import KeyPath, Name, PositiveMm
from cutjob.files.file_bytes import is_there, real_path
from cutjob.files.read_toml import problem_at, read_model
from cutjob.files.source import Source, read_source, units_of
from cutjob.files.values import nearest
from cutjob.job.boards import (
    BoardEntry,
    alike_thick,
    check_boards,
    read_boards,
    same_names,
    thickness_slips,
    through_cutters,
)
from cutjob.job.job import Job
from cutjob.job.machine import Machine
from cutjob.job.model import MOST_STOCKS, CutterNumbers, JobFile, Stack
from cutjob.job.read_machine import read_machine
from cutjob.job.read_shop import SHOP_FILE, Shop, read_shop, usual_shop
from cutjob.job.read_stock import Choice, Stock, choose_boards, job_mark, read_stock
from cutjob.job.stock import Board
from cutjob.units import Unit, spelled

__all__ = ["Job", "check_boards", "likely_thickness", "no_boards", "read_job"]


def read_job(path: Path) -> Job:
    """Read a job file, the machine profile and the stock it names. Raises InputError with every mistake in them.

    Boards longer or wider than the machine's reach are accepted here, as sawn parts may shorten them; `check_boards`
    judges the sawn boards.
    """
    return job_of(read_source(path), path)


def job_of(source: Source, path: Path) -> Job:
    """Return the job of a file already read; files it names are looked for from the folder of `path`. Raises InputError
    as `read_job` does.
    """
    with errors_in(units_of(source)):
        return _job_of(source, path)


def _job_of(source: Source, path: Path) -> Job:
    reading = read_model(source, JobFile)
    problems = [
        *reading.problems,
        *same_names(source, ("make", "board", "rod", "strip", "bought", "set", "fixed")),
        *_no_wood(source),
    ]
    machine, machine_problems = _machine(source, path)
    own, board_problems = read_boards(source)
    stocks, stock_problems = _stocks(source, path.parent)
    problems += [*machine_problems, *board_problems, *stock_problems]
    shop, shop_problems = _shop(source, path.parent)
    problems += [*shop_problems, *_of_no_item(source, reading.model)]
    choice = _choice(source, path, reading.model, own, stocks) if not stock_problems else None
    problems += choice.problems if choice is not None else ()
    boards = choice.boards if choice is not None and choice.boards else tuple(own)
    if machine is not None:
        problems += _cutter_problems(source, machine, boards)
    if problems or reading.model is None or machine is None or choice is None or shop is None:
        raise InputError(_in_order(problems, source.name))
    return Job(
        path=path,
        file=reading.model,
        entries=boards,
        machine=machine,
        source=source,
        shop=shop,
        rods=(*reading.model.rod, *(rod for stock in stocks for rod in stock.rods)),
        strips=(*reading.model.strip, *(strip for stock in stocks for strip in stock.strips)),
        left_aside=tuple(replace(one, why=spelled(one.why, reading.model.units)) for one in choice.left_aside),
        mark=job_mark(reading.model.title, path),
        wood=choice.wood,
        spare=choice.spare,
    )


def likely_thickness(source: Source, folder: Path) -> float | None:
    """Return the thickness of the boards of a job that can't be read in full, mm, or None where it isn't known."""
    thickness: float | None = _right(PositiveMm, source.data.get("thickness"), units_of(source))
    if thickness is not None:
        return thickness
    own, _ = read_boards(source)
    stocks, _ = _stocks(source, folder)
    boards = [entry.board for entry in (*own, *(entry for stock in stocks for entry in stock.boards))]
    return boards[0].thickness if boards else None


def _in_order(problems: Sequence[Problem], file: str) -> list[Problem]:
    """The job's own mistakes in the order of their lines, then those of its profile and stock; each once."""

    def key(problem: Problem) -> tuple[bool, int]:
        where = problem.location
        return where is None or where.file != file, (where.line if where else None) or 0

    return sorted(dict.fromkeys(problems), key=key)


def _machine(source: Source, path: Path) -> tuple[Machine | None, list[Problem]]:
    name = _right(Name, source.data.get("machine"))
    if name is None:
        return None, []  # reported by the model
    try:
        return read_machine(name, beside=path.parent), []
    except InputError as error:
        return None, [_named_here(source, ("machine",), problem) for problem in error.problems]


def _named_here(source: Source, path: KeyPath, problem: Problem) -> Problem:
    """A problem of a file as a whole, with the line of the job that names the file."""
    where = problem.location
    if where is not None and where.line is not None:
        return problem
    message = problem.message if where is None else f"{where.file}: {problem.message}"
    return problem_at(source, path, message, advice=problem.advice)


def no_boards(source: Source, item: str = "", part: str = "") -> Problem:
    """Return the problem of a job without the boards it needs; it names a part that needs one where known."""
    why = f', but part "{part}" of item "{item}" is cut from a board' if part else ""
    return problem_at(source, ("board",), f"is missing{why}", advice='add a [[board]], or stock = "shed.toml"')


def _no_wood(source: Source) -> Iterator[Problem]:
    """Whether the job may need no boards: it makes only things of rods and strips. Its designs decide."""
    if not any(key in source.data for key in ("board", "stock", "rod", "strip")):
        yield no_boards(source)


def _stocks(source: Source, folder: Path) -> tuple[list[Stock], list[Problem]]:
    """The stock files that a job names, read, and their problems."""
    named = source.data.get("stock")
    paths = [named] if isinstance(named, str) else named if isinstance(named, list) else []
    if len(paths) > MOST_STOCKS:
        return [], []  # reported by the model
    stocks: list[Stock] = []
    problems: list[Problem] = []
    seen: set[Path] = set()
    for index, raw in enumerate(paths):
        if (name := _right(Name, raw)) is None:
            continue  # reported by the model
        file, place = folder / name, ("stock",) if isinstance(named, str) else ("stock", index)
        if real_path(file) in seen:
            problems.append(problem_at(source, place, "the file is named twice", advice="leave one of them out"))
            continue
        seen.add(real_path(file))
        if not is_there(file):
            advice = f"the path is taken from {folder}; check the name, or make the file"
            problems.append(problem_at(source, place, f'there is no file "{name}"', advice=advice))
            continue
        try:
            stocks.append(read_stock(file))
        except InputError as error:
            problems += [_named_here(source, place, problem) for problem in error.problems]
    return stocks, problems


def _shop(source: Source, folder: Path) -> tuple[Shop | None, list[Problem]]:
    """The shop that the job names, or the one beside it, or the usual figures; and its problems."""
    named = _right(Name, source.data["shop"]) if "shop" in source.data else None
    if "shop" in source.data and named is None:
        return None, []  # reported by the model
    file = folder / (named or SHOP_FILE)
    if named is None and not is_there(file):
        return usual_shop(), []
    if not is_there(file):
        advice = f"the path is taken from {folder}; check the name, or write one: cutjob new shop > {SHOP_FILE}"
        return None, [problem_at(source, ("shop",), f'there is no file "{named}"', advice=advice)]
    try:
        return read_shop(file), []
    except InputError as error:
        return None, [_named_here(source, ("shop",), problem) for problem in error.problems]


def _of_no_item(source: Source, file: JobFile | None) -> Iterator[Problem]:
    """A problem for every thing bought, every set and a booklet that name an item which the order does not have."""
    if file is None:
        return
    names = [make.name for make in file.make]
    named: list[tuple[KeyPath, str]] = [
        (("bought", index, "item"), one.item) for index, one in enumerate(file.bought) if one.item is not None
    ]
    named += [
        (("set", index, "items", place), name)
        for index, one in enumerate(file.set)
        for place, name in enumerate(one.items)
    ]
    if not isinstance(file.booklet, bool):
        wanted = file.booklet
        named += (
            [(("booklet",), wanted)]
            if isinstance(wanted, str)
            else [(("booklet", place), name) for place, name in enumerate(wanted)]
        )
    for path, name in named:
        if name not in names:
            yield problem_at(source, path, f'there is no item "{name}"', advice=nearest(name, names))
    for index, group in enumerate(file.set):
        if group.name in names:
            message = f'an item has this name: "{group.name}"'
            yield problem_at(source, ("set", index, "name"), message, advice="give the set a name of its own")
    for index, one in enumerate(file.bought):
        if one.item is not None and one.count is None:
            message = f'how many "{one.item}" needs is missing'
            yield problem_at(source, ("bought", index), message, advice="add count, or leave item out")


def _choice(
    source: Source, path: Path, file: JobFile | None, own: Sequence[BoardEntry], stocks: Sequence[Stock]
) -> Choice | None:
    """The boards the job may take; None while the job has mistakes that could mislead the choice."""
    if file is None or len(own) < len(file.board):
        return None  # their mistakes are reported already
    if not file.board and not file.stock:
        return Choice(boards=(), left_aside=(), problems=())
    mark = job_mark(file.title, path)
    named = dict(_named_boards(file))
    return choose_boards(
        own, stocks, source, mark=mark, thickness=file.thickness, material=file.material, named=named,
        leave=file.left_in_stock,
    )  # fmt: skip


def _named_boards(file: JobFile) -> Iterator[tuple[KeyPath, str]]:
    """The boards that the order names for its parts, with the places of the names."""
    for index, make in enumerate(file.make):
        if isinstance(make.wood, str):
            yield ("make", index, "wood"), make.wood
        for part, name in make.wood.items() if isinstance(make.wood, dict) else ():
            yield ("make", index, "wood", part), name
        if make.sawn_from is not None:
            yield ("make", index, "sawn_from"), make.sawn_from


def _cutter_problems(source: Source, machine: Machine, entries: Sequence[BoardEntry]) -> list[Problem]:
    """Problems with the cutter, the job's or any of the machine's, and the boards; `check_boards` checks the reach."""
    numbers = _right(CutterNumbers, source.data["cutter"]) if "cutter" in source.data else ()
    stack = _right(Stack, source.data.get("stack", 1))
    if numbers is None or stack is None or not entries:
        return []  # reported by the model
    places = {entry.board.name: entry for entry in entries}
    without_bed = machine.model_copy(update={"travel": None})

    def where(board: Board, key: str) -> Location:
        return places[board.name].at(key)

    groups = alike_thick([entry.board for entry in entries])
    if len(groups) > 1:
        # Each wood is judged once it is known what is cut from it.
        return thickness_slips([entry.board for entry in entries], machine, where=where)
    chosen = through_cutters(
        groups[0], machine, numbers=numbers, stack=stack, where=where, at=lambda key: source.at((key,))
    )
    if isinstance(chosen, list):
        return chosen
    return check_boards(groups[0], without_bed, chosen[0], stack, where=where)


def _right(kind: Any, raw: Any, unit: Unit = "mm") -> Any:
    """A value read as the type of its field; None where it is missing or wrong."""
    try:
        return TypeAdapter(kind).validate_python(raw, context={"units": unit})
    except ValidationError:
        return None
