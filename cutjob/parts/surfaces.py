"""How large the surfaces of a part are. Lengths mm, areas m2."""

from __future__ import annotations

import math
from collections.abc import Iterable

from cutjob.geometry.contour import Contour
from cutjob.geometry.segment import Point
from cutjob.parts.finish import Surface
from cutjob.parts.part import RodPart, SawnPart, ShapedPart, StripPart
from cutjob.tolerances import TOLERANCES

_M2 = 1e-6  # m2 in a mm2


def surface_areas(
    part: ShapedPart | SawnPart | RodPart | StripPart, *, thick: float = 0.0, wide: float = 0.0
) -> dict[Surface, float]:
    """Return the area of each surface of one part; none that it has not. `thick` is that of its board, `wide` that of a
    piece sawn off a board. The walls of openings are edges; those of round holes are left out.
    """
    from cutjob.parts.part import RodPart, SawnPart, ShapedPart

    if isinstance(part, ShapedPart):
        around = sum(contour.length for contour in part.region.contours)
        faces = 2 * part.region.area * _M2
        if part.grain != "length":
            return {"faces": faces, "edges": around * thick * _M2}
        across = end_length(part.region.outline)
        return {"faces": faces, "edges": (around - across) * thick * _M2, "ends": across * thick * _M2}
    if isinstance(part, SawnPart):
        long, across = 2 * part.length * thick, 2 * wide * thick
        return {"faces": 2 * part.length * wide * _M2, "edges": long * _M2, "ends": across * _M2}
    if isinstance(part, RodPart):
        return {
            "faces": math.pi * part.diameter * part.length * _M2,
            "ends": 2 * math.pi / 4 * part.diameter**2 * _M2,
        }
    side = 2 * (part.width + part.thickness) * part.length
    return {"faces": side * _M2, "ends": 2 * part.width * part.thickness * _M2}


def end_length(outline: Contour) -> float:
    """Return the length of an outline's pieces that cross x by more than 45 degrees, from chords within
    `TOLERANCES.chord`.
    """
    return sum(math.dist(a, b) for a, b in _sides(outline.points(TOLERANCES.chord)) if is_end(a, b))


def is_end(a: Point, b: Point) -> bool:
    """Whether the way from `a` to `b` crosses x by more than 45 degrees."""
    return abs(b[1] - a[1]) > abs(b[0] - a[0])


def _sides(ring: list[Point]) -> Iterable[tuple[Point, Point]]:
    return zip(ring, ring[1:] + ring[:1], strict=True)
