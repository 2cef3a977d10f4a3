"""A cradle that holds a rod while it is drilled square through its middle: cheeks with a notch, on a plate.

A rod of radius r in a notch of 90 degrees touches both sides of it; its centre is r x root 2 above the notch's bottom.
The notch is so deep that the rod's centre is level with the cheeks' upper edges.
"""

from __future__ import annotations

import math

from cutjob.designs.built_in.round import LEAST_FLOOR
from cutjob.designs.design import LEAST_WALL, BuildContext, Design, clear
from cutjob.designs.parameter import Parameter, Values
from cutjob.errors import InputError
from cutjob.geometry.contour import Region, polyline, rectangle
from cutjob.geometry.segment import Line, Point
from cutjob.parts.part import Build, Hole, Mark, Pocket, ShapedPart, Stand

_MARK_INSET = 5.0  # mm between a mark and the edge, so that a cutter of 3/8 in does not nick the edge
_OVER_EDGE = 3.0  # mm a dado is drawn past the plate's edges, so that it runs out


def notch_depth(diameter: float) -> float:
    """Return the depth of a notch of 90 degrees for a rod whose centre is level with the notch's upper edge, mm."""
    return diameter / math.sqrt(2)


def build_drilling_cradle(values: Values, context: BuildContext) -> Build:
    """Return a plate and two cheeks. Raises InputError where the notch or the dados leave no wood."""
    rod, hole, length, width = (values.number(key) for key in ("rod", "hole", "length", "width"))
    height, apart, dado, play = (values.number(key) for key in ("height", "apart", "dado", "play"))
    thick, cheek_thick = context.thickness_of("plate"), context.thickness_of("cheek")
    depth, slot = notch_depth(rod), cheek_thick + play
    problems = []
    if not clear(hole + 2 * LEAST_WALL, rod):
        message = f"{context.length(hole)} leaves no wood in a rod of {context.length(rod)}"
        problems.append(context.problem("hole", message, f"at most {context.at_most(rod - 2 * LEAST_WALL)}"))
    need = depth + dado + _LEAST_BELOW
    if not clear(need, height):
        message = f"a notch of {context.length(depth)} cuts through cheeks of {context.length(height)}"
        problems.append(context.problem("height", message, f"at least {context.at_least(need)}"))
    if not clear(2 * depth + 2 * _LEAST_BELOW, width):
        message = f"{context.length(width)} leaves no wood beside a notch {context.length(2 * depth)} wide"
        problems.append(context.problem("width", message, f"at least {context.at_least(2 * depth + 2 * _LEAST_BELOW)}"))
    if not clear(apart + 2 * slot + 2 * LEAST_WALL, length):
        message = f"{context.length(length)} is too short for cheeks {context.length(apart)} apart"
        problems.append(
            context.problem("length", message, f"at least {context.at_least(apart + 2 * slot + 2 * LEAST_WALL)}")
        )
    if not clear(hole + 2 * LEAST_WALL, apart):
        message = f"{context.length(apart)} leaves no room for a drill of {context.length(hole)}"
        problems.append(context.problem("apart", message, f"at least {context.at_least(hole + 2 * LEAST_WALL)}"))
    if not clear(dado, thick - LEAST_FLOOR):
        message = f"{context.length(dado)} leaves less than {context.length(LEAST_FLOOR)} under the dados"
        problems.append(context.problem("dado", message, f"at most {context.at_most(thick - LEAST_FLOOR)}"))
    if problems:
        raise InputError(problems)
    dados = tuple(_dado(length / 2 + side * (apart + slot) / 2, slot=slot, width=width, depth=dado) for side in (-1, 1))
    middle, inset = length / 2, min(_MARK_INSET, width / 8)
    marks = tuple(
        Mark(path=(Line((middle, start), (middle, end)),))
        for start, end in ((inset, width / 4), (width * 3 / 4, width - inset))
    )
    plate = ShapedPart(
        name="plate",
        region=Region(rectangle(length, width)),
        holes=(Hole(at=(middle, width / 2), diameter=hole),),
        pockets=dados,
        marks=marks,
    )
    cheek = Region(polyline(_cheek(width=width, height=height, depth=depth)))
    cheeks = tuple(ShapedPart(name=f"cheek {place}", region=cheek, may_mirror=True) for place in (1, 2))
    facts = (
        ("notch depth, sides at 45 degrees", depth),
        ("rod's centre above the plate", height - dado),
        ("stop for the rod's end: half the rod's length from the middle hole; at most, without an extension", middle),
    )
    return Build(
        shaped=(plate, *cheeks),
        facts=facts,
        stands=_stands(plate, cheek, dado=dado, thick=thick, cheek_thick=cheek_thick),
    )


def _stands(plate: ShapedPart, cheek: Region, *, dado: float, thick: float, cheek_thick: float) -> tuple[Stand, ...]:
    """The view along the rod: the cheeks one behind the other, behind the plate's end."""
    _, _, length, width = plate.region.bounds
    cheeks = [
        Stand(
            part=f"cheek {place}",
            outline=cheek,
            seen="face",
            foot=thick - dado,
            centre=width / 2,
            thick=cheek_thick,
        )
        for place in (1, 2)
    ]
    end = Region(rectangle(width, length))
    board = Stand(part=plate.name, outline=end, seen="edge", foot=0.0, centre=width / 2, thick=thick)
    return (board, *cheeks)


def _dado(at: float, *, slot: float, width: float, depth: float) -> Pocket:
    x0, x1, y0, y1 = at - slot / 2, at + slot / 2, -_OVER_EDGE, width + _OVER_EDGE
    return Pocket(region=Region(polyline([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])), depth=depth)


def _cheek(*, width: float, height: float, depth: float) -> list[Point]:
    middle = width / 2
    notch = [(middle + depth, height), (middle, height - depth), (middle - depth, height)]
    return [(0.0, 0.0), (width, 0.0), (width, height), *notch, (0.0, height)]


# Least wood under and beside a notch, so that it stays stiff under the drill, mm. Common practice, no source.
_LEAST_BELOW = 10.0

DRILLING_CRADLE = Design(
    name="drilling-cradle",
    summary="a plate and two notched cheeks that hold a rod while it is drilled through its middle",
    parameters=(
        Parameter(name="rod", kind="length", help="diameter of the rods it holds", least=4.0, greatest=80.0),
        Parameter(name="hole", kind="length", help="diameter of the drill", least=1.0, greatest=60.0),
        Parameter(name="length", kind="length", help="length of the plate, along the rod", least=50.0, greatest=1500.0),
        Parameter(name="width", kind="length", help="width of the plate and the cheeks", least=30.0, greatest=600.0),
        Parameter(
            name="height",
            kind="length",
            help="height of the cheeks, with the part in the dados",
            least=20,
            greatest=300,
        ),
        Parameter(
            name="apart", kind="length", help="distance between the cheeks, for the drill", least=5.0, greatest=500.0
        ),
        Parameter(
            name="dado", kind="length", help="depth of the cheeks' dados", least=1.0, greatest=50.0, default="3/16 in"
        ),
        Parameter(
            name="play",
            kind="length",
            help="how much wider than the board a dado is",
            least=0.0,
            greatest=2,
            default=0.2,
        ),
    ),
    sizes={
        "small": {
            "rod": "1/2 in",
            "hole": "1/4 in",
            "length": "5 in",
            "width": "2 1/4 in",
            "height": "1 1/4 in",
            "apart": "1 in",
        },
        "medium": {
            "rod": "3/4 in",
            "hole": "3/8 in",
            "length": "6 in",
            "width": "2 3/4 in",
            "height": "1 1/2 in",
            "apart": "1 1/2 in",
        },
        "large": {
            "rod": "1 in",
            "hole": "1/2 in",
            "length": "8 in",
            "width": "3 1/4 in",
            "height": "1 3/4 in",
            "apart": "2 in",
        },
    },
    build=build_drilling_cradle,
    unit="in",
    takes_round_mm=True,
)
