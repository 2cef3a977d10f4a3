"""Parts that a job keeps at their place, or on their board, while the search lays out the others. mm.

A board with kept parts is one of its own: they are places that the others leave free, and it costs nothing more, as it
is used in any case. When all is laid out, the kept parts are put in.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import shapely

from cutjob.errors import InputError, Location, Problem
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Point
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board, KeepOut
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.layout.rules import Clearance, is_allowed, may_lie_on
from cutjob.layout.search.batches import Demand
from cutjob.parts.part import Item, ShapedPart
from cutjob.tolerances import TOLERANCES
from cutjob.units import length


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A part that is kept: `part` of the item's `unit` (from 1), on a board of that name.

    With `at`, the lower left corner of its box, it is kept at that place, `turned` counter-clockwise by degrees after
    it was `mirrored`, on the `number`th board (from 1) of the name as they lie on the machine, sawn ones first.
    """

    item: str
    part: str
    unit: int
    board: str
    number: int = 1
    at: Point | None = None
    turned: float = 0.0
    mirrored: bool = False
    location: Location | None = None

    @property
    def place(self) -> str:
        """Its entry in words."""
        return f'keep "{self.part}" of "{self.item}" {self.unit}'

    def problem(self, message: str, advice: str) -> Problem:
        """Return a problem of its entry."""
        return Problem(message=message, advice=advice, place=self.place, location=self.location)


def without_kept(items: Sequence[Item], kept: Sequence[Kept]) -> tuple[Item, ...]:
    """Return the items without the parts that are kept at a place; units keep their numbers.

    An item with kept parts comes as several: each unit that is not whole, or has a part on a board of its own, is one.
    """
    by_item: dict[str, dict[int, set[str]]] = {}
    for one in kept:
        names = by_item.setdefault(one.item, {}).setdefault(one.unit, set())
        if one.at is not None:
            names.add(one.part)
    found: list[Item] = []
    for item in items:
        start = 1
        for unit, names in sorted(by_item.get(item.name, {}).items()):
            if unit > start:
                found.append(replace(item, count=unit - start))
            shaped = tuple(part for part in item.build.shaped if part.name not in names)
            found.append(replace(item, count=1, build=replace(item.build, shaped=shaped)))
            start = unit + 1
        if start <= item.count:
            found.append(replace(item, count=item.count - start + 1))
    return tuple(found)


def boards_asked(kept: Sequence[Kept]) -> Mapping[tuple[str, int, str], str]:
    """Return the board of each part that is kept on its board only, by item, unit and part."""
    return {(one.item, one.unit, one.part): one.board for one in kept if one.at is None}


def may_take(asked: Mapping[tuple[str, int, str], str], entry: Demand, board: Board) -> bool:
    """Whether a demand may lie on a board, as far as the job keeps it on one."""
    wanted = asked.get((entry.item, entry.first_unit, entry.part.name)) if entry.count == entry.per_unit else None
    return wanted is None or wanted == board.name


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptBoards:
    """Boards of a job with those that have kept parts set apart: `boards` for the search, `own` the same as they are,
    and the kept placements on each of `boards` that has some, by its index.
    """

    boards: tuple[Board, ...]
    own: tuple[Board, ...]
    placed: Mapping[int, tuple[Placement, ...]]


def set_apart(
    items: Sequence[Item], boards: Sequence[Board], kept: Sequence[Kept], *, clearance: Clearance
) -> KeptBoards:
    """Return the boards with those that have parts at a place set apart. Raises InputError for parts that can't lie
    where they are kept.
    """
    parts = {(item.name, part.name): part for item in items for part in item.build.shaped}
    fixed = [one for one in kept if one.at is not None]
    chosen: dict[tuple[int, int], list[tuple[Kept, Placement]]] = {}
    problems: list[Problem] = []
    for one in fixed:
        where = _board_of(one, boards)
        if where is None:
            there = sum(board.count for board in boards if board.name == one.board)
            problems.append(
                one.problem(f'there is no board {one.number} of "{one.board}"', f"there are {there} of them")
            )
            continue
        part = parts[one.item, one.part]
        placement = Placement(part=part, item=one.item, unit=one.unit, transform=placed_at(part, one))
        chosen.setdefault(where, []).append((one, placement))
    for (kind, _), entries in chosen.items():
        problems += _misplaced(boards[kind], entries, clearance)
    if problems:
        raise InputError(dict.fromkeys(problems))
    return _apart(boards, chosen)


def _board_of(one: Kept, boards: Sequence[Board]) -> tuple[int, int] | None:
    """The kind of board, and which of it; sawn ones count first."""
    number = one.number
    order = sorted(range(len(boards)), key=lambda kind: boards[kind].sawn_off == 0)
    for kind in order:
        if boards[kind].name != one.board:
            continue
        if number <= boards[kind].count:
            return kind, number
        number -= boards[kind].count
    return None


def placed_at(part: ShapedPart, one: Kept) -> Transform:
    """Return the transform that puts the lower left corner of the part's box where it is kept."""
    assert one.at is not None
    turn = Transform(degrees=one.turned, mirrored=one.mirrored)
    x0, y0, _, _ = turn.region(part.region).bounds
    return replace(turn, x=one.at[0] - x0, y=one.at[1] - y0)


def _misplaced(board: Board, entries: Sequence[tuple[Kept, Placement]], clearance: Clearance) -> Iterator[Problem]:
    """What is wrong with the places of parts on one board, measured as the finished layout is."""
    limit = TOLERANCES.gap
    wood = to_polygon(board.outline)
    polygons = [placement.polygon for _, placement in entries]
    for number, (one, placement) in enumerate(entries):
        polygon = polygons[number]
        if not may_lie_on(placement.part, board):
            yield one.problem(f'it is not cut from "{board.name}"', "keep it on a board of its wood")
            continue
        if not is_allowed(placement.transform, placement.part, board):
            yield one.problem(
                "it may not lie turned or mirrored like this on the board",
                "with grain, turned is 0 or 180; mirrored only where its design allows it",
            )
            continue
        inside = shapely.distance(polygon, wood.exterior) if wood.covers(polygon) else -1.0
        if inside < clearance.edge_margin - limit:
            said = "it lies partly off the board" if inside < 0 else f"it is {length(inside)} from the board's edge"
            yield one.problem(said, f"at least {length(clearance.edge_margin)} of wood are to be left at the edge")
            continue
        near = [("a place kept free", shapely.distance(polygon, to_polygon(knot.area))) for knot in board.keep_outs]
        near += [
            (f'"{other.part}" of "{other.item}" {other.unit}', shapely.distance(polygon, polygons[place]))
            for place, (other, _) in enumerate(entries[:number])
        ]
        for name, found in near:
            if found < clearance.gap - limit:
                yield one.problem(
                    f"it is {length(float(found))} from {name}", f"at least {length(clearance.gap)} are to be left"
                )
                break


def _apart(boards: Sequence[Board], chosen: Mapping[tuple[int, int], Sequence[tuple[Kept, Placement]]]) -> KeptBoards:
    search: list[Board] = []
    own: list[Board] = []
    placed: dict[int, tuple[Placement, ...]] = {}
    for kind, board in enumerate(boards):
        mine = [entries for (one, _), entries in sorted(chosen.items(), key=lambda it: it[0]) if one == kind]
        for entries in mine:
            areas = tuple(KeepOut(placement.region.outline) for _, placement in entries)
            taken = replace(board, count=1, keep_outs=(*board.keep_outs, *areas), price=0.0)
            if taken in search:
                raise InputError(
                    entries[0][0].problem("another board has the same parts kept at the same places",
                                          "keep them at other places")
                )  # fmt: skip
            placed[len(search)] = tuple(placement for _, placement in entries)
            search.append(taken)
            own.append(board)
        if board.count > len(mine):
            search.append(replace(board, count=board.count - len(mine)))
            own.append(board)
    return KeptBoards(boards=tuple(search), own=tuple(own), placed=placed)


def put_in(laid: Sequence[BoardLayout], kept: KeptBoards) -> tuple[BoardLayout, ...]:
    """Return layouts of the boards for the search as layouts of the boards as they are, with the kept parts."""
    index = {board: place for place, board in enumerate(kept.boards)}
    found: list[BoardLayout] = []
    used: set[int] = set()
    for entry in laid:
        place = index[entry.board]
        used.add(place)
        found.append(replace(entry, board=kept.own[place], placements=(*kept.placed.get(place, ()), *entry.placements)))
    for place, placements in kept.placed.items():
        if place not in used:
            number = len(found) + 1
            found.append(BoardLayout(id=f"board-{number:02d}", board=kept.own[place], placements=placements))
    return tuple(found)
