"""Arcs to cubic Bezier curves, the only curves a PDF has, within a stated deviation. mm."""

from __future__ import annotations

import math
from typing import TypeAlias

from cutjob.geometry.segment import Arc, Point

# Two control points and the end.
Cubic: TypeAlias = tuple[Point, Point, Point]

_MOST_PIECES = 10_000


def bezier_error(radius: float, angle: float) -> float:
    """Return how far a Bezier curve with handles 4/3 tan(angle/4) leaves a circular arc, mm: at most this.

    2/27 sin^6(a/4) / cos^2(a/4) of the radius (M. Goldapp, *Approximation of circular arcs by cubic polynomials*, 1991:
    the radial error of the curve that touches the arc at its ends and in its middle), `angle` in radians.
    """
    quarter = abs(angle) / 4
    return float(radius * 2 / 27 * math.sin(quarter) ** 6 / math.cos(quarter) ** 2)


def cubics(arc: Arc, *, deviation: float) -> tuple[Cubic, ...]:
    """Return the curves that stand for an arc, none farther from it than `deviation` mm; the ends are the arc's own.

    Raises ValueError where that takes more curves than anyone can want.
    """
    radius, sweep = arc.radius, arc.sweep
    count = max(1, math.ceil(abs(sweep) / (math.pi / 2) - 1e-9))
    while bezier_error(radius, sweep / count) > deviation:
        count += 1
        if count > _MOST_PIECES:
            raise ValueError(f"an arc of radius {radius:g} can't be drawn within {deviation:g} mm")
    handle = 4 / 3 * math.tan(sweep / count / 4)
    curves: list[Cubic] = []
    start = arc.start
    for number in range(1, count + 1):
        end = arc.end if number == count else arc.point_at(number / count)
        a = (start[0] - arc.centre[0], start[1] - arc.centre[1])
        b = (end[0] - arc.centre[0], end[1] - arc.centre[1])
        first = (start[0] - handle * a[1], start[1] + handle * a[0])
        second = (end[0] + handle * b[1], end[1] - handle * b[0])
        curves.append((first, second, end))
        start = end
    return tuple(curves)
