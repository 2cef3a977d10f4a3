"""A round: a disc, with a hole in the middle and a ring of holes or sockets if wanted; all edges are exact arcs."""

from __future__ import annotations

import math

from cutjob.counting import counted
from cutjob.designs.design import LEAST_WALL, BuildContext, Design, clear
from cutjob.designs.parameter import Parameter, Values
from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import Region, circle, regular_angles
from cutjob.parts.part import Build, Counterbore, Hole, ShapedPart

# Least wood left under a socket or a counterbore, mm, as thinner wood breaks out. Common practice, no source.
LEAST_FLOOR = 2.0


def round_region(diameter: float) -> Region:
    """Return a disc about the origin, mm."""
    return Region(circle((0.0, 0.0), diameter / 2))


def ring_of_holes(
    *, count: int, ring_diameter: float, hole_diameter: float, depth: float | None = None
) -> tuple[Hole, ...]:
    """Return `count` equal holes on a circle about the origin, the first at the top, mm: through holes, or with a depth
    sockets.
    """
    radius = ring_diameter / 2
    return tuple(
        Hole(at=(radius * math.cos(angle), radius * math.sin(angle)), diameter=hole_diameter, depth=depth)
        for angle in regular_angles(count)
    )


def build_round(values: Values, context: BuildContext) -> Build:
    """Return the disc, the only part. Raises InputError where the holes leave no wood."""
    diameter, hole = values.number("diameter"), values.number_or("hole", 0.0)
    problems = []
    if hole and not clear(hole + 2 * LEAST_WALL, diameter):
        problems.append(
            context.problem(
                "hole",
                f"{context.length(hole)} leaves no wood round the hole in a round of {context.length(diameter)}",
                f"a hole of at most {context.at_most(diameter - 2 * LEAST_WALL)}, "
                f"or a diameter of at least {context.at_least(hole + 2 * LEAST_WALL)}",
            )
        )
    problems += _depth_problems(values, context, hole=hole)
    wide = max(hole, values.number_or("counterbore", 0.0))
    problems += _ring_problems(values, context, diameter=diameter, hole=wide)
    if problems:
        raise InputError(problems)
    sunk = None
    if values.has("counterbore"):
        sunk = Counterbore(diameter=values.number("counterbore"), depth=values.number("counterbore_depth"))
    holes: tuple[Hole, ...] = (Hole(at=(0.0, 0.0), diameter=hole, counterbore=sunk),) if hole else ()
    if values.count("ring_holes"):
        holes += ring_of_holes(
            count=values.count("ring_holes"),
            ring_diameter=values.number("ring_diameter"),
            hole_diameter=values.number("ring_hole"),
            depth=values.number("ring_depth") if values.has("ring_depth") else None,
        )
    part = ShapedPart(
        name="round",
        region=round_region(diameter),
        holes=holes,
        grain="none" if values.word("grain") == "none" else "length",
        may_mirror=True,
    )
    return Build(shaped=(part,))


def _depth_problems(values: Values, context: BuildContext, *, hole: float) -> list[Problem]:
    """Problems with a counterbore and with sockets: widths, depths, the floor left under them."""
    problems = []
    given = [values.has(key) for key in ("counterbore", "counterbore_depth")]
    if any(given) and not all(given):
        missing = "counterbore" if not given[0] else "counterbore_depth"
        problems.append(context.problem(missing, "is not given", "a counterbore needs its diameter and its depth"))
    elif all(given):
        wide = values.number("counterbore")
        if not hole or wide <= hole:
            words = context.length(wide)
            problems.append(
                context.problem("counterbore", f"{words} is no wider than the hole", "make it wider, or leave it out")
            )
    for key in ("counterbore_depth", "ring_depth"):
        if values.has(key) and values.number(key) > context.thickness - LEAST_FLOOR:
            deep, thick = context.length(values.number(key)), context.length(context.thickness)
            problems.append(
                context.problem(
                    key,
                    f"{deep} leaves less than {context.length(LEAST_FLOOR)} of boards {thick} thick",
                    f"at most {context.at_most(context.thickness - LEAST_FLOOR)}, or thicker boards",
                )
            )
    return problems


def _ring_problems(values: Values, context: BuildContext, *, diameter: float, hole: float) -> list[Problem]:
    count = values.count("ring_holes")
    keys = ("ring_diameter", "ring_hole")
    if count == 0:
        return [
            context.problem(key, "is given, but there are no holes in the ring", "say how many with ring_holes")
            for key in (*keys, "ring_depth")
            if values.has(key)
        ]
    missing = [key for key in keys if not values.has(key)]
    if missing:
        return [
            context.problem(key, f"is not given for a ring of {counted(count, 'hole')}", "write a length")
            for key in missing
        ]
    ring, width = values.number("ring_diameter"), values.number("ring_hole")
    problems = []
    if not clear(ring + width + 2 * LEAST_WALL, diameter):
        problems.append(
            context.problem(
                "ring_diameter",
                f"holes of {context.length(width)} on a ring of {context.length(ring)} come too near the edge of a "
                f"round of {context.length(diameter)}",
                f"a diameter of at least {context.at_least(ring + width + 2 * LEAST_WALL)}, or a smaller ring",
            )
        )
    if hole and not clear(hole + width + 2 * LEAST_WALL, ring):
        problems.append(
            context.problem(
                "ring_diameter",
                f"the ring of {context.length(ring)} comes too near the middle hole of {context.length(hole)}",
                f"a ring of at least {context.at_least(hole + width + 2 * LEAST_WALL)}, or a smaller middle hole",
            )
        )
    if count > 1 and not clear(width + LEAST_WALL, ring * math.sin(math.pi / count)):
        fit = int(math.pi / math.asin(min((width + LEAST_WALL) / ring, 1.0)) + 1e-9)
        wider = context.at_least((width + LEAST_WALL) / math.sin(math.pi / count))
        problems.append(
            context.problem(
                "ring_holes",
                f"{count} holes of {context.length(width)} run together on a ring of {context.length(ring)}",
                f"at most {counted(max(fit, 1), 'hole')}, or a ring of at least {wider}",
            )
        )
    return problems


ROUND = Design(
    name="round",
    summary="a disc, with a hole in the middle and a ring of holes or sockets if wanted",
    parameters=(
        Parameter(name="diameter", kind="length", help="diameter of the disc", least=6.0, greatest=3000.0),
        Parameter(name="hole", kind="length", help="diameter of the hole in the middle; 0 for none", least=0.0),
        Parameter(name="ring_holes", kind="count", help="number of holes in a ring", least=0, greatest=200, default=0),
        Parameter(
            name="ring_diameter",
            kind="length",
            help="diameter of the circle through the ring's hole centres",
            least=1.0,
        ),
        Parameter(name="ring_hole", kind="length", help="diameter of each hole of the ring", least=0.5),
        Parameter(
            name="ring_depth",
            kind="length",
            help="depth of the ring's holes, which makes them sockets; default: right through",
            least=0.5,
        ),
        Parameter(name="counterbore", kind="length", help="diameter of the middle hole's wide upper end", least=1.0),
        Parameter(name="counterbore_depth", kind="length", help="depth of that wide end", least=0.5),
        Parameter(
            name="grain",
            kind="choice",
            help="none: the disc may be turned any way on the board",
            choices=("length", "none"),
            default="none",
        ),
    ),
    sizes={
        "small": {"diameter": "3 in", "hole": "3/16 in"},
        "medium": {"diameter": "4 3/4 in", "hole": "1/4 in"},
        "large": {"diameter": "5 1/4 in", "hole": "3/8 in"},
    },
    build=build_round,
    unit="in",
    takes_round_mm=True,
)
