"""The board under the parts of a picture: wood, grain, keep-outs, offcuts, and the windows it is cut in. mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LineString, Polygon

from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Point
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout, Window
from cutjob.layout.leftovers import Leftover
from cutjob.output.numbers import size_at_least
from cutjob.output.picture.key import LETTER, fitting, hatch, runs_within
from cutjob.output.picture.svg_shapes import Sheet
from cutjob.output.words.held import other_keep_outs
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit

_GRAIN_LINES = 9
_DEVIATION = 0.05  # chords of what is only looked at, mm
# The height of a row of windows beside the board, in heights of the text.
_ROW = 1.6


def draw_wood(sheet: Sheet, layout: BoardLayout) -> set[str]:
    """Add the board, its grain and its keep-outs, without the clamps that hold it; keep-outs with a height are hatched
    crosswise. Return the classes used.
    """
    board = other_keep_outs(layout)
    shown: set[str] = set()
    sheet.contours(sheet.group("board"), [board.outline])
    wood = to_polygon(board.outline, deviation=_DEVIATION)
    if board.grain == "length":
        lines = [
            LineString([(-1.0, y), (board.length + 1.0, y)])
            for y in (board.width * (step + 0.5) / _GRAIN_LINES for step in range(_GRAIN_LINES))
        ]
        sheet.lines(sheet.group("grain"), runs_within(lines, wood))
        shown.add("grain")
    for one in board.keep_outs:
        stands = one.height > 0
        name = "standing" if stands else "keep-out"
        sheet.contours(sheet.group(name), [one.area])
        lines_within = hatch(to_polygon(one.area, deviation=_DEVIATION), sheet.text / 2, crossed=stands)
        sheet.lines(sheet.group(f"{name}-hatch"), lines_within)
        shown.add(name)
    return shown


def draw_leftovers(sheet: Sheet, leftovers: Sequence[Leftover], units: Unit) -> set[str]:
    """Outline and hatch the offcuts, with their size; return the classes used."""
    for leftover in leftovers:
        move = Transform(x=leftover.at[0], y=leftover.at[1])
        outline = move.contour(leftover.board.outline)
        area = to_polygon(outline, deviation=_DEVIATION)
        sheet.lines(sheet.group("leftover-hatch"), hatch(area, 1.5 * sheet.text))
        sheet.contours(sheet.group("leftover"), [outline])
        size = size_at_least(leftover.board.length, leftover.board.width, unit=units)
        words = fitting(f"left: {size}", width=leftover.board.length, text=sheet.text)
        knots = [move.contour(one.area) for one in leftover.board.keep_outs]
        place = _place_for(words, area, [to_polygon(knot, deviation=_DEVIATION) for knot in knots], sheet.text)
        sheet.words(words, place, size=sheet.text, anchor="middle")
    return {"leftover"} if leftovers else set()


def _place_for(words: str, area: Polygon, knots: Sequence[Polygon], text: float) -> Point:
    """The place nearest to the middle of an area's box, on a grid, where words fit in and cross no knot; else the
    middle of the largest circle in the area.
    """
    x0, y0, x1, y1 = area.bounds
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    half = len(words) * LETTER * text / 2
    free = area.difference(shapely.union_all([knot.buffer(text / 4) for knot in knots])) if knots else area
    steps = [(across * (x1 - x0) / 16, up * (y1 - y0) / 8) for across in range(-7, 8) for up in range(-3, 4)]
    for dx, dy in sorted(steps, key=lambda step: (math.hypot(*step), step)):
        if free.covers(shapely.box(x + dx - half, y + dy, x + dx + half, y + dy + text)):
            return x + dx, y + dy
    (x, y), *_ = shapely.maximum_inscribed_circle(area, tolerance=0.5).coords
    return float(x), float(y)


def rows_of_windows(windows: Sequence[Window]) -> list[int]:
    """Return a row for each window: 0 above the board, 1 below it, 2 above row 0, and so on; in a row none overlap."""
    ends: list[float] = []
    rows = []
    for window in windows:
        row = next((row for row, end in enumerate(ends) if window.first >= end - TOLERANCES.same_point), len(ends))
        ends[row : row + 1] = [window.last]
        rows.append(row)
    return rows


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """How far beyond each side of the board's box its picture reaches, mm."""

    left: float
    right: float
    above: float
    below: float


def room_around(layout: BoardLayout, *, text: float) -> Room:
    """Return the room for things that reach over the board's edges: clamps, other keep-outs, the rows of windows."""
    over = _overhang(layout)
    count = max(rows_of_windows(layout.windows), default=-1) + 1
    above, below = (rows * _ROW * text for rows in ((count + 1) // 2, count // 2))
    return replace(over, above=over.above + above, below=over.below + below)


def _overhang(layout: BoardLayout) -> Room:
    """How far clamps and keep-outs, with the lines drawn round them, stick out over the board's edges."""
    board, holding = layout.board, layout.holding
    areas = [*(one.area for one in board.keep_outs), *(hold.area for hold in (holding.holds if holding else ()))]
    boxes = np.array([(0.0, 0.0, board.length, board.width), *(area.bounds for area in areas)])
    (x0, y0), (x1, y1) = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return Room(left=float(-x0), right=float(x1 - board.length), above=float(y1 - board.width), below=float(-y0))


def draw_windows(sheet: Sheet, layout: BoardLayout) -> set[str]:
    """Add a dashed bracket with its number for each window, at the board's edges; return the classes used."""
    board, text, over = layout.board, sheet.text, _overhang(layout)
    for number, (window, row) in enumerate(zip(layout.windows, rows_of_windows(layout.windows), strict=True), start=1):
        first, last = max(window.first, 0.0), min(window.last, board.length)
        edge, out = (board.width + over.above, 1.0) if row % 2 == 0 else (-over.below, -1.0)
        y = edge + out * (row // 2 * _ROW + 0.8) * text
        tick = y - out * 0.55 * text
        name = f"window {number}"
        half = (len(name) * LETTER + 1.0) * text / 2
        middle = (first + last) / 2
        # The line leaves room for the number in its middle.
        runs = [[(first, tick), (first, y), (middle - half, y)], [(middle + half, y), (last, y), (last, tick)]]
        sheet.lines(sheet.group("window"), runs if half < (last - first) / 2 else [[(first, tick), (first, y)]])
        sheet.words(name, (middle, y - 0.36 * text), size=text, anchor="middle")
    return {"window"} if layout.windows else set()
