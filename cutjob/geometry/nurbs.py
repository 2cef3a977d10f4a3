"""Fits lines and arcs to B-spline curves within a deviation; they may be rational, and clamped at their ends or not.
mm.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

import numpy as np

from cutjob.geometry.biarc import Floats
from cutjob.geometry.curve_fit import fit_curve
from cutjob.geometry.segment import Point, Segment
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class Nurbs:
    """A curve of the given degree; every weight is 1 where the curve is not rational."""

    degree: int
    control: tuple[Point, ...]
    knots: tuple[float, ...]
    weights: tuple[float, ...]

    def __post_init__(self) -> None:
        count = len(self.control)
        if not 1 <= self.degree < count:
            raise ValueError(
                f"a spline of degree {self.degree} needs more than {self.degree} control points, has {count}"
            )
        if len(self.knots) != count + self.degree + 1:
            raise ValueError(
                f"a spline with {count} control points of degree {self.degree} has {len(self.knots)} knots"
            )
        if any(b < a for a, b in zip(self.knots, self.knots[1:], strict=False)) or not self.first < self.last:
            raise ValueError("the knots of a spline must not decrease")
        if len(self.weights) != count or not all(w > 0 and math.isfinite(w) for w in self.weights):
            raise ValueError("a spline needs one positive weight per control point")

    @property
    def first(self) -> float:
        """Parameter at which the curve starts."""
        return self.knots[self.degree]

    @property
    def last(self) -> float:
        """Parameter at which it ends."""
        return self.knots[len(self.control)]

    def corners(self) -> list[float]:
        """Parameters inside the curve where it may not be smooth: knots repeated as often as the degree."""
        times = Counter(t for t in self.knots if self.first < t < self.last)
        return sorted(t for t, count in times.items() if count >= self.degree)

    def position(self, t: float) -> Point:
        """The point at parameter `t`."""
        x, y = self.positions(np.array([t]))
        return float(x[0]), float(y[0])

    def derivative(self, t: float) -> Point:
        """The derivative at `t`."""
        x, y = self.derivatives(np.array([t]))
        return float(x[0]), float(y[0])

    def positions(self, at: Floats) -> tuple[Floats, Floats]:
        """The points at many parameters, as their x and their y."""
        (x, y, w), _ = self._de_boor(at)
        return x / w, y / w

    def derivatives(self, at: Floats) -> tuple[Floats, Floats]:
        """The derivatives at many parameters; of a rational curve by the quotient rule."""
        (x, y, w), (dx, dy, dw) = self._de_boor(at)
        return (dx - x / w * dw) / w, (dy - y / w * dw) / w

    def _de_boor(self, at: Floats) -> tuple[Floats, Floats]:
        """Return the homogeneous points and their derivatives, a row for each of x w, y w and w (C. de Boor's repeated
        interpolation).
        """
        p, knots = self.degree, np.array(self.knots)
        weights = np.array(self.weights)
        control = np.column_stack([np.array(self.control) * weights[:, None], weights])
        # Of equal knots the last one begins the span; at the curve's end the last span with a width is taken.
        widest = np.flatnonzero(np.diff(knots[p : len(control) + 1])) + p
        spans = widest[np.maximum(np.searchsorted(knots[widest], at, side="right") - 1, 0)]
        rows = [control[spans - p + j].T for j in range(p + 1)]
        slope = np.zeros((3, len(at)))
        for level in range(1, p + 1):
            if level == p:
                slope = p * (rows[p] - rows[p - 1]) / (knots[spans + 1] - knots[spans])
            for j in range(p, level - 1, -1):
                low, high = knots[spans - p + j], knots[spans + 1 + j - level]
                rows[j] = rows[j - 1] + (rows[j] - rows[j - 1]) * ((at - low) / (high - low))
        return rows[p], slope


def fit_nurbs(curve: Nurbs, *, deviation: float = TOLERANCES.curve) -> tuple[Segment, ...]:
    """Return lines and arcs within `deviation` mm of the curve. Raises CurveFitError where the bound can't be met."""
    return fit_curve(
        curve.positions, curve.derivatives, curve.first, curve.last,
        deviation=deviation, breaks=curve.corners(), arrays=True,
    )  # fmt: skip
