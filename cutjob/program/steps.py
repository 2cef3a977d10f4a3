"""One cut to its moves: loops with lead-in, ramp, passes, tabs, lead-out; pockets; bores, drilled holes, marks. mm.

Feeds on arcs: moves have the feeds of straight cuts first, then go no faster round a curve than machine and cutter
allow.

Round a radius r of the cutter's centre the machine accelerates by v^2 / r, which must stay within its limit. Where
the cutter runs inside the curve it cuts - a bore, an opening, a pocket's wall, a hollow of an outline, a lead-in - its
edge goes along the wood at F (r + R) / r, R the cutter's radius, which must stay within the feed table. Units: mm,
mm/min, mm/s2.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from cutjob.cuts.cut import Cut, HoleCut, LoopCut, MarkCut, PocketCut, TabSpan
from cutjob.cuts.entry import Surroundings, best_lead, lead_in, lead_out
from cutjob.geometry.contour import circle
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Arc, Point, distance
from cutjob.program.moves import Move, Step
from cutjob.program.pocket_steps import finish_pass, on_rough, pocket_moves, pocket_start, widest_between
from cutjob.program.setting import Setting
from cutjob.program.tour import Start
from cutjob.program.walk import crossings, lift_off, rapid_over, segment_move, spiral, walk
from cutjob.tolerances import TOLERANCES


def arc_feed(radius: float, *, feed: float, cutter_radius: float, acceleration: float, inside: bool) -> float:
    """Return the greatest feed, mm/min, round an arc of the centre path with a `radius` in mm. It is at most `feed`,
    that of a straight cut. `acceleration` is in mm/s2. With `inside` the feed is that at the wall.
    """
    greatest = min(feed, 60 * math.sqrt(acceleration * radius))
    return min(greatest, feed * radius / (radius + cutter_radius)) if inside else greatest


def with_arc_feeds(moves: Sequence[Move], setting: Setting, *, both_walls: bool = False) -> list[Move]:
    """Return the moves with their feeds on arcs lowered to what `arc_feed` allows. The first move must not be an arc.

    Arcs run in the direction in which a hole is cut are inside arcs; with `both_walls`, as in a groove, all are. A
    beam's feed stays: it sets how deep the beam burns, and the controller slows down by itself.
    """
    if setting.laser:
        return list(moves)
    eased: list[Move] = []
    here: Point | None = None
    for move in moves:
        if move.centre is not None and here is not None:
            # Rounding may write an arc a little tighter.
            true = distance(here, move.centre)
            greatest = arc_feed(
                max(true - max(TOLERANCES.output, setting.grid), true / 2),
                feed=setting.feed,
                cutter_radius=setting.cutter_diameter / 2,
                acceleration=setting.acceleration,
                inside=both_walls or move.clockwise == setting.holes_clockwise,
            )
            eased.append(move if move.feed <= greatest else move.at_feed(greatest))
        else:
            eased.append(move)
        here = (move.x, move.y)
    return eased


# A lead-in of this share of the profile's radius is as good as a full one: no other start is tried.
_FULL_LEAD = 0.75
# How far above the underside rough passes end, mm: only the last pass frees the part. Common practice, no source.
_ROUGH_SHORT = 0.5


def step_of(
    cut: Cut, *, placement: int | None, starts: Sequence[Start], around: Surroundings, setting: Setting
) -> Step:
    """Return the step of a cut. `starts` are ways to do it, the most wanted first."""
    if isinstance(cut, LoopCut):
        own = -1 if placement is None else placement
        moves, bare = _loop(cut, own, [start.along for start in starts], around, setting)
        eased = with_arc_feeds(moves, setting)
        return Step(op=cut.op, placement=placement, feature=cut.feature, moves=tuple(eased), bare=bare)
    if isinstance(cut, HoleCut):
        moves = _hole(cut, setting)
    elif isinstance(cut, PocketCut):
        moves = pocket_moves(cut, setting)
    else:
        moves = _mark(cut, setting, backward=starts[0].along > 0)
    eased = with_arc_feeds(moves, setting, both_walls=isinstance(cut, MarkCut))
    return Step(op=cut.op, placement=placement, feature=cut.feature, moves=tuple(eased))


def _loop(
    cut: LoopCut, own: int, starts: list[float], around: Surroundings, setting: Setting
) -> tuple[list[Move], bool]:
    """The moves of a loop, and whether it starts on the part's own edge."""
    if setting.laser:
        ruler = Ruler(cut.path.segments)
        start, arc = _entry(cut, ruler, own, starts, around, setting)
        return _laser_loop(cut, ruler, start, arc, setting), arc is None and setting.lead > 0
    if cut.rough is None:
        ruler = Ruler(cut.path.segments)
        start, arc = _entry(cut, ruler, own, starts, around, setting)
        moves, here = _passes(cut, ruler, start, arc, _loop_depths(cut, setting), setting)
        moves += _way_out(cut, ruler, here, own, around, setting, moves)
        return moves + lift_off(moves, setting), arc is None and setting.lead > 0
    rough = on_rough(cut, setting.stack_height)
    ruler = Ruler(rough.path.segments)
    start, arc = _entry(rough, ruler, own, starts, around, setting)
    depths = setting.depths(max(setting.loops - _ROUGH_SHORT, setting.loops / 2))
    moves, here = _passes(rough, ruler, start, arc, depths, setting)
    last, end = finish_pass(cut, rough, here, moves[-1].z, -depths[-1], setting)
    moves += last
    moves += _way_out(cut, Ruler(cut.path.segments), end, own, around, setting, moves)
    return moves + lift_off(moves, setting), arc is None and setting.lead > 0


def _loop_depths(cut: LoopCut, setting: Setting) -> tuple[float, ...]:
    """The passes round a part or an opening. Where tabs hold it the last is lighter, so that it comes free gently."""
    return setting.gentle_depths(setting.loops) if cut.tabs else setting.depths(setting.loops)


def _passes(
    cut: LoopCut, ruler: Ruler, start: float, arc: Arc | None, depths: Sequence[float], setting: Setting
) -> tuple[list[Move], float]:
    """The moves down to the last of `depths`, pass by pass, and where along the path they end."""
    moves = rapid_over(arc.start if arc else ruler.point(start), setting)
    moves.append(Move("plunge", moves[-1].x, moves[-1].y, setting.top, setting.plunge))
    z = setting.top
    if arc is not None:
        z = max(-depths[0], setting.top - arc.length * setting.slope)
        moves.append(segment_move(arc, z, feed=setting.slope_feed(arc.length, z - setting.top)))
    here = start
    for number, depth in enumerate(depths):
        ramp_end = here + (z + depth) / setting.slope
        moves += walk(ruler, here, ramp_end, z, -depth, now=moves[-1].z, tabs=cut.tabs, setting=setting)
        # The next ramp starts where this one did, so every pass cuts the same depth; the last goes once right round.
        here = ramp_end + ruler.length if number == len(depths) - 1 else max(ramp_end, here + ruler.length)
        moves += walk(ruler, ramp_end, here, -depth, -depth, now=moves[-1].z, tabs=cut.tabs, setting=setting)
        z = -depth
    return moves, here


def _way_out(
    cut: LoopCut, ruler: Ruler, here: float, own: int, around: Surroundings, setting: Setting, moves: Sequence[Move]
) -> list[Move]:
    """The arc that leaves a path into the waste, if there is room for one."""
    if on_tab(cut.tabs, here, ruler.length, setting):
        return []
    out = best_lead(lead_out, ruler, here, own=own, waste=cut.waste, greatest=setting.lead, around=around)
    return [] if out is None else [segment_move(out, moves[-1].z, feed=setting.feed)]


def _laser_loop(cut: LoopCut, ruler: Ruler, start: float, arc: Arc | None, setting: Setting) -> list[Move]:
    """Round and round from `start`, with the beam off over the tabs."""
    moves = rapid_over(arc.start if arc else ruler.point(start), setting)
    if arc is not None:
        moves.append(segment_move(arc, 0.0, feed=setting.feed, power=setting.power))
    for _ in range(setting.passes):
        done, last = start, start + ruler.length
        for begin, end in [*crossings(ruler.length, start, last, cut.tabs), (last, last)]:
            moves += [
                segment_move(piece, 0.0, feed=setting.feed, power=setting.power) for piece in ruler.piece(done, begin)
            ]
            if end > begin:
                moves.append(Move("rapid", *ruler.point(end), setting.safe_z))
            done = end
    return moves


def _entry(
    cut: LoopCut, ruler: Ruler, own: int, starts: list[float], around: Surroundings, setting: Setting
) -> tuple[float, Arc | None]:
    """The first start with room for a full lead-in; else the one with the largest; else the most wanted,
    without one.
    """
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


def on_tab(tabs: Sequence[TabSpan], along: float, length: float, setting: Setting) -> bool:
    """Return whether a lead at `along` could cut into a bridge or its ramps."""
    clear = setting.lead + setting.cutter_diameter
    return any(
        (along - tab.first + tab.run + clear) % length < tab.last - tab.first + 2 * (tab.run + clear) for tab in tabs
    )


def starts_of(cut: Cut, count: int, setting: Setting) -> list[Start]:
    """Return ways to do a cut: places along a loop, clear of tabs; both ends of a mark; one for others."""
    if isinstance(cut, HoleCut):
        return [Start(0.0, cut.at, cut.at)]
    if isinstance(cut, PocketCut):
        return [pocket_start(cut)]
    if isinstance(cut, MarkCut):
        return _mark_starts(cut, setting)
    loop = cut if cut.rough is None or setting.laser else on_rough(cut, setting.stack_height)
    ruler = Ruler(loop.path.segments)
    # The end is a ramp further on than the start, and must be clear of tabs as well.
    run = 0.0 if setting.laser else _run(cut, setting)
    steps = [ruler.length * (step + 0.5) / count for step in range(count)]
    middles = [
        ruler.start_of(i) + segment.length / 2
        for i, segment in enumerate(loop.path.segments)
        if segment.length > ruler.length / 12
    ]
    uncut = [tab for tab in loop.tabs if setting.laser or tab.is_whole(setting.stack_height)]
    places = [
        along
        for along in [*middles, *steps]
        if not on_tab(loop.tabs, along + run, ruler.length, setting) and not on_tab(uncut, along, ruler.length, setting)
    ]
    if not places and uncut:
        # In the middle between two whole bridges.
        places = [widest_between(uncut, ruler.length)]
    return [Start(along, ruler.point(along), ruler.point(along + run)) for along in places or steps]


def _mark_starts(cut: MarkCut, setting: Setting) -> list[Start]:
    first, last = cut.path[0].start, cut.path[-1].end
    passes = 1 if setting.laser else len(setting.depths(cut.depth))
    ends = (first, last) if passes % 2 else (last, first)
    forward = Start(0.0, first, ends[1])
    return [forward] if first == last else [forward, Start(1.0, last, ends[0])]


def _run(cut: LoopCut, setting: Setting) -> float:
    """How far past its start a loop ends, whole rounds left out: one ramp, less the part that the lead-in falls."""
    depths = setting.depths(setting.loops) if cut.rough is not None else _loop_depths(cut, setting)
    return (depths[-1] - (depths[-2] if len(depths) > 1 else 0.0)) / setting.slope


def _hole(cut: HoleCut, setting: Setting) -> list[Move]:
    depth = setting.through if cut.depth is None else cut.depth
    if setting.laser:
        return _laser_hole(cut, setting)
    if cut.op == "drill":
        return _drill(cut, depth, setting)
    if cut.depth is None and not _leaves_plug(cut, setting):
        return _bore(cut, depth, setting)
    return _cleared_bore(cut, depth, setting)


def _leaves_plug(cut: HoleCut, setting: Setting) -> bool:
    """Whether a bore along the wall alone would leave a plug in the middle that is too large to come loose."""
    radius = max(0.0, cut.radius - setting.cutter_diameter / 2)
    return math.pi * radius**2 > TOLERANCES.loose_plug


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
    """Down a pass at a time. Between passes the drill leaves the hole to clear the chips, then goes back as a rapid to
    just above where it ended.
    """
    x, y = cut.at
    moves = rapid_over(cut.at, setting)
    for level in setting.depths(depth, top=cut.top):
        floor = moves[-1].z
        if floor < setting.approach_z:
            moves.append(Move("rapid", x, y, setting.approach_z))
            if floor < 0:
                moves.append(Move("rapid", x, y, floor + setting.approach_z))
        moves.append(Move("plunge", x, y, -level, setting.plunge))
    return moves + lift_off(moves, setting)


def _circle(cut: HoleCut, radius: float) -> tuple[Ruler, Point]:
    contour = circle(cut.at, radius).turned(counter_clockwise=not cut.clockwise)
    return Ruler(contour.segments), contour.segments[0].start


def _bore(cut: HoleCut, depth: float, setting: Setting) -> list[Move]:
    ruler, start = _circle(cut, cut.radius)
    moves = rapid_over(start, setting)
    moves.append(Move("plunge", *start, -cut.top, setting.plunge))
    moves += spiral(ruler, -cut.top, depth, setting.pitch(cut.radius), setting)
    moves += walk(ruler, 0.0, ruler.length, -depth, -depth, tabs=(), setting=setting)
    moves.append(Move("cut", *cut.at, -depth, setting.feed))
    return moves + lift_off(moves, setting)


def _cleared_bore(cut: HoleCut, depth: float, setting: Setting) -> list[Move]:
    """A spiral in the middle, then rings outward to the wall: the whole floor is cleared at every pass."""
    count = max(1, -(-cut.radius // setting.stepover))
    radii = [cut.radius * (ring + 1) / count for ring in range(int(count))]
    inner, start = _circle(cut, radii[0])
    moves = rapid_over(start, setting)
    moves.append(Move("plunge", *start, -cut.top, setting.plunge))
    z = -cut.top
    for level in setting.depths(depth, top=cut.top):
        moves += spiral(inner, z, level, setting.pitch(radii[0]), setting)
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


def _mark(cut: MarkCut, setting: Setting, *, backward: bool) -> list[Move]:
    turned = tuple(segment.reversed() for segment in reversed(cut.path))
    ways = (turned, cut.path) if backward else (cut.path, turned)
    moves = rapid_over(ways[0][0].start, setting)
    if setting.laser:
        return moves + [segment_move(s, 0.0, feed=setting.mark_feed, power=setting.mark_power) for s in ways[0]]
    for number, level in enumerate(setting.depths(cut.depth)):
        path = ways[number % 2]
        x, y = path[0].start
        moves.append(Move("plunge", x, y, -level, setting.plunge))
        moves += [segment_move(segment, -level, feed=setting.feed) for segment in path]
    return moves + lift_off(moves, setting)
