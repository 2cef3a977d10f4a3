"""Every limit of the geometry, in mm, with its reason. One frozen value, passed on explicitly.

The budget: a spline outline is fitted within `curve`, the cutter's path lies that much further out (so the fit never
eats into the part), an offset is exact to `path`, polygons used to find its topology deviate by `chord`, and rounding
adds less than `output`. Their sum, twice `curve` because the shift and the fit may add up, stays below `acceptance`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerances:
    """Limits in mm; see each comment for what the limit is for."""

    same_point: float = 1e-6  # two ends closer than this are one point
    path: float = 0.0005  # an offset path against the exact offset
    chord: float = 0.002  # a polygon against the lines and arcs it stands for
    curve: float = 0.003  # lines and arcs against the spline, ellipse or batten curve they stand for
    output: float = 0.0005  # rounding of written coordinates, 3 decimals in mm or 4 to 5 in inches
    arc_radii: float = 0.002  # NISTIR 6556, 3.5.3: radii at the start and the end of a written arc
    arc_radii_in: float = 0.0002  # the same rule for files in inches, in inches
    acceptance: float = 0.01  # greatest gouge and most wood left that the proof lets pass
    gap: float = 0.001  # clear wood between parts, against the gap asked for
    repair: float = 0.1  # open or crossing contours of a drawing are mended up to this


TOLERANCES = Tolerances()
