"""A file of stock after a job: its leftovers put in, and the boards it took marked as gone, all else byte for byte.

A job's own marks and leftovers from an earlier run are replaced, never added twice, and no other job's are touched. The
text is changed line by line and then read again: where that does not give what was meant, nothing is written.
"""

from __future__ import annotations

import copy
import os
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cutjob.costs.wood_used import boards_used
from cutjob.errors import InputError, Location, Problem
from cutjob.files.source import Source, parse_source, read_source, units_of
from cutjob.job.job import Job
from cutjob.job.model import BoardStock
from cutjob.job.read_stock import marked_job, stock_of, taken_by_others
from cutjob.layout.layout import Layout
from cutjob.layout.leftovers import Leftover
from cutjob.output.leftovers import entry_lines, entry_of, free_name, kept_leftovers, title_of, toml_value
from cutjob.output.one_file import change_file
from cutjob.units import Unit

_MARKS = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What a job changes in a file of stock: the leftovers it adds and how many boards of a name it took there.

    `mark` is the job's mark, `title` names its leftovers, `units` are those of a file that is new.
    """

    leftovers: Sequence[Leftover]
    taken: Mapping[str, int]
    mark: str
    title: str
    units: Unit


def kept_of(job: Job, layout: Layout, leftovers: Sequence[Leftover], path: Path) -> Kept:
    """Return what a job that was laid out changes in a file of stock: boards it took elsewhere are not its matter."""
    there = {entry.board.name for entry in job.entries if Path(entry.source.name).resolve() == path.resolve()}
    return Kept(
        leftovers=leftovers,
        taken={name: count for name, count in boards_used(layout).items() if name in there},
        mark=job.mark,
        title=title_of(job),
        units=job.file.units,
    )


def check_stock_file(path: Path) -> None:
    """Raise InputError when the file is there and can't be added to, or its folder is not there."""
    if path.exists():
        _changeable(_read(path))
        if not os.access(path, os.W_OK):
            advice = "allow yourself to write to it, or name another file"
            raise InputError(Problem(message="the file is write-protected", advice=advice, location=_whole(path)))
    elif not path.parent.is_dir():
        advice = "make the folder, or name another file"
        raise InputError(Problem(message="there is no such folder", advice=advice, location=_whole(path)))


def keep_in_stock(path: Path, kept: Kept, *, before: Callable[[], None] | None = None) -> None:
    """Change the file, or make it. One run at a time; the file is as it was, or as it shall be.

    `before` is called when all is ready and only the file's own writing is left. Raises InputError, with nothing
    written and `before` not called, for a file with mistakes and for boards that other jobs took in the meantime.
    """
    change_file(path, lambda old: changed(old, kept, name=str(path)), before=before)


def changed(data: bytes, kept: Kept, *, name: str) -> bytes:
    """Return a file's new bytes; `data` is empty for a new file. Raises InputError as `keep_in_stock` does."""
    if not data.strip():
        data = _new_file(kept)
    source = parse_source(data, name=name)
    _changeable(source)
    encoding = _MARKS.get(data[:2], "utf-8")
    text, meant = _Change(source, data.decode(encoding), kept).made()
    new = text.encode(encoding)
    if not _means(text.removeprefix("\ufeff"), meant):
        advice = "write each board under a [[board]] of its own, one key to a line, and what was taken on one line"
        message = "the file is written in a way that can't be changed safely"
        raise InputError(Problem(message=message, advice=advice, location=Location(file=name)))
    return new


def _whole(path: Path) -> Location:
    return Location(file=str(path))


def _new_file(kept: Kept) -> bytes:
    lines = [
        "# Boards and rods in stock. Jobs name this file as their stock; cutjob make --keep-offcuts adds to it.",
        "",
    ]
    return ("\n".join([*lines, f'units = "{kept.units}"']) + "\n").encode()


def _read(path: Path) -> Source:
    source = read_source(path)
    if not source.data and not path.read_bytes().strip():
        return parse_source(b'units = "mm"\n', name=str(path))  # an empty file becomes a new one
    return source


def _changeable(source: Source) -> None:
    """Refuse a file with mistakes, or whose boards are not tables of their own, to which lines could be added."""
    stock_of(source)
    tables = source.value(("board",)) or ()
    places = {source.places[("board", index)] for index in range(len(tables))}
    # Tables of their own start at the first column of different lines; a list has its entries inside.
    inline = tables and source.places.get(("board",)) not in places
    if inline or (not tables and "board" in source.data):
        message, advice = (
            "the boards are in one list",
            "write each under a [[board]] of its own, so that more can follow",
        )
        raise InputError(Problem(message=message, advice=advice, place="board", location=source.at(("board",))))


class _Change:
    """The lines of a file and the data they mean, changed side by side."""

    def __init__(self, source: Source, text: str, kept: Kept) -> None:
        self.source, self.kept = source, kept
        self.units = units_of(source)
        self.newline = "\r\n" if "\r\n" in text else "\n"
        self.lines = text.split("\n")
        self.meant: dict[str, Any] = copy.deepcopy(dict(source.data))
        self.boards: list[dict[str, Any]] = list(self.meant.get("board", []))
        self.stock = [stock.stock for stock in stock_of(source).boards]

    def made(self) -> tuple[str, dict[str, Any]]:
        new, stay = self._new_entries()
        self._refuse_gone()
        gone = [index for index, stock in enumerate(self.stock) if self._own(stock) and index not in stay]
        # From the end on, so that the lines before keep their numbers.
        for index in reversed(range(len(self.boards))):
            if index in gone:
                self._remove(index)
            else:
                self._mark(index)
        boards = [board for index, board in enumerate(self.boards) if index not in gone] + new
        for entry in new:
            self._append(entry)
        self.meant.pop("board", None)
        if boards:
            self.meant["board"] = boards
        return "\n".join(self.lines), self.meant

    def _own(self, stock: BoardStock) -> bool:
        return stock.came_from is not None and marked_job(stock.came_from) == self.kept.mark

    def _new_entries(self) -> tuple[list[dict[str, Any]], set[int]]:
        """The leftovers to add, and the entries of an earlier run that are among them already and stay."""
        others = {stock.name for stock in self.stock if not self._own(stock)}
        stay: set[int] = set()
        new = []
        for one in kept_leftovers(self.kept.leftovers, title=self.kept.title, units=self.units):
            name = free_name(one.name, others)
            others.add(name)
            entry = entry_of(one.leftover.board, name=name, units=self.units)
            where = one.leftover.layout or "sawn"
            wanted = _plain(entry | {"from": f"{self.kept.mark}, {where}"})
            same = next(
                (i for i, board in enumerate(self.boards) if i not in stay and _without_marks(board) == wanted), None
            )
            if same is None:
                new.append(wanted)
            else:
                stay.add(same)
        for index, stock in enumerate(self.stock):
            others_took = [one.by for one in stock.taken if one.by != self.kept.mark]
            if self._own(stock) and index not in stay and others_took:
                message = f'"{others_took[0]}" took what this job left here earlier, and now it leaves other pieces'
                advice = "copy the job to a new file for what is wanted now, or leave out --keep-offcuts"
                self._refuse(index, message, advice)
        return new, stay

    def _refuse_gone(self) -> None:
        """Boards that other jobs took, or that were struck out, since this job read the file."""
        by_name = {stock.name: index for index, stock in enumerate(self.stock)}
        for name, count in self.kept.taken.items():
            index = by_name.get(name)
            left = 0
            if index is not None:
                left = self.stock[index].count - taken_by_others(self.stock[index].taken, self.kept.mark)
            if left < count:
                self._refuse(index, f'the job takes {count} of "{name}" and {left} are left', "run the job again")

    def _refuse(self, index: int | None, message: str, advice: str) -> None:
        where = self.source.at(("board", index)) if index is not None else Location(file=self.source.name)
        raise InputError(Problem(message=message, advice=advice, location=where))

    def _first(self, index: int) -> int:
        return self.source.places[("board", index)][0] - 1

    def _remove(self, index: int) -> None:
        first, last = self._first(index), self._last(index)
        while first > 0 and not self.lines[first - 1].strip():
            first -= 1  # the empty lines before it were added with it
        del self.lines[first : last + 1]

    def _last(self, index: int) -> int:
        """The last line with something of an entry on it; comments and empty lines after it are not its own."""
        first = self._first(index)
        prefix = ("board", index)
        later = [line - 1 for path, (line, _) in self.source.places.items() if path[:2] != prefix and line - 1 > first]
        last = min(later, default=len(self.lines)) - 1
        while not self.lines[last].strip() or self.lines[last].lstrip().startswith("#"):
            last -= 1
        return last

    def _mark(self, index: int) -> None:
        """Set how many boards of an entry the job took."""
        board, count = self.boards[index], self.kept.taken.get(self.stock[index].name, 0)
        old = board.get("taken", [])
        taken = [one for one in old if str(one["by"]).strip() != self.kept.mark]
        if count:
            taken.append({"by": self.kept.mark, "count": count})
        if taken == old:
            return
        place = self.source.places.get(("board", index, "taken"))
        if place is not None:
            del self.lines[place[0] - 1]
        if taken:
            board["taken"] = taken
            self._insert(self._first(index) + 1, f"taken = {toml_value(taken)}")
        else:
            board.pop("taken", None)

    def _append(self, entry: dict[str, Any]) -> None:
        if self.lines[-1]:
            self.lines[-1] += self._end()
            self.lines.append("")
        for line in ("", *entry_lines(entry)):
            self._insert(len(self.lines) - 1, line)

    def _insert(self, at: int, line: str) -> None:
        self.lines.insert(at, line + self._end())

    def _end(self) -> str:
        return self.newline.removesuffix("\n")


def _means(text: str, meant: Mapping[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == meant
    except tomllib.TOMLDecodeError:
        return False


def _plain(entry: Mapping[str, Any]) -> dict[str, Any]:
    """The entry as reading it back gives it."""
    made: dict[str, Any] = tomllib.loads("\n".join(entry_lines(entry)))["board"][0]
    return made


def _without_marks(board: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in board.items() if key != "taken"}
