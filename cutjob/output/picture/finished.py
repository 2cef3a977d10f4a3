"""Draws a finished item from the front, and with its turning pieces fanned out; to SVG. mm.

When fanned, the pieces are turned about the rod by even steps and seen from a little above: a place `deep` behind the
rod is drawn `deep` times `_LEAN` higher.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeVar
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.contour import Region
from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Point
from cutjob.output.operations import css_colour
from cutjob.output.picture.svg_shapes import coordinate, printable
from cutjob.parts.part import Build, ShapedPart, Stand

_DEVIATION = 0.03  # chord error, mm: the picture is only looked at
_LEAN = 0.35
_FAN = 140.0  # degrees from the lowest to the highest turning piece
_FACE, _SIDE, _ROD = (243, 224, 190), (205, 176, 130), (222, 205, 170)
_BEAD, _CORD = (196, 148, 96), (120, 105, 85)
_MARK = (143, 85, 117)  # the colour of marks in other pictures, darker: the line is thin and the wood light
_POCKET = (226, 201, 160)
_APART = 0.06  # between parts side by side, of the longest one
_LINE = 0.004  # of the drawing's longer side


_Geometry = TypeVar("_Geometry", bound=BaseGeometry)


@dataclass(frozen=True, slots=True)
class _Shape:
    """An area of one colour, and the marks on it."""

    area: Polygon
    fill: tuple[int, int, int]
    marks: tuple[LineString, ...] = ()


def front_view(build: Build, *, title: str, line: float | None = None) -> str | None:
    """Return the item from the front, or its shaped parts side by side if its design does not say how it stands; None
    if there is nothing to draw. `line` is the width of its lines, mm; by default it suits the item's size.
    """
    if build.stands:
        marks = _marks_of(build)
        shapes = [shape for stand in _from_behind(build.stands) for shape in _front(stand, marks)]
    else:
        shapes = _side_by_side(build.shaped)
    return _svg(shapes, title=title, line=line) if shapes else None


def fanned_view(build: Build, *, title: str) -> str | None:
    """Return the item with its turning pieces fanned out, or None where fewer than two turn."""
    turning = [stand for stand in build.stands if stand.turns]
    if len(turning) < 2:
        return None
    step = _FAN / (len(turning) - 1)
    marks = _marks_of(build)
    angles = {stand.part: -_FAN / 2 + place * step for place, stand in enumerate(turning)}
    shapes = [
        shape
        for stand in _from_behind(build.stands)
        for shape in _turned(stand, math.radians(angles.get(stand.part, 0.0)), marks)
    ]
    return _svg(shapes, title=title)


def item_size(build: Build) -> tuple[float, float] | None:
    """Return the width and height of the standing item without its cords, mm; None if its design does not say how it
    stands.
    """
    solid = [stand for stand in build.stands if stand.look != "cord"]
    if not solid:
        return None
    x0, y0, x1, y1 = shapely.total_bounds([shape.area for stand in solid for shape in _front(stand, {})])
    return x1 - x0, y1 - y0


def _from_behind(stands: Sequence[Stand]) -> list[Stand]:
    """Rods and cords first, because the pieces cover them, then everything from the floor up."""
    return sorted(stands, key=lambda stand: (not (_is_rod(stand) or stand.look == "cord"), stand.foot))


def _is_rod(stand: Stand) -> bool:
    x0, _, x1, _ = stand.outline.outline.bounds
    plain = stand.look == "wood" and not stand.turns and stand.seen == "face"
    return plain and math.isclose(x1 - x0, stand.thick)


def _marks_of(build: Build) -> dict[str, tuple[Region, tuple[LineString, ...]]]:
    """The marks on each part that has some, by its name, and the outline in whose frame they lie."""
    return {part.name: (part.region, _lines(part)) for part in build.shaped if part.marks}


def _lines(part: ShapedPart) -> tuple[LineString, ...]:
    return tuple(
        LineString([mark.path[0].start, *(at for segment in mark.path for at in segment.chords(_DEVIATION))])
        for mark in part.marks
    )


def _on_face(stand: Stand, marks: Mapping[str, tuple[Region, tuple[LineString, ...]]]) -> tuple[LineString, ...]:
    """The marks of a part that stands or lies as it was cut, about the item's middle."""
    region, lines = marks.get(stand.part, (None, ()))
    return tuple(_moved(line, -stand.centre, 0.0) for line in lines) if region == stand.outline else ()


def _front(stand: Stand, marks: Mapping[str, tuple[Region, tuple[LineString, ...]]]) -> list[_Shape]:
    wood = _moved(to_polygon(stand.outline, deviation=_DEVIATION), -stand.centre, 0.0)
    if stand.seen == "face":
        fill = {"bead": _BEAD, "cord": _CORD}.get(stand.look, _ROD if _is_rod(stand) else _FACE)
        on_it = tuple(_moved(line, 0.0, stand.foot) for line in _on_face(stand, marks))
        return [_Shape(_moved(wood, 0.0, stand.foot), fill, on_it)]
    x0, _, x1, _ = wood.bounds
    if stand.profile is not None:
        return [_Shape(_moved(to_polygon(stand.profile, deviation=_DEVIATION), x0, stand.foot), _FACE)]
    return [_Shape(shapely.box(x0, stand.foot, x1, stand.foot + stand.thick), _FACE)]


def _turned(stand: Stand, angle: float, marks: Mapping[str, tuple[Region, tuple[LineString, ...]]]) -> list[_Shape]:
    """The sides and the face of a part turned about the rod."""
    wood = _moved(to_polygon(stand.outline, deviation=_DEVIATION), -stand.centre, 0.0)
    across, deep = math.cos(angle), math.sin(angle)
    if _is_rod(stand) or stand.look != "wood":
        return _front(stand, marks)
    lines = _on_face(stand, marks)
    if stand.seen == "face":
        ways = [
            ((across, 0.0, -deep * half), (deep * _LEAN, 1.0, stand.foot + across * half * _LEAN))
            for half in (stand.thick / 2, -stand.thick / 2)
        ]
    else:
        # A base's outline begins at its corner; the rod is in its middle.
        down = -(wood.bounds[1] + wood.bounds[3]) / 2 if stand.centre else 0.0
        wood, lines = _moved(wood, 0.0, down), tuple(_moved(line, 0.0, down) for line in lines)
        ways = [
            ((across, -deep, 0.0), (deep * _LEAN, across * _LEAN, stand.foot + lift)) for lift in (0.0, stand.thick)
        ]
    back, front = (_mapped(wood, *way) for way in ways)
    return [_Shape(_swept(back, front), _SIDE), _Shape(front, _FACE, tuple(_mapped(line, *ways[1]) for line in lines))]


def _mapped(area: _Geometry, x: tuple[float, float, float], y: tuple[float, float, float]) -> _Geometry:
    """The area, or a line, with each place (u, v) at (x0 u + x1 v + x2, y0 u + y1 v + y2)."""
    return shapely.transform(
        area,
        lambda places: shapely.get_coordinates(
            shapely.points(
                places[:, 0] * x[0] + places[:, 1] * x[1] + x[2], places[:, 0] * y[0] + places[:, 1] * y[1] + y[2]
            )
        ),
    )


def _moved(area: _Geometry, x: float, y: float) -> _Geometry:
    return _mapped(area, (1.0, 0.0, x), (0.0, 1.0, y))


def _swept(back: Polygon, front: Polygon) -> Polygon:
    """The area an outline covers on its straight way from one place to another."""
    ends = list(zip(back.exterior.coords, front.exterior.coords, strict=True))
    sides = [shapely.convex_hull(shapely.multipoints([a, b, c, d])) for (a, c), (b, d) in pairwise(ends)]
    whole = polygons_of(shapely.union_all([back.buffer(0), front.buffer(0), *sides]))
    return max(whole, key=lambda one: one.area)


def _side_by_side(parts: Sequence[ShapedPart]) -> list[_Shape]:
    """Parts in rows from the top, each row about as wide as all of them are high."""
    woods = []
    for part in parts:
        holes = [shapely.Point(hole.at).buffer(hole.diameter / 2) for hole in part.holes]
        woods.append(shapely.difference(to_polygon(part.region, deviation=_DEVIATION), shapely.union_all(holes)))
    sizes = [(x1 - x0, y1 - y0) for x0, y0, x1, y1 in (wood.bounds for wood in woods)]
    gap = _APART * max(max(size) for size in sizes) if sizes else 0.0
    room = max(max((wide for wide, _ in sizes), default=0.0), 1.3 * math.sqrt(sum(w * h for w, h in sizes)))
    shapes: list[_Shape] = []
    x = top = deep = 0.0
    for part, wood, (wide, high) in zip(parts, woods, sizes, strict=True):
        if x and x + wide > room:
            x, top, deep = 0.0, top - deep - gap, 0.0
        way = x - wood.bounds[0], top - high - wood.bounds[1]
        pieces = [_Shape(_moved(piece, *way), _FACE) for piece in polygons_of(wood)]
        pieces += [_Shape(_moved(floor, *way), _POCKET) for floor in _floors(part, wood)]
        pieces[-1] = replace(pieces[-1], marks=tuple(_moved(line, *way) for line in _lines(part)))
        shapes += pieces
        x, deep = x + wide + gap, max(deep, high)
    return shapes


def _floors(part: ShapedPart, wood: BaseGeometry) -> list[Polygon]:
    """The visible floors of a part's pockets."""
    areas = [to_polygon(pocket.region, deviation=_DEVIATION) for pocket in part.pockets]
    return [piece for area in areas for piece in polygons_of(shapely.intersection(area, wood))]


def _svg(shapes: Sequence[_Shape], *, title: str, line: float | None = None) -> str:
    x0, y0, x1, y1 = shapely.total_bounds([shape.area for shape in shapes])
    line = max(x1 - x0, y1 - y0) * _LINE if line is None else line
    margin = 2 * line
    box = [0.0, 0.0, x1 - x0 + 2 * margin, y1 - y0 + 2 * margin]
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "role": "img"})
    root.set("viewBox", " ".join(map(coordinate, box)))
    SubElement(root, "title").text = printable(title)
    look = {"stroke": "#3b2f1e", "stroke-width": coordinate(line), "stroke-linejoin": "round", "fill-rule": "evenodd"}
    group = SubElement(root, "g", look)
    for shape in shapes:
        rings = [shape.area.exterior, *shape.area.interiors]
        data = " ".join(
            "M" + " L".join(_place((x, y), x0 - margin, y1 + margin) for x, y in ring.coords[:-1]) + "Z"
            for ring in rings
        )
        SubElement(group, "path", {"d": data, "fill": css_colour(shape.fill)})
        for mark in shape.marks:
            way = "M" + " L".join(_place((x, y), x0 - margin, y1 + margin) for x, y in mark.coords)
            SubElement(group, "path", {"class": "mark", "d": way, "fill": "none", "stroke": css_colour(_MARK)})
    return ElementTree.tostring(root, encoding="unicode")


def _place(point: Point, left: float, top: float) -> str:
    return f"{coordinate(point[0] - left)} {coordinate(top - point[1])}"
