"""A stack of graded pieces on a centre rod, the longest at the bottom, with gaps that are equal or close upwards.

Pieces stand on edge, with the rod through their height and its hole drilled by hand, or lie flat, with the hole bored
through the face by the machine. The rod runs from the underside of the base into the socket of the topper.

The sizes are proportions of our own for boards 5/8 in thick.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from cutjob.designs.built_in.graded_base import (
    Edges,
    piece_region,
    stack_stands,
    stop_holes,
    stop_problems,
    strip,
    thin_places,
    wood_around,
)
from cutjob.designs.built_in.graded_series import gaps_of, heights_of, lengths_of, series_problems
from cutjob.designs.built_in.topper import TOPPER_PARAMETERS, Topper, topper_of
from cutjob.designs.design import LEAST_WALL, BuildContext, Design, clear
from cutjob.designs.parameter import Parameter, Values
from cutjob.errors import InputError, Problem
from cutjob.geometry.segment import Line
from cutjob.parts.part import Build, HandHole, Hole, Mark, RodPart, SawnPart, ShapedPart
from cutjob.tolerances import TOLERANCES

GRADED_STACK_PARAMETERS = (
    Parameter(name="tiers", kind="count", help="number of pieces on the rod", least=1, greatest=60),
    Parameter(name="longest", kind="length", help="length of the lowest piece", least=15.0, greatest=3000.0),
    Parameter(name="shortest", kind="length", help="length of the top piece", least=5.0, greatest=3000.0),
    Parameter(
        name="step", kind="length", help="how much shorter each piece is than the one below", least=0.0, greatest=1000.0
    ),
    Parameter(name="tallest", kind="length", help="height of the lowest piece", least=10.0, greatest=500.0),
    Parameter(name="least_height", kind="length", help="height of the top piece", least=5.0, greatest=500.0),
    Parameter(name="gap", kind="length", help="bare rod between two pieces", least=0.0, greatest=500.0),
    Parameter(
        name="top_gap",
        kind="length",
        help="bare rod below the top piece, where gaps get smaller upwards; default: all gaps are equal",
        least=0.0,
        greatest=500.0,
    ),
    Parameter(
        name="flat_from",
        kind="count",
        help="the bottom edge is straight from this piece up; default: on no piece",
        least=1,
        greatest=60,
    ),
    Parameter(name="stops", kind="yes_no", help="holes in the rod for a tack under each piece", default=False),
    Parameter(name="stop", kind="length", help="diameter of a tack's hole", least=0.5, greatest=6.0, default="1/16 in"),
    Parameter(
        name="stands",
        kind="choice",
        help="how the pieces sit on the rod: on edge, or flat",
        choices=("on edge", "flat"),
        default="on edge",
    ),
    Parameter(
        name="bottom",
        kind="pins",
        help="bottom edge, along a thin strip bent round pins: [share of the way to the tip, share of the height]",
        least=0.0,
        greatest=1.0,
        default=[[0, 0], [0.55, 0.1], [1, 0.34]],
    ),
    Parameter(
        name="top",
        kind="pins",
        help="top edge, along a thin strip bent round pins: [share of the way to the tip, share of the height]",
        least=0.0,
        greatest=1.0,
        default=[[0, 1], [0.5, 0.82], [1, 0.62]],
    ),
    Parameter(
        name="bore", kind="length", help="diameter of the hole in the pieces for the rod", least=2.0, greatest=60.0
    ),
    Parameter(name="rod", kind="length", help="diameter of the rod; default: the bore's", least=1.0, greatest=60.0),
    Parameter(
        name="foot",
        kind="length",
        help="bare rod between the base and the lowest piece",
        least=0.0,
        greatest=1000.0,
        default=0,
    ),
    Parameter(
        name="neck",
        kind="length",
        help="bare rod between the top piece and the topper",
        least=0.0,
        greatest=1000.0,
        default=0,
    ),
    Parameter(
        name="base",
        kind="lengths",
        help="lengths of the pieces sawn off a board for the base, the lowest first",
        least=10.0,
        greatest=3000.0,
        default=[],
    ),
    Parameter(
        name="base_width",
        kind="length",
        help="width the base's pieces are ripped to; default: the board's",
        least=10.0,
        greatest=1500.0,
    ),
    *TOPPER_PARAMETERS,
    Parameter(
        name="centre_mark",
        kind="yes_no",
        help="a short line on the face that shows where to drill",
        default=False,
    ),
)

GRADED_STACK_SIZES: Mapping[str, Mapping[str, object]] = {
    "small": {
        "tiers": 5,
        "longest": "9 1/2 in",
        "shortest": "4 in",
        "tallest": "1 5/8 in",
        "least_height": "1 1/8 in",
        "gap": "3/4 in",
        "bore": "5/16 in",
        "foot": "1/2 in",
        "neck": "1/4 in",
        "base": ["5 in"],
        "topper": "round",
        "topper_diameter": "1 3/4 in",
    },
    "medium": {
        "tiers": 7,
        "longest": "14 in",
        "shortest": "5 in",
        "tallest": "2 in",
        "least_height": "1 1/4 in",
        "gap": "7/8 in",
        "bore": "3/8 in",
        "foot": "3/4 in",
        "neck": "1/2 in",
        "base": ["7 in", "5 in"],
        "topper": "star",
        "topper_diameter": "3 in",
    },
    "large": {
        "tiers": 9,
        "longest": "18 in",
        "shortest": "5 1/2 in",
        "tallest": "2 3/8 in",
        "least_height": "1 3/8 in",
        "gap": "1 1/8 in",
        "bore": "3/8 in",
        "foot": "1 in",
        "neck": "3/4 in",
        "base": ["9 in", "6 1/2 in"],
        "topper": "star",
        "topper_diameter": "4 in",
    },
}


_PIECE, _BASE = "piece", "base"  # names of the parts
_MARK_LENGTH = 6.0  # mm of a centre mark: long enough to set a square to
_MARK_INSET = 5.0  # mm between the mark and the edge, so that a cutter of 3/8 in does not nick the edge
_CLEARANCE_SAMPLES = 200  # places along a piece at which its distance from the next piece is measured
_CORNER_CHORD = 0.1  # mm; outlines are only measured roughly here


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """The measures of the parts, mm, from the lowest piece up."""

    edges: Edges
    lengths: tuple[float, ...]
    heights: tuple[float, ...]
    gaps: tuple[float, ...]
    bore: float
    rod: float
    flat: bool
    flat_from: int  # index of the first piece whose bottom edge is straight

    def edges_of(self, index: int) -> Edges:
        """The edges of a piece: the bottom is hollow or, from `flat_from` on, straight at the same height."""
        if index < self.flat_from:
            return self.edges
        level = self.edges.bottom[0][1]
        return Edges(bottom=((0.0, level), (1.0, level)), top=self.edges.top)

    @property
    def on_rod(self) -> tuple[float, ...]:
        """The length of rod that each piece on edge covers: its height at the centre."""
        bottom, top = self.edges.at_centre
        return tuple((top - bottom) * height for height in self.heights)


def build_graded_stack(values: Values, context: BuildContext) -> Build:
    """Return pieces, base, topper and rod of one stack. Raises InputError with everything that can't be built."""
    plan = _plan(values)
    problems = _problems(values, plan, context)
    topper: Topper | None = None
    try:
        topper = topper_of(values, context, rod=plan.rod, flat=plan.flat)
    except InputError as error:
        problems += error.problems
    if problems:
        raise InputError(problems)
    marked = values.yes("centre_mark")
    pieces = tuple(_piece(index, plan, marked=marked) for index in range(len(plan.lengths)))
    warnings = [*_bore_checks(pieces, plan, context), *_touching(plan, context)]
    if topper:
        warnings += [*topper.warnings, *_topper_touching(topper, values.number("neck"), plan, context)]
    hand_holes = [] if plan.flat else [_hand_hole(index, plan, context) for index in range(len(pieces))]
    if topper and topper.hand_hole:
        hand_holes.append(topper.hand_hole)
    base = values.lengths("base")
    each = [context.thickness_of(_PIECE)] * len(pieces) if plan.flat else list(plan.on_rod)
    stand = sum(each) + sum(plan.gaps)
    rod_length = (
        stand
        + len(base) * context.thickness_of(_BASE, sawn=True)
        + values.number("foot")
        + values.number("neck")
        + (topper.socket if topper else 0.0)
    )
    sawn = _base(base, values.number("base_width") if values.has("base_width") else None)
    hand_holes += _base_hole(base, plan)
    rod = RodPart(name="centre rod", diameter=plan.rod, length=rod_length)
    if values.yes("stops"):
        low = len(base) * context.thickness_of(_BASE, sawn=True) + values.number("foot")
        hand_holes += stop_holes(values, context, rod=rod, first=low, on_rod=each, gaps=plan.gaps)
    stands = stack_stands(
        pieces,
        on_rod=each,
        seats=[plan.edges.at_centre[0] * height for height in plan.heights],
        gaps=plan.gaps,
        flat=plan.flat,
        base=sawn,
        foot=values.number("foot"),
        rod=rod,
        context=context,
        topper=(topper.part, topper.seat, topper.socket) if topper else None,
    )
    return Build(
        shaped=(*pieces, *((topper.part,) if topper else ())),
        sawn=sawn,
        rods=(rod,),
        hand_holes=tuple(hand_holes),
        facts=(("stand height", stand), ("rod length", rod_length)),
        warnings=tuple(warnings),
        stands=stands,
    )


def _plan(values: Values) -> _Plan:
    bore = values.number("bore")
    return _Plan(
        edges=Edges(bottom=values.pins("bottom"), top=values.pins("top")),
        lengths=lengths_of(values),
        heights=heights_of(values),
        gaps=gaps_of(values),
        bore=bore,
        rod=values.number_or("rod", bore),
        flat=values.word("stands") == "flat",
        flat_from=values.count("flat_from") - 1 if values.has("flat_from") else values.count("tiers"),
    )


def _problems(values: Values, plan: _Plan, context: BuildContext) -> list[Problem]:
    problems = series_problems(values, context, least=plan.bore + 2 * LEAST_WALL)
    problems += [*_edge_problems(plan, context), *stop_problems(values, context, gaps=plan.gaps, rod=plan.rod)]
    if not clear(plan.rod, plan.bore):
        problems.append(
            context.problem(
                "rod",
                f"{context.length(plan.rod)} does not go through a bore of {context.length(plan.bore)}",
                f"a rod of at most {context.length(plan.bore)}",
            )
        )
    if not plan.flat and clear(context.thickness_of(_PIECE), plan.bore):
        fits = context.thickness_of(_PIECE) - 2 * LEAST_WALL
        narrower = f"a bore of at most {context.at_most(fits)}, " if fits >= 1 else ""
        problems.append(
            context.problem(
                "bore",
                f"{context.length(plan.bore)} leaves no wood in pieces on edge from boards "
                f"{context.length(context.thickness_of(_PIECE))} thick",
                f'{narrower}thicker boards, or stands = "flat"',
            )
        )
    if plan.flat and values.yes("centre_mark"):
        problems.append(
            context.problem(
                "centre_mark", "flat pieces need no mark, as the machine bores them", "leave centre_mark out"
            )
        )
    for place, length in enumerate(values.lengths("base"), start=1):
        if not clear(plan.rod + 2 * LEAST_WALL, length):
            need = context.at_least(plan.rod + 2 * LEAST_WALL)
            message = f"piece {place}, {context.length(length)}, leaves no wood beside the rod"
            problems.append(context.problem("base", message, f"at least {need}"))
    if values.has("base_width"):
        width = values.number("base_width")
        if not values.lengths("base"):
            problems.append(context.problem("base_width", "there is no base", "leave it out, or give base its lengths"))
        elif not clear(plan.rod + 2 * LEAST_WALL, width):
            need = context.at_least(plan.rod + 2 * LEAST_WALL)
            message = f"{context.length(width)} leaves no wood beside the rod"
            problems.append(context.problem("base_width", message, f"at least {need}"))
    return problems


def _edge_problems(plan: _Plan, context: BuildContext) -> list[Problem]:
    problems: list[Problem] = []
    for index, (length, height) in enumerate(zip(plan.lengths, plan.heights, strict=True)):
        if length <= 0 or problems:
            continue
        thin = thin_places(plan.edges_of(index), half=length / 2, height=height, least=LEAST_WALL)
        if thin:
            worst = thin[0]
            at = f"{context.length(worst.along * length / 2)} from the centre of piece {index + 1} ({worst.along:g} "
            crossed = "falls below" if worst.wood < 0 else "meets" if worst.wood == 0 else "comes too near to"
            problems.append(
                context.problem(
                    "top",
                    f"the top edge {crossed} the bottom edge {at}of the half length)",
                    f"move the pins of top and bottom apart there, or take higher pieces; "
                    f"at least {context.at_least(LEAST_WALL)} of wood must be left",
                )
            )
    return problems


def _piece(index: int, plan: _Plan, *, marked: bool) -> ShapedPart:
    height = plan.heights[index]
    low, high = (share * height for share in plan.edges.at_centre)
    mark = min(_MARK_LENGTH, (high - low) / 4)
    start = low + min(_MARK_INSET, (high - low) / 4)
    return ShapedPart(
        name=_name(index),
        region=piece_region(
            plan.edges_of(index), length=plan.lengths[index], height=height, deviation=TOLERANCES.curve
        ),
        holes=(Hole(at=(0.0, (low + high) / 2), diameter=plan.bore),) if plan.flat else (),
        marks=(Mark(path=(Line((0.0, start), (0.0, start + mark)),)),) if marked else (),
        grain="length",
        may_mirror=True,
        deviation=TOLERANCES.curve if plan.edges_of(index).curved else 0.0,
    )


def _hand_hole(index: int, plan: _Plan, context: BuildContext) -> HandHole:
    depth = plan.on_rod[index]
    note = (
        "through the height on the centre line, in the middle of the thickness; clamp the piece on edge between two "
        "straight boards and drill half way from each edge"
    )
    return HandHole(part=_name(index), diameter=plan.bore, depth=depth, note=note)


def _base_hole(lengths: tuple[float, ...], plan: _Plan) -> Iterator[HandHole]:
    """The hole for the rod in the base, drilled through all its pieces at once."""
    if lengths:
        note = "through the middle of the face, for the rod"
        glued = f"{note}; first glue its pieces on each other" if len(lengths) > 1 else note
        yield HandHole(part=_BASE, diameter=plan.rod, depth=None, note=glued)


def _base(lengths: tuple[float, ...], width: float | None) -> tuple[SawnPart, ...]:
    note = "glue the base's pieces on each other" if len(lengths) > 1 else ""
    return tuple(
        SawnPart(name=f"{_BASE} {place}", length=length, width=width, note=note)
        for place, length in enumerate(lengths, start=1)
    )


def _bore_checks(pieces: tuple[ShapedPart, ...], plan: _Plan, context: BuildContext) -> list[str]:
    """Return warnings of thin wood beside the bore. Raises InputError where a flat piece is no wider than its bore."""
    if not plan.flat:
        wall = (context.thickness_of(_PIECE) - plan.bore) / 2
        if clear(LEAST_WALL, wall):
            return []
        return [f"the bore leaves only {context.length(wall)} of wood on each side of pieces on edge"]
    walls = [wood_around(piece.region, piece.holes[0]) for piece in pieces]
    worst = min(range(len(walls)), key=lambda index: walls[index])
    if walls[worst] > 0:
        thin = walls[worst] < LEAST_WALL - 2 * TOLERANCES.chord
        return [f"the bore leaves only {walls[worst]:.2f} mm of wood in {_name(worst)}"] if thin else []
    fits = plan.bore + 2 * walls[worst] - 2 * LEAST_WALL
    narrower = f"a bore of at most {context.at_most(fits)}, " if fits >= 1 else ""
    raise InputError(
        context.problem(
            "bore",
            f"{context.length(plan.bore)} is wider than the wood of {_name(worst)} at its centre, "
            f"{context.length(plan.on_rod[worst])} high",
            f'{narrower}higher pieces, or stands = "on edge"',
        )
    )


def _touching(plan: _Plan, context: BuildContext) -> list[str]:
    """Return a warning for the worst pair of pieces on edge that hit each other as they turn."""
    if plan.flat:
        return []
    worst, pair = 0.0, 0
    for lower in range(len(plan.lengths) - 1):
        below = strip(plan.edges.top, half=plan.lengths[lower] / 2, height=plan.heights[lower])
        half = plan.lengths[lower + 1] / 2
        above = strip(plan.edges_of(lower + 1).bottom, half=half, height=plan.heights[lower + 1])
        for step in range(_CLEARANCE_SAMPLES + 1):
            x = half * step / _CLEARANCE_SAMPLES
            room = plan.gaps[lower] + above.y(x) - above.y(0.0) - below.y(x) + below.y(0.0)
            if room < worst:
                worst, pair = room, lower
    if not worst < 0:
        return []
    return [
        f"{_name(pair + 1)} hits {_name(pair)} when both point the same way; "
        f"a gap of at least {context.at_least(plan.gaps[pair] - worst)} keeps them apart"
    ]


def _topper_touching(topper: Topper, neck: float, plan: _Plan, context: BuildContext) -> list[str]:
    """Return a warning where a topper on edge, such as a star with its lower points, reaches into the top piece."""
    if plan.flat:
        return []
    half = plan.lengths[-1] / 2
    top = strip(plan.edges.top, half=half, height=plan.heights[-1])
    corners = [point for point in topper.part.region.outline.points(_CORNER_CHORD) if abs(point[0]) <= half]
    room = min((neck + y - topper.seat - top.y(x) + top.y(0.0) for x, y in corners), default=0.0)
    if room >= 0:
        return []
    return [
        f"the topper hits {_name(len(plan.lengths) - 1)}; "
        f"a neck of at least {context.at_least(neck - room)} keeps them apart"
    ]


def _name(index: int) -> str:
    return f"{_PIECE} {index + 1}"


GRADED_STACK = Design(
    name="graded-stack",
    summary="graded curved pieces on a centre rod, on edge or flat, with a base and a topper if wanted",
    parameters=GRADED_STACK_PARAMETERS,
    sizes=GRADED_STACK_SIZES,
    build=build_graded_stack,
    either=(("shortest", "step"),),
    needs_one=(("shortest", "step"),),
    unit="in",
    takes_round_mm=True,
)
