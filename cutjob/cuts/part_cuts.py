"""One part to its cuts, in the part's own frame: outside and inside cuts, holes, marks; with what can't be reached."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutjob.cuts.cut import Cut, HoleCut, LoopCut, MarkCut, PartCuts, Side
from cutjob.cuts.reach import Rest, rests
from cutjob.cuts.tabs import TabSites, tab_sites
from cutjob.geometry.contour import Contour
from cutjob.geometry.offset import offset
from cutjob.job.machine import Cutter, Machine
from cutjob.parts.part import Hole, ShapedPart
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True, kw_only=True)
class TooSmall:
    """A hole narrower than the cutter."""

    hole: Hole


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """A part's cuts, where tabs may stay on the loop that frees it, and what the cutter can't do to it."""

    cuts: PartCuts
    too_small: tuple[TooSmall, ...]
    rests: tuple[Rest, ...]
    sites: TabSites | None


def cut_part(part: ShapedPart, *, cutter: Cutter, machine: Machine, thickness: float) -> Examined:
    """Return the cuts of one part. `thickness` is one board's, mm: it bounds the height of tabs."""
    climb = machine.cutting.direction == "climb"
    waste_left = climb == (machine.spindle.turns == "clockwise")
    radius = cutter.radius + part.deviation
    too_small = [TooSmall(hole=hole) for hole in part.holes if _play(hole, cutter) < -TOLERANCES.same_point]
    inner: list[Cut] = [
        MarkCut(path=mark.path, depth=machine.cutting.mark_depth if mark.depth is None else mark.depth)
        for mark in part.marks
    ]
    inner.extend(
        _hole_cut(hole, cutter, clockwise=not waste_left)
        for hole in part.holes
        if _play(hole, cutter) >= -TOLERANCES.same_point
    )
    for hole in part.region.holes:
        inner.extend(_loops("inside cut", offset(hole, -radius), waste_left=waste_left))
    outline = _loops("outside cut", offset(part.region.outline, radius), waste_left=waste_left)
    sites = None
    if machine.tabs is not None and machine.kind == "router" and outline:
        sites = tab_sites(outline[0].path, cutter_radius=radius, thickness=thickness, tabs=machine.tabs)
    return Examined(
        cuts=PartCuts(inner=tuple(inner), outline=outline),
        too_small=tuple(too_small),
        rests=rests(part.region, radius=cutter.radius),
        sites=sites,
    )


def _play(hole: Hole, cutter: Cutter) -> float:
    return hole.diameter - cutter.diameter


def _hole_cut(hole: Hole, cutter: Cutter, *, clockwise: bool) -> HoleCut:
    play = _play(hole, cutter)
    drilled = play <= TOLERANCES.same_point
    return HoleCut(
        op="drill" if drilled else "bore",
        at=hole.at,
        radius=0.0 if drilled else play / 2,
        depth=hole.depth,
        clockwise=clockwise,
    )


def _loops(op: str, paths: Sequence[Contour], *, waste_left: bool) -> tuple[LoopCut, ...]:
    """Offset paths have the area they enclose on their left: the part's for an outside cut, the waste's inside.

    The largest comes first: round a part that is the one that frees it, others go round bays that closed up.
    """
    reverse = waste_left == (op == "outside cut")
    side: Side = "left" if waste_left else "right"
    return tuple(
        LoopCut(
            op="outside cut" if op == "outside cut" else "inside cut",
            path=path.reversed() if reverse else path,
            waste=side,
        )
        for path in sorted(paths, key=lambda path: -abs(path.signed_area))
    )
