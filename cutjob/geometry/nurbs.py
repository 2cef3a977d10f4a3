"""B-spline curves, rational ones too, to lines and arcs within a deviation. Clamped at their ends or not. mm."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass

from cutjob.geometry.curve_fit import fit_curve
from cutjob.geometry.segment import Point, Segment
from cutjob.tolerances import TOLERANCES

_Row = tuple[float, float, float]  # x w, y w, w


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
        """Parameters within the curve where it need not be smooth: knots repeated as often as the degree."""
        inner = [t for t in self.knots if self.first < t < self.last]
        return sorted({t for t in inner if inner.count(t) >= self.degree})

    def position(self, t: float) -> Point:
        """The point at parameter `t`."""
        x, y, w = self._de_boor(t)[0]
        return x / w, y / w

    def derivative(self, t: float) -> Point:
        """The derivative at `t`; of a rational curve by the quotient rule."""
        (x, y, w), (dx, dy, dw) = self._de_boor(t)
        return (dx - x / w * dw) / w, (dy - y / w * dw) / w

    def _de_boor(self, t: float) -> tuple[_Row, _Row]:
        """Return the homogeneous point and its derivative (C. de Boor's repeated interpolation)."""
        p, knots = self.degree, self.knots
        span = min(max(bisect_right(knots, t) - 1, p), len(self.control) - 1)
        while knots[span + 1] == knots[span]:  # at the last knot the span before it counts
            span -= 1
        rows = [
            (self.control[i][0] * self.weights[i], self.control[i][1] * self.weights[i], self.weights[i])
            for i in range(span - p, span + 1)
        ]
        slope: _Row = (0.0, 0.0, 0.0)
        for level in range(1, p + 1):
            if level == p:
                width = knots[span + 1] - knots[span]
                a, b = rows[p - 1], rows[p]
                slope = tuple(p * (v - u) / width for u, v in zip(a, b, strict=True))  # type: ignore[assignment]
            for j in range(p, level - 1, -1):
                low, high = knots[span - p + j], knots[span + 1 + j - level]
                share = (t - low) / (high - low)
                a, b = rows[j - 1], rows[j]
                rows[j] = (
                    a[0] + (b[0] - a[0]) * share,
                    a[1] + (b[1] - a[1]) * share,
                    a[2] + (b[2] - a[2]) * share,
                )
        return rows[p], slope


def fit_nurbs(curve: Nurbs, *, deviation: float = TOLERANCES.curve) -> tuple[Segment, ...]:
    """Return lines and arcs within `deviation` mm of the curve. Raises CurveFitError where the bound can't be met."""
    return fit_curve(
        curve.position, curve.derivative, curve.first, curve.last, deviation=deviation, breaks=curve.corners()
    )
