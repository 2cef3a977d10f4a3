"""Settings of a cutter on a board, and what moves come to, for the tests of programs. Lengths mm."""

from __future__ import annotations

from collections.abc import Sequence

from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.program.moves import Move
from cutjob.program.setting import Setting
from cutjob.tolerances import TOLERANCES

SETTING = Setting(
    laser=False,
    through=12.3,
    loops=12.3,
    stack_height=12.0,
    per_pass=4.4,
    last_pass=1.4,
    slope=0.1,
    safe_z=5.0,
    approach_z=1.0,
    feed=1200.0,
    plunge=300.0,
    lift=800.0,
    lead=2.0,
    passes=1,
    power=0.0,
    mark_feed=1200.0,
    mark_power=0.0,
    cutter_diameter=6.0,
    stepover=2.4,
    acceleration=500.0,
    grid=0.0001,
    holes_clockwise=False,
)


def segments_of(moves: Sequence[Move], start: Point) -> list[tuple[Segment, float, float]]:
    """The moves along the plane as segments, with the heights they begin and end at."""
    found: list[tuple[Segment, float, float]] = []
    here, z = start, moves[0].z
    for move in moves:
        end = (move.x, move.y)
        if distance(here, end) > TOLERANCES.same_point:
            segment = Line(here, end) if move.centre is None else Arc(here, end, move.centre, move.clockwise)
            found.append((segment, z, move.z))
        here, z = end, move.z
    return found
