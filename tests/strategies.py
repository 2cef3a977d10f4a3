"""Shapes that tests are fed with: contours of lines and arcs, convex and not."""

from __future__ import annotations

import math

import shapely
from hypothesis import assume
from hypothesis import strategies as st

from cutjob.geometry.contour import Contour, polyline
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import arc_through_bulge


@st.composite
def star_shaped(draw: st.DrawFn, *, least: float = 15.0, greatest: float = 60.0, arcs: bool = True) -> Contour:
    """A contour seen whole from the origin: corners at random distances, joined by lines and arcs that don't cross."""
    count = draw(st.integers(3, 14))
    radii = draw(st.lists(st.floats(least, greatest), min_size=count, max_size=count))
    bulges = draw(st.lists(st.sampled_from([0.0, 0.1, -0.1, 0.3, -0.2]), min_size=count, max_size=count))
    points = [
        (radius * math.cos(2 * math.pi * i / count), radius * math.sin(2 * math.pi * i / count))
        for i, radius in enumerate(radii)
    ]
    straight = polyline(points)
    if not arcs:
        return straight
    bulged = Contour(
        tuple(
            arc_through_bulge(line.start, line.end, bulge)
            for line, bulge in zip(straight.segments, bulges, strict=True)
        )
    )
    return bulged if to_polygon(bulged, deviation=1e-5).is_valid else straight


@st.composite
def convex(draw: st.DrawFn) -> Contour:
    """A convex polygon: the hull of random points."""
    points = draw(
        st.lists(st.tuples(st.floats(-80, 80), st.floats(-80, 80)), min_size=5, max_size=25).filter(
            lambda points: shapely.MultiPoint(points).convex_hull.area > 50
        )
    )
    hull = shapely.MultiPoint(points).convex_hull
    corners = [(x, y) for x, y in shapely.simplify(hull, 1e-3).exterior.coords[:-1]]
    # Points in one line or next to each other may come out as a spur that turns back.
    turns = [
        (bx - ax) * (cy - by) - (by - ay) * (cx - bx)
        for (ax, ay), (bx, by), (cx, cy) in zip(
            corners, corners[1:] + corners[:1], corners[2:] + corners[:2], strict=True
        )
    ]
    assume(len({turn > 0 for turn in turns}) == 1 and 0.0 not in turns)
    return polyline(corners)
