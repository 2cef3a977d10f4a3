"""A bundle of laths or sticks of graded lengths, strung level below one another on two cords, and a small star below.

Laths are cut and bored on the machine; round sticks are sawn off and bored by hand. A cord runs through a hole near
each end, with a knot under every piece. The cords are vertical, or lean inward as the pieces get shorter. The star is
made of equal laths, each from one tip to another, tied or glued where they cross.

The sizes are proportions of our own.

The module also draws how a bundle hangs: its cords with their knots, and the star below. mm. Heights are measured from
the underside of the lowest piece.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from shapely import LineString

from cutjob.counting import counted
from cutjob.designs.built_in.graded_series import graded, lengths_of, ruled, runs_out
from cutjob.designs.built_in.plate import rounded_rectangle
from cutjob.designs.design import LEAST_WALL, BuildContext, Design, clear
from cutjob.designs.parameter import Parameter, Values
from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import Region, circle, polyline, rectangle
from cutjob.geometry.segment import Point
from cutjob.geometry.transform import Transform
from cutjob.parts.part import BoughtPart, Build, HandHole, Hole, RodPart, ShapedPart, Stand, StripPart

BUNDLE_PARAMETERS = (
    Parameter(
        name="of",
        kind="choice",
        help="laths cut on the machine, round sticks, or strips that are only sawn to length",
        choices=("laths", "sticks", "strips"),
        default="laths",
    ),
    Parameter(name="tiers", kind="count", help="number of pieces, one below the other", least=1, greatest=60),
    Parameter(name="longest", kind="length", help="length of the lowest piece", least=20.0, greatest=3000.0),
    Parameter(name="shortest", kind="length", help="length of the top piece", least=10.0, greatest=3000.0),
    Parameter(
        name="step", kind="length", help="how much shorter each piece is than the one below", least=0, greatest=1000
    ),
    Parameter(
        name="width", kind="length", help="width of a lath or strip", least=5.0, greatest=200.0, default="3/4 in"
    ),
    Parameter(
        name="rounding", kind="length", help="radius of a lath's corners", least=0.0, greatest=100.0, default="3/16 in"
    ),
    Parameter(
        name="stick", kind="length", help="diameter of a round stick", least=4.0, greatest=80.0, default="1/2 in"
    ),
    Parameter(name="strip", kind="length", help="thickness of a strip", least=3.0, greatest=80.0, default="3/8 in"),
    Parameter(name="gap", kind="length", help="bare cord above the lowest piece", least=0.0, greatest=500.0),
    Parameter(
        name="top_gap",
        kind="length",
        help="bare cord below the top piece, where gaps get smaller upwards; default: all gaps are equal",
        least=0.0,
        greatest=500.0,
    ),
    Parameter(
        name="hole",
        kind="length",
        help="diameter of the holes for the cords",
        least=1.0,
        greatest=30.0,
        default="1/4 in",
    ),
    Parameter(
        name="holes_apart",
        kind="length",
        help="distance between the two cords, which are vertical",
        least=5.0,
        greatest=3000.0,
    ),
    Parameter(
        name="holes_share",
        kind="number",
        help="distance between the two holes, as a share of a piece's length, so that the cords lean",
        least=0.05,
        greatest=0.98,
    ),
    Parameter(name="knot", kind="length", help="length of cord for a knot", least=0.0, greatest=200.0, default="1 in"),
    Parameter(
        name="hanger",
        kind="length",
        help="length of each cord above the top piece",
        least=0.0,
        greatest=3000.0,
        default="8 in",
    ),
    Parameter(
        name="star_tips",
        kind="count",
        help="tips of a star of equal laths; 0 for no star",
        least=0,
        greatest=24,
        default=0,
    ),
    Parameter(
        name="star_skip",
        kind="count",
        help="each lath of the star runs to the tip this many places further round",
        least=1,
        greatest=11,
        default=2,
    ),
    Parameter(
        name="star_stick", kind="length", help="length of the star's laths", least=20.0, greatest=1500, default="6 in"
    ),
)

BUNDLE_SIZES: Mapping[str, Mapping[str, object]] = {
    "small": {"tiers": 5, "longest": "9 in", "shortest": "4 in", "gap": "1 1/2 in", "holes_share": 0.75},
    "medium": {
        "tiers": 7,
        "longest": "13 in",
        "shortest": "5 in",
        "gap": "2 in",
        "top_gap": "1 in",
        "holes_share": 0.75,
        "star_tips": 5,
    },
    "large": {
        "tiers": 9,
        "longest": "17 in",
        "shortest": "6 in",
        "gap": "2 1/2 in",
        "top_gap": "1 1/8 in",
        "holes_share": 0.8,
        "star_tips": 5,
        "star_stick": "8 in",
    },
}


_KNOT = 3.5  # width of a knot in cord thicknesses; wider than the hole. Common practice, no source
_MOST_MITRE = 2.0


def star_of_sticks(*, tips: int, skip: int, stick: float) -> tuple[float, float]:
    """Return the diameter of the circle through the tips, mm, and the angle between the two sticks of a tip, degrees.

    Each stick of length `stick` runs from a tip to the one `skip` further round. By the law of cosines
    stick^2 = 2 R^2 (1 - cos(2 pi skip / tips)). The two sticks of a tip enclose an arc of 2 pi (tips - 2 skip) / tips;
    the angle at the tip is half of that.
    """
    turn = 2 * math.pi * skip / tips
    return 2 * stick / math.sqrt(2 * (1 - math.cos(turn))), 180.0 * (tips - 2 * skip) / tips


def cord_stands(
    apart: Sequence[float], *, thick: float, gaps: Sequence[float], cord: float, knot: float, hanger: float
) -> tuple[Stand, ...]:
    """Return both cords, `cord` thick, through the holes `apart` of each piece, with a knot under each piece. Their
    upper ends, `hanger` long above the top piece, meet where they are long enough.
    """
    feet = [place * thick + sum(gaps[:place]) for place in range(len(apart))]
    stands = []
    for side in (-1, 1):
        way: list[Point] = [(side * apart[0] / 2, -_KNOT * cord)]
        for wide, foot in zip(apart, feet, strict=True):
            way += [(side * wide / 2, foot), (side * wide / 2, foot + thick)]
        free, half, top = hanger - knot, apart[-1] / 2, feet[-1] + thick
        if free > half:
            way.append((0.0, top + math.sqrt(free**2 - half**2)))
        elif free > 0:
            way.append((side * half, top + free))
        stands.append(_line(way, cord))
        if knot > 0:
            places = [(side * wide / 2, foot) for wide, foot in zip(apart, feet, strict=True)]
            stands += [_ball(x, y - _KNOT * cord / 2, _KNOT * cord) for x, y in places]
    return tuple(stands)


def star_stands(
    laths: Sequence[ShapedPart], *, tips: int, skip: int, top: float, thick: float, cord: float
) -> tuple[Stand, ...]:
    """Return the star's laths, one over the other, with the highest joint `top` above the floor,
    and the star's cord.
    """
    if not laths:
        return ()
    _, _, stick, width = laths[0].region.bounds
    across, _ = star_of_sticks(tips=tips, skip=skip, stick=stick - width)
    # The upper edge of the tip's two laths must clear the joint by half a lath.
    middle = top - across / 2 - width / 2
    stands = []
    for place, lath in enumerate(laths):
        first, second = (math.pi / 2 + 2 * math.pi * tip / tips for tip in (place, place + skip))
        x0, y0 = across / 2 * math.cos(first), across / 2 * math.sin(first)
        x1, y1 = across / 2 * math.cos(second), across / 2 * math.sin(second)
        turn = Transform(degrees=math.degrees(math.atan2(y1 - y0, x1 - x0)))
        moved = turn.point((stick / 2, width / 2))
        at = Transform(degrees=turn.degrees, x=(x0 + x1) / 2 - moved[0], y=(y0 + y1) / 2 - moved[1])
        stands.append(Stand(part=lath.name, outline=at.region(lath.region), seen="face", foot=middle, thick=thick))
    return (_line([(0.0, 0.0), (0.0, top - width / 2)], cord), *stands)


def lifted(stands: Sequence[Stand]) -> tuple[Stand, ...]:
    """Return the stands moved up so that the lowest wood is on the floor."""
    feet = [
        stand.foot + (stand.outline.bounds[1] if stand.seen == "face" else 0.0)
        for stand in stands
        if stand.look != "cord"
    ]
    return tuple(replace(stand, foot=stand.foot - min(feet)) for stand in stands)


def _line(way: Sequence[Point], wide: float) -> Stand:
    area = LineString(way).buffer(wide / 2, cap_style="flat", join_style="mitre", mitre_limit=_MOST_MITRE)
    outline = Region(polyline([(x, y) for x, y in area.exterior.coords]).turned(counter_clockwise=True))
    return Stand(part="cord", outline=outline, seen="face", foot=0.0, thick=wide, look="cord")


def _ball(x: float, y: float, across: float) -> Stand:
    ball = Region(circle((x, y), across / 2))
    return Stand(part="knot", outline=ball, seen="face", foot=0.0, thick=across, look="cord")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """Measures in mm, from the lowest piece up."""

    lengths: tuple[float, ...]
    gaps: tuple[float, ...]
    apart: tuple[float, ...]  # distance between the two holes, for each piece
    thick: float  # thickness of each piece along the cord
    of: str  # kind of the pieces: laths, sticks or strips

    @property
    def cord(self) -> float:
        """The length of one cord from the lowest hole to the highest: through every piece, and at a
        slant between them.
        """
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
    whole = 2 * cord + (values.number("gap") if star else 0.0)
    facts = [
        ("hangs from the lowest piece to the highest", plan.thick * len(plan.lengths) + sum(plan.gaps)),
        (f"cord, each of two with {counted(knots, 'knot')}", cord),
        *((f"holes of {_name(i, plan)}: from either end", _from_end(i, plan)) for i in range(len(plan.lengths))),
        *star_facts,
        *([("star: cord from the lowest piece to the tip", values.number("gap"))] if star else ()),
    ]
    return Build(
        shaped=(*shaped, *star),
        rods=tuple(stick for stick in sticks if isinstance(stick, RodPart)),
        strips=tuple(stick for stick in sticks if isinstance(stick, StripPart)),
        hand_holes=by_hand,
        bought=(BoughtPart(name=f"cord, {context.at_least(whole)}"),),
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
                    thick=context.thickness_of("star lath"),
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
        thick=context.thickness_of("lath") if of == "laths" else values.number("stick" if of == "sticks" else "strip"),
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
        # The shortest piece sets both limits.
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
        message = f"with {tips} tips, sticks to the tip {skip} places further round make no star"
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
    # The joints are on the middle lines, so a lath extends beyond both tips by half its width.
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


# Thickness of a cord that slips easily through its hole, as a share of the hole. Common practice, no source.
_CORD_SHARE = 0.4

BUNDLE = Design(
    name="bundle",
    summary="graded laths or sticks strung on two cords, with a star of equal laths if wanted",
    parameters=BUNDLE_PARAMETERS,
    sizes=BUNDLE_SIZES,
    build=build_bundle,
    either=(("shortest", "step"), ("holes_apart", "holes_share")),
    needs_one=(("shortest", "step"), ("holes_apart", "holes_share")),
    unit="in",
    takes_round_mm=True,
)
