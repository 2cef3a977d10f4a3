"""A ring: a disc with a wide round opening, and holes midway between its edges if wanted; all edges are arcs."""

from __future__ import annotations

import math

from cutjob.counting import counted
from cutjob.designs.built_in.round import ring_of_holes
from cutjob.designs.design import LEAST_WALL, BuildContext, Design, clear
from cutjob.designs.parameter import Parameter, Values
from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import Region, circle
from cutjob.parts.part import Build, ShapedPart


def ring_region(*, outer: float, inner: float) -> Region:
    """Return a ring about the origin, diameters in mm. Its area is pi (outer^2 - inner^2) / 4."""
    return Region(circle((0.0, 0.0), outer / 2), (circle((0.0, 0.0), inner / 2).turned(counter_clockwise=False),))


def build_ring(values: Values, context: BuildContext) -> Build:
    """Return the ring, the only part. Raises InputError where the opening or the holes leave no wood."""
    outer, holes, hole = values.number("outer"), values.count("holes"), values.number("hole")
    inner = values.number("inner") if values.has("inner") else outer - 2 * values.number("rim")
    problems = _rim_problems(values, context, inner=inner)
    if not problems and holes:
        problems = _hole_problems(values, context, inner=inner)
    if problems:
        raise InputError(problems)
    middle = (outer + inner) / 2
    part = ShapedPart(
        name="ring",
        region=ring_region(outer=outer, inner=inner),
        holes=ring_of_holes(count=holes, ring_diameter=middle, hole_diameter=hole) if holes else (),
        grain="none" if values.word("grain") == "none" else "length",
        may_mirror=True,
    )
    facts = (
        (("rim", (outer - inner) / 2), ("circle of the holes", middle)) if holes else (("rim", (outer - inner) / 2),)
    )
    return Build(shaped=(part,), facts=facts)


def _rim_problems(values: Values, context: BuildContext, *, inner: float) -> list[Problem]:
    outer = values.number("outer")
    if clear(2 * LEAST_WALL, outer - inner) and inner >= _LEAST_OPENING:
        return []
    most = outer - 2 * LEAST_WALL
    if values.has("inner"):
        message = f"an opening of {context.length(inner)} leaves no rim in a ring of {context.length(outer)}"
        return [context.problem("inner", message, f"at most {context.at_most(most)}, or a larger ring")]
    rim = values.number("rim")
    least, greatest = context.at_least(LEAST_WALL), context.at_most((outer - _LEAST_OPENING) / 2)
    message = f"a rim of {context.length(rim)} in a ring of {context.length(outer)} leaves no "
    thin = not clear(2 * LEAST_WALL, outer - inner)
    return [context.problem("rim", f"{message}{'wood' if thin else 'opening'}", f"a rim of {least} to {greatest}")]


def _hole_problems(values: Values, context: BuildContext, *, inner: float) -> list[Problem]:
    outer, holes, hole = values.number("outer"), values.count("holes"), values.number("hole")
    rim, middle = (outer - inner) / 2, (outer + inner) / 2
    problems = []
    if not clear(hole + 2 * LEAST_WALL, rim):
        fits = rim - 2 * LEAST_WALL
        narrower = f"a hole of at most {context.at_most(fits)}, or " if fits >= 1 else ""
        message = f"{context.length(hole)} leaves no wood in a rim of {context.length(rim)}"
        problems.append(
            context.problem("hole", message, f"{narrower}a rim of at least {context.at_least(hole + 2 * LEAST_WALL)}")
        )
    if holes > 1 and not clear(hole + LEAST_WALL, middle * math.sin(math.pi / holes)):
        fit = int(math.pi / math.asin(min((hole + LEAST_WALL) / middle, 1.0)) + 1e-9)
        message = f"{holes} holes of {context.length(hole)} run together on a circle of {context.length(middle)}"
        problems.append(context.problem("holes", message, f"at most {counted(max(fit, 1), 'hole')}, or narrower ones"))
    return problems


# A narrower opening is a hole, for which the design round is made. mm.
_LEAST_OPENING = 6.0

RING = Design(
    name="ring",
    summary="a ring, for wreaths and hoops, with holes round its rim if wanted",
    parameters=(
        Parameter(name="outer", kind="length", help="diameter of the ring", least=15.0, greatest=3000.0),
        Parameter(name="inner", kind="length", help="diameter of its opening", least=_LEAST_OPENING, greatest=3000.0),
        Parameter(
            name="rim", kind="length", help="width of the wood between opening and edge", least=2.0, greatest=1500.0
        ),
        Parameter(name="holes", kind="count", help="number of holes round the rim", least=0, greatest=200, default=0),
        Parameter(
            name="hole", kind="length", help="diameter of those holes", least=0.5, greatest=60.0, default="1/4 in"
        ),
        Parameter(
            name="grain",
            kind="choice",
            help="none: the ring may be turned any way on the board",
            choices=("length", "none"),
            default="none",
        ),
    ),
    sizes={
        "small": {"outer": "3 1/2 in", "rim": "5/8 in"},
        "medium": {"outer": "4 3/4 in", "rim": "3/4 in"},
        "large": {"outer": "5 1/4 in", "rim": "1 in"},
    },
    build=build_ring,
    either=(("inner", "rim"),),
    needs_one=(("inner", "rim"),),
    unit="in",
    takes_round_mm=True,
)
