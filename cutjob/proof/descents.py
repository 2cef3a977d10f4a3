"""Ways down: none takes more new wood in one go than the feed table allows for a pass. mm.

New wood lies between the floor that earlier motions left under the cutter and where a way down ends. A motion that ran
through the very place cleared all the cutter covers there; where none did, places over the cutter's face are looked at.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from cutjob.proof.coverage import deepest_within
from cutjob.proof.curves import Bools, Floats, Ints
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.goals import Goals
from cutjob.proof.near import touching
from cutjob.proof.nearness import Finder, point_distance, point_geometries
from cutjob.proof.tracks import Tracks
from cutjob.tolerances import TOLERANCES

SPARE = 1.02  # a pass may be deeper than stated by rounding and by the slope of a ramp under the cutter
_SHARES = (0.5, 1.0)  # of a way down, where it is looked at: it is deepest at its end
_RIM = 0.9  # of the cutter's radius, where its face is looked at beside the middle
_SPOKES = 8
_AT_A_TIME = 200


@dataclass(frozen=True, slots=True)
class _Places:
    """Where ways down are looked at: the track, the point, its height, and the most new wood allowed there."""

    track: Ints
    x: Floats
    y: Floats
    z: Floats
    limit: Floats

    def take(self, index: Ints | Bools) -> _Places:
        return _Places(self.track[index], self.x[index], self.y[index], self.z[index], self.limit[index])


def judge_descents(tracks: Tracks, goals: Goals, programs: tuple[ExpectedProgram, ...]) -> list[Finding]:
    """Return a finding for each program that goes down too deep in one go outside drilled holes."""
    feed = [program.cutter.feed_for(program.board.board.material) for program in programs]
    limits = np.array([row.depth_per_pass if row is not None and row.depth_per_pass else np.inf for row in feed])
    places = _places(tracks, limits[tracks.program] * SPARE + TOLERANCES.acceptance)
    places = places.take(~_drilled(tracks, goals, places))
    if not len(places.track):
        return []
    finder = Finder(tracks.curves)
    places = places.take(_floor_on_path(tracks, finder, places) - places.z > places.limit)
    found: dict[int, Finding] = {}
    for begin in range(0, len(places.track), _AT_A_TIME):
        some = places.take(np.arange(begin, min(begin + _AT_A_TIME, len(places.track))))
        new = _new_wood(tracks, finder, some)
        for index in [one for one in np.argsort(-new).tolist() if new[one] > some.limit[one]]:
            track = int(some.track[index])
            program = int(tracks.program[track])
            most = float(limits[program])
            found.setdefault(
                program,
                Finding(
                    check="depth per pass",
                    severity="error",
                    message=f"goes down {new[index]:.2f} mm into wood in one go; the feed table allows {most:.2f} mm",
                    file=programs[program].file,
                    line=int(tracks.line[track]),
                    at=(float(some.x[index]), float(some.y[index])),
                    measured=float(new[index]),
                    limit=most,
                ),
            )
        if len(found) == len(programs):
            break
    return [found[program] for program in sorted(found)]


def _places(tracks: Tracks, limit: Floats) -> _Places:
    """Ways down that end deep enough to matter at all."""
    curves = tracks.curves
    down = np.flatnonzero((curves.z1 < curves.z0) & (-curves.z1 > limit))
    track = np.repeat(down, len(_SHARES))
    share = np.tile(np.array(_SHARES), len(down))
    chosen = curves.take(track)
    x, y = chosen.at(share)
    return _Places(track, x, y, chosen.height(share), limit[track])


def _drilled(tracks: Tracks, goals: Goals, places: _Places) -> Bools:
    """Which places are the middles of holes of the cutter's own size: how deep to drill at a time is no pass."""
    holes = [goal for goal in goals.goals if goal.kind in ("through", "blind")]
    drilled = np.zeros(len(places.track), dtype=bool)
    if holes and len(places.track):
        rows = goals.curves.take(np.array([hole.first for hole in holes], dtype=np.int64))
        middles = shapely.STRtree(point_geometries(rows.cx, rows.cy))
        points = point_geometries(places.x, places.y)
        place, hole = middles.query(points, predicate="dwithin", distance=TOLERANCES.acceptance)
        own_size = rows.r[hole] <= touching(tracks)[places.track[place]]
        drilled[place[own_size]] = True
    return drilled


def _floor_on_path(tracks: Tracks, finder: Finder, places: _Places) -> Floats:
    """How deep earlier motions right through each place went; 0 for none."""
    reach = TOLERANCES.acceptance
    place, track = finder.around(places.x, places.y, np.full(len(places.track), reach))
    radius = tracks.radius
    earlier = (track < places.track[place]) & (radius[track] >= radius[places.track[place]] - TOLERANCES.same_point)
    place, track = place[earlier], track[earlier]
    curves = tracks.curves.take(track)
    apart, share = point_distance(places.x[place], places.y[place], curves)
    height = np.where(curves.length == 0, np.minimum(curves.z0, curves.z1), curves.height(share))
    floor = np.zeros(len(places.track))
    hit = apart <= reach
    np.minimum.at(floor, place[hit], height[hit])
    return floor


def _new_wood(tracks: Tracks, finder: Finder, places: _Places) -> Floats:
    """The most wood under the cutter's face at each place that no earlier motion took."""
    count = _SPOKES + 1
    angle = np.arange(_SPOKES) * (2 * np.pi / _SPOKES)
    across, up = np.concatenate([[0.0], np.cos(angle)]) * _RIM, np.concatenate([[0.0], np.sin(angle)]) * _RIM
    radius = tracks.radius[places.track]
    x = (places.x[:, None] + radius[:, None] * across).ravel()
    y = (places.y[:, None] + radius[:, None] * up).ravel()
    own = np.repeat(places.track, count)
    point, track = finder.around(x, y, np.full(len(x), float(tracks.radius.max())))
    earlier = track < own[point]
    point, track = point[earlier], track[earlier]
    floor = np.zeros(len(x))
    np.minimum.at(floor, point, deepest_within(x[point], y[point], tracks.curves.take(track), tracks.radius[track]))
    return np.asarray(floor.reshape(-1, count).max(axis=1) - places.z)
