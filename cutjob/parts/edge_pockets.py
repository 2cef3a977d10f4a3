"""Trims pockets that are drawn past their part's edge, as dados are, to the part: a neighbour may be beside it.

The cuts decide how far the cutter runs out at the edge, as only they know its width.

Outlines are divided where they run along another one, and cut off where they are beyond it. mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import shapely
from shapely import Polygon

from cutjob.geometry.contour import Contour, Region, closed
from cutjob.geometry.crossing import meetings, share_at
from cutjob.geometry.polygons import from_polygon, polygons_of, to_polygon
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.parts.part import Pocket, ShapedPart
from cutjob.tolerances import TOLERANCES

ON_EDGE = 0.01  # mm: an outline this near to another one, and along it, is taken as on it
ALONG = 0.02  # greatest sine of the angle between two outlines that run along each other
FINE = TOLERANCES.path / 2  # mm, chords of polygons that decide what is inside
_PLACES = (0.02, 0.25, 0.5, 0.75, 0.98)  # shares of a piece at which it is tested


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of an outline, and whether it is on another outline, `open` to its far side."""

    segment: Segment
    open: bool


def split(segment: Segment, edge: Contour) -> list[Piece]:
    """Return a segment divided where it crosses `edge`, and where stretches that it shares with
    `edge` begin and end.
    """
    x0, y0, x1, y1 = segment.bounds
    near = []
    for other in edge.segments:
        a0, b0, a1, b1 = other.bounds
        if a0 <= x1 + ON_EDGE and a1 >= x0 - ON_EDGE and b0 <= y1 + ON_EDGE and b1 >= y0 - ON_EDGE:
            near.append(other)
    shares = {0.0, 1.0}
    for other in near:
        ends = [share_at(segment, point, within=ON_EDGE) for point in (other.start, other.end)]
        shares.update(share for share in ends if share is not None)
        shares.update(meeting.first for meeting in meetings(segment, other))
    least = ON_EDGE / segment.length
    kept = [0.0]
    for share in sorted(shares):
        if share - kept[-1] > least and (share == 1.0 or 1.0 - share > least):
            kept.append(share)
    if kept[-1] != 1.0:
        kept = [*(kept[:-1] if len(kept) > 1 else kept), 1.0]
    parts = [segment if (a, b) == (0.0, 1.0) else segment.part(a, b) for a, b in pairwise(kept)]
    return [Piece(one, _lies_on(one, near)) for one in parts]


def stretches(segment: Segment, edge: Contour) -> list[Piece]:
    """Return the same pieces, with neighbours of the same kind joined."""
    return _joined(split(segment, edge))


def _joined(pieces: Sequence[Piece]) -> list[Piece]:
    """Pieces of one segment, with neighbours of the same kind joined."""
    found: list[Piece] = []
    for piece in pieces:
        if found and found[-1].open == piece.open:
            found[-1] = Piece(_whole(found[-1].segment, piece.segment), piece.open)
        else:
            found.append(piece)
    return found


def _whole(first: Segment, second: Segment) -> Segment:
    if isinstance(first, Arc):
        return Arc(first.start, second.end, first.centre, first.clockwise)
    return Line(first.start, second.end)


def _lies_on(piece: Segment, edges: Sequence[Segment]) -> bool:
    return bool(edges) and all(_at_edge(piece, share, edges) for share in _PLACES)


def _at_edge(piece: Segment, share: float, edges: Sequence[Segment]) -> bool:
    """Whether a place on a piece is on one of the edges and has the same direction."""
    point, (dx, dy) = piece.point_at(share), piece.direction_at(share)
    for edge in edges:
        at = share_at(edge, point, within=ON_EDGE)
        if at is not None:
            ex, ey = edge.direction_at(at)
            if abs(dx * ey - dy * ex) <= ALONG and dx * ex + dy * ey > 0:
                return True
    return False


def within(outline: Contour, edge: Contour) -> tuple[Contour, ...] | None:
    """Return the part of a counter-clockwise outline's area inside `edge`, made of the lines and arcs of both.

    None where the pieces make no closed chains, because the two meet in too many places too near each other.
    """
    inside, area = to_polygon(edge, deviation=FINE), to_polygon(outline, deviation=FINE)
    own = [piece for segment in outline.segments for piece in split(segment, edge)]
    others = [piece for segment in edge.segments for piece in split(segment, outline)]
    return _chains(
        [
            *(piece.segment for piece in own if piece.open or _runs_in(piece.segment, inside)),
            *(piece.segment for piece in others if not piece.open and _runs_in(piece.segment, area)),
        ]
    )


def _runs_in(segment: Segment, area: Polygon) -> bool:
    """Whether a piece that does not cross an area's edge is inside; crumbs between two that run along it are not."""
    return segment.length > 2 * ON_EDGE and bool(area.contains(shapely.Point(segment.point_at(0.5))))


def _chains(pieces: Sequence[Segment]) -> tuple[Contour, ...] | None:
    """The pieces joined end to end, each used once; None where this makes no closed chains."""
    left = list(pieces)
    found = []
    while left:
        chain = [left.pop()]
        while distance(chain[-1].end, chain[0].start) > 2 * ON_EDGE or len(chain) < 2:
            end = chain[-1].end
            following = min(left, key=lambda piece: distance(end, piece.start), default=None)
            if following is None or distance(end, following.start) > 2 * ON_EDGE:
                return None
            left.remove(following)
            chain += [*_step(end, following.start), following]
        found.append(closed([*chain, *_step(chain[-1].end, chain[0].start)]))
    return tuple(found)


def _step(end: Point, start: Point) -> list[Segment]:
    return [Line(end, start)] if distance(end, start) > FINE else []


_SPECK = 1e-3  # mm2: smaller areas are rounding


def with_trimmed_pockets(part: ShapedPart) -> ShapedPart:
    """Return the part with every pocket trimmed to the part's outline; a pocket that this divides becomes several.

    A pocket that is wholly on the part, or is drawn along its edge, stays as it is. So does a faulty one (off the part,
    or crossing itself), which the cuts report.
    """
    return replace(part, pockets=tuple(one for pocket in part.pockets for one in _trimmed(pocket, part.region.outline)))


def _trimmed(pocket: Pocket, edge: Contour) -> list[Pocket]:
    shapes = [to_polygon(contour, deviation=FINE) for contour in pocket.region.contours]
    part = to_polygon(edge, deviation=FINE)
    whole = shapes[0]
    if not all(shape.is_valid for shape in shapes):
        return [pocket]
    if whole.difference(part.buffer(ON_EDGE)).area < _SPECK or whole.intersection(part).area < _SPECK:
        return [pocket]
    exact = _exactly(pocket.region, edge, whole.intersection(part))
    if exact is not None:
        return [replace(pocket, region=region) for region in exact]
    floors = shapely.difference(whole.intersection(part), shapely.union_all(shapes[1:]))
    return [replace(pocket, region=from_polygon(floor)) for floor in polygons_of(floors) if floor.area > _SPECK]


def _exactly(region: Region, edge: Contour, rough: shapely.Geometry) -> list[Region] | None:
    """The region inside the edge, by its own lines and arcs, where each island is wholly in one piece of it or in none.

    `rough` is the same region by polygons; None is returned where the two don't agree.
    """
    chains = within(region.outline, edge)
    if chains is None:
        return None
    shapes = [to_polygon(chain, deviation=FINE) for chain in chains]
    length = sum(chain.length for chain in chains)
    if not all(shape.is_valid for shape in shapes):
        return None
    if shapely.symmetric_difference(shapely.union_all(shapes), rough).area > ON_EDGE * length:
        return None
    islands: list[list[Contour]] = [[] for _ in chains]
    for island in region.holes:
        area = to_polygon(island, deviation=FINE)
        home = [index for index, shape in enumerate(shapes) if shape.intersects(area)]
        if len(home) > 1 or not all(shapes[index].contains(area) for index in home):
            return None
        for index in home:
            islands[index].append(island)
    return [Region(chain, tuple(holes)) for chain, holes in zip(chains, islands, strict=True)]
