"""Places drawn shapes by any affine map, as blocks, groups and units of a drawing need. Arcs may become ellipses. mm.

`Transform` moves parts without change of size; this is for reading drawings, where scales may differ along x and y. It
also fits lines and arcs to Bezier curves and ellipses within a deviation.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from cutjob.geometry.biarc import Floats
from cutjob.geometry.curve_fit import Curves, fit_curve
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.tolerances import TOLERANCES

# An ellipse whose half axes differ by less than this (mm) is taken as the circle between them, of exact arcs.
_ROUND = 1e-6
_NO_POWER = 1e-13  # a leading coefficient below this, of polynomials scaled to about 1, is rounding
_LONGEST_ARC = 1.75 * math.pi  # radians; beyond it, ends that almost meet make an arc ill-defined, so it is halved


def fit_bezier(control: Sequence[Point], *, deviation: float = TOLERANCES.curve) -> tuple[Segment, ...]:
    """Return lines and arcs within `deviation` mm of the Bezier curve of two to four control points, cusps included.

    Raises CurveFitError where the bound can't be met and ValueError for another number of points.
    """
    if not 2 <= len(control) <= 4:
        raise ValueError(f"a Bezier curve has two to four control points here, got {len(control)}")
    points = [(float(x), float(y)) for x, y in control]
    if _collinear(points):
        return _there_and_back(points)

    slopes = [(b[0] - a[0], b[1] - a[1]) for a, b in itertools.pairwise(points)]
    position, slope = _bezier_curve(points), _bezier_curve(slopes)
    return fit_curve(position, slope, 0.0, 1.0, deviation=deviation, breaks=_standstills(slopes), arrays=True)


def _bezier(points: Sequence[Point], t: float) -> Point:
    x, y = _bezier_curve(points)(np.array([t]))
    return float(x[0]), float(y[0])


def _bezier_curve(points: Sequence[Point]) -> Curves:
    """Return the Bezier curve of two to four points, in the Bernstein basis: exact at its ends."""
    weights: Callable[[Floats, Floats], tuple[Floats, ...]] = {
        2: lambda u, t: (u, t),
        3: lambda u, t: (u * u, 2 * u * t, t * t),
        4: lambda u, t: (u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t),
    }[len(points)]

    def curve(at: Floats) -> tuple[Floats, Floats]:
        x, y = np.zeros(len(at)), np.zeros(len(at))
        for share, point in zip(weights(1 - at, at), points, strict=True):
            x += share * point[0]
            y += share * point[1]
        return x, y

    return curve


def _standstills(slopes: list[Point]) -> list[float]:
    """Return the parameters where the derivative vanishes, or nearly: cusps.

    The square of the derivative's size is a polynomial, whose smallest values are where its own derivative is 0.
    """
    size = max(math.hypot(*slope) for slope in slopes)
    grid = [_power_form([s[axis] / size for s in slopes]) for axis in (0, 1)]
    square = np.polynomial.Polynomial(grid[0]) ** 2 + np.polynomial.Polynomial(grid[1]) ** 2
    roots = square.deriv().trim(_NO_POWER).roots() if square.degree() > 0 else np.array([])
    return [
        float(root.real)
        for root in np.atleast_1d(roots)
        if abs(root.imag) < 1e-6
        and 1e-9 < root.real < 1 - 1e-9
        and math.hypot(*_bezier(slopes, root.real)) < 1e-6 * size
    ]


def _power_form(values: list[float]) -> list[float]:
    """Return the coefficients in powers of t of a Bezier polynomial of degree up to 2, padded to degree 2."""
    if len(values) == 1:
        return [values[0], 0.0, 0.0]
    if len(values) == 2:
        return [values[0], values[1] - values[0], 0.0]
    a, b, c = values
    return [a, 2 * (b - a), a - 2 * b + c]


def _collinear(points: list[Point]) -> bool:
    far = max(points, key=lambda p: distance(points[0], p))
    length = distance(points[0], far)
    if length == 0:
        return True
    ux, uy = (far[0] - points[0][0]) / length, (far[1] - points[0][1]) / length
    return all(abs(ux * (p[1] - points[0][1]) - uy * (p[0] - points[0][0])) <= TOLERANCES.same_point for p in points)


def _there_and_back(points: list[Point]) -> tuple[Segment, ...]:
    """Return the lines of a straight Bezier curve, which may turn back where its derivative vanishes."""
    far = max(points, key=lambda p: distance(points[0], p))
    along = (far[0] - points[0][0], far[1] - points[0][1])
    slopes = [(b[0] - a[0]) * along[0] + (b[1] - a[1]) * along[1] for a, b in itertools.pairwise(points)]
    size = max(abs(slope) for slope in slopes) or 1.0
    power = np.polynomial.Polynomial(_power_form([slope / size for slope in slopes])).trim(_NO_POWER)
    roots = np.atleast_1d(power.roots())
    turns = sorted(float(r.real) for r in roots if abs(r.imag) < 1e-9 and 0 < r.real < 1)
    stops = [points[0], *(_bezier(points, t) for t in turns), points[-1]]
    return tuple(Line(a, b) for a, b in itertools.pairwise(stops) if distance(a, b) > TOLERANCES.same_point)


def fit_ellipse_arc(
    centre: Point,
    major: Point,
    ratio: float,
    start: float,
    end: float,
    *,
    deviation: float = TOLERANCES.curve,
) -> tuple[Segment, ...]:
    """Return lines and arcs within `deviation` mm of the points centre + cos(t) major + sin(t) minor.

    `major` is a half axis; the minor one is to its left, with `ratio` times its length (as in the DXF reference,
    ELLIPSE). `t` runs from `start` to `end`, radians, clockwise where `end` is smaller, at most one turn. A round
    ellipse gives exact arcs. The fit is split at the axes, so bounds are exact and whole quarters are mirror images
    of each other. Raises CurveFitError where the bound can't be met and ValueError for a degenerate ellipse.
    """
    a = math.hypot(*major)
    b = ratio * a
    if not (a > TOLERANCES.same_point and b > TOLERANCES.same_point and math.isfinite(a + b)):
        raise ValueError(f"an ellipse needs two half axes longer than 0, got {a:g} and {b:g} mm")
    turn = end - start
    if not 0 < abs(turn) <= 2 * math.pi * (1 + 1e-9):
        raise ValueError(f"an arc of an ellipse is more than 0 and at most one turn, got {turn:g} radians")
    if turn < 0:
        return tuple(
            s.reversed() for s in reversed(fit_ellipse_arc(centre, major, ratio, end, start, deviation=deviation))
        )
    upright = list(_upright_arc(a, b, start, end, deviation))
    if turn >= 2 * math.pi * (1 - 1e-9):  # the last point is the first, also where the sine is rounded
        upright[-1] = _ended(upright[-1], upright[0].start)
    ux, uy = major[0] / a, major[1] / a

    def placed(point: Point) -> Point:
        return centre[0] + point[0] * ux - point[1] * uy, centre[1] + point[0] * uy + point[1] * ux

    return tuple(_mapped(segment, placed, flipped=False) for segment in upright)


@lru_cache(maxsize=256)  # drawings repeat the same ellipse wherever a block or a group is used
def _upright_arc(a: float, b: float, start: float, end: float, deviation: float) -> tuple[Segment, ...]:
    """Return the fit about the origin with the half axis `a` along x and `b` along y."""

    def position(t: float) -> Point:
        cos, sin = _exact_cos_sin(t)
        return a * cos, b * sin

    def direction(t: float) -> Point:
        cos, sin = _exact_cos_sin(t)
        return -a * sin, b * cos

    if abs(a - b) <= _ROUND:
        count = 1 if end - start <= _LONGEST_ARC else 2
        marks = [start + (end - start) * i / count for i in range(count + 1)]
        return tuple(Arc(position(low), position(high), (0.0, 0.0), False) for low, high in itertools.pairwise(marks))
    quarters = _quarters(start, end)
    whole: tuple[Segment, ...] = ()
    segments: list[Segment] = []
    for low, high in itertools.pairwise(quarters):
        if high - low > math.pi / 2 * (1 - 1e-12):
            whole = whole or fit_curve(position, direction, 0.0, math.pi / 2, deviation=deviation)
            segments.extend(_in_quarter(whole, round(low / (math.pi / 2)) % 4))
        else:
            segments.extend(fit_curve(position, direction, low, high, deviation=deviation))
    return tuple(segments)


def _in_quarter(first: tuple[Segment, ...], quarter: int) -> list[Segment]:
    """Return the fit of the first quarter mirrored into another, counter-clockwise."""
    sx, sy = ((1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0))[quarter]
    flipped = quarter in (1, 3)
    mirrored = [_mapped(s, lambda p: (sx * p[0], sy * p[1]), flipped=flipped) for s in first]
    return [s.reversed() for s in reversed(mirrored)] if flipped else mirrored


def _mapped(segment: Segment, move: Callable[[Point], Point], *, flipped: bool) -> Segment:
    if isinstance(segment, Line):
        return Line(move(segment.start), move(segment.end))
    return Arc(move(segment.start), move(segment.end), move(segment.centre), segment.clockwise != flipped)


def _ended(segment: Segment, end: Point) -> Segment:
    if isinstance(segment, Line):
        return Line(segment.start, end)
    return Arc(segment.start, end, segment.centre, segment.clockwise)


def _quarters(start: float, end: float) -> list[float]:
    quarter = math.pi / 2
    inner = [step * quarter for step in range(math.ceil(start / quarter - 1e-9), math.floor(end / quarter + 1e-9) + 1)]
    return [start, *(t for t in inner if start + 1e-9 < t < end - 1e-9), end]


def _exact_cos_sin(t: float) -> Point:
    """Return cosine and sine, exact at whole quarter turns."""
    quarters = round(t / (math.pi / 2))
    if abs(t - quarters * (math.pi / 2)) < 1e-15 * max(1.0, abs(t)):
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[quarters % 4]
    return math.cos(t), math.sin(t)


# Scales along two axes that differ by less than this share are equal: a nanometre in a metre.
_SIMILAR = 1e-12


@dataclass(frozen=True, slots=True)
class Affine:
    """(x, y) to (a x + c y + e, b x + d y + f), in the order in which SVG writes a matrix."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    def __matmul__(self, inner: Affine) -> Affine:
        """The map that applies `inner` first and then this one."""
        return Affine(
            self.a * inner.a + self.c * inner.b,
            self.b * inner.a + self.d * inner.b,
            self.a * inner.c + self.c * inner.d,
            self.b * inner.c + self.d * inner.d,
            self.a * inner.e + self.c * inner.f + self.e,
            self.b * inner.e + self.d * inner.f + self.f,
        )

    def point(self, point: Point) -> Point:
        """The point moved."""
        return self.a * point[0] + self.c * point[1] + self.e, self.b * point[0] + self.d * point[1] + self.f

    def vector(self, vector: Point) -> Point:
        """The vector turned and scaled, but not shifted."""
        return self.a * vector[0] + self.c * vector[1], self.b * vector[0] + self.d * vector[1]

    def segment(self, segment: Segment, *, deviation: float = TOLERANCES.curve) -> tuple[Segment, ...]:
        """The segment moved: an exact arc where the map keeps circles, else an ellipse fitted within `deviation` mm.

        Raises CurveFitError where the fit can't be met.
        """
        start, end = self.point(segment.start), self.point(segment.end)
        if isinstance(segment, Line):
            return (Line(start, end),)
        radius, first = segment.radius, segment.start_angle
        pieces = ellipse_arc(
            self.point(segment.centre),
            self.vector((radius, 0.0)),
            self.vector((0.0, radius)),
            first,
            first + segment.sweep,
            deviation=deviation,
        )
        return ended(pieces, start, end)


def ellipse_arc(
    centre: Point, u: Point, v: Point, start: float, end: float, *, deviation: float = TOLERANCES.curve
) -> tuple[Segment, ...]:
    """Return lines and arcs within `deviation` mm of the points centre + cos(t) u + sin(t) v, t from `start` to `end`.

    `u` and `v` are conjugate half axes, at any angle to each other; for a circle the arcs are exact. A flat ellipse (an
    arc seen from the edge) gives lines. Raises CurveFitError as `fit_curve` does.
    """
    along, across = math.hypot(*u), math.hypot(*v)
    dot, cross = u[0] * v[0] + u[1] * v[1], u[0] * v[1] - u[1] * v[0]
    if abs(dot) <= _SIMILAR * along * across and abs(along - across) <= _SIMILAR * along:
        phase = 0.0
    else:
        phase = math.atan2(2 * dot, along * along - across * across) / 2
    cos, sin = math.cos(phase), math.sin(phase)
    major = (u[0] * cos + v[0] * sin, u[1] * cos + v[1] * sin)
    minor = math.hypot(v[0] * cos - u[0] * sin, v[1] * cos - u[1] * sin)
    length = math.hypot(*major)
    if minor <= TOLERANCES.same_point:
        return _flat(centre, major, start - phase, end - phase)
    # Where v is right of u the parameter runs clockwise.
    sign = 1.0 if cross > 0 else -1.0
    return fit_ellipse_arc(
        centre, major, minor / length, sign * (start - phase), sign * (end - phase), deviation=deviation
    )


def _flat(centre: Point, major: Point, start: float, end: float) -> tuple[Segment, ...]:
    low, high = min(start, end), max(start, end)
    turns = [step * math.pi for step in range(math.ceil(low / math.pi), math.floor(high / math.pi) + 1)]
    stops = [low, *(t for t in turns if low < t < high), high]
    points = [(centre[0] + math.cos(t) * major[0], centre[1] + math.cos(t) * major[1]) for t in stops]
    lines: list[Segment] = [Line(a, b) for a, b in itertools.pairwise(points) if a != b]
    return tuple(lines if start < end else [line.reversed() for line in reversed(lines)])


def ended(segments: tuple[Segment, ...], start: Point, end: Point) -> tuple[Segment, ...]:
    """Return the chain with its first and last point replaced by others that differ by rounding only."""
    chain = list(segments)
    if chain:
        first = chain[0]
        chain[0] = (
            Line(start, first.end) if isinstance(first, Line) else Arc(start, first.end, first.centre, first.clockwise)
        )
        last = chain[-1]
        chain[-1] = (
            Line(last.start, end) if isinstance(last, Line) else Arc(last.start, end, last.centre, last.clockwise)
        )
    return tuple(chain)
