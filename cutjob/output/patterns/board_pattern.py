"""A board's layout to one long pattern: the board's edge, every part with its number and name, keep-outs. mm."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.output.patterns.pattern import Pattern, looked_at
from cutjob.output.patterns.picture import Picture, Stroke, arrow_chains, drawn, hatched, joined
from cutjob.output.patterns.symmetry import mirror_axes
from cutjob.output.patterns.wording import Arrow, Block, free_place
from cutjob.units import Unit

_SIZES = (4.0, 3.2, 2.6, 2.0)
_GRAIN = 40.0
_BOARD_WORDS = 3.0


def board_picture(
    board: BoardLayout, *, unit: Unit, seams: BaseGeometry | None
) -> tuple[Picture, tuple[BaseGeometry, ...]]:
    """Return a board's layout as a picture in the board's frame, and the areas of the board and of its parts, in order.

    Parts carry the numbers of the layout's picture. Words keep clear of `seams` where that is possible.
    """
    wood = looked_at(board.board.outline)
    keep_outs = [looked_at(area) for area in board.board.keep_outs]
    base = Picture(
        strokes=(
            Stroke(style="board", chains=(board.board.outline.segments,), closed=True),
            Stroke(style="keep-out", chains=tuple(area.segments for area in board.board.keep_outs), closed=True),
            Stroke(style="waste", chains=tuple(chain for area in keep_outs for chain in hatched(area))),
        )
    )
    pictures = [base]
    areas: list[BaseGeometry] = [wood]
    lines: dict[tuple[object, bool], tuple[Picture, BaseGeometry]] = {}
    for number, placement in enumerate(board.placements, start=1):
        key = (placement.part, placement.transform.mirrored)
        if key not in lines:
            lines[key] = _lines(placement, unit=unit)
        picture, area = lines[key]
        move = Transform(x=placement.transform.x, y=placement.transform.y, degrees=placement.transform.degrees)
        pictures.append(Picture(strokes=picture.moved(move).strokes))
        blocks = _number(number, placement, area, move, seams)
        pictures.append(Picture(blocks=blocks))
        areas.append(looked_at(placement.region))
    if board.board.grain == "length":
        pictures.append(_grain(wood, areas[1:], keep_outs, seams))
    return joined(pictures), tuple(areas)


def _lines(placement: Placement, *, unit: Unit) -> tuple[Picture, BaseGeometry]:
    """A part's lines, mirrored where the placement is, and where in its frame words may stand."""
    part = placement.part
    pattern = Pattern(number=0, part=part, item=placement.item, stacks=((1, 1, 1.0),), axes=mirror_axes(part))
    one = drawn(pattern, unit=unit, page=(0.0, 0.0))
    area: BaseGeometry = one.area.difference(one.centre_lines.buffer(0.5))
    if not placement.transform.mirrored:
        return one.lines, area
    return one.lines.moved(Transform(mirrored=True)), shapely.transform(area, lambda points: points * [-1.0, 1.0])


def _number(
    number: int, placement: Placement, area: BaseGeometry, move: Transform, seams: BaseGeometry | None
) -> tuple[Block, ...]:
    """The part's number and its name, or its number alone, in the board's frame."""
    moved = shapely.transform(area, lambda points: _points(points, move))
    tries = [moved] if seams is None else [moved.difference(seams), moved]
    for free in tries:
        for lines in ((str(number), placement.part.name), (f"{number} {placement.part.name}",), (str(number),)):
            for size in _SIZES:
                block = free_place(free, Block(lines=lines, at=(0.0, 0.0), size=size))
                if block is not None:
                    return (block,)
    spot = placement.polygon.representative_point()
    return (Block(lines=(str(number),), at=(float(spot.x), float(spot.y)), size=_SIZES[-1]),)


def _points(points: npt.NDArray[np.float64], move: Transform) -> npt.NDArray[np.float64]:
    return np.array([move.point((float(x), float(y))) for x, y in points]).reshape(-1, 2)


def _grain(
    wood: BaseGeometry, parts: Sequence[BaseGeometry], keep_outs: Sequence[BaseGeometry], seams: BaseGeometry | None
) -> Picture:
    """A grain arrow in the waste where there is room, else across the middle of the board."""
    taken = [*parts, *keep_outs, *([] if seams is None else [seams])]
    free = wood.buffer(-2.0).difference(shapely.union_all(taken).buffer(2.0))
    spot = free_place(free, Block(lines=("grain",), at=(0.0, 0.0), size=_BOARD_WORDS)) if not free.is_empty else None
    at = (float(wood.centroid.x), float(wood.centroid.y)) if spot is None else spot.at
    length = _GRAIN if spot is None else min(_GRAIN, 2 * spot.width)
    return Picture(strokes=(Stroke(style="grain", chains=arrow_chains(Arrow(at=at, length=length))),))
