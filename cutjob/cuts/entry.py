"""Ways into and out of a loop: quarter arcs that touch it, on the waste's side and clear of every part. mm."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import shapely

from cutjob.cuts.cut import Side
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Arc, Point
from cutjob.layout.layout import BoardLayout
from cutjob.tolerances import TOLERANCES


class LeadAt(Protocol):
    """`lead_in` or `lead_out`."""

    def __call__(self, ruler: Ruler, along: float, /, *, waste: Side, radius: float) -> Arc:
        """Return the arc."""


class Surroundings:
    """The parts and keep-outs of one board, prepared for asking what a lead would touch."""

    def __init__(self, layout: BoardLayout, *, cutter_radius: float, bridges: Sequence[shapely.Polygon] = ()) -> None:
        """Take the board's layout, the cutter's radius in mm and the areas of tabs, which no lead may cut."""
        self._radius = cutter_radius
        self._parts = [placement.polygon for placement in layout.placements]
        self._deviation = [placement.part.deviation for placement in layout.placements]
        keep_outs = [to_polygon(one.area) for one in layout.board.keep_outs]
        self._tree = shapely.STRtree([*self._parts, *keep_outs, *bridges])

    def free(self, arc: Arc, own: int) -> bool:
        """Whether the cutter on `arc` keeps clear of everything; it may touch the part it cuts (`own`), but not enter
        it.
        """
        line = shapely.LineString([arc.start, *arc.chords(TOLERANCES.chord)])
        reach = self._radius + TOLERANCES.lead_clearance
        x0, y0, x1, y1 = arc.bounds
        for index in self._tree.query(shapely.box(x0 - reach, y0 - reach, x1 + reach, y1 + reach)):
            needed = reach
            if index == own:
                needed = self._radius + self._deviation[own] - 2 * TOLERANCES.chord
            if line.distance(self._tree.geometries[index]) < needed:
                return False
        return True


def lead_in(ruler: Ruler, along: float, /, *, waste: Side, radius: float) -> Arc:
    """Return the quarter arc of `radius` that joins a path at `along` from the waste's side, in its direction."""
    point, (dx, dy), (wx, wy) = _frame(ruler, along, waste)
    centre = (point[0] + radius * wx, point[1] + radius * wy)
    return Arc((centre[0] - radius * dx, centre[1] - radius * dy), point, centre, waste == "right")


def lead_out(ruler: Ruler, along: float, /, *, waste: Side, radius: float) -> Arc:
    """Return the quarter arc of `radius` that leaves a path at `along` into the waste."""
    point, (dx, dy), (wx, wy) = _frame(ruler, along, waste)
    centre = (point[0] + radius * wx, point[1] + radius * wy)
    return Arc(point, (centre[0] + radius * dx, centre[1] + radius * dy), centre, waste == "right")


def _frame(ruler: Ruler, along: float, waste: Side) -> tuple[Point, Point, Point]:
    point, (dx, dy) = ruler.place(along)
    return point, (dx, dy), ((-dy, dx) if waste == "left" else (dy, -dx))


def best_lead(
    arc_at: LeadAt, ruler: Ruler, along: float, *, own: int, waste: Side, greatest: float, around: Surroundings
) -> Arc | None:
    """Return the largest free lead, its radius `greatest` or a half, a quarter or an eighth of it; else None."""
    if greatest <= 0:
        return None
    for share in (1.0, 0.5, 0.25, 0.125):
        arc = arc_at(ruler, along, waste=waste, radius=greatest * share)
        if around.free(arc, own):
            return arc
    return None
