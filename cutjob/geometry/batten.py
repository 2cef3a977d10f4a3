"""The curve of a thin strip bent round pins: a natural cubic spline, as y over x. mm.

A strip of even stiffness with small slopes is a cubic between pins, with no jump of slope or bending, and no bending at
its ends: y'' is linear between pins and 0 at the first and the last. Beyond them the strip is straight.
"""

from __future__ import annotations

import itertools
import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cutjob.geometry.biarc import Floats
from cutjob.geometry.curve_fit import fit_curve
from cutjob.geometry.segment import Point, Segment
from cutjob.remembered import remembered, same
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class Batten:
    """A strip through `pins`; `bending` is y'' at each pin, in 1/mm."""

    pins: tuple[Point, ...]
    bending: tuple[float, ...]

    def y(self, x: float) -> float:
        """Height in mm at `x`."""
        if not self.pins[0][0] <= x <= self.pins[-1][0]:
            end = self.pins[0] if x < self.pins[0][0] else self.pins[-1]
            return end[1] + self.slope(end[0]) * (x - end[0])
        (x0, y0), (x1, y1), m0, m1 = self._between(x)
        h = x1 - x0
        a, b = (x1 - x) / h, (x - x0) / h
        return a * y0 + b * y1 + ((a**3 - a) * m0 + (b**3 - b) * m1) * h * h / 6

    def slope(self, x: float) -> float:
        """Slope dy/dx at `x`."""
        x = min(max(x, self.pins[0][0]), self.pins[-1][0])
        (x0, y0), (x1, y1), m0, m1 = self._between(x)
        h = x1 - x0
        a, b = (x1 - x) / h, (x - x0) / h
        return (y1 - y0) / h + ((3 * b * b - 1) * m1 - (3 * a * a - 1) * m0) * h / 6

    def second_derivative(self, x: float) -> float:
        """Second derivative at `x`, 1/mm; 0 at and beyond the outer pins."""
        if not self.pins[0][0] <= x <= self.pins[-1][0]:
            return 0.0
        (x0, _), (x1, _), m0, m1 = self._between(x)
        return (m0 * (x1 - x) + m1 * (x - x0)) / (x1 - x0)

    def segments(self, first_x: float, last_x: float, *, deviation: float = TOLERANCES.curve) -> tuple[Segment, ...]:
        """Return lines and arcs within `deviation` mm of the strip from `first_x` to `last_x`, leftwards if smaller.

        Raises CurveFitError where the bound can't be met, ValueError for an empty stretch.
        """
        if first_x > last_x:
            return tuple(s.reversed() for s in reversed(self.segments(last_x, first_x, deviation=deviation)))
        return _fitted(same(self), first_x, last_x, deviation)

    def points(self, x: Floats) -> tuple[Floats, Floats]:
        """As `y`, for many places: all x and all y."""
        near = np.clip(x, self.pins[0][0], self.pins[-1][0])
        (x0, y0, m0), (x1, y1, m1) = self._beside(near)
        h = x1 - x0
        a, b = (x1 - near) / h, (near - x0) / h
        beyond = (x - near) * self._slopes(near)
        return x, a * y0 + b * y1 + ((a**3 - a) * m0 + (b**3 - b) * m1) * h * h / 6 + beyond

    def directions(self, x: Floats) -> tuple[Floats, Floats]:
        """The direction at many places, as x and y."""
        return np.ones(len(x)), self._slopes(np.clip(x, self.pins[0][0], self.pins[-1][0]))

    def _slopes(self, x: Floats) -> Floats:
        """As `slope`, for many places between the outer pins."""
        (x0, y0, m0), (x1, y1, m1) = self._beside(x)
        h = x1 - x0
        a, b = (x1 - x) / h, (x - x0) / h
        slopes: Floats = (y1 - y0) / h + ((3 * b * b - 1) * m1 - (3 * a * a - 1) * m0) * h / 6
        return slopes

    def _beside(self, x: Floats) -> tuple[Floats, Floats]:
        """The pins before and after each place: rows of their x, y and bending."""
        rows = np.column_stack([np.array(self.pins), np.array(self.bending)])
        here = np.clip(np.searchsorted(rows[:, 0], x, side="right") - 1, 0, len(rows) - 2)
        return rows[here].T, rows[here + 1].T

    def _between(self, x: float) -> tuple[Point, Point, float, float]:
        here = bisect_right(self.pins, x, key=lambda pin: pin[0]) - 1
        here = min(max(here, 0), len(self.pins) - 2)
        return self.pins[here], self.pins[here + 1], self.bending[here], self.bending[here + 1]


def natural_spline(pins: Sequence[Point]) -> Batten:
    """Return the strip around `pins`, given from left to right in mm.

    Solves h0 m0 + 2 (h0 + h1) m1 + h1 m2 = 6 (s1 - s0) for the bendings m, with h the spacings and s the slopes of the
    chords (the natural cubic spline of any text on numerical analysis). Raises ValueError below two pins, for numbers
    that are not finite, and where x does not increase.
    """
    if len(pins) < 2:
        raise ValueError(f"a batten curve needs at least two pins, got {len(pins)}")
    if not all(math.isfinite(value) for pin in pins for value in pin):
        raise ValueError("the pins of a batten curve must be finite numbers")
    for place, (here, after) in enumerate(itertools.pairwise(pins), start=1):
        if not after[0] > here[0]:
            raise ValueError(
                f"the pins of a batten curve must go from left to right: pin {place + 1} at x = {after[0]:g} mm does "
                f"not come after pin {place} at x = {here[0]:g} mm"
            )
    kept = tuple((float(x), float(y)) for x, y in pins)
    if len(kept) == 2:
        return Batten(kept, (0.0, 0.0))
    x, y = np.array(kept, dtype=np.float64).T
    h = np.diff(x)
    s = np.diff(y) / h
    matrix = np.diag(2 * (h[:-1] + h[1:])) + np.diag(h[1:-1], 1) + np.diag(h[1:-1], -1)
    inner = np.linalg.solve(matrix, 6 * np.diff(s))
    return Batten(kept, (0.0, *(float(m) for m in inner), 0.0))


@remembered(most=1024)
def _fitted(strip: Batten, first_x: float, last_x: float, deviation: float) -> tuple[Segment, ...]:
    return fit_curve(strip.points, strip.directions, first_x, last_x, deviation=deviation, arrays=True)
