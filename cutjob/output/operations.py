"""What operations are called and coloured in drawings and pictures, and which one a hole is.

Colours are the Okabe-Ito palette (M. Okabe, K. Ito, *Color Universal Design*, 2008), readable to colour-blind people.
"""

from __future__ import annotations

from typing import TypeAlias

from cutjob.job.machine import Operation
from cutjob.tolerances import TOLERANCES

Rgb: TypeAlias = tuple[int, int, int]

BLACK: Rgb = (0, 0, 0)
ORANGE: Rgb = (230, 159, 0)
SKY_BLUE: Rgb = (86, 180, 233)
BLUISH_GREEN: Rgb = (0, 158, 115)
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
