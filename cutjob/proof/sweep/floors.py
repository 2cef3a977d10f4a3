"""Floors of pockets and blind holes: no wood may stand above their depth. mm.

The floor of a pocket is its area within the wood of its part, less anything deeper there. The motions of all programs
must sweep it, at its depth or below. Inside corners that the cutter can't get into are left out; wood in corners that
it gets into only from another pocket is a warning. Plain blind holes are proved on rings: if all of a ring is within a
cutter's radius, less half the rings' distance, of the cuts, the floor between the rings is clear. Everything else is
judged by polygons, whose chord errors always favour the file; the sizes are in `limits`:

- swept areas are a little too wide (`SWEPT_WIDER`), so a rib less than twice that thick could escape;
- the floor isn't checked close to walls, to edges of deeper places, and to inside corners that no cutter reaches
  (`FLOOR_ASIDE`): a cutter at the wall, which is proved too, took that wood;
- wood left is reported if a small disc (`FLOOR_DISC`) fits in it.

Walls of pockets and blind holes: each must be cut to its depth within reach of the cutter that made it.

Inside corners that this cutter can't reach may keep their wood. The test is exact, as for contours cut right through.
Polygons only decide whether the cutter could reach a place without going into another pocket beside its own: if it
couldn't, wood left is a warning.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import shapely

from cutjob.geometry.polygons import polygons_of
from cutjob.geometry.segment import Point
from cutjob.proof import limits
from cutjob.proof.board.areas import swept
from cutjob.proof.board.board_case import MOST_FINDINGS, BoardCase, once_a_board
from cutjob.proof.board.coverage import Gaps, deepest_within, uncovered
from cutjob.proof.board.curves import Bools, Curves, Floats, Ints, circles, from_columns, join, portion_below
from cutjob.proof.board.cut_through import beyond_at, measured
from cutjob.proof.board.cutter_rooms import Area, grown, middles, reached
from cutjob.proof.board.distances import Finder
from cutjob.proof.board.required_edges import WALLED, Feature, RequiredEdges
from cutjob.proof.board.stretches import Stretch, reachable_stretches
from cutjob.proof.board.track_edge_pairs import curves_within, cutting_reach, deep_pairs
from cutjob.proof.finding import Finding, Severity
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class Makers:
    """By feature, the cutter that made its floor: the number of the one that swept most of it, and its radius;
    else 0.
    """

    cutter: Ints
    radius: Floats

    @property
    def used(self) -> Bools:
        """Which features have a floor that a cutter ran on."""
        return np.asarray(self.radius > 0)


@once_a_board
def _makers(case: BoardCase) -> Makers:
    """The cutters that made the floors of pockets and blind holes.

    A motion inside a feature counts if it ends at the feature's depth. In a pocket it must be level; in a blind hole
    wider than the cutter it must not go straight down, because a thinner cutter may drill a hole in the floor and stop.
    """
    tracks, edges, inside = case.tracks, case.edges, case.in_features
    features, shapes = edges.features, edges.areas
    count = len(features)
    depth = np.array([feature.depth for feature in features], dtype=float)[inside.feature]
    pocket = np.array([feature.kind == "pocket" for feature in features], dtype=bool)[inside.feature]
    curves = tracks.curves.take(inside.track)
    limit = TOLERANCES.acceptance
    at_floor = np.abs(curves.lowest + depth) <= limit
    level = np.maximum(curves.z0, curves.z1) <= -depth + limit
    width = np.array([edges.every[feature.edges[0]].radius for feature in features], dtype=float)[inside.feature]
    own_size = ~pocket & (tracks.radius[inside.track] >= width - limit)
    at_floor &= own_size | ((curves.length > 0) & (level | ~pocket))
    feature, track = inside.feature[at_floor], inside.track[at_floor]
    cutters, radii = np.zeros(count, dtype=np.int64), np.zeros(count)
    cutters[feature], radii[feature] = tracks.cutter[track], tracks.radius[track]
    for index in np.unique(feature[tracks.cutter[track] != cutters[feature]]).tolist():
        # Several ran there: one of them only in passing, at the depth of the feature beside it.
        own = tracks.take(track[feature == index])
        swept = {
            int(number): _swept(own.curves.take(own.cutter == number), own.radius[own.cutter == number], shapes[index])
            for number in np.unique(own.cutter)
        }
        cutters[index] = max(swept, key=lambda number: swept[number])
        radii[index] = own.radius[own.cutter == cutters[index]][0]
    return Makers(cutters, radii)


def _swept(curves: Curves, radius: Floats, area: shapely.Geometry) -> float:
    """How much of an area a cutter of this radius swept along the curves, mm2."""
    return float(shapely.intersection(swept(curves, float(radius[0]), limits.POCKET_CHORD), area).area)


def judge_walls(case: BoardCase) -> list[Finding]:
    """Return findings for pockets and blind holes not made at all, and for walls left standing."""
    edges = case.edges
    if not edges.features:
        return []
    missing = [edges.features[index].edges[0] for index in np.flatnonzero(~_makers(case).used).tolist()]
    found = [
        case.error("missing", f"the {edges.name(edge)} is not cleared to its depth and width", at=edges.begin(edge))
        for edge in missing
    ][:MOST_FINDINGS]
    for stretch, apart, at, serious in _walls(case)[0][:MOST_FINDINGS]:
        length, depth = stretch.last - stretch.first, edges.every[stretch.edge].depth or 0.0
        message = f"{length:.2f} mm of the wall of the {edges.name(stretch.edge)} is not cut to its depth, "
        message += f"{depth:.2f} mm; wood stands up to {apart:.3f} mm beyond the cutter's edge"
        message += "" if serious else ", where the cutter gets in only from the pocket beside it"
        severity: Severity = "error" if serious else "warning"
        limit = TOLERANCES.acceptance
        found.append(case.error("wood left", message, at=at, measured=apart, limit=limit, severity=severity))
    return found


def worst_wall(case: BoardCase) -> float:
    """Return how far wood on walls stands beyond the cutter's edge at most."""
    left, worst = _walls(case)
    return max([worst, *(apart for _, apart, _, serious in left if serious)])


@once_a_board
def _walls(case: BoardCase) -> tuple[list[tuple[Stretch, float, Point, bool]], float]:
    """The stretches of walls left standing, each with how far it stands out, where, and whether the cutter could have
    cut it; and how far wood stands out at most elsewhere.
    """
    tracks, edges, near, inside, makers = case.tracks, case.edges, case.touching, case.in_features, _makers(case)
    features = edges.features
    if not features:
        return [], 0.0
    of_edge = np.full(len(edges.every), -1, dtype=np.int64)
    for number, feature in enumerate(features):
        of_edge[list(feature.edges)] = number
    feature_of = of_edge[edges.edge]
    judged = (feature_of >= 0) & edges.is_wall
    judged[judged] = makers.used[feature_of[judged]]
    near = near.take(judged[near.row])
    kept, curves = deep_pairs(tracks, near, -edges.floor[near.row] + TOLERANCES.acceptance)
    row, track = near.row[kept], near.track[kept]
    gaps = uncovered(
        edges.curves, curves, cutting_reach(tracks)[track], target=row, cut=np.arange(len(kept), dtype=np.int64)
    )
    open_ = judged[gaps.target]
    walls = edges.rows(*WALLED, "outline", "hole", "through")
    disc = np.zeros(len(edges.curves))
    disc[judged] = makers.radius[feature_of[judged]]
    chosen = Gaps(gaps.target[open_], gaps.first[open_], gaps.last[open_])
    finder = Finder(edges.curves.take(walls))
    stretches = reachable_stretches(edges, chosen, disc, finder, walls, at_floors=True)
    worst = measured(edges, curves, tracks.radius[track], row, gaps)
    found = []
    for index in sorted({int(of_edge[stretch.edge]) for stretch in stretches}):
        own = tracks.take(inside.track[inside.feature == index])
        deep, cuts = portion_below(own.curves, -features[index].depth + TOLERANCES.acceptance)
        size = float(makers.radius[index])
        middle = middles(case.cutter_rooms.within(index, size), size)
        some = [stretch for stretch in stretches if of_edge[stretch.edge] == index]
        found += _beyond_cuts(edges, some, cuts, own.radius[deep], middle, size)
    return sorted(found, key=lambda one: -one[1]), worst


def _beyond_cuts(
    edges: RequiredEdges, stretches: Sequence[Stretch], cuts: Curves, radii: Floats, middle: Area, radius: float
) -> list[tuple[Stretch, float, Point, bool]]:
    """Return the stretches of one feature with how far they stand beyond the edge of its cuts, where, and whether a
    cutter whose middle stays in `middle` could have cut them.
    """
    table, x, y = beyond_at(edges, stretches, cuts, radii)
    found = []
    for number, stretch in enumerate(stretches):
        own = reached(middle, radius, x[number], y[number]) & (table[number] > TOLERANCES.acceptance)
        worst = int(np.argmax(np.where(own, table[number], -np.inf) if own.any() else table[number]))
        at = (float(x[number, worst]), float(y[number, worst]))
        found.append((stretch, float(table[number, worst]), at, bool(own.any())))
    return found


_Why: TypeAlias = Literal["own", "joint", "lost"]
_WORDS: dict[_Why, str] = {
    "own": "",
    "joint": ", where the cutter gets in only from the pocket beside it",
    "lost": ", where the cutter that made it doesn't get in",
}


@dataclass(frozen=True, slots=True)
class _UncutFloor:
    """Wood that stands on a floor: how much, where, how high above it, and why it should not. The cutter that made the
    floor gets there; or gets there only from a pocket beside it (joint); or doesn't get there, although it isn't an
    inside corner (lost).
    """

    area: float
    at: tuple[float, float]
    height: float
    why: _Why


def judge_floors(case: BoardCase) -> list[Finding]:
    """Return findings for floors with wood left on them, of pockets and blind holes that were made.

    Motions inside a feature are tried first, all others only where those leave something.
    """
    edges, makers = case.edges, _makers(case)
    features = edges.features
    if not features:
        return []
    floors = _Floors(case)
    found: list[Finding] = []
    for index in np.flatnonzero(makers.used & ~_proved(case)).tolist():
        name, limit = edges.name(features[index].edges[0]), TOLERANCES.acceptance
        for wood in floors.uncut(index, float(makers.radius[index])):
            message = f"{wood.area:.2f} mm2 of the floor of the {name} stand {wood.height:.2f} mm above its depth"
            message += _WORDS[wood.why]
            severity: Severity = "warning" if wood.why == "joint" else "error"
            found.append(
                case.error("wood left", message, at=wood.at, measured=wood.height, limit=limit, severity=severity)
            )
        if len(found) >= MOST_FINDINGS:
            break
    return found[:MOST_FINDINGS]


def _proved(case: BoardCase) -> Bools:
    """Which features are blind holes whose floor is swept all over, as rings prove."""
    edges, makers = case.edges, _makers(case)
    features = edges.features
    proved = np.zeros(len(features), dtype=bool)
    rings: list[Curves] = []
    owner: list[Ints] = []
    for number, feature in enumerate(features):
        if feature.kind == "blind" and makers.used[number]:
            edge = edges.every[feature.edges[0]]
            radius, step = edge.radius, float(makers.radius[number]) / 2
            count = int(np.ceil(radius / step - 0.5))
            hole = edges.curves.take(np.full(max(count, 0), edge.first, dtype=np.int64))
            middle = np.array([[edges.curves.cx[edge.first], edges.curves.cy[edge.first]]])
            rings.append(from_columns(middle, middle, middle, np.zeros(1)))
            radii = np.asarray(radius - step / 2 - step * np.arange(len(hole)), dtype=np.float64)
            rings.append(circles(hole.cx, hole.cy, radii))
            owner.append(np.full(1 + len(hole), number, dtype=np.int64))
            proved[number] = True
    if not rings:
        return proved
    floor, of = join(rings), np.concatenate(owner)
    depth = np.array([feature.depth for feature in features], dtype=float)
    some = case.tracks.take(np.unique(case.in_features.track))
    track, ring, _ = curves_within(some.curves, floor, some.radius)
    kept, curves = portion_below(some.curves.take(track), -depth[of[ring]] + TOLERANCES.acceptance)
    # Points halfway to the next ring, a quarter of the radius off, must be in reach too.
    reach = some.radius[track] - makers.radius[of[ring]] / 4 + TOLERANCES.acceptance
    every = np.arange(len(kept), dtype=np.int64)
    gaps = uncovered(floor, curves, reach[kept], target=ring[kept], cut=every)
    proved[of[gaps.target]] = False
    return proved


class _Floors:
    """Data needed again and again to judge the floors of one board by polygons."""

    def __init__(self, case: BoardCase) -> None:
        self._rooms, self._tracks, inside = case.cutter_rooms, case.tracks, case.in_features
        order = np.argsort(inside.feature, kind="stable")
        counts = np.bincount(inside.feature, minlength=len(self._rooms.features))
        self._inside = np.split(inside.track[order], np.cumsum(counts)[:-1])
        self._finder: Finder | None = None

    def uncut(self, index: int, radius: float) -> list[_UncutFloor]:
        """The wood on the floor of a feature that a cutter of `radius` made."""
        floor = self._rooms.floor(index)
        if shapely.is_empty(floor):
            return []
        if not any(True for _ in self._uncut(index, radius, floor, self._inside[index])):
            return []
        near = self._around(shapely.bounds(floor).tolist(), float(self._tracks.radius.max()))
        found = self._uncut(index, radius, floor, near)
        return [self._described(piece, self._rooms.features[index], why) for piece, why in found]

    def _uncut(
        self, index: int, radius: float, floor: shapely.Geometry, tracks: Ints
    ) -> Iterator[tuple[shapely.Polygon, _Why]]:
        """Yield the pieces of a floor that some tracks leave."""
        left = shapely.difference(floor, self._swept(self._rooms.features[index], tracks))
        own = middles(self._rooms.within(index, radius), radius)
        inner = radius - limits.FLOOR_ASIDE
        for piece in _thick(shapely.intersection(left, grown(own, inner)), limits.FLOOR_DISC):
            yield piece, "own"
        if not self._rooms.alone(index):
            joint = middles(self._rooms.whole(index, radius), radius)
            more = shapely.difference(grown(joint, inner), grown(own, inner))
            for piece in _thick(shapely.intersection(left, more), limits.FLOOR_DISC):
                yield piece, "joint"
        reach = grown(own, radius + 2 * limits.CORNER_MOUTH)
        for piece in _lost(shapely.difference(floor, reach), reach, radius):
            for one in _thick(shapely.intersection(left, piece), limits.FLOOR_DISC_OUT_OF_REACH):
                yield one, "lost"

    def _swept(self, feature: Feature, tracks: Ints) -> shapely.Geometry:
        """The area some motions sweep at the feature's depth or below, a little too wide."""
        some = self._tracks.take(tracks)
        kept, curves = portion_below(some.curves, -feature.depth + TOLERANCES.acceptance)
        radii = some.radius[kept]
        shapes = [
            swept(curves.take(radii == radius), radius + limits.SWEPT_WIDER, limits.SWEPT_CHORD)
            for radius in np.unique(radii).tolist()
        ]
        return shapely.union_all(shapes)

    def _around(self, bounds: Sequence[float], margin: float) -> Ints:
        if self._finder is None:
            self._finder = Finder(self._tracks.curves)
        x0, y0, x1, y1 = bounds
        half = max(x1 - x0, y1 - y0) / 2 + margin + 2 * limits.SWEPT_WIDER
        place = (np.array([(x0 + x1) / 2]), np.array([(y0 + y1) / 2]))
        return self._finder.around(*place, np.array([half]))[1]

    def _described(self, piece: shapely.Polygon, feature: Feature, why: _Why) -> _UncutFloor:
        inner = shapely.maximum_inscribed_circle(piece, tolerance=limits.FLOOR_DISC)
        x, y = inner.coords[0]
        found = self._around((x, y, x, y), float(self._tracks.radius.max()))
        place = (np.full(len(found), x), np.full(len(found), y))
        curves, radius = self._tracks.curves.take(found), self._tracks.radius[found]
        lowest = float(deepest_within(*place, curves, radius).min(initial=0.0))
        return _UncutFloor(float(piece.area), (float(x), float(y)), max(feature.depth + lowest, 0.0), why)


def _thick(shape: shapely.Geometry, radius: float) -> Iterator[shapely.Polygon]:
    """Yield the pieces of a shape into which a disc fits."""
    for piece in polygons_of(shape):
        if not shapely.is_empty(grown(piece, -radius)):
            yield piece


def _lost(corners: shapely.Geometry, reached: shapely.Geometry, radius: float) -> Iterator[shapely.Polygon]:
    """Yield those of the unreached `corners` that are more than inside corners: necks, narrow branches.

    An inside corner meets the reached area in one stretch. A corner of 2 h goes in by r / sin h - r. A piece deeper
    than the cutter is wide must be such a corner: where the cutter touches its walls they are 2 r cos h apart, and they
    come together from there.
    """
    rim = shapely.boundary(reached)
    for piece in _thick(corners, limits.FLOOR_DISC_OUT_OF_REACH):
        mouth = shapely.line_merge(shapely.intersection(rim, shapely.buffer(piece, limits.CORNER_MOUTH)))
        if shapely.is_empty(mouth) or shapely.get_num_geometries(mouth) > 1:
            yield piece
            continue
        ends = shapely.points(shapely.get_coordinates(piece))
        depth = float(shapely.distance(ends, mouth).max())
        if depth > limits.CORNER_DEEP * radius + limits.FLOOR_ASIDE and not _comes_together(
            piece, mouth, depth, radius
        ):
            yield piece


def _comes_together(piece: shapely.Polygon, mouth: shapely.Geometry, depth: float, radius: float) -> bool:
    """Whether a piece is as wide at its mouth as a corner of this depth, and narrows towards its tip. A triangle fills
    half of the box on its mouth, a slot all of it.
    """
    (first, *_, last) = shapely.get_coordinates(mouth).tolist()
    entry = math.dist(first, last)
    wanted = 2 * radius * math.cos(math.asin(radius / (radius + depth)))
    return entry >= limits.CORNER_ENTRY_AT_FLOORS * wanted and float(piece.area) <= limits.CORNER_SHARE * entry * depth
