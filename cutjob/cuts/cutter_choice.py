"""Which cutter does what: the largest that reaches every detail, with as few changes as that allows. Lengths mm.

One cutter goes round the parts. A hole, an opening or a pocket it can't make gets the largest other one that can.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from cutjob.cuts.reach import uncut_corners
from cutjob.cuts.tabs import leaves_room
from cutjob.geometry.contour import Contour, Region, polyline
from cutjob.geometry.segment import Arc
from cutjob.job.machine import Cutter, Machine, Tabs
from cutjob.job.stock import Board
from cutjob.parts.part import ShapedPart
from cutjob.remembered import remembered
from cutjob.tolerances import TOLERANCES
from cutjob.units import length


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutters:
    """The cutter that goes round parts, and all cutters that may be used (this one too), the largest first.

    With a `changer` a hole is drilled by a cutter of its own size where there is one. Without, a change by hand costs
    more than boring the hole.
    """

    outline: Cutter
    usable: tuple[Cutter, ...]
    changer: bool

    def numbered(self, number: int) -> Cutter:
        """The usable cutter with this number. Raises KeyError for any other number."""
        return {cutter.number: cutter for cutter in self.usable}[number]

    def for_hole(self, diameter: float, *, depth: float) -> Cutter | None:
        """The cutter for a round hole of this depth; None where all are too wide or too short."""
        fit = [cutter for cutter in self.usable if _may_bore(cutter, diameter) and _long_enough(cutter, depth)]
        same = [cutter for cutter in fit if abs(cutter.diameter - diameter) <= TOLERANCES.same_point]
        if self.outline in same:
            return self.outline
        if same and (self.changer or self.outline not in fit):
            return same[0]
        return self.outline if self.outline in fit else next(iter(fit), None)

    def may_bore(self, diameter: float) -> bool:
        """Whether any cutter, long enough or not, is narrow enough for a round hole."""
        return any(_may_bore(cutter, diameter) for cutter in self.usable)

    def for_opening(self, opening: Contour, *, depth: float) -> Cutter:
        """The cutter for an opening right through: the largest that reaches all of it, else the one for outlines."""
        region = Region(frame_round(opening), (opening,))
        fit = self._largest(lambda cutter: _reaches(region, cutter.radius, self.finest(depth)), depth)
        return self.outline if fit is None else fit

    def for_area(self, reaches: Callable[[Cutter], bool], *, depth: float) -> Cutter | None:
        """The cutter for a pocket: the one for outlines if it `reaches` all of it, else the largest that does."""
        return self._largest(reaches, depth)

    def for_strokes(self, *, depth: float, number: int | None = None) -> Cutter:
        """The cutter for lettering: the one with `number` if given, else the smallest that cuts along a line."""
        if number is not None:
            return self.numbered(number)
        fit = [cutter for cutter in self.usable if not cutter.only_down and _long_enough(cutter, depth)]
        return min(fit, key=lambda cutter: (cutter.diameter, cutter.number), default=self.outline)

    def finest(self, depth: float) -> float:
        """Radius of the smallest cutter that cuts sideways to this depth: no other reaches more."""
        radii = [c.radius for c in self.usable if not c.only_down and _long_enough(c, depth)]
        return min(radii, default=self.outline.radius)

    def _largest(self, reaches: Callable[[Cutter], bool], depth: float) -> Cutter | None:
        fit = [cutter for cutter in self.usable if not cutter.only_down and _long_enough(cutter, depth)]
        if self.outline in fit and reaches(self.outline):
            return self.outline
        return next((cutter for cutter in fit if reaches(cutter)), None)


def choose_cutters(
    through: Sequence[Cutter],
    machine: Machine,
    boards: Sequence[Board],
    *,
    numbers: Sequence[int],
    parts: Sequence[ShapedPart],
    tabs: Tabs | None = None,
) -> Cutters:
    """Return the cutters of a job. `through` are those that may go round its parts, at least one. `numbers` are those
    the job names (none: any).

    Of several in `through` the largest that reaches every detail of the outlines is taken; where none does, the
    smallest. Of equal cutters the first is taken. Where `tabs` hold the parts, it must leave room for them on every
    part, if any cutter does.
    """
    materials = {board.material for board in boards}
    usable = [
        cutter
        for cutter in machine.cutter
        if (not numbers or cutter.number in numbers) and all(cutter.feed_for(word) for word in materials)
    ]
    first_of_size = {cutter.diameter: cutter for cutter in reversed(through)}  # others of the same size reach no more
    ranked = sorted(first_of_size.values(), key=lambda cutter: -cutter.diameter)
    outline = ranked[0]
    if len(ranked) > 1:
        outline = _reaching_all(ranked, parts, tabs)
    if outline not in usable:
        usable.append(outline)
    usable.sort(key=lambda cutter: (-cutter.diameter, cutter is not outline, cutter.number))
    changer = machine.controller.tool_change == "changer" and machine.has_spindle
    return Cutters(outline=outline, usable=tuple(usable), changer=changer)


def _reaching_all(ranked: Sequence[Cutter], parts: Sequence[ShapedPart], tabs: Tabs | None) -> Cutter:
    """The largest cutter that reaches all details of the outlines; each part is checked with ever smaller ones only."""
    place = 0
    outlines = dict.fromkeys(part.region.outline for part in parts)
    for outline in outlines:
        while place < len(ranked) - 1 and not _goes_round(outline, ranked[place].radius, ranked[-1].radius):
            place += 1
        if tabs is not None and not leaves_room(outline, tabs=tabs, cutter_radius=ranked[place].radius):
            smaller = (n for n in range(place + 1, len(ranked)))
            place = next((n for n in smaller if leaves_room(outline, tabs=tabs, cutter_radius=ranked[n].radius)), place)
    return ranked[place]


@remembered(most=2048)
def _goes_round(outline: Contour, radius: float, finest: float) -> bool:
    return _reaches(Region(outline), radius, finest)


def _reaches(region: Region, radius: float, finest: float) -> bool:
    """Whether a cutter gets into every slot and rounding that the finest gets into; no cutter makes a sharp corner."""
    tight = radius - TOLERANCES.acceptance
    if any(finest - TOLERANCES.acceptance <= arc.radius < tight for arc in _hollows(region)):
        return False
    return not any(corner.lost for corner in uncut_corners(region, radius=radius))


def _hollows(region: Region) -> Iterator[Arc]:
    """Arcs that the waste fills from inside: outlines run counter-clockwise and holes clockwise, wood on the left."""
    for contour in region.contours:
        for segment in contour.segments:
            if isinstance(segment, Arc) and segment.clockwise:
                yield segment


def frame_round(opening: Contour) -> Contour:
    """Return a plain frame wide enough for an opening in it to be judged by itself."""
    x0, y0, x1, y1 = opening.bounds
    room = 1.0 + max(x1 - x0, y1 - y0)
    return polyline([(x0 - room, y0 - room), (x1 + room, y0 - room), (x1 + room, y1 + room), (x0 - room, y1 + room)])


# The thinnest cutter worth looking for, mm: thinner ones are for circuit boards. Common practice, no source.
_THINNEST = 0.5


def other_cutter(machine: Machine, diameter: float, cutters: Cutters, *, otherwise: str) -> str:
    """Return what a detail asks of a cutter, which of the machine's cutters would do, and what to do otherwise."""
    if diameter < _THINNEST:
        return otherwise
    needed = f"a cutter of at most {length(diameter, finest=128)} would do"
    fits = [cutter for cutter in machine.cutter if cutter.diameter <= diameter + TOLERANCES.same_point]
    if not fits:
        return f"{needed}, which this profile does not have: add one, or {otherwise}"
    best = max(fits, key=lambda cutter: cutter.diameter)
    named = f"cutter {best.number} ({length(best.diameter)})"
    if best in cutters.usable:
        return f"{needed}, but {named} is not long enough or has no feed for the wood: {otherwise}"
    return f"{needed}: name {named} in the job's cutter as well, or {otherwise}"


def _may_bore(cutter: Cutter, diameter: float) -> bool:
    play = diameter - cutter.diameter
    return abs(play) <= TOLERANCES.same_point if cutter.only_down else play >= -TOLERANCES.same_point


def _long_enough(cutter: Cutter, depth: float) -> bool:
    return depth <= cutter.cutting_length + TOLERANCES.same_point
