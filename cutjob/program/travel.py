"""Checks how far a program's moves reach against the machine's travel. mm.

Also finds where the cutter stays when a program is done: from a board and a profile to a place and the air moves there.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from cutjob.errors import InputError, Problem
from cutjob.geometry.segment import Arc, Bounds, Point, distance
from cutjob.job.machine import Machine, Travel
from cutjob.layout.layout import BoardLayout
from cutjob.program.moves import Move


def extent(moves: Iterable[Move]) -> Bounds | None:
    """Return the smallest upright box around all places the cutter's centre goes to; None for no moves."""
    moves = list(moves)
    if not moves:
        return None
    xs, ys = [move.x for move in moves], [move.y for move in moves]
    left, low, right, high = min(xs), min(ys), max(xs), max(ys)
    for before, move in pairwise(moves):
        if move.centre is None:
            continue
        here, (x, y) = (before.x, before.y), move.centre
        radius = distance(here, move.centre)
        if left <= x - radius and x + radius <= right and low <= y - radius and y + radius <= high:
            continue  # not even the full circle reaches farther
        x0, y0, x1, y1 = Arc(here, (move.x, move.y), move.centre, move.clockwise).bounds
        left, low, right, high = min(left, x0), min(low, y0), max(right, x1), max(high, y1)
    return left, low, right, high


def check_travel(box: Bounds | None, layout: BoardLayout, travel: Travel | None) -> None:
    """Raise InputError when moves with this `extent` need more than the machine's travel: the cutter runs beyond the
    board's edges.
    """
    if box is None or travel is None:
        return
    problems = [
        Problem(
            location=layout.board.location,
            place=f'board "{layout.board.name}"',
            message=f"with the cutter running beside the parts the moves go over {reach:.1f} mm {way}; "
            f"the machine reaches {limit:.1f} mm",
            advice="give a larger edge_margin, or a smaller board",
        )
        for reach, limit, way in (
            (box[2] - box[0], travel.x, "along the board"),
            (box[3] - box[1], travel.y, "across the board"),
        )
        if reach > limit
    ]
    if problems:
        raise InputError(problems)


def park_place(box: Bounds | None, layout: BoardLayout, window: int | None, origin: Point, machine: Machine) -> Point:
    """Return the place where the cutter stays, in the board's frame. It is the profile's, else the corner of the
    board's box (the window's, for a board cut in windows) farthest from the program's zero, drawn in to the machine's
    travel.

    `box` is the extent of the moves. Raises InputError where the profile's place and the moves are farther apart than
    the machine's travel.
    """
    travel = machine.travel
    wanted = machine.motion.park
    if wanted is not None:
        place = (origin[0] + wanted[0], origin[1] + wanted[1])
        if box is not None and travel is not None and _within(place, box, (travel.x, travel.y)) != place:
            raise InputError(
                Problem(
                    location=layout.board.location,
                    place=f'board "{layout.board.name}"',
                    message=f"the profile parks the cutter at {wanted[0]:.1f}, {wanted[1]:.1f}, farther from the "
                    f"cuts than the machine's travel of {travel.x:.1f} x {travel.y:.1f} mm",
                    advice="set park in the profile to a place nearer to the board, or leave it out",
                )
            )
        return place
    x0, y0, x1, y1 = layout.board.outline.bounds
    if window is not None:
        x0, x1 = max(x0, layout.windows[window].first), min(x1, layout.windows[window].last)
    corners = [(x, y) for x in (x0, x1) for y in (y0, y1)]
    corner = max(corners, key=lambda one: (distance(one, origin), one))
    return corner if box is None or travel is None else _within(corner, box, (travel.x, travel.y))


def park_moves(last: Move | None, place: Point, clear_z: float) -> tuple[Move, ...]:
    """Return the air moves from the end of the last move: up to `clear_z`, over everything on the board, to the
    place.
    """
    up = () if last is None or last.z >= clear_z else (Move("rapid", last.x, last.y, clear_z),)
    return (*up, Move("rapid", *place, clear_z))


def _within(place: Point, box: Bounds, reach: tuple[float, float]) -> Point:
    """The nearest place that, together with a box, spans no more than `reach` along X and along Y."""
    (x, y), (x0, y0, x1, y1) = place, box
    return min(max(x, x1 - reach[0]), x0 + reach[0]), min(max(y, y1 - reach[1]), y0 + reach[1])
