"""Whether a part of a design file can be: an outline that does not cross itself, features that lie on it. mm."""

from __future__ import annotations

import re
from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from cutjob.designs.design import LEAST_WALL
from cutjob.designs.own.features import Drawn
from cutjob.designs.own.quantity import SumError
from cutjob.designs.own.shapes import Outline, ShapeError
from cutjob.geometry.contour import Contour
from cutjob.geometry.polygons import to_polygon
from cutjob.job.fields import KeyPath
from cutjob.parts.part import Hole, Mark, Pocket
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit, format_length

_LEAST_AREA = 1.0  # mm2


def sound_part(shape: Outline, shape_keys: KeyPath, drawn: Sequence[Drawn], *, unit: Unit) -> list[str]:
    """Raise ShapeError with the first thing that can't be cut; return warnings of thin wood."""
    whole = _polygon(shape.contour, shape_keys, unit)
    cut: list[tuple[Drawn, BaseGeometry]] = []
    warnings: dict[str, None] = {}
    for one in drawn:
        match one.thing:
            case Hole():
                area: BaseGeometry = shapely.Point(one.thing.at).buffer(one.thing.steps[0].diameter / 2, quad_segs=32)
                what = "the hole"
            case Pocket():
                floor = _polygon(one.thing.region.outline, one.keys, unit)
                if floor.intersection(whole).area < _LEAST_AREA:
                    raise _off("the pocket", one, unit, floor)
                continue
            case Mark():
                line = shapely.LineString(
                    [one.thing.path[0].start, *(p for s in one.thing.path for p in s.chords(TOLERANCES.chord))]
                )
                if not whole.buffer(TOLERANCES.chord).contains(line):
                    raise _off("the mark", one, unit, line)
                continue
            case _:
                area, what = _polygon(one.thing, one.keys, unit), "the opening"
        if not whole.contains(area):
            raise _off(what, one, unit, area)
        wall = whole.exterior.distance(area)
        if wall < LEAST_WALL - 2 * TOLERANCES.chord:
            warnings[f"{what} leaves only {format_length(wall, unit=unit)} of wood at the edge"] = None
        cut.append((one, area))
    _apart(cut, unit)
    return list(warnings)


def _apart(cut: Sequence[tuple[Drawn, BaseGeometry]], unit: Unit) -> None:
    tree = shapely.STRtree([area for _, area in cut])
    for index, (one, area) in enumerate(cut):
        for other in sorted(tree.query(area, predicate="intersects").tolist()):
            if other < index:
                x, y = area.centroid.x, area.centroid.y
                where = f"x {format_length(x, unit=unit)}, y {format_length(y, unit=unit)}"
                raise ShapeError(one.keys, SumError(f"what is cut at {where} runs into another opening; part them"))


def _polygon(contour: Contour, keys: KeyPath, unit: Unit) -> shapely.Polygon:
    if len(contour.points(TOLERANCES.chord)) < 3:
        raise ShapeError(keys, SumError("the outline encloses nothing; give it more points"))
    polygon = to_polygon(contour)
    if not polygon.is_valid:
        place = re.search(r"\[(\S+) (\S+)\]", shapely.is_valid_reason(polygon))
        where = ""
        if place:
            x, y = (format_length(float(value), unit=unit) for value in place.groups())
            where = f" near x {x}, y {y}"
        raise ShapeError(keys, SumError(f"the outline crosses or touches itself{where}; move its points"))
    if polygon.area < _LEAST_AREA:
        raise ShapeError(keys, SumError("the outline encloses next to nothing; look for a slip"))
    return polygon


def _off(what: str, one: Drawn, unit: Unit, area: BaseGeometry) -> ShapeError:
    x0, y0, x1, y1 = area.bounds
    spans = [
        f"{axis} {format_length(a, unit=unit)} to {format_length(b, unit=unit)}"
        for axis, a, b in (("x", x0, x1), ("y", y0, y1))
    ]
    message = f"{what}, {', '.join(spans)}, does not lie wholly on the part; move it, or make the part larger"
    if what == "the pocket":
        message = f"{what}, {', '.join(spans)}, lies beside the part; move it"
    return ShapeError(one.keys, SumError(message))
