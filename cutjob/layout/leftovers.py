"""Finds the leftovers of a board: single pieces taken off with one straight saw cut clear of its parts. Lengths mm.

The cut is a crosscut left or right of all parts or a rip above or below them. The cutter needs the gap round the parts
for its path, and the saw takes its kerf beyond that. A board may have a leftover at both ends, or at both edges.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from shapely import Polygon

from cutjob.geometry.polygons import from_polygon, polygons_of, to_polygon
from cutjob.geometry.segment import Bounds, Point, around
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout
from cutjob.tolerances import TOLERANCES

Side = Literal["left end", "right end", "lower edge", "upper edge", "sawn"]
# Pairs of sides whose pieces don't overlap.
_TOGETHER: tuple[tuple[Side, Side], ...] = (("left end", "right end"), ("lower edge", "upper edge"))
_SLACK = TOLERANCES.gap  # a piece of exactly the least size is large enough
_BEYOND = 1.0  # mm, how far the boxes that divide boards reach past them
# Pieces thinner than this are rounding errors.
_SLIVER = TOLERANCES.same_point


@dataclass(frozen=True, slots=True, kw_only=True)
class Leftover:
    """A leftover: a board in its own frame, without a price, with the number of such pieces.

    Its name is still that of its kind of board. `at` is the origin of its frame in the frame of the board of `layout`,
    which is None for a board that pieces were only sawn off.
    """

    board: Board
    side: Side
    layout: str | None = None
    at: Point = (0.0, 0.0)

    @property
    def area(self) -> float:
        """The area of one piece, keep-outs included, mm2."""
        return abs(self.board.outline.signed_area)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftoverRule:
    """A job's rule for leftovers: its gap, its edge margin, its saw's kerf, the least size kept."""

    gap: float
    edge_margin: float
    saw_kerf: float
    least: tuple[float, float]


def leftovers_of(
    layout: BoardLayout,
    *,
    gap: float,
    edge_margin: float,
    saw_kerf: float,
    least: tuple[float, float],
    swept: Bounds | None = None,
) -> tuple[Leftover, ...]:
    """Return the leftovers of a board worth keeping, the largest first: one, or both ends, or both edges.

    `least` is the length and width of a rectangle, clear of keep-outs, that a piece must hold: along and across the
    grain, or in either direction where the board has none. A piece no wider than two edge margins is not kept, as no
    part fits on it. `swept` is the box of everything that the cutter's edge touches, where known, as leads reach past
    the gap.
    """
    if not layout.placements:
        whole = _whole(layout, edge_margin=edge_margin, least=least)
        return (whole,) if whole is not None else ()
    box = _box_of_parts(layout, gap)
    if swept is not None:
        box = (min(box[0], swept[0]), min(box[1], swept[1]), max(box[2], swept[2]), max(box[3], swept[3]))
    size = _least_size(least, edge_margin)
    found = [
        (side, piece)
        for side, area, _ in _sides(layout.board, box, saw_kerf)
        for piece in _pieces(layout.board, area)
        if _is_usable(piece, layout.board, size)
    ]
    if not found:
        return ()
    best = max(found, key=lambda pair: pair[1].area)[0]
    together = next(pair for pair in _TOGETHER if best in pair)
    kept = sorted((pair for pair in found if pair[0] in together), key=lambda pair: -pair[1].area)
    return tuple(_leftover(layout, side, piece) for side, piece in kept)


def wood_left(layout: BoardLayout, rule: LeftoverRule | None, *, less: float = 0.0) -> list[Polygon]:
    """Return the pieces that `leftovers_of` would give, in the board's frame, the largest first; none without a rule.

    They keep `less` mm more distance from the parts than needed.
    """
    if rule is None or not layout.placements:
        return []
    gap, least = rule.gap + less, rule.least
    found = leftovers_of(layout, gap=gap, edge_margin=rule.edge_margin, saw_kerf=rule.saw_kerf, least=least)
    return [to_polygon(Transform(x=one.at[0], y=one.at[1]).contour(one.board.outline)) for one in found]


def largest_leftover(
    layout: BoardLayout, *, gap: float, edge_margin: float, saw_kerf: float, least: tuple[float, float]
) -> float:
    """Return the area of the largest piece that `leftovers_of` would give, mm2; 0.0 for none."""
    if not layout.placements:
        whole = _whole(layout, edge_margin=edge_margin, least=least)
        return whole.area if whole is not None else 0.0
    size = _least_size(least, edge_margin)
    sides = sorted(_sides(layout.board, _box_of_parts(layout, gap), saw_kerf), key=lambda side: -side[2])
    best = 0.0
    for _, area, greatest in sides:
        if greatest <= best:
            break
        for piece in sorted(_pieces(layout.board, area), key=lambda piece: -piece.area):
            if piece.area <= best:
                break
            if _is_usable(piece, layout.board, size):
                best = piece.area
    return best


def sawn_leftovers(
    layouts: Sequence[BoardLayout], boards: Sequence[Board], *, edge_margin: float, least: tuple[float, float]
) -> tuple[Leftover, ...]:
    """Return the leftovers of boards that pieces were sawn off and no part was laid on.

    `boards` are those left after the sawing, also the ones used by layouts.
    """
    used: Counter[Board] = Counter()
    for layout in layouts:
        used[layout.board] += layout.stack * layout.copies
    found = []
    for board in boards:
        left = board.count - used[board]
        polygon = to_polygon(board.outline)
        if board.sawn_off and left > 0 and _is_usable(polygon, board, _least_size(least, edge_margin)):
            found.append(Leftover(board=_as_leftover(board, count=left), side="sawn"))
    return tuple(found)


def _whole(layout: BoardLayout, *, edge_margin: float, least: tuple[float, float]) -> Leftover | None:
    """A board without parts, which is a leftover only where something was sawn off it."""
    board = layout.board
    if not board.sawn_off or not _is_usable(to_polygon(board.outline), board, _least_size(least, edge_margin)):
        return None
    return Leftover(board=_as_leftover(board, count=layout.stack * layout.copies), side="sawn", layout=layout.id)


def _as_leftover(board: Board, *, count: int) -> Board:
    return replace(board, count=count, price=0.0, sawn_off=0.0, location=None)


def _box_of_parts(layout: BoardLayout, gap: float) -> Bounds:
    x0, y0, x1, y1 = around([placement.region.bounds for placement in layout.placements])
    return x0 - gap, y0 - gap, x1 + gap, y1 + gap


def _sides(board: Board, box: Bounds, kerf: float) -> Iterator[tuple[Side, Polygon, float]]:
    """The sides for a leftover: the area beyond the saw cut, and the greatest area of a piece there."""
    x0, y0, x1, y1 = board.outline.bounds
    left, bottom, right, top = box[0] - kerf, box[1] - kerf, box[2] + kerf, box[3] + kerf
    low_x, low_y, high_x, high_y = x0 - _BEYOND, y0 - _BEYOND, x1 + _BEYOND, y1 + _BEYOND
    if left - x0 > _SLIVER:
        yield "left end", shapely.box(low_x, low_y, left, high_y), (left - x0) * (y1 - y0)
    if x1 - right > _SLIVER:
        yield "right end", shapely.box(right, low_y, high_x, high_y), (x1 - right) * (y1 - y0)
    if bottom - y0 > _SLIVER:
        yield "lower edge", shapely.box(low_x, low_y, high_x, bottom), (bottom - y0) * (x1 - x0)
    if y1 - top > _SLIVER:
        yield "upper edge", shapely.box(low_x, top, high_x, high_y), (y1 - top) * (x1 - x0)


def _pieces(board: Board, area: Polygon) -> list[Polygon]:
    return polygons_of(shapely.intersection(to_polygon(board.outline), area))


def _least_size(least: tuple[float, float], edge_margin: float) -> tuple[float, float]:
    return max(least[0], 2 * edge_margin), max(least[1], 2 * edge_margin)


def _is_usable(piece: Polygon, board: Board, least: tuple[float, float]) -> bool:
    """Whether a piece, clear of keep-outs, holds a rectangle of the least size."""
    length, width = least[0] - _SLACK, least[1] - _SLACK
    sizes = [(length, width)] if board.grain == "length" else [(length, width), (width, length)]
    if not any(_is_within_box(piece, *size) for size in sizes):
        return False
    # A rectangle beside a round knot keeps about as clear of the box round the knot, which has only four edges.
    areas = [one.area for one in board.keep_outs]
    knots = [shapely.box(*area.bounds) if area.circle() else to_polygon(area) for area in areas]
    clear = polygons_of(piece.difference(shapely.union_all(knots))) if knots else [piece]
    return any(_holds(part, *size) for part in clear for size in sizes)


def _is_within_box(piece: Polygon, length: float, width: float) -> bool:
    x0, y0, x1, y1 = piece.bounds
    return x1 - x0 >= length and y1 - y0 >= width


def _holds(area: Polygon, length: float, width: float) -> bool:
    """Whether a rectangle along x and y fits in an area with holes.

    Its lower left corner may be wherever the rectangle does not meet the boundary: outside the sums of all edges with
    the rectangle reflected in its origin (Minkowski erosion).
    """
    if not _is_within_box(area, length, width):
        return False
    x0, y0, x1, y1 = area.bounds
    if area.area >= (x1 - x0) * (y1 - y0) - _SLIVER:
        return True
    length, width = length - 10 * _SLIVER, width - 10 * _SLIVER  # so that a rectangle of exactly this size fits
    offsets = np.array([(0.0, 0.0), (-length, 0.0), (0.0, -width), (-length, -width)])
    corners = []
    for ring in (area.exterior, *area.interiors):
        points = np.asarray(ring.coords)
        ends = np.stack([points[:-1], points[1:]], axis=1)
        corners.append((ends[:, :, None, :] + offsets).reshape(len(ends), 8, 2))
    blocked = shapely.union_all(shapely.convex_hull(shapely.multipoints(np.concatenate(corners))))
    return bool(polygons_of(area.difference(blocked)))


def _leftover(layout: BoardLayout, side: Side, piece: Polygon) -> Leftover:
    x0, y0, _, _ = piece.bounds
    move = Transform(x=-x0, y=-y0)
    board = layout.board
    # Things that stand above the board, such as clamps, are gone when the board is off the machine.
    in_wood = [one for one in board.keep_outs if one.height <= 0]
    made = replace(
        _as_leftover(board, count=layout.stack * layout.copies),
        outline=move.contour(from_polygon(Polygon(piece.exterior)).outline.turned(counter_clockwise=True)),
        keep_outs=tuple(one.moved(move) for one in in_wood if to_polygon(one.area).intersection(piece).area > 0),
        square_end=None,
        ear=0.0,
    )
    return Leftover(board=made, side=side, layout=layout.id, at=(x0, y0))
