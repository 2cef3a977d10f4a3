"""Placing drawn shapes by any affine map: what blocks, groups and units of a drawing do. Arcs may become ellipses.

`Transform` moves parts without change of size; this is for reading drawings, where scales may differ along x and y.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from cutjob.geometry.drawn_curves import fit_ellipse_arc
from cutjob.geometry.segment import Arc, Line, Point, Segment
from cutjob.tolerances import TOLERANCES

# Scales along two axes that differ by less than this share are one scale: a metre of it is a nanometre.
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
        """The vector turned and scaled, not shifted."""
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

    `u` and `v` are conjugate half axes, at any angle to each other; where they are those of a circle, arcs are exact. A
    flat ellipse (an arc seen from the edge) gives the lines it runs along. Raises CurveFitError as `fit_curve`.
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
    # Where v lies right of u the parameter runs clockwise.
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
