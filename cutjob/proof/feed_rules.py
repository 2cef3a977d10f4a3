"""Rules about feeds: never nought, never more than the machine or the feed table allows. mm/min."""

from __future__ import annotations

from collections.abc import Iterator

from cutjob.proof.finding import Finding
from cutjob.proof.standing import HAIR, Standing

_SPARE = 1.001  # a converted feed is written rounded


def feeds(standing: Standing) -> Iterator[Finding]:
    """Every cut has a feed, within the machine's greatest and the feed table's."""
    greatest = standing.machine.motion.greatest_feed
    row = standing.feed
    table = max(row.feed, row.mark_feed or 0.0, row.plunge or 0.0) if row is not None and row.feed else None
    seen: set[float] = set()
    for motion in standing.reading.motions:
        if motion.kind == "rapid" or motion.feed in seen:
            continue
        seen.add(motion.feed)
        if motion.feed <= 0:
            yield standing.error("feed", "a cut with no feed", motion)
        elif motion.feed > greatest * _SPARE:
            message = f"feed {motion.feed:.0f} mm/min; the machine goes {greatest:.0f} mm/min at most"
            yield standing.error("feed", message, motion, measured=motion.feed, limit=greatest)
        elif table is not None and motion.feed > table * _SPARE:
            message = f"feed {motion.feed:.0f} mm/min; the feed table says {table:.0f} mm/min"
            yield standing.error("feed", message, motion, measured=motion.feed, limit=table)


def plunges(standing: Standing) -> Iterator[Finding]:
    """Straight down goes no faster than the machine's and the feed table's plunge."""
    greatest = standing.machine.motion.greatest_plunge
    if standing.feed is not None and standing.feed.plunge:
        greatest = min(greatest, standing.feed.plunge)
    for motion in standing.reading.motions:
        if motion.kind != "feed" or motion.end[2] >= motion.start[2] or motion.feed <= greatest * _SPARE:
            continue
        (x0, y0, _), (x1, y1, _) = motion.start, motion.end
        if abs(x1 - x0) <= HAIR and abs(y1 - y0) <= HAIR:
            message = f"straight down at {motion.feed:.0f} mm/min; at most {greatest:.0f} mm/min"
            yield standing.error("plunge", message, motion, measured=motion.feed, limit=greatest)
