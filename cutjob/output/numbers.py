"""Lengths in mm to the numbers of a file. The only place where anything is rounded.

A file can only name whole *steps* of its last decimal. Steps are integers, so what is compared here is exactly what a
reader of the file will compute with. Texts are plain decimals: no exponent, no `-0`, no trailing zeros.

The centre of an arc is worked out again from the rounded ends, because rounding start, end and centre one by one may
set the two radii apart by 2.83 steps, and a controller stops where they differ by more than the standard allows
(NISTIR 6556, 3.5.3).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TypeAlias

from cutjob.geometry.segment import Arc
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit, format_length

Steps: TypeAlias = tuple[int, int]

# How far around the rounded true centre a better one is looked for, steps: 2.83 steps of mismatch are gone within 2.
_REACH = 2
# The limit itself is left alone: 8.112 - 8.110 is more than 0.002 in floating point.
_BELOW_LIMIT = 0.999


def _check(value: float) -> None:
    if not math.isfinite(value):
        raise ValueError(f"{value} can't be written as a number")


def text_of_steps(steps: int, decimals: int) -> str:
    """Return `steps` units of the last of `decimals` places as a plain decimal, trailing zeros trimmed.

    Exact below 10^14 steps: there the quotient is closer to the decimal than half a step.
    """
    return f"{steps / 10**decimals:.{decimals}f}".rstrip("0").rstrip(".") if decimals else str(steps)


def fixed(value: float, decimals: int) -> str:
    """Return `value` rounded to `decimals` places. Raises ValueError for what is not a finite number."""
    _check(value)
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if decimals else text
    return "0" if text == "-0" else text


@lru_cache(maxsize=256)
def fixed_down(value: float, decimals: int) -> str:
    """Return a positive limit, such as a feed, rounded down to `decimals` places, but never to nothing."""
    _check(value)
    steps = math.floor(value * 10**decimals * (1 + 1e-12))
    if value > 0:
        steps = max(steps, 1)
    return text_of_steps(steps, decimals)


def rounded(value: float, decimals: int) -> float:
    """Return `value` rounded to `decimals` places as a float that is never -0.0. Raises ValueError unless finite."""
    _check(value)
    return round(value, decimals) + 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """The numbers a file can name: its unit, and how many decimals are written.

    `mm_per_unit` is 1, or exactly 25.4. `step` is one unit of the last decimal, in mm. `greatest_radius_difference` is
    how far apart the radii of a written arc may be, in steps (NISTIR 6556, 3.5.3: 0.002 mm or 0.0002 in).
    """

    unit: Unit
    decimals: int
    # Worked out once: every coordinate asks for them.
    mm_per_unit: float = field(init=False)
    step: float = field(init=False)
    greatest_radius_difference: float = field(init=False)
    _per_unit: int = field(init=False, repr=False)

    def __post_init__(self) -> None:
        per_unit, inches = int(10**self.decimals), self.unit == "in"
        limit = TOLERANCES.arc_radii_in if inches else TOLERANCES.arc_radii
        object.__setattr__(self, "mm_per_unit", 25.4 if inches else 1.0)
        object.__setattr__(self, "step", self.mm_per_unit / per_unit)
        object.__setattr__(self, "greatest_radius_difference", limit * per_unit)
        object.__setattr__(self, "_per_unit", per_unit)

    @property
    def arc_deviation(self) -> float:
        """How far a written arc may lie from the true one, mm.

        No further than the chords that would replace it; or, where the decimals are few, than rounding its ends and
        its centre can move it, as long as that leaves the edge within what the proof accepts.
        """
        rounding = self.step / math.sqrt(2)
        return max(rounding + TOLERANCES.chord, min(3 * rounding, 2 * TOLERANCES.curve))

    def steps(self, mm: float) -> int:
        """Return the nearest whole number of steps to a length in mm. Raises ValueError unless finite."""
        _check(mm)
        return round(mm * self._per_unit / self.mm_per_unit)

    def text(self, steps: int) -> str:
        """Return `steps` as the file writes them."""
        return text_of_steps(steps, self.decimals)


def fit_centre(grid: Grid, *, start: Steps, end: Steps, arc: Arc) -> Steps | None:
    """Return I and J, in steps from `start`, for the arc between two rounded ends, or None where no centre will do.

    `arc` is the true arc in mm, in the frame of the written coordinates. The centre is the one near the true centre
    that keeps the radii within the standard's limit, turns as far as the true arc does, and lies closest to it (radius
    difference and deviation added up); none will do when that sum is more than `grid.arc_deviation`.
    """
    if start == end:
        return None  # would be read as a full circle
    base_i = grid.steps(arc.centre[0]) - start[0]
    base_j = grid.steps(arc.centre[1]) - start[1]
    plain = _arc_error(grid, start=start, end=end, centre=(base_i, base_j), arc=arc, enough=TOLERANCES.output)
    if plain is not None and plain <= TOLERANCES.output:
        return base_i, base_j  # with decimals enough the rounded centre is as good as any
    around = range(-_REACH, _REACH + 1)
    best: tuple[float, int, Steps] | None = None
    for i, j in ((base_i + di, base_j + dj) for di in around for dj in around):
        error = _arc_error(grid, start=start, end=end, centre=(i, j), arc=arc)
        if error is None or error > grid.arc_deviation:
            continue
        # Equal errors are told apart by the distance from the true centre, so that the choice never depends on order.
        candidate = (error, abs(i - base_i) + abs(j - base_j), (i, j))
        if best is None or candidate < best:
            best = candidate
    return None if best is None else best[2]


def _arc_error(grid: Grid, *, start: Steps, end: Steps, centre: Steps, arc: Arc, enough: float = 0.0) -> float | None:
    """Radius difference plus greatest distance of the written arc from the true circle, mm; None: not allowed.

    A simpler upper bound is returned where that is no more than `enough`.
    """
    ux, uy = -centre[0], -centre[1]
    vx, vy = end[0] - start[0] - centre[0], end[1] - start[1] - centre[1]
    radius = math.hypot(ux, uy)
    difference = abs(math.hypot(vx, vy) - radius)
    if radius == 0 or difference > grid.greatest_radius_difference * _BELOW_LIMIT:
        return None
    sweep = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
    if arc.clockwise:
        sweep = sweep if sweep < 0 else sweep - 2 * math.pi
    else:
        sweep = sweep if sweep > 0 else sweep + 2 * math.pi
    # Rounding can turn a tiny arc round, which would make it almost a full circle.
    if abs(sweep - arc.sweep) > math.pi / 2:
        return None
    step = grid.step
    shift = (start[0] + centre[0]) * step - arc.centre[0], (start[1] + centre[1]) * step - arc.centre[1]
    bound = difference * step + abs(radius * step - arc.radius) + math.hypot(*shift)
    if bound <= enough:
        return bound
    first = math.atan2(uy, ux)
    return difference * step + _deviation(radius * step, first, sweep, shift, arc.radius)


def _deviation(radius: float, first: float, sweep: float, shift: tuple[float, float], true_radius: float) -> float:
    """Greatest distance of an arc from a circle whose centre lies `-shift` off its own.

    The distance from that centre, sqrt(r^2 + d^2 + 2 r d cos), is greatest and least at the ends of the arc or where it
    points along the shift.
    """
    off = math.hypot(*shift)
    along = math.atan2(shift[1], shift[0])
    angles = [first, first + sweep]
    low, high = (first, first + sweep) if sweep > 0 else (first + sweep, first)
    for angle in (along, along + math.pi):
        turned = low + (angle - low) % (2 * math.pi)
        if turned <= high:
            angles.append(turned)
    worst = 0.0
    for angle in angles:
        squared = radius * radius + off * off + 2 * radius * off * math.cos(angle - along)
        worst = max(worst, abs(math.sqrt(max(squared, 0.0)) - true_radius))
    return worst


def size_at_least(*sides: float, unit: Unit) -> str:
    """Return lengths in mm for reading, `39 9/32 in x 5 1/2 in`, each rounded down as far as a ruler shows: to 1/32 in
    or 0.1 mm. What is 0.001 mm short of a whole step is that step.
    """
    step = 25.4 / 32 if unit == "in" else 0.1
    return " x ".join(format_length(math.floor((side + 0.001) / step) * step, unit=unit) for side in sides)
