"""Patterns to an SVG for a cutting plotter: true size in mm, with cut lines and drawn lines in separate groups.

`cut` holds outlines and openings as closed paths, `draw` all other lines and the letters as single strokes. Arcs stay
arcs. Words with letters that have no strokes are text, for the plotter's own program to draw.

Also a board's layout to one long pattern: the board's edge, every part with its number and name, keep-outs.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.contour import Contour
from cutjob.geometry.lettering import strokes
from cutjob.geometry.segment import Point, Segment
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.output.operations import css_colour
from cutjob.output.paper.letters import CAPITAL, width_of
from cutjob.output.paper.pattern import Pattern, looked_at, mirror_axes
from cutjob.output.paper.picture import (
    LOOKS,
    ORDER,
    Drawn,
    Picture,
    Stroke,
    arrow_chains,
    clear_of,
    drawn,
    hatched,
    joined,
    with_words,
)
from cutjob.output.paper.wording import Arrow, Block, free_place
from cutjob.output.picture.svg_shapes import Sheet, coordinate, printable
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
    keep_outs = [looked_at(one.area) for one in board.board.keep_outs]
    base = Picture(
        strokes=(
            Stroke(style="board", chains=(board.board.outline.segments,), closed=True),
            Stroke(style="keep-out", chains=tuple(one.area.segments for one in board.board.keep_outs), closed=True),
            Stroke(style="waste", chains=tuple(chain for area in keep_outs for chain in hatched(area))),
        )
    )
    pictures = [base]
    areas: list[BaseGeometry] = [wood]
    lines: dict[tuple[object, bool], tuple[Picture, BaseGeometry]] = {}
    woods = [looked_at(placement.region) for placement in board.placements]
    for number, placement in enumerate(board.placements, start=1):
        key = (placement.part, placement.transform.mirrored)
        if key not in lines:
            lines[key] = _board_lines(placement, unit=unit)
        picture, area = lines[key]
        move = Transform(x=placement.transform.x, y=placement.transform.y, degrees=placement.transform.degrees)
        others = shapely.union_all([*woods[: number - 1], *woods[number:]])
        pictures.append(clear_of(Picture(strokes=picture.moved(move).strokes), others))
        blocks = _number(number, placement, area, move, seams)
        pictures.append(Picture(blocks=blocks))
        areas.append(woods[number - 1])
    if board.board.grain == "length":
        pictures.append(_grain(wood, areas[1:], keep_outs, seams))
    return joined(pictures), tuple(areas)


def _board_lines(placement: Placement, *, unit: Unit) -> tuple[Picture, BaseGeometry]:
    """A part's lines, mirrored if the placement is, and the area in its frame where words may be."""
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
    """A grain arrow in the waste if there is room, else across the middle of the board."""
    taken = [*parts, *keep_outs, *([] if seams is None else [seams])]
    free = wood.buffer(-2.0).difference(shapely.union_all(taken).buffer(2.0))
    spot = free_place(free, Block(lines=("grain",), at=(0.0, 0.0), size=_BOARD_WORDS)) if not free.is_empty else None
    at = (float(wood.centroid.x), float(wood.centroid.y)) if spot is None else spot.at
    length = _GRAIN if spot is None else min(_GRAIN, 2 * spot.width)
    return Picture(strokes=(Stroke(style="grain", chains=arrow_chains(Arrow(at=at, length=length))),))


_GAP = 5.0  # between two patterns, and to the sheet's edge
_CUT = ("outline", "opening")
_NOT_DRAWN = ("waste",)  # hatches only take a plotter time
_LINE = 0.25
# Letters that have no strokes.
_SPELLED = str.maketrans({":": ",", ";": ","})


def write_parts_svg(patterns: Sequence[Pattern], *, width: float, title: str, unit: Unit) -> bytes:
    """Return all patterns in rows on a sheet as wide as the plotter takes, `width` mm, or as the widest needs."""
    ready = [drawn(pattern, unit=unit, page=(0.0, 0.0)) for pattern in patterns]
    turned = [_flat(one, width - 2 * _GAP) for one in ready]
    wide = max([width, *(box[0] + 2 * _GAP for _, box in turned)])
    pictures: list[Picture] = []
    x = y = _GAP
    tallest = 0.0
    # Rows of patterns of about one height waste least.
    for index in sorted(range(len(turned)), key=lambda index: (-turned[index][1][1], index)):
        move, (across, up) = turned[index]
        if x > _GAP and x + across + _GAP > wide:
            x, y, tallest = _GAP, y + tallest + _GAP, 0.0
        placed = Transform(x=move.x + x, y=move.y + y, degrees=move.degrees)
        pictures.append(with_words(ready[index], unit=unit).moved(placed))
        x, tallest = x + across + _GAP, max(tallest, up)
    return _svg(joined(pictures), (wide, y + tallest + _GAP), title=title)


def write_board_svg(board: BoardLayout, *, title: str, unit: Unit) -> bytes:
    """Return a board's whole layout, its length along x."""
    picture, _ = board_picture(board, unit=unit, seams=None)
    x0, y0, x1, y1 = board.board.outline.bounds
    placed = picture.moved(Transform(x=_GAP - x0, y=_GAP - y0))
    return _svg(placed, (x1 - x0 + 2 * _GAP, y1 - y0 + 2 * _GAP), title=f"{title}: {board.id}")


def _flat(one: Drawn, room: float) -> tuple[Transform, Point]:
    """The move that turns a pattern to begin at the origin, lower than wide if the sheet allows; and its size."""
    x0, y0, x1, y1 = one.paper.bounds
    across, up = x1 - x0, y1 - y0
    if (across >= up) == (max(across, up) <= room):
        return Transform(x=-x0, y=-y0), (across, up)
    return Transform(x=y1, y=-x0, degrees=90.0), (up, across)


def _svg(picture: Picture, size: Point, *, title: str) -> bytes:
    width, height = (coordinate(length) for length in size)
    root = Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": f"{width}mm",
            "height": f"{height}mm",
            "viewBox": f"0 0 {width} {height}",
        },
    )
    name = SubElement(root, "title")
    name.text = printable(title)
    groups = {key: SubElement(root, "g", {"id": key, "fill": "none"}) for key in ("draw", "cut")}
    sheet = Sheet(root=root, left=0.0, bottom=size[1], text=4.0)
    for style in ORDER:
        if style not in _NOT_DRAWN:
            _lines(sheet, groups["cut" if style in _CUT else "draw"], picture, style)
    _letters(sheet, groups["draw"], picture)
    data: bytes = ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)
    return data + b"\n"


def _lines(sheet: Sheet, within: Element, picture: Picture, style: str) -> None:
    """A path for each outline, so that a plotter's program can take them one by one."""
    own = [stroke for stroke in picture.strokes if stroke.style == style and stroke.chains]
    if not own:
        return
    stroke = LOOKS[style].stroke or (0, 0, 0)
    look = {"class": style, "stroke": css_colour(stroke), "stroke-width": coordinate(_LINE)}
    group = SubElement(within, "g", look)
    for each in own:
        for chain in each.chains:
            if each.closed:
                sheet.contours(group, [Contour(chain)])
            else:
                sheet.chain(group, chain)


def _letters(sheet: Sheet, within: Element, picture: Picture) -> None:
    group = SubElement(within, "g", {"class": "letters", "stroke": "#000000", "stroke-width": coordinate(_LINE)})
    for block in picture.blocks:
        degrees = block.degrees % 360
        degrees += 180 if 90.01 < degrees <= 270.01 else 0
        turn = Transform(x=block.at[0], y=block.at[1], degrees=degrees % 360)
        for line, height in block.base_lines():
            _line(sheet, group, line, height, block.size, turn)


def _line(sheet: Sheet, group: Element, line: str, height: float, size: float, turn: Transform) -> None:
    try:
        runs = strokes(line.translate(_SPELLED), height=size * CAPITAL)
    except ValueError:
        at = turn.point((0.0, height))
        x, y = coordinate(at[0] + sheet.left), coordinate(sheet.bottom - at[1])
        made = SubElement(
            group,
            "text",
            {
                "transform": f"translate({x} {y}) rotate({coordinate(-turn.degrees)})",
                "font-size": coordinate(size),
                "font-family": "sans-serif",
                "text-anchor": "middle",
                "fill": "#000000",
                "stroke": "none",
            },
        )
        made.text = printable(line)
        return
    # Strokes are wider than print, and the room was found for print.
    if _right(runs) > width_of(line, size=size):
        runs = strokes(line.translate(_SPELLED), height=size * CAPITAL * width_of(line, size=size) / _right(runs))
    moved = Transform(x=-_right(runs) / 2, y=height)
    for run in runs:
        sheet.chain(group, [turn.segment(moved.segment(segment)) for segment in run])


def _right(runs: Iterable[Sequence[Segment]]) -> float:
    return max((segment.end[0] for run in runs for segment in run), default=0.0)
