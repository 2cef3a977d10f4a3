"""A rosette: equal round lobes that meet in notches, with a hole in the middle and in each lobe if wanted.

Given the outer radius R, the notch circle's radius q and a = pi / lobes, a lobe's centre is at a distance c from the
middle and its radius is R - c. The law of cosines in the triangle of middle, centre and notch,
(R - c)^2 = c^2 + q^2 - 2 c q cos a, gives c = (R^2 - q^2) / (2 (R - q cos a)).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from cutjob.designs.built_in.round import ring_of_holes
from cutjob.designs.design import LEAST_WALL, BuildContext, Design, clear
from cutjob.designs.parameter import Parameter, Values
from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import Region, closed, regular_angles
from cutjob.geometry.segment import Arc, Point
from cutjob.parts.part import Build, Hole, ShapedPart


@dataclass(frozen=True, slots=True, kw_only=True)
class Lobes:
    """Circles of a rosette, radii in mm: `outer` over the lobes, `notch` through the notches."""

    count: int
    outer: float
    notch: float

    @property
    def centre(self) -> float:
        """The distance of a lobe's centre from the middle, mm."""
        half = math.pi / self.count
        return (self.outer**2 - self.notch**2) / (2 * (self.outer - self.notch * math.cos(half)))

    @property
    def radius(self) -> float:
        """A lobe's radius."""
        return self.outer - self.centre


def rosette_region(lobes: Lobes) -> Region:
    """Return the rosette about the origin, one arc per lobe, with a lobe straight up."""
    half = math.pi / lobes.count
    arcs = []
    for angle in regular_angles(lobes.count):
        start, end = (_at(lobes.notch, angle + turn) for turn in (-half, half))
        arcs.append(Arc(start, end, _at(lobes.centre, angle), False))
    return Region(closed(arcs))


def build_rosette(values: Values, context: BuildContext) -> Build:
    """Return the rosette, the only part. Raises InputError where it has no lobes or a hole leaves no wood."""
    outer, count = values.number("outer"), values.count("lobes")
    notch = values.number("notch") if values.has("notch") else outer * values.number("ratio")
    lobes = Lobes(count=count, outer=outer / 2, notch=notch / 2)
    problems = _shape_problems(values, context, lobes=lobes)
    if not problems:
        problems = _hole_problems(values, context, lobes=lobes)
    if problems:
        raise InputError(problems)
    hole, lobe_hole = values.number("hole"), values.number("lobe_hole")
    holes: tuple[Hole, ...] = (Hole(at=(0.0, 0.0), diameter=hole),) if hole else ()
    if lobe_hole:
        holes += ring_of_holes(count=count, ring_diameter=2 * lobes.centre, hole_diameter=lobe_hole)
    part = ShapedPart(
        name="rosette",
        region=rosette_region(lobes),
        holes=holes,
        grain="none" if values.word("grain") == "none" else "length",
        may_mirror=True,
    )
    return Build(shaped=(part,), facts=(("radius of a lobe", lobes.radius),))


def _shape_problems(values: Values, context: BuildContext, *, lobes: Lobes) -> list[Problem]:
    """Problems with lobes that hardly stand out, or that are wider than the gap between their notches."""
    half = math.pi / lobes.count
    # A lobe of more than a half circle would have a narrow neck. At the limit, a half circle, the notch is square to
    # the lobe's centre: q cos a = c, so that q = R / (cos a + sin a).
    least = lobes.outer / (math.cos(half) + math.sin(half))
    most = _MOST_OF_ROUND * lobes.outer
    if clear(least, lobes.notch) and clear(lobes.notch, most):
        return []
    key = "notch" if values.has("notch") else "ratio"
    what = "too flat to see" if lobes.notch > most else "cut off from the middle by their notches"
    if key == "notch":
        fits = f"{context.at_least(2 * least)} to {context.at_most(2 * most)}"
        advice = f"a notch circle of {fits}, or another number of lobes"
    else:
        low = math.ceil(least / lobes.outer * 1000 - 1e-9) / 1000
        advice = f"a ratio of {low:g} to {_MOST_OF_ROUND:g}, or another number of lobes"
    message = (
        f"{lobes.count} lobes with notches on a circle of {context.length(2 * lobes.notch)} in a rosette of "
        f"{context.length(2 * lobes.outer)} are {what}"
    )
    return [context.problem(key, message, advice)]


def _hole_problems(values: Values, context: BuildContext, *, lobes: Lobes) -> list[Problem]:
    problems = []
    hole, lobe_hole = values.number("hole"), values.number("lobe_hole")
    if hole and not clear(hole + 2 * LEAST_WALL, 2 * lobes.notch):
        message = f"{context.length(hole)} leaves no wood between the hole and the notches"
        problems.append(
            context.problem("hole", message, f"at most {context.at_most(2 * lobes.notch - 2 * LEAST_WALL)}")
        )
    if not lobe_hole:
        return problems
    # Room round a lobe's centre: to its own edge, to the next lobe's hole, to the middle hole.
    room = 2 * (lobes.radius - LEAST_WALL)
    room = min(room, 2 * lobes.centre * math.sin(math.pi / lobes.count) - LEAST_WALL)
    if hole:
        room = min(room, 2 * (lobes.centre - hole / 2 - LEAST_WALL))
    if not clear(lobe_hole, room):
        narrower = f"at most {context.at_most(room)}" if room >= 1 else "leave it out, or take fewer lobes"
        message = f"{context.length(lobe_hole)} leaves no wood round the hole of a lobe"
        problems.append(context.problem("lobe_hole", message, narrower))
    return problems


def _at(radius: float, angle: float) -> Point:
    return radius * math.cos(angle), radius * math.sin(angle)


# With a larger ratio of the notch circle to the outer circle no lobes can be seen.
_MOST_OF_ROUND = 0.98

ROSETTE = Design(
    name="rosette",
    summary="round lobes round a middle, like a flower, with holes if wanted",
    parameters=(
        Parameter(name="lobes", kind="count", help="number of lobes", least=3, greatest=60),
        Parameter(name="outer", kind="length", help="diameter of the circle over the lobes", least=15, greatest=3000),
        Parameter(name="notch", kind="length", help="diameter of the circle through the notches", least=8.0),
        Parameter(
            name="ratio",
            kind="number",
            help="diameter of the notch circle as a share of the outer",
            least=0.3,
            greatest=0.98,
        ),
        Parameter(
            name="hole", kind="length", help="diameter of the hole in the middle; 0 for none", least=0.0, default=0
        ),
        Parameter(
            name="lobe_hole", kind="length", help="diameter of a hole in every lobe; 0 for none", least=0.0, default=0
        ),
        Parameter(
            name="grain",
            kind="choice",
            help="none: the rosette may be turned any way on the board",
            choices=("length", "none"),
            default="none",
        ),
    ),
    sizes={
        "small": {"lobes": 5, "outer": "3 1/2 in", "ratio": 0.76, "hole": "1/4 in"},
        "medium": {"lobes": 6, "outer": "4 1/2 in", "ratio": 0.8, "hole": "3/8 in"},
        "large": {"lobes": 8, "outer": "5 1/4 in", "ratio": 0.84, "hole": "1/2 in"},
    },
    build=build_rosette,
    either=(("notch", "ratio"),),
    needs_one=(("notch", "ratio"),),
    unit="in",
    takes_round_mm=True,
)
