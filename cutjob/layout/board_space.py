"""Boards as the search sees them: a box, and what in it is no place for parts. Lengths mm.

All is on the safe side: curves lie a little within the wood that may be used; straight edges are exact.
"""

from __future__ import annotations

from dataclasses import replace

import shapely
from shapely import Polygon

from cutjob.geometry.contour import Contour
from cutjob.geometry.polygons import polygons_of
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.bodies import Space
from cutjob.layout.clear_space import clear_area
from cutjob.layout.outline import ROUGHNESS, ring_points, simplified
from cutjob.layout.rules import Clearance
from cutjob.tolerances import TOLERANCES

_DEVIATION = 0.02  # of the tangents that stand for curves of keep-outs
_SLIVER = TOLERANCES.same_point  # what is thinner comes from rounding


def board_space(board: Board, *, clearance: Clearance) -> Space | None:
    """Return the box within the board's edge margin, with what the outline lacks of it and keep-outs as obstacles.

    None where the margin leaves nothing.
    """
    margin = clearance.edge_margin if clearance.edge_margin > _SLIVER else 0.0
    x0, y0, x1, y1 = board.outline.bounds
    box = (x0 + margin, y0 + margin, x1 - margin, y1 - margin)
    if box[2] - box[0] <= _SLIVER or box[3] - box[1] <= _SLIVER:
        return None
    clear = clear_area(replace(board, keep_outs=(), whys=()), gap=clearance.gap, edge_margin=margin)
    if shapely.area(clear) <= 0:
        return None
    lacking = polygons_of(shapely.difference(shapely.box(*box), clear))
    obstacles = [(piece, 0.0) for piece in lacking if not piece.buffer(-_SLIVER).is_empty]
    obstacles += [(_covering(knot), clearance.gap) for knot in board.keep_outs]
    return Space(box=box, obstacles=tuple(obstacles))


def _covering(knot: Contour) -> Polygon:
    return Polygon(simplified(ring_points(knot, _DEVIATION, grow=True), ROUGHNESS / 2))


def half_turned(board: Board) -> Board:
    """Return the board turned by 180 degrees in its frame: what is packed to its left end lies at the right one's."""
    turn = _half_turn(board)
    return replace(
        board, outline=turn.contour(board.outline), keep_outs=tuple(turn.contour(knot) for knot in board.keep_outs)
    )


def turned_back(transform: Transform, board: Board) -> Transform:
    """Return where a part placed on the half-turned board lies on the board itself."""
    x, y = _half_turn(board).point((transform.x, transform.y))
    return Transform(x=x, y=y, degrees=(transform.degrees + 180.0) % 360.0, mirrored=transform.mirrored)


def _half_turn(board: Board) -> Transform:
    x0, y0, x1, y1 = board.outline.bounds
    return Transform(x=x0 + x1, y=y0 + y1, degrees=180.0)
