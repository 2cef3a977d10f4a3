"""How much wood a router's cutter takes in one go, for the oracle: the floor under the cutter as heights on a grid. mm.

Only the middle of the cutter's face counts, so that what rough passes leave on walls for a last one is no bite.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Protocol

import numpy as np
import numpy.typing as npt

CELL = 0.6  # mm
_WIDEST = 160.0  # mm of a window looked at
_FACE = 0.8  # of the cutter's radius
Box = tuple[float, float, float, float]


class Bite(Protocol):
    """A motion with its cutter, as the oracle has it."""

    @property
    def radius(self) -> float: ...
    @property
    def box(self) -> Box: ...
    @property
    def low(self) -> float: ...
    def ends(self) -> tuple[tuple[float, float, float], tuple[float, float, float]]: ...
    def turn(self) -> tuple[float, float, float] | None: ...


def too_much(cuts: Sequence[Bite], box: Box, limits: Sequence[float]) -> float:
    """The area in a box over which a cut takes more than 1.3 times its limit (and 0.4 mm more) in one go, mm2."""
    x0, y0, x1, y1 = box
    x1, y1 = min(x1, x0 + _WIDEST), min(y1, y0 + _WIDEST)
    xs, ys = np.arange(x0, x1, CELL), np.arange(y0, y1, CELL)
    floor = np.zeros((len(xs), len(ys)))
    over = np.zeros((len(xs), len(ys)), dtype=bool)
    for cut, limit in zip(cuts, limits, strict=True):
        a, b, c, d = cut.box
        if cut.low >= 0 or a > x1 or c < x0 or b > y1 or d < y0:
            continue
        i, j = np.searchsorted(xs, (a, c)), np.searchsorted(ys, (b, d))
        if i[0] == i[1] or j[0] == j[1]:
            continue
        part = (slice(i[0], i[1]), slice(j[0], j[1]))
        apart, height = _beside(cut, *np.meshgrid(xs[part[0]], ys[part[1]], indexing="ij"))
        here = floor[part]
        hit = apart <= cut.radius
        middle = hit & (apart <= _FACE * cut.radius)
        over[part] |= middle & (here - height > max(1.3 * limit, limit + 0.4))
        floor[part] = np.where(hit, np.minimum(here, height), here)
    return float(over.sum()) * CELL * CELL


def _beside(
    cut: Bite, px: npt.NDArray[np.float64], py: npt.NDArray[np.float64]
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """How far cells lie from a motion's path, and how high the cutter is beside them."""
    (x0, y0, z0), (x1, y1, z1) = cut.ends()
    turn = cut.turn()
    if turn is None:
        dx, dy = x1 - x0, y1 - y0
        square = dx * dx + dy * dy
        if square < 1e-18:
            return np.hypot(px - x0, py - y0), np.full(px.shape, min(z0, z1))
        share = np.clip(((px - x0) * dx + (py - y0) * dy) / square, 0, 1)
        return np.hypot(px - x0 - share * dx, py - y0 - share * dy), z0 + (z1 - z0) * share
    cx, cy, angle = turn
    radius = math.dist((x0, y0), (cx, cy))
    turned = np.mod(np.sign(angle) * (np.arctan2(py - cy, px - cx) - math.atan2(y0 - cy, x0 - cx)), 2 * np.pi)
    on = turned <= abs(angle)
    to_start, to_end = np.hypot(px - x0, py - y0), np.hypot(px - x1, py - y1)
    apart = np.where(on, np.abs(np.hypot(px - cx, py - cy) - radius), np.minimum(to_start, to_end))
    share = np.where(on, turned / abs(angle), np.where(to_start < to_end, 0.0, 1.0))
    return apart, z0 + (z1 - z0) * share
