"""Pockets drawn past their part's edge, which is how a dado is drawn, cut back to the part: a neighbour may lie there.

How far the cutter runs out at the edge is for the cuts to say, since only they know how wide it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import shapely

from cutjob.geometry.contour import Contour, Region, closed
from cutjob.geometry.crossing import meetings
from cutjob.geometry.polygons import from_polygon, polygons_of, to_polygon
from cutjob.geometry.segment import Point, Segment, distance
from cutjob.parts.part import Pocket, ShapedPart
from cutjob.tolerances import TOLERANCES

_ON_EDGE = 0.01  # mm: an outline no further than this beyond the part's edge lies on it
_FINE = TOLERANCES.curve / 4  # mm, chords of polygons that take an outline's place
_SPECK = 1e-3  # mm2: what is smaller is rounding
_SAME = 10 * TOLERANCES.same_point  # mm: ends that belong together


def with_trimmed_pockets(part: ShapedPart) -> ShapedPart:
    """Return the part with every pocket cut back to the part's outline; one that this divides becomes several.

    A pocket that lies wholly on the part, or is drawn along its edge, stays as it is, and so does one that is drawn
    wrong (off the part, or crossing itself), of which the cuts tell.
    """
    return replace(part, pockets=tuple(one for pocket in part.pockets for one in _trimmed(pocket, part.region.outline)))


def _trimmed(pocket: Pocket, edge: Contour) -> list[Pocket]:
    shapes = [to_polygon(contour, deviation=_FINE) for contour in pocket.region.contours]
    part = to_polygon(edge, deviation=_FINE)
    whole = shapes[0]
    if not all(shape.is_valid for shape in shapes):
        return [pocket]
    if whole.difference(part.buffer(_ON_EDGE)).area < _SPECK or whole.intersection(part).area < _SPECK:
        return [pocket]
    exact = _exactly(pocket.region, edge, whole.intersection(part))
    if exact is not None:
        return [replace(pocket, region=exact)]
    floors = shapely.difference(whole.intersection(part), shapely.union_all(shapes[1:]))
    return [replace(pocket, region=from_polygon(floor)) for floor in polygons_of(floors) if floor.area > _SPECK]


def _exactly(region: Region, edge: Contour, rough: shapely.Geometry) -> Region | None:
    """The region within the edge by its own lines and arcs, where that is one piece that holds its islands whole.

    `rough` is what it comes to by polygons; None is returned where the two don't agree.
    """
    chain = _chained([*_inside(region.outline, edge), *_inside(edge, region.outline)])
    if chain is None:
        return None
    shape = to_polygon(chain, deviation=_FINE)
    if not shape.is_valid or shapely.symmetric_difference(shape, rough).area > 2 * _FINE * chain.length:
        return None
    if not all(shape.contains(to_polygon(island, deviation=_FINE)) for island in region.holes):
        return None
    return Region(chain, region.holes)


def _inside(contour: Contour, other: Contour) -> list[Segment]:
    """A contour's segments, cut where they meet the other's, as far as they lie in its area."""
    area = to_polygon(other, deviation=_FINE)
    pieces: list[Segment] = []
    for segment in contour.segments:
        end = _SAME / segment.length
        shares = {meeting.first for one in other.segments for meeting in meetings(segment, one)}
        kept = [0.0, *sorted(share for share in shares if end < share < 1 - end), 1.0]
        pieces += [segment if (a, b) == (0.0, 1.0) else segment.part(a, b) for a, b in pairwise(kept)]
    return [piece for piece in pieces if area.contains(shapely.Point(piece.point_at(0.5)))]


def _chained(pieces: Sequence[Segment]) -> Contour | None:
    """The pieces as one closed chain, each starting where another ended; None where they are no such chain."""
    left = list(pieces)
    if len(left) < 2:
        return None
    chain = [left.pop(0)]
    while left:
        end: Point = chain[-1].end
        found = [index for index, piece in enumerate(left) if distance(piece.start, end) <= _SAME]
        if len(found) != 1:
            return None
        chain.append(left.pop(found[0]))
    return closed(chain) if distance(chain[-1].end, chain[0].start) <= _SAME else None
