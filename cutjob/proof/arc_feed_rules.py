"""Feeds on a router's arcs: judged by the machine's acceleration, and measured at the wall that is cut. mm, mm/min.

Round a radius r of the centre path at a speed v the machine turns with v^2 / r. Where the cutter, of radius R, runs
inside the curve it cuts, its edge goes along the wall at F (r + R) / r.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from cutjob.proof.finding import Finding, Severity
from cutjob.proof.reading import Motion
from cutjob.proof.standing import SPARE, Standing
from cutjob.tolerances import TOLERANCES


def arc_feeds(standing: Standing) -> Iterator[Finding]:
    """No arc asks for more than the machine's acceleration; of a file from elsewhere that is only a warning."""
    acceleration = standing.machine.motion.acceleration
    for motion in standing.reading.motions:
        if motion.kind != "arc" or motion.centre is None:
            continue
        radius = _radius(motion)
        asked = (motion.feed / 60) ** 2 / radius
        if asked > acceleration * SPARE**2:
            message = (
                f"feed {motion.feed:.0f} mm/min round a radius of {radius:.2f} mm asks for {asked:.0f} mm/s2; the "
                f"machine has {acceleration:.0f} mm/s2"
            )
            severity: Severity = "error" if standing.planned else "warning"
            yield standing.error("feed", message, motion, measured=asked, limit=acceleration, severity=severity)


def wall_feeds(standing: Standing) -> Iterator[Finding]:
    """No arc in wood that runs round as the profile has holes cut, with the wall on its outer side, goes along that
    wall faster than the feed table allows; a beam has no edge, and of a file from elsewhere nobody knows the side.
    """
    if standing.machine.kind != "router" or not standing.planned:
        return
    for motion in standing.reading.motions:
        if motion.kind != "arc" or motion.centre is None or motion.clockwise != _holes_clockwise(standing):
            continue
        row, cutter = standing.feed_of(motion.tool), standing.cutter_of(motion.tool)
        deep = min(motion.start[2], motion.end[2]) < standing.stock_top - TOLERANCES.output
        if row is None or not row.feed or cutter is None or not deep:
            continue
        radius = _radius(motion)
        along = motion.feed * (radius + cutter.radius) / radius
        if along > row.feed * SPARE:
            message = (
                f"feed {motion.feed:.0f} mm/min on an arc is {along:.0f} mm/min along the wall on its outer side; the "
                f"feed table says {row.feed:.0f} mm/min"
            )
            yield standing.error("feed", message, motion, measured=along, limit=row.feed)


def _radius(motion: Motion) -> float:
    """The radius of an arc, as much larger as rounding may have made it smaller, mm."""
    assert motion.centre is not None
    return math.dist(motion.start[:2], motion.centre) + TOLERANCES.output


def _holes_clockwise(standing: Standing) -> bool:
    machine = standing.machine
    return (machine.cutting.direction == "climb") != (machine.spindle.turns == "clockwise")
