"""Checks a finished layout without the engine that made it: measures distances on fine polygons, and counts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import shapely
from shapely import Polygon, STRtree

from cutjob.errors import CutjobError, Problem
from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.polygons import to_polygon
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout, Layout, Placement
from cutjob.layout.rules import is_allowed, may_lie_on
from cutjob.parts.part import Item, ShapedPart
from cutjob.tolerances import TOLERANCES

_CHORD = TOLERANCES.gap / 10  # of the polygons measured here: a part may be this far outside its polygon
_LIMIT = TOLERANCES.gap


class LayoutError(CutjobError):
    """A layout that breaks its own rules: a fault of the program, never of the input."""

    exit_code = 1


def check_layout(layout: Layout, items: Sequence[Item]) -> tuple[Problem, ...]:
    """Return all mistakes in a layout: parts too near each other, the edge or a keep-out, turned against the grain, too
    many or too few, apart although they belong together, more boards than in stock. Empty where there are none.
    Distances are exact to TOLERANCES.gap.
    """
    problems: list[Problem] = []
    for board in layout.boards:
        problems += _check_board(board, layout.gap, layout.edge_margin)
    problems += _check_parts(layout, items)
    problems += _check_together(layout, items)
    problems += _check_sawn(layout, items)
    problems += _check_boards(layout)
    return tuple(problems)


def _polygon(shape: Region | Contour) -> Polygon:
    return to_polygon(shape, deviation=_CHORD)


def _check_board(layout: BoardLayout, gap: float, margin: float) -> Iterable[Problem]:
    board = layout.board
    polygons = [_polygon(placement.region) for placement in layout.placements]
    names = [_name(placement) for placement in layout.placements]
    for placement, name in zip(layout.placements, names, strict=True):
        if not may_lie_on(placement.part, board):
            yield _problem(layout, f"{name} is cut from another wood than this board")
        if not is_allowed(placement.transform, placement.part, board):
            yield _problem(layout, f"{name} is turned or mirrored as it may not be on this board")
    yield from _check_pairs(layout, polygons, names, gap)
    yield from _check_edge(layout, polygons, names, margin)
    for number, one in enumerate(board.keep_outs, start=1):
        knot = _polygon(one.area)
        for polygon, name in zip(polygons, names, strict=True):
            if _too_near(polygon, knot, gap):
                found = shapely.distance(polygon, knot)
                yield _problem(layout, f"{name} lies {found:.4f} mm from keep-out {number}; the gap is {gap:.4f} mm")


def _check_pairs(layout: BoardLayout, polygons: list[Polygon], names: list[str], gap: float) -> Iterable[Problem]:
    tree = STRtree(polygons)
    for first, second in sorted(zip(*tree.query(polygons, predicate="dwithin", distance=gap), strict=True)):
        if first < second and _too_near(polygons[first], polygons[second], gap):
            found = shapely.distance(polygons[first], polygons[second])
            yield _problem(layout, f"{names[first]} lies {found:.4f} mm from {names[second]}; the gap is {gap:.4f} mm")


def _too_near(one: Polygon, other: Polygon, gap: float) -> bool:
    if gap > _LIMIT:
        return bool(shapely.distance(one, other) < gap - _LIMIT)
    # With no gap the two may touch; then the depth of their overlap is measured.
    shrunk = one.buffer(-_LIMIT / 2, join_style="mitre")
    return bool(shapely.intersects(shrunk, other.buffer(-_LIMIT / 2, join_style="mitre")))


def _check_edge(layout: BoardLayout, polygons: list[Polygon], names: list[str], margin: float) -> Iterable[Problem]:
    board = _polygon(layout.board.outline)
    grown = board.buffer(_LIMIT, join_style="mitre")
    for polygon, name in zip(polygons, names, strict=True):
        if not shapely.covers(grown, polygon):
            yield _problem(layout, f"{name} lies partly off the board")
        elif margin > _LIMIT:
            found = shapely.distance(polygon, board.exterior)
            if found < margin - _LIMIT:
                yield _problem(layout, f"{name} lies {found:.4f} mm from the edge; the margin is {margin:.4f} mm")


def _check_parts(layout: Layout, items: Sequence[Item]) -> Iterable[Problem]:
    wanted: Counter[tuple[str, str]] = Counter()
    units: Counter[str] = Counter()
    for item in items:
        units[item.name] += item.count
        for part in item.build.shaped:
            wanted[item.name, part.name] += item.count
    known = {(item.name, part) for item in items for part in item.build.shaped}
    made: Counter[tuple[str, str]] = Counter()
    for board in layout.boards:
        for placement in board.placements:
            made[placement.item, placement.part.name] += board.stack * board.copies
            if (placement.item, placement.part) not in known:
                yield _problem(board, f"{_name(placement)} is none of the job's parts")
            if not 1 <= placement.unit <= units[placement.item]:
                yield _problem(board, f"{_name(placement)} is for unit {placement.unit} of {units[placement.item]}")
    for item_name, part_name in sorted(wanted.keys() | made.keys()):
        number, needed = made[item_name, part_name], wanted[item_name, part_name]
        if number != needed:
            yield Problem(
                place=f'item "{item_name}"', message=f'part "{part_name}" is made {number} times, not {needed}'
            )


def _check_together(layout: Layout, items: Sequence[Item]) -> Iterable[Problem]:
    """Problems with items kept together: each unit must be whole on one board layout, so that every board of a stack
    and every copy gives whole units.
    """
    names = {item.name for item in items if item.together}
    lies: dict[tuple[str, int], dict[int, Counter[ShapedPart]]] = {}
    for index, board in enumerate(layout.boards):
        for placement in board.placements if names else ():
            if placement.item not in names:
                continue
            unit = lies.setdefault((placement.item, placement.unit), {})
            unit.setdefault(index, Counter())[placement.part] += 1
    last: Counter[str] = Counter()
    for item in items:
        first, last[item.name] = last[item.name] + 1, last[item.name] + item.count
        for number in range(first, last[item.name] + 1) if item.together else ():
            found = lies.get((item.name, number), {})
            if len(found) > 1:
                where = ", ".join(layout.boards[index].id for index in found)
                message = f"the parts of unit {number} belong together and lie apart: {where}"
                yield Problem(place=f'item "{item.name}"', message=message)
            for index, parts in found.items() if len(found) == 1 else ():
                yield from _check_whole(layout.boards[index], item, number, parts)


def _check_whole(board: BoardLayout, item: Item, number: int, found: Counter[ShapedPart]) -> Iterable[Problem]:
    wanted = Counter(item.build.shaped)
    wrong = [
        f'{found[part]} of part "{part.name}", not {wanted[part]}'
        for part in wanted | found
        if found[part] != wanted[part]
    ]
    if wrong:
        unit = f'unit {number} of item "{item.name}"'
        yield _problem(board, f"{unit} belongs together and is not whole here: {'; '.join(wrong)}")


def _check_sawn(layout: Layout, items: Sequence[Item]) -> Iterable[Problem]:
    wanted: Counter[tuple[str, str, float]] = Counter()
    for item in items:
        for part in item.build.sawn:
            wanted[item.name, part.name, part.length] += item.count
    made: Counter[tuple[str, str, float]] = Counter()
    for piece in layout.sawn:
        made[piece.item, piece.part, piece.length] += piece.count
    for key in sorted(wanted.keys() | made.keys()):
        if wanted[key] != made[key]:
            message = f'part "{key[1]}", {key[2]:.3f} mm long, is sawn {made[key]} times, not {wanted[key]}'
            yield Problem(place=f'item "{key[0]}"', message=message)


def _check_boards(layout: Layout) -> Iterable[Problem]:
    used: Counter[Board] = Counter()
    for entry in layout.boards:
        if entry.stack < 1 or entry.copies < 1:
            yield _problem(entry, "stack and copies count from 1")
        used[entry.board] += entry.stack * entry.copies
    for board, number in used.items():
        if number > board.count:
            yield Problem(
                place=f'board "{board.name}"',
                message=f"{number} boards are used and there are {board.count}",
                location=board.location,
            )
    if len({entry.id for entry in layout.boards}) < len(layout.boards):
        yield Problem(message="two board layouts have the same id")


def _name(placement: Placement) -> str:
    return f'part "{placement.part.name}" of item "{placement.item}"'


def _problem(layout: BoardLayout, message: str) -> Problem:
    return Problem(place=f'{layout.id}, board "{layout.board.name}"', message=message)
