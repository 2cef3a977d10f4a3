"""Finds the curves of a part that a saw blade does not follow, from outline, openings and the blade's least radius. mm.

A blade saws a curve tighter than its least radius only by cutting the corner: on an arc of the least radius that
leaves and meets the same two straight lines. The greatest distance between curve and arc says whether it matters. A
corner is not a curve: it is sawn from both sides. Drawn chords that turn a little at each end are a curve.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from cutjob.geometry.contour import Contour
from cutjob.geometry.segment import Arc, Line, Point, Segment
from cutjob.job.machine import Cutter, Machine
from cutjob.layout.layout import BoardLayout
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit, rounded_down

# A pencil line's width, mm: a smaller deviation is sanded. Common practice, no source.
_PENCIL = 0.5
# Chords that turn by more than this meet in a corner: a circle drawn so coarsely has fewer than 18 sides.
_CORNER = math.radians(20)

_RULE: dict[Unit, float] = {"in": 25.4 / 32, "mm": 0.1}


@dataclass(frozen=True, slots=True, kw_only=True)
class TightCurve:
    """A curve a blade does not follow: its least radius, a point on it, whether the wood lies outside it (hollow)."""

    radius: float
    at: Point
    hollow: bool


@dataclass(frozen=True, slots=True)
class _Bend:
    """An arc, or the corner of two chords: `turn` in radians is positive to the left, 0 where there is no curve."""

    radius: float
    turn: float
    at: Point


def tight_curves(contour: Contour, least_radius: float) -> tuple[TightCurve, ...]:
    """Return the curves of a contour that a blade with this least radius misses by more than a pencil line.

    The contour runs with the wood on its left: outlines counter-clockwise, openings clockwise.
    """
    return tuple(
        TightCurve(radius=sharpest.radius, at=sharpest.at, hollow=sharpest.turn < 0)
        for run in _runs(list(_bends(contour, least_radius)), least_radius)
        if _missed(run, least_radius) > _PENCIL
        for sharpest in [min(run, key=lambda bend: bend.radius)]
    )


def _bends(contour: Contour, least_radius: float) -> Iterator[_Bend]:
    """The bends in their order; one without a turn marks each end of a curve, at corners and on straight stretches."""
    segments = contour.segments
    straight = 2 * least_radius * math.tan(_CORNER / 2)  # a longer chord is no part of a tight curve
    for before, here in zip(segments[-1:] + segments[:-1], segments, strict=True):
        turn = _turn(before, here)
        if abs(turn) > _CORNER:
            yield _Bend(math.inf, 0.0, here.start)
        elif isinstance(before, Line) and isinstance(here, Line) and abs(turn) > TOLERANCES.same_point:
            yield _Bend(min(before.length, here.length) / 2 / math.tan(abs(turn) / 2), turn, here.start)
        if isinstance(here, Arc):
            yield _Bend(here.radius, here.sweep, here.point_at(0.5))
        elif here.length > straight:
            yield _Bend(math.inf, 0.0, here.start)


def _turn(before: Segment, here: Segment) -> float:
    (ax, ay), (bx, by) = before.direction_at(1.0), here.direction_at(0.0)
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)


def _runs(bends: Sequence[_Bend], least_radius: float) -> Iterator[list[_Bend]]:
    """Neighbouring bends tighter than the blade turns, all to one side, also over the contour's start."""

    def tight(bend: _Bend) -> bool:
        return bend.turn != 0 and bend.radius < least_radius - TOLERANCES.acceptance

    def parted(before: _Bend, here: _Bend) -> bool:
        return not (tight(before) and tight(here) and (before.turn > 0) == (here.turn > 0))

    first = next((n for n in range(len(bends)) if parted(bends[n - 1], bends[n])), 0)
    run: list[_Bend] = []
    for bend in (*bends[first:], *bends[:first]):
        if run and parted(run[-1], bend):
            yield run
            run = []
        if tight(bend):
            run.append(bend)
    if run:
        yield run


def _missed(run: Sequence[_Bend], least_radius: float) -> float:
    """The distance of the blade's own arc, between the same two lines, from the run's middle, mm."""
    turn = sum(abs(bend.turn) for bend in run)
    if turn >= math.pi - TOLERANCES.acceptance:
        return math.inf
    radius = sum(bend.radius * abs(bend.turn) for bend in run) / turn
    return (least_radius - radius) * (1 / math.cos(turn / 2) - 1)


def blade_warnings(layouts: Sequence[BoardLayout], machine: Machine, blade: Cutter) -> Iterator[str]:
    """Yield a warning for every part with curves that the saw's blade does not follow; none where the profile doesn't
    say how tightly the blade turns.
    """
    if not machine.by_hand or blade.least_radius is None:
        return
    parts = {(one.item, one.part.name): one.part for layout in layouts for one in layout.placements}
    for (item, name), part in parts.items():
        outline = tight_curves(part.region.outline, blade.least_radius)
        openings = [curve for hole in part.region.holes for curve in tight_curves(hole, blade.least_radius)]
        part_name = f'item "{item}": part "{name}"'
        if outline:
            other = _follows(machine, min(curve.radius for curve in outline))
            advice = f"{other}saw relief cuts up to the line first, or use a jigsaw, scroll saw or coping saw there"
            yield f"{part_name}: {_figures(outline, 'of its outline', blade, blade.least_radius)}; {advice}"
        if openings:
            advice = "drill a way in and use a scroll saw or coping saw there"
            yield f"{part_name}: {_figures(openings, 'in its openings', blade, blade.least_radius)}; {advice}"


def _figures(curves: Sequence[TightCurve], place: str, blade: Cutter, least_radius: float) -> str:
    tightest = min(curves, key=lambda curve: curve.radius)
    hollow = sum(curve.hollow for curve in curves)
    count = f"1 curve {place} is" if len(curves) == 1 else f"{len(curves)} curves {place} are"
    kinds = {0: "outward", len(curves): "hollow"}.get(hollow, f"{hollow} hollow, {len(curves) - hollow} outward")
    where = " and ".join(f"{axis} {_read(value)}" for axis, value in zip("xy", tightest.at, strict=True))
    return (
        f"{count} too tight for the {blade.name} ({kinds}): the smallest radius is {_read(tightest.radius)}, at "
        f"{where} of the part, and the blade's least is {_read(least_radius)}"
    )


def _follows(machine: Machine, radius: float) -> str:
    """The widest blade of the profile that follows a curve, in words; nothing where none does."""
    fits = [
        (cutter.least_radius, cutter)
        for cutter in machine.cutter
        if cutter.least_radius is not None and cutter.least_radius <= radius + TOLERANCES.acceptance
    ]
    if not fits:
        return ""
    least, blade = max(fits, key=lambda one: one[0])
    return f"the {blade.name} follows {_read(least)} (cutter = {blade.number} in the job); else "


def _read(value: float) -> str:
    """A length rounded down to a line of a rule: 1/32 in or 0.1 mm."""
    return rounded_down(value, _RULE)
