"""How low the spindle's nose comes with a cutter at its work, and how far off screws are put for that. mm."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from cutjob.cuts.board_cuts import BoardCuts
from cutjob.cuts.cut import Cut, HoleCut, LoopCut, MarkCut
from cutjob.geometry.contour import Contour
from cutjob.geometry.polygons import from_polygon, to_polygon
from cutjob.job.machine import Clamps, Cutter, Machine, Screws
from cutjob.job.stock import Board
from cutjob.tolerances import TOLERANCES
from cutjob.units import RULE

_CORNER = 2.0  # how much farther than its edges a sharp corner may reach


def needed_stickout(depth: float, height: float) -> float:
    """Return by how much a cutter sticks out so that, so deep, its nose clears what stands so high."""
    return height + TOLERANCES.standing_air + depth


def comes_low(cutter: Cutter, depth: float, height: float) -> bool:
    """Say whether the nose comes too low over what stands so high; of a cutter of unknown length it isn't known."""
    return cutter.stickout is not None and cutter.stickout < needed_stickout(depth, height) - TOLERANCES.same_point


def stickout_advice(needed: Mapping[int, float]) -> str:
    """Say how far cutters, by number, would have to stick out, rounded up."""
    wanted = [
        f"cutter {number} stick out {math.ceil(least / RULE['mm'] - 1e-6) * RULE['mm']:.1f} mm or more"
        for number, least in sorted(needed.items())
    ]
    return f"let {' and '.join(wanted)} and set {'its' if len(wanted) == 1 else 'their'} stickout in the profile"


def grown(area: Contour, reach: float) -> Contour:
    """Return an area larger by `reach` all round, its corners kept as far as may be."""
    return from_polygon(to_polygon(area).buffer(reach, join_style="mitre", mitre_limit=_CORNER)).outline


def off_clamps(board: Board, cutter: Cutter | None, depth: float, machine: Machine, *, kept: float) -> Board:
    """Return the board with what stands on it so large that what keeps `kept` off it keeps the nose off it too, with
    the cutter so deep; `kept` is from the cutter's middle.
    """
    nose = machine.spindle.nose_diameter
    if nose is None or cutter is None or not machine.has_spindle or nose / 2 <= kept:
        return board
    more = nose / 2 - kept + TOLERANCES.acceptance
    keep_outs = (
        replace(one, area=grown(one.area, more)) if one.height > 0 and comes_low(cutter, depth, one.height) else one
        for one in board.keep_outs
    )
    return replace(board, keep_outs=tuple(keep_outs))


def screw_margin(board: BoardCuts, machine: Machine, screws: Screws | Clamps) -> tuple[float, dict[int, float]]:
    """Return the wood between a screw's head, or a clamp, and what a cutter sweeps: the profile's, or more
    where the nose, wider than the cutter, comes down as low as that; and the stickouts, by number of the cutter, that
    would do without.
    """
    margin, needed = screws.margin, dict[int, float]()
    nose = machine.spindle.nose_diameter
    if nose is None:
        return margin, needed
    for cut, beside in _cuts(board, machine):
        cutter, depth = board.cutters.numbered(cut.cutter), _depth(cut, board.layout.height, machine)
        more = nose / 2 - beside + TOLERANCES.acceptance
        if comes_low(cutter, depth, screws.height) and more > screws.margin:
            margin = max(margin, more)
            needed[cutter.number] = max(needed.get(cutter.number, 0.0), needed_stickout(depth, screws.height))
    return margin, needed


def _cuts(board: BoardCuts, machine: Machine) -> Iterable[tuple[Cut, float]]:
    """All cuts made once screws are in, each with how far within what is swept its cutter's middle stays at least."""
    radius = board.cutters.outline.radius
    for part in board.parts:
        for cut in (*part.inner, *part.outline):
            own = board.cutters.numbered(cut.cutter).radius
            # Within the part, which keeps a whole slot away, or beside it; numbers are cut in the waste as well.
            if isinstance(cut, LoopCut):
                yield cut, own - machine.cutting.finish
            else:
                yield cut, own if isinstance(cut, MarkCut) else radius
    for cuts in board.pins:
        for hole in cuts:
            yield hole, board.cutters.numbered(hole.cutter).radius


def _depth(cut: Cut, height: float, machine: Machine) -> float:
    if isinstance(cut, LoopCut):
        return machine.through(height, loop=True)
    if isinstance(cut, HoleCut):
        return machine.through(height) if cut.depth is None else cut.depth
    return cut.depth
