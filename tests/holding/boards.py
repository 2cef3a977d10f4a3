"""Boards to hold, and a plain judge of what holds them: no code of the planner in it. Lengths mm."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from cutjob.cuts.board_cuts import BoardCuts, cut_layouts
from cutjob.cuts.cut import LoopCut
from cutjob.errors import Problem
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Line, Point, Segment
from cutjob.geometry.transform import Transform
from cutjob.holding.hold import Held, hold_board
from cutjob.holding.screws import ThinWaste, held_down
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.layout.leftovers import LeftoverRule
from cutjob.parts.part import ShapedPart
from tests.cuts.makers import alone, layout_of, router

GAP = 8.0


def cut(layout: BoardLayout, machine: Machine | None = None) -> BoardCuts:
    """The cuts of a layout, with a 6 mm cutter."""
    boards, _ = cut_layouts([layout], cutters=alone(), machine=machine or router(), gap=GAP, locations={})
    return boards[0]


def lies_fast(board: BoardCuts, *, machine: Machine, screws: bool = True, **more: LeftoverRule | None) -> BoardCuts:
    """The cuts with the holes for what holds the board down; the waste must have room for it."""
    found = held_down(board, machine=machine, screws=screws, **more)
    assert isinstance(found, BoardCuts), found
    return found


def too_thin(board: BoardCuts, *, machine: Machine) -> Problem:
    """What is said of waste that has no room for screws."""
    found = held_down(board, machine=machine, screws=True)
    assert isinstance(found, ThinWaste)
    return found.problem.spelled("mm")


def held(
    *places: tuple[ShapedPart, Transform], machine: Machine | None = None, by: str = "clamps", **board: object
) -> Held:
    """A board with these parts, held."""
    machine = machine or router()
    return hold_board(cut(layout_of(*places, **board), machine), machine=machine, by=by)  # type: ignore[arg-type]


def wood_at_bridges(board: BoardCuts) -> list[shapely.Polygon]:
    """The pieces of wood left at the height of the bridges, once all loops are cut."""
    gone = []
    for part in board.parts:
        for loop in (*part.outline, *(each for each in part.inner if isinstance(each, LoopCut))):
            ruler, radius = Ruler(loop.path.segments), board.cutters.numbered(loop.cutter).radius
            ends = sorted((tab.first % ruler.length, (tab.last - tab.first)) for tab in loop.tabs)
            pieces = [loop.path.segments]
            if ends:
                starts = [(first + width, ends[(i + 1) % len(ends)][0]) for i, (first, width) in enumerate(ends)]
                pieces = [
                    tuple(ruler.piece(a, b if b > a else b + ruler.length)) for a, b in starts if abs(a - b) > 1e-6
                ]
            for chain in pieces:
                line = [chain[0].start, *(point for segment in chain for point in _points(segment))]
                gone.append(shapely.LineString(line).buffer(radius, quad_segs=32))
    left = to_polygon(board.layout.board.outline).difference(shapely.union_all(gone)).buffer(-0.05)
    return [piece for piece in shapely.get_parts(left) if piece.area > 1]


def _points(segment: Segment) -> list[Point]:
    count = 1 if isinstance(segment, Line) else 32
    return [segment.point_at((i + 1) / count) for i in range(count)]


def loose(board: BoardCuts, *, least: float = 400.0) -> list[shapely.Polygon]:
    """Pieces larger than `least` mm2 that lie under no hold."""
    assert board.layout.holding is not None
    holds = [to_polygon(hold.area) for hold in board.layout.holding.holds]
    return [
        piece
        for piece in wood_at_bridges(board)
        if piece.area > least and not any(piece.intersection(hold).area > 1 for hold in holds)
    ]


def chains(joins: Sequence[tuple[int, int]], held_nodes: Sequence[int], count: int) -> list[int | None]:
    """The bridges from each of `count` nodes to those held; None for none."""
    level: list[int | None] = [0 if node in held_nodes else None for node in range(count)]
    for step in range(count):
        for one, two in joins:
            for a, b in ((one, two), (two, one)):
                if level[a] == step and level[b] is None:
                    level[b] = step + 1
    return level
