"""Parts as they are drawn by hand: the outline of a part with handles, each of which changes one parameter.

Which point of a part moves with which parameter is found by trying: the item is built again with the parameter a little
larger, and the point that moves most is where its handle is. So every design, also one of the user's own, has handles
without a word about them. mm, in the part's frame.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from cutjob.designs.design import Design
from cutjob.designs.evaluate import evaluate
from cutjob.designs.parameter import Parameter, Value
from cutjob.errors import CutjobError
from cutjob.files.fields import KeyPath
from cutjob.geometry.segment import Line, Point
from cutjob.job.job import Job
from cutjob.job.model import Make
from cutjob.output.picture.svg_shapes import Sheet, coordinate, printable
from cutjob.parts.part import Build, Item, ShapedPart, kind_of_part
from cutjob.resolved import built_for
from cutjob.stages import Stop, go_on
from cutjob.units import RULE, format_length

_STEP = 1.0  # mm by which a length is changed to see what moves
_LEAST_MOVE = 0.2  # of a parameter's change: a point that moves less is no handle for it
_MOST_PARTS = 4  # kinds of part of one item that are drawn by hand
_LETTERS = 36.0  # heights of a letter along the drawing


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

    With `upright` the curve goes up: `along` is a share of the height, `up` of the half width. The other half is its
    mirror image.
    """

    path: KeyPath
    name: str
    pins: tuple[Point, ...]
    half: float
    height: float
    upright: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class HandDrawing:
    """A part's picture; a place x, y of the part is at `left` + x, `bottom` - y of `width` by `height`, mm."""

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


def hand_drawings(
    make: Make, item: Item, design: Design, *, path: KeyPath, job: Job, handles: bool = True, stop: Stop | None = None
) -> tuple[HandDrawing, ...]:
    """Return the drawings of the parts of one item: the first of each kind of shaped part.

    `path` is the item's place in the job file. Without `handles` only the pins of curves are given, which is quicker.
    Raises StoppedError between two parameters once `stop` says so.
    """
    values = _values(make, design, job)
    firsts: dict[str, ShapedPart] = {}
    for part in item.build.shaped:
        firsts.setdefault(kind_of_part(part.name), part)
    parts = list(firsts.values())[:_MOST_PARTS]
    found = dict(_handles(make, design, values, path=path, job=job, stop=stop)) if handles else {}
    drawings = []
    for number, part in enumerate(parts):
        own = tuple(handle for name, handle in found.values() if name == part.name)
        pins = tuple(_pins(design, values, part, path=path)) if number == 0 else ()
        drawings.append(_drawn(item, part, own, pins))
    return tuple(drawings)


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
) -> Iterator[tuple[str, tuple[str, Handle]]]:
    """For each parameter that moves a point: its name, and the part with the handle there."""
    unit = job.file.units
    firsts: dict[str, ShapedPart] = {}
    for part in built(make, job).build.shaped:
        firsts.setdefault(kind_of_part(part.name), part)
    parts = list(firsts.values())[:_MOST_PARTS]
    for parameter in design.parameters:
        go_on(stop)
        value = values.get(parameter.name)
        if parameter.kind not in ("length", "number") or not isinstance(value, (int, float)):
            continue
        size = _STEP if parameter.kind == "length" else 0.01
        moved = _tried(make, parameter, float(value), size, job) or _tried(make, parameter, float(value), -size, job)
        if moved is None:
            continue
        build, by = moved
        best: tuple[float, ShapedPart, int] | None = None
        for part in parts:
            for place, (at, to) in enumerate(_points(part, _of_name(build, part.name))):
                # Of points that move alike the one farthest right and up is taken.
                far = math.dist(at, to) + 1e-6 * (at[0] + 0.7 * at[1])
                if best is None or far > best[0]:
                    best = far, part, place
        if best is None:
            continue
        _, part, place = best
        at, to = _points(part, _of_name(build, part.name))[place]
        far, way = math.dist(at, to), (to[0] - at[0], to[1] - at[1])
        if far < _LEAST_MOVE * (abs(by) if parameter.kind == "length" else 1.0):
            continue
        half = _tried(make, parameter, float(value), by / 2, job)
        again = [] if half is None else _points(part, _of_name(half[0], part.name))
        if (
            len(again) <= place
            or math.dist(at, again[place][1]) > 0.55 * far
            or math.dist(again[place][1], to) > 0.55 * far
        ):
            continue  # it jumps from step to step: nothing to drag
        name = part.name
        sign = 1.0 if by > 0 else -1.0
        yield (
            parameter.name,
            (
                name,
                Handle(
                    path=(*path, "with", parameter.name),
                    name=parameter.name,
                    at=at,
                    way=(sign * way[0] / far, sign * way[1] / far),
                    per=abs(by) / far,
                    value=float(value),
                    step=RULE[unit] if parameter.kind == "length" else 0.01,
                    typed=format_length(float(value), unit=unit) if parameter.kind == "length" else f"{value:g}",
                ),
            ),
        )


def _tried(make: Make, parameter: Parameter, value: float, by: float, job: Job) -> tuple[Build, float] | None:
    """The item with a parameter changed a little; None where that can't be built."""
    raw = f"{value + by} mm" if parameter.kind == "length" else value + by
    try:
        return built(make.model_copy(update={"changes": {**make.changes, parameter.name: raw}}), job).build, by
    except CutjobError:
        return None


def built(make: Make, job: Job) -> Item:
    """Return the item of a line of the order in a job. Raises InputError with what is wrong with it."""
    return evaluate(make, unit=job.file.units, location=None, key_locations={}, **built_for(job))


def _of_name(build: Build, name: str) -> ShapedPart | None:
    return next((part for part in build.shaped if part.name == name), None)


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
    (x0, y0, x1, y1), (u0, v0, u1, v1) = part.region.bounds, other.region.bounds
    middle, level = (x0 + x1) / 2, (y0 + y1) / 2
    found += [((x1, level), (u1, level)), ((middle, y1), (middle, v1))]
    found += [((x0, level), (u0, level)), ((middle, y0), (middle, v0))]
    return found


def _pins(design: Design, values: Mapping[str, Value], part: ShapedPart, *, path: KeyPath) -> Iterator[PinHandles]:
    """The edges of a part that follow pins: shares of its half length, and of its height or, upright, of its width."""
    x0, y0, x1, y1 = part.region.bounds
    for parameter in design.parameters:
        value = values.get(parameter.name)
        if parameter.kind != "pins" or not isinstance(value, tuple):
            continue
        height = values.get("tallest", y1 - y0)
        assert isinstance(height, (int, float))
        yield PinHandles(
            path=(*path, "with", parameter.name),
            name=parameter.name,
            pins=tuple(pin for pin in value if isinstance(pin, tuple) and len(pin) == 2),  # type: ignore[misc]
            half=(x1 - x0) / 2,
            height=float(height),
            upright=parameter.name not in ("bottom", "top"),
        )


def _drawn(item: Item, part: ShapedPart, handles: tuple[Handle, ...], pins: tuple[PinHandles, ...]) -> HandDrawing:
    x0, y0, x1, y1 = part.region.bounds
    if pins and not pins[0].upright:
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
