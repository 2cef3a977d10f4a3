"""The topper of a stack: a star or a round on the end of the rod, with a socket for the rod."""

from __future__ import annotations

from dataclasses import dataclass

from cutjob.designs.built_in.round import round_region
from cutjob.designs.built_in.star import star_problems, star_region, star_warnings
from cutjob.designs.design import LEAST_WALL, BuildContext, clear
from cutjob.designs.parameter import Parameter, Values
from cutjob.errors import InputError, Problem
from cutjob.parts.part import HandHole, Hole, ShapedPart

NAME = "topper"

TOPPER_PARAMETERS = (
    Parameter(
        name="topper",
        kind="choice",
        help="the shape on top of the rod",
        choices=("none", "star", "round"),
        default="none",
    ),
    Parameter(
        name="topper_diameter", kind="length", help="diameter of the topper", least=20.0, greatest=600.0, default="3 in"
    ),
    Parameter(name="topper_points", kind="count", help="points of a star on top", least=3, greatest=24, default=5),
    Parameter(
        name="topper_ratio",
        kind="number",
        help="a star's inner diameter as a share of the outer",
        least=0.2,
        greatest=0.95,
        default=0.5,
    ),
    Parameter(
        name="socket",
        kind="length",
        help="depth of the rod in the topper",
        least=3.0,
        greatest=150.0,
        default="1/2 in",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Topper:
    """The part, the hole drilled by hand where it stands on edge, and the depth of the rod in it, mm.

    `seat` is the height in the part's frame at which the rod enters a topper on edge: its lower edge at the centre.
    """

    part: ShapedPart
    hand_hole: HandHole | None
    socket: float
    seat: float
    warnings: tuple[str, ...] = ()


def topper_of(values: Values, context: BuildContext, *, rod: float, flat: bool) -> Topper | None:
    """Return the topper, or None where there is none. Raises InputError where it can't hold a rod of `rod` mm."""
    kind = values.word("topper")
    if kind == "none":
        return None
    problems = _problems(values, context, rod=rod, flat=flat, star=kind == "star")
    if problems:
        raise InputError(problems)
    outer, socket = values.number("topper_diameter"), values.number("socket")
    points, inner = values.count("topper_points"), outer * values.number("topper_ratio")
    star = kind == "star"
    region = star_region(points=points, outer=outer, inner=inner) if star else round_region(outer)
    part = ShapedPart(
        name=NAME,
        region=region,
        holes=(Hole(at=(0.0, 0.0), diameter=rod, depth=socket),) if flat else (),
        grain="length",
        may_mirror=True,
    )
    where = "notch between the two lower points" if star else "middle of the lower edge"
    note = f"socket for the rod, into the {where}, towards the centre"
    return Topper(
        part=part,
        hand_hole=None if flat else HandHole(part=NAME, diameter=rod, depth=socket, note=note),
        socket=socket,
        seat=-(inner if star else outer) / 2,
        warnings=star_warnings(points=points, outer=outer, inner=inner) if star else (),
    )


def _problems(values: Values, context: BuildContext, *, rod: float, flat: bool, star: bool) -> list[Problem]:
    problems: list[Problem] = []
    outer, socket = values.number("topper_diameter"), values.number("socket")
    points, inner = values.count("topper_points"), outer * values.number("topper_ratio")
    if star:
        problems += star_problems(
            context, points=points, outer=outer, inner=inner, key="topper_ratio", points_key="topper_points"
        )
    across = inner if star else outer
    if not clear(rod + 2 * LEAST_WALL, across):
        need = (rod + 2 * LEAST_WALL) * outer / across
        where = "between its notches" if star else "across"
        problems.append(
            context.problem(
                "topper_diameter",
                f"{context.length(outer)} ({context.length(across)} {where}) is too small for a rod of "
                f"{context.length(rod)}",
                f"at least {context.at_least(need)}",
            )
        )
    # Wood of its own may be thinner than that of the pieces, whose bore is checked with them.
    thick = context.thickness_of(NAME)
    if not flat and context.wood_of(NAME) is not None and not clear(rod + 2 * LEAST_WALL, thick):
        message = f"a topper {context.length(thick)} thick on edge leaves no wood beside a rod of {context.length(rod)}"
        advice = f'wood at least {context.at_least(rod + 2 * LEAST_WALL)} thick for it, or stands = "flat"'
        problems.append(context.problem(f"wood: {NAME}", message, advice))
    # On edge the socket goes from the lower edge towards the edge straight above: a tip, a notch or the round's top.
    reach = _height_at_centre(outer=outer, inner=inner, points=points) if star else outer
    deepest = (context.thickness_of(NAME) if flat else reach) - LEAST_WALL
    if not clear(socket, deepest):
        wood = f"boards {context.length(context.thickness_of(NAME))} thick" if flat else "the wood above it"
        larger = "take thicker boards" if flat else "take a larger topper"
        fits = f"at most {context.at_most(deepest)}, or {larger}" if deepest >= 3.0 else larger
        message = f"{context.length(socket)} goes through {wood}, or nearly so"
        problems.append(context.problem("socket", message, fits))
    return problems


def _height_at_centre(*, outer: float, inner: float, points: int) -> float:
    """Return the height of a star on the line up through its centre from the notch straight down, mm."""
    return (inner + outer) / 2 if points % 2 else inner
