"""Parts as they are drawn by hand: the outline of a part with handles, each of which changes one parameter.

Which point of a part moves with which parameter is found by trying: the item is built again with the parameter a little
larger, and the point that moves most is where its handle is. What moves no point of a drawn part, such as the places of
rods, has its handle on the whole piece. So every design, also one of the user's own, has handles
without a word about them. mm, in the part's frame.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from itertools import product
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from cutjob.designs.design import Design
from cutjob.designs.evaluate import evaluate
from cutjob.designs.parameter import Parameter, Value
from cutjob.errors import CutjobError
from cutjob.files.fields import KeyPath
from cutjob.geometry.segment import Bounds, Line, Point
from cutjob.job.job import Job
from cutjob.job.model import Make
from cutjob.output.picture.finished import Drawing, frame_of, front_box
from cutjob.output.picture.svg_shapes import Sheet, coordinate, printable
from cutjob.parts.part import Build, Item, ShapedPart, kind_of_part
from cutjob.resolved import built_for
from cutjob.stages import Stop, go_on
from cutjob.units import RULE, TAPE, format_length

_SHARE = 0.01  # by which a number is changed to see what moves; a length is by a step of the tape
_LEAST_MOVE = 0.2  # of a parameter's change: a point that moves less is no handle for it
_EVENLY = 0.55  # of a move, at most, that either half of a change may make: else the point jumps
_FELT = 0.8  # of a parameter's change: a point of the whole piece that moves so far follows it
_MOST_PARTS = 4  # kinds of part of one item that are drawn by hand
_LETTERS, _LETTERS_WHOLE = 36.0, 24.0  # heights of a letter along the drawing of a part, and of the whole piece
_EDGES = ("bottom", "top")  # curves along the edges of a part; others go up the whole piece
_WHOLE = ""  # the whole piece, where a handle names its part


@dataclass(frozen=True, slots=True, kw_only=True)
class Handle:
    """A point to drag: a parameter's value is `value` + the way along `way` times `per`; mm, or a share for a number.

    `step` is what the value is rounded to.
    """

    path: KeyPath
    name: str
    at: Point
    way: Point
    per: float
    value: float
    step: float
    typed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PinHandles:
    """The pins of an edge: a pin at share `along` of `half` from the centre x = 0, and at share `up` of `height`.

    With `upright` the curve goes up the whole piece: `along` is a share of the height above `foot`, `up` of the half
    width. The other half is its mirror image.
    """

    path: KeyPath
    name: str
    pins: tuple[Point, ...]
    half: float
    height: float
    upright: bool = False
    foot: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HandDrawing:
    """A part's picture; a place x, y of the part is at `left` + x, `bottom` - y of `width` by `height`, mm.

    Of the `whole` piece only the frame is here: its picture is the item's.
    """

    item: str
    part: str
    svg: str
    left: float
    bottom: float
    width: float
    height: float
    text: float
    handles: tuple[Handle, ...] = ()
    pins: tuple[PinHandles, ...] = ()
    whole: bool = False


def hand_drawings(
    make: Make,
    item: Item,
    design: Design,
    *,
    path: KeyPath,
    job: Job,
    whole: Drawing | None = None,
    handles: bool = True,
    stop: Stop | None = None,
) -> tuple[HandDrawing, ...]:
    """Return the drawings of the parts of one item: the first of each kind of shaped part, and of the `whole` piece
    where it is drawn and its design says how it stands.

    `path` is the item's place in the job file. Without `handles` only the pins of curves are given, which is quicker.
    Raises StoppedError between two parameters once `stop` says so.
    """
    values = _values(make, design, job)
    parts = _first_parts(item.build)
    found = list(_handles(make, design, values, path=path, job=job, stop=stop)) if handles else []
    drawings = []
    for number, part in enumerate(parts):
        own = tuple(handle for name, handle in found if name == part.name)
        pins = tuple(_edge_pins(design, values, part, path=path)) if number == 0 else ()
        drawings.append(_drawn(item, part, own, pins))
    if whole is not None and item.build.stands:
        own = tuple(handle for name, handle in found if name == _WHOLE)
        drawings.append(_whole(item, whole, own, tuple(_length_pins(design, values, item.build, path=path))))
    return tuple(drawings)


def _first_parts(build: Build) -> list[ShapedPart]:
    """The first part of each kind, of those that are drawn."""
    firsts: dict[str, ShapedPart] = {}
    for part in build.shaped:
        firsts.setdefault(kind_of_part(part.name), part)
    return list(firsts.values())[:_MOST_PARTS]


def _values(make: Make, design: Design, job: Job) -> dict[str, Value]:
    """The values of the size and of the job, as far as they can be read."""
    values = design.size_values(make.size, unit=job.file.units) if make.size in design.sizes else {}
    given = [name for name in make.changes if design.parameter(name) is not None]
    for group in design.either:
        if any(name in group for name in given):
            values = {name: value for name, value in values.items() if name not in group}
    for name in given:
        parameter = design.parameter(name)
        assert parameter is not None
        values[name] = parameter.read(make.changes[name], unit=job.file.units)
    return values


def _handles(
    make: Make,
    design: Design,
    values: Mapping[str, Value],
    *,
    path: KeyPath,
    job: Job,
    stop: Stop | None,
) -> Iterator[tuple[str, Handle]]:
    """For each parameter that moves a point of a part, or else of the whole piece: the part's name, and the handle."""
    own, unit = built(make, job).build, job.file.units
    taken: list[Point] = []  # of the whole piece
    for parameter in design.parameters:
        go_on(stop)
        value = values.get(parameter.name)
        if parameter.kind not in ("length", "number") or not isinstance(value, (int, float)):
            continue
        length = parameter.kind == "length"
        tried = cache(partial(_tried, make, parameter, float(value), job=job))
        # Many lengths are rounded: where a small step only makes them jump, a larger one shows how they go.
        steps = (TAPE[unit], 2 * TAPE[unit]) if length else (_SHARE,)
        for points, step in product((_points_of_parts, _points_of_whole), steps):
            found = tried(step)
            moved = None if found is None else _moved(own, found, points, length=length, taken=taken)
            if moved is None:
                continue
            name, at, (x, y), by = moved
            far = math.hypot(x, y)
            taken += [at] if name == _WHOLE else []
            handle = Handle(
                path=(*path, "with", parameter.name),
                name=parameter.name,
                at=at,
                way=(math.copysign(1, by) * x / far, math.copysign(1, by) * y / far),
                per=abs(by) / far,
                value=float(value),
                step=RULE[unit] if length else _SHARE,
                typed=format_length(float(value), unit=unit) if length else f"{value:g}",
            )
            yield name, handle
            break


@dataclass(frozen=True, slots=True)
class _Tried:
    """The item with a parameter changed `by` a little, and by half of that, where this can be built."""

    whole: Build
    half: Build | None
    by: float


def _tried(make: Make, parameter: Parameter, value: float, step: float, *, job: Job) -> _Tried | None:
    """The item with a parameter larger by a step, or else smaller; None where neither can be built."""
    for by in (step, -step):
        whole = _changed(make, parameter, value + by, job)
        if whole is not None:
            return _Tried(whole, _changed(make, parameter, value + by / 2, job), by)
    return None


def _changed(make: Make, parameter: Parameter, value: float, job: Job) -> Build | None:
    raw = f"{value} mm" if parameter.kind == "length" else value
    try:
        return built(make.model_copy(update={"changes": {**make.changes, parameter.name: raw}}), job).build
    except CutjobError:
        return None


def built(make: Make, job: Job) -> Item:
    """Return the item of a line of the order in a job. Raises InputError with what is wrong with it."""
    return evaluate(make, unit=job.file.units, location=None, key_locations={}, **built_for(job))


def _moved(
    own: Build,
    tried: _Tried,
    points: Callable[[Build, Build], list[tuple[str, Point, Point]]],
    *,
    length: bool,
    taken: Sequence[Point],
) -> tuple[str, Point, Point, float] | None:
    """The point that a change moves: its part, its place, how it goes and for what change. None where nothing moves
    far, or evenly.
    """
    there = points(own, tried.whole)
    place = _most_moved(there) if points is _points_of_parts else _first_moved(there, abs(tried.by), taken)
    if place is None or tried.half is None:
        return None
    name, at, to = there[place]
    far, again = math.dist(at, to), points(own, tried.half)
    if far < _LEAST_MOVE * (abs(tried.by) if length else 1.0) or len(again) <= place:
        return None
    halfway = again[place][2]
    if max(math.dist(at, halfway), math.dist(halfway, to)) > _EVENLY * far:
        return None  # it jumps from step to step: nothing to drag
    return name, at, (to[0] - at[0], to[1] - at[1]), tried.by


def _most_moved(points: Sequence[tuple[str, Point, Point]]) -> int | None:
    """The place of the point that moves most; of points that move alike the one farthest right and up."""
    return max(
        range(len(points)),
        key=lambda one: math.dist(*points[one][1:]) + 1e-6 * (points[one][1][0] + 0.7 * points[one][1][1]),
        default=None,
    )


def _first_moved(points: Sequence[tuple[str, Point, Point]], by: float, taken: Sequence[Point]) -> int | None:
    """The place of the first point, in the order of assembly, that moves about as far as a parameter changes, or else
    of the one that moves most: all above it goes along. Each point has one handle, and handles don't cover each other.
    """
    if not points:
        return None
    low, high = min(one[1][1] for one in points), max(one[1][1] for one in points)
    apart = (high - low) / _LETTERS_WHOLE
    free = [one for one in range(len(points)) if all(math.dist(points[one][1], at) >= apart for at in taken)]
    far = [one for one in free if math.dist(*points[one][1:]) >= _FELT * by]
    return far[0] if far else max(free, key=lambda one: math.dist(*points[one][1:]), default=None)


def _points_of_parts(own: Build, other: Build) -> list[tuple[str, Point, Point]]:
    """Points of the drawn parts, by the part's name, each with its place in another build."""
    return [
        (part.name, at, to)
        for part in _first_parts(own)
        for at, to in _points(part, next((one for one in other.shaped if one.name == part.name), None))
    ]


def _points_of_whole(own: Build, other: Build) -> list[tuple[str, Point, Point]]:
    """The middles of the sides of every part of the finished piece, each with its place in another build."""
    if [one.part for one in own.stands] != [one.part for one in other.stands]:
        return []
    return [
        (_WHOLE, at, to)
        for one, moved in zip(own.stands, other.stands, strict=True)
        for at, to in _sides(front_box(one), front_box(moved))
    ]


def _points(part: ShapedPart, other: ShapedPart | None) -> list[tuple[Point, Point]]:
    """Points of a part, each with its place on the other: corners, holes, and the middles of the box's sides."""
    if other is None:
        return []
    found: list[tuple[Point, Point]] = []
    pairs = list(zip(part.region.contours, other.region.contours, strict=False))
    pairs += [
        (one, two)
        for pocket, moved in zip(part.pockets, other.pockets, strict=False)
        for one, two in zip(pocket.region.contours, moved.region.contours, strict=False)
    ]
    for one, two in pairs:
        if len(one.segments) != len(two.segments):
            continue
        # Where two curves meet, a fitted outline may have its joint anywhere: only ends of straight lines are taken.
        last = one.segments[-1]
        for a, b in zip(one.segments, two.segments, strict=True):
            if isinstance(a, Line) or isinstance(last, Line):
                found.append((a.start, b.start))
            last = a
    found += [
        ((hole.at[0] + hole.diameter / 2, hole.at[1]), (moved.at[0] + moved.diameter / 2, moved.at[1]))
        for hole, moved in zip(part.holes, other.holes, strict=False)
    ]
    return [*found, *_sides(part.region.bounds, other.region.bounds)]


def _sides(box: Bounds, moved: Bounds) -> list[tuple[Point, Point]]:
    """The middles of a box's sides, each with its place on a moved one: right, top, left, bottom."""
    (x0, y0, x1, y1), (u0, v0, u1, v1) = box, moved
    middle, level = (x0 + x1) / 2, (y0 + y1) / 2
    return [
        ((x1, level), (u1, level)),
        ((middle, y1), (middle, v1)),
        ((x0, level), (u0, level)),
        ((middle, y0), (middle, v0)),
    ]


def _edge_pins(design: Design, values: Mapping[str, Value], part: ShapedPart, *, path: KeyPath) -> Iterator[PinHandles]:
    """The edges of a part that follow pins: shares of its half length, and of its height."""
    x0, y0, x1, y1 = part.region.bounds
    height = values.get("tallest", y1 - y0)
    assert isinstance(height, (int, float))
    for name, pins in _pins_of(design, values):
        if name in _EDGES:
            yield PinHandles(path=(*path, "with", name), name=name, pins=pins, half=(x1 - x0) / 2, height=float(height))


def _length_pins(design: Design, values: Mapping[str, Value], build: Build, *, path: KeyPath) -> Iterator[PinHandles]:
    """The curve that the lengths of a piece's rods follow, from the lowest rod to the highest: shares of the way up,
    and of half the longest.
    """
    rods = {rod.name for rod in build.rods}
    boxes = [front_box(stand) for stand in build.stands if stand.part in rods]
    lying = [box for box in boxes if box[2] - box[0] > box[3] - box[1]]
    if not lying:
        return
    levels = [(box[1] + box[3]) / 2 for box in lying]
    longest = values.get("longest", max(box[2] - box[0] for box in lying))
    assert isinstance(longest, (int, float))
    for name, pins in _pins_of(design, values):
        if name not in _EDGES and max(levels) > min(levels):
            yield PinHandles(
                path=(*path, "with", name),
                name=name,
                pins=pins,
                half=float(longest) / 2,
                height=max(levels) - min(levels),
                upright=True,
                foot=min(levels),
            )


def _pins_of(design: Design, values: Mapping[str, Value]) -> Iterator[tuple[str, tuple[Point, ...]]]:
    """The names and pins of the curves that are stated, or are of the size."""
    for parameter in design.parameters:
        value = values.get(parameter.name)
        if parameter.kind == "pins" and isinstance(value, tuple):
            yield parameter.name, tuple(pin for pin in value if isinstance(pin, tuple) and len(pin) == 2)  # type: ignore[misc]


def _drawn(item: Item, part: ShapedPart, handles: tuple[Handle, ...], pins: tuple[PinHandles, ...]) -> HandDrawing:
    x0, y0, x1, y1 = part.region.bounds
    if pins:
        y0, y1 = min(0.0, y0), max(pins[0].height, y1)
    text = max(x1 - x0, 2.2 * (y1 - y0)) / _LETTERS
    room = 2.2 * text
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "font-family": "sans-serif", "role": "img"})
    SubElement(root, "title").text = printable(f"{item.name}: {part.name}, to be drawn by hand")
    sheet = Sheet(root=root, left=room - x0, bottom=room + y1, text=text)
    sheet.contours(sheet.group("board"), part.region.contours)
    floors = sheet.group("pocket")
    for pocket in part.pockets:
        sheet.contours(floors, pocket.region.contours)
    holes = sheet.group("bore")
    for hole in part.round_holes:
        sheet.circle(holes, hole.at, hole.diameter / 2)
    width, height = x1 - x0 + 2 * room, y1 - y0 + 2 * room
    root.set("viewBox", f"0 0 {coordinate(width)} {coordinate(height)}")
    return HandDrawing(
        item=item.name,
        part=part.name,
        svg=ElementTree.tostring(root, encoding="unicode"),
        left=sheet.left,
        bottom=sheet.bottom,
        width=width,
        height=height,
        text=text,
        handles=handles,
        pins=pins,
    )


def _whole(item: Item, drawing: Drawing, handles: tuple[Handle, ...], pins: tuple[PinHandles, ...]) -> HandDrawing:
    left, bottom, width, height = frame_of(drawing)
    return HandDrawing(
        item=item.name,
        part=item.name,
        svg="",
        left=left,
        bottom=bottom,
        width=width,
        height=height,
        text=max(width, height) / _LETTERS_WHOLE,
        handles=handles,
        pins=pins,
        whole=True,
    )
