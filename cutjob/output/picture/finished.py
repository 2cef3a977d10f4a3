"""Draws a finished item as wood and paint: from the front, and turned; to areas and lines, and to SVG. mm.

In the turned view the pieces that turn on a rod are turned by even steps. Every place is that of the item's assembly.
There is a turned view only where no two parts would be in one place: some designs give only the view from the front.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import combinations, pairwise
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Bounds
from cutjob.job.finish import shows_grain, wood_tone
from cutjob.job.stock import Board
from cutjob.layout.layout import Layout
from cutjob.output.numbers import fixed
from cutjob.output.operations import Rgb, css_colour
from cutjob.output.picture.solids import OUTLINED, Area, Drawn, Pen, Solid, View, drawn, lit
from cutjob.output.picture.svg_shapes import coordinate, printable
from cutjob.parts.finish import PartFinish
from cutjob.parts.part import Build, Item, ShapedPart, Stand
from cutjob.sticks.lists import StickList

_DEVIATION = 0.06  # chord error, mm: the picture is only looked at
_FAN = 140.0  # degrees from the lowest to the highest turning piece
_TURNED, _HUNG = View(yaw=24.0, rise=20.0), View(yaw=30.0, rise=11.0)
_FRONT = View()
_BEAD, _CORD = (196, 148, 96), (120, 105, 85)
_ROUND = 6  # sides of a quarter of a rod
_APART = 0.06  # between parts side by side, of the longest one
_LINE = 0.0032  # of the drawing's longer side
_ROUGH = 2e-4  # of the drawing's longer side: corners nearer to a line than this are left out
_SINK = 1.0  # mm that two parts may be in each other by rounding
GROUND: Rgb = (246, 243, 237)
_SHADE = ((0.034, 0.965), (0.022, 0.93), (0.01, 0.88))  # of the item's size, and the share of the ground's colour left
_PIXELS = 900.0  # the longer side of a picture by itself
_MARGIN, _BETWEEN = 0.09, 0.08  # round an item and between its views, of the longer side
_LARGE = 200.0  # mm; a larger drawing is written to 0.1 mm
_SVG = "http://www.w3.org/2000/svg"


@dataclass(frozen=True, slots=True, kw_only=True)
class Looks:
    """The colours of an item's parts by their names: tones of wood, parts without visible grain, and paint. Parts
    without a tone are softwood.
    """

    tones: Mapping[str, Rgb] = field(default_factory=dict)
    plain: frozenset[str] = frozenset()
    finish: Mapping[str, PartFinish] = field(default_factory=dict)


def looks_of(item: Item, layout: Layout, *, stock: Sequence[Board], sticks: Sequence[StickList]) -> Looks:
    """Return the colours of an item: its parts as the layout and the lists of sticks cut them from stock."""
    materials = {board.name: board.material for board in stock}
    woods = {
        one.part.name: (board.board.name, board.board.material)
        for board in layout.boards
        for one in board.placements
        if one.item == item.name
    }
    woods |= {one.part: (one.board, materials.get(one.board, "")) for one in layout.sawn if one.item == item.name}
    tones = {part: wood_tone(*wood) for part, wood in woods.items()}
    tones |= {
        part.part: wood_tone(one.sticks[setting.sticks[0][0]].stock, "rod")
        for one in sticks
        for setting in one.settings
        for part in setting.parts
        if part.item == item.name and setting.sticks
    }
    return Looks(
        tones=tones,
        plain=frozenset(part for part, (_, material) in woods.items() if not shows_grain(material)),
        finish=dict(item.finish),
    )


@dataclass(frozen=True, slots=True)
class Drawing:
    """What is drawn, from behind to the front, its box, and whether it stands on the ground."""

    shapes: tuple[Drawn, ...]
    box: Bounds
    stands: bool

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the box."""
        x0, y0, x1, y1 = self.box
        return x1 - x0, y1 - y0


def front_drawing(build: Build, looks: Looks | None = None, *, parts: Collection[int] | None = None) -> Drawing | None:
    """Return the item from the front, or its shaped parts side by side if its design does not say how it stands; None
    if there is nothing to draw. With `parts` only those of its stands are there, by their indices; the box is that of
    the whole.
    """
    looks = looks or Looks()
    return _drawing(build, looks, _FRONT, parts=parts)


def turned_drawing(build: Build, looks: Looks | None = None, *, parts: Collection[int] | None = None) -> Drawing | None:
    """Return the item seen from above and from the side, with its turning pieces turned by even steps. None where its
    design does not say where all parts are.
    """
    looks = looks or Looks()
    if not (build.stands or len(build.shaped) == 1) or _in_one_place(build):
        return None
    return _drawing(build, looks, _TURNED if build.stands else _HUNG, parts=parts)


@dataclass(frozen=True)
class Views:
    """An item's drawings, each made when it is first asked for."""

    build: Build
    looks: Looks

    @cached_property
    def front(self) -> Drawing | None:
        """From the front."""
        return front_drawing(self.build, self.looks)

    @cached_property
    def turned(self) -> Drawing | None:
        """From the side."""
        return turned_drawing(self.build, self.looks)

    @property
    def drawings(self) -> tuple[Drawing, ...]:
        """Those that there are, the one from the front first."""
        return tuple(one for one in (self.front, self.turned) if one is not None)


def _drawing(build: Build, looks: Looks, view: View, *, parts: Collection[int] | None) -> Drawing | None:
    turned = view is not _FRONT
    whole = drawn(_solids(build, looks, turned=turned), view)
    if not whole:
        return None
    shapes = whole if parts is None else drawn(_solids(build, looks, turned=turned, parts=parts), view)
    box = shapely.total_bounds([one.area for one in whole if isinstance(one, Area)])
    hangs = not build.stands or any(stand.look == "cord" for stand in build.stands)
    rough = _ROUGH * max(box[2] - box[0], box[3] - box[1])
    shapes = [_simple(one, rough) for one in shapes]
    return Drawing(tuple(shapes), (float(box[0]), float(box[1]), float(box[2]), float(box[3])), stands=not hangs)


def _simple(shape: Drawn, rough: float) -> Drawn:
    """The shape without corners that nobody sees."""
    if isinstance(shape, Pen):
        return replace(shape, lines=tuple(shapely.simplify(line, rough) for line in shape.lines))
    return replace(shape, area=shapely.simplify(shape.area, rough))


def item_size(build: Build) -> tuple[float, float] | None:
    """Return the width and height of the standing item without its cords, mm; None if its design does not say how it
    stands.
    """
    solid = [stand for stand in build.stands if stand.look != "cord"]
    if not solid:
        return None
    x0, y0, x1, y1 = shapely.total_bounds([_front_area(stand) for stand in solid])
    return float(x1 - x0), float(y1 - y0)


def front_box(stand: Stand) -> Bounds:
    """Return the box that a part covers from the front, mm: x from the item's middle line, y above the floor."""
    x0, y0, x1, y1 = _front_area(stand).bounds
    return x0, y0, x1, y1


def _front_area(stand: Stand) -> BaseGeometry:
    """The area that a part covers from the front."""
    if stand.seen == "face":
        return shapely.affinity.translate(_polygon(stand), -stand.centre, stand.foot)
    x0, _, x1, _ = stand.outline.outline.bounds
    return shapely.box(x0 - stand.centre, stand.foot, x1 - stand.centre, stand.foot + stand.thick)


def _polygon(stand: Stand) -> Polygon:
    return to_polygon(stand.outline, deviation=_DEVIATION)


# --- from parts to solids ---------------------------------------------------------------------------------------------


def _solids(build: Build, looks: Looks, *, turned: bool = False, parts: Collection[int] | None = None) -> list[Solid]:
    """The solids of an item, or of some of its stands by their indices."""
    if not build.stands:
        return list(_side_by_side(build.shaped, looks))
    there = [place for place in range(len(build.stands)) if parts is None or place in parts]
    turning = [place for place, stand in enumerate(build.stands) if stand.turns]
    step = _FAN / (len(turning) - 1) if turned and len(turning) > 1 else 0.0
    angles = {place: -_FAN / 2 + number * step for number, place in enumerate(turning)} if step else {}
    shaped = {part.name: part for part in build.shaped}
    rods = {rod.name for rod in build.rods}
    made: list[Solid] = []
    for place in there:
        stand = build.stands[place]
        tall = stand.part in rods and not stand.turns and _is_upright(stand)
        pieces = (
            _upright(stand, [build.stands[one] for one in there], shaped, looks)
            if tall
            else [_solid(stand, shaped, rods, looks)]
        )
        made += [piece.turned(angles.get(place, 0.0)) for piece in pieces]
    return made


def _is_upright(stand: Stand) -> bool:
    x0, y0, x1, y1 = stand.outline.outline.bounds
    return stand.seen == "face" and math.isclose(x1 - x0, stand.thick) and y1 - y0 > x1 - x0


def _solid(stand: Stand, shaped: Mapping[str, ShapedPart], rods: set[str], looks: Looks) -> Solid:
    if stand.look != "wood":
        return _cord_or_bead(stand)
    if stand.part in rods:
        return _lying(stand, looks)
    part = shaped.get(stand.part)
    own = part if part is not None and part.region == stand.outline and stand.profile is None else None
    area = _polygon(stand)
    solid = Solid(
        part=stand.part,
        outline=_cut(area, own),
        at=(-stand.centre, 0.0, stand.foot),
        u=(1.0, 0.0, 0.0),
        v=(0.0, 0.0, 1.0),
        thick=stand.thick,
        tone=_tone(stand.part, looks),
        finish=looks.finish.get(stand.part, PartFinish()),
        grain=_grain_of(area, own),
        plain=stand.part in looks.plain,
        floors=_floors(own),
        marks=_marks(own),
        height=_middle(stand, area),
        ends=part is None or part.grain == "length",
    )
    if stand.profile is not None:
        x0, y0, _, y1 = area.bounds
        edge = shapely.affinity.translate(to_polygon(stand.profile, deviation=_DEVIATION), x0, 0.0)
        return replace(solid, outline=edge, thick=y1 - y0, height=stand.foot + stand.thick / 2)
    if stand.seen == "face":
        return solid
    at = (-stand.centre, -_rod_at(stand, own), stand.foot + stand.thick / 2)
    return replace(solid, at=at, v=(0.0, 1.0, 0.0), height=at[2])


def _rod_at(stand: Stand, own: ShapedPart | None) -> float:
    """The y of a flat part's outline at the item's middle: that of its hole for the rod, else of its middle."""
    _, y0, _, y1 = stand.outline.outline.bounds
    middle = (y0 + y1) / 2
    bores = [hole.at[1] for hole in (own.holes if own else ()) if math.isclose(hole.at[0], stand.centre, abs_tol=0.01)]
    return min(bores, key=lambda y: abs(y - middle), default=middle if stand.centre else 0.0)


def _middle(stand: Stand, area: Polygon) -> float:
    """The height at which a part on edge sits on the rod: the middle of its wood there."""
    _, y0, _, y1 = area.bounds
    on_rod = shapely.intersection(area, LineString([(stand.centre, y0 - 1), (stand.centre, y1 + 1)]))
    if on_rod.is_empty:
        return stand.foot + (y0 + y1) / 2
    return stand.foot + float(on_rod.centroid.y)


def _tone(part: str, looks: Looks) -> Rgb:
    return looks.tones.get(part, wood_tone("", "softwood"))


def _grain_of(area: Polygon, own: ShapedPart | None) -> float:
    """The way of the grain: a part's x, or the longer side of what does not lie as it was cut."""
    if own is not None:
        return 0.0
    corners = [(float(x), float(y)) for x, y in shapely.get_coordinates(shapely.minimum_rotated_rectangle(area))]
    sides = [(math.dist(a, b), math.atan2(b[1] - a[1], b[0] - a[0])) for a, b in pairwise(corners[:3])]
    return max(sides)[1]


def _cut(area: Polygon, own: ShapedPart | None) -> Polygon:
    """An outline with the holes that go through it."""
    if own is None:
        return area
    holes = [shapely.Point(hole.at).buffer(hole.diameter / 2, quad_segs=8) for hole in own.holes if hole.depth is None]
    pieces = polygons_of(shapely.difference(area, shapely.union_all(holes))) if holes else [area]
    return max(pieces, key=lambda one: one.area)


def _floors(own: ShapedPart | None) -> tuple[Polygon, ...]:
    """The visible floors of a part's pockets and blind holes."""
    if own is None:
        return ()
    wood = to_polygon(own.region, deviation=_DEVIATION)
    areas: list[BaseGeometry] = [to_polygon(pocket.region, deviation=_DEVIATION) for pocket in own.pockets]
    for hole in own.holes:
        around = [] if hole.depth is None else [hole.diameter]
        wide = hole.counterbore
        disc = shapely.Point(hole.at).buffer(hole.diameter / 2, quad_segs=8)
        if wide is not None:
            ring = shapely.Point(hole.at).buffer(wide.diameter / 2, quad_segs=8)
            areas.append(shapely.difference(ring, disc) if hole.depth is None else ring)
        areas += [disc for _ in around]
    return tuple(piece for area in areas for piece in polygons_of(shapely.intersection(area, wood)))


def _marks(own: ShapedPart | None) -> tuple[LineString, ...]:
    return tuple(
        LineString([mark.path[0].start, *(at for segment in mark.path for at in segment.chords(_DEVIATION))])
        for mark in (own.marks if own is not None else ())
    )


def _cord_or_bead(stand: Stand) -> Solid:
    """A cord or a bead as it is seen from the front."""
    bead = stand.look == "bead"
    area = _polygon(stand)
    return Solid(
        part=stand.part,
        outline=area,
        at=(-stand.centre, 0.0, stand.foot),
        u=(1.0, 0.0, 0.0),
        v=(0.0, 0.0, 1.0),
        thick=0.0,
        tone=_BEAD if bead else _CORD,
        plain=True,
        height=_middle(stand, area) if bead else -math.inf,
    )


def _lying(stand: Stand, looks: Looks) -> Solid:
    """A rod that lies across: a disc as long as the rod."""
    x0, y0, x1, y1 = stand.outline.outline.bounds
    long, across = x1 - x0, y1 - y0
    middle = stand.foot + (y0 + y1) / 2
    return Solid(
        part=stand.part,
        outline=shapely.Point(0.0, 0.0).buffer(across / 2, quad_segs=_ROUND),
        at=((x0 + x1) / 2 - stand.centre, 0.0, middle),
        u=(0.0, 1.0, 0.0),
        v=(0.0, 0.0, 1.0),
        thick=long,
        tone=looks.tones.get(stand.part, wood_tone("", "rod")),
        finish=looks.finish.get(stand.part, PartFinish()),
        height=middle,
        round_side=True,
    )


def _upright(stand: Stand, stands: Sequence[Stand], shaped: Mapping[str, ShapedPart], looks: Looks) -> Iterator[Solid]:
    """The pieces of a rod that are seen between the parts on it."""
    _, y0, _, y1 = stand.outline.outline.bounds
    low, high = stand.foot + y0, stand.foot + y1
    inside = shapely.union_all([shapely.LineString([(0, a), (0, b)]) for a, b in _on_axis(stands, stand, shaped)])
    free = shapely.difference(LineString([(0.0, low), (0.0, high)]), inside)
    for piece in shapely.get_parts(free):
        _, a, _, b = piece.bounds
        if b - a < 0.05:
            continue
        yield Solid(
            part=stand.part,
            outline=shapely.Point(0.0, 0.0).buffer(stand.thick / 2, quad_segs=_ROUND),
            at=(0.0, 0.0, (a + b) / 2),
            u=(1.0, 0.0, 0.0),
            v=(0.0, 1.0, 0.0),
            thick=b - a,
            tone=looks.tones.get(stand.part, wood_tone("", "rod")),
            finish=looks.finish.get(stand.part, PartFinish()),
            height=(a + b) / 2,
            round_side=True,
        )


def _on_axis(stands: Sequence[Stand], rod: Stand, shaped: Mapping[str, ShapedPart]) -> Iterator[tuple[float, float]]:
    """From where to where other parts are round the rod's middle."""
    for stand in stands:
        if stand is rod or stand.look == "cord":
            continue
        area = to_polygon(stand.outline.outline, deviation=_DEVIATION)
        _, y0, _, y1 = area.bounds
        if stand.seen == "edge":
            middle = (stand.centre, _rod_at(stand, shaped.get(stand.part)))
            if area.buffer(_SINK).contains(shapely.Point(middle)):
                yield stand.foot, stand.foot + stand.thick
            continue
        cut = shapely.intersection(area, LineString([(stand.centre, y0 - 1), (stand.centre, y1 + 1)]))
        for piece in shapely.get_parts(cut):
            if isinstance(piece, LineString):
                yield stand.foot + piece.bounds[1], stand.foot + piece.bounds[3]


def _in_one_place(build: Build) -> bool:
    """Whether two parts would be in one place: their design says only what is seen from the front."""
    solids = [
        (_front_area(stand), stand)
        for stand in build.stands
        if not stand.turns and stand.look == "wood" and not _is_upright(stand)
    ]
    for (one, stand), (other, behind) in combinations(solids, 2):
        if stand.profile is not None or behind.profile is not None:
            continue  # let into each other
        if shapely.intersection(one, other).buffer(-_SINK).area > 0:
            return True
    return False


def _side_by_side(parts: Sequence[ShapedPart], looks: Looks) -> Iterator[Solid]:
    """Parts in rows from the top, each row about as wide as all of them are high."""
    woods = [to_polygon(part.region, deviation=_DEVIATION) for part in parts]
    sizes = [(x1 - x0, y1 - y0) for x0, y0, x1, y1 in (wood.bounds for wood in woods)]
    gap = _APART * max(max(size) for size in sizes) if sizes else 0.0
    room = max(max((wide for wide, _ in sizes), default=0.0), 1.3 * math.sqrt(sum(w * h for w, h in sizes)))
    x = top = deep = 0.0
    for part, wood, (wide, high) in zip(parts, woods, sizes, strict=True):
        if x and x + wide > room:
            x, top, deep = 0.0, top - deep - gap, 0.0
        thick = part.wood.thickness if part.wood is not None else 0.12 * min(wide, high)
        yield Solid(
            part=part.name,
            outline=_cut(wood, part),
            at=(x - wood.bounds[0], 0.0, top - high - wood.bounds[1]),
            u=(1.0, 0.0, 0.0),
            v=(0.0, 0.0, 1.0),
            thick=thick,
            tone=_tone(part.name, looks),
            finish=looks.finish.get(part.name, PartFinish()),
            plain=part.name in looks.plain,
            ends=part.grain == "length",
            floors=_floors(part),
            marks=_marks(part),
        )
        x, deep = x + wide + gap, max(deep, high)


# --- from areas and lines to SVG --------------------------------------------------------------------------------------


def svg_of(drawing: Drawing, *, title: str, line: float | None = None) -> str:
    """Return a drawing as SVG without a ground. `line` is the width of its lines, mm; by default it suits the item's
    size.
    """
    return _svg([drawing], title=title, line=line)


def frame_of(drawing: Drawing) -> tuple[float, float, float, float]:
    """Return where a drawing's place 0, 0 lies in its `svg_of`, from the left and from the top, and the width and the
    height of that picture, mm.
    """
    (x0, _, _, y1), (wide, high), margin = drawing.box, drawing.size, 2 * line_of([drawing])
    return margin - x0, margin + y1, wide + 2 * margin, high + 2 * margin


def finished_picture(drawings: Sequence[Drawing], *, title: str) -> bytes:
    """Return a picture by itself, on a plain ground with margins: drawings side by side at one scale."""
    return (_svg(drawings, title=title, ground=True) + "\n").encode("utf-8")


def picture_file(number: int) -> str:
    """Return the name of the picture of an item, counted from 1 in the order of the job."""
    return f"finished-{number:02d}.svg"


def grounded(drawing: Drawing) -> tuple[Drawn, ...]:
    """Return a drawing's shapes with its shadow on the ground first."""
    wide, high = drawing.size
    size = max(wide, high)
    whole = shapely.union_all([one.area for one in drawing.shapes if isinstance(one, Area)])
    shade: list[Drawn] = []
    for reach, left in _SHADE:
        if drawing.stands:
            low = shapely.intersection(whole, shapely.box(-1e6, drawing.box[1] - 1, 1e6, drawing.box[1] + 0.12 * high))
            x0, y0, x1, _ = low.bounds if not low.is_empty else (0.0, 0.0, 0.0, 0.0)
            disc = shapely.Point(0.0, 0.0).buffer(1.0, quad_segs=16)
            disc = shapely.affinity.scale(disc, (x1 - x0) / 2 + reach * size * 0.9, 0.35 * reach * size + 0.004 * size)
            cast: BaseGeometry = shapely.affinity.translate(disc, (x0 + x1) / 2 + 0.006 * size, y0 + 0.002 * size)
        else:
            cast = shapely.affinity.translate(whole.buffer(0.45 * reach * size), 0.008 * size, -0.014 * size)
        shade += [Area(piece, lit(GROUND, left)) for piece in polygons_of(cast)]
    return (*shade, *drawing.shapes)


def line_of(drawings: Iterable[Drawing]) -> float:
    """Return the width of lines that suits drawings at one scale, mm."""
    return _LINE * max(max(one.size) for one in drawings)


def _svg(drawings: Sequence[Drawing], *, title: str, line: float | None = None, ground: bool = False) -> str:
    line = line_of(drawings) if line is None else line
    large = max(max(one.size) for one in drawings)
    margin, between = (_MARGIN * large if ground else 2 * line), _BETWEEN * large
    wide = sum(one.size[0] for one in drawings) + between * (len(drawings) - 1) + 2 * margin
    high = max(one.size[1] for one in drawings) + 2 * margin
    root = Element("svg", {"xmlns": _SVG, "role": "img", "viewBox": f"0 0 {coordinate(wide)} {coordinate(high)}"})
    if ground:
        scale = _PIXELS / max(wide, high)
        root.attrib |= {"width": coordinate(wide * scale), "height": coordinate(high * scale)}
    SubElement(root, "title").text = printable(title)
    if ground:
        SubElement(root, "rect", {"width": coordinate(wide), "height": coordinate(high), "fill": css_colour(GROUND)})
    group = SubElement(root, "g", {"stroke-linejoin": "round", "stroke-linecap": "round", "fill-rule": "evenodd"})
    left = margin
    for drawing in drawings:
        x0, y0, x1, _ = drawing.box
        shapes = grounded(drawing) if ground else drawing.shapes
        decimals = 1 if large > _LARGE else 2
        _shapes(group, shapes, left=left - x0, bottom=high - margin + y0, line=line, decimals=decimals)
        left += x1 - x0 + between
    return ElementTree.tostring(root, encoding="unicode")


def _shapes(group: Element, shapes: Sequence[Drawn], *, left: float, bottom: float, line: float, decimals: int) -> None:
    for shape in shapes:
        if isinstance(shape, Area):
            rings = [shape.area.exterior, *shape.area.interiors]
            data = "".join(f"M{_run(ring.coords[:-1], left, bottom, decimals)}Z" for ring in rings)
            look = {"d": data, "fill": css_colour(shape.fill)}
            if shape.line is not None:
                width = 0.3 if shape.line == shape.fill else OUTLINED
                look |= {"stroke": css_colour(shape.line), "stroke-width": coordinate(width * line)}
            SubElement(group, "path", look)
        else:
            data = "".join(f"M{_run(one.coords, left, bottom, decimals)}" for one in shape.lines)
            look = {"d": data, "fill": "none", "stroke": css_colour(shape.colour)}
            look |= {"stroke-width": coordinate(shape.width * line)} | ({"class": "mark"} if shape.mark else {})
            SubElement(group, "path", look)


def _run(places: Iterable[Sequence[float]], left: float, bottom: float, decimals: int) -> str:
    return "L".join(f"{fixed(at[0] + left, decimals)} {fixed(bottom - at[1], decimals)}" for at in places)
