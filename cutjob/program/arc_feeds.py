"""Feeds on arcs: moves with the feeds of straight cuts to moves no faster round a curve than machine and cutter allow.

Round a radius r of the cutter's centre the machine turns with v^2 / r, which must stay within its acceleration. Where
the cutter runs inside the curve it cuts - a bore, an opening, a pocket's wall, a hollow of an outline, a lead-in - its
edge goes along the wood at F (r + R) / r, R the cutter's radius, which must stay within the feed table. Units: mm,
mm/min, mm/s2.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from cutjob.geometry.segment import Point, distance
from cutjob.program.moves import Move
from cutjob.program.setting import Setting
from cutjob.tolerances import TOLERANCES


def arc_feed(radius: float, *, feed: float, cutter_radius: float, acceleration: float, inside: bool) -> float:
    """Return the greatest feed, mm/min, round an arc of the centre path with a `radius` in mm, at most `feed`, which is
    that of a straight cut. `acceleration` is in mm/s2. With `inside` the feed counts at the wall.
    """
    greatest = min(feed, 60 * math.sqrt(acceleration * radius))
    return min(greatest, feed * radius / (radius + cutter_radius)) if inside else greatest


def with_arc_feeds(moves: Sequence[Move], setting: Setting, *, both_walls: bool = False) -> list[Move]:
    """Return the moves, begun with one that is no arc, with their feeds on arcs lowered to what `arc_feed` allows.

    Arcs run in the direction in which a hole is cut are inside arcs; with `both_walls`, as in a groove, all are. The
    feed of a beam stays: it says how deep it burns, and the controller slows down by itself.
    """
    if setting.laser:
        return list(moves)
    eased: list[Move] = []
    here: Point | None = None
    for move in moves:
        if move.centre is not None and here is not None:
            # Rounding may write an arc a little tighter.
            true = distance(here, move.centre)
            greatest = arc_feed(
                max(true - TOLERANCES.output, true / 2),
                feed=setting.feed,
                cutter_radius=setting.cutter_diameter / 2,
                acceleration=setting.acceleration,
                inside=both_walls or move.clockwise == setting.holes_clockwise,
            )
            eased.append(replace(move, feed=min(move.feed, greatest)))
        else:
            eased.append(move)
        here = (move.x, move.y)
    return eased
