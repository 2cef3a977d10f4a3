"""Air moves over what stands on a board: from a section's moves to those that clear clamps and screws where they lie.

Moves ask for the profile's ordinary safe height. Where the straight way from one place to the next brings the cutter,
or the spindle's nose as far as it is known, over something with a height, that one move goes higher, and no other. mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Point
from cutjob.job.machine import Cutter, Machine
from cutjob.layout.layout import BoardLayout
from cutjob.program.moves import Move, Step
from cutjob.program.setting import OVER, clear_height
from cutjob.tolerances import TOLERANCES

# Clear room beside what stands on a board for a move to pass it low, mm.
_BESIDE = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """What stands on a board while a program runs: areas and heights; and a height that clears them all, mm."""

    areas: tuple[shapely.Geometry, ...]
    heights: tuple[float, ...]
    clear_z: float
    tree: shapely.STRtree

    def needed(self, begin: Point, end: Point, *, cutter: Cutter, nose: float) -> float:
        """Return the least height of the tip for a straight move between two places; `nose` is its radius, 0 where that
        or the cutter's stickout is not known.
        """
        if not self.areas:
            return 0.0
        way = shapely.LineString([begin, end]) if begin != end else shapely.Point(begin)
        reach = max(cutter.radius, nose) + _BESIDE
        height = 0.0
        for index in self.tree.query(way, predicate="dwithin", distance=reach).tolist():
            apart = float(shapely.distance(way, self.areas[index]))
            if apart < cutter.radius + _BESIDE:
                height = max(height, self.heights[index] + OVER)
            elif cutter.stickout is not None:
                height = max(height, self.heights[index] + OVER - cutter.stickout)
        return height


def standing_of(layout: BoardLayout, window: int | None, machine: Machine) -> Standing:
    """Return what stands on a board, or on a window of it. Raises InputError where the machine can't lift so high."""
    stands = [
        (to_polygon(area), height)
        for area, height in zip(layout.board.keep_outs, layout.board.heights, strict=False)
        if height > 0
    ]
    stands += [
        (shapely.Point(down.at).buffer(down.head), down.height)
        for down in layout.hold_downs
        if down.height > 0 and (window is None or down.window in (None, window))
    ]
    areas, heights = tuple(area for area, _ in stands), tuple(height for _, height in stands)
    clear_z = 0.0 if machine.kind == "laser" else clear_height(layout, machine)
    return Standing(areas, heights, clear_z, shapely.STRtree(np.array(areas, dtype=object)))


def cleared(steps: Sequence[Step], cutter: Cutter, standing: Standing, machine: Machine) -> list[Step]:
    """Return the steps of a section with their air moves as high as what lies below each asks for.

    Where the cutter stands before the first of them is not known, so the move there clears all.
    """
    if not standing.areas or machine.kind == "laser":
        return list(steps)
    nose = (machine.spindle.nose_diameter or 0.0) / 2 if cutter.stickout is not None else 0.0
    here: Point | None = None
    z = standing.clear_z
    found: list[Step] = []
    for step in steps:
        moves: list[Move] = []
        for move in step.moves:
            there = (move.x, move.y)
            if move.kind == "rapid" and here is not None and there != here:
                height = max(move.z, standing.needed(here, there, cutter=cutter, nose=nose))
                if height > z + TOLERANCES.same_point:
                    moves = _raised(moves, found, here, height)
                    z = height
                moves.append(replace(move, z=max(z, height)))
            elif move.kind == "rapid" and here is None:
                moves.append(replace(move, z=max(move.z, standing.clear_z)))
            else:
                moves.append(move)
            here, z = there, moves[-1].z
        found.append(replace(step, moves=tuple(moves)))
    return found


def _raised(moves: list[Move], before: list[Step], here: Point, height: float) -> list[Move]:
    """The moves so far with the cutter lifted to `height` where it is: at the end of the step before, if need be."""
    if moves or not before:
        return [*_lifted(moves, here, height)]
    last = before[-1]
    before[-1] = replace(last, moves=tuple(_lifted(list(last.moves), here, height)))
    return moves


def _lifted(moves: list[Move], here: Point, height: float) -> list[Move]:
    """The moves with their last lift made higher, or one more where they don't end with one."""
    if len(moves) > 1 and moves[-1].kind == "rapid" and all((move.x, move.y) == here for move in moves[-2:]):
        return [*moves[:-1], replace(moves[-1], z=height)]
    return [*moves, Move("rapid", *here, height)]
