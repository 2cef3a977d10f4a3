"""A plate: a rectangle with square or rounded corners, a hole in each corner and a row along the middle if wanted."""

from __future__ import annotations

from cutjob.counting import counted
from cutjob.designs.design import LEAST_WALL, BuildContext, Design, clear
from cutjob.designs.parameter import Parameter, Values
from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import Contour, Region, closed, rectangle
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.parts.part import Build, Hole, ShapedPart


def rounded_rectangle(length: float, width: float, *, radius: float) -> Contour:
    """Return a rectangle with rounded corners, its lower left corner at the origin, mm; half the width gives round
    ends.
    """
    if radius <= 0:
        return rectangle(length, width)
    x, y, r = length, width, radius
    corners: list[tuple[Point, Point, Point]] = [
        ((x - r, 0.0), (x, r), (x - r, r)),
        ((x, y - r), (x - r, y), (x - r, y - r)),
        ((r, y), (0.0, y - r), (r, y - r)),
        ((0.0, r), (r, 0.0), (r, r)),
    ]
    segments: list[Segment] = []
    at: Point = (r, 0.0)
    for start, end, centre in corners:
        if distance(at, start) > _SHORTEST:
            segments.append(Line(at, start))
            at = start
        segments.append(Arc(at, end, centre, False))
        at = end
    return closed(segments)


def build_plate(values: Values, context: BuildContext) -> Build:
    """Return the plate, the only part. Raises InputError where a corner or a hole leaves no wood."""
    problems = [*_corner_problems(values, context), *_row_problems(values, context)]
    if not problems:
        problems = _meeting(values, context)
    if problems:
        raise InputError(problems)
    part = ShapedPart(
        name="plate",
        region=Region(
            rounded_rectangle(values.number("length"), values.number("width"), radius=values.number("corner_radius"))
        ),
        holes=(*_corner_holes(values), *_row(values)),
        grain="none" if values.word("grain") == "none" else "length",
        may_mirror=True,
    )
    return Build(shaped=(part,))


def _corner_holes(values: Values) -> tuple[Hole, ...]:
    hole, inset = values.number("corner_hole"), values.number("corner_inset")
    if not hole:
        return ()
    x, y = values.number("length") - inset, values.number("width") - inset
    return tuple(Hole(at=at, diameter=hole) for at in ((inset, inset), (x, inset), (x, y), (inset, y)))


def _row(values: Values) -> tuple[Hole, ...]:
    """Holes on the middle line, with equal spaces between their centres and to the plate's ends."""
    count = values.count("row_holes")
    if not count:
        return ()
    space = values.number("length") / (count + 1)
    y = values.number("width") / 2
    return tuple(Hole(at=(space * (i + 1), y), diameter=values.number("row_hole")) for i in range(count))


def _corner_problems(values: Values, context: BuildContext) -> list[Problem]:
    length, width, radius = (values.number(key) for key in ("length", "width", "corner_radius"))
    hole, inset = values.number("corner_hole"), values.number("corner_inset")
    problems = []
    least = min(length, width)
    if not clear(2 * radius, least):
        message = f"{context.length(radius)} is more than half of {context.length(least)}"
        problems.append(context.problem("corner_radius", message, f"at most {context.at_most(least / 2)}"))
    if not hole or problems:
        return problems
    # In a rounded corner the nearest edge is along the diagonal where the hole's centre is beyond the arc's.
    off = radius - (radius - inset) * 2**0.5 if inset < radius else inset
    need = hole / 2 + LEAST_WALL
    if not clear(need, off):
        more = (radius * (2**0.5 - 1) + need) / 2**0.5 if inset < radius else need
        message = f"a hole of {context.length(hole)} comes too near the edge"
        problems.append(
            context.problem("corner_inset", message, f"at least {context.at_least(min(more, max(radius, need)))}")
        )
    if not clear(2 * inset + hole + LEAST_WALL, least):
        message = f"the holes of neighbouring corners run together on a side of {context.length(least)}"
        most = (least - hole - LEAST_WALL) / 2
        advice = f"at most {context.at_most(most)}" if most >= need else "leave the corner holes out, or a larger plate"
        problems.append(context.problem("corner_inset", message, advice))
    return problems


def _row_problems(values: Values, context: BuildContext) -> list[Problem]:
    count, hole = values.count("row_holes"), values.number("row_hole")
    length, width = values.number("length"), values.number("width")
    if not count:
        return []
    if not clear(hole + 2 * LEAST_WALL, width):
        message = f"{context.length(hole)} leaves no wood in a plate {context.length(width)} wide"
        return [context.problem("row_hole", message, f"at most {context.at_most(width - 2 * LEAST_WALL)}")]
    # The centres are one space apart, and the outer two one space from the ends.
    space, need = length / (count + 1), hole / 2 + LEAST_WALL if count == 1 else hole + LEAST_WALL
    if clear(need, space):
        return []
    fit = int(length / (hole + LEAST_WALL) + 1e-9) - 1
    message = f"no room for {counted(count, 'hole')} of {context.length(hole)} in {context.length(length)}"
    advice = f"at most {counted(fit, 'hole')}, or a longer plate" if fit >= 1 else "a longer plate, or narrower holes"
    return [context.problem("row_holes", message, advice)]


def _meeting(values: Values, context: BuildContext) -> list[Problem]:
    """The problem where a hole of the row runs into a corner hole."""
    need = (values.number("corner_hole") + values.number("row_hole")) / 2 + LEAST_WALL
    for corner in _corner_holes(values):
        for hole in _row(values):
            if not clear(need, distance(corner.at, hole.at)):
                return [
                    context.problem("row_holes", "the row runs into the corner holes", "take fewer or narrower holes")
                ]
    return []


# A line shorter than this between two rounded corners is only a rounding error, mm.
_SHORTEST = 1e-6

PLATE = Design(
    name="plate",
    summary="a rectangle with square or rounded corners, with corner holes and a row of holes if wanted",
    parameters=(
        Parameter(name="length", kind="length", help="length, along the grain", least=10.0, greatest=3000.0),
        Parameter(name="width", kind="length", help="width, across the grain", least=10.0, greatest=3000.0),
        Parameter(
            name="corner_radius",
            kind="length",
            help="radius of the corners; half the width gives round ends, 0 square corners",
            least=0.0,
            greatest=1500.0,
        ),
        Parameter(
            name="corner_hole",
            kind="length",
            help="diameter of a hole in each corner; 0 for none",
            least=0.0,
            default=0,
        ),
        Parameter(
            name="corner_inset",
            kind="length",
            help="distance from the edges to the corner holes' centres",
            least=1.0,
            default="1/2 in",
        ),
        Parameter(
            name="row_holes", kind="count", help="number of holes along the middle", least=0, greatest=200, default=0
        ),
        Parameter(
            name="row_hole", kind="length", help="diameter of the holes along the middle", least=0.5, default="1/4 in"
        ),
        Parameter(
            name="grain",
            kind="choice",
            help="none: the plate may be turned any way on the board",
            choices=("length", "none"),
            default="length",
        ),
    ),
    sizes={
        "small": {"length": "5 in", "width": "2 1/2 in", "corner_radius": "1/4 in"},
        "medium": {
            "length": "8 in",
            "width": "3 1/2 in",
            "corner_radius": "3/8 in",
        },
        "large": {
            "length": "12 in",
            "width": "4 3/4 in",
            "corner_radius": "1/2 in",
        },
    },
    build=build_plate,
    unit="in",
    takes_round_mm=True,
)
