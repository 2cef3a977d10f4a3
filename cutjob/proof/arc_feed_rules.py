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


def wall_feed(standing: Standing, motion: Motion) -> float:
    """Return the feed of a motion's cutter along the wall it cuts, mm/min: more than the written one on inside arcs,
    those run in the direction in which the profile has holes cut.
    """
    cutter = standing.cutter_of(motion.tool)
    if motion.centre is None or cutter is None or motion.clockwise != _holes_clockwise(standing):
        return motion.feed
    radius = _radius(motion)
    return motion.feed * (radius + cutter.radius) / radius


def _radius(motion: Motion) -> float:
    """The radius of an arc, as much larger as rounding may have made it smaller, mm."""
    assert motion.centre is not None
    return math.dist(motion.start[:2], motion.centre) + TOLERANCES.output


def _holes_clockwise(standing: Standing) -> bool:
    machine = standing.machine
    return (machine.cutting.direction == "climb") != (machine.spindle.turns == "clockwise")
