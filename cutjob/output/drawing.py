"""What a drawing shows of a board, for every kind of file: its parts as contours and circles by operation, and holes
for what holds it; each line once, on the layer of its operation. mm.

Outlines, pockets and their islands are closed contours, whole circles of these, of openings and of holes are circles,
marks and lettering are open lines. Holes for screws and pins that hold the board are drilled ones. A beam makes round
holes as it makes any other opening: they lie on one layer. A drawing has no depths, so pockets of each depth have a
layer of their own, unless the profile names one for pockets. Nothing is drawn twice, and nothing is drawn that is no
cut but the board's own outline, where the profile wants it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeAlias

from cutjob.geometry.contour import Contour
from cutjob.geometry.offset import offset
from cutjob.geometry.segment import Bounds, Point, Segment, around, distance
from cutjob.job.machine import Machine, Operation
from cutjob.layout.layout import BoardLayout
from cutjob.output.gcode.comments import plain_ascii
from cutjob.output.numbers import Grid, fixed
from cutjob.output.operations import COLOURS, OPERATIONS, Rgb, css_colour, hole_operation
from cutjob.parts.part import LineOperation
from cutjob.tolerances import TOLERANCES
from cutjob.units import MM_PER

# Symbol names (DXF reference): R12 takes letters, digits, $ - _, at most 31; R2000 nearly anything but these.
_IN_NAMES = "&_*"  # of a name; what R12 forbids of it is spelled with a dash
_R12_FORBIDDEN = re.compile(r"[^A-Za-z0-9$_-]+")
_R2000_FORBIDDEN = re.compile(r'[\x00-\x1f\x7f<>/\\":;?*|=`,]+')
_LONGEST_NAME = {"R12": 31, "R2000": 255}
# Of depths in the names of layers: a hundredth of a mm, about.
_DEPTH_DECIMALS = {"mm": 2, "in": 4}


def layer_names(machine: Machine) -> dict[Operation, str]:
    """Return the layer of each operation: plain English, or the service's own; in R12 `outside-cut` for `outside cut`.

    If the version's rules make two names equal, a number is added to the second. The name of `pocket` is used only if
    the profile gives one; otherwise see `pocket_layers`.
    """
    drawing = machine.drawing
    wished = {op: str(drawing.layers.get(op, op)) for op in OPERATIONS}
    given: dict[str, str] = {}  # wished name: written name
    for name in wished.values():
        if name not in given:
            given[name] = _free_name(_allowed(name, drawing.version), drawing.version, given.values())
    return {op: given[name] for op, name in wished.items()}


def pocket_layers(machine: Machine, depths: Iterable[float]) -> dict[float, str]:
    """Return the layers of pockets by their depths, mm: `pocket 6.35 mm`, in R12 `pocket-6-35-mm`.

    Depths are written in the drawing's unit. All pockets of a profile that names their layer lie on that.
    """
    drawing = machine.drawing
    names = layer_names(machine)
    if "pocket" in drawing.layers:
        return dict.fromkeys(depths, names["pocket"])
    others = [name for op, name in names.items() if op != "pocket"]
    given: dict[str, str] = {}  # by the depth as it is written
    found: dict[float, str] = {}
    for depth in depths:
        size = fixed(depth / MM_PER[drawing.units], _DEPTH_DECIMALS[drawing.units])
        if size not in given:
            name = _allowed(f"pocket {size} {drawing.units}", drawing.version)
            given[size] = _free_name(name, drawing.version, [*others, *given.values()])
        found[depth] = given[size]
    return found


def _allowed(name: str, version: str) -> str:
    name = (
        _R12_FORBIDDEN.sub("-", plain_ascii(name, also=_IN_NAMES))
        if version == "R12"
        else _R2000_FORBIDDEN.sub("-", name)
    )
    return name.strip(" -")[: _LONGEST_NAME[version]] or "layer"


def _free_name(name: str, version: str, taken: Iterable[str]) -> str:
    # Layer names are compared without regard to case.
    used = {other.casefold() for other in taken}
    free, number = name, 2
    while free.casefold() in used:
        tail = f"-{number}"
        free, number = name[: _LONGEST_NAME[version] - len(tail)] + tail, number + 1
    return free


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnCircle:
    """A round hole to draw, mm, and the operation that makes it."""

    op: Operation
    at: Point
    diameter: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPocket:
    """The outline (counter-clockwise) and the islands (clockwise) of an area cleared `depth` mm deep."""

    depth: float
    contours: tuple[Contour, ...]


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """A line on a part, and the operation that cuts it."""

    op: LineOperation
    path: tuple[Segment, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPart:
    """One part as it is to be drawn, in the board's frame, mm; offset or not, as the caller decided."""

    outline: Contour
    holes: tuple[Contour, ...] = ()
    pockets: tuple[DrawnPocket, ...] = ()
    circles: tuple[DrawnCircle, ...] = ()
    lines: tuple[DrawnLine, ...] = ()


def as_drawn(layout: BoardLayout, *, cutter_diameter: float | None = None, beam: bool = False) -> tuple[DrawnPart, ...]:
    """Return the parts of a board with no offset. Holes of the cutter's own diameter are drilled, the others bored; a
    `beam` cuts them out like any opening. Those drilled by hand are not drawn.
    """
    return tuple(
        DrawnPart(
            outline=placement.region.outline,
            holes=placement.region.holes,
            circles=tuple(
                DrawnCircle(
                    op="inside cut" if beam else hole_operation(hole.diameter, cutter_diameter=cutter_diameter),
                    at=placement.transform.point(hole.at),
                    diameter=hole.diameter,
                )
                for hole in placement.part.round_holes
                if not hole.by_hand
            ),
            pockets=tuple(
                DrawnPocket(depth=pocket.depth, contours=placement.transform.region(pocket.region).contours)
                for pocket in placement.part.pockets
            ),
            lines=tuple(
                DrawnLine(mark.operation, tuple(placement.transform.segment(segment) for segment in mark.path))
                for mark in placement.part.marks
            ),
        )
        for placement in layout.placements
    )


def moved_into_waste(part: DrawnPart, by: float) -> DrawnPart:
    """Return a part drawn with an offset of `by` mm: its outline and islands outward, openings, holes and the outlines
    of pockets inward; marks stay. What is too narrow for that is gone. Raises ValueError for a part that is.
    """
    return DrawnPart(
        outline=max(offset(part.outline, by), key=lambda path: path.signed_area),
        holes=tuple(path for hole in part.holes for path in offset(hole, -by)),
        pockets=tuple(
            DrawnPocket(
                depth=pocket.depth,
                contours=tuple(
                    path for wall in pocket.contours for path in offset(wall, -by if wall.signed_area > 0 else by)
                ),
            )
            for pocket in part.pockets
        ),
        circles=tuple(replace(circle, diameter=circle.diameter - 2 * by) for circle in part.circles),
        lines=part.lines,
    )


def lost_by_moving(part: DrawnPart, by: float) -> tuple[str, ...]:
    """Return which kinds of details are too narrow to be drawn with an offset of `by` mm, in plain words."""
    circles = any(circle.diameter / 2 - by <= TOLERANCES.same_point for circle in part.circles)
    openings = any(not offset(hole, -by) for hole in part.holes)
    walls = [wall for pocket in part.pockets for wall in pocket.contours if wall.signed_area > 0]
    pockets = any(not offset(wall, -by) for wall in walls)
    found = {"a round hole": circles, "an opening": openings, "a pocket": pockets}
    return tuple(name for name, lost in found.items() if lost)


def holding_circles(layout: BoardLayout, machine: Machine) -> Iterator[DrawnCircle]:
    """Yield the holes drilled for the screws that hold a board, and those for the pins of a next window."""
    for down in layout.hold_downs:
        yield DrawnCircle(op="drill", at=down.at, diameter=down.diameter)
    for window in layout.windows:
        if machine.travel is not None:
            for at in window.holes:
                yield DrawnCircle(op="drill", at=at, diameter=machine.travel.pin)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnShape:
    """One line of a drawing on its layer, mm: a chain of segments, closed or not, or a whole `circle`: its middle and
    its radius.
    """

    op: Operation
    layer: str
    segments: tuple[Segment, ...] = ()
    closed: bool = True
    circle: tuple[Point, float] | None = None

    @property
    def bounds(self) -> Bounds:
        """The box round it."""
        if self.circle is None:
            return around([segment.bounds for segment in self.segments])
        (x, y), radius = self.circle
        return x - radius, y - radius, x + radius, y + radius


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLayer:
    """A layer on which something is drawn, its colour, and the operations it is drawn for."""

    name: str
    colour: Rgb
    operations: tuple[Operation, ...]

    @property
    def css(self) -> str:
        """Its colour as `#rrggbb`."""
        return css_colour(self.colour)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardDrawing:
    """All that is drawn of a board, in order, and the layers on which something is, in the order of operations."""

    shapes: tuple[DrawnShape, ...]
    layers: tuple[DrawnLayer, ...]

    @property
    def bounds(self) -> Bounds | None:
        """The box round all of it, mm; None where nothing is drawn."""
        return around([shape.bounds for shape in self.shapes]) if self.shapes else None


def draw_board(layout: BoardLayout, *, machine: Machine, drawn: Sequence[DrawnPart]) -> BoardDrawing:
    """Return the drawing of a board as `machine.drawing` asks for it.

    `drawn` are its parts; lettering and the holes for screws and pins are drawn as the layout has them.
    """
    names = layer_names(machine)
    pockets = pocket_layers(machine, [pocket.depth for part in drawn for pocket in part.pockets])
    pen = _Pen(names)
    if machine.drawing.board:
        pen.contour(layout.board.outline, "board")
    for part in drawn:
        pen.part(part, pockets)
    for lettering in layout.lettering:
        for path in lettering.paths:
            pen.line(path, "mark")
    for circle in holding_circles(layout, machine):
        pen.circle((circle.at, circle.diameter / 2), circle.op)
    return BoardDrawing(shapes=tuple(pen.shapes), layers=tuple(_layers(pen.shapes, machine)))


def _layers(shapes: Sequence[DrawnShape], machine: Machine) -> Iterator[DrawnLayer]:
    """The layers in the order of their first operations, which give them their colours too."""
    found: dict[str, dict[Operation, None]] = {}
    for shape in sorted(shapes, key=lambda one: OPERATIONS.index(one.op)):
        found.setdefault(shape.layer, {})[shape.op] = None
    for name, operations in found.items():
        first = next(iter(operations))
        yield DrawnLayer(name=name, colour=machine.drawing.rgb(first) or COLOURS[first], operations=tuple(operations))


# Lines that agree to a ten thousandth of a mm are the same line.
_APART = Grid(unit="mm", decimals=4)

Key: TypeAlias = tuple[object, ...]


@dataclass(slots=True)
class _Pen:
    """Remembers what was drawn, so that nothing is drawn twice."""

    names: Mapping[Operation, str]
    shapes: list[DrawnShape] = field(default_factory=list)
    seen: set[Key] = field(default_factory=set)

    def part(self, part: DrawnPart, pockets: Mapping[float, str]) -> None:
        self.contour(part.outline, "outside cut")
        for hole in part.holes:
            self.ring(hole, "inside cut")
        for pocket in part.pockets:
            for wall in pocket.contours:
                self.ring(wall, "pocket", pockets[pocket.depth])
        for circle in part.circles:
            self.circle((circle.at, circle.diameter / 2), circle.op)
        for line in part.lines:
            self.line(line.path, line.op)

    def ring(self, contour: Contour, op: Operation, layer: str | None = None) -> None:
        whole = contour.circle()
        if whole is None:
            self.contour(contour, op, layer)
        else:
            self.circle(whole, op, layer)

    def contour(self, contour: Contour, op: Operation, layer: str | None = None) -> None:
        shape = DrawnShape(op=op, layer=layer or self.names[op], segments=contour.segments)
        self.add(_chain_key(contour.segments), shape)

    def circle(self, circle: tuple[Point, float], op: Operation, layer: str | None = None) -> None:
        centre, radius = circle
        shape = DrawnShape(op=op, layer=layer or self.names[op], circle=circle)
        self.add(("circle", _place(centre), _APART.steps(radius)), shape)

    def line(self, segments: tuple[Segment, ...], op: LineOperation) -> None:
        if segments:
            closed = distance(segments[0].start, segments[-1].end) <= TOLERANCES.same_point
            shape = DrawnShape(op=op, layer=self.names[op], segments=segments, closed=closed)
            self.add(_chain_key(segments), shape)

    def add(self, key: Key, shape: DrawnShape) -> None:
        if key not in self.seen:
            self.seen.add(key)
            self.shapes.append(shape)


def _place(point: Point) -> tuple[int, int]:
    return _APART.steps(point[0]), _APART.steps(point[1])


def _chain_key(segments: Iterable[Segment]) -> Key:
    """What makes two chains the same line on the board, wherever they start and whichever way they run."""
    chain = tuple(segments)
    whole = Contour(chain).circle() if distance(chain[0].start, chain[-1].end) <= TOLERANCES.same_point else None
    if whole is not None:
        return "circle", _place(whole[0]), _APART.steps(whole[1])
    keys = []
    for segment in chain:
        start, end = _place(segment.start), _place(segment.end)
        keys.append((min(start, end), max(start, end), _place(segment.point_at(0.5))))
    return "chain", *sorted(keys)
