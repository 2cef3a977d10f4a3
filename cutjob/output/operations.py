"""What operations are called and coloured in drawings and pictures, and which one makes what of a part.

Colours are the Okabe-Ito palette (M. Okabe, K. Ito, *Color Universal Design*, 2008), readable to colour-blind people.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from cutjob.cuts.cut import FeatureKind
from cutjob.job.machine import Operation
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
class Work:
    """How a board's programs make the features of its parts, by placement, kind and number: in which operation and
    with a cutter of which diameter, mm.

    A hole its programs don't make is drilled where one of `diameters` is its own.
    """

    made: Mapping[tuple[int, FeatureKind, int], tuple[Operation, float]]
    diameters: frozenset[float]

    def hole_operation(self, hole: Hole, placement: int, number: int) -> Operation:
        """The operation that makes a plain hole, the one with that number of a placement's part."""
        if (placement, "hole", number) in self.made:
            return self.made[placement, "hole", number][0]
        ops = {hole_operation(hole.diameter, cutter_diameter=diameter) for diameter in self.diameters}
        return "drill" if "drill" in ops else "bore"

    def width(self, kind: Literal["mark", "number"], placement: int, number: int) -> float:
        """How wide a line is cut, mm; 0.0 where no program does."""
        _, diameter = self.made.get((placement, kind, number), ("mark", 0.0))
        return diameter


def work_of(programs: Sequence[Program], *, otherwise: Collection[float] = ()) -> Work:
    """Return how the programs of one board work; `otherwise` are diameters of cutters where there are none."""
    made: dict[tuple[int, FeatureKind, int], tuple[Operation, float]] = {
        (step.placement, step.feature.kind, step.feature.number): (step.op, section.cutter.diameter)
        for program in programs
        for section in program.sections
        for step in section.steps
        if step.placement is not None
    }
    used = frozenset(cutter.diameter for program in programs for cutter in program.cutters)
    return Work(made, used if programs else frozenset(otherwise))
