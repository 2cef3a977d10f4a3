"""Reads stock files into boards, rods and strips, and chooses the boards that a job may take."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cutjob.errors import InputError, Problem, errors_in
from cutjob.files.fields import KeyPath
from cutjob.files.read_toml import problem_at, read_model
from cutjob.files.source import Source, read_source, units_of
from cutjob.files.values import nearest
from cutjob.job.boards import BoardEntry, read_boards, same_names
from cutjob.job.model import UNTITLED, RodStock, StockFile, StripStock, Taken
from cutjob.job.stock import Board, wood_of
from cutjob.parts.part import Wood, alike
from cutjob.remembered import remembered
from cutjob.units import Unit, length

_MOST_NAMED = 4  # of the boards that are left aside


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """A file of stock as read."""

    source: Source
    boards: tuple[BoardEntry, ...]
    rods: tuple[RodStock, ...]
    strips: tuple[StripStock, ...]

    @property
    def unit(self) -> Unit:
        """The unit of the file's bare numbers."""
        return units_of(self.source)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftAside:
    """Boards of a stock file that a job does not take, with the reason in a few words."""

    board: str
    file: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """The boards that a job may take, its own and those in stock, and its `wood`; the boards left aside, those of them
    that a part may still ask for (`spare`), and the problems.
    """

    boards: tuple[BoardEntry, ...]
    left_aside: tuple[LeftAside, ...]
    problems: tuple[Problem, ...]
    wood: Wood | None = None
    spare: tuple[BoardEntry, ...] = ()


def job_mark(title: str, path: Path) -> str:
    """Return a job's name in stock files: its title, if it has one, and its file's name."""
    name = path.name if title == UNTITLED else f"{title} ({path.name})"
    return "".join(letter if letter.isprintable() else "?" for letter in name)[:300]


def marked_job(mark: str) -> str:
    """Return the job's mark from the `from` of a leftover, which is that mark and the layout's id."""
    return mark.rpartition(", ")[0]


def read_stock(path: Path) -> Stock:
    """Read a file of stock. Raises InputError with every mistake in it."""
    return stock_of(read_source(path))


@remembered(most=32)
def stock_of(source: Source) -> Stock:
    """Return the contents of a file of stock. Raises InputError with every mistake in it."""
    reading = read_model(source, StockFile)
    boards, problems = read_boards(source)
    problems = [*reading.problems, *same_names(source, ("board", "rod", "strip")), *problems]
    if problems or reading.model is None:
        key = {id(problem): (problem.location.line if problem.location else None) or 0 for problem in problems}
        with errors_in(units_of(source)):  # the stock's units, which may differ from the job's
            raise InputError(sorted(problems, key=lambda problem: key[id(problem)]))
    return Stock(source=source, boards=tuple(boards), rods=reading.model.rod, strips=reading.model.strip)


def taken_by_others(taken: Sequence[Taken], mark: str) -> int:
    """Return the number of boards that other jobs took."""
    return sum(one.count for one in taken if one.by != mark)


def choose_boards(
    own: Sequence[BoardEntry], stocks: Sequence[Stock], source: Source, *, mark: str, thickness: float | None,
    material: str | None, named: Mapping[KeyPath, str] | None = None, leave: Sequence[str] = (),
) -> Choice:  # fmt: skip
    """Return the boards for the job named `mark`: all of its own, and those in stock of its wood or of a wood it names.

    The job's wood has the thickness and material of the job's keys, else of its own boards, else of all boards in
    stock. `named` has the boards that the order names for some of its parts, by their place in the file; where others
    are left, they are not of the job's wood. Boards in stock that it says to `leave` are left out, and boards that
    other jobs took. So are offcuts from an earlier run of this job, as they come from the boards it takes now. `source`
    is the job's, for the places of problems.
    """
    gone: list[LeftAside] = []
    there: list[BoardEntry] = []
    for entry in (*own, *(board for stock in stocks for board in stock.boards)):
        left = entry.stock.count - taken_by_others(entry.stock.taken, mark)
        if entry.stock.came_from is not None and marked_job(entry.stock.came_from) == mark:
            continue  # not reported, so that the job run again gives the same files
        if entry.source is not source and entry.board.name in leave:
            gone.append(left_aside(entry, "left in stock by the job"))
        elif left < 1:
            gone.append(left_aside(entry, "taken by other jobs"))
        else:
            there.append(replace(entry, board=replace(entry.board, count=left)))
    names = list(dict.fromkeys(entry.board.name for entry in there))
    woods = {entry.board.name: wood_of(entry.board) for entry in there}
    problems = [_no_such_board(source, path, name, names) for path, name in (named or {}).items() if name not in woods]
    in_stock = [entry.board.name for stock in stocks for entry in stock.boards]
    problems += [
        problem_at(source, ("left_in_stock", index), f'there is no board "{name}" in stock',
                   advice=nearest(name, in_stock) if in_stock else "leave it out")
        for index, name in enumerate(leave) if name not in in_stock
    ]  # fmt: skip
    asked = [woods[name] for name in (named or {}).values() if name in woods]
    sawn = [woods[name] for path, name in (named or {}).items() if path[-1] == "sawn_from" and name in woods]
    cut = [woods[name] for path, name in (named or {}).items() if path[-1] != "sawn_from" and name in woods]
    chosen = _Wanted(
        source, plain_boards(own, cut=cut, sawn=sawn) or own, plain_boards(there, cut=cut, sawn=sawn) or there
    )
    thick, unclear = chosen.thickness(thickness)
    materials: list[str] = []
    if not unclear:
        materials, unclear = chosen.materials(material, thick)
    problems += unclear
    wood = Wood(thickness=thick, materials=tuple(dict.fromkeys(materials)))
    taken: list[BoardEntry] = []
    spare: list[BoardEntry] = []
    for entry in there if not problems else ():
        board = entry.board
        wanted = any(one.takes(thickness=board.thickness, material=board.material) for one in (wood, *asked))
        if entry.source is source or wanted:
            taken.append(entry)
        else:
            spare.append(entry)
            gone.append(left_aside(entry, not_of(wood, board)))
    problems += _shared_names(taken, source)
    if not taken and not problems:
        size = length(thick) if any(not alike(one.board.thickness, thick) for one in there) else ""
        of = " or ".join(wood.materials) if any(one.board.material not in materials for one in there) else ""
        wanted_words = [size and f"boards {size} thick", of and f"{'of' if size else 'boards of'} {of}"]
        problems.append(_none_left(source, stocks, gone, wanted=" ".join(filter(None, wanted_words))))
    return Choice(boards=tuple(taken), left_aside=tuple(gone), problems=tuple(problems), wood=wood, spare=tuple(spare))


def not_of(wood: Wood, board: Board) -> str:
    """Return in a few words why a board is not of a wood."""
    thick = alike(board.thickness, wood.thickness)
    return f"of {board.material}" if thick else f"{length(board.thickness)} thick"


def plain_boards(
    entries: Sequence[BoardEntry], *, cut: Sequence[Wood], sawn: Sequence[Wood] = ()
) -> Sequence[BoardEntry]:
    """Return the boards that may be of the job's wood: those of no wood that some parts are `cut` from, and, where they
    differ in thickness, of none that parts are `sawn` off either.
    """
    left = _without(entries, cut)
    several = any(not alike(one.board.thickness, left[0].board.thickness) for one in left)
    return (_without(left, sawn) or left) if several else left


def _without(entries: Sequence[BoardEntry], woods: Sequence[Wood]) -> list[BoardEntry]:
    return [
        one
        for one in entries
        if not any(wood.takes(thickness=one.board.thickness, material=one.board.material) for wood in woods)
    ]


def _no_such_board(source: Source, path: KeyPath, name: str, names: Sequence[str]) -> Problem:
    advice = nearest(name, names) if names else "add a [[board]]"
    return problem_at(source, path, f'there is no board "{name}"', advice=advice)


class _Wanted:
    """The thickness and materials of the job's wood. `own` are the job's boards, `there` all boards."""

    def __init__(self, source: Source, own: Sequence[BoardEntry], there: Sequence[BoardEntry]) -> None:
        self.source, self.own, self.there = source, own, there

    def thickness(self, stated: float | None) -> tuple[float, list[Problem]]:
        if stated is not None or self.own:
            return stated if stated is not None else self.own[0].board.thickness, []
        several: list[float] = []
        for entry in self.there:
            if not any(alike(entry.board.thickness, one) for one in several):
                several.append(entry.board.thickness)
        if len(several) < 2:
            return several[0] if several else 0.0, []
        sizes = [length(one) for one in sorted(several)]
        message = f"the boards in stock are {_either(sizes)} thick"
        advice = f'say which to take: add a line thickness = "{sizes[0]}" at the top of the job'
        return 0.0, [problem_at(self.source, ("stock",), message, advice=advice)]

    def materials(self, stated: str | None, thick: float) -> tuple[list[str], list[Problem]]:
        if stated is not None:
            return [stated], []
        own = [entry.board.material for entry in self.own if alike(entry.board.thickness, thick)]
        if own:
            return own, []
        fit = [entry for entry in self.there if alike(entry.board.thickness, thick)]
        several = list(dict.fromkeys(entry.board.material for entry in fit))
        if len(several) < 2:
            return several, []
        message = f"the boards in stock are of {_either(several)}"
        advice = f'say which to take: add a line material = "{several[0]}" at the top of the job'
        return [], [problem_at(self.source, ("stock",), message, advice=advice)]


def _either(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}"


def left_aside(entry: BoardEntry, why: str) -> LeftAside:
    """Return a board of a stock file as left aside, with the reason in a few words."""
    return LeftAside(board=entry.stock.name, file=Path(entry.source.name).name, why=why)


def _none_left(source: Source, stocks: Sequence[Stock], gone: Sequence[LeftAside], *, wanted: str) -> Problem:
    """The problem of a job without boards: why each one in stock is left aside, and which boards the job takes."""
    named = [f'board "{one.board}" of {one.file} is {one.why}' for one in gone[:_MOST_NAMED]]
    if len(gone) > len(named):
        named.append(f"and {len(gone) - len(named)} more are left aside")
    held = any(stock.boards for stock in stocks)
    why = ", ".join(named) or ("the stock has only offcuts of this job" if held else "the stock has none")
    takes = f"; the job takes {wanted}" if wanted else ""
    message = f"no board is left to lay parts on: {why}{takes}"
    return problem_at(source, ("stock",), message, advice="add boards to the stock, or a [[board]] to the job")


def _shared_names(entries: Sequence[BoardEntry], source: Source) -> list[Problem]:
    """Problems for boards of different files with the same name, which nobody could tell apart in the output."""
    first: dict[str, BoardEntry] = {}
    problems = []
    for entry in entries:
        other = first.setdefault(entry.stock.name, entry)
        if other is not entry and other.source is not entry.source:
            message = f"{other.at('name')} has the same name"
            path = ("board", entry.index, "name")
            problems.append(problem_at(entry.source, path, message, advice="give them different names"))
    return problems
