"""Adds the numbers of the parts to boards, cut by a cutter that is fine enough for their height. mm.

The number of each part is that in the picture. It is cut on the part or beside it in the waste, where there is room.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from cutjob.cuts.cutter_choice import Cutters
from cutjob.cuts.nose_margin import off_clamps
from cutjob.errors import InputError, Location, Problem
from cutjob.geometry.lettering import strokes
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Segment
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Cutter, Machine
from cutjob.layout.layout import BoardLayout, Lettering, Placement
from cutjob.units import RULE, TAPE, Unit, length, rounded_up

_MARGIN = 1.0  # between strokes and any other edge
_APART = 0.75  # between two numbers, in heights of one: a 2 close before a 4 would be read as 24
_SMALLER = 0.85  # tried where there is no room
_PLACES, _MOST_PLACES = 15, 90  # tried along a side of the area searched
_AROUND = 3.0  # heights of a number round a part that its own may lie from it


def number_lettering(
    layout: BoardLayout,
    *,
    where: Literal["part", "waste"],
    height: float,
    least_height: float,
    depth: float,
    line_width: float,
    slot: float,
) -> tuple[tuple[Lettering, ...], tuple[int, ...]]:
    """Return the strokes of each placement's number, counted from 1, and the placements that had no room for theirs.

    They are upright in the board's frame or, on parts that stand across it, turned by 90 degrees. They are as high as
    `height`, or lower where room is short, down to `least_height`. `line_width` is the cutter's. In the waste they keep
    `slot` off every part and stay in the part's own window. A point behind 6, 9, 66, 68 and the like shows which way up
    they are.
    """
    found: list[Lettering] = []
    without: list[int] = []
    waste = _waste(layout, slot + line_width / 2 + _MARGIN, line_width) if where == "waste" else None
    for index, placement in enumerate(layout.placements):
        free = _on_part(placement, line_width) if waste is None else _on_bed(waste, layout, index)
        near = None if waste is None else placement.polygon
        paths = _fitted(_words(index + 1), free, near, height=height, least=least_height)
        if paths is None:
            without.append(index)
            continue
        found.append(Lettering(placement=index, paths=paths, depth=depth))
        if waste is not None:
            taken = shapely.union_all([shapely.LineString(_points(path)) for path in paths])
            x0, y0, x1, y1 = taken.bounds
            high = max(x1 - x0, y1 - y0) if index < 9 else min(x1 - x0, y1 - y0)
            waste = shapely.difference(waste, taken.buffer(max(line_width + 2 * _MARGIN, _APART * high)))
    return tuple(found), tuple(without)


def _words(number: int) -> str:
    """The number, with a point behind it where it could be read upside down as another."""
    text = str(number)
    return f"{text}." if set(text) <= set("0689") and set(text) & set("69") else text


def _on_part(placement: Placement, line_width: float) -> BaseGeometry:
    """The area of a part's face where strokes may be."""
    part, move = placement.part, placement.transform
    room = line_width / 2 + _MARGIN
    taken = [shapely.Point(move.point(hole.at)).buffer(hole.diameter / 2) for hole in part.round_holes]
    taken += [to_polygon(move.region(pocket.region)) for pocket in part.pockets]
    taken += [
        shapely.LineString(_points([move.segment(segment) for segment in mark.path])).buffer(line_width / 2)
        for mark in part.marks
    ]
    free = placement.polygon.difference(shapely.union_all(taken)) if taken else placement.polygon
    return free.buffer(-room)


def _waste(layout: BoardLayout, room: float, line_width: float) -> BaseGeometry:
    board = to_polygon(layout.board.outline).buffer(-line_width / 2 - _MARGIN)
    taken = [placement.polygon.buffer(room) for placement in layout.placements]
    taken += [to_polygon(one.area).buffer(line_width / 2 + _MARGIN) for one in layout.board.keep_outs]
    return shapely.difference(board, shapely.union_all(taken))


def _on_bed(waste: BaseGeometry, layout: BoardLayout, placement: int) -> BaseGeometry:
    """The waste that lies on the machine's bed while a part is cut, where the board is cut in windows."""
    own = [window for window in layout.windows if placement in window.placements]
    if not own:
        return waste
    _, y0, _, y1 = layout.board.outline.bounds
    return shapely.intersection(waste, shapely.box(own[0].first, y0, own[0].last, y1))


def _fitted(
    words: str,
    free: BaseGeometry,
    near: BaseGeometry | None,
    *,
    height: float,
    least: float,
) -> tuple[tuple[Segment, ...], ...] | None:
    """The strokes where they fit best: as near to a part as possible, or with the most room around them."""
    if free.is_empty:
        return None
    x0, y0, x1, y1 = free.bounds if near is None else near.bounds
    for degrees in (0.0, 90.0) if x1 - x0 >= y1 - y0 else (90.0, 0.0):
        size = max(height, least)
        while size >= least - 1e-9:
            found = _at_size(words, free, near, degrees, size)
            if found is not None:
                return found
            size *= _SMALLER
    return None


def _at_size(
    words: str, free: BaseGeometry, near: BaseGeometry | None, degrees: float, size: float
) -> tuple[tuple[Segment, ...], ...] | None:
    paths = strokes(words, height=size)
    wide, high = np.array([point for path in paths for point in _points(path)]).max(axis=0)
    area = free.bounds if near is None else near.buffer(_AROUND * size).bounds
    across, up = (wide, high) if degrees == 0 else (high, wide)
    centre = _place(free, near, area, across, up)
    if centre is None:
        return None
    shift = Transform(x=-wide / 2, y=-high / 2)
    turn = Transform(x=centre[0], y=centre[1], degrees=degrees)
    return tuple(tuple(turn.segment(shift.segment(segment)) for segment in path) for path in paths)


def _place(
    free: BaseGeometry,
    near: BaseGeometry | None,
    area: tuple[float, float, float, float],
    across: float,
    up: float,
) -> tuple[float, float] | None:
    """The middle of the best box of a size within the free area, among evenly spread places."""
    x0, y0, x1, y1 = area
    step = max(min(across, up) / 2, 1e-3)
    xs, ys = (
        np.linspace(low, high, min(max(_PLACES, math.ceil((high - low) / step)), _MOST_PLACES) + 2)[1:-1]
        for low, high in ((x0, x1), (y0, y1))
    )
    x, y = (grid.ravel() for grid in np.meshgrid(xs, ys))
    boxes = shapely.box(x - across / 2, y - up / 2, x + across / 2, y + up / 2)
    shapely.prepare(free)
    inside = np.flatnonzero(shapely.covers(free, boxes))
    if not len(inside):
        return None
    if near is None:
        rank = -shapely.distance(boxes[inside], shapely.boundary(free))
    else:
        rank = shapely.distance(boxes[inside], near)
    best = inside[int(np.lexsort((x[inside], y[inside], np.round(rank, 6)))[0])]
    return float(x[best]), float(y[best])


def _points(path: Sequence[Segment]) -> list[tuple[float, float]]:
    return [path[0].start, *(segment.end for segment in path)]


# Letters lower than this many widths of their strokes can't be read: at this height the rounds of an 8 are just as wide
# as a stroke. Common practice, no source.
_LEAST_STROKES = 4.0
_STEP: dict[Unit, float] = {"mm": RULE["mm"], "in": TAPE["in"]}  # of heights in messages, mm
_SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class _Attempt:
    """Boards numbered with one cutter, and for each board the placements that had no room."""

    boards: tuple[BoardLayout, ...]
    without: tuple[tuple[int, ...], ...]

    @property
    def lacking(self) -> int:
        return sum(map(len, self.without))


def numbered_boards(
    boards: Sequence[BoardLayout],
    *,
    where: Literal["part", "waste"],
    height: float,
    asked: bool,
    cutters: Cutters,
    machine: Machine,
    location: Location | None = None,
) -> tuple[tuple[BoardLayout, ...], tuple[str, ...]]:
    """Return the boards with the numbers of their parts, `height` mm high or less where there is no room, and warnings
    about those left out.

    The cutter for outlines makes them where they can be read then and all have room, which saves a change; else the
    finest does. A height that was `asked` for is refused if it can't be read; otherwise they are made higher. Raises
    InputError with the least height for the finest cutter; `location` is the height's.
    """
    depth = machine.cutting.mark_depth
    finest = cutters.for_strokes(depth=depth)
    if asked and height < _least(finest) - _SLACK:
        raise InputError(_too_low(height, finest, location))
    choices = dict.fromkeys([cutters.outline, finest] if _may_number(cutters, depth, height) else [finest])
    best: _Attempt | None = None
    for cutter in choices:
        attempt = _numbered(
            boards, cutter, machine, where=where, height=height, depth=depth, slot=cutters.outline.diameter
        )
        if best is None or attempt.lacking < best.lacking:
            best = attempt
        if not best.lacking:
            break
    assert best is not None
    return best.boards, tuple(_warnings(best, finest))


def _may_number(cutters: Cutters, depth: float, height: float) -> bool:
    outline = cutters.outline
    return not outline.only_down and depth <= outline.cutting_length and height >= _least(outline) - _SLACK


def _least(cutter: Cutter) -> float:
    return _LEAST_STROKES * cutter.diameter


def _numbered(
    boards: Sequence[BoardLayout],
    cutter: Cutter,
    machine: Machine,
    *,
    where: Literal["part", "waste"],
    height: float,
    depth: float,
    slot: float,
) -> _Attempt:
    made, without = [], []
    for board in boards:
        found, lacking = number_lettering(
            replace(board, board=off_clamps(board.board, cutter, depth, machine, kept=0.0)),
            where=where,
            height=height,
            least_height=_least(cutter),
            depth=depth,
            line_width=cutter.diameter,
            slot=slot,
        )
        made.append(replace(board, lettering=tuple(replace(one, cutter=cutter.number) for one in found)))
        without.append(lacking)
    return _Attempt(tuple(made), tuple(without))


def _warnings(attempt: _Attempt, finest: Cutter) -> list[str]:
    high = f"which cutter {finest.number} must make at least {rounded_up(_least(finest), _STEP)} high to be read"
    return [
        f"{board.id}: no room for the numbers of parts {', '.join(str(index + 1) for index in without)}, {high}"
        for board, without in zip(attempt.boards, attempt.without, strict=True)
        if without
    ]


def _too_low(height: float, finest: Cutter, location: Location | None) -> Problem:
    return Problem(
        location=location,
        place="number_height",
        message=f"numbers {length(height)} high can't be read when cut {length(finest.diameter)} wide by cutter "
        f"{finest.number}, the finest cutter for them",
        advice=f"give at least {rounded_up(_least(finest), _STEP)}, or name a finer cutter in the job's cutter as well",
    )
