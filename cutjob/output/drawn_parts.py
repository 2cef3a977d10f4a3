"""What a drawing shows of a board: its parts as contours and circles by operation, and holes for what holds it. mm."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from cutjob.geometry.contour import Contour
from cutjob.geometry.offset import offset
from cutjob.geometry.segment import Point, Segment
from cutjob.job.machine import Machine, Operation
from cutjob.layout.layout import BoardLayout
from cutjob.output.operations import hole_operation
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnCircle:
    """A round hole to draw, mm: `op` is `bore` or `drill`, or whatever layer it belongs on."""

    op: Operation
    at: Point
    diameter: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPocket:
    """The outline (counter-clockwise) and the islands (clockwise) of an area cleared `depth` mm deep."""

    depth: float
    contours: tuple[Contour, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPart:
    """One part as it is to be drawn, in the board's frame, mm; offset or not, as the caller decided."""

    outline: Contour
    holes: tuple[Contour, ...] = ()
    pockets: tuple[DrawnPocket, ...] = ()
    circles: tuple[DrawnCircle, ...] = ()
    marks: tuple[tuple[Segment, ...], ...] = ()


def as_drawn(layout: BoardLayout, *, cutter_diameter: float | None = None) -> tuple[DrawnPart, ...]:
    """Return the parts of a board with no offset. Holes of the cutter's own diameter are drilled, the others bored."""
    return tuple(
        DrawnPart(
            outline=placement.region.outline,
            holes=placement.region.holes,
            circles=tuple(
                DrawnCircle(
                    op=hole_operation(hole.diameter, cutter_diameter=cutter_diameter),
                    at=placement.transform.point(hole.at),
                    diameter=hole.diameter,
                )
                for hole in placement.part.round_holes
            ),
            pockets=tuple(
                DrawnPocket(depth=pocket.depth, contours=placement.transform.region(pocket.region).contours)
                for pocket in placement.part.pockets
            ),
            marks=tuple(
                tuple(placement.transform.segment(segment) for segment in mark.path) for mark in placement.part.marks
            ),
        )
        for placement in layout.placements
    )


def moved_into_waste(part: DrawnPart, by: float) -> DrawnPart:
    """Return a part drawn with an offset of `by` mm: its outline and islands outward, openings, holes and the outlines
    of pockets inward; marks stay. What is too narrow for that is gone. Raises ValueError for a part that is.
    """
    return DrawnPart(
        outline=max(offset(part.outline, by), key=lambda path: path.signed_area),
        holes=tuple(path for hole in part.holes for path in offset(hole, -by)),
        pockets=tuple(
            DrawnPocket(
                depth=pocket.depth,
                contours=tuple(
                    path for wall in pocket.contours for path in offset(wall, -by if wall.signed_area > 0 else by)
                ),
            )
            for pocket in part.pockets
        ),
        circles=tuple(replace(circle, diameter=circle.diameter - 2 * by) for circle in part.circles),
        marks=part.marks,
    )


def lost_by_moving(part: DrawnPart, by: float) -> tuple[str, ...]:
    """Return which kinds of details are too narrow to be drawn with an offset of `by` mm, in plain words."""
    circles = any(circle.diameter / 2 - by <= TOLERANCES.same_point for circle in part.circles)
    openings = any(not offset(hole, -by) for hole in part.holes)
    walls = [wall for pocket in part.pockets for wall in pocket.contours if wall.signed_area > 0]
    pockets = any(not offset(wall, -by) for wall in walls)
    found = {"a round hole": circles, "an opening": openings, "a pocket": pockets}
    return tuple(name for name, lost in found.items() if lost)


def holding_circles(layout: BoardLayout, machine: Machine) -> Iterator[DrawnCircle]:
    """Yield the holes drilled for the screws that hold a board, and those for the pins of a next window."""
    for down in layout.hold_downs:
        yield DrawnCircle(op="drill", at=down.at, diameter=down.diameter)
    for window in layout.windows:
        if machine.travel is not None:
            for at in window.holes:
                yield DrawnCircle(op="drill", at=at, diameter=machine.travel.pin)
