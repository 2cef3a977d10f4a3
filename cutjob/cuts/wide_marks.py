"""Marks whose groove reaches over the part's edge: a mark is as wide as the cutter that runs along it. mm."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from cutjob.cuts.cut import Cut, MarkCut
from cutjob.cuts.cutter_choice import Cutters
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Segment
from cutjob.parts.part import ShapedPart
from cutjob.tolerances import TOLERANCES
from cutjob.units import RULE, Unit, format_length

# Round where a line ends on an edge or crosses one its groove runs out there, as meant. So many radii from there it
# has, even at 30 degrees to the edge.
_RUNS_OUT = 2.0


def wide_mark_warnings(part: ShapedPart, cuts: Sequence[Cut], *, cutters: Cutters, unit: Unit) -> tuple[str, ...]:
    """Return a warning for the marks among a part's cuts, in its own frame, that cut away its edge, an opening's or a
    hole's; one for all that run over the same kind of edge, with where the first does.

    A line that ends on an edge, or crosses it, is meant to, and none is told of.
    """
    marks = [cut for cut in cuts if isinstance(cut, MarkCut)]
    if not marks:
        return ()
    edges = _edges(part)
    found: dict[tuple[str, int], list[shapely.Point]] = {}
    for cut in marks:
        line, radius = _line(cut.path), cutters.numbered(cut.cutter).radius
        groove = line.buffer(radius - TOLERANCES.acceptance, quad_segs=32)
        for what, edge in edges:
            lost = shapely.intersection(edge, groove)
            if not lost.is_empty:
                lost = shapely.difference(lost, _ways_out(line, edge, _RUNS_OUT * radius))
            if shapely.length(lost) > 0:
                worst = max(shapely.get_parts(shapely.line_merge(lost)), key=lambda piece: float(piece.length))
                found.setdefault((what, cut.cutter), []).append(worst.interpolate(0.5, normalized=True))
    return tuple(_told(what, places, number, cutters, unit) for (what, number), places in found.items())


def _told(what: str, places: Sequence[shapely.Point], number: int, cutters: Cutters, unit: Unit) -> str:
    cutter = cutters.numbered(number)
    off = format_length(math.ceil(cutter.radius / RULE[unit] - 1e-6) * RULE[unit], unit=unit)
    x, y = (format_length(round(value / RULE[unit]) * RULE[unit], unit=unit) for value in (places[0].x, places[0].y))
    marks, runs = ("a mark", "runs") if len(places) == 1 else (f"{len(places)} marks", "run")
    first = "at" if len(places) == 1 else "the first at"
    return (
        f"{marks} cut {format_length(cutter.diameter, unit=unit)} wide by cutter {number} {runs} over {what}, "
        f"{first} x {x}, y {y} of the part; keep marks at least {off} off, or take a narrower cutter for the outlines"
    )


def _edges(part: ShapedPart) -> list[tuple[str, shapely.Geometry]]:
    """The edges of each kind a part has, as lines."""
    edges: list[tuple[str, shapely.Geometry]] = [("the part's edge", to_polygon(part.region.outline).exterior)]
    if part.region.holes:
        rings = [to_polygon(hole).exterior for hole in part.region.holes]
        edges.append(("the edge of an opening", shapely.multilinestrings(rings)))
    if part.round_holes:
        rings = [shapely.Point(hole.at).buffer(hole.diameter / 2, quad_segs=32).exterior for hole in part.round_holes]
        edges.append(("the edge of a hole", shapely.multilinestrings(rings)))
    return edges


def _ways_out(line: shapely.LineString, edge: shapely.Geometry, reach: float) -> shapely.Geometry:
    """Where a groove runs out on purpose: round the places where its line ends on an edge or crosses one."""
    crossed = [
        piece for piece in shapely.get_parts(shapely.intersection(line, edge)) if isinstance(piece, shapely.Point)
    ]
    ends = [shapely.Point(line.coords[0]), shapely.Point(line.coords[-1])]
    crossed += [end for end in ends if shapely.distance(end, edge) <= TOLERANCES.repair]
    return shapely.union_all([point.buffer(reach) for point in crossed])


def _line(path: Sequence[Segment]) -> shapely.LineString:
    points = [path[0].start]
    for segment in path:
        points += segment.chords(TOLERANCES.chord)
    return shapely.LineString(np.array(points))
