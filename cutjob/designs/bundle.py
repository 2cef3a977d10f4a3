"""A bundle of laths or sticks of graded lengths, strung level below one another on two cords, and a small star below.

Laths are cut and bored on the machine; round sticks are sawn off and bored by hand. A cord runs through a hole near
each end, with a knot under every piece: upright, or leaning with the ends as they draw in. The star is made of equal
laths, each from one tip to another, tied or glued where they cross.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from cutjob.designs.bundle_parameters import BUNDLE_PARAMETERS, BUNDLE_SIZES
from cutjob.designs.bundle_standing import cord_stands, lifted, star_of_sticks, star_stands
from cutjob.designs.design import LEAST_WALL, BuildContext, Design, clear
from cutjob.designs.graded_series import graded, lengths_of, ruled, runs_out
from cutjob.designs.parameter import Values
from cutjob.designs.plate import rounded_rectangle
from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import Region, rectangle
from cutjob.parts.part import Build, HandHole, Hole, RodPart, ShapedPart, Stand, StripPart


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """Measures in mm, from the lowest piece up."""

    lengths: tuple[float, ...]
    gaps: tuple[float, ...]
    apart: tuple[float, ...]  # between the two holes of each piece
    thick: float  # of each piece along the cord
    of: str  # laths, sticks or strips

    @property
    def cord(self) -> float:
        """Of one cord from the lowest hole to the highest: through every piece, and slantwise between the pieces."""
        return self.thick * len(self.lengths) + sum(
            math.hypot(gap, (low - high) / 2)
            for gap, (low, high) in zip(self.gaps, itertools.pairwise(self.apart), strict=True)
        )


def build_bundle(values: Values, context: BuildContext) -> Build:
    """Return the pieces and the star of one bundle. Raises InputError with everything that can't be built."""
    problems = [*_series_problems(values, context), *_wood_problems(values, context)]
    if not problems:
        problems = _gap_problems(values, context)
    if not problems:
        problems = [*_hole_problems(values, context), *_star_problems(values, context)]
    if problems:
        raise InputError(problems)
    plan = _plan(values, context)
    hole = values.number("hole")
    shaped: tuple[ShapedPart, ...] = ()
    sticks: tuple[RodPart | StripPart, ...] = ()
    by_hand: tuple[HandHole, ...] = ()
    if plan.of != "laths":
        sticks = tuple(_stick(i, plan, values) for i in range(len(plan.lengths)))
        by_hand = tuple(one for i in range(len(sticks)) for one in _hand_holes(i, plan, hole=hole, context=context))
    else:
        shaped = tuple(_lath(i, plan, values) for i in range(len(plan.lengths)))
    star, star_facts = _star(values)
    knots = len(plan.lengths) + 1
    cord = plan.cord + knots * values.number("knot") + values.number("hanger")
    facts = [
        ("hangs from the lowest piece to the highest", plan.thick * len(plan.lengths) + sum(plan.gaps)),
        (f"cord, each of two with {knots} knots", cord),
        *((f"holes of {_name(i, plan)}: from either end", _from_end(i, plan)) for i in range(len(plan.lengths))),
        *star_facts,
        *([("star: cord from the lowest piece to the tip", values.number("gap"))] if star else ()),
    ]
    return Build(
        shaped=(*shaped, *star),
        rods=tuple(stick for stick in sticks if isinstance(stick, RodPart)),
        strips=tuple(stick for stick in sticks if isinstance(stick, StripPart)),
        hand_holes=by_hand,
        facts=tuple(facts),
        stands=lifted(
            (
                *_stands(plan, shaped=shaped),
                *cord_stands(
                    plan.apart,
                    thick=plan.thick,
                    gaps=plan.gaps,
                    cord=_CORD_SHARE * hole,
                    knot=values.number("knot"),
                    hanger=values.number("hanger"),
                ),
                *star_stands(
                    star,
                    tips=values.count("star_tips"),
                    skip=values.count("star_skip"),
                    top=-values.number("gap"),
                    thick=context.thickness,
                    cord=_CORD_SHARE * hole,
                ),
            )
        ),
    )


def _plan(values: Values, context: BuildContext) -> _Plan:
    lengths = lengths_of(values)
    of = values.word("of")
    if of != "laths":
        lengths = tuple(ruled(length, context.unit) for length in lengths)
    if values.has("holes_apart"):
        apart = (values.number("holes_apart"),) * len(lengths)
    else:
        apart = tuple(values.number("holes_share") * length for length in lengths)
    return _Plan(
        lengths=lengths,
        gaps=graded(values.number("gap"), values.number_or("top_gap", values.number("gap")), len(lengths) - 1)
        if len(lengths) > 1
        else (),
        apart=apart,
        thick=context.thickness if of == "laths" else values.number("stick" if of == "sticks" else "strip"),
        of=of,
    )


def _series_problems(values: Values, context: BuildContext) -> list[Problem]:
    """A piece must hold two holes with wood beside and between them."""
    least, longest = 2 * values.number("hole") + 3 * LEAST_WALL, values.number("longest")
    if not clear(least, longest):
        message = f"{context.length(longest)} leaves no wood beside the holes"
        return [context.problem("longest", message, f"at least {context.at_least(least)}")]
    if values.has("step"):
        return runs_out(values, context, least=least)
    shortest = values.number("shortest")
    if values.count("tiers") > 1 and shortest > longest:
        message = f"{context.length(shortest)} is more than the longest, {context.length(longest)}"
        return [context.problem("shortest", message, f"at most {context.length(longest)}")]
    if values.count("tiers") > 1 and not clear(least, shortest):
        message = f"{context.length(shortest)} leaves no wood beside the holes"
        return [context.problem("shortest", message, f"at least {context.at_least(least)}")]
    return []


def _wood_problems(values: Values, context: BuildContext) -> list[Problem]:
    key = "stick" if values.word("of") == "sticks" else "width"
    hole, across = values.number("hole"), values.number(key)
    if clear(hole + 2 * LEAST_WALL, across):
        return []
    fits = across - 2 * LEAST_WALL
    narrower = f"a hole of at most {context.at_most(fits)}, or " if fits >= 1 else ""
    message = f"{context.length(hole)} leaves no wood in {values.word('of')} {context.length(across)} across"
    return [
        context.problem("hole", message, f"{narrower}a {key} of at least {context.at_least(hole + 2 * LEAST_WALL)}")
    ]


def _gap_problems(values: Values, context: BuildContext) -> list[Problem]:
    if values.has("top_gap") and values.number("top_gap") > values.number("gap"):
        gap = context.length(values.number("gap"))
        message = f"{context.length(values.number('top_gap'))} is more than the lowest gap, {gap}"
        return [context.problem("top_gap", message, f"gaps close towards the top: at most {gap}")]
    return []


def _hole_problems(values: Values, context: BuildContext) -> list[Problem]:
    plan, hole = _plan(values, context), values.number("hole")
    key = "holes_apart" if values.has("holes_apart") else "holes_share"
    for index, (length, apart) in enumerate(zip(plan.lengths, plan.apart, strict=True)):
        least, most = hole + LEAST_WALL, length - hole - 2 * LEAST_WALL
        if clear(least, apart) and clear(apart, most):
            continue
        # The shortest piece settles both limits.
        shortest = min(plan.lengths)
        most = shortest - hole - 2 * LEAST_WALL
        if key == "holes_apart":
            advice = f"{context.at_least(least)} to {context.at_most(most)}"
        else:
            low, high = math.ceil(least / shortest * 1000) / 1000, math.floor(most / shortest * 1000) / 1000
            advice = f"a share of {low:g} to {high:g}"
        message = (
            f"holes {context.length(apart)} apart leave no wood in {_name(index, plan)}, {context.length(length)} long"
        )
        return [context.problem(key, message, advice)]
    return []


def _star_problems(values: Values, context: BuildContext) -> list[Problem]:
    tips, skip = values.count("star_tips"), values.count("star_skip")
    if not tips:
        return []
    if tips < 5 or not 2 <= skip < tips / 2:
        most = math.ceil(tips / 2) - 1
        message = f"sticks from each of {tips} tips to the {skip}. next make no star"
        advice = f"skip 2 to {most}" if most >= 2 else "at least 5 tips"
        return [context.problem("star_skip" if tips >= 5 else "star_tips", message, advice)]
    width, stick = values.number("width"), values.number("star_stick")
    if not clear(2 * width, stick):
        message = f"{context.length(stick)} is too short for laths {context.length(width)} wide"
        return [context.problem("star_stick", message, f"at least {context.at_least(2 * width)}")]
    return []


def _stick(index: int, plan: _Plan, values: Values) -> RodPart | StripPart:
    name, length = _name(index, plan), plan.lengths[index]
    if plan.of == "sticks":
        return RodPart(name=name, diameter=values.number("stick"), length=length)
    return StripPart(name=name, width=values.number("width"), thickness=values.number("strip"), length=length)


def _lath(index: int, plan: _Plan, values: Values) -> ShapedPart:
    length, width = plan.lengths[index], values.number("width")
    end, y = _from_end(index, plan), width / 2
    return ShapedPart(
        name=_name(index, plan),
        region=Region(rounded_rectangle(length, width, radius=min(values.number("rounding"), width / 2, length / 2))),
        holes=tuple(Hole(at=(x, y), diameter=values.number("hole")) for x in (end, length - end)),
        may_mirror=True,
    )


def _hand_holes(index: int, plan: _Plan, *, hole: float, context: BuildContext) -> tuple[HandHole, HandHole]:
    off = context.measured(_from_end(index, plan))
    first, second = (
        HandHole(
            part=_name(index, plan),
            diameter=hole,
            depth=None,
            note=f"through the middle, its centre {off} from {end}",
        )
        for end in ("one end", "the other end, in line with the first")
    )
    return first, second


def _star(values: Values) -> tuple[tuple[ShapedPart, ...], tuple[tuple[str, float], ...]]:
    tips, skip, stick = values.count("star_tips"), values.count("star_skip"), values.number("star_stick")
    if not tips:
        return (), ()
    width = values.number("width")
    # The joints are on the middle lines, so that a lath runs on by half its width at both tips.
    across, angle = star_of_sticks(tips=tips, skip=skip, stick=stick - width)
    region = Region(rounded_rectangle(stick, width, radius=min(values.number("rounding"), width / 2)))
    laths = tuple(ShapedPart(name=f"star lath {place}", region=region, may_mirror=True) for place in range(1, tips + 1))
    return laths, (
        (f"star: two laths meet at {angle:.4g} degrees; across the tips' joints", across),
        ("star: a joint from the lath's end", width / 2),
    )


def _stands(plan: _Plan, *, shaped: tuple[ShapedPart, ...]) -> tuple[Stand, ...]:
    stands, height = [], 0.0
    for index, length in enumerate(plan.lengths):
        stands.append(
            Stand(
                part=_name(index, plan),
                outline=shaped[index].region if shaped else Region(rectangle(length, plan.thick)),
                seen="edge" if shaped else "face",
                foot=height,
                centre=length / 2,
                thick=plan.thick,
            )
        )
        height += plan.thick + (plan.gaps[index] if index < len(plan.gaps) else 0.0)
    return tuple(stands)


def _from_end(index: int, plan: _Plan) -> float:
    return (plan.lengths[index] - plan.apart[index]) / 2


def _name(index: int, plan: _Plan) -> str:
    return f"{plan.of.removesuffix('s')} {index + 1}"


# A cord that slips through its hole easily, as a share of the hole. Common practice, no source.
_CORD_SHARE = 0.4

BUNDLE = Design(
    name="bundle",
    summary="graded laths or sticks strung on two cords, with a star of equal laths if wanted",
    parameters=BUNDLE_PARAMETERS,
    sizes=BUNDLE_SIZES,
    build=build_bundle,
    either=(("shortest", "step"), ("holes_apart", "holes_share")),
    needs_one=(("shortest", "step"), ("holes_apart", "holes_share")),
)
