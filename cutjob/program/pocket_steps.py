"""A pocket's moves: its floor cleared level by level, then its walls at full depth in one pass. mm."""

from __future__ import annotations

import math

import shapely

from cutjob.cuts.cut import Clearing, PocketCut, Side
from cutjob.cuts.entry import lead_in, lead_out
from cutjob.geometry.contour import Contour
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Arc, Point, distance
from cutjob.program.moves import Move
from cutjob.program.setting import Setting
from cutjob.program.tour import Start
from cutjob.program.walk import lift_off, rapid_over, segment_move, spiral, walk
from cutjob.tolerances import TOLERANCES

_SIDES: tuple[Side, ...] = ("left", "right")
_TRIED = 24  # places on a wall where its last pass may begin


def pocket_start(cut: PocketCut) -> Start:
    """Return where the cutter comes down first and about where it ends."""
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
    """Whether the cutter goes from the end of a level to the start of the next over the floor it has just cleared: no
    farther than lifting takes, and nowhere but between the ways it has run.
    """
    segments = [*clearing.entry.segments, *clearing.path]
    start, end = segments[0].start, segments[-1].end
    if distance(start, end) <= TOLERANCES.same_point:
        return True
    if distance(start, end) / setting.feed > 2 * (depth + setting.safe_z) / setting.lift:
        return False
    ways = shapely.LineString([start, *(point for segment in segments for point in segment.chords(TOLERANCES.chord))])
    # Closed by half of what lies between two ways: the floor they clear, and nothing beyond.
    half = setting.stepover / 2 + TOLERANCES.acceptance
    floor = shapely.intersection(shapely.buffer(shapely.buffer(ways, half), -half), room)
    way = shapely.LineString([end, start])
    return bool(shapely.covers(shapely.buffer(shapely.union(floor, ways), TOLERANCES.acceptance), way))


def _room(cut: PocketCut) -> shapely.Geometry:
    """Where the cutter's middle may go: within the outer wall's path and outside those round islands."""
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
    """The nearest place on a wall that a lead-in within the room reaches, with it; else the nearest, bare."""
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
