"""How a board lies on the machine: the windows of a long board, the holes for its pins, and screws through the waste.

Lengths mm, in the board's frame.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from cutjob.cuts.board_cuts import BoardCuts
from cutjob.cuts.cut import Feature, HoleCut
from cutjob.cuts.nose_margin import needed_stickout, off_clamps, screw_margin, stickout_advice
from cutjob.errors import InputError, Problem
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Point
from cutjob.holding.hold_downs import Places, as_hold_downs, hold_down_places
from cutjob.holding.windows import choose_windows, pin_places
from cutjob.job.machine import Cutter, Machine, Screws
from cutjob.layout.layout import BoardLayout, HoldDown, Window
from cutjob.layout.leftovers import LeftoverRule, wood_left
from cutjob.tolerances import TOLERANCES
from cutjob.units import length

_IN_LEFTOVER = (
    "the waste has too little room, so screws go through the board's offcut: less of the offcut is kept, or nothing"
)
# Wood round the hole of a pin, times the pin's width: this much holds it. Common practice, no source.
_PIN_WALL = 1.0


def bed_for_parts(machine: Machine, cutter: Cutter) -> float | None:
    """Return how long a part may be along a board longer than the bed: the bed less the cutter's run at both ends."""
    if machine.travel is None or not machine.travel.open_ends:
        return None
    return machine.travel.x - 2 * run_beside(machine, cutter, 2 * TOLERANCES.curve)


def with_windows(layout: BoardLayout, *, machine: Machine, cutter: Cutter) -> BoardLayout:
    """Return the layout with the windows it is cut in, if its board is longer than the machine reaches."""
    travel = machine.travel
    board = layout.board
    if travel is None or not travel.open_ends or not machine.runs_gcode:
        return layout
    spans = []
    for placement in layout.placements:
        run = run_beside(machine, cutter, placement.part.deviation)
        x0, _, x1, _ = placement.region.bounds
        spans.append((x0 - run, x1 + run))
    longest = max((last for _, last in spans), default=0.0) - min((first for first, _ in spans), default=0.0)
    if board.length <= travel.x + TOLERANCES.same_point and longest <= travel.x:
        return layout
    windows = choose_windows(spans, bed=travel.x, board=(0.0, board.length), before=_guests(layout))
    return replace(layout, windows=windows)


def run_beside(machine: Machine, cutter: Cutter, deviation: float) -> float:
    """How far beside a part the cutter's middle goes."""
    finish = machine.finish
    return cutter.radius + deviation + finish + machine.cutting.lead + 2 * TOLERANCES.acceptance


def _guests(layout: BoardLayout) -> list[list[int]]:
    """For each placement, the placements in its openings."""
    found: list[list[int]] = [[] for _ in layout.placements]
    starts = [shapely.Point(placement.region.outline.segments[0].start) for placement in layout.placements]
    for host, placement in enumerate(layout.placements):
        for hole in placement.region.holes:
            opening = to_polygon(hole)
            found[host] += [guest for guest, start in enumerate(starts) if guest != host and opening.contains(start)]
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class ThinWaste:
    """The waste has no room for screws whose heads keep `margin` mm off the swept area; the `problem` says where."""

    problem: Problem
    margin: float


def held_down(
    board: BoardCuts, *, machine: Machine, screws: bool, leftovers: LeftoverRule | None = None
) -> BoardCuts | ThinWaste:
    """Return the cuts with the holes for pins between windows, and for screws where these hold the board.

    Screws keep out of the `leftovers` that are worth keeping; if they can't, a warning says so. Raises InputError where
    no screw has the length for the boards or the waste has no room for pins.
    """
    board = _with_pins(board, machine)
    if not screws or not machine.runs_gcode or not machine.has_spindle:
        return board
    if machine.screws is None:
        raise InputError(
            Problem(
                place="board_held_by",
                message=f'the profile "{machine.name}" has no screws',
                advice="add [screws] with hole, head, height, margin and every to the profile, or use clamps",
            )
        )
    _check_length(board.layout, machine, machine.screws)
    return _with_screws(board, machine, machine.screws, leftovers)


def _check_length(layout: BoardLayout, machine: Machine, screws: Screws) -> None:
    """Raise InputError where no screw of the profile holds the boards and stays in the spoilboard."""
    spoilboard = machine.cutting.spoilboard
    if screws.length is None or screws.length_for(layout.height, spoilboard=spoilboard) is not None:
        return
    height, least = layout.height, layout.height + screws.least_bite
    known = ", ".join(map(length, screws.length))
    wood = f"{layout.stack} boards, {length(height)} high" if layout.stack > 1 else "the board"
    needed = f"at least {length(least)} long to hold in the spoilboard (least_bite of [screws])"
    if spoilboard is not None:
        most = length(height + spoilboard)
        needed += f", and at most {most}, or it goes through the spoilboard into the bed (spoilboard of [cutting])"
    raise InputError(
        Problem(
            location=layout.board.location,
            place=layout.id,
            message=f"no screw of the profile has the length for {wood}: it must be {needed}, and there are {known}",
            advice="add the length of a screw in that range to length in [screws], or use clamps",
        )
    )


def _with_pins(board: BoardCuts, machine: Machine) -> BoardCuts:
    layout, travel = board.layout, machine.travel
    if len(layout.windows) < 2 or travel is None or travel.located_by != "pins":
        return board
    wall = _PIN_WALL * travel.pin
    waste, plain = (
        _wood(layout).difference(shapely.union_all(busy))
        for busy in (
            busy_areas(board, machine, hole=travel.pin, kept=travel.pin / 2 + wall),
            busy_areas(board, machine),
        )
    )
    windows = list(layout.windows)
    cuts: list[tuple[HoleCut, ...]] = []
    for number in range(len(windows) - 1):
        both = windows[number], windows[number + 1]
        found = pin_places(waste, *both, diameter=travel.pin, wall=wall)
        if found is None:
            longer = ""
            if pin_places(plain, *both, diameter=travel.pin, wall=wall) is not None:
                needed = _over_clamps(board, machine, hole=travel.pin, known={})
                longer = f"{stickout_advice(needed)}, for the spindle's nose to pass over clamps; or "
            raise InputError(
                Problem(
                    location=layout.board.location,
                    place=f"{layout.id}",
                    message=f"the waste has no room for two pins of {length(travel.pin)} that lie in "
                    f"windows {number + 1} and {number + 2}",
                    advice=f'{longer}locate the board along a stop instead (located_by = "stop" in the profile), or '
                    "take thinner pins or more boards",
                )
            )
        windows[number] = replace(windows[number], holes=found)
        windows[number + 1] = replace(windows[number + 1], pins=found)
        cuts.append(_holes("pin hole", [(at, travel.pin) for at in found], board, machine))
    return replace(board, layout=replace(layout, windows=tuple(windows)), pins=(*cuts, ()))


def _with_screws(
    board: BoardCuts, machine: Machine, screws: Screws, leftovers: LeftoverRule | None
) -> BoardCuts | ThinWaste:
    layout = board.layout
    left = wood_left(layout, leftovers)
    # Nothing is cut in a board's offcut. Where the board holds without, no screw goes there, or only between the parts
    # and a slightly smaller offcut.
    between = screws.head + screws.hole + screw_margin(board, machine, screws)[0]
    less = wood_left(layout, leftovers, less=between)
    for spared in dict.fromkeys([tuple(left), tuple(less), tuple(left[:1]), tuple(less[:1]), ()]):
        holds = _screws(board, machine, screws, spared=spared)
        if holds is not None:
            break
    assert holds is not None
    if isinstance(holds, ThinWaste):
        return holds
    stand = any(piece.distance(shapely.Point(down.at)) < down.diameter / 2 for piece in left for down in holds)
    lost = len(spared) < len(left) and stand
    cuts = _holes("screw hole", [(down.at, down.diameter) for down in holds], board, machine)
    return replace(
        board,
        layout=replace(layout, hold_downs=tuple(holds)),
        hold_downs=cuts,
        warnings=(*board.warnings, *([_IN_LEFTOVER] if lost else [])),
    )


def _screws(
    board: BoardCuts, machine: Machine, screws: Screws, *, spared: Sequence[Polygon]
) -> list[HoldDown] | ThinWaste | None:
    """The screws of a board and its windows, outside of the `spared` areas; None where that leaves too few places, or
    the reason where nothing is spared and there are still too few.
    """
    layout = board.layout
    margin, stickouts = screw_margin(board, machine, screws)
    busy, plain = (
        busy_areas(board, machine, hole=screws.hole, kept=screws.head / 2 + margin),
        busy_areas(board, machine),
    )
    if busy != plain:
        stickouts |= _over_clamps(board, machine, hole=screws.hole, known=stickouts)
    wood = shapely.difference(_wood(layout), shapely.union_all([piece.buffer(machine.saw_kerf) for piece in spared]))
    holds: list[HoldDown] = []
    for number, window in enumerate(layout.windows or (None,)):
        own = _within(wood, window)
        found = None if spared and own.is_empty else _places(own, busy, screws, margin=margin)
        if found is None or (found.too_far and spared):
            return None
        if found.too_far:
            helps = stickouts and not _places(own, plain, screws, margin=screws.margin).too_far
            advice = stickout_advice(stickouts) if helps else ""
            return _thin(layout, found, screws, margin=margin, advice=advice)
        downs = as_hold_downs(found, screws)
        # The screws of the next window can't use the holes of this one.
        holes = [shapely.Point(down.at).buffer(down.diameter / 2) for down in downs]
        busy, plain = busy + holes, plain + holes
        holds += [replace(down, window=number) for down in downs] if window is not None else list(downs)
    return holds


def _within(wood: BaseGeometry, window: Window | None) -> BaseGeometry:
    if window is None or wood.is_empty:
        return wood
    x0, y0, x1, y1 = wood.bounds
    return wood.intersection(shapely.box(max(x0, window.first), y0, min(x1, window.last), y1))


def _places(wood: BaseGeometry, busy: Sequence[Polygon], screws: Screws, *, margin: float) -> Places:
    return hold_down_places(
        wood,
        busy=busy,
        head_diameter=screws.head,
        margin=margin,
        every=screws.every,
        edge=max(screws.hole, screws.head / 2),
    )


def _thin(layout: BoardLayout, found: Places, screws: Screws, *, margin: float, advice: str) -> ThinWaste:
    """Where the waste is too thin; `advice` says how the spindle's nose would pass, if that would help."""
    first, last = found.too_far[0]
    needed = length(screws.head + 2 * margin)
    if margin > screws.margin:
        own = length(screws.head + 2 * screws.margin)
        needed += f" for the spindle's nose to pass beside it ({own} if the nose weren't in the way)"
    lacking = found.lacking[0]
    short = (
        f"the waste is {length(lacking, finest=32)} too narrow" if lacking > 0 else "there is room for one, not for two"
    )
    if advice and margin <= screws.margin:
        short += ", because the spindle's nose needs room beside clamps while the hole is drilled"
    otherwise = 'give a wider gap or edge_margin, smaller heads, or board_held_by = "clamps"'
    return ThinWaste(
        problem=Problem(
            location=layout.board.location,
            place=layout.id,
            message=f"the waste is too thin for a screw between x {length(first)} and "
            f"{length(last)}: its head needs a clear circle of {needed}, and {short}",
            advice=f"{advice}; or {otherwise}" if advice else otherwise,
        ),
        margin=margin,
    )


# What the holes are for, and the profile's key for their width.
_WORDS = {"screw hole": ("screws", "hole of [screws]"), "pin hole": ("pins", "pin of [travel]")}


def _holes(
    kind: Literal["screw hole", "pin hole"], holes: Sequence[tuple[Point, float]], board: BoardCuts, machine: Machine
) -> tuple[HoleCut, ...]:
    """The cuts of through holes, each given by its place and diameter."""
    return tuple(
        _hole(Feature(kind=kind, number=number, diameter=diameter), at, diameter, board, machine)
        for number, (at, diameter) in enumerate(holes)
    )


def _hole(feature: Feature, at: Point, diameter: float, board: BoardCuts, machine: Machine) -> HoleCut:
    depth = machine.through(board.layout.height)
    cutter = board.cutters.for_hole(diameter, depth=depth)
    if cutter is None:
        what, size = _WORDS[feature.kind]
        raise InputError(
            Problem(
                location=board.layout.board.location,
                place=board.layout.id,
                message=f"no cutter makes the holes for the {what}, {length(diameter)} wide and {length(depth)} deep",
                advice=f"set {size} in the profile to the diameter of a cutter that is long enough, or add a "
                "drill bit of that size",
            )
        )
    drilled = diameter - cutter.diameter <= TOLERANCES.same_point
    return HoleCut(
        op="drill" if drilled else "bore",
        feature=feature,
        cutter=cutter.number,
        at=at,
        radius=0.0 if drilled else (diameter - cutter.diameter) / 2,
        depth=None,
        clockwise=machine.holes_clockwise,
    )


def _wood(layout: BoardLayout) -> Polygon:
    return to_polygon(layout.board.outline)


def _over_clamps(board: BoardCuts, machine: Machine, *, hole: float, known: Mapping[int, float]) -> dict[int, float]:
    """The stickouts, by number, with which the cutter for through `hole`s keeps its nose clear of everything on
    the board.
    """
    depth = machine.through(board.layout.height)
    cutter = board.cutters.for_hole(hole, depth=depth)
    if cutter is None:
        return {}
    least = needed_stickout(depth, board.layout.board.tallest)
    return {cutter.number: max(least, known.get(cutter.number, 0.0))}


def busy_areas(board: BoardCuts, machine: Machine, *, hole: float = 0.0, kept: float = math.inf) -> list[Polygon]:
    """All areas the cutter sweeps, keep-outs and lettering. Leads are left out: they give way to screws.

    Keep-outs are as large as the nose needs over `hole`s of that diameter, whose middles keep `kept` off all this.
    """
    layout, cutters = board.layout, board.cutters
    depth = machine.through(layout.height)
    cutter = cutters.for_hole(hole, depth=depth)
    beside = 0.0 if cutter is None else max(0.0, hole - cutter.diameter) / 2
    stock = off_clamps(layout.board, cutter, depth, machine, kept=kept - beside)
    slot = cutters.outline.diameter + TOLERANCES.acceptance
    areas = [placement.polygon.buffer(slot + placement.part.deviation, quad_segs=16) for placement in layout.placements]
    areas += [to_polygon(one.area) for one in stock.keep_outs]
    for lettering in layout.lettering:
        radius = cutters.for_strokes(depth=lettering.depth, number=lettering.cutter).radius
        areas += [
            shapely.LineString([path[0].start, *(segment.end for segment in path)]).buffer(radius)
            for path in lettering.paths
            if path
        ]
    areas += [
        shapely.Point(cut.at).buffer(cut.radius * 2 + cutters.numbered(cut.cutter).diameter)
        for cuts in board.pins
        for cut in cuts
    ]
    return areas


def obstacles(board: BoardCuts, window: int | None, *, machine: Machine) -> list[Polygon]:
    """Return the areas that leads must avoid in the waste of a board, or of one of its windows: clamps and heads of
    screws with their margin, pins, and thin waste that must stay.
    """
    layout = board.layout
    margin = screw_margin(board, machine, machine.screws)[0] if machine.screws is not None else 0.0
    clamps = [
        to_polygon(hold.area).buffer(machine.clamps.margin)
        for hold in (layout.holding.holds_in(window) if layout.holding is not None else ())
        if layout.holding is not None and layout.holding.by == "clamps"
    ]
    heads = [
        shapely.Point(down.at).buffer(down.head + margin)
        for down in layout.hold_downs
        if down.window is None or window is None or down.window == window
    ]
    pins = [
        shapely.Point(at).buffer(TOLERANCES.anchor)
        for number, other in enumerate(layout.windows)
        if window is None or number == window
        for at in (*other.holes, *other.pins)
    ]
    return [*clamps, *heads, *pins, *board.kept]
