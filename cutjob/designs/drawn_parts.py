"""Regions and marks of a drawing to parts: scaled, each moved to its own origin, round holes told from cutouts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutjob.geometry.contour import Contour, Region, closed
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.parts.part import Counterbore, Hole, Mark, Pocket
from cutjob.tolerances import TOLERANCES

# Round openings wider than this (mm, a palm's width) may hold other parts and leave a waste piece, so they are cut out
# along their edge rather than bored.
LARGEST_HOLE = 40.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPart:
    """A part of a drawing in its own frame, the lower left of its bounding box at the origin, mm."""

    region: Region
    holes: tuple[Hole, ...]
    pockets: tuple[Pocket, ...]
    marks: tuple[Mark, ...]
    deviation: float


def drawn_part(
    region: Region,
    *,
    scale: float,
    deviation: float,
    mark_paths: Sequence[tuple[tuple[Segment, ...], float | None]],
    floors: Sequence[tuple[Region, float]] = (),
    bored: Sequence[Contour] = (),
) -> DrawnPart:
    """Return the part a region of the drawing stands for, `scale` times as large; marks (chains with their
    depths, mm; None is the profile's) and `floors` (areas with theirs) are those that lie on it.

    A cutout that is exactly a circle, and not too wide or one of those to be `bored`, becomes a round hole, and a floor
    that is one a hole of its depth: a counterbore, where a through hole has the same middle. `deviation` is that of the
    drawn contours.
    """
    x, y, _, _ = region.bounds
    holes: list[Hole] = []
    cutouts: list[Contour] = []
    for contour in region.holes:
        moved = _scaled_contour(contour, scale, (x, y))
        found = contour.circle()
        if found is None or (2 * found[1] * scale > LARGEST_HOLE and contour not in bored):
            cutouts.append(moved)
        else:
            (cx, cy), radius = found
            holes.append(Hole(at=((cx - x) * scale, (cy - y) * scale), diameter=2 * radius * scale))
    pockets: list[Pocket] = []
    for floor, depth in floors:
        found = floor.outline.circle() if not floor.holes else None
        if found is None or 2 * found[1] * scale > LARGEST_HOLE:
            contours = [_scaled_contour(contour, scale, (x, y)) for contour in floor.contours]
            pockets.append(Pocket(region=Region(contours[0], tuple(contours[1:])), depth=depth))
            continue
        (cx, cy), radius = found
        _sink(holes, ((cx - x) * scale, (cy - y) * scale), 2 * radius * scale, depth)
    return DrawnPart(
        pockets=tuple(pockets),
        region=Region(_scaled_contour(region.outline, scale, (x, y)), tuple(cutouts)),
        holes=tuple(holes),
        marks=tuple(
            Mark(path=tuple(_scaled(segment, scale, (x, y)) for segment in path), depth=depth)
            for path, depth in mark_paths
        ),
        deviation=deviation * scale,
    )


def _sink(holes: list[Hole], at: Point, diameter: float, depth: float) -> None:
    """Add a hole of a depth: to a narrower through hole with the same middle as its counterbore."""
    for index, hole in enumerate(holes):
        same = distance(hole.at, at) <= TOLERANCES.repair and hole.diameter < diameter
        if same and hole.depth is None and hole.counterbore is None:
            holes[index] = replace(hole, counterbore=Counterbore(diameter=diameter, depth=depth))
            return
    holes.append(Hole(at=at, diameter=diameter, depth=depth))


def _scaled_contour(contour: Contour, scale: float, origin: Point) -> Contour:
    return closed(_scaled(segment, scale, origin) for segment in contour.segments)


def _scaled(segment: Segment, scale: float, origin: Point) -> Segment:
    def moved(point: Point) -> Point:
        return (point[0] - origin[0]) * scale, (point[1] - origin[1]) * scale

    if isinstance(segment, Line):
        return Line(moved(segment.start), moved(segment.end))
    return Arc(moved(segment.start), moved(segment.end), moved(segment.centre), segment.clockwise)
