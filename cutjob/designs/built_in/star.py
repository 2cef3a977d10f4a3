"""A star of straight lines: points on an outer circle, notches on an inner one, with a hole in the middle if wanted."""

from __future__ import annotations

import math

from cutjob.designs.design import LEAST_WALL, BuildContext, Design, clear
from cutjob.designs.parameter import Parameter, Values
from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import Region, polyline, regular_angles
from cutjob.geometry.segment import Point
from cutjob.parts.part import Build, Hole, ShapedPart

# Tips narrower than this break off in use. Common practice in the trade, no source.
NARROW_TIP_DEGREES = 20.0
# Greatest notch circle, as a share of the circle at which the star has no notches at all.
_MOST_OF_FLAT = 0.98


def star_region(*, points: int, outer: float, inner: float) -> Region:
    """Return a star about the origin, `outer` and `inner` diameters in mm, with a notch straight down.

    So a star with an odd number of points has one straight up and stands on two. Its area is
    points x R x r x sin(pi/points), from 2 x points triangles with two sides R and r.
    """
    first = -math.pi / 2 + math.pi / points
    tips, notches = regular_angles(points, first), regular_angles(points, first + math.pi / points)
    corners: list[Point] = []
    for tip, notch in zip(tips, notches, strict=True):
        corners.append((outer / 2 * math.cos(tip), outer / 2 * math.sin(tip)))
        corners.append((inner / 2 * math.cos(notch), inner / 2 * math.sin(notch)))
    return Region(polyline(corners))


def tip_degrees(*, points: int, outer: float, inner: float) -> float:
    """Return the angle of a star's tips: twice the angle between its edge and the line to the centre."""
    half = math.pi / points
    return 2 * math.degrees(math.atan2(inner * math.sin(half), outer - inner * math.cos(half)))


def star_problems(
    context: BuildContext, *, points: int, outer: float, inner: float, key: str, points_key: str
) -> list[Problem]:
    """Return the problems with the two circles of a star, at the parameter `key` of the inner one.

    The advice is an inner diameter where the key is `inner`, else a ratio.
    """
    flat = outer * math.cos(math.pi / points)
    if inner <= _MOST_OF_FLAT * flat:
        return []
    ratio = math.floor(_MOST_OF_FLAT * flat / outer * 1000) / 1000
    most = f"an inner diameter of at most {context.at_most(_MOST_OF_FLAT * flat)}"
    return [
        context.problem(
            key,
            f"an inner circle of {context.length(inner)} in an outer one of {context.length(outer)} leaves {points} "
            "points too flat to see",
            f"{most if key == 'inner' else f'a ratio of at most {ratio:g}'}, or more {points_key}",
        )
    ]


def star_warnings(*, points: int, outer: float, inner: float) -> tuple[str, ...]:
    """Return a warning where the tips are so narrow that they may break."""
    angle = tip_degrees(points=points, outer=outer, inner=inner)
    if angle >= NARROW_TIP_DEGREES:
        return ()
    return (f"the star's tips are only {angle:.0f} degrees wide and break easily; a wider inner circle is stronger",)


def build_star(values: Values, context: BuildContext) -> Build:
    """Return the star, the only part. Raises InputError where it has no points or the hole leaves no wood."""
    points, outer = values.count("points"), values.number("outer")
    key = "inner" if values.has("inner") else "ratio"
    inner = values.number("inner") if key == "inner" else outer * values.number("ratio")
    hole = values.number_or("hole", 0.0)
    problems = star_problems(context, points=points, outer=outer, inner=inner, key=key, points_key="points")
    # The notches are the outline's nearest points to the centre.
    if hole and not clear(hole + 2 * LEAST_WALL, inner):
        problems.append(
            context.problem(
                "hole",
                f"{context.length(hole)} leaves no wood between the hole and the notches, which are on a circle of "
                f"{context.length(inner)}",
                _hole_advice(context, hole=hole, inner=inner),
            )
        )
    if problems:
        raise InputError(problems)
    part = ShapedPart(
        name="star",
        region=star_region(points=points, outer=outer, inner=inner),
        holes=(Hole(at=(0.0, 0.0), diameter=hole),) if hole else (),
        grain="none" if values.word("grain") == "none" else "length",
        may_mirror=True,
    )
    return Build(shaped=(part,), warnings=star_warnings(points=points, outer=outer, inner=inner))


def _hole_advice(context: BuildContext, *, hole: float, inner: float) -> str:
    wider = f"an inner diameter of at least {context.at_least(hole + 2 * LEAST_WALL)}"
    fits = inner - 2 * LEAST_WALL
    return f"a hole of at most {context.at_most(fits)}, or {wider}" if fits > 1 else wider


STAR = Design(
    name="star",
    summary="a star of straight lines, with a hole in the middle if wanted",
    parameters=(
        Parameter(name="points", kind="count", help="number of points", least=3, greatest=60),
        Parameter(name="outer", kind="length", help="diameter of the circle through the tips", least=10, greatest=3000),
        Parameter(name="inner", kind="length", help="diameter of the circle through the notches", least=4.0),
        Parameter(name="ratio", kind="number", help="inner diameter as a share of the outer", least=0.1, greatest=0.98),
        Parameter(name="hole", kind="length", help="diameter of the hole in the middle; 0 for none", least=0.0),
        Parameter(
            name="grain",
            kind="choice",
            help="none: the star may be turned any way on the board",
            choices=("length", "none"),
            default="length",
        ),
    ),
    sizes={
        "small": {"points": 5, "outer": "3 1/2 in", "ratio": 0.45, "hole": "3/16 in"},
        "medium": {"points": 6, "outer": "4 1/2 in", "ratio": 0.5, "hole": "1/4 in"},
        "large": {"points": 8, "outer": "5 1/4 in", "ratio": 0.6, "hole": "3/8 in"},
    },
    build=build_star,
    either=(("inner", "ratio"),),
    needs_one=(("inner", "ratio"),),
    unit="in",
    takes_round_mm=True,
)
