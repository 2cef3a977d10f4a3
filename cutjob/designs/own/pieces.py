"""Turns the entries of a design file into the pieces of one item: shaped, sawn, rods, bought, holes by hand. mm.

It also checks that a part can be made: its outline does not cross itself, its features lie on it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

import shapely
from shapely.geometry.base import BaseGeometry

from cutjob.designs.design import LEAST_WALL, BuildContext
from cutjob.designs.own.features import Drawn, features, wanted
from cutjob.designs.own.model import (
    BoughtEntry,
    HandHoleEntry,
    PartEntry,
    RodEntry,
    SawnEntry,
    SeveralEntry,
    StripEntry,
)
from cutjob.designs.own.quantity import FormulaError, quantity
from cutjob.designs.own.scope import Scope, Wording
from cutjob.designs.own.shapes import Outline, ShapeError, asked, outline
from cutjob.files.fields import KeyPath
from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.polygons import to_polygon
from cutjob.parts.part import BoughtPart, HandHole, Hole, Mark, Pocket, RodPart, SawnPart, ShapedPart, StripPart, Wood
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit, length

_LEAST_AREA = 1.0  # mm2


def sound_part(shape: Outline, shape_keys: KeyPath, drawn: Sequence[Drawn]) -> list[str]:
    """Return warnings of thin wood. Raises ShapeError for the first thing that can't be cut."""
    whole = _polygon(shape.contour, shape_keys)
    cut: list[tuple[Drawn, BaseGeometry]] = []
    warnings: dict[str, None] = {}
    for one in drawn:
        match one.thing:
            case Hole():
                area: BaseGeometry = shapely.Point(one.thing.at).buffer(one.thing.steps[0].diameter / 2, quad_segs=32)
                what = "the hole"
            case Pocket():
                floor = _polygon(one.thing.region.outline, one.keys)
                if floor.intersection(whole).area < _LEAST_AREA:
                    raise _off("the pocket", one, floor)
                continue
            case Mark():
                line = shapely.LineString(
                    [one.thing.path[0].start, *(p for s in one.thing.path for p in s.chords(TOLERANCES.chord))]
                )
                if not whole.buffer(TOLERANCES.chord).contains(line):
                    raise _off("the mark", one, line)
                continue
            case _:
                area, what = _polygon(one.thing, one.keys), "the opening"
        if not whole.contains(area):
            raise _off(what, one, area)
        wall = whole.exterior.distance(area)
        if wall < LEAST_WALL - 2 * TOLERANCES.chord:
            warnings[f"{what} leaves only {length(wall)} of wood at the edge"] = None
        cut.append((one, area))
    _apart(cut)
    return list(warnings)


def _apart(cut: Sequence[tuple[Drawn, BaseGeometry]]) -> None:
    tree = shapely.STRtree([area for _, area in cut])
    for index, (one, area) in enumerate(cut):
        for other in sorted(tree.query(area, predicate="intersects").tolist()):
            if other < index:
                x, y = area.centroid.x, area.centroid.y
                where = f"x {length(x)}, y {length(y)}"
                raise ShapeError(
                    one.keys, FormulaError(f"the opening at {where} runs into another one; move them apart")
                )


def _polygon(contour: Contour, keys: KeyPath) -> shapely.Polygon:
    if len(contour.points(TOLERANCES.chord)) < 3:
        raise ShapeError(keys, FormulaError("the outline encloses nothing; give it more points"))
    polygon = to_polygon(contour)
    if not polygon.is_valid:
        place = re.search(r"\[(\S+) (\S+)\]", shapely.is_valid_reason(polygon))
        where = ""
        if place:
            x, y = (length(float(value)) for value in place.groups())
            where = f" near x {x}, y {y}"
        raise ShapeError(keys, FormulaError(f"the outline crosses or touches itself{where}; move its points"))
    if polygon.area < _LEAST_AREA:
        raise ShapeError(keys, FormulaError("the outline encloses almost no area; check its points"))
    return polygon


def _off(what: str, one: Drawn, area: BaseGeometry) -> ShapeError:
    x0, y0, x1, y1 = area.bounds
    spans = [f"{axis} {length(a)} to {length(b)}" for axis, a, b in (("x", x0, x1), ("y", y0, y1))]
    message = f"{what}, {', '.join(spans)}, is not wholly on the part; move it, or make the part larger"
    if what == "the pocket":
        message = f"{what}, {', '.join(spans)}, is beside the part; move it"
    return ShapeError(one.keys, FormulaError(message))


MOST_PIECES = 300  # of one entry
_LONGEST_NAME = 80

E = TypeVar("E", bound=SeveralEntry)
P = TypeVar("P")
Report = Callable[[KeyPath, FormulaError, str], None]


@dataclass(slots=True, kw_only=True)
class Making:
    """The settings for pieces: the context, which has the wood and the unit of names and notes, and the function that
    takes mistakes.
    """

    context: BuildContext
    report: Report
    warnings: list[str] = field(default_factory=list)

    @property
    def unit(self) -> Unit:
        """The unit of names and notes."""
        return self.context.unit

    def in_wood(
        self, entry: PartEntry | SawnEntry, name: str, scope: Scope, *, sawn: bool = False
    ) -> tuple[Wood | None, Scope]:
        """The wood that a part is cut from, None for the job's, and the scope with its thickness. The job's wish comes
        before the design's. Raises ShapeError.
        """
        wood = self.context.wood_of(name, sawn=sawn)
        if wood is None and (entry.thickness is not None or entry.material is not None):
            materials = () if entry.material is None else (entry.material,)
            if entry.thickness is not None:
                wood = Wood(thickness=asked(scope, ("thickness",), entry.thickness), materials=materials)
            else:
                there = {one.thickness for one in self.context.boards if set(one.materials) <= set(materials)}
                thick = there.pop() if len(there) == 1 else self.context.thickness
                wood = Wood(thickness=thick, materials=materials)
        if wood is None:
            return None, scope
        return wood, scope.with_names({"thickness": quantity(wood.thickness, 1)})


def series(
    entries: Sequence[E], kind: str, scope: Scope, making: Making, make: Callable[[E, str, Scope], P]
) -> tuple[P, ...]:
    """Return the pieces of all entries of a kind. The first mistake of each entry is reported, with its step."""
    pieces: list[P] = []
    for index, entry in enumerate(entries):
        at = ""
        try:
            for name, inner, step in _steps(entry, scope, making):
                at = step
                pieces.append(make(entry, name, inner))
        except ShapeError as error:
            making.report((kind, index, *error.keys), error.cause, at)
    return tuple(pieces)


def _steps(entry: SeveralEntry, scope: Scope, making: Making) -> Iterator[tuple[str, Scope, str]]:
    if entry.count is None:
        if wanted(scope, (), entry.when):
            yield name_of(entry.name, scope, making), scope, ""
        return
    try:
        n = scope.count(entry.count, most=MOST_PIECES)
    except FormulaError as error:
        raise ShapeError(("count",), error) from None
    for i in range(n):
        inner = scope.at_step(i, n)
        if wanted(inner, (), entry.when):
            numbered = "" if entry.name.formulas else f" {i + 1}"
            yield f"{name_of(entry.name, inner, making)}{numbered}", inner, f" where i is {i} of {n}"


def name_of(wording: Wording, scope: Scope, making: Making) -> str:
    """Return a name with its formulas worked out. Raises ShapeError."""
    return words_of(wording, scope, making, "name", longest=_LONGEST_NAME)


def words_of(wording: Wording | None, scope: Scope, making: Making, key: str, *, longest: int = 300) -> str:
    """Return a note with its formulas worked out, empty where there is none. Raises ShapeError."""
    try:
        return "" if wording is None else wording.words(scope, unit=making.unit, longest=longest)
    except FormulaError as error:
        raise ShapeError((key,), error) from None


def shaped(entry: PartEntry, name: str, scope: Scope, making: Making) -> ShapedPart:
    """Return a shaped part. Raises ShapeError for the first thing that can't be drawn or cut."""
    wood, scope = making.in_wood(entry, name, scope)
    shape = outline(entry, scope)
    drawn = features(entry, scope, thickness=making.context.thickness if wood is None else wood.thickness)
    keys: KeyPath = next(
        ((key,) for key in ("rectangle", "circle", "slot", "polygon", "path") if getattr(entry, key)), ()
    )
    thin = sound_part(shape, keys, drawn)
    making.warnings += [f"{name}: {words}" for words in thin]
    fitted = shape.fitted or any(one.fitted for one in drawn)
    return ShapedPart(
        name=name,
        region=Region(shape.contour, tuple(one.thing for one in drawn if isinstance(one.thing, Contour))),
        holes=tuple(one.thing for one in drawn if isinstance(one.thing, Hole)),
        pockets=tuple(one.thing for one in drawn if isinstance(one.thing, Pocket)),
        marks=tuple(one.thing for one in drawn if isinstance(one.thing, Mark)),
        grain=entry.grain,
        may_mirror=entry.may_mirror,
        deviation=TOLERANCES.curve if fitted else 0.0,
        wood=wood,
    )


def sawn(entry: SawnEntry, name: str, scope: Scope, making: Making) -> SawnPart:
    """Return a sawn piece. Raises ShapeError."""
    wood, scope = making.in_wood(entry, name, scope, sawn=True)
    length = asked(scope, ("length",), entry.length)
    width = None if entry.width is None else asked(scope, ("width",), entry.width)
    note = words_of(entry.note, scope, making, "note")
    return SawnPart(name=name, length=length, width=width, note=note, wood=wood)


def rod(entry: RodEntry, name: str, scope: Scope, making: Making) -> RodPart:
    """Return a piece of rod. Raises ShapeError."""
    diameter, length = asked(scope, ("diameter",), entry.diameter), asked(scope, ("length",), entry.length)
    return RodPart(name=name, diameter=diameter, length=length, note=words_of(entry.note, scope, making, "note"))


def strip(entry: StripEntry, name: str, scope: Scope, making: Making) -> StripPart:
    """Return a piece of strip. Raises ShapeError."""
    width, thickness = asked(scope, ("width",), entry.width), asked(scope, ("thickness",), entry.thickness)
    length, note = asked(scope, ("length",), entry.length), words_of(entry.note, scope, making, "note")
    return StripPart(name=name, width=width, thickness=thickness, length=length, note=note)


def hand_hole(entry: HandHoleEntry, name: str, scope: Scope, making: Making) -> HandHole:
    """Return a hole drilled by hand. Raises ShapeError."""
    depth = None if entry.depth is None else asked(scope, ("depth",), entry.depth)
    diameter = asked(scope, ("diameter",), entry.diameter)
    return HandHole(part=name, diameter=diameter, depth=depth, note=words_of(entry.note, scope, making, "note"))


def bought(entries: Sequence[BoughtEntry], scope: Scope, making: Making) -> tuple[BoughtPart, ...]:
    """Return the things to buy, without those of which none are needed; mistakes are reported."""
    found: list[BoughtPart] = []
    for index, entry in enumerate(entries):
        try:
            if not wanted(scope, (), entry.when):
                continue
            count = 1 if entry.count is None else scope.count(entry.count, most=100_000)
            if count:
                found.append(BoughtPart(name=name_of(entry.name, scope, making), count=count))
        except ShapeError as error:
            making.report(("bought", index, *error.keys), error.cause, "")
        except FormulaError as error:
            making.report(("bought", index, "count"), error, "")
    return tuple(found)


__all__ = ["MOST_PIECES", "Making", "bought", "hand_hole", "rod", "sawn", "series", "shaped", "strip"]
