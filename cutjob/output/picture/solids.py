"""The parts of an item as solids, and what is seen of them from one side: areas and lines of one colour each, from
behind to the front. mm.

A solid is an outline in the plane of its axes `u` and `v`, half its thickness to both sides along `w`. The world has x
to the right, y away from the viewer and z up. A view looks along the ground from the front, turned about z and from
above by its two angles; parallel lines stay parallel.

The order is that of assembly up the rod: what is higher covers what is below, as it is seen from above.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby, pairwise
from typing import TypeVar

import numpy as np
import numpy.typing as npt
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.polygons import polygons_of
from cutjob.output.operations import Rgb
from cutjob.parts.finish import PartFinish, Surface

_Vector = npt.NDArray[np.float64]
_Shape = TypeVar("_Shape", bound=BaseGeometry)

_LIGHT = np.array([-0.45, -0.72, 0.62]) / math.sqrt(0.45**2 + 0.72**2 + 0.62**2)
_DIM, _BRIGHT = 0.62, 0.44  # a surface's share of its colour, turned from the light, and what full light adds
_LEVELS = 14  # of light on a curved edge
_OUTLINE, _GRAIN, _END, _FLOOR = 0.55, 0.9, 0.93, 0.84  # shares of a colour: lines, end grain, floors of pockets
_GRAIN_APART, _GRAIN_FEWEST = 7.0, 3  # mm between lines of grain; at least so many
_GRAIN_STEP = 26.0  # mm between the corners of a line of grain
_SHADOW = ((1.0, 0.93), (0.5, 0.9))  # of a shadow's reach, and the share of the colour left in it
_RIM = 0.012  # of the outline's longer side: paint on an edge that is seen only as a line
OUTLINED = 0.7  # width of an area's own line, of the drawing's
_WALL_PIECES = 24  # of a hollow outline's longer side
_SPECK = 0.02  # mm2: smaller areas are not drawn
_THICK = 24.0  # mm; thicker parts cast no longer shadow
_FACING = 1e-6


@dataclass(frozen=True, slots=True)
class Area:
    """An area of one colour, with a line of its own round it, or none."""

    area: Polygon
    fill: Rgb
    line: Rgb | None = None


@dataclass(frozen=True, slots=True)
class Pen:
    """Lines of one colour; `width` is a share of the drawing's usual line. A `mark` is cut in the wood."""

    lines: tuple[LineString, ...]
    colour: Rgb
    width: float = 1.0
    mark: bool = False


Drawn = Area | Pen


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """From where: turned about the vertical by `yaw`, and from above by `rise`, degrees."""

    yaw: float = 0.0
    rise: float = 0.0

    @property
    def onto(self) -> _Vector:
        """The matrix from a place to the picture: across, up."""
        c, s = math.cos(math.radians(self.yaw)), math.sin(math.radians(self.yaw))
        up, deep = math.cos(math.radians(self.rise)), math.sin(math.radians(self.rise))
        return np.array([[c, -s, 0.0], [s * deep, c * deep, up]])

    @property
    def towards(self) -> _Vector:
        """The way from the item to the viewer."""
        c, s = math.cos(math.radians(self.yaw)), math.sin(math.radians(self.yaw))
        up, deep = math.cos(math.radians(self.rise)), math.sin(math.radians(self.rise))
        return np.array([-s * up, -c * up, deep])


@dataclass(frozen=True, slots=True, kw_only=True)
class Solid:
    """A part in its place. `grain` is the way of its grain in the plane of its outline, radians; none is drawn on a
    `plain` one. `floors` are seen on the face at the end of `w`, `marks` are cut there. `height` is its place in the
    order. One with `ends` has edges across the grain, which may be painted by themselves; one with a `round_side` is a
    rod along `w`.
    """

    part: str
    outline: Polygon
    at: tuple[float, float, float]
    u: tuple[float, float, float]
    v: tuple[float, float, float]
    thick: float
    tone: Rgb
    finish: PartFinish = field(default_factory=PartFinish)
    grain: float = 0.0
    plain: bool = False
    floors: tuple[Polygon, ...] = ()
    marks: tuple[LineString, ...] = ()
    height: float = 0.0
    ends: bool = True
    round_side: bool = False

    @property
    def w(self) -> _Vector:
        """The way of its thickness."""
        made: _Vector = np.cross(np.array(self.u), np.array(self.v))
        return made

    def turned(self, degrees: float) -> Solid:
        """The solid turned about the vertical through the origin."""
        c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))

        def turn(way: tuple[float, float, float]) -> tuple[float, float, float]:
            x, y, z = way
            return c * x - s * y, s * x + c * y, z

        return replace(self, at=turn(self.at), u=turn(self.u), v=turn(self.v))


def drawn(solids: Sequence[Solid], view: View) -> list[Drawn]:
    """Return what is seen of the solids, from behind to the front, each with its shadow on what is behind it."""
    found: list[Drawn] = []
    for solid in sorted(solids, key=lambda one: one.height):
        own = list(_seen(solid, view))
        whole = shapely.union_all([one.area for one in own if isinstance(one, Area)])
        if solid.thick:
            found += _shadows(found, whole, reach=0.4 * min(solid.thick, _THICK))
        found += own
    return found


def _shadows(behind: Sequence[Drawn], whole: BaseGeometry, *, reach: float) -> list[Drawn]:
    """The soft shadow of an area on those behind it, a little down and to the right."""
    lit_ones = [one for one in behind if isinstance(one, Area)]
    made: list[Drawn] = []
    for share, left in _SHADOW:
        cast = shapely.difference(_moved(whole, 0.35 * reach * share, -reach * share), whole)
        areas = np.array([one.area for one in lit_ones], dtype=object)
        if not len(areas) or cast.is_empty:
            continue
        touched = np.flatnonzero(shapely.intersects(shapely.box(*cast.bounds), areas))
        for place, dark in zip(touched, shapely.intersection(cast, areas[touched]), strict=True):
            fill = lit(lit_ones[place].fill, left)
            pieces = [Area(piece, fill) for piece in polygons_of(dark) if piece.area > _SPECK]
            made += pieces
            lit_ones += pieces
    return made


def _seen(solid: Solid, view: View) -> Iterator[Drawn]:
    w, towards = solid.w, view.towards
    facing = float(w @ towards)
    if solid.thick:
        yield from _walls(solid, view)
    if abs(facing) <= _FACING:
        return
    side = math.copysign(1.0, facing)
    cap = _placed(solid.outline, solid, view, side * solid.thick / 2)
    surface: Surface = "ends" if solid.round_side else "faces"
    colour = _colour(solid, surface, light=_light(side * w))
    coat = solid.finish.on(surface)
    yield Area(cap, colour, lit(colour, _OUTLINE))
    if not (solid.plain or solid.round_side) and (coat is None or coat.clear):
        lines = tuple(_placed(line, solid, view, side * solid.thick / 2) for line in _grain(solid))
        if lines:
            yield Pen(lines, lit(colour, _GRAIN), 0.5)
    if side > 0:
        for floor in solid.floors:
            yield Area(_placed(floor, solid, view, solid.thick / 2), lit(colour, _FLOOR), lit(colour, _OUTLINE))
        if solid.marks:
            marks = tuple(_placed(line, solid, view, solid.thick / 2) for line in solid.marks)
            yield Pen(marks, lit(colour, _OUTLINE), 1.0, mark=True)
    yield from _rim(solid, view, side)


def _rim(solid: Solid, view: View, side: float) -> Iterator[Drawn]:
    """The paint of edges that are seen only as a line, where the face is seen from straight in front."""
    if float(np.abs(view.onto @ solid.w).max()) > _FACING or solid.round_side:
        return
    x0, y0, x1, y1 = solid.outline.bounds
    wide, painted = _RIM * max(x1 - x0, y1 - y0), False
    for surface, runs in _stretches(solid):
        coat, face = solid.finish.on(surface), solid.finish.on("faces")
        if coat is None or coat == face:
            continue
        lines = shapely.line_merge(shapely.MultiLineString(runs))
        band = shapely.intersection(lines.buffer(wide, cap_style="flat", join_style="mitre"), solid.outline)
        colour = lit(coat.on(solid.tone), _share(_light(side * solid.w)))
        for piece in polygons_of(band):
            yield Area(_placed(piece, solid, view, side * solid.thick / 2), colour)
        painted = True
    if painted:
        whole = _placed(solid.outline, solid, view, side * solid.thick / 2)
        rings = tuple(LineString(ring.coords) for ring in (whole.exterior, *whole.interiors))
        yield Pen(rings, lit(_colour(solid, "faces", light=_light(side * solid.w)), _OUTLINE), OUTLINED)


def _stretches(solid: Solid) -> Iterator[tuple[Surface, list[LineString]]]:
    """The edges and the ends of a solid's outline."""
    found: dict[Surface, list[LineString]] = {"edges": [], "ends": []}
    for number, ring in enumerate((solid.outline.exterior, *solid.outline.interiors)):
        for a, b in pairwise(ring.coords):
            found[_surface(solid, a, b, outer=number == 0)].append(LineString([a, b]))
    yield from ((surface, runs) for surface, runs in found.items() if runs)


def _surface(solid: Solid, a: Sequence[float], b: Sequence[float], *, outer: bool = True) -> Surface:
    """What the wall from `a` to `b` belongs to."""
    if solid.round_side:
        return "faces"
    if not (solid.ends and outer):
        return "edges"
    way = math.atan2(b[1] - a[1], b[0] - a[0]) - solid.grain
    return "ends" if abs(math.sin(way)) > abs(math.cos(way)) else "edges"


def _walls(solid: Solid, view: View) -> Iterator[Area]:
    """The walls that face the viewer, joined where they have one light, from behind to the front."""
    u, v, towards = np.array(solid.u), np.array(solid.v), view.towards
    strips: list[tuple[float, Area]] = []
    x0, y0, x1, y1 = solid.outline.bounds
    # Walls of a hollow outline may hide each other: they are put in order in short pieces.
    step = None if _is_full(solid.outline) else max(x1 - x0, y1 - y0) / _WALL_PIECES
    for number, ring in enumerate((solid.outline.exterior, *solid.outline.interiors)):
        outer = number == 0
        fine = ring if step is None else shapely.segmentize(ring, step)
        places = np.array(fine.coords)[:, :2]
        if (shapely.is_ccw(ring)) != outer:
            places = places[::-1]
        run: list[_Vector] = []
        last: tuple[Surface, int] | None = None
        for a, b in pairwise(places):
            across = b - a
            normal = across[1] * u - across[0] * v
            long = float(np.linalg.norm(normal))
            kind: tuple[Surface, int] | None = None
            if long > 0 and float(normal @ towards) / long > _FACING:
                kind = _surface(solid, a, b, outer=outer), round(_LEVELS * _light(normal / long))
            full = step is not None and len(run) > 1 and LineString(run).length >= step
            if last is not None and (kind != last or full):
                strips.append(_strip(solid, view, run, *last))
            if kind is not None:
                run = [*run, b] if kind == last and not full else [a, b]
            last = kind
        if last is not None:
            strips.append(_strip(solid, view, run, *last))
    strips.sort(key=lambda one: one[0])
    for fill, alike in groupby((area for _, area in strips), key=lambda one: one.fill):
        for piece in polygons_of(shapely.union_all([one.area for one in alike], grid_size=1e-4)):
            if piece.area > _SPECK:
                yield Area(piece, fill, fill)


def _is_full(outline: Polygon) -> bool:
    """Whether an outline is nowhere hollow."""
    return not outline.interiors and outline.convex_hull.area - outline.area <= 1e-6 * outline.area


def _strip(solid: Solid, view: View, run: list[_Vector], surface: Surface, level: int) -> tuple[float, Area]:
    line = LineString(run)
    low = shapely.get_coordinates(_placed(line, solid, view, -solid.thick / 2))
    high = shapely.get_coordinates(_placed(line, solid, view, solid.thick / 2))
    colour = _colour(solid, surface, light=level / _LEVELS)
    if surface == "ends" and solid.finish.ends is None and not solid.round_side:
        colour = lit(colour, _END)
    middle = np.mean(run, axis=0)
    near = float((np.array(solid.at) + middle[0] * np.array(solid.u) + middle[1] * np.array(solid.v)) @ view.towards)
    area = Polygon([*low, *high[::-1]])
    whole = area if area.is_valid else max(polygons_of(area.buffer(0)), key=lambda one: one.area, default=Polygon())
    return near, Area(whole, colour, colour)


def _grain(solid: Solid) -> Iterator[LineString]:
    """Quiet lines along the grain, never straight, the same for the same part."""
    way = solid.grain
    along = shapely.affinity.rotate(solid.outline, -way, origin=(0, 0), use_radians=True) if way else solid.outline
    x0, y0, x1, y1 = along.bounds
    seed = zlib.crc32(solid.part.encode())
    count = max(_GRAIN_FEWEST, min(14, round((y1 - y0) / _GRAIN_APART)))
    apart = (y1 - y0) / count
    inner = along.buffer(-min(0.6, apart / 6))
    for number in range(count):
        chance = [(seed >> shift) % 97 / 97 for shift in (0, 5, 11, 17)]
        seed = (seed * 1103515245 + 12345) % 2**31
        y = y0 + (number + 0.25 + 0.5 * chance[0]) * apart
        wave, phase = 0.16 * apart * (0.4 + chance[1]), 6.3 * chance[2]
        steps = max(4, min(24, round((x1 - x0) / _GRAIN_STEP)))
        run = []
        for step in range(steps + 1):
            x = x0 + (x1 - x0) * step / steps
            run.append((x, y + wave * math.sin(phase + (x - x0) / (38.0 + 40.0 * chance[3]))))
        for piece in shapely.get_parts(shapely.intersection(LineString(run), inner)):
            if isinstance(piece, LineString) and piece.length > 4.0:
                yield shapely.affinity.rotate(piece, way, origin=(0, 0), use_radians=True) if way else piece


def _placed(geometry: _Shape, solid: Solid, view: View, deep: float) -> _Shape:
    """A shape in a solid's plane, `deep` along its thickness, in the picture."""
    onto = view.onto
    axes = onto @ np.array([solid.u, solid.v]).T
    origin = onto @ (np.array(solid.at) + deep * solid.w)
    moved: _Shape = shapely.transform(geometry, lambda places: places @ axes.T + origin)
    return moved


def _colour(solid: Solid, surface: Surface, *, light: float) -> Rgb:
    coat = solid.finish.on(surface)
    bare = solid.tone if coat is None else coat.on(solid.tone)
    return lit(bare, _share(light))


def _light(normal: _Vector) -> float:
    return max(0.0, float(normal @ _LIGHT))


def _share(light: float) -> float:
    return min(1.0, _DIM + _BRIGHT * light)


def lit(colour: Rgb, share: float) -> Rgb:
    """A colour with a share of its light."""
    red, green, blue = (min(255, max(0, round(one * share))) for one in colour)
    return red, green, blue


def _moved(area: BaseGeometry, x: float, y: float) -> BaseGeometry:
    return shapely.transform(area, lambda places: places + np.array([x, y]))
