"""Arcs outside the XY plane as short straight lines: NISTIR 6556, section 3.5.3, planes G18 and G19. mm, radians.

Seen from the positive end of the axis across the plane, the first axis leads to the second counter-clockwise: X and Y
in G17, Z and X in G18, Y and Z in G19. The places where the arc is farthest along an axis are ends of lines, so depths
and reach are exact, and everything between is within TOLERANCES.path.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

from cutjob.proof.reading import Place
from cutjob.tolerances import TOLERANCES

MOST_LINES = 20_000  # a larger arc is a slip of the pen
_QUARTER = math.pi / 2


class Plane(NamedTuple):
    """The axes of a plane, by index and letter, and those across it; the letters of the centre's offsets."""

    first: int
    second: int
    across: int
    axes: str
    offsets: str


PLANES = {
    "17": Plane(0, 1, 2, "XY", "IJ"),
    "18": Plane(2, 0, 1, "ZX", "KI"),
    "19": Plane(1, 2, 0, "YZ", "JK"),
}


def lines_of_arc(
    start: Place, end: Place, centre: tuple[float, float], sweep: float, plane: Plane
) -> Iterator[Place] | None:
    """Return the ends of the lines that stand for an arc of signed `sweep` about `centre` in a plane; None for an arc
    far too large.
    """
    u, v = start[plane.first] - centre[0], start[plane.second] - centre[1]
    radius, begin = math.hypot(u, v), math.atan2(v, u)
    step = 2 * math.acos(max(0.0, 1 - TOLERANCES.path / radius)) if radius > TOLERANCES.path else _QUARTER
    if abs(sweep) / step > MOST_LINES:
        return None
    return _places(start, end, centre, (radius, begin, sweep, step), plane)


def _places(
    start: Place, end: Place, centre: tuple[float, float], arc: tuple[float, float, float, float], plane: Plane
) -> Iterator[Place]:
    radius, begin, sweep, step = arc
    for angle in _angles(begin, sweep, step):
        share = (angle - begin) / sweep
        place = [0.0, 0.0, 0.0]
        place[plane.first] = centre[0] + radius * math.cos(angle)
        place[plane.second] = centre[1] + radius * math.sin(angle)
        place[plane.across] = start[plane.across] + share * (end[plane.across] - start[plane.across])
        yield place[0], place[1], place[2]
    yield end


def _angles(begin: float, sweep: float, step: float) -> Iterator[float]:
    """The angles between the arc's ends: every multiple of a quarter turn, and as many between as `step` asks for."""
    way = math.copysign(1.0, sweep)
    quarter = math.floor(begin * way / _QUARTER) + 1
    stops = [begin]
    while (quarter * _QUARTER - begin * way) < abs(sweep):
        stops.append(quarter * _QUARTER * way)
        quarter += 1
    stops.append(begin + sweep)
    last = len(stops) - 2
    for number, (one, other) in enumerate(pairwise(stops)):
        count = max(1, math.ceil(abs(other - one) / step))
        for part in range(1, count):
            yield one + (other - one) * part / count
        if number < last:
            yield other
