"""The boards of a file, job or stock, with their places, and what is wrong with their shapes and names."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely import Polygon

from cutjob.errors import Location, Problem
from cutjob.geometry.polygons import to_polygon
from cutjob.job.fields import KeyPath, PointMm
from cutjob.job.model import BoardStock
from cutjob.job.read_toml import problem_at, read_part
from cutjob.job.source import Source
from cutjob.job.stock import Board, board_of
from cutjob.units import Unit, format_length


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardEntry:
    """A `[[board]]` of a file: what it says, the board it makes, and where it stands."""

    stock: BoardStock
    board: Board
    source: Source
    index: int

    def at(self, key: str) -> Location:
        """The line of a key of the entry, or of the entry."""
        return self.source.at(("board", self.index, key))


def read_boards(source: Source) -> tuple[list[BoardEntry], list[Problem]]:
    """Return the boards that are right in themselves, and what is wrong with the shapes of the others.

    Entries that are wrong in other ways are passed over: reading the whole file reports them.
    """
    entries: list[BoardEntry] = []
    problems: list[Problem] = []
    tables = source.data.get("board")
    for index in range(len(tables) if isinstance(tables, list) else 0):
        path: KeyPath = ("board", index)
        stock = read_part(source, path, BoardStock)
        if stock is None:
            continue
        found = list(_outline_problems(stock, path, source))
        if not found:
            board = board_of(stock, location=source.at(path))
            found = list(_outside_keep_outs(board, path, source))
            entries.append(BoardEntry(stock=stock, board=board, source=source, index=index))
        problems += found
    return entries, problems


def same_names(source: Source, tables: Sequence[str]) -> Iterator[Problem]:
    """Yield a problem for every entry of a table that has the name of an earlier one."""
    for table in tables:
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


def units_of(source: Source) -> Unit:
    """Return the unit of a file's bare numbers; mm where it says none (reading the file reports it)."""
    return "in" if source.data.get("units") == "in" else "mm"


def _outline_problems(stock: BoardStock, path: KeyPath, source: Source) -> Iterator[Problem]:
    outlines: list[tuple[KeyPath, tuple[PointMm, ...] | None]] = [((*path, "outline"), stock.outline)]
    outlines += [((*path, "keep_out", index, "outline"), area.outline) for index, area in enumerate(stock.keep_out)]
    for place, points in outlines:
        if points is None:
            continue
        message = _fault_of(points, units_of(source))
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
