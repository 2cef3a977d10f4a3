"""Where an arc written with I and J, or with R, has its centre and how far it turns: NISTIR 6556, section 3.5.3."""

from __future__ import annotations

import math
from typing import TypeAlias

Point: TypeAlias = tuple[float, float]
_FULL = 2 * math.pi
_SLACK = 1e-6  # degrees; arithmetic


# Section 3.5.3.1: fit are arcs in R form of up to 165 degrees, and those from 195 to 345.
_FIT = ((0.0, 165.0), (195.0, 345.0))


class ArcError(ValueError):
    """An arc that breaks a rule of the standard."""


def arc_by_centre(start: Point, end: Point, centre: Point, *, clockwise: bool, radii_may_differ: float) -> float:
    """Return the signed sweep in radians; equal ends make a full turn. Raises ArcError for radii too far apart (mm)."""
    ux, uy, vx, vy = start[0] - centre[0], start[1] - centre[1], end[0] - centre[0], end[1] - centre[1]
    at_start, at_end = math.hypot(ux, uy), math.hypot(vx, vy)
    if abs(at_start - at_end) > radii_may_differ:
        raise ArcError(
            f"the arc's radii are {at_start:.5f} mm at its start and {at_end:.5f} mm at its end; "
            f"they may differ by {radii_may_differ:.5f} mm"
        )
    if at_start == 0:
        raise ArcError("the arc's radius is zero")
    if start == end:
        return -_FULL if clockwise else _FULL
    angle = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
    if clockwise:
        return angle if angle < 0 else angle - _FULL
    return angle if angle > 0 else angle + _FULL


def is_uncertain(sweep: float) -> bool:
    """Whether an arc in R form of this sweep (radians) has its centre moved far off by a rounding of its numbers."""
    turned = math.degrees(abs(sweep))
    return not any(least - _SLACK <= turned <= most + _SLACK for least, most in _FIT)


def arc_by_radius(start: Point, end: Point, radius: float, *, clockwise: bool) -> tuple[Point, float]:
    """Return the centre and the signed sweep; a negative radius asks for more than half a turn. Raises ArcError."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(dx, dy)
    if chord == 0:
        raise ArcError("an arc in R form can't end where it starts")
    if radius == 0:
        raise ArcError("the arc's radius is zero")
    half = chord / 2
    # A half turn whose radius was rounded down may fall short of the chord by the rounding.
    if half > abs(radius) + 0.001:
        raise ArcError(f"radius {abs(radius):.5f} mm doesn't reach over the chord of {chord:.5f} mm")
    half_angle = math.asin(min(1.0, half / abs(radius)))
    sweep = 2 * half_angle if radius > 0 else _FULL - 2 * half_angle
    off = math.sqrt(max(0.0, radius * radius - half * half))
    # The centre lies left of the chord for a counter-clockwise arc below half a turn, and changes sides with each.
    side = 1.0 if (radius > 0) != clockwise else -1.0
    centre = (start[0] + dx / 2 - side * off * dy / chord, start[1] + dy / 2 + side * off * dx / chord)
    return centre, -sweep if clockwise else sweep
