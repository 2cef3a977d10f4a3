"""Pockets drawn past their part's edge, which is how a dado is drawn, cut back to the part: a neighbour may lie there.

How far the cutter runs out at the edge is for the cuts to say, since only they know how wide it is.
"""

from __future__ import annotations

from dataclasses import replace

import shapely

from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.polygons import from_polygon, polygons_of, to_polygon
from cutjob.parts.edge_pieces import FINE, ON_EDGE, within
from cutjob.parts.part import Pocket, ShapedPart

_SPECK = 1e-3  # mm2: what is smaller is rounding


def with_trimmed_pockets(part: ShapedPart) -> ShapedPart:
    """Return the part with every pocket cut back to the part's outline; one that this divides becomes several.

    A pocket that lies wholly on the part, or is drawn along its edge, stays as it is, and so does one that is drawn
    wrong (off the part, or crossing itself), of which the cuts tell.
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
    """The region within the edge by its own lines and arcs, where each island lies whole in one piece of it or in none.

    `rough` is what it comes to by polygons; None is returned where the two don't agree.
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
