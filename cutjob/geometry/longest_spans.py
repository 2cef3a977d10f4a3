"""Divides a curve, given by points and tangents, into the fewest spans that one biarc each stays near to. mm.

A span from a sample to a later one is accepted where its biarc (see `biarc`) is within the limit of the samples, and
the chords between the samples are within a little more of the biarc. Compiled, as a rough curve needs this for some
hundred spans. Only +, -, x, / and roots are used, so that every processor divides a curve in the same way.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from cutjob.compiled import compiled, compiled_inside, whole
from cutjob.geometry.biarc import STRAIGHT

Floats = NDArray[np.float64]

_BACK = 8  # points on each arc measured against the samples' chords: a power of two, as angles are halved
_HALVINGS = 3
_FIRST = whole(0)
# The chords themselves deviate from the curve by a share of the deviation.
_CHORDS_OFF = 1.08


@compiled(nogil=True)
def longest_spans(points: Floats, directions: Floats, limit: float, most: int) -> NDArray[np.int64]:
    """Return the samples at which spans end, each the furthest that one biarc reaches within `limit`.

    `points` and `directions` (unit tangents) have a row for each sample. A span of two neighbours without a biarc is
    given as minus its end. The result is empty where more than `most` spans would be needed.
    """
    last = points.shape[0] - 1
    ends = np.empty(last, np.int64)
    here, length, count = _FIRST, last, 0
    while here < last:
        if count == most:
            return ends[:0]
        there = _longest(points, directions, here, min(last, here + length), limit)
        ends[count] = there
        count += 1
        there = abs(there)
        here, length = there, there - here
    return ends[:count]


@compiled_inside(nogil=True)
def _longest(points: Floats, directions: Floats, here: int, guess: int, limit: float) -> int:
    """Return the furthest sample that one biarc from `here` reaches: doubled steps ahead, then halved ones back."""
    last = points.shape[0] - 1
    low, high = here, guess
    if _is_near(points, directions, here, guess, limit):
        low, high, step = guess, last + 1, max(1, guess - here)
        while low < last:
            ahead = min(last, low + step)
            if not _is_near(points, directions, here, ahead, limit):
                high = ahead
                break
            low, step = ahead, 2 * step
        if low == last:
            return low
    while high - low > 1:
        middle = (low + high) // 2
        if _is_near(points, directions, here, middle, limit):
            low = middle
        else:
            high = middle
    return low if low > here else -(here + 1)


@compiled_inside(nogil=True)
def _is_near(points: Floats, directions: Floats, here: int, there: int, limit: float) -> bool:
    """Whether one biarc from a sample to a later one and the samples between are within `limit` of each other."""
    x0, y0, x1, y1 = points[here, 0], points[here, 1], points[there, 0], points[there, 1]
    ux, uy, wx, wy = directions[here, 0], directions[here, 1], directions[there, 0], directions[there, 1]
    vx, vy = x1 - x0, y1 - y0
    square = vx * vx + vy * vy
    lead, tail = vx * ux + vy * uy, vx * wx + vy * wy
    if square == 0 or lead <= 0 or tail <= 0:
        return False
    middle = lead + tail
    reach = square / (middle + math.sqrt(middle * middle + 2 * max(0.0, 1 - (ux * wx + uy * wy)) * square))
    jx, jy = (x0 + x1 + reach * (ux - wx)) / 2, (y0 + y1 + reach * (uy - wy)) / 2
    if (jx - x0) ** 2 + (jy - y0) ** 2 <= STRAIGHT**2 or (jx - x1) ** 2 + (jy - y1) ** 2 <= STRAIGHT**2:
        return False
    first, second = _arc(x0, y0, ux, uy, jx, jy), _arc(x1, y1, -wx, -wy, jx, jy)
    for i in range(here + 1, there):
        if min(_off(first, points[i, 0], points[i, 1]), _off(second, points[i, 0], points[i, 1])) > limit * limit:
            return False
    far = (limit * _CHORDS_OFF) ** 2
    return _arc_near(points, here, there, first, far) and _arc_near(points, here, there, second, far)


_Arc = tuple[float, float, float, float, float, float, float]  # ends, centre, radius: 0 for a line


@compiled_inside(nogil=True)
def _arc(x0: float, y0: float, ux: float, uy: float, x1: float, y1: float) -> _Arc:
    """The arc that leaves the first point along u and reaches the second; callers ensure that it is
    under half a turn.
    """
    ax, ay = x1 - x0, y1 - y0
    across = ux * ay - uy * ax
    if abs(across) <= 4 * STRAIGHT:
        return x0, y0, x1, y1, 0.0, 0.0, 0.0
    radius = (ax * ax + ay * ay) / (2 * across)
    return x0, y0, x1, y1, x0 - uy * radius, y0 + ux * radius, radius


@compiled_inside(nogil=True)
def _off(arc: _Arc, x: float, y: float) -> float:
    """The square of the distance of a point from an arc or a line."""
    x0, y0, x1, y1, cx, cy, radius = arc
    if radius == 0:
        return _off_chord(x, y, x0, y0, x1, y1)
    px, py = x - cx, y - cy
    turn = 1.0 if radius > 0 else -1.0
    if ((x0 - cx) * py - (y0 - cy) * px) * turn >= 0 and (px * (y1 - cy) - py * (x1 - cx)) * turn >= 0:
        beside = math.sqrt(px * px + py * py) - abs(radius)
        return beside * beside
    return min((x - x0) ** 2 + (y - y0) ** 2, (x - x1) ** 2 + (y - y1) ** 2)


@compiled_inside(nogil=True)
def _off_chord(x: float, y: float, x0: float, y0: float, x1: float, y1: float) -> float:
    ax, ay = x1 - x0, y1 - y0
    square = ax * ax + ay * ay
    share = 0.0 if square == 0 else min(1.0, max(0.0, ((x - x0) * ax + (y - y0) * ay) / square))
    return (x - x0 - share * ax) ** 2 + (y - y0 - share * ay) ** 2


@compiled_inside(nogil=True)
def _chord_near(points: Floats, here: int, there: int, first: int, x: float, y: float, far: float) -> int:
    """Return a chord between two samples within the square root of `far` of a point, sought from `first` on, or -1.

    Points come in the order of the chords, so that the previous chord is usually the right one.
    """
    for step in range(there - here):
        i = first + step
        if i >= there:
            i -= there - here
        if _off_chord(x, y, points[i, 0], points[i, 1], points[i + 1, 0], points[i + 1, 1]) <= far:
            return i
    return -1


@compiled_inside(nogil=True)
def _arc_near(points: Floats, here: int, there: int, arc: _Arc, far: float) -> bool:
    """Whether points spread over an arc or a line, with its second end, are near the chords."""
    x0, y0, x1, y1, cx, cy, radius = arc
    ax, ay, chord = x0 - cx, y0 - cy, math.sqrt((x1 - x0) ** 2 + (y1 - y0) ** 2)
    sin = min(1.0, chord / (2 * radius)) if radius != 0 else 0.0  # of half the angle
    cos = math.sqrt(1 - sin * sin)
    for _ in range(_HALVINGS - 1):
        half = math.sqrt((1 + cos) / 2)
        sin, cos = sin / (2 * half), half
    at = here
    for i in range(1, _BACK + 1):
        if radius == 0:
            x, y = x0 + (x1 - x0) * i / _BACK, y0 + (y1 - y0) * i / _BACK
        else:
            ax, ay = ax * cos - ay * sin, ax * sin + ay * cos
            x, y = cx + ax, cy + ay
        at = _chord_near(points, here, there, at, x, y, far)
        if at < 0:
            return False
    return True
