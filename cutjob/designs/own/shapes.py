"""Turns shapes of a design file into closed contours, and repeats into the moves of each copy. mm."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from cutjob.counting import counted
from cutjob.designs.own.model import At, Rectangle, RegularPolygon, Repeat, Shape, Slot
from cutjob.designs.own.paths import PathError, draw_path
from cutjob.designs.own.quantity import FormulaError
from cutjob.designs.own.scope import Scope
from cutjob.designs.own.spelling import Formula
from cutjob.files.fields import KeyPath
from cutjob.geometry.contour import Contour, circle, closed, polyline, regular_angles
from cutjob.geometry.segment import Arc, Line, Point, Segment
from cutjob.geometry.transform import Transform

MOST_SIDES = 500
MOST_REPEATS = 500


class ShapeError(FormulaError):
    """A mistake with its key path from the shape's table."""

    def __init__(self, keys: KeyPath, error: FormulaError) -> None:
        """Keep the keys."""
        super().__init__(str(error))
        self.keys, self.cause = keys, error


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """A closed contour, and whether it has fitted curves."""

    contour: Contour
    fitted: bool = False


def asked(scope: Scope, keys: KeyPath, one: Formula, *, any_sign: bool = False) -> float:
    """Return a length in mm, more than 0 unless `any_sign` is allowed. Raises ShapeError."""
    try:
        return scope.length(one) if any_sign else scope.positive(one)
    except FormulaError as error:
        raise ShapeError(keys, error) from None


def point(scope: Scope, keys: KeyPath, at: At | None) -> Point:
    """Return a point in mm; the origin where none is given. Raises ShapeError."""
    if at is None:
        return 0.0, 0.0
    x, y = (asked(scope, (*keys, axis), one, any_sign=True) for axis, one in enumerate(at))
    return x, y


def number(scope: Scope, keys: KeyPath, one: Formula | None, default: float = 0.0) -> float:
    """Return a plain number. Raises ShapeError."""
    try:
        return default if one is None else scope.number(one)
    except FormulaError as error:
        raise ShapeError(keys, error) from None


def outline(shape: Shape, scope: Scope) -> Outline:
    """Return the contour of a shape. Raises ShapeError."""
    if shape.rectangle is not None:
        return Outline(contour=_rectangle(shape.rectangle, scope))
    if shape.circle is not None:
        keys: KeyPath = ("circle", "diameter")
        radius = asked(scope, keys, shape.circle.diameter) / 2
        return Outline(contour=circle(point(scope, ("circle", "at"), shape.circle.at), radius))
    if shape.slot is not None:
        return Outline(contour=_slot(shape.slot, scope))
    if shape.polygon is not None:
        return Outline(contour=_polygon(shape.polygon, scope))
    assert shape.path is not None
    try:
        drawn = draw_path(shape.path, scope, mirror=shape.mirror)
    except PathError as error:
        where = error.keys if error.keys[:1] == ("mirror",) else ("path", *error.keys)
        raise ShapeError(where, error.cause) from None
    try:
        return Outline(contour=closed(drawn.segments), fitted=drawn.fitted)
    except ValueError:
        raise ShapeError(("path",), FormulaError("the path encloses nothing; give it more points")) from None


def line_of(shape: Shape, scope: Scope, *, is_closed: bool) -> tuple[Segment, ...]:
    """Return the segments of a mark: a whole shape, or a path, which may stay open."""
    if shape.path is None or is_closed or shape.mirror is not None:
        return outline(shape, scope).contour.segments
    try:
        return draw_path(shape.path, scope, closed=False).segments
    except PathError as error:
        raise ShapeError(("path", *error.keys), error.cause) from None


def moves(repeat: Repeat | None, scope: Scope) -> Iterator[tuple[Scope, Transform]]:
    """Yield the scope, with its k, and the move for each copy of a shape. Raises ShapeError."""
    if repeat is None:
        yield scope, Transform()
        return
    try:
        times = scope.count(repeat.count, most=MOST_REPEATS)
    except FormulaError as error:
        raise ShapeError(("repeat", "count"), error) from None
    dx, dy = point(scope, ("repeat", "along"), repeat.along)
    cx, cy = point(scope, ("repeat", "about"), repeat.about)
    even = 360.0 / max(times, 1) if repeat.about is not None else 0.0
    step = number(scope, ("repeat", "angle"), repeat.angle, even)
    for k in range(times):
        turn = Transform(degrees=math.fmod(step * k, 360.0))
        x, y = turn.point((cx, cy))
        yield scope.at_repeat(k), Transform(degrees=turn.degrees, x=cx - x + dx * k, y=cy - y + dy * k)


def _rectangle(one: Rectangle, scope: Scope) -> Contour:
    length = asked(scope, ("rectangle", "length"), one.length)
    width = asked(scope, ("rectangle", "width"), one.width)
    x, y = point(scope, ("rectangle", "from"), one.corner)
    if one.at is not None:
        x, y = point(scope, ("rectangle", "at"), one.at)
        x, y = x - length / 2, y - width / 2
    radius = 0.0
    if one.round is not None:
        radius = asked(scope, ("rectangle", "round"), one.round, any_sign=True)
        if not 0 <= radius <= min(length, width) / 2 + 1e-9:
            message = "the radius is more than half of a side, or below 0; take a smaller one"
            raise ShapeError(("rectangle", "round"), FormulaError(message))
        radius = min(radius, length / 2, width / 2)
    corners = [(x, y), (x + length, y), (x + length, y + width), (x, y + width)]
    if radius < 1e-4:
        return polyline(corners)
    right, top, r = x + length, y + width, radius
    return closed(
        [
            Line((x + r, y), (right - r, y)),
            Arc((right - r, y), (right, y + r), (right - r, y + r), False),
            Line((right, y + r), (right, top - r)),
            Arc((right, top - r), (right - r, top), (right - r, top - r), False),
            Line((right - r, top), (x + r, top)),
            Arc((x + r, top), (x, top - r), (x + r, top - r), False),
            Line((x, top - r), (x, y + r)),
            Arc((x, y + r), (x + r, y), (x + r, y + r), False),
        ]
    )


def _slot(one: Slot, scope: Scope) -> Contour:
    length, width = asked(scope, ("slot", "length"), one.length), asked(scope, ("slot", "width"), one.width)
    if length < width - 1e-9:
        raise ShapeError(("slot", "length"), FormulaError("a slot is longer than it is wide; turn it with angle"))
    half, r = (length - width) / 2, width / 2
    x, y = point(scope, ("slot", "at"), one.at)
    move = Transform(x=x, y=y, degrees=number(scope, ("slot", "angle"), one.angle) % 360)
    if half < 1e-6:
        return circle((x, y), r)
    ends: list[Segment] = [
        Line((-half, -r), (half, -r)),
        Arc((half, -r), (half, r), (half, 0.0), False),
        Line((half, r), (-half, r)),
        Arc((-half, r), (-half, -r), (-half, 0.0), False),
    ]
    return move.contour(Contour(tuple(ends)))


def _polygon(one: RegularPolygon, scope: Scope) -> Contour:
    try:
        sides = scope.count(one.sides, most=MOST_SIDES)
        if sides < 3:
            raise FormulaError(f"a polygon can't have {counted(sides, 'side')}; give 3 or more")
    except FormulaError as error:
        raise ShapeError(("polygon", "sides"), error) from None
    if one.across_corners is not None:
        radius = asked(scope, ("polygon", "across_corners"), one.across_corners) / 2
    else:
        assert one.across_flats is not None
        radius = asked(scope, ("polygon", "across_flats"), one.across_flats) / 2 / math.cos(math.pi / sides)
    x, y = point(scope, ("polygon", "at"), one.at)
    turn = math.radians(number(scope, ("polygon", "angle"), one.angle))
    first = -math.pi / 2 + math.pi / sides + turn
    corners = [(x + radius * math.cos(a), y + radius * math.sin(a)) for a in regular_angles(sides, first)]
    try:
        return polyline(corners)
    except ValueError:
        raise ShapeError(("polygon",), FormulaError("it is too small to be cut; make it larger")) from None
