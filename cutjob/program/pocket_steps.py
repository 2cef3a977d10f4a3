"""A pocket's moves: its floor is cleared level by level, then its walls are cut at full depth in one pass. mm.

Also the last pass round a part or an opening, after rough passes a little farther out: at full depth, in one round.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace

import shapely

from cutjob.cuts.cut import Clearing, LoopCut, PocketCut, Side, TabSpan
from cutjob.cuts.entry import lead_in, lead_out
from cutjob.cuts.tabs import along_nearest
from cutjob.geometry.contour import Contour
from cutjob.geometry.nearest import NearestSegment
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Arc, Point, distance
from cutjob.program.moves import Move
from cutjob.program.setting import Setting
from cutjob.program.tour import Start
from cutjob.program.walk import lift_off, rapid_over, segment_move, spiral, walk
from cutjob.tolerances import TOLERANCES

# How much earlier before a tab, and later behind it, the rough path rises than the last pass does, mm.
_EARLIER = 0.5
_HARDLY_EARLIER = 0.1  # before and behind a bridge as high as the stack
_BEGINS_TRIED = 12  # places tried for the start of the last pass
_STRAIGHT = 0.97  # cosine of the greatest turn beside the start of the last pass, about 14 degrees
_OVER = 1.0  # mm that the last pass goes on past its start


def on_rough(cut: LoopCut, stack_height: float) -> LoopCut:
    """Return the rough path as a loop of its own, with the tabs where it passes them."""
    if cut.rough is None:
        raise ValueError("the cut has no rough path")
    ruler, final = Ruler(cut.rough.segments), Ruler(cut.path.segments)
    nearest = NearestSegment(cut.rough.segments)
    tabs: list[TabSpan] = []
    for tab in cut.tabs:
        if tab.is_whole(stack_height):
            # From beside one end to beside the other: the wood left there is cut at once over the whole height.
            first, last = (along_nearest(nearest, ruler, final.point(along)) for along in (tab.first, tab.last))
            earlier = min(_HARDLY_EARLIER, distance(final.point(tab.first), ruler.point(first)))
            first -= earlier
            tabs.append(replace(tab, first=first, last=first + (last + earlier - first) % ruler.length))
            continue
        middle = along_nearest(nearest, ruler, final.point((tab.first + tab.last) / 2))
        half = (tab.last - tab.first) / 2 + _EARLIER
        tabs.append(replace(tab, first=middle - half, last=middle + half))
    return replace(cut, path=cut.rough, rough=None, tabs=tuple(tabs))


def finish_pass(
    cut: LoopCut, rough: LoopCut, here: float, now: float, floor: float, setting: Setting
) -> tuple[list[Move], float]:
    """Return the moves from `here` mm along the rough path, at height `now` (that path's floor is `floor`), once round
    the final path at full depth; and where along the final path they end.

    The cutter goes on along the rough path, sinks to full depth on it, and comes over to the final path on an arc.
    """
    ruler, final = Ruler(rough.path.segments), Ruler(cut.path.segments)
    nearest = NearestSegment(rough.path.segments)
    down = (setting.loops + floor) / setting.slope
    places = [final.start_of(i) + segment.length / 2 for i, segment in enumerate(cut.path.segments)]
    places += [final.length * step / _BEGINS_TRIED for step in range(_BEGINS_TRIED)]
    whole = [tab for tab in cut.tabs if tab.is_whole(setting.stack_height)]
    places += [] if not whole else [widest_between(whole, final.length)]
    found: list[tuple[float, float, float]] = []
    for along in places:
        there = along_nearest(nearest, ruler, final.point(along))
        ahead = (there - here) % ruler.length
        ahead += ruler.length * max(0, -((ahead - down) // ruler.length))
        found.append((distance(final.point(along), ruler.point(there)), ahead, along))
    if whole:
        found = [one for one in found if not _over(whole, one[2], final.length, one[0])]
    # The two paths run side by side here, straight on and clear of tabs; elsewhere the way over could cut into the
    # part.
    least = min(apart for apart, _, _ in found)
    even = [
        (ahead, along)
        for apart, ahead, along in found
        if apart <= least + TOLERANCES.acceptance
        and _straight(final, along, 2 * apart)
        and not _near_tab(cut, along, final.length, setting)
    ]
    ahead, along = min(even, default=min((ahead, along) for apart, ahead, along in found if apart == least))
    apart = distance(final.point(along), ruler.point(here + ahead))
    moves = walk(ruler, here, here + ahead - down, floor, floor, now=now, tabs=rough.tabs, setting=setting)
    z = moves[-1].z if moves else now
    moves += walk(
        ruler, here + ahead - down, here + ahead, floor, -setting.loops, now=z, tabs=rough.tabs, setting=setting
    )
    arc = lead_in(final, along + apart, waste=cut.waste, radius=apart)
    z = moves[-1].z if moves else now
    if not moves or distance((moves[-1].x, moves[-1].y), arc.start) > TOLERANCES.same_point:
        moves.append(Move("cut", *arc.start, z, setting.feed))
    moves.append(segment_move(arc, z, feed=setting.feed))
    end = along + apart + final.length + _OVER
    moves += walk(final, along + apart, end, -setting.loops, -setting.loops, now=z, tabs=cut.tabs, setting=setting)
    return moves, end


def widest_between(tabs: Sequence[TabSpan], length: float) -> float:
    """Return the middle of the longest stretch of a closed path between two tabs, or from one to itself."""
    ends = sorted((tab.first % length, tab.last - tab.first) for tab in tabs)
    ends.append((ends[0][0] + length, 0.0))
    gaps = [
        (there - first - span, (first + span + there) / 2) for (first, span), (there, _) in itertools.pairwise(ends)
    ]
    return max(gaps)[1] % length


def _over(tabs: Sequence[TabSpan], along: float, length: float, apart: float) -> bool:
    """Whether the last pass, begun at a place, would cross over or run out at a tab; the rough path is `apart` off."""
    clear = _HARDLY_EARLIER + 2 * apart + _OVER
    return any((along - tab.first + clear) % length < tab.last - tab.first + 2 * clear for tab in tabs)


def _straight(ruler: Ruler, along: float, run: float) -> bool:
    """Whether a path runs straight, or nearly so, for `run` mm before and after a place."""
    ways = [ruler.direction(along + share * run) for share in (-1.0, -0.5, 0.0, 0.5, 1.0)]
    return all(x * ways[2][0] + y * ways[2][1] > _STRAIGHT for x, y in ways)


def _near_tab(cut: LoopCut, along: float, length: float, setting: Setting) -> bool:
    """Whether there is a tab or its ramp where the last pass would sink or cross over."""
    clear = setting.cutter_diameter + 2 * setting.lead
    behind = clear + setting.per_pass / setting.slope
    return any(
        (along - tab.first + tab.run + behind) % length < tab.last - tab.first + 2 * tab.run + clear + behind
        for tab in cut.tabs
    )


_SIDES: tuple[Side, ...] = ("left", "right")
_TRIED = 24  # places on a wall tried for the start of its last pass


def pocket_start(cut: PocketCut) -> Start:
    """Return where the cutter first comes down, and roughly where it ends."""
    first = cut.clearings[0].entry if cut.clearings else cut.walls[0]
    last = cut.walls[-1] if cut.walls else first
    return Start(0.0, first.segments[0].start, last.segments[0].start)


def pocket_moves(cut: PocketCut, setting: Setting) -> list[Move]:
    """Return the moves of a pocket: at every level each clearing from its entry on, then the walls at full depth."""
    moves: list[Move] = []
    z = 0.0
    room = _room(cut)
    stays = len(cut.clearings) == 1 and _stays_down(cut.clearings[0], cut.depth, room, setting)
    for level in setting.depths(cut.depth):
        for clearing in cut.clearings:
            entry = Ruler(clearing.entry.segments)
            start = clearing.entry.segments[0].start
            if moves and stays:
                if distance((moves[-1].x, moves[-1].y), start) > TOLERANCES.same_point:
                    moves.append(Move("cut", *start, z, setting.feed))
            else:
                moves += lift_off(moves, setting) if moves else []
                moves += rapid_over(start, setting)
                moves.append(Move("plunge", *start, z, setting.plunge))
            moves += spiral(entry, z, level, setting.pitch(entry.length / (2 * math.pi)), setting)
            moves += [segment_move(segment, -level, feed=setting.feed) for segment in clearing.path]
        z = -level
    moves += lift_off(moves, setting) if moves else []
    here = (moves[-1].x, moves[-1].y) if moves else cut.walls[0].segments[0].start
    for wall in cut.walls:
        moves += _wall(wall, here, cut.depth, room, setting)
        here = (moves[-1].x, moves[-1].y)
    return moves


def _stays_down(clearing: Clearing, depth: float, room: shapely.Geometry, setting: Setting) -> bool:
    """Whether the cutter can go from the end of a level to the start of the next over the floor it has just cleared: it
    goes no farther than a lift would take, and only between the ways it has run.
    """
    segments = [*clearing.entry.segments, *clearing.path]
    start, end = segments[0].start, segments[-1].end
    if distance(start, end) <= TOLERANCES.same_point:
        return True
    if distance(start, end) / setting.feed > 2 * (depth + setting.safe_z) / setting.lift:
        return False
    ways = shapely.LineString([start, *(point for segment in segments for point in segment.chords(TOLERANCES.chord))])
    # Closed by half the distance between two ways: this gives the floor they clear, and nothing beyond.
    half = setting.stepover / 2 + TOLERANCES.acceptance
    floor = shapely.intersection(shapely.buffer(shapely.buffer(ways, half), -half), room)
    way = shapely.LineString([end, start])
    return bool(shapely.covers(shapely.buffer(shapely.union(floor, ways), TOLERANCES.acceptance), way))


def _room(cut: PocketCut) -> shapely.Geometry:
    """Where the cutter's middle may go: within the outer wall's path and outside the paths round islands."""
    room: shapely.Geometry = shapely.Polygon()
    for wall in cut.walls:
        room = shapely.symmetric_difference(room, to_polygon(wall))
    room = shapely.buffer(room, TOLERANCES.chord)
    shapely.prepare(room)
    return room


def _wall(wall: Contour, here: Point, depth: float, room: shapely.Geometry, setting: Setting) -> list[Move]:
    ruler = Ruler(wall.segments)
    along, arc = _entry(ruler, here, room, setting)
    moves = rapid_over(arc.start if arc else ruler.point(along), setting)
    moves.append(Move("plunge", moves[-1].x, moves[-1].y, -depth, setting.plunge))
    if arc is not None:
        moves.append(segment_move(arc, -depth, feed=setting.feed))
    moves += walk(ruler, along, along + ruler.length, -depth, -depth, tabs=(), setting=setting)
    if arc is not None:
        side = _side(ruler, along, arc)
        out = lead_out(ruler, along, waste=side, radius=arc.radius)
        if _inside(out, room):
            moves.append(segment_move(out, -depth, feed=setting.feed))
    return moves + lift_off(moves, setting)


def _entry(ruler: Ruler, here: Point, room: shapely.Geometry, setting: Setting) -> tuple[float, Arc | None]:
    """The nearest place on a wall that a lead-in within the room reaches, and that lead-in; else the nearest,
    without.
    """
    places = sorted(
        (ruler.length * (step + 0.5) / _TRIED for step in range(_TRIED)),
        key=lambda along: (distance(ruler.point(along), here), along),
    )
    for share in (1.0, 0.5, 0.25):
        for along in places:
            for side in _SIDES:
                arc = lead_in(ruler, along, waste=side, radius=setting.lead * share)
                if setting.lead > 0 and _inside(arc, room):
                    return along, arc
    return places[0], None


def _inside(arc: Arc, room: shapely.Geometry) -> bool:
    return bool(shapely.covers(room, shapely.LineString([arc.start, *arc.chords(TOLERANCES.chord)])))


def _side(ruler: Ruler, along: float, arc: Arc) -> Side:
    (x, y), (dx, dy) = ruler.place(along)
    return "left" if dx * (arc.centre[1] - y) - dy * (arc.centre[0] - x) > 0 else "right"
