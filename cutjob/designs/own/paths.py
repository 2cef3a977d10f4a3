"""Turns the steps of a path into lines and arcs: batten curves are fitted, corners rounded, halves mirrored. mm.

A rounded corner is an arc between two stretches of a path that meets both without a kink.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from cutjob.designs.own.model import At, MirrorLine, Step
from cutjob.designs.own.quantity import FormulaError
from cutjob.designs.own.scope import Scope
from cutjob.errors import CutjobError
from cutjob.files.fields import KeyPath
from cutjob.geometry.batten import natural_spline
from cutjob.geometry.crossing import share_at
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.tolerances import TOLERANCES

_MOST_TRIED = 40  # pieces of each stretch next to the corner that the arc may end on
_NEAR = 1e-6  # mm, and radians between two directions that count as one


def rounded_corner(
    before: Sequence[Segment], after: Sequence[Segment], radius: float
) -> tuple[list[Segment], Segment | None, list[Segment]]:
    """Return both stretches shortened, and the arc between them; None where they already meet smoothly.

    `before` ends where `after` starts. The arc's centre is one radius from both, on the side to which the path turns.
    Raises FormulaError where they are too short for it.
    """
    (ux, uy), (vx, vy) = before[-1].direction_at(1.0), after[0].direction_at(0.0)
    cross, along = ux * vy - uy * vx, ux * vx + uy * vy
    if abs(cross) <= _NEAR:
        if along > 0:
            return list(before), None, list(after)
        raise FormulaError("the path turns right back here, so this corner can't be rounded; leave round out")
    left = cross > 0
    tries = sorted(
        ((i, j) for i in range(min(len(before), _MOST_TRIED)) for j in range(min(len(after), _MOST_TRIED))),
        key=lambda pair: (pair[0] + pair[1], pair),
    )
    for i, j in tries:
        one, two = before[len(before) - 1 - i], after[j]
        found = _fillet_arc(one, two, radius, left=left)
        if found is not None:
            arc, first, last = found
            kept = [*before[: len(before) - 1 - i], *([one.part(0.0, first)] if first > 0 else [])]
            rest = [*([two.part(last, 1.0)] if last < 1 else []), *after[j + 1 :]]
            return kept, arc, rest
    raise FormulaError("the lines beside this corner are too short for this radius; take a smaller one")


def _fillet_arc(one: Segment, two: Segment, radius: float, *, left: bool) -> tuple[Arc, float, float] | None:
    corner = one.end
    best: tuple[Arc, float, float] | None = None
    nearest = math.inf
    for centre in _centres(one, two, radius, left=left):
        start, end = _foot(one, centre, radius, left=left), _foot(two, centre, radius, left=left)
        if start is None or end is None:
            continue
        first, last = share_at(one, start, within=_NEAR), share_at(two, end, within=_NEAR)
        if first is None or last is None or distance(start, end) <= _NEAR:
            continue
        if distance(centre, corner) < nearest:
            nearest = distance(centre, corner)
            best = Arc(start, end, centre, not left), first, last
    return best if best is None or abs(best[0].sweep) < math.pi + _NEAR else None


def _centres(one: Segment, two: Segment, radius: float, *, left: bool) -> list[Point]:
    """The points where the two stretches, moved by the radius towards the side of the turn, cross."""
    a, b = _moved(one, radius, left=left), _moved(two, radius, left=left)
    if isinstance(a, Line) and isinstance(b, Line):
        (px, py), (qx, qy) = a.start, b.start
        ux, uy, vx, vy = a.end[0] - px, a.end[1] - py, b.end[0] - qx, b.end[1] - qy
        cross = ux * vy - uy * vx
        if cross == 0:
            return []
        share = ((qx - px) * vy - (qy - py) * vx) / cross
        return [(px + share * ux, py + share * uy)]
    if isinstance(a, Line) and not isinstance(b, Line):
        return _line_circle(a, *b)
    if isinstance(b, Line) and not isinstance(a, Line):
        return _line_circle(b, *a)
    assert not isinstance(a, Line)
    assert not isinstance(b, Line)
    (c0, r0), (c1, r1) = a, b
    apart = distance(c0, c1)
    if apart == 0 or apart > r0 + r1 or apart < abs(r0 - r1):
        return []
    along = (apart * apart + r0 * r0 - r1 * r1) / (2 * apart)
    half = math.sqrt(max(0.0, r0 * r0 - along * along))
    ux, uy = (c1[0] - c0[0]) / apart, (c1[1] - c0[1]) / apart
    x, y = c0[0] + along * ux, c0[1] + along * uy
    return [(x - half * uy, y + half * ux), (x + half * uy, y - half * ux)]


def _moved(segment: Segment, radius: float, *, left: bool) -> Line | tuple[Point, float]:
    side = 1.0 if left else -1.0
    if isinstance(segment, Line):
        dx, dy = segment.direction_at(0.0)
        x, y = -dy * radius * side, dx * radius * side
        return Line((segment.start[0] + x, segment.start[1] + y), (segment.end[0] + x, segment.end[1] + y))
    inwards = segment.clockwise != left
    return segment.centre, abs(segment.radius + (-radius if inwards else radius))


def _line_circle(line: Line, centre: Point, radius: float) -> list[Point]:
    dx, dy = line.direction_at(0.0)
    px, py = centre[0] - line.start[0], centre[1] - line.start[1]
    along, off = px * dx + py * dy, px * dy - py * dx
    if abs(off) > radius:
        return []
    half = math.sqrt(radius * radius - off * off)
    return [(line.start[0] + at * dx, line.start[1] + at * dy) for at in (along - half, along + half)]


def _foot(segment: Segment, centre: Point, radius: float, *, left: bool) -> Point | None:
    """The segment's point nearest to the centre, where the centre is one radius away on the right side."""
    side = 1.0 if left else -1.0
    if isinstance(segment, Line):
        dx, dy = segment.direction_at(0.0)
        return centre[0] + dy * radius * side, centre[1] - dx * radius * side
    (cx, cy), apart = segment.centre, distance(segment.centre, centre)
    if apart <= _NEAR:
        return None
    reach = segment.radius / apart
    inwards = segment.clockwise != left
    # A larger radius than that of the arc round it does not fit in the arc.
    if inwards and radius > segment.radius:
        return None
    return cx + (centre[0] - cx) * reach, cy + (centre[1] - cy) * reach


_MOST_PIECES = 5000
_SAME = 1e-4  # mm: points of a path nearer than this are the same point, as lengths are floats
# Steps of the budget. Fitting a curve takes some milliseconds for each pin, and more where it is long or wild.
_COST_OF_A_PIN, _COST_OF_A_SEGMENT = 100, 20


class PathError(FormulaError):
    """A step that can't be drawn, with the key path of the mistake, from the path."""

    def __init__(self, keys: KeyPath, error: FormulaError) -> None:
        """Keep the keys."""
        super().__init__(str(error))
        self.keys, self.cause = keys, error


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """The result of a path: its segments, and whether curves were fitted."""

    segments: tuple[Segment, ...]
    fitted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Mirror:
    upright: bool
    at: float

    def on(self, point: Point) -> bool:
        return abs(point[0 if self.upright else 1] - self.at) <= _SAME

    def point(self, point: Point) -> Point:
        x, y = point
        return (2 * self.at - x, y) if self.upright else (x, 2 * self.at - y)

    def segment(self, segment: Segment) -> Segment:
        """The mirror image in the reverse direction, as the second half of an outline."""
        start, end = self.point(segment.end), self.point(segment.start)
        if isinstance(segment, Line):
            return Line(start, end)
        return Arc(start, end, self.point(segment.centre), segment.clockwise)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Flat:
    """A step with its scope and its key path."""

    keys: KeyPath
    step: Step
    scope: Scope


def draw_path(path: Sequence[Step], scope: Scope, *, mirror: MirrorLine | None = None, closed: bool = True) -> Drawn:
    """Return the path's segments from its first point, closed by a straight line or by its mirror image.

    Raises PathError for the first step that can't be drawn.
    """
    line = _mirror(mirror, scope) if mirror is not None else None
    flats = list(_flat(path, scope))
    first = flats[0]
    if first.step.to is None or first.step.through is not None or first.step.radius is not None:
        raise PathError(first.keys, FormulaError("a path starts at a point; write [x, y] first"))
    start = _at(first, first.step.to, "to")
    stretches, fitted = _stretches(flats, start, line)
    rounds = [(flat.keys, _round(flat)) for flat in flats[1:]]
    end = stretches[-1][-1].end if stretches[-1] else start
    closes = False
    if line is not None:
        for flat, point in ((first, start), (flats[-1], end)):
            if not line.on(point):
                raise PathError(
                    flat.keys, FormulaError("a mirrored path starts and ends on its mirror line; move this point")
                )
    elif closed and distance(start, end) > _SAME:
        stretches.append([Line(end, start)])
        rounds.append((flats[-1].keys, None))
        closes = True
    corners: list[tuple[KeyPath, float | None]] = [(first.keys, _round(first)), *rounds]
    segments = _with_corners(stretches, corners, closed=closed and line is None, closes=closes)
    if line is not None:
        segments = [*segments, *(line.segment(segment) for segment in reversed(segments))]
    return Drawn(segments=tuple(segments), fitted=fitted)


def _flat(path: Sequence[Step], scope: Scope) -> Iterator[_Flat]:
    drawn = 0
    for index, step in enumerate(path):
        inner: list[_Flat] = [_Flat(keys=(index,), step=step, scope=scope)]
        if step.repeat is not None:
            try:
                times = scope.count(step.repeat, most=_MOST_PIECES)
            except FormulaError as error:
                raise PathError((index, "repeat"), error) from None
            inner = []
            for k in range(times):
                scoped = scope.at_repeat(k)
                inner += [_Flat(keys=(index, "steps", j), step=one, scope=scoped) for j, one in enumerate(step.steps)]
                if drawn + len(inner) > _MOST_PIECES:
                    break
        drawn += len(inner)
        if drawn > _MOST_PIECES:
            raise PathError((index,), FormulaError(f"the path has more than {_MOST_PIECES} steps; lower its repeats"))
        yield from inner
    if drawn < 2:
        raise PathError((), FormulaError("the path has fewer than two points; see that its repeats are not 0"))


def _stretches(flats: Sequence[_Flat], start: Point, line: _Mirror | None) -> tuple[list[list[Segment]], bool]:
    here, fitted = start, False
    stretches: list[list[Segment]] = []
    for place, flat in enumerate(flats[1:], start=1):
        step = flat.step
        if step.pins is not None:
            mirrored = line if line is not None and (place == 1 or place == len(flats) - 1) else None
            stretches.append(_strip(flat, here, mirrored, first=place == 1))
            fitted = True
        else:
            assert step.to is not None
            end = _at(flat, step.to, "to")
            if distance(here, end) <= _SAME:
                stretches.append([])
                continue
            stretches.append([_arc(flat, here, end)])
        here = stretches[-1][-1].end
    if not any(stretches):
        raise PathError((), FormulaError("all points of the path are the same; check them"))
    return stretches, fitted


def _at(flat: _Flat, at: At, key: str, *more: str | int) -> Point:
    values: list[float] = []
    for axis, one in enumerate(at):
        try:
            values.append(flat.scope.length(one))
        except FormulaError as error:
            raise PathError((*flat.keys, key, *more, axis), error) from None
    return values[0], values[1]


def _round(flat: _Flat) -> float | None:
    if flat.step.round is None:
        return None
    try:
        radius = flat.scope.length(flat.step.round)
    except FormulaError as error:
        raise PathError((*flat.keys, "round"), error) from None
    if radius < 0:
        raise PathError((*flat.keys, "round"), FormulaError("a radius can't be below 0; write 0 for a sharp corner"))
    return radius if radius > _SAME else None


def _arc(flat: _Flat, start: Point, end: Point) -> Segment:
    step = flat.step
    if step.through is not None:
        return _arc_through(flat, start, _at(flat, step.through, "through"), end)
    if step.radius is None:
        return Line(start, end)
    try:
        radius = flat.scope.positive(step.radius)
    except FormulaError as error:
        raise PathError((*flat.keys, "radius"), error) from None
    half = distance(start, end) / 2
    if radius < half - TOLERANCES.same_point:
        least = f"{half:.3f} mm" if flat.scope.unit == "mm" else f"{half / 25.4:.4f} in"
        raise PathError((*flat.keys, "radius"), FormulaError(f"the arc does not reach its end; give at least {least}"))
    off = math.sqrt(max(0.0, radius * radius - half * half))
    # The centre of a short arc that bends left is left of its chord.
    side = 1.0 if (step.turn == "left") != step.long else -1.0
    ux, uy = (end[0] - start[0]) / (2 * half), (end[1] - start[1]) / (2 * half)
    centre = ((start[0] + end[0]) / 2 - uy * off * side, (start[1] + end[1]) / 2 + ux * off * side)
    return Arc(start, end, centre, step.turn == "right")


def _arc_through(flat: _Flat, a: Point, b: Point, c: Point) -> Segment:
    """The arc through three points: its centre is where the mid-perpendiculars meet."""
    if distance(a, b) <= _SAME or distance(b, c) <= _SAME:
        raise PathError(
            (*flat.keys, "through"), FormulaError("this is an end of the arc; take a point between its ends")
        )
    bx, by, cx, cy = b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]
    cross = 2 * (bx * cy - by * cx)
    if abs(cross) <= 2e-9 * distance(a, c) * max(distance(a, b), distance(b, c)) * 1e3:
        between = bx * cx + by * cy
        if 0 < between < cx * cx + cy * cy:
            return Line(a, c)
        raise PathError(
            (*flat.keys, "through"), FormulaError("it lies in line with the ends, but not between them; move it")
        )
    ux = (cy * (bx * bx + by * by) - by * (cx * cx + cy * cy)) / cross
    uy = (bx * (cx * cx + cy * cy) - cx * (bx * bx + by * by)) / cross
    return Arc(a, c, (a[0] + ux, a[1] + uy), cross < 0)


def _strip(flat: _Flat, here: Point, line: _Mirror | None, *, first: bool) -> list[Segment]:
    """The batten curve from here round the pins; where it crosses the mirror line, it goes on round
    the mirrored pins.
    """
    assert flat.step.pins is not None
    pins = [here, *(_at(flat, pin, "pins", index) for index, pin in enumerate(flat.step.pins))]
    own = (pins[0], pins[-1])
    axis = next((axis for axis in (0, 1) if _runs(pins, axis)), None)
    if axis is None:
        message = "the pins go back and forth; place them in one direction, along x or along y, as for a real strip"
        raise PathError((*flat.keys, "pins"), FormulaError(message))
    _spend(flat, _COST_OF_A_PIN * len(pins))
    if line is not None and line.upright == (axis == 0):
        if first and line.on(pins[0]):
            pins = [*(line.point(pin) for pin in reversed(pins[1:])), *pins]
        elif not first and line.on(pins[-1]):
            pins = [*pins, *(line.point(pin) for pin in reversed(pins[:-1]))]
    turned = [(pin[axis], pin[1 - axis]) for pin in pins]
    if turned[0][0] > turned[-1][0]:
        turned.reverse()
    try:
        strip = natural_spline(turned)
        fitted = strip.segments(own[0][axis], own[1][axis])
    except (ValueError, CutjobError, FloatingPointError, ArithmeticError):
        message = "no strip bends like this; move the pins further apart along it, or nearer to a straight line"
        raise PathError((*flat.keys, "pins"), FormulaError(message)) from None
    _spend(flat, _COST_OF_A_SEGMENT * len(fitted))
    return [_swapped(segment) if axis else segment for segment in fitted]


def _spend(flat: _Flat, steps: int) -> None:
    try:
        flat.scope.budget.spend(steps)
    except FormulaError as error:
        raise PathError((*flat.keys, "pins"), error) from None


def _runs(pins: Sequence[Point], axis: int) -> bool:
    steps = [b[axis] - a[axis] for a, b in itertools.pairwise(pins)]
    across = max(pin[1 - axis] for pin in pins) - min(pin[1 - axis] for pin in pins)
    # No strip can be bent round nearer pins, and their curve would be meaningless.
    least = max(0.01, across / 1000)
    return all(step >= least for step in steps) or all(step <= -least for step in steps)


def _swapped(segment: Segment) -> Segment:
    def swap(point: Point) -> Point:
        return point[1], point[0]

    if isinstance(segment, Line):
        return Line(swap(segment.start), swap(segment.end))
    return Arc(swap(segment.start), swap(segment.end), swap(segment.centre), not segment.clockwise)


def _mirror(mirror: MirrorLine, scope: Scope) -> _Mirror:
    upright = mirror.x is not None
    one = mirror.x if mirror.x is not None else mirror.y
    assert one is not None
    try:
        return _Mirror(upright=upright, at=scope.length(one))
    except FormulaError as error:
        raise PathError(("mirror", "x" if upright else "y"), error) from None


def _with_corners(
    stretches: Sequence[list[Segment]],
    corners: Sequence[tuple[KeyPath, float | None]],
    *,
    closed: bool,
    closes: bool,
) -> list[Segment]:
    """Round the corners: `corners[0]` is at the start, and `corners[i]` at the end of `stretches[i - 1]`."""
    kept: list[list[Segment]] = []
    wanted: list[tuple[KeyPath, float | None]] = []  # radius at the end of each stretch kept
    pending = corners[0]
    for stretch, corner in zip(stretches, corners[1:], strict=True):
        if stretch:
            kept.append(list(stretch))
            wanted.append(corner)
        elif wanted and wanted[-1][1] is None:
            wanted[-1] = corner
        elif corner[1] is not None and not wanted:
            pending = corner
    if closed:
        # The corner at the start has its radius with the first point, or with a last step that returns to it.
        wanted[-1] = pending if closes or wanted[-1][1] is None else wanted[-1]
    arcs: list[Segment | None] = [None] * len(kept)
    for place in range(len(kept) if closed else len(kept) - 1):
        keys, radius = wanted[place]
        after = (place + 1) % len(kept)
        if radius is None:
            continue
        if not kept[place] or not kept[after] or after == place:
            raise PathError(
                (*keys, "round"), FormulaError("there is no line left beside this corner; take smaller radii")
            )
        try:
            kept[place], arcs[place], kept[after] = rounded_corner(kept[place], kept[after], radius)
        except FormulaError as error:
            raise PathError((*keys, "round"), error) from None
    joined: list[Segment] = []
    for stretch, arc in zip(kept, arcs, strict=True):
        joined += [*stretch, *([arc] if arc is not None else [])]
    return joined
