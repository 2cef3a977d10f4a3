"""How low the spindle's nose comes while a cutter works, and how far off screws must therefore be. mm."""

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

_CORNER = 2.0  # how much farther out than the edges a sharp corner may reach, times


def needed_stickout(depth: float, height: float) -> float:
    """Return the stickout with which a cutter at this depth keeps its nose clear of a thing of this height, mm."""
    return height + TOLERANCES.standing_air + depth


def comes_low(cutter: Cutter, depth: float, height: float) -> bool:
    """Say whether the nose comes too low over a thing of this height; never for a cutter of unknown stickout."""
    return cutter.stickout is not None and cutter.stickout < needed_stickout(depth, height) - TOLERANCES.same_point


def stickout_advice(needed: Mapping[int, float]) -> str:
    """Return advice on how far cutters, by number, would have to stick out, rounded up."""
    wanted = [
        f"cutter {number} stick out {math.ceil(least / RULE['mm'] - 1e-6) * RULE['mm']:.1f} mm or more"
        for number, least in sorted(needed.items())
    ]
    return f"let {' and '.join(wanted)} and set {'its' if len(wanted) == 1 else 'their'} stickout in the profile"


def grown(area: Contour, reach: float) -> Contour:
    """Return an area larger by `reach` all round, its corners kept sharp as far as possible."""
    return from_polygon(to_polygon(area).buffer(reach, join_style="mitre", mitre_limit=_CORNER)).outline


def off_clamps(board: Board, cutter: Cutter | None, depth: float, machine: Machine, *, kept: float) -> Board:
    """Return the board with the things on it made so large that a cutter whose middle stays `kept` off them keeps the
    nose off them too, at this depth.
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
    """Return the wood between a screw's head, or a clamp, and what a cutter sweeps: the profile's, or more where the
    nose, wider than the cutter, comes down as low as that. Return too the stickouts, by number of the cutter, that
    would make more needless.
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
    """All cuts made once screws are in, each with the least distance of its cutter's middle from the swept edge."""
    radius = board.cutters.outline.radius
    for part in board.parts:
        for cut in (*part.inner, *part.outline):
            own = board.cutters.numbered(cut.cutter).radius
            # The cut is within the part, which keeps a whole slot away, or beside it; numbers are cut in the waste as
            # well.
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
