"""What operations are called and coloured in drawings and pictures, and which one makes a hole.

Colours are the Okabe-Ito palette (M. Okabe, K. Ito, *Color Universal Design*, 2008), readable to colour-blind people.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from cutjob.geometry.segment import Point, distance
from cutjob.job.machine import Operation
from cutjob.layout.layout import Placement
from cutjob.parts.part import Hole
from cutjob.program.moves import Program
from cutjob.tolerances import TOLERANCES

Rgb: TypeAlias = tuple[int, int, int]

BLACK: Rgb = (0, 0, 0)
ORANGE: Rgb = (230, 159, 0)
SKY_BLUE: Rgb = (86, 180, 233)
BLUISH_GREEN: Rgb = (0, 158, 115)
YELLOW: Rgb = (240, 228, 66)
BLUE: Rgb = (0, 114, 178)
VERMILLION: Rgb = (213, 94, 0)
REDDISH_PURPLE: Rgb = (204, 121, 167)

COLOURS: dict[Operation, Rgb] = {
    "outside cut": BLUE,
    "inside cut": VERMILLION,
    "pocket": SKY_BLUE,
    "bore": BLUISH_GREEN,
    "drill": ORANGE,
    "mark": REDDISH_PURPLE,
    "board": BLACK,
}
OPERATIONS: tuple[Operation, ...] = tuple(COLOURS)


def css_colour(colour: Rgb) -> str:
    """Return a colour as `#rrggbb`."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


def hole_operation(diameter: float, *, cutter_diameter: float | None) -> Operation:
    """Return `drill` for a hole of the cutter's own diameter (mm), `bore` for any other or where no cutter is known."""
    if cutter_diameter is not None and abs(diameter - cutter_diameter) <= TOLERANCES.same_point:
        return "drill"
    return "bore"


@dataclass(frozen=True, slots=True)
class HoleWork:
    """How the holes of a board's parts are made: where its programs drill and bore, by placement, with which cutters.

    A hole its programs don't make is drilled where one of `diameters` is its own.
    """

    made: dict[int, tuple[tuple[Operation, Point, float], ...]]
    diameters: frozenset[float]

    def operation(self, hole: Hole, placement: Placement, number: int) -> Operation:
        """The operation that makes a plain hole of the placement with that index."""
        at = placement.transform.point(hole.at)
        near = [
            (op, diameter)
            for op, start, diameter in self.made.get(number, ())
            if distance(start, at) <= hole.diameter / 2 + TOLERANCES.acceptance
        ]
        diameters = {diameter for op, diameter in near if op == "drill"} if near else self.diameters
        ops = {hole_operation(hole.diameter, cutter_diameter=diameter) for diameter in diameters}
        return "drill" if "drill" in ops else "bore"


def hole_work(programs: Sequence[Program], *, otherwise: Collection[float] = ()) -> HoleWork:
    """Return how the programs of one board make holes; `otherwise` are diameters of cutters where there are none."""
    made: dict[int, list[tuple[Operation, Point, float]]] = {}
    for program in programs:
        for section in program.sections:
            for step in section.steps:
                if step.op in ("drill", "bore") and step.placement is not None and step.moves:
                    start = (step.moves[0].x, step.moves[0].y)
                    made.setdefault(step.placement, []).append((step.op, start, section.cutter.diameter))
    used = frozenset(cutter.diameter for program in programs for cutter in program.cutters)
    return HoleWork(
        {placement: tuple(holes) for placement, holes in made.items()}, used if programs else frozenset(otherwise)
    )
