"""Rods of falling length across a centre rod, with bought beads between them, on a round base.

Each rod is bored by hand through its middle, in the cradle of the design drilling-cradle. Lengths fall by a fixed step,
by a straight taper, or along the curve of a strip bent round pins.

The sizes are sets of 9, 12 and 15; common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from cutjob.designs.built_in.graded_series import lengths_of, ruled, runs_out
from cutjob.designs.built_in.round import LEAST_FLOOR, ring_of_holes, round_region
from cutjob.designs.design import LEAST_WALL, BuildContext, Design, clear
from cutjob.designs.parameter import Parameter, Pin, Values
from cutjob.errors import InputError, Problem
from cutjob.geometry.batten import natural_spline
from cutjob.geometry.contour import Region, circle, rectangle
from cutjob.parts.part import BoughtPart, Build, HandHole, Hole, RodPart, ShapedPart, Stand

GRADED_RODS_PARAMETERS = (
    Parameter(name="tiers", kind="count", help="number of rods across the centre rod", least=1, greatest=60),
    Parameter(name="longest", kind="length", help="length of the lowest rod", least=15.0, greatest=3000.0),
    Parameter(
        name="shortest", kind="length", help="length of the top rod, for a straight taper", least=5.0, greatest=3000
    ),
    Parameter(
        name="step", kind="length", help="how much shorter each rod is than the one below", least=0.0, greatest=1000
    ),
    Parameter(
        name="curve",
        kind="pins",
        help="lengths along a thin strip bent round pins: [share of the way up, share of the longest]",
        least=0.0,
        greatest=1.0,
    ),
    Parameter(name="rod", kind="length", help="diameter of the rods", least=4.0, greatest=80.0, default="3/4 in"),
    Parameter(
        name="centre_rod", kind="length", help="diameter of the centre rod", least=2.0, greatest=60, default="3/8 in"
    ),
    Parameter(name="beads", kind="count", help="beads between two rods", least=0, greatest=20, default=1),
    Parameter(
        name="bead",
        kind="length",
        help="diameter of a bead as bought; each bead takes this length of the centre rod",
        least=3.0,
        greatest=100.0,
        default="3/4 in",
    ),
    Parameter(
        name="bead_bore",
        kind="length",
        help="diameter of the beads' bore as bought; it is opened where narrower than the centre rod",
        least=0.5,
        greatest=60.0,
        default="3/16 in",
    ),
    Parameter(
        name="gap", kind="length", help="bare centre rod between rods without beads", least=0.0, greatest=500, default=0
    ),
    Parameter(name="top_bead", kind="yes_no", help="a bead on the top end", default=True),
    Parameter(
        name="foot",
        kind="length",
        help="bare centre rod between the base and the lowest rod",
        least=0.0,
        greatest=1000.0,
        default="1/2 in",
    ),
    Parameter(
        name="neck",
        kind="length",
        help="bare centre rod above the top rod, below its bead",
        least=0.0,
        greatest=1000.0,
        default=0,
    ),
    Parameter(name="base", kind="length", help="diameter of the round base", least=20.0, greatest=1000.0),
    Parameter(
        name="base_socket",
        kind="length",
        help="depth of the centre rod in the base; default: right through",
        least=2.0,
        greatest=100.0,
    ),
    Parameter(
        name="base_round",
        kind="length",
        help="radius by which the base's upper edge is rounded over, by hand",
        least=0.0,
        greatest=50.0,
        default="1/4 in",
    ),
    Parameter(
        name="base_sockets", kind="count", help="sockets in a ring in the base", least=0, greatest=100, default=0
    ),
    Parameter(
        name="socket_ring",
        kind="length",
        help="diameter of the circle through the sockets' centres",
        least=5.0,
        greatest=1000.0,
        default="3 1/2 in",
    ),
    Parameter(name="socket", kind="length", help="diameter of a socket", least=1.0, greatest=100.0, default="1/4 in"),
    Parameter(
        name="socket_depth", kind="length", help="depth of a socket", least=1.0, greatest=100.0, default="3/8 in"
    ),
)

GRADED_RODS_SIZES: Mapping[str, Mapping[str, object]] = {
    "small": {"tiers": 9, "longest": "9 in", "shortest": "2 in", "base": "4 1/2 in"},
    "medium": {"tiers": 12, "longest": "12 in", "shortest": "2 1/4 in", "base": "5 in"},
    "large": {"tiers": 15, "longest": "15 in", "shortest": "2 1/2 in", "base": "5 1/4 in"},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """Measures in mm, rods from the lowest up."""

    lengths: tuple[float, ...]
    rod: float
    centre_rod: float
    gap: float  # length of centre rod between two rods, taken by beads or bare
    beads: int  # for the whole stack
    seat: float  # depth of the centre rod in the base; the base's thickness where it goes through


def lengths_by_pins(pins: tuple[Pin, ...], *, longest: float, count: int) -> tuple[float, ...]:
    """Return `count` lengths, mm, read at equal steps off a strip bent round `pins`: [share of the way up, share of
    the longest].
    """
    strip = natural_spline([(along, share * longest) for along, share in pins])
    return tuple(strip.y(step / max(count - 1, 1)) for step in range(count))


def build_graded_rods(values: Values, context: BuildContext) -> Build:
    """Return rods, centre rod, base and beads of one stack. Raises InputError with everything that can't be built."""
    problems = [*_length_problems(values, context), *_bore_problems(values, context), *_base_problems(values, context)]
    if problems:
        raise InputError(problems)
    plan = _plan(values, context)
    count = len(plan.lengths)
    stand = count * plan.rod + (count - 1) * plan.gap
    foot, neck = values.number("foot"), values.number("neck")
    top = values.number("bead") if values.yes("top_bead") else 0.0
    centre = RodPart(
        name="centre rod", diameter=plan.centre_rod, length=plan.seat + foot + stand + neck + top, note=_EASED
    )
    base = _base(values, plan, context)
    rods = tuple(RodPart(name=_name(i), diameter=plan.rod, length=length) for i, length in enumerate(plan.lengths))
    facts = [("stand height", stand), ("rod length", centre.length)]
    if values.number("base_round"):
        facts.append(("round over the upper edge of the base", values.number("base_round")))
    return Build(
        shaped=(base,),
        rods=(centre, *rods),
        bought=(BoughtPart(name=_bead(values, context), count=plan.beads),) if plan.beads else (),
        hand_holes=(*(_hole(rod, plan, context) for rod in rods), *_opened(values, plan, context)),
        facts=tuple(facts),
        stands=(
            *_stands(base, centre, rods, plan, foot=foot, thickness=context.thickness_of("base")),
            *_bead_stands(values, plan, start=context.thickness_of("base") + foot),
        ),
    )


def _plan(values: Values, context: BuildContext) -> _Plan:
    lengths, each = _lengths(values, context), values.count("beads")
    return _Plan(
        lengths=lengths,
        rod=values.number("rod"),
        centre_rod=values.number("centre_rod"),
        gap=each * values.number("bead") if each else values.number("gap"),
        beads=each * (len(lengths) - 1) + values.yes("top_bead"),
        seat=values.number_or("base_socket", context.thickness_of("base")),
    )


def _lengths(values: Values, context: BuildContext) -> tuple[float, ...]:
    if values.has("curve"):
        longest, tiers = values.number("longest"), values.count("tiers")
        exact = lengths_by_pins(values.pins("curve"), longest=longest, count=tiers)
    else:
        exact = lengths_of(values)
    return tuple(ruled(length, context.unit) for length in exact)


def _length_problems(values: Values, context: BuildContext) -> list[Problem]:
    least, longest, tiers = (
        values.number("centre_rod") + 2 * LEAST_WALL,
        values.number("longest"),
        values.count("tiers"),
    )
    if not clear(least, longest):
        message = f"{context.length(longest)} leaves no wood beside the bore"
        return [context.problem("longest", message, f"at least {context.at_least(least)}")]
    if values.has("step"):
        return runs_out(values, context, least=least)
    key = "curve" if values.has("curve") else "shortest"
    lengths = _lengths(values, context)
    level = min(range(tiers), key=lambda index: lengths[index])
    if not clear(least, lengths[level]):
        where = f" at level {level + 1} of {tiers}" if key == "curve" else ""
        message = f"{context.length(lengths[level])}{where} leaves no wood beside the bore"
        share = f"pins that stay above {least / longest:.3f} of the longest, or a longer longest"
        return [context.problem(key, message, share if key == "curve" else f"at least {context.at_least(least)}")]
    if key == "shortest" and lengths[-1] > longest:
        message = f"{context.length(lengths[-1])} is more than the longest, {context.length(longest)}"
        return [context.problem(key, message, f"at most {context.length(longest)}")]
    return []


def _bore_problems(values: Values, context: BuildContext) -> list[Problem]:
    """Problems with the bores: those of the rods for the centre rod, and those of the beads opened for it."""
    centre, rod, bead = (values.number(key) for key in ("centre_rod", "rod", "bead"))
    problems = []
    if not clear(centre + 2 * LEAST_WALL, rod):
        thinner = rod - 2 * LEAST_WALL
        smaller = f"a centre rod of at most {context.at_most(thinner)}, or " if thinner >= 2 else ""
        message = f"a bore of {context.length(centre)} leaves no wood in rods of {context.length(rod)}"
        advice = f"{smaller}rods of at least {context.at_least(centre + 2 * LEAST_WALL)}"
        problems.append(context.problem("centre_rod", message, advice))
    has_beads = values.count("beads") > 0 or values.yes("top_bead")
    if has_beads and not clear(centre + 2 * LEAST_WALL, bead):
        message = f"beads of {context.length(bead)} can't be opened to {context.length(centre)}"
        advice = f"beads of at least {context.at_least(centre + 2 * LEAST_WALL)}, or a thinner centre rod"
        problems.append(context.problem("bead", message, advice))
    return problems


def _base_problems(values: Values, context: BuildContext) -> list[Problem]:
    base, centre, count = values.number("base"), values.number("centre_rod"), values.count("base_sockets")
    ring, socket, radius = (values.number(key) for key in ("socket_ring", "socket", "base_round"))
    problems = []
    if not clear(centre + 2 * (LEAST_WALL + radius), base):
        need = context.at_least(centre + 2 * (LEAST_WALL + radius))
        message = f"{context.length(base)} leaves no wood round the centre rod"
        problems.append(context.problem("base", message, f"at least {need}"))
    thick = context.thickness_of("base")
    for key in ("base_socket", "socket_depth"):
        used = key == "base_socket" or count > 0
        deepest = thick - LEAST_FLOOR
        if used and values.has(key) and not clear(values.number(key), deepest):
            message = f"{context.length(values.number(key))} goes through boards {context.length(thick)} thick"
            problems.append(context.problem(key, message, f"at most {context.at_most(deepest)}, or thicker boards"))
    if not clear(radius, thick):
        message = f"a rounding of {context.length(radius)} is more than the board's thickness"
        problems.append(context.problem("base_round", message, f"at most {context.at_most(thick)}"))
    if count:
        least, most = centre + socket + 2 * LEAST_WALL, base - socket - 2 * LEAST_WALL - 2 * radius
        if not (clear(least, ring) and clear(ring, most)):
            fits = clear(least, most)
            fit = f"a ring of {context.at_least(least)} to {context.at_most(most)}" if fits else "a larger base"
            message = f"sockets of {context.length(socket)} on a ring of {context.length(ring)} leave no wood"
            problems.append(context.problem("socket_ring", message, fit))
    return problems


def _base(values: Values, plan: _Plan, context: BuildContext) -> ShapedPart:
    through = not values.has("base_socket")
    holes: tuple[Hole, ...] = (
        Hole(at=(0.0, 0.0), diameter=plan.centre_rod, depth=None if through else values.number("base_socket")),
    )
    if values.count("base_sockets"):
        holes += ring_of_holes(
            count=values.count("base_sockets"),
            ring_diameter=values.number("socket_ring"),
            hole_diameter=values.number("socket"),
            depth=values.number("socket_depth"),
        )
    return ShapedPart(name="base", region=round_region(values.number("base")), holes=holes, may_mirror=through)


def _hole(rod: RodPart, plan: _Plan, context: BuildContext) -> HandHole:
    note = (
        f"through the middle, its centre {context.measured(rod.length / 2)} from either end, square to the rod; hold "
        "it in a drilling cradle"
    )
    return HandHole(part=rod.name, diameter=plan.centre_rod, depth=None, note=note)


def _opened(values: Values, plan: _Plan, context: BuildContext) -> tuple[HandHole, ...]:
    bore = values.number("bead_bore")
    if clear(plan.centre_rod, bore):
        return ()
    note = (
        f"open the bead's bore from {context.length(bore)} to {context.length(plan.centre_rod)}; hold it in a clamp "
        "with a hollow, never in the hand"
    )
    return (HandHole(part=_bead(values, context), diameter=plan.centre_rod, depth=None, note=note),) * plan.beads


def _bead(values: Values, context: BuildContext) -> str:
    return f"wooden bead, {context.length(values.number('bead'))} across"


def _stands(
    base: ShapedPart,
    centre: RodPart,
    rods: tuple[RodPart, ...],
    plan: _Plan,
    *,
    foot: float,
    thickness: float,
) -> tuple[Stand, ...]:
    stands = [
        Stand(part=base.name, outline=base.region, seen="edge", foot=0.0, thick=thickness),
        _upright(centre, thickness - plan.seat),
    ]
    height = thickness + foot
    for rod in rods:
        outline = Region(rectangle(rod.length, rod.diameter))
        stands.append(
            Stand(
                part=rod.name,
                outline=outline,
                seen="face",
                foot=height,
                centre=rod.length / 2,
                thick=rod.diameter,
                turns=True,
            )
        )
        height += plan.rod + plan.gap
    return tuple(stands)


def _bead_stands(values: Values, plan: _Plan, *, start: float) -> tuple[Stand, ...]:
    """The beads from the lowest up; the first rod is `start` above the floor."""
    bead, each, levels = values.number("bead"), values.count("beads"), len(plan.lengths)
    feet = [
        start + plan.rod + level * (plan.rod + plan.gap) + place * bead
        for level in range(levels - 1)
        for place in range(each)
    ]
    if values.yes("top_bead"):
        feet.append(start + levels * plan.rod + (levels - 1) * plan.gap + values.number("neck"))
    ball = Region(circle((0.0, bead / 2), bead / 2))
    return tuple(Stand(part="bead", outline=ball, seen="face", foot=foot, thick=bead, look="bead") for foot in feet)


def _upright(rod: RodPart, foot: float) -> Stand:
    outline = Region(rectangle(rod.diameter, rod.length))
    return Stand(part=rod.name, outline=outline, seen="face", foot=foot, centre=rod.diameter / 2, thick=rod.diameter)


def _name(index: int) -> str:
    return f"rod {index + 1}"


_EASED = "ease both ends"

GRADED_RODS = Design(
    name="graded-rods",
    summary="rods of falling length across a centre rod, with bought beads between, on a round base",
    parameters=GRADED_RODS_PARAMETERS,
    sizes=GRADED_RODS_SIZES,
    build=build_graded_rods,
    either=(("shortest", "step", "curve"),),
    needs_one=(("shortest", "step", "curve"),),
    unit="in",
    takes_round_mm=True,
)
