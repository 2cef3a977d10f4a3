"""One cut to its moves: loops with lead-in, ramp, passes, tabs and lead-out; bores, drilled holes and marks. mm."""

from __future__ import annotations

import math
from dataclasses import replace

from cutjob.cuts.cut import Cut, HoleCut, LoopCut, MarkCut
from cutjob.cuts.entry import Surroundings, best_lead, lead_in, lead_out
from cutjob.geometry.contour import circle
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Arc, Point
from cutjob.program.moves import Move, Step
from cutjob.program.setting import Setting
from cutjob.program.walk import lift_off, rapid_over, segment_move, walk
from cutjob.tolerances import TOLERANCES

# Share of the cutter's diameter by which rings on the floor of a blind bore lie apart.
_STEPOVER = 0.4
# A lead-in of this share of the profile's radius is as good as a full one: no other start is looked for.
_FULL_LEAD = 0.75


def step_of(cut: Cut, *, placement: int, starts: list[float], around: Surroundings, setting: Setting) -> Step:
    """Return the step of a cut. For a loop `starts` are places along it, the most wanted first."""
    if isinstance(cut, LoopCut):
        ruler = Ruler(cut.path.segments)
        start, arc = _entry(cut, ruler, placement, starts, around, setting)
        if setting.laser:
            moves = _laser_loop(ruler, start, arc, setting)
        else:
            moves = _router_loop(cut, ruler, start, arc, placement, around, setting)
        return Step(op=cut.op, placement=placement, moves=tuple(moves), bare=arc is None and setting.lead > 0)
    moves = _hole(cut, setting) if isinstance(cut, HoleCut) else _mark(cut, setting)
    return Step(op=cut.op, placement=placement, moves=tuple(moves))


def _router_loop(
    cut: LoopCut, ruler: Ruler, start: float, arc: Arc | None, own: int, around: Surroundings, setting: Setting
) -> list[Move]:
    moves = rapid_over(arc.start if arc else ruler.point(start), setting)
    moves.append(Move("plunge", moves[-1].x, moves[-1].y, setting.top, setting.plunge))
    z = setting.top
    depths = setting.depths(setting.through)
    if arc is not None:
        z = max(-depths[0], setting.top - arc.length * setting.slope)
        moves.append(segment_move(arc, z, feed=setting.ramp_feed))
    here = start
    for number, depth in enumerate(depths):
        ramp_end = here + (z + depth) / setting.slope
        moves += walk(ruler, here, ramp_end, z, -depth, now=moves[-1].z, tabs=cut.tabs, setting=setting)
        # The next ramp starts where this one did, so every pass takes the same depth; the last goes once right round.
        here = ramp_end + ruler.length if number == len(depths) - 1 else max(ramp_end, here + ruler.length)
        moves += walk(ruler, ramp_end, here, -depth, -depth, now=moves[-1].z, tabs=cut.tabs, setting=setting)
        z = -depth
    out = (
        best_lead(lead_out, ruler, here, own=own, waste=cut.waste, greatest=setting.lead, around=around)
        if not _on_tab(cut, here, ruler.length, setting)
        else None
    )
    if out is not None:
        moves.append(segment_move(out, moves[-1].z, feed=setting.feed))
    return moves + lift_off(moves, setting)


def _laser_loop(ruler: Ruler, start: float, arc: Arc | None, setting: Setting) -> list[Move]:
    moves = rapid_over(arc.start if arc else ruler.point(start), setting)
    if arc is not None:
        moves.append(segment_move(arc, 0.0, feed=setting.feed, power=setting.power))
    for _ in range(setting.passes):
        moves += [
            segment_move(piece, 0.0, feed=setting.feed, power=setting.power)
            for piece in ruler.piece(start, start + ruler.length)
        ]
    return moves


def _entry(
    cut: LoopCut, ruler: Ruler, own: int, starts: list[float], around: Surroundings, setting: Setting
) -> tuple[float, Arc | None]:
    """The first start with room for a full lead-in, else the one with the largest, else the most wanted one bare."""
    best: tuple[float, Arc | None] = (starts[0], None)
    for along in starts:
        arc = best_lead(lead_in, ruler, along, own=own, waste=cut.waste, greatest=setting.lead, around=around)
        if arc is None:
            continue
        if arc.radius > setting.lead * _FULL_LEAD:
            return along, arc
        if best[1] is None or arc.radius > best[1].radius + TOLERANCES.same_point:
            best = along, arc
    return best


def _on_tab(cut: LoopCut, along: float, length: float, setting: Setting) -> bool:
    """Whether a lead-out at `along` could cut into a bridge."""
    clear = setting.lead + setting.cutter_diameter
    return any((along - tab.first + clear) % length < tab.last - tab.first + 2 * clear for tab in cut.tabs)


def starts_of(cut: Cut, count: int, setting: Setting) -> list[tuple[float, Point]]:
    """Return places where a cut may start: lengths along a loop, clear of tabs, with their points; one for others."""
    if isinstance(cut, HoleCut):
        return [(0.0, cut.at)]
    if isinstance(cut, MarkCut):
        return [(0.0, cut.path[0].start)]
    ruler = Ruler(cut.path.segments)
    # The end lies a ramp further on than the start, and must be clear of tabs as well.
    run = 0.0 if setting.laser else _run(setting)
    steps = [ruler.length * (step + 0.5) / count for step in range(count)]
    middles = [
        ruler.start_of(i) + segment.length / 2
        for i, segment in enumerate(cut.path.segments)
        if segment.length > ruler.length / 12
    ]
    places = [along for along in [*middles, *steps] if not _on_tab(cut, along + run, ruler.length, setting)]
    return [(along, ruler.point(along)) for along in places or steps]


def _run(setting: Setting) -> float:
    """How far past its start a loop ends, whole rounds left out: one ramp, less what the lead-in falls."""
    return setting.depths(setting.through)[0] / setting.slope


def _hole(cut: HoleCut, setting: Setting) -> list[Move]:
    depth = setting.through if cut.depth is None else cut.depth
    if setting.laser:
        return _laser_hole(cut, setting)
    if cut.op == "drill":
        return _drill(cut, depth, setting)
    if cut.depth is None:
        return _bore(cut, depth, setting)
    return _blind_bore(cut, depth, setting)


def _laser_hole(cut: HoleCut, setting: Setting) -> list[Move]:
    """A circle entered from its middle on a half turn, so that the beam pierces in the waste."""
    ruler, start = _circle(cut, cut.radius)
    x, y = start
    middle = ((cut.at[0] + x) / 2, (cut.at[1] + y) / 2)
    entry = Arc(cut.at, start, middle, cut.clockwise)
    moves = rapid_over(cut.at, setting)
    moves.append(segment_move(entry, 0.0, feed=setting.feed, power=setting.power))
    for _ in range(setting.passes):
        moves += [segment_move(s, 0.0, feed=setting.feed, power=setting.power) for s in ruler.segments]
    return moves


def _drill(cut: HoleCut, depth: float, setting: Setting) -> list[Move]:
    """Down a pass at a time, out of the hole between passes to clear the chips."""
    x, y = cut.at
    moves = rapid_over(cut.at, setting)
    for level in setting.depths(depth):
        if moves[-1].z < setting.approach_z:
            moves.append(Move("rapid", x, y, setting.approach_z))
        moves.append(Move("plunge", x, y, -level, setting.plunge))
    return moves + lift_off(moves, setting)


def _circle(cut: HoleCut, radius: float) -> tuple[Ruler, Point]:
    contour = circle(cut.at, radius).turned(counter_clockwise=not cut.clockwise)
    return Ruler(contour.segments), contour.segments[0].start


def _spiral(ruler: Ruler, z: float, depth: float, pitch: float, setting: Setting) -> list[Move]:
    """Round and down from `z` to -`depth`, ending where it started so that a full turn at the depth can follow."""
    turns = max(1, -(-(z + depth) // pitch))
    run = turns * ruler.length
    # A narrow bore goes down steeper than a ramp, and then slower, so that the cutter sinks no faster than it plunges.
    sine = (z + depth) / math.hypot(run, z + depth)
    slower = replace(setting, ramp_feed=min(setting.ramp_feed, setting.plunge / sine))
    return walk(ruler, 0.0, run, z, -depth, tabs=(), setting=slower)


def _bore(cut: HoleCut, depth: float, setting: Setting) -> list[Move]:
    ruler, start = _circle(cut, cut.radius)
    moves = rapid_over(start, setting)
    moves.append(Move("plunge", *start, setting.top, setting.plunge))
    moves += _spiral(ruler, setting.top, depth, setting.pitch(cut.radius), setting)
    moves += walk(ruler, 0.0, ruler.length, -depth, -depth, tabs=(), setting=setting)
    moves.append(Move("cut", *cut.at, -depth, setting.feed))
    return moves + lift_off(moves, setting)


def _blind_bore(cut: HoleCut, depth: float, setting: Setting) -> list[Move]:
    """A spiral in the middle, then rings outward until the wall: the whole floor is cleared at every pass."""
    step = _STEPOVER * setting.cutter_diameter
    count = max(1, -(-cut.radius // step))
    radii = [cut.radius * (ring + 1) / count for ring in range(int(count))]
    inner, start = _circle(cut, radii[0])
    moves = rapid_over(start, setting)
    moves.append(Move("plunge", *start, setting.top, setting.plunge))
    z = setting.top
    for level in setting.depths(depth):
        moves += _spiral(inner, z, level, setting.pitch(radii[0]), setting)
        for radius in radii:
            ring, begin = _circle(cut, radius)
            if radius > radii[0]:
                moves.append(Move("cut", *begin, -level, setting.feed))
            moves += walk(ring, 0.0, ring.length, -level, -level, tabs=(), setting=setting)
        if level < depth and len(radii) > 1:
            moves.append(Move("cut", *start, -level, setting.feed))
        z = -level
    moves.append(Move("cut", *cut.at, -depth, setting.feed))
    return moves + lift_off(moves, setting)


def _mark(cut: MarkCut, setting: Setting) -> list[Move]:
    if setting.laser:
        moves = rapid_over(cut.path[0].start, setting)
        return moves + [segment_move(s, 0.0, feed=setting.mark_feed, power=setting.mark_power) for s in cut.path]
    moves = rapid_over(cut.path[0].start, setting)
    for number, level in enumerate(setting.depths(cut.depth)):
        forward = number % 2 == 0
        path = cut.path if forward else tuple(segment.reversed() for segment in reversed(cut.path))
        x, y = path[0].start
        moves.append(Move("plunge", x, y, -level, setting.plunge))
        moves += [segment_move(segment, -level, feed=setting.feed) for segment in path]
    return moves + lift_off(moves, setting)
