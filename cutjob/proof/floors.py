"""Floors of pockets and blind holes: nothing of them may stand above their depth. mm.

The floor of a pocket is its area within the wood of its part, less what is deeper there. It must be swept, at its depth
or below, by the motions of all programs; inside corners the cutter that made it can't get into are left out, and those
it gets into only by way of another pocket are told as warnings. Plain blind holes
are proved on rings: all of a ring within a cutter's radius less half the rings' distance of the cuts proves the floor
between the rings. All else is judged by polygons, with chord errors of 0.002 mm that are never against the file:

- what was swept is taken up to 0.009 mm too wide, so a rib less than 0.018 mm thick between two ways could escape;
- within 0.1 mm of walls, of edges of what is deeper, and of inside corners no cutter reaches, the floor isn't looked at
  here: a cutter that was at the wall, which `cleared` proves, took that too;
- what is left is told of if a disc of 0.01 mm (a radius) fits in it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import shapely

from cutjob.geometry.polygons import polygons_of
from cutjob.proof.areas import swept
from cutjob.proof.cleared import Makers
from cutjob.proof.coverage import deepest_within, uncovered
from cutjob.proof.curves import Bools, Curves, Ints, circles, from_columns, join, portion_below
from cutjob.proof.ends import Inside
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.goal import Feature
from cutjob.proof.goals import Goals
from cutjob.proof.left import MOST_TOLD
from cutjob.proof.near import near_curves
from cutjob.proof.nearness import Finder
from cutjob.proof.rooms import Rooms, grown, middles
from cutjob.proof.tracks import Tracks
from cutjob.tolerances import TOLERANCES

_WIDER = 0.009  # mm, of what was swept: within the acceptance, and more than chords take off it again
_CHORD = 0.006  # mm; chord error of the edges of what was swept
ASIDE = 0.1  # mm beside walls and unreached corners that is not looked at here
_THIN = 0.01  # mm; the radius of a disc that fits into what is told of
_LOST = 0.1  # mm; the same, for places the cutter doesn't get into
_MOUTH = 0.02  # mm; where an unreached place meets what is reached


_Why: TypeAlias = Literal["own", "joint", "lost"]
_WORDS: dict[_Why, str] = {
    "own": "",
    "joint": ", where the cutter gets in only from beside it",
    "lost": ", where the cutter that made it doesn't get in",
}


@dataclass(frozen=True, slots=True)
class _Rest:
    """What stands on a floor: how much, where, how high above it, and why it should not: the cutter that made the floor
    gets there, or only by way of a pocket beside (joint), or it gets there not at all though it is no inside corner.
    """

    area: float
    at: tuple[float, float]
    height: float
    why: _Why


def judge_floors(
    tracks: Tracks,
    goals: Goals,
    inside: Inside,
    makers: Makers,
    rooms: Rooms,
    programs: tuple[ExpectedProgram, ...],
) -> list[Finding]:
    """Return findings for floors with wood left on them, of pockets and blind holes that were made at all.

    Motions `inside` a feature are looked at first, and all others only where those leave something.
    """
    features, _ = goals.features()
    if not features:
        return []
    judged = np.flatnonzero(makers.used & ~_proved(tracks, goals, inside, makers))
    files = ", ".join(dict.fromkeys(program.file for program in programs))
    floors = _Floors(tracks, inside, rooms)
    found: list[Finding] = []
    for index in judged.tolist():
        name = goals.name(features[index].goals[0])
        found += [_finding(name, rest, files) for rest in floors.rests(index, float(makers.radius[index]))]
        if len(found) >= MOST_TOLD:
            break
    return found[:MOST_TOLD]


def _finding(name: str, rest: _Rest, files: str) -> Finding:
    message = f"{rest.area:.2f} mm2 of the floor of the {name} stand {rest.height:.2f} mm above its depth"
    message += _WORDS[rest.why]
    return Finding(
        check="wood left",
        severity="warning" if rest.why == "joint" else "error",
        message=message,
        file=files,
        at=rest.at,
        measured=rest.height,
        limit=TOLERANCES.acceptance,
    )


def _proved(tracks: Tracks, goals: Goals, inside: Inside, makers: Makers) -> Bools:
    """Which features are blind holes whose floor is swept all over, as rings tell."""
    features, _ = goals.features()
    proved = np.zeros(len(features), dtype=bool)
    rings: list[Curves] = []
    owner: list[Ints] = []
    for number, feature in enumerate(features):
        if feature.kind == "blind" and makers.used[number]:
            goal = goals.goals[feature.goals[0]]
            radius, step = goal.radius, float(makers.radius[number]) / 2
            count = int(np.ceil(radius / step - 0.5))
            hole = goals.curves.take(np.full(max(count, 0), goal.first, dtype=np.int64))
            middle = np.array([[goals.curves.cx[goal.first], goals.curves.cy[goal.first]]])
            rings.append(from_columns(middle, middle, middle, np.zeros(1)))
            radii = np.asarray(radius - step / 2 - step * np.arange(len(hole)), dtype=np.float64)
            rings.append(circles(hole.cx, hole.cy, radii))
            owner.append(np.full(1 + len(hole), number, dtype=np.int64))
            proved[number] = True
    if not rings:
        return proved
    floor, of = join(rings), np.concatenate(owner)
    depth = np.array([feature.depth for feature in features], dtype=float)
    some = tracks.take(np.unique(inside.track))
    track, ring, _ = near_curves(some.curves, floor, some.radius)
    kept, curves = portion_below(some.curves.take(track), -depth[of[ring]] + TOLERANCES.acceptance)
    # Points halfway to the next ring, a quarter of the radius off, must be in reach too.
    reach = some.radius[track] - makers.radius[of[ring]] / 4 + TOLERANCES.acceptance
    every = np.arange(len(kept), dtype=np.int64)
    gaps = uncovered(floor, curves, reach[kept], target=ring[kept], cut=every)
    proved[of[gaps.target]] = False
    return proved


class _Floors:
    """What is needed again and again to judge the floors of one board by polygons."""

    def __init__(self, tracks: Tracks, inside: Inside, rooms: Rooms) -> None:
        self._rooms = rooms
        self._tracks = tracks
        order = np.argsort(inside.feature, kind="stable")
        counts = np.bincount(inside.feature, minlength=len(rooms.features))
        self._inside = np.split(inside.track[order], np.cumsum(counts)[:-1])
        self._finder: Finder | None = None

    def rests(self, index: int, radius: float) -> list[_Rest]:
        """What stands on the floor of a feature that a cutter of `radius` made."""
        floor = self._rooms.floor(index)
        if shapely.is_empty(floor):
            return []
        if not any(True for _ in self._standing(index, radius, floor, self._inside[index])):
            return []
        near = self._around(shapely.bounds(floor).tolist(), float(self._tracks.radius.max()))
        found = self._standing(index, radius, floor, near)
        return [self._rest(piece, self._rooms.features[index], why) for piece, why in found]

    def _standing(
        self, index: int, radius: float, floor: shapely.Geometry, tracks: Ints
    ) -> Iterator[tuple[shapely.Polygon, _Why]]:
        """Yield what some tracks leave of a floor."""
        left = shapely.difference(floor, self._swept(self._rooms.features[index], tracks))
        own = middles(self._rooms.within(index, radius), radius)
        inner = radius - ASIDE
        for piece in _thick(shapely.intersection(left, grown(own, inner)), _THIN):
            yield piece, "own"
        if not self._rooms.alone(index):
            joint = middles(self._rooms.whole(index, radius), radius)
            more = shapely.difference(grown(joint, inner), grown(own, inner))
            for piece in _thick(shapely.intersection(left, more), _THIN):
                yield piece, "joint"
        reach = grown(own, radius + 2 * _MOUTH)
        for piece in _lost(shapely.difference(floor, reach), reach, radius):
            for rest in _thick(shapely.intersection(left, piece), _LOST):
                yield rest, "lost"

    def _swept(self, feature: Feature, tracks: Ints) -> shapely.Geometry:
        """What some motions sweep at the feature's depth or below, a little too wide."""
        some = self._tracks.take(tracks)
        kept, curves = portion_below(some.curves, -feature.depth + TOLERANCES.acceptance)
        radii = some.radius[kept]
        shapes = [swept(curves.take(radii == radius), radius + _WIDER, _CHORD) for radius in np.unique(radii).tolist()]
        return shapely.union_all(shapes)

    def _around(self, bounds: Sequence[float], margin: float) -> Ints:
        if self._finder is None:
            self._finder = Finder(self._tracks.curves)
        x0, y0, x1, y1 = bounds
        half = max(x1 - x0, y1 - y0) / 2 + margin + 2 * _WIDER
        place = (np.array([(x0 + x1) / 2]), np.array([(y0 + y1) / 2]))
        return self._finder.around(*place, np.array([half]))[1]

    def _rest(self, piece: shapely.Polygon, feature: Feature, why: _Why) -> _Rest:
        inner = shapely.maximum_inscribed_circle(piece, tolerance=_THIN)
        x, y = inner.coords[0]
        found = self._around((x, y, x, y), float(self._tracks.radius.max()))
        place = (np.full(len(found), x), np.full(len(found), y))
        curves, radius = self._tracks.curves.take(found), self._tracks.radius[found]
        lowest = float(deepest_within(*place, curves, radius).min(initial=0.0))
        return _Rest(float(piece.area), (float(x), float(y)), max(feature.depth + lowest, 0.0), why)


def _thick(shape: shapely.Geometry, radius: float) -> Iterator[shapely.Polygon]:
    """Yield the pieces of a shape into which a disc fits."""
    for piece in polygons_of(shape):
        if not shapely.is_empty(grown(piece, -radius)):
            yield piece


def _lost(corners: shapely.Geometry, reached: shapely.Geometry, radius: float) -> Iterator[shapely.Polygon]:
    """Yield those of `corners`, which aren't reached, that are more than inside corners: necks, narrow branches.

    An inside corner meets what is reached in one stretch, and goes in no deeper than twice the radius: at an angle of
    39 degrees between its walls; r / sin(a / 2) - r.
    """
    edge = shapely.boundary(reached)
    for piece in _thick(corners, _LOST):
        mouth = shapely.line_merge(shapely.intersection(edge, shapely.buffer(piece, _MOUTH)))
        ends = shapely.points(shapely.get_coordinates(piece))
        deep = bool(shapely.is_empty(mouth)) or float(shapely.distance(ends, mouth).max()) > 2 * radius + ASIDE
        if deep or shapely.get_num_geometries(mouth) > 1:
            yield piece
