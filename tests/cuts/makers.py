"""Machines, parts and board layouts for the tests of cuts and programs. Lengths mm."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from cutjob.cuts.board_cuts import BoardCuts
from cutjob.cuts.cut import LoopCut, TabSpan
from cutjob.cuts.cutter_choice import Cutters
from cutjob.cuts.part_cuts import Stock
from cutjob.cuts.tabs import along_nearest
from cutjob.geometry.contour import Contour, Region, rectangle
from cutjob.geometry.nearest import NearestSegment
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Point
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Cutter, Machine
from cutjob.job.read_machine import read_machine
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import ShapedPart
from tests.layout.makers import board

__all__ = ["alone", "board", "changed", "cutter", "layout_of", "router", "shaped", "stock_of", "tabbed", "tabbed_board"]


def router(**tables: dict[str, Any]) -> Machine:
    """The shipped bench router; `tables` change keys of its tables, such as cutting={"lead": 0}."""
    return changed(read_machine("bench-router", beside=None), **tables)


def changed(machine: Machine, **tables: dict[str, Any]) -> Machine:
    return machine.model_copy(
        update={name: getattr(machine, name).model_copy(update=keys) for name, keys in tables.items()}
    )


def cutter(diameter: float = 6.0, **keys: Any) -> Cutter:
    """The first cutter of the shipped router at another diameter."""
    return router().cutter[0].model_copy(update={"diameter": diameter, **keys})


def alone(tool: Cutter | None = None) -> Cutters:
    """One cutter for everything: by default the first at 6 mm."""
    only = tool or cutter()
    return Cutters(outline=only, usable=(only,), changer=False)


def stock_of(thickness: float = 12.0, *, stack: int = 1, gap: float = 8.0) -> Stock:
    """Softwood boards."""
    return Stock(thickness=thickness, height=stack * thickness, material="softwood", gap=gap)


def shaped(outline: Contour, *holes: Contour, **more: Any) -> ShapedPart:
    return ShapedPart(name="piece", region=Region(outline, holes), **more)


def layout_of(
    *places: tuple[ShapedPart, Transform], length: float = 400.0, width: float = 300.0, stack: int = 1, **keys: Any
) -> BoardLayout:
    """Parts placed on one rectangular board (or on one of another outline, given as `outline`)."""
    keys.setdefault("outline", rectangle(length, width))
    return BoardLayout(
        id="board-01",
        board=board(length, width, **keys),
        placements=tuple(
            Placement(part=part, item="gate latch", unit=number, transform=transform)
            for number, (part, transform) in enumerate(places, start=1)
        ),
        stack=stack,
    )


def tabbed(cut: LoopCut, places: Sequence[Point], *, width: float, height: float, diameter: float) -> LoopCut:
    """The loop with tabs whose middles lie on its part's edge at the given places of the board, and nowhere else."""
    ruler, nearest = Ruler(cut.path.segments), NearestSegment(cut.path.segments)
    half = (width + diameter) / 2
    alongs = [(along_nearest(nearest, ruler, at), at) for at in places]
    tabs = [
        TabSpan(first=along - half, last=along + half, height=height, width=width, at=at)
        for along, at in sorted(alongs)
    ]
    return replace(cut, tabs=tuple(tabs))


def tabbed_board(
    board: BoardCuts,
    outlines: Mapping[int, Sequence[Point]],
    openings: Mapping[int, Sequence[Point]] | None = None,
    *,
    width: float = 6.0,
    height: float,
) -> BoardCuts:
    """The board with just these tabs on the outlines of its placements, and on their first openings."""

    def made(cut: Any, places: Sequence[Point]) -> Any:
        diameter = board.cutters.numbered(cut.cutter).diameter
        return tabbed(cut, places, width=width, height=height, diameter=diameter)

    parts = []
    for part in board.parts:
        loops = [made(loop, ()) for loop in part.outline]
        loops[:1] = [made(loop, outlines.get(part.placement, ())) for loop in loops[:1]]
        first = next((n for n, cut in enumerate(part.inner) if isinstance(cut, LoopCut)), None)
        inner = [
            made(cut, (openings or {}).get(part.placement, ())) if n == first else cut
            for n, cut in enumerate(part.inner)
        ]
        parts.append(replace(part, inner=tuple(inner), outline=tuple(loops)))
    return replace(board, parts=tuple(parts))
