"""Room for the spindle's nose beside what stands on a board: parts are laid so far away that it passes. mm.

Where a cutter goes down so deep that the nose comes as low as a clamp, the clamp counts as so much larger while parts
are laid out; the boards laid out are then given their own keep-outs back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cutjob.cuts.holding import run_beside
from cutjob.geometry.contour import Contour
from cutjob.geometry.polygons import from_polygon, to_polygon
from cutjob.job.machine import Cutter, Machine
from cutjob.job.stock import Board
from cutjob.layout.layout import Layout
from cutjob.layout.sawing import shortened
from cutjob.tolerances import TOLERANCES

_OVER = 1.0  # mm of air at least between the nose and what stands on a board; common practice, no source
_CORNER = 2.0  # how much farther than its edges a sharp corner may reach


def room_for_nose(
    boards: Sequence[Board], *, machine: Machine, cutter: Cutter, gap: float, stack: int
) -> tuple[Board, ...]:
    """Return the boards with all that stands on them grown by as much as parts must lie farther off than `gap`.

    `cutter` cuts the outlines. Of a cutter of which the profile doesn't say by how much it sticks out nothing is known.
    """
    return tuple(_with_room(board, machine, cutter, gap, stack) for board in boards)


def _with_room(board: Board, machine: Machine, cutter: Cutter, gap: float, stack: int) -> Board:
    nose = machine.spindle.nose_diameter
    if nose is None or machine.kind != "router" or not any(board.heights):
        return board
    depth = stack * board.thickness + machine.cutting.overcut
    areas = []
    for area, height in zip(board.keep_outs, (*board.heights, *(0.0,) * len(board.keep_outs)), strict=False):
        reaches = [
            # Beside a part the middle of its cutter runs; that of any other stays within.
            nose / 2 + (run_beside(machine, cutter, 2 * TOLERANCES.curve) if one.number == cutter.number else 0.0)
            for one in machine.cutter
            if one.stickout is not None and one.stickout - depth < height + _OVER
        ]
        more = max(reaches, default=0.0) - gap
        areas.append(_grown(area, more) if height > 0 and more > 0 else area)
    return replace(board, keep_outs=tuple(areas))


def _grown(area: Contour, reach: float) -> Contour:
    grown = to_polygon(area).buffer(reach, join_style="mitre", mitre_limit=_CORNER)
    return from_polygon(grown).outline


def with_own_keep_outs(layout: Layout, boards: Sequence[Board]) -> Layout:
    """Return a layout made on such boards with the keep-outs they really have, as `boards` say by their names."""
    own = {board.name: board for board in boards}
    entries = []
    for entry in layout.boards:
        whole = own[entry.board.name]
        sawn = entry.board.sawn_off - whole.sawn_off
        real = shortened(whole, sawn) if sawn > 0 else whole
        assert real is not None  # parts lie on it
        board = replace(entry.board, keep_outs=real.keep_outs, whys=real.whys, heights=real.heights)
        entries.append(replace(entry, board=board))
    return replace(layout, boards=tuple(entries))
