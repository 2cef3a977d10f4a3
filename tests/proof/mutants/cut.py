"""One motion as the oracle cuts with it, and what several sweep at a depth. mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from tests.proof.mutants.machine_run import Point3, Step
from tests.proof.mutants.wood import CHORD


@dataclass(frozen=True)
class Cut:
    """One motion that cuts: a step with the radius of its cutter."""

    step: Step
    radius: float

    @property
    def key(self) -> tuple[float, ...]:
        """What makes it the same cut: its place, not its feed."""
        step = self.step
        return tuple(round(one, 6) for one in (*step.start, *step.end, *(step.arc or ()), self.radius))

    @property
    def low(self) -> float:
        """Its lowest height."""
        return min(self.step.start[2], self.step.end[2])

    def ends(self) -> tuple[Point3, Point3]:
        """Both ends."""
        return self.step.start, self.step.end

    def turn(self) -> tuple[float, float, float] | None:
        """The centre and the angle of an arc."""
        return self.step.arc

    def line_below(self, depth: float) -> shapely.LineString | shapely.Point | None:
        """The piece of its path that lies at `depth` or lower, in chords."""
        step = self.step
        first, last = 0.0, 1.0
        z0, z1 = step.start[2], step.end[2]
        if min(z0, z1) > -depth:
            return None
        if z0 > -depth:
            first = (z0 + depth) / (z0 - z1)
        elif z1 > -depth:
            last = (z0 + depth) / (z0 - z1)
        points = [self._at(first + (last - first) * share) for share in self._shares()]
        if max(math.dist(points[0], point) for point in points) < 1e-9:
            return shapely.Point(points[0])
        return shapely.LineString(points)

    def _shares(self) -> np.ndarray:
        if self.step.arc is None:
            return np.array([0.0, 1.0])
        cx, cy, angle = self.step.arc
        radius = math.dist(self.step.start[:2], (cx, cy))
        chord = 2 * math.acos(max(0.0, 1 - CHORD / max(radius, CHORD)))
        return np.linspace(0.0, 1.0, max(2, math.ceil(abs(angle) / chord) + 1))

    def _at(self, share: float) -> tuple[float, float]:
        (x0, y0, _), (x1, y1, _) = self.step.start, self.step.end
        if self.step.arc is None:
            return x0 + (x1 - x0) * share, y0 + (y1 - y0) * share
        cx, cy, angle = self.step.arc
        turned = math.atan2(y0 - cy, x0 - cx) + angle * share
        radius = math.dist((x0, y0), (cx, cy))
        return cx + radius * math.cos(turned), cy + radius * math.sin(turned)

    @cached_property
    def box(self) -> tuple[float, float, float, float]:
        """What it sweeps, at most."""
        (x0, y0, _), (x1, y1, _) = self.step.start, self.step.end
        by = self.radius
        if self.step.arc is not None:
            cx, cy, _ = self.step.arc
            reach = math.dist((x0, y0), (cx, cy)) + by
            far = math.dist((x0, y0), (x1, y1)) + 2 * abs(self.step.arc[2]) * (reach - by)
            far = min(far, 2 * reach) + by
            return (
                max(cx - reach, x0 - far),
                max(cy - reach, y0 - far),
                min(cx + reach, x0 + far),
                min(cy + reach, y0 + far),
            )
        return min(x0, x1) - by, min(y0, y1) - by, max(x0, x1) + by, max(y0, y1) + by


def swept(cuts: Sequence[Cut], depth: float) -> BaseGeometry:
    """What cuts sweep at a depth."""
    shapes = []
    for cut in cuts:
        line = cut.line_below(depth)
        if line is not None:
            shapes.append(shapely.buffer(line, cut.radius, quad_segs=40))
    return shapely.union_all(shapes) if shapes else shapely.Polygon()
