"""Every way through wood, down or level, along parts or in the waste, may take only as much new wood in one pass as the
feed table allows. mm.

New wood is the wood between the floor that earlier motions left under the cutter and the end of a way down, or a level
way. An earlier motion through the very place cleared all that the cutter covers there; if there was none, places over
the cutter's face are checked. Where rough passes may leave wood on walls for a last pass at full depth, an earlier
motion that far aside counts too, and a crescent at the cutter's rim, twice as wide (as in a corner of 60 degrees), may
be new. A level way may also take wood that reaches under less than a third of the face, such as a thin post or rib left
standing. Wood that the cutter took right before on the same way, at about the same height and no farther back than its
width, counts as new: a way cut up into short pieces takes as much as the whole.
A lead that leaves a cut at full depth takes no more than a crescent of its own radius beside its slot: a level way may
go that far aside, if it is no longer than the greatest lead. The plug that a bore leaves in its middle is small, and
loose once its wall is cut through: a level way over it is not a pass.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
import shapely

from cutjob.proof import limits
from cutjob.proof.board.board_case import BoardCase, once_a_board
from cutjob.proof.board.coverage import deepest_within
from cutjob.proof.board.curves import Bools, Floats, Ints
from cutjob.proof.board.distances import Finder, point_distance, point_geometries
from cutjob.proof.board.track_edge_pairs import cutting_reach
from cutjob.proof.board.tracks import Tracks, feed_rows
from cutjob.proof.expect import ExpectedProgram, ExpectedTab
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES

_SHARES = (0.5, 1.0)  # of a way down, where it is checked: it is deepest at its end
_LEVEL_SHARE = 0.381966  # of a piece of a level way: a place where motions seldom meet
_MOST_LOOKS = 60  # places checked along one motion
_SPOKES = 8
_SAME = 1e-3  # mm; points nearer together count as one
_AT_A_TIME = 200


@dataclass(frozen=True, slots=True)
class _Places:
    """The places where ways down are checked: the track, its cutter, the point, its height, and the new wood
    allowed.
    """

    track: Ints
    cutter: Ints
    x: Floats
    y: Floats
    z: Floats
    limit: Floats

    def take(self, index: Ints | Bools) -> _Places:
        return _Places(*(getattr(self, column.name)[index] for column in fields(self)))


def judge_descents(case: BoardCase) -> list[Finding]:
    """Return a finding for each program that goes down too deep in one pass outside drilled holes, or runs through
    deeper new wood anywhere. A beam has no depth.
    """
    if case.laser:
        return []
    tracks, left, allowed = case.tracks, case.wall_left, depths_per_pass(case)
    places = _places(case, allowed * limits.PASS_DEEPER + TOLERANCES.acceptance)
    places = places.take(places.z < -places.limit)
    places = places.take(places.z < _floor_at_same_places(places) - places.limit)
    places = places.take(~_drilled(case, places))
    if not len(places.track):
        return []
    finder = Finder(tracks.curves)
    places = places.take(_floor_on_path(tracks, finder, places, left) - places.z > places.limit)
    places = places.take(~_leads(tracks, finder, places, left, case.machine.cutting.lead))
    places = places.take(~_over_plugs(case, finder, places))
    found: dict[int, Finding] = {}
    for begin in range(0, len(places.track), _AT_A_TIME):
        some = places.take(np.arange(begin, min(begin + _AT_A_TIME, len(places.track))))
        new = _new_wood(tracks, finder, some, left)
        if case.machine.cutting.finish > 0:
            new[_behind_tabs(case, some, new)] = 0.0
        for index in [one for one in np.argsort(-new).tolist() if new[one] > some.limit[one]]:
            track, deep = int(some.track[index]), float(new[index])
            most = float(allowed[track])
            down = tracks.curves.z1[track] < tracks.curves.z0[track]
            what = ("goes down", "into wood") if down else ("runs", "deep in wood")
            message = f"{what[0]} {deep:.2f} mm {what[1]} in one pass; the feed table allows {most:.2f} mm"
            at = (float(some.x[index]), float(some.y[index]))
            finding = case.error("depth per pass", message, track, at=at, measured=deep, limit=most)
            found.setdefault(int(tracks.program[track]), finding)
        if len(found) == len(case.programs):
            break
    return [found[program] for program in sorted(found)]


@once_a_board
def depths_per_pass(case: BoardCase) -> Floats:
    """Return by track the greatest depth of a pass with its cutter in its board's material; infinite where none
    is stated.
    """
    tracks = case.tracks
    allowed = np.full(len(tracks), np.inf)
    for (program, cutter), row in feed_rows(case.programs).items():
        if row is not None and row.depth_per_pass:
            allowed[(tracks.program == program) & (tracks.cutter == cutter)] = row.depth_per_pass
    return allowed


def new_wood_at_ends(case: BoardCase, index: Ints) -> Floats:
    """Return how much new wood the chosen tracks end in, mm; 0 in holes of the cutter's own size."""
    tracks, left = case.tracks, case.wall_left
    curves = tracks.curves.take(index)
    limit = np.full(len(index), TOLERANCES.acceptance)
    places = _Places(index, tracks.cutter[index], curves.x1, curves.y1, curves.z1, limit)
    finder = Finder(tracks.curves)
    new = _floor_on_path(tracks, finder, places, left) - places.z
    new[_drilled(case, places)] = 0.0
    some = np.flatnonzero(new > TOLERANCES.acceptance)
    if len(some):
        new[some] = _new_wood(tracks, finder, places.take(some), left)
    return np.asarray(new)


def _places(case: BoardCase, limit: Floats) -> _Places:
    """Places on ways down and on level ones, about as far apart as the cutter is wide.

    A way that ends above the depth of one pass never takes more than one pass, and has no places.
    """
    tracks, curves, inside = case.tracks, case.tracks.curves, case.in_features
    deep = curves.lowest < -limit
    down = np.flatnonzero(deep & (curves.z1 < curves.z0))
    level = np.flatnonzero(deep & (curves.z1 >= curves.z0) & (curves.length > 0))
    looks = np.ceil(curves.length / (2 * tracks.radius)).astype(np.int64).clip(1, _MOST_LOOKS)
    over_floor = np.zeros(len(tracks), dtype=bool)
    over_floor[inside.track[inside.within]] = True
    looks[over_floor] = 1
    along = np.concatenate([level, down[looks[down] > len(_SHARES)]])
    several = looks[along]
    number = np.arange(int(several.sum())) - np.repeat(np.cumsum(several) - several, several)
    track = np.concatenate([np.repeat(down, len(_SHARES)), np.repeat(along, several)])
    share = np.concatenate(
        [np.tile(np.array(_SHARES), len(down)), (number + _LEVEL_SHARE) / np.repeat(several, several)]
    )
    # A way straight down is checked once.
    kept = (curves.length[track] > 0) | (share == 1.0)
    track, share = track[kept], share[kept]
    order = np.argsort(track, kind="stable")
    track, share = track[order], share[order]
    chosen = curves.take(track)
    x, y = chosen.at(share)
    return _Places(track, tracks.cutter[track], x, y, chosen.height(share), limit[track])


def _leads(tracks: Tracks, finder: Finder, places: _Places, left: float, lead: float) -> Bools:
    """Which places are on level ways no longer than the greatest lead (ways that follow each other count as one), in
    reach of a slot that was opened before them to within a pass of their depth.
    """
    excused = np.zeros(len(places.track), dtype=bool)
    curves = tracks.curves
    level = curves.z1[places.track] >= curves.z0[places.track]
    if lead <= 0 or not level.any():
        return excused
    suspect = np.zeros(len(tracks), dtype=bool)
    suspect[places.track[level]] = True
    # Suspects in a row are one way; any other motion between them starts a new one.
    begin = suspect & ~np.concatenate([[False], suspect[:-1]])
    way = np.cumsum(begin) * suspect
    length = np.bincount(way, weights=np.where(suspect, curves.length, 0.0))[way]
    short = np.flatnonzero(level & (length[places.track] <= limits.longest_lead(lead)))
    some = places.take(short)
    # The motion that opened the slot came before the whole way.
    first = np.flatnonzero(begin)
    some = replace(some, track=first[way[some.track] - 1])
    deep = _floor_on_path(tracks, finder, some, limits.lead_reach(lead, left)) - some.z
    excused[short] = deep <= some.limit
    return excused


def _floor_at_same_places(places: _Places) -> Floats:
    """How deep earlier places, run with the same cutter, went at the very same point; 0 for none.

    Passes follow the same way one below the other, so this settles nearly all places.
    """
    if not len(places.track):
        return np.zeros(0)
    point = np.round(np.stack([places.x, places.y], axis=1) / _SAME).astype(np.int64)
    order = np.lexsort((places.track, places.cutter, point[:, 1], point[:, 0]))
    point, cutter, z = point[order], places.cutter[order], places.z[order]
    fresh = np.concatenate([[True], (point[1:] != point[:-1]).any(axis=1) | (cutter[1:] != cutter[:-1])])
    # A running minimum that starts again at each point: points are set apart by more than any height.
    apart = (np.cumsum(fresh) - 1) * (1.0 - float(z.min(initial=0.0)))
    lowest = np.minimum.accumulate(z - apart) + apart
    floor = np.empty(len(z))
    floor[order] = np.where(fresh, 0.0, np.minimum(np.concatenate([[0.0], lowest[:-1]]), 0.0))
    return floor


def _behind_tabs(case: BoardCase, places: _Places, new: Floats) -> Bools:
    """Which places are at the end of a tab lower than the stack, and take no more than its height at a time."""
    near = np.zeros(len(new), dtype=bool)
    for program in case.programs:
        widest = max(cutter.diameter for cutter in program.cutters)
        for tab in low_tabs(program):
            reach = tab.width / 2 + 2 * widest + limits.UP_BEFORE_TAB
            own = np.hypot(places.x - tab.at[0], places.y - tab.at[1]) <= reach
            near |= own & (new <= tab.height + program.overcut + TOLERANCES.acceptance)
    return near


def low_tabs(program: ExpectedProgram) -> tuple[ExpectedTab, ...]:
    """Return the tabs that the cutter runs over: those that are not as high as the stack."""
    return tuple(tab for tab in program.tabs if not tab.is_whole(program.board.height))


def _drilled(case: BoardCase, places: _Places) -> Bools:
    """Which places are the middles of holes of the cutter's own size: a peck of a drill is not a pass."""
    holes = [edge for edge in case.edges.every if edge.kind in ("through", "blind")]
    drilled = np.zeros(len(places.track), dtype=bool)
    if holes and len(places.track):
        rows = case.edges.curves.take(np.array([hole.first for hole in holes], dtype=np.int64))
        middles = shapely.STRtree(point_geometries(rows.cx, rows.cy))
        points = point_geometries(places.x, places.y)
        place, hole = middles.query(points, predicate="dwithin", distance=TOLERANCES.acceptance)
        own_size = rows.r[hole] <= cutting_reach(case.tracks)[places.track[place]]
        drilled[place[own_size]] = True
    return drilled


def _over_plugs(case: BoardCase, finder: Finder, places: _Places) -> Bools:
    """Which places are on level ways below the stack in a bored hole whose wall has been cut as deep, over a plug that
    is small enough to come loose.
    """
    tracks, edges = case.tracks, case.edges
    over = np.zeros(len(places.track), dtype=bool)
    holes = [edge for edge in edges.every if edge.kind == "through"]
    level = tracks.curves.z1[places.track] >= tracks.curves.z0[places.track]
    low = np.flatnonzero(level & (places.z <= -edges.layout.height + TOLERANCES.acceptance))
    if not holes or not len(low):
        return over
    rows = edges.curves.take(np.array([hole.first for hole in holes], dtype=np.int64))
    some = places.take(low)
    tree = shapely.STRtree(point_geometries(rows.cx, rows.cy))
    near, hole = tree.query(point_geometries(some.x, some.y), predicate="dwithin", distance=float(rows.r.max()))
    bore = rows.r[hole] - tracks.radius[some.track[near]]
    plug = np.pi * (bore - tracks.radius[some.track[near]]).clip(0.0) ** 2
    own = np.hypot(some.x[near] - rows.cx[hole], some.y[near] - rows.cy[hole]) <= bore + TOLERANCES.acceptance
    own &= plug <= TOLERANCES.loose_plug
    near, hole, bore = near[own], hole[own], bore[own]
    wall = some.take(near)
    wall = replace(wall, x=rows.cx[hole] + bore, y=rows.cy[hole])
    over[low[near[_floor_on_path(tracks, finder, wall, case.wall_left) - wall.z <= wall.limit]]] = True
    return over


def _floor_on_path(tracks: Tracks, finder: Finder, places: _Places, left: float) -> Floats:
    """How deep earlier motions went right through each place, or `left` mm aside; 0 for none."""
    reach = TOLERANCES.acceptance + left
    place, track = finder.around(places.x, places.y, np.full(len(places.track), reach))
    radius = tracks.radius
    earlier = (track < places.track[place]) & (radius[track] >= radius[places.track[place]] - TOLERANCES.same_point)
    place, track = place[earlier], track[earlier]
    kept = ~_right_before(tracks, places, place, track)
    place, track = place[kept], track[kept]
    curves = tracks.curves.take(track)
    apart, share = point_distance(places.x[place], places.y[place], curves)
    height = np.where(curves.length == 0, curves.lowest, curves.height(share))
    floor = np.zeros(len(places.track))
    hit = apart <= reach
    np.minimum.at(floor, place[hit], height[hit])
    return floor


def _right_before(tracks: Tracks, places: _Places, place: Ints, track: Ints) -> Bools:
    """Which earlier tracks, in pairs with places, are on the same way as the place's own, at its height and near it."""
    curves, own = tracks.curves, places.track[place]
    back = tracks.back(track, own)
    low = np.minimum(curves.z0[track], curves.z1[track])
    level = np.abs(low - places.z[place]) <= limits.SAME_HEIGHT * places.limit[place]
    return np.asarray((back < 2 * tracks.radius[own]) & level)


def _new_wood(tracks: Tracks, finder: Finder, places: _Places, left: float) -> Floats:
    """The greatest depth of new wood under the cutter's face at each place, without the crescent at its rim."""
    count = _SPOKES + 1
    angle = np.arange(_SPOKES) * (2 * np.pi / _SPOKES)
    across, up = np.concatenate([[0.0], np.cos(angle)]), np.concatenate([[0.0], np.sin(angle)])
    radius = tracks.radius[places.track]
    rim = limits.SLOT_FACE * radius
    if left > 0:
        rim = np.minimum(rim, np.maximum(radius - 2 * left - TOLERANCES.acceptance, 0.0))
    x = (places.x[:, None] + rim[:, None] * across).ravel()
    y = (places.y[:, None] + rim[:, None] * up).ravel()
    own = np.repeat(places.track, count)
    point, track = finder.around(x, y, np.full(len(x), float(tracks.radius.max())))
    earlier = track < own[point]
    point, track = point[earlier], track[earlier]
    kept = ~_right_before(tracks, places, point // count, track)
    point, track = point[kept], track[kept]
    floor = np.zeros(len(x))
    np.minimum.at(floor, point, deepest_within(x[point], y[point], tracks.curves.take(track), tracks.radius[track]))
    highest = np.sort(floor.reshape(-1, count), axis=1)
    level = tracks.curves.z1[places.track] >= tracks.curves.z0[places.track]
    return np.asarray(np.where(level, highest[:, -limits.NEW_PLACES], highest[:, -1]) - places.z)
