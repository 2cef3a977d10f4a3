"""What a round cutter can't reach: narrow openings and inside corners, with place and size. mm, in the part's frame.

A cutter outside a part leaves the part's closing (grown, then shrunk by the radius); one inside a hole cuts the hole's
opening. The wood between that and the part is left for hand work. A corner, however sharp, is left round: its walls
come together, and the cutter touches both. A place it can't enter at all - a slot, a notch, a passage - spoils the
part.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Arc, Point
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True, kw_only=True)
class UncutCorner:
    """Wood the cutter can't reach: its place, how far it stands out from the cut, its area in mm2, and whether it is a
    whole opening, slot or notch (`lost`), not just a corner left round.
    """

    at: Point
    depth: float
    area: float
    lost: bool


def uncut_corners(region: Region, *, radius: float) -> tuple[UncutCorner, ...]:
    """Return all wood that a cutter of `radius` leaves on a region's outline and in its holes, the largest first."""
    found: list[UncutCorner] = []
    if not _convex(region.outline):
        body = to_polygon(region.outline, deviation=_chord(radius))
        quads = _quad_segments(radius)
        closing = body.buffer(radius, quad_segs=quads).buffer(-radius, quad_segs=quads)
        found.extend(_pieces(closing.difference(body), closing.boundary, body.exterior, radius))
    for hole in region.holes:
        opening = _opened(hole, radius)
        if opening is None:
            continue
        cut, gap = opening
        if cut.is_empty:
            x0, y0, x1, y1 = hole.bounds
            found.append(
                UncutCorner(at=((x0 + x1) / 2, (y0 + y1) / 2), depth=min(x1 - x0, y1 - y0), area=gap.area, lost=True)
            )
        else:
            found.extend(_pieces(gap.difference(cut), cut.boundary, gap.exterior, radius))
    return tuple(sorted(found, key=lambda corner: -corner.depth))


def thin_places(wood: Polygon, *, width: float) -> tuple[UncutCorner, ...]:
    """Return where wood is thinner than `width`: webs, necks and strips, but not tips; the deepest first. Wood is thin
    where a disc of that width does not fit into it.
    """
    radius = width / 2
    quads = _quad_segments(radius)
    thick = wood.buffer(-radius, quad_segs=quads).buffer(radius, quad_segs=quads)
    if thick.is_empty:
        x, y = wood.representative_point().coords[0]
        return (UncutCorner(at=(x, y), depth=width, area=wood.area, lost=True),)
    found = _pieces(wood.difference(thick), thick.boundary, wood.boundary, radius)
    return tuple(sorted((place for place in found if place.lost), key=lambda place: -place.depth))


def goes_all_round(contour: Contour, paths: Sequence[Contour], *, by: float) -> bool:
    """Return whether the offsets `paths` of a contour, `by` mm outside it, leave nothing worth a warning in its
    corners.

    A single path as long as Steiner's formula says (L + 2 pi by for a contour that turns once) has lost no corner. A
    corner that turns inward by t shortens it by 2 by (tan(t/2) - t/2), about by t^3 / 12, and keeps the cutter away by
    about by t^2 / 8. A rounded corner shortens it more for the same distance. A bay that closes up makes a second path.
    """
    if len(paths) != 1:
        return False
    depth = TOLERANCES.worth_telling / 2
    shortest = 2 / 3 * depth * math.sqrt(8 * depth / by)
    return abs(contour.length + 2 * math.pi * by - paths[0].length) < shortest


def _opened(hole: Contour, radius: float) -> tuple[Polygon | MultiPolygon, Polygon] | None:
    """The area cut of a hole, and the hole; None when a round cutter certainly cuts all of it."""
    circle = hole.circle()
    if circle is not None and circle[1] >= radius:
        return None
    gap = to_polygon(hole, deviation=_chord(radius))
    quads = _quad_segments(radius)
    return gap.buffer(-radius, quad_segs=quads).buffer(radius, quad_segs=quads), gap


def _pieces(left: shapely.Geometry, edge: shapely.Geometry, wall: shapely.Geometry, radius: float) -> list[UncutCorner]:
    """The pieces of what is `left` uncut. `edge` is that of the cut area, `wall` the contour that was wanted.

    A piece's depth counts from where it meets the cut, not through a thin wall to the part's far side. A piece that
    meets the cut in two places closes a passage.
    """
    found = []
    for piece in polygons_of(left):
        mouth = shapely.line_merge(shapely.intersection(edge, shapely.buffer(piece, 2 * _chord(radius))))
        points = shapely.points(shapely.segmentize(piece.exterior, radius / 2).coords[:-1])
        away = shapely.distance(points, mouth)
        deepest = int(away.argmax())
        depth = float(away[deepest])
        if depth > TOLERANCES.worth_telling:
            point = points[deepest]
            lost = int(shapely.get_num_geometries(mouth)) > 1 or (
                depth > 2 * radius and not is_corner(piece, mouth, wall, radius=radius)
            )
            found.append(UncutCorner(at=(float(point.x), float(point.y)), depth=depth, area=piece.area, lost=lost))
    return found


# Half a radius along from where it touches a straight wall, a round cutter is an eighth of its radius off the wall; one
# that lies on the corner of a narrow mouth is farther. Twice that leaves room for walls that bend away. Our choice.
_ALONG, _OFF = 0.5, 0.25
# A corner gets narrower by a twentieth over two widths, else it is a slot: its walls are at 1.4 degrees. Our choice.
_WIDTHS, _NARROWER = 2.0, 0.95
_THIN = 0.1  # of the cutter's radius: how wide such a slit is at least, from its middle; our choice
_PLACES = 200  # along a piece, at which it is measured


def is_corner(piece: Polygon, mouth: shapely.Geometry, wall: shapely.Geometry, *, radius: float) -> bool:
    """Return whether a piece out of a round cutter's reach, which meets what is cut along its `mouth`, is a corner left
    round: the cutter touches the `wall` on both sides of it, and from there on it gets ever narrower.
    """
    return _touches_both(mouth, wall, radius) and _narrows(piece, mouth, wall, radius)


def _touches_both(mouth: shapely.Geometry, wall: shapely.Geometry, radius: float) -> bool:
    """Whether a cutter that comes as far as a piece's `mouth` touches the wall on either side of it, and does not lie
    on the corners of an entry that is too narrow for it.
    """
    ends = shapely.line_interpolate_point([mouth, mouth], [_ALONG * radius, -_ALONG * radius])
    return bool((shapely.distance(ends, wall) <= _OFF * radius).all())


def _narrows(piece: Polygon, mouth: shapely.Geometry, wall: shapely.Geometry, radius: float) -> bool:
    """Whether a piece gets ever narrower from its mouth on. Half of its width is the radius of the circles that fit in
    it: their middles lie on the Voronoi edges of its walls.
    """
    step = max(piece.length / (2 * _PLACES), radius / 20)
    sides = shapely.segmentize(piece.exterior, step)
    edges = shapely.voronoi_polygons(shapely.multipoints(shapely.get_coordinates(sides)), only_edges=True)
    x, y = shapely.get_coordinates(edges).T
    inside = shapely.contains_xy(piece, x, y)
    middles = np.atleast_1d(shapely.points(x[inside], y[inside]))
    away, half = shapely.distance(middles, mouth), shapely.distance(middles, wall)
    order = np.argsort(away)
    away, half = away[order], half[order]
    widest = np.maximum.accumulate(half[::-1])[::-1]  # from here on
    later = np.append(widest, 0.0)[np.searchsorted(away, away + 2 * _WIDTHS * widest)]
    return bool((later <= _NARROWER * widest)[widest >= _THIN * radius].all())


def _chord(radius: float) -> float:
    """How far polygons may be off: fine enough for a beam."""
    return min(TOLERANCES.reach_chord, radius / 20)


def _quad_segments(radius: float) -> int:
    return max(4, math.ceil(math.sqrt(radius / _chord(radius))))


def _convex(contour: Contour) -> bool:
    """Whether a counter-clockwise contour turns left everywhere, so that a cutter outside reaches all of it."""
    before = contour.segments[-1].direction_at(1.0)
    for segment in contour.segments:
        if isinstance(segment, Arc) and segment.clockwise:
            return False
        after = segment.direction_at(0.0)
        if before[0] * after[1] - before[1] * after[0] < -1e-6:
            return False
        before = segment.direction_at(1.0)
    return True
