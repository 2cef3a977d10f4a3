"""Every limit of the geometry with its reason, in one frozen value that is passed on explicitly. mm unless stated.

The budget: a spline outline is fitted within `curve`, and the cutter's path is moved out by the same amount, so that
the fit never cuts into the part. An offset is exact to `path`, joining its moves to longer ones adds at most `join`,
and rounding less than `output`. The sum of these, with `curve` twice because the shift and the fit may add up, stays
below `acceptance`. Polygons that deviate by `chord` are only used to find the topology of offsets.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerances:
    """Limits, in mm unless stated; the comment beside each limit says what it is for."""

    same_point: float = 1e-6  # two ends closer than this are one point
    path: float = 0.001  # an offset path against the exact offset
    chord: float = 0.002  # a polygon against the lines and arcs it stands for
    curve: float = 0.002  # lines and arcs against the spline, ellipse or batten curve they stand for
    join: float = 0.003  # a path of few long moves against the offset path it stands for
    output: float = 0.0013  # rounding of a written coordinate: half of the last of 4 decimals in inches, or 3 in mm
    arc_radii: float = 0.002  # NISTIR 6556, 3.5.3: radii at the start and the end of a written arc
    arc_radii_in: float = 0.0002  # the same rule for files in inches, in inches
    acceptance: float = 0.01  # greatest gouge and most wood left that the proof lets pass
    pattern: float = 0.1  # a line on paper against the part's edge: a printer's dot at 300 dpi
    tab_place: float = 1.0  # the middle of a tab, along the outline, against the plan
    tab_width: float = 0.1  # the wood of a tab, against the plan: entry and exit moves end on rounded corners of a cut
    tab_height: float = 0.05  # the height of a tab, against the plan; far below what a tab is made high for
    stick: float = 0.001  # the pieces and kerfs of a stick may be longer than the stick by this
    gap: float = 0.001  # clear wood between parts, against the gap asked for
    reach_chord: float = 0.02  # polygons on which unreachable corners are looked for
    worth_telling: float = 0.1  # wood left in an inside corner that is worth a warning
    lead_clearance: float = 0.02  # extra distance of a lead-in from every part
    anchor: float = 2.0  # wood beyond a slot that a tab needs to end in
    bridge_aside: float = 1.0  # how far the two ends of a tab between neighbours may lie apart along the slot
    loose_plug: float = 400.0  # mm2; waste no larger may come loose while it is cut: common practice, no source
    bridged_plug: float = 300.0  # mm2; larger waste gets bridges: where a piece ends at a bridge is no sharp line
    least_beam_play: float = 0.1  # a beam's circle must be at least this much wider than the kerf to be one
    standing_air: float = 1.0  # mm of air over what stands on a board, cutter and nose; common practice, no source
    repair: float = 0.1  # open or crossing contours of a drawing are repaired up to this


TOLERANCES = Tolerances()
