"""Rules about feeds: never nought, as the feed table has them for each use, and never down too fast. mm/min.

On a router too fast a feed breaks the cutter, and too steep a way down does so at any feed made for going along. On a
laser the feed decides how deep the beam goes: faster doesn't cut through, and much slower burns.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from cutjob.job.machine import Feed
from cutjob.proof.beam_use import is_mark
from cutjob.proof.finding import Finding
from cutjob.proof.reading import Motion
from cutjob.proof.standing import HAIR, SPARE, Standing
from cutjob.proof.tool_rules import sideways
from cutjob.tolerances import TOLERANCES

_SLOWEST = 0.5  # of a laser's feed; slower leaves the beam on a spot twice as long, and burns


def feeds(standing: Standing) -> Iterator[Finding]:
    """Every cut has a feed, within the machine's greatest and what the feed table says for its use."""
    greatest = standing.machine.motion.greatest_feed
    laser = standing.machine.kind == "laser"
    seen: set[tuple[int, float, float, bool]] = set()
    for motion in standing.reading.motions:
        if motion.kind == "rapid":
            continue
        # Straight down is a plunge, judged below.
        down = not laser and _straight_down(motion)
        key = (motion.tool, motion.feed, motion.speed, down)
        if key in seen:
            continue
        seen.add(key)
        row = standing.feed_of(motion.tool)
        if motion.feed <= 0:
            yield standing.error("feed", "a cut with no feed", motion)
        elif motion.feed > greatest * SPARE:
            message = f"feed {motion.feed:.0f} mm/min; the machine goes {greatest:.0f} mm/min at most"
            yield standing.error("feed", message, motion, measured=motion.feed, limit=greatest)
        elif row is not None and row.feed and not down:
            yield from _by_table(standing, row, motion, laser=laser)


def _by_table(standing: Standing, row: Feed, motion: Motion, *, laser: bool) -> Iterator[Finding]:
    mark = laser and is_mark(row, power=motion.speed, feed=motion.feed)
    table = (row.mark_feed or row.feed) if mark else row.feed
    what = "a mark" if mark else "a cut"
    if motion.feed > table * SPARE:
        message = f"feed {motion.feed:.0f} mm/min; the feed table says {table:.0f} mm/min for {what}"
        yield standing.error("feed", message, motion, measured=motion.feed, limit=table)
    slowest = _SLOWEST * min(table, standing.machine.motion.greatest_feed)
    if laser and motion.feed < slowest:
        message = f"feed {motion.feed:.0f} mm/min burns; the feed table says {table:.0f} mm/min for {what}"
        yield standing.error("feed", message, motion, measured=motion.feed, limit=slowest)


def plunges(standing: Standing) -> Iterator[Finding]:
    """No way down, straight, sloping or round, sinks faster than the machine's and the feed table's plunge."""
    limits = {tool: _greatest_plunge(standing, tool) for tool in {motion.tool for motion in standing.reading.motions}}
    controller = standing.machine.controller
    # A written height may be off by half a step, and so may each end: short pieces seem steeper than they were meant.
    step = 10.0**-controller.decimals * (25.4 if controller.units == "in" else 1.0)
    for motion in standing.reading.motions:
        fall, greatest = motion.start[2] - motion.end[2], limits[motion.tool]
        if motion.kind == "rapid" or fall <= HAIR or motion.feed <= greatest * SPARE:
            continue
        straight = _straight_down(motion)
        run = _longest_run(motion) + 2 * step
        sinking = motion.feed if straight else motion.feed * max(0.0, fall - step) / math.hypot(run, fall)
        if sinking > greatest * SPARE:
            what = "straight down" if straight else "sinks"
            message = f"{what} at {sinking:.0f} mm/min; at most {greatest:.0f} mm/min"
            yield standing.error("plunge", message, motion, measured=sinking, limit=greatest)


def steps_down(standing: Standing) -> Iterator[Finding]:
    """Of a file without a plan: no cut goes along deeper below all cuts before it than the feed table allows.

    With a plan the sweep knows better what has been cut where.
    """
    if standing.planned:
        return
    deepest = standing.stock_top
    for motion in standing.reading.motions:
        if motion.kind == "rapid" or not motion.z_known or not sideways(motion):
            continue
        low, row = min(motion.start[2], motion.end[2]), standing.feed_of(motion.tool)
        allowed = None if row is None else row.depth_per_pass
        if allowed is not None and deepest - low > allowed * SPARE:
            message = f"cuts {deepest - low:.2f} mm deeper than all before it; the feed table allows {allowed:.2f} mm"
            yield standing.error("depth per pass", message, motion, measured=deepest - low, limit=allowed)
        deepest = min(deepest, low)


def _greatest_plunge(standing: Standing, tool: int) -> float:
    greatest, row = standing.machine.motion.greatest_plunge, standing.feed_of(tool)
    return min(greatest, row.plunge) if row is not None and row.plunge else greatest


def _longest_run(motion: Motion) -> float:
    """How far a motion goes along; a line may stand for a longer arc, off it by as much as chords may be, mm."""
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
