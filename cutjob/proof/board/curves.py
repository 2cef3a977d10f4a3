"""Thousands of lines and arcs as columns of numbers: the proof's own geometry. mm, radians.

The proof judges with exact lines and arcs, not with polygons: distances (`distances`) come from formulas, so the
verdict has no chord error. A full circle is one arc here; a plunge straight down is a line of no length.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from cutjob.geometry.segment import Arc, Segment

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Curves:
    """Columns: ends, heights at the ends, centre, radius, angle at the start and signed sweep (0 for a line)."""

    x0: Floats
    y0: Floats
    z0: Floats
    x1: Floats
    y1: Floats
    z1: Floats
    cx: Floats
    cy: Floats
    r: Floats
    a0: Floats
    sweep: Floats

    def __len__(self) -> int:
        return len(self.x0)

    @property
    def is_arc(self) -> Bools:
        """Which of them are arcs."""
        return np.asarray(self.sweep != 0)

    @property
    def length(self) -> Floats:
        """Length in the plane."""
        return np.where(self.sweep != 0, self.r * np.abs(self.sweep), np.hypot(self.x1 - self.x0, self.y1 - self.y0))

    @property
    def lowest(self) -> Floats:
        """The lower of the heights at the ends of each."""
        return np.minimum(self.z0, self.z1)

    def take(self, index: Ints | Bools | slice) -> Curves:
        """The chosen curves, in the order chosen."""
        return Curves(*(getattr(self, column.name)[index] for column in fields(self)))

    def at(self, share: Floats) -> tuple[Floats, Floats]:
        """The points at `share` (0 start, 1 end) of each."""
        angle = self.a0 + self.sweep * share
        arc = self.sweep != 0
        x = np.where(arc, self.cx + self.r * np.cos(angle), self.x0 + (self.x1 - self.x0) * share)
        y = np.where(arc, self.cy + self.r * np.sin(angle), self.y0 + (self.y1 - self.y0) * share)
        return x, y

    def height(self, share: Floats) -> Floats:
        """The heights at `share`; they change evenly along the path."""
        return self.z0 + (self.z1 - self.z0) * share

    def right(self, share: Floats) -> tuple[Floats, Floats]:
        """Unit normals to the right of travel: away from a part whose contours keep the material on the left."""
        angle, turn = self.a0 + self.sweep * share, np.sign(self.sweep)
        dx, dy = self.x1 - self.x0, self.y1 - self.y0
        length = np.maximum(np.hypot(dx, dy), 1e-300)
        arc = self.sweep != 0
        return np.where(arc, np.cos(angle) * turn, dy / length), np.where(arc, np.sin(angle) * turn, -dx / length)

    def part(self, first: Floats, last: Floats) -> Curves:
        """The piece of each between two shares of its length."""
        x0, y0 = self.at(first)
        x1, y1 = self.at(last)
        # Whole curves keep their written ends, to the last bit.
        x0, y0 = np.where(first == 0, self.x0, x0), np.where(first == 0, self.y0, y0)
        x1, y1 = np.where(last == 1, self.x1, x1), np.where(last == 1, self.y1, y1)
        return Curves(
            x0, y0, self.height(first), x1, y1, self.height(last), self.cx, self.cy, self.r,
            self.a0 + self.sweep * first, self.sweep * (last - first),
        )  # fmt: skip

    def moved(self, matrix: tuple[float, float, float, float], x: float, y: float) -> Curves:
        """Turned by a rotation (a, b, c, d with determinant 1) and shifted; heights stay."""
        a, b, c, d = matrix
        turn = float(np.arctan2(c, a))
        return Curves(
            a * self.x0 + b * self.y0 + x, c * self.x0 + d * self.y0 + y, self.z0,
            a * self.x1 + b * self.y1 + x, c * self.x1 + d * self.y1 + y, self.z1,
            a * self.cx + b * self.cy + x, c * self.cx + d * self.cy + y, self.r, self.a0 + turn, self.sweep,
        )  # fmt: skip

    def boxes(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Smallest upright boxes: least x, least y, greatest x, greatest y."""
        low_x, high_x = np.minimum(self.x0, self.x1), np.maximum(self.x0, self.x1)
        low_y, high_y = np.minimum(self.y0, self.y1), np.maximum(self.y0, self.y1)
        arcs = np.flatnonzero(self.sweep)
        if len(arcs):
            start, sweep = self.a0[arcs], self.sweep[arcs]
            cx, cy, r = self.cx[arcs], self.cy[arcs], self.r[arcs]
            low = np.minimum(start, start + sweep)
            width = np.abs(sweep)
            for quarter, (values, bound, centre, sign) in enumerate(
                ((high_x, np.maximum, cx, 1), (high_y, np.maximum, cy, 1),
                 (low_x, np.minimum, cx, -1), (low_y, np.minimum, cy, -1))
            ):  # fmt: skip
                passes = np.mod(quarter * np.pi / 2 - low, 2 * np.pi) <= width
                values[arcs] = np.where(passes, bound(values[arcs], centre + sign * r), values[arcs])
        return low_x, low_y, high_x, high_y


def join(several: Sequence[Curves]) -> Curves:
    """Return all of them, one after another."""
    if not several:
        return from_segments(())
    return Curves(*(np.concatenate([getattr(one, column.name) for one in several]) for column in fields(Curves)))


def from_columns(start: Floats, end: Floats, centre: Floats, sweep: Floats) -> Curves:
    """Return curves from points (n by 3, or n by 2 for height 0), centres (n by 2, unused for lines) and sweeps.

    An arc whose ends are at slightly different distances from its centre, from a file's rounding, gets the mean radius.
    """
    flat = np.zeros(len(start))
    arc = sweep != 0
    cx, cy = np.where(arc, centre[:, 0], 0.0), np.where(arc, centre[:, 1], 0.0)
    ux, uy, vx, vy = start[:, 0] - cx, start[:, 1] - cy, end[:, 0] - cx, end[:, 1] - cy
    r = np.where(arc, (np.hypot(ux, uy) + np.hypot(vx, vy)) / 2, 0.0)
    a0 = np.where(arc, np.arctan2(uy, ux), 0.0)
    z0, z1 = (start[:, 2], end[:, 2]) if start.shape[1] > 2 else (flat, flat)
    return Curves(start[:, 0], start[:, 1], z0, end[:, 0], end[:, 1], z1, cx, cy, r, a0, sweep)


def from_segments(segments: Iterable[Segment]) -> Curves:
    """Return the segments of contours or chains as curves at height 0."""
    chain = list(segments)
    start = np.array([segment.start for segment in chain], dtype=float).reshape(-1, 2)
    end = np.array([segment.end for segment in chain], dtype=float).reshape(-1, 2)
    centre = np.array(
        [segment.centre if isinstance(segment, Arc) else (0.0, 0.0) for segment in chain], dtype=float
    ).reshape(-1, 2)
    turn = np.array(
        [(-1.0 if segment.clockwise else 1.0) if isinstance(segment, Arc) else 0.0 for segment in chain], dtype=float
    )
    ux, uy = start[:, 0] - centre[:, 0], start[:, 1] - centre[:, 1]
    vx, vy = end[:, 0] - centre[:, 0], end[:, 1] - centre[:, 1]
    angle = np.arctan2(ux * vy - uy * vx, ux * vx + uy * vy)
    sweep = np.where(turn > 0, np.where(angle > 0, angle, angle + 2 * np.pi), angle)
    sweep = np.where(turn < 0, np.where(angle < 0, angle, angle - 2 * np.pi), sweep)
    return from_columns(start, end, centre, np.where(turn == 0, 0.0, sweep))


def circles(x: Floats, y: Floats, radius: Floats) -> Curves:
    """Return full clockwise circles: contours of round holes, with the material on the left."""
    flat = np.zeros(len(x))
    return Curves(x + radius, y, flat, x + radius, y, flat, x, y, radius, flat, np.full(len(x), -2 * np.pi))


def portion_below(curves: Curves, level: float | Floats) -> tuple[Ints, Curves]:
    """Return which curves reach `level` or are below it, and the piece of each that is."""
    limit = np.broadcast_to(np.asarray(level, dtype=float), (len(curves),))
    z0, z1 = curves.z0, curves.z1
    below0, below1 = z0 <= limit, z1 <= limit
    kept = np.flatnonzero(below0 | below1)
    some = curves.take(kept)
    below0, below1, bound = below0[kept], below1[kept], limit[kept]
    rise = some.z1 - some.z0
    crossing = np.where(rise != 0, (bound - some.z0) / np.where(rise != 0, rise, 1.0), 0.0)
    first = np.where(below0, 0.0, np.clip(crossing, 0.0, 1.0))
    last = np.where(below1, 1.0, np.clip(crossing, 0.0, 1.0))
    return kept, some.part(first, last)
