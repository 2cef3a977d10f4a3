"""Machines, parts and board layouts for the tests of cuts and programs. Lengths mm."""

from __future__ import annotations

from typing import Any

from cutjob.cuts.cutter_choice import Cutters
from cutjob.cuts.part_cuts import Stock
from cutjob.geometry.contour import Contour, Region, rectangle
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Cutter, Machine
from cutjob.job.read_machine import read_machine
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import ShapedPart
from tests.layout.makers import board

__all__ = ["alone", "board", "changed", "cutter", "layout_of", "router", "shaped", "stock_of"]


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
