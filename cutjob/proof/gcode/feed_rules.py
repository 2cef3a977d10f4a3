"""Rules about feeds: never zero, as the feed table has them for each use, never down too fast, never so slow that wood
burns. mm/min.

On a router too high a feed breaks the cutter, and so does too steep a way down at a feed meant for level cuts. At less
than half of the feed the cutter rubs instead of cutting. On a laser the feed decides how deep the beam goes: faster, it
doesn't cut through; much slower, it burns.

Feeds on a router's arcs are judged by the machine's acceleration, and measured at the wall that is cut.

Round a radius r of the centre path at a speed v the machine accelerates by v^2 / r. Where the cutter, of radius R, runs
inside the curve it cuts, its edge goes along the wall at F (r + R) / r.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from cutjob.job.machine import Feed
from cutjob.proof import limits
from cutjob.proof.finding import Finding, Severity
from cutjob.proof.gcode.beam_rules import is_mark
from cutjob.proof.gcode.file_case import HAIR, FileCase
from cutjob.proof.gcode.reading import Motion
from cutjob.proof.gcode.tool_rules import sideways
from cutjob.tolerances import TOLERANCES


def arc_feeds(case: FileCase) -> Iterator[Finding]:
    """No arc asks for more than the machine's acceleration; for a file without a plan this is only a warning."""
    acceleration = case.machine.motion.acceleration
    for motion in case.reading.motions:
        if motion.kind != "arc" or motion.centre is None:
            continue
        radius = _radius(motion)
        asked = (motion.feed / 60) ** 2 / radius
        if asked > acceleration * limits.FEED_ROUNDING**2:
            message = (
                f"feed {motion.feed:.0f} mm/min round a radius of {radius:.2f} mm needs {asked:.0f} mm/s2; the "
                f"machine's acceleration is {acceleration:.0f} mm/s2"
            )
            severity: Severity = "error" if case.planned else "warning"
            yield case.error("feed", message, motion, measured=asked, limit=acceleration, severity=severity)


def wall_feeds(case: FileCase) -> Iterator[Finding]:
    """An arc in wood with the wall on its outer side, as in holes, goes along that wall no faster than the feed table
    allows. A beam has no edge, and in a file without a plan the side is not known.
    """
    if not case.machine.has_spindle or not case.planned:
        return
    for motion in case.reading.motions:
        if motion.kind != "arc" or motion.centre is None or motion.clockwise != _holes_clockwise(case):
            continue
        row, cutter = case.feed_of(motion.tool), case.cutter_of(motion.tool)
        deep = min(motion.start[2], motion.end[2]) < case.stock_top - TOLERANCES.output
        if row is None or not row.feed or cutter is None or not deep:
            continue
        radius = _radius(motion)
        along = motion.feed * (radius + cutter.radius) / radius
        if along > row.feed * limits.FEED_ROUNDING:
            message = (
                f"feed {motion.feed:.0f} mm/min on an arc is {along:.0f} mm/min along the wall on its outer side; the "
                f"feed table says {row.feed:.0f} mm/min"
            )
            yield case.error("feed", message, motion, measured=along, limit=row.feed)


def _radius(motion: Motion) -> float:
    """The radius of an arc, plus the amount by which rounding may have made it smaller, mm."""
    assert motion.centre is not None
    return math.dist(motion.start[:2], motion.centre) + TOLERANCES.output


def _holes_clockwise(case: FileCase) -> bool:
    machine = case.machine
    return (machine.cutting.direction == "climb") != (machine.spindle.turns == "clockwise")


_MOST_PIECES = 8  # pieces of a straight line that are looked at on each side of one; our choice


def feeds(case: FileCase) -> Iterator[Finding]:
    """Every cut has a feed, within the machine's greatest and the feed table's for its use."""
    greatest = case.machine.motion.greatest_feed
    laser = case.machine.has_beam
    seen: set[tuple[int, float, float, bool]] = set()
    for motion in case.reading.motions:
        if motion.kind == "rapid":
            continue
        # Straight down is a plunge, judged below.
        down = not laser and _straight_down(motion)
        key = (motion.tool, motion.feed, motion.speed, down)
        if key in seen:
            continue
        seen.add(key)
        row = case.feed_of(motion.tool)
        if motion.feed <= 0:
            yield case.error("feed", "a cut with no feed", motion)
        elif motion.feed > greatest * limits.FEED_ROUNDING:
            message = f"feed {motion.feed:.0f} mm/min; the machine's greatest is {greatest:.0f} mm/min"
            yield case.error("feed", message, motion, measured=motion.feed, limit=greatest)
        elif row is not None and row.feed and not down:
            yield from _by_table(case, row, motion, laser=laser)


def _by_table(case: FileCase, row: Feed, motion: Motion, *, laser: bool) -> Iterator[Finding]:
    mark = laser and is_mark(row, power=motion.speed, feed=motion.feed)
    table = (row.mark_feed or row.feed) if mark else row.feed
    what = "a mark" if mark else "a cut"
    if motion.feed > table * limits.FEED_ROUNDING:
        message = f"feed {motion.feed:.0f} mm/min; the feed table says {table:.0f} mm/min for {what}"
        yield case.error("feed", message, motion, measured=motion.feed, limit=table)
    slowest = limits.SLOWEST_BEAM * min(table, case.machine.motion.greatest_feed, _for_its_curve(case, motion))
    if laser and motion.feed < slowest:
        message = f"feed {motion.feed:.0f} mm/min burns; the feed table says {table:.0f} mm/min for {what}"
        yield case.error("feed", message, motion, measured=motion.feed, limit=slowest)


def slow_feeds(case: FileCase) -> Iterator[Finding]:
    """In wood no feed is less than half of what the feed table, the machine, the way's curve and its fall allow.

    On an arc the table counts at a wall on the arc's outer side: the tighter the arc, the faster the cutter's edge
    passes that wall. Chords count as the arc they lie on.
    """
    motions = case.reading.motions
    known: dict[int, tuple[float, float, float]] = {}
    for number, motion in enumerate(motions):
        deep = min(motion.start[2], motion.end[2]) < case.stock_top - TOLERANCES.output
        if motion.kind == "rapid" or not deep or not motion.z_known or motion.feed <= 0 or motion.length <= HAIR:
            continue
        if motion.tool not in known:
            row, cutter = case.feed_of(motion.tool), case.cutter_of(motion.tool)
            table = min(row.feed, case.machine.motion.greatest_feed) if row is not None and row.feed else 0.0
            radius = cutter.radius if cutter is not None else 0.0
            known[motion.tool] = table, _greatest_plunge(case, motion.tool), radius
        table, plunge, radius = known[motion.tool]
        # Nearly all feeds are no less than half the table.
        if motion.feed >= limits.SLOWEST_CUT * table / limits.FEED_ROUNDING:
            continue
        rise = abs(motion.end[2] - motion.start[2])
        allowed = table if rise <= HAIR else min(table, plunge * motion.length / rise)
        if motion.end[2] < motion.start[2] and sideways(motion):
            # A ramp may be run at the feed of a plunge.
            allowed = min(allowed, plunge / limits.SLOWEST_CUT)
        if motion.feed * limits.FEED_ROUNDING >= limits.SLOWEST_CUT * allowed:
            continue
        bend = _bend(motions, number)
        if math.isfinite(bend) and motion.length <= 2 * math.pi * max(2 * radius, bend):
            allowed = min(allowed, table * bend / (bend + radius), 60 * math.sqrt(_acceleration(case) * bend))
        if motion.feed * limits.FEED_ROUNDING < limits.SLOWEST_CUT * allowed:
            message = f"feed {motion.feed:.0f} mm/min burns the wood; it needs at least half of {allowed:.0f} mm/min"
            yield case.error(
                "feed", message, motion, measured=motion.feed, limit=limits.SLOWEST_CUT * allowed,
                severity="error" if case.planned else "warning",
            )  # fmt: skip


def _acceleration(case: FileCase) -> float:
    return case.machine.motion.acceleration


def _for_its_curve(case: FileCase, motion: Motion) -> float:
    """The feed at which an arc takes the profile's acceleration, mm/min; infinite for a line."""
    if motion.centre is None:
        return math.inf
    return 60 * math.sqrt(_acceleration(case) * math.dist(motion.start[:2], motion.centre))


def _bend(motions: Sequence[Motion], number: int) -> float:
    """The radius of an arc, mm, or that of the circle that a chord and its neighbours suggest; infinite for a line that
    goes straight on or turns only at corners.
    """
    motion = motions[number]
    if motion.centre is not None:
        return math.dist(motion.start[:2], motion.centre)
    first, last, length = _straight_on(motions, number)
    bends = [math.inf]
    for beside in (first - 1, last + 1):
        if not 0 <= beside < len(motions) or motions[beside].kind == "rapid":
            continue
        other = motions[beside]
        if other.centre is not None:
            along = math.dist(other.start[:2], other.end[:2])
            bends.append(math.dist(other.start[:2], other.centre) if HAIR < length <= along else math.inf)
            continue
        longest = max(length, _straight_on(motions, beside)[2])
        turn = _turn(motions[number], other)
        bent = turn > limits.STRAIGHT_TURN and (turn < limits.CORNER_TURN or longest < limits.TINY_CHORD)
        bends.append(longest / turn if bent and _flat(other) > HAIR else math.inf)
    return min(bends)


def _straight_on(motions: Sequence[Motion], number: int) -> tuple[int, int, float]:
    """The first and the last of the lines in one straight run about a line, and the run's length, mm."""
    ends, length = [number, number], _flat(motions[number])
    for side, step in enumerate((-1, 1)):
        while abs(ends[side] - number) < _MOST_PIECES:
            beside = ends[side] + step
            if not 0 <= beside < len(motions) or motions[beside].kind == "rapid" or motions[beside].centre is not None:
                break
            if _flat(motions[beside]) <= HAIR or _turn(motions[number], motions[beside]) > limits.STRAIGHT_TURN:
                break
            ends[side], length = beside, length + _flat(motions[beside])
    return ends[0], ends[1], length


def _flat(motion: Motion) -> float:
    return math.dist(motion.start[:2], motion.end[:2])


def _turn(one: Motion, other: Motion) -> float:
    return abs(math.remainder(_heading(other) - _heading(one), math.tau))


def _heading(motion: Motion) -> float:
    return math.atan2(motion.end[1] - motion.start[1], motion.end[0] - motion.start[0])


def plunges(case: FileCase) -> Iterator[Finding]:
    """No way down, straight, sloping or round, sinks faster than the plunge feed of the machine and of the feed
    table.
    """
    plunges = {tool: _greatest_plunge(case, tool) for tool in {motion.tool for motion in case.reading.motions}}
    controller = case.machine.controller
    # Rounding may move a written height, and each end, by half a step: short pieces then seem steeper than they are.
    step = 10.0**-controller.decimals * (25.4 if controller.units == "in" else 1.0)
    for motion in case.reading.motions:
        fall, greatest = motion.start[2] - motion.end[2], plunges[motion.tool]
        if motion.kind == "rapid" or fall <= HAIR or motion.feed <= greatest * limits.FEED_ROUNDING:
            continue
        straight = _straight_down(motion)
        run = _longest_run(motion) + 2 * step
        sinking = motion.feed if straight else motion.feed * max(0.0, fall - step) / math.hypot(run, fall)
        if sinking > greatest * limits.FEED_ROUNDING:
            what = "straight down" if straight else "sinks"
            message = f"{what} at {sinking:.0f} mm/min; at most {greatest:.0f} mm/min"
            yield case.error("plunge", message, motion, measured=sinking, limit=greatest)


def steps_down(case: FileCase) -> Iterator[Finding]:
    """In a file without a plan no level cut is deeper below all cuts before it than the feed table allows.

    With a plan the sweep knows better what has been cut where.
    """
    if case.planned:
        return
    deepest = case.stock_top
    for motion in case.reading.motions:
        if motion.kind == "rapid" or not motion.z_known or not sideways(motion):
            continue
        low, row = min(motion.start[2], motion.end[2]), case.feed_of(motion.tool)
        allowed = None if row is None else row.depth_per_pass
        if allowed is not None and deepest - low > allowed * limits.FEED_ROUNDING:
            message = f"cuts {deepest - low:.2f} mm deeper than all before it; the feed table allows {allowed:.2f} mm"
            yield case.error("depth per pass", message, motion, measured=deepest - low, limit=allowed)
        deepest = min(deepest, low)


def _greatest_plunge(case: FileCase, tool: int) -> float:
    greatest, row = case.machine.motion.greatest_plunge, case.feed_of(tool)
    return min(greatest, row.plunge) if row is not None and row.plunge else greatest


def _longest_run(motion: Motion) -> float:
    """How far a motion may go along, mm: a line may stand for a longer arc, which it leaves by the chord error."""
    if motion.centre is not None:
        (x0, y0, _), (cx, cy) = motion.start, motion.centre
        return math.hypot(x0 - cx, y0 - cy) * abs(motion.sweep)
    (x0, y0, _), (x1, y1, _) = motion.start, motion.end
    chord = math.hypot(x1 - x0, y1 - y0)
    # An arc is longer than its chord by 8 s^2 / (3 c), s its rise over the chord c; half a turn by (pi / 2 - 1) c.
    return chord + min(8 * TOLERANCES.chord**2 / (3 * max(chord, HAIR)), (math.pi / 2 - 1) * chord)


def _straight_down(motion: Motion) -> bool:
    (x0, y0, z0), (x1, y1, z1) = motion.start, motion.end
    return motion.centre is None and z1 < z0 and math.hypot(x1 - x0, y1 - y0) <= HAIR
