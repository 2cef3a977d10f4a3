"""A board on two feet let into dados across its underside, screwed from above through counterbored holes.

Board thickness + foot - dado = height, solved for the value that is missing. The machine cuts the dados and the screw
holes with the board's underside up; the counterbores are on the other face and drilled by hand. Feet are as thick as
the board, so they can be ripped from its own edge.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cutjob.counting import counted
from cutjob.designs.built_in.round import LEAST_FLOOR
from cutjob.designs.design import LEAST_WALL, BuildContext, Design, clear
from cutjob.designs.parameter import Parameter, Values
from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import Region, polyline, rectangle
from cutjob.geometry.segment import Point
from cutjob.parts.part import BoughtPart, Build, HandHole, Hole, Pocket, SawnPart, ShapedPart, Stand

# Height of feet where none is given, mm: 1 1/4 in. Common practice, no source.
USUAL_FOOT = 31.75

FOOTED_BOARD_PARAMETERS = (
    Parameter(name="length", kind="length", help="length of the board, along the grain", least=60.0, greatest=3000.0),
    Parameter(
        name="width", kind="length", help="width of the board, and length of the feet", least=30.0, greatest=1500.0
    ),
    Parameter(
        name="end_cut_length",
        kind="length",
        help="length of an end cut from which the machine cuts board and feet, as large as possible; instead of "
        "length and width",
        least=60.0,
        greatest=3000.0,
    ),
    Parameter(name="end_cut_width", kind="length", help="width of the end cut", least=30.0, greatest=1500.0),
    Parameter(
        name="kerf",
        kind="length",
        help="wood lost between board and feet; default: the job's gap, the least allowed",
        least=0.5,
        greatest=25.4,
    ),
    Parameter(
        name="end_cut_margin",
        kind="length",
        help="wood lost at each edge of the end cut; default: the job's edge_margin, the least allowed",
        least=0.0,
        greatest=100.0,
    ),
    Parameter(
        name="height",
        kind="length",
        help="overall height: board + foot - dado; leave out one of height, foot and dado, and it is worked out",
        least=10.0,
        greatest=600.0,
    ),
    Parameter(name="foot", kind="length", help="height of a foot, with the part in the dado", least=5.0, greatest=500),
    Parameter(name="dado", kind="length", help="depth of the dados", least=1.0, greatest=60.0),
    Parameter(
        name="play",
        kind="length",
        help="how much wider a dado is than the board is thick",
        least=0.0,
        greatest=3.0,
        default=0.2,
    ),
    Parameter(name="feet_in", kind="length", help="distance from each end to the foot", least=5.0, greatest=1000.0),
    Parameter(
        name="feet",
        kind="choice",
        help="cut: by the machine, with the board; sawn: ripped at the saw from a blank off the board's end",
        choices=("cut", "sawn"),
        default="cut",
    ),
    Parameter(
        name="screws", kind="count", help="screws in each foot; 0 for glue only", least=0, greatest=20, default=2
    ),
    Parameter(
        name="screw",
        kind="length",
        help="diameter of the hole for a screw's shank",
        least=2.0,
        greatest=15.0,
        default="1/4 in",
    ),
    Parameter(
        name="counterbore",
        kind="length",
        help="diameter of the wide upper end of a screw hole",
        least=4.0,
        greatest=40.0,
        default="1/2 in",
    ),
    Parameter(
        name="counterbore_depth",
        kind="length",
        help="how deep a screw's head is sunk",
        least=1.0,
        greatest=50.0,
        default="3/16 in",
    ),
)

FOOTED_BOARD_SIZES: Mapping[str, Mapping[str, object]] = {
    "small": {"length": "10 in", "width": "5 in", "feet_in": "2 in"},
    "medium": {"length": "14 in", "width": "9 in", "feet_in": "2 1/2 in"},
    "large": {"length": "18 in", "width": "11 in", "feet_in": "3 in"},
}


_BOARD, _FOOT = "board", "foot"  # names of the parts
_OVER_EDGE = 3.0  # mm a dado is drawn past the board's edges, so that it runs out
_SAME = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """Measures in mm."""

    length: float
    width: float
    height: float
    foot: float
    dado: float
    strips: int  # number of strips for the feet beside the board on an end cut; 0 without an end cut
    between: float  # wood lost between board and strips
    margin: float  # wood lost at the end cut's edges


def heights(
    thickness: float, *, height: float | None, foot: float | None, dado: float | None
) -> tuple[float, float, float]:
    """Return overall height, foot and dado, mm; a missing one is worked out by thickness + foot - dado = height.

    Where two or more are missing, the dado is a fifth of the thickness and the foot has its usual height.
    """
    if height is not None and foot is not None:
        return height, foot, thickness + foot - height if dado is None else dado
    dado = thickness / 5 if dado is None else dado
    if height is not None:
        return height, height - thickness + dado, dado
    foot = USUAL_FOOT if foot is None else foot
    return thickness + foot - dado, foot, dado


def from_end_cut(length: float, width: float, *, foot: float, kerf: float) -> tuple[float, float, int]:
    """Return length and width of the widest board that can be cut from an end cut with both its feet, mm, and the
    number of strips for the feet beside it; `kerf` is lost between any two pieces.

    Each foot is as long as the board is wide. The two are in one strip, end to end, or each in its own strip.
    """
    one = min(width - foot - kerf, (length - kerf) / 2)
    two = min(width - 2 * (foot + kerf), length)  # a foot can't be longer than its strip
    return (length, one, 1) if one >= two else (length, two, 2)


def build_footed_board(values: Values, context: BuildContext) -> Build:
    """Return board and feet. Raises InputError with everything that can't be built."""
    plan = _plan(values, context)
    problems = _height_problems(values, plan, context)
    if not problems:
        problems = _size_problems(values, plan, context) or _screw_problems(values, plan, context)
    if problems:
        raise InputError(problems)
    board = _board(values, plan, context)
    outline = Region(rectangle(plan.width, plan.foot))
    at_saw = values.word("feet") == "sawn"
    feet = tuple(ShapedPart(name=f"{_FOOT} {place}", region=outline, may_mirror=True) for place in (1, 2))
    sawn = tuple(SawnPart(name=f"{_FOOT} {place}", length=plan.width, width=plan.foot) for place in (1, 2))
    facts = [("overall height", plan.height), ("height of the feet", plan.foot), ("depth of the dados", plan.dado)]
    if plan.strips:
        facts += [("board from the end cut: length", plan.length), ("board from the end cut: width", plan.width)]
        facts.append((_FEET_LIE[plan.strips], plan.foot))
    return Build(
        shaped=(board,) if at_saw else (board, *feet),
        sawn=sawn if at_saw else (),
        hand_holes=_counterbores(values, context),
        bought=_screws(values, context),
        facts=tuple(facts),
        stands=_stands(values, plan, context),
    )


def _plan(values: Values, context: BuildContext) -> _Plan:
    given = {key: values.number(key) if values.has(key) else None for key in ("height", "foot", "dado")}
    height, foot, dado = heights(context.thickness_of(_BOARD), **given)
    length, width, strips = values.number_or("length", 0.0), values.number_or("width", 0.0), 0
    between = max(values.number_or("kerf", 0.0), context.gap)
    margin = max(values.number_or("end_cut_margin", 0.0), context.edge_margin)
    if values.has("end_cut_length") and values.has("end_cut_width"):
        clear_sides = [values.number(key) - 2 * margin for key in ("end_cut_length", "end_cut_width")]
        length, width, strips = from_end_cut(*clear_sides, foot=foot, kerf=between)
        length, width = (context.ruled_down(side) for side in (length, width))
    return _Plan(
        length=length,
        width=width,
        height=height,
        foot=foot,
        dado=dado,
        strips=strips,
        between=between,
        margin=margin,
    )


def _height_problems(values: Values, plan: _Plan, context: BuildContext) -> list[Problem]:
    thick = context.thickness_of(_BOARD)
    formula = f"{context.length(thick)} + {context.length(plan.foot)} - {context.length(plan.dado)}"
    comes = thick + plan.foot - plan.dado
    if abs(comes - plan.height) > _SAME:
        message = f"{formula} gives {context.length(comes)}, not {context.length(plan.height)}"
        return [context.problem("height", message, "leave out one of height, foot and dado, and it is worked out")]
    deepest = thick - LEAST_FLOOR
    if not (clear(1.0, plan.dado) and clear(plan.dado, deepest)):
        key = "dado" if values.has("dado") else "height"
        message = f"a dado of {context.length(plan.dado)} can't be cut in a board {context.length(thick)} thick"
        low, high = context.at_least(1.0), context.at_most(deepest)
        least, most = context.at_least(thick + plan.foot - deepest), context.at_most(thick + plan.foot - 1.0)
        advice = f"{low} to {high}" if key == "dado" else f"with this foot a height of {least} to {most}"
        return [context.problem(key, message, advice)]
    if not clear(plan.dado + _LEAST_FOOT, plan.foot):
        key = "foot" if values.has("foot") else "height"
        message = f"a foot of {context.length(plan.foot)} is hardly higher than its dado of {context.length(plan.dado)}"
        enough = plan.dado + _LEAST_FOOT if key == "foot" else thick + _LEAST_FOOT
        return [context.problem(key, message, f"at least {context.at_least(enough)}")]
    return []


def _size_problems(values: Values, plan: _Plan, context: BuildContext) -> list[Problem]:
    given = [values.has(key) for key in ("end_cut_length", "end_cut_width")]
    if any(given) and not all(given):
        missing = "end_cut_width" if given[0] else "end_cut_length"
        return [context.problem(missing, "is not given", "an end cut needs a length and a width")]
    if plan.strips and values.word("feet") == "sawn":
        message = "the machine cuts board and feet from an end cut, so feet can't be sawn"
        return [context.problem("feet", message, "leave it out, or give length and width instead of an end cut")]
    if plan.strips and abs(_feet_thick(values, context) - context.thickness_of(_BOARD)) > _SAME:
        message = "the machine cuts board and feet from one end cut, so both are of the same wood"
        return [
            context.problem(f"wood: {_FOOT}", message, "leave it out, or give length and width instead of an end cut")
        ]
    if not any(given):
        missing_keys = [key for key in ("length", "width") if not values.has(key)]
        if missing_keys:
            return [context.problem(key, "is not given", "write a length") for key in missing_keys]
    if not clear(_LEAST_WIDTH, plan.width):
        # The width of a board from an end cut is rounded down.
        need = context.ruled_up(_LEAST_WIDTH) + plan.foot + plan.between + 2 * plan.margin
        key = "end_cut_width" if any(given) else "width"
        message = f"only {context.length(max(plan.width, 0.0))} of the width is left for the board"
        least = need if any(given) else _LEAST_WIDTH
        return [context.problem(key, message, f"at least {context.at_least(least)}, or a lower foot")]
    inset, slot = values.number("feet_in"), _slot(values, context)
    if not clear(2 * (inset + slot) + LEAST_WALL, plan.length):
        most = (plan.length - LEAST_WALL) / 2 - slot
        message = f"feet {context.length(inset)} in from the ends meet in a board {context.length(plan.length)} long"
        longer = f"a length of at least {context.at_least(2 * (inset + slot) + LEAST_WALL)}"
        fits = f"at most {context.at_most(most)}, or " if most >= LEAST_WALL else ""
        return [context.problem("feet_in", message, f"{fits}{longer}")]
    return []


def _screw_problems(values: Values, plan: _Plan, context: BuildContext) -> list[Problem]:
    count = values.count("screws")
    if not count:
        return []
    screw, wide, depth = (values.number(key) for key in ("screw", "counterbore", "counterbore_depth"))
    problems = []
    feet_thick = _feet_thick(values, context)
    if not clear(screw + 2 * LEAST_WALL, feet_thick):
        message = f"screws of {context.length(screw)} split feet {context.length(feet_thick)} thick"
        problems.append(context.problem("screw", message, f"at most {context.at_most(feet_thick - 2 * LEAST_WALL)}"))
    if not clear(screw, wide - 1.0):
        message = f"{context.length(wide)} is no wider than the screw's hole"
        problems.append(context.problem("counterbore", message, f"at least {context.at_least(screw + 1.0)}"))
    deepest = context.thickness_of(_BOARD) - plan.dado - LEAST_FLOOR
    if not clear(depth, deepest):
        message = f"{context.length(depth)} leaves no wood between the screws' heads and the dado"
        fits = f"at most {context.at_most(deepest)}, or " if deepest >= 0.5 else ""
        problems.append(context.problem("counterbore_depth", message, f"{fits}a shallower dado"))
    if not clear(count * (wide + LEAST_WALL) + LEAST_WALL, plan.width):
        fit = int((plan.width - LEAST_WALL) / (wide + LEAST_WALL))
        message = f"no room for {counted(count, 'screw')} of {context.length(wide)} in {context.length(plan.width)}"
        problems.append(context.problem("screws", message, f"at most {fit}"))
    return problems


def _slot(values: Values, context: BuildContext) -> float:
    return _feet_thick(values, context) + values.number("play")


def _feet_thick(values: Values, context: BuildContext) -> float:
    return context.thickness_of(_FOOT, sawn=values.word("feet") == "sawn")


def _feet_at(values: Values, plan: _Plan, *, slot: float) -> tuple[float, float]:
    """The middles of the two dados along the board."""
    first = values.number("feet_in") + slot / 2
    return first, plan.length - first


def _board(values: Values, plan: _Plan, context: BuildContext) -> ShapedPart:
    slot, count = _slot(values, context), values.count("screws")
    pockets, holes = [], []
    for at in _feet_at(values, plan, slot=slot):
        x0, x1, y0, y1 = at - slot / 2, at + slot / 2, -_OVER_EDGE, plan.width + _OVER_EDGE
        pockets.append(Pocket(region=Region(polyline([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])), depth=plan.dado))
        for place in range(count):
            holes.append(Hole(at=(at, plan.width * (place + 0.5) / count), diameter=values.number("screw")))
    return ShapedPart(
        name=_BOARD,
        region=Region(rectangle(plan.length, plan.width)),
        holes=tuple(holes),
        pockets=tuple(pockets),
    )


def _counterbores(values: Values, context: BuildContext) -> tuple[HandHole, ...]:
    wide, depth = values.number("counterbore"), values.number("counterbore_depth")
    note = "counterbore each screw hole in the upper face; drill on into the feet with the screw's core diameter"
    return (HandHole(part="board", diameter=wide, depth=depth, note=note),) * (2 * values.count("screws"))


def _screws(values: Values, context: BuildContext) -> tuple[BoughtPart, ...]:
    count = 2 * values.count("screws")
    name = f"wood screw whose shank fits a hole of {context.length(values.number('screw'))}"
    return (BoughtPart(name=name, count=count),) if count else ()


def _stands(values: Values, plan: _Plan, context: BuildContext) -> tuple[Stand, ...]:
    """The view along the feet: two ends of feet under the board's edge."""
    middle, slot = plan.length / 2, _slot(values, context)
    thickness, feet_thick = context.thickness_of(_BOARD), _feet_thick(values, context)
    first = values.number("feet_in") + slot / 2
    foot = Region(rectangle(feet_thick, plan.foot))
    stands = [
        Stand(
            part=f"{_FOOT} {place}",
            outline=foot,
            seen="face",
            foot=0.0,
            centre=feet_thick / 2 + side * (middle - first),
            thick=plan.width,
        )
        for place, side in ((1, 1), (2, -1))
    ]
    return (
        *stands,
        Stand(
            part=_BOARD,
            outline=Region(rectangle(plan.length, plan.width)),
            seen="edge",
            foot=plan.foot - plan.dado,
            centre=middle,
            thick=thickness,
            profile=Region(
                polyline(_notched(plan.length, thickness, _feet_at(values, plan, slot=slot), slot=slot, dado=plan.dado))
            ),
        ),
    )


def _notched(length: float, thickness: float, dados: Sequence[float], *, slot: float, dado: float) -> list[Point]:
    """The board's edge, with the ends of the dados in its underside."""
    points: list[Point] = [(0.0, 0.0)]
    for at in sorted(dados):
        left, right = at - slot / 2, at + slot / 2
        points += [(left, 0.0), (left, dado), (right, dado), (right, 0.0)]
    return [*points, (length, 0.0), (length, thickness), (0.0, thickness)]


_LEAST_FOOT = 3.0  # mm, how far a foot must stand out of its dado
_LEAST_WIDTH = 30.0  # mm
_FEET_LIE = {1: "both feet beside it, end to end: width", 2: "the feet beside it, one beside the other: width of each"}

FOOTED_BOARD = Design(
    name="footed-board",
    summary="a board or glued panel on two feet let into dados, the height worked out",
    parameters=FOOTED_BOARD_PARAMETERS,
    sizes=FOOTED_BOARD_SIZES,
    build=build_footed_board,
    either=(("length", "end_cut_length"), ("width", "end_cut_width")),
    unit="in",
    takes_round_mm=True,
)
