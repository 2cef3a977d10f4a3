"""What a beam's power and feed make of a motion: a cut right through, or a mark. S words, mm/min."""

from __future__ import annotations

from cutjob.job.machine import Feed

POWER_ROUNDING = 0.06  # S words are written with one decimal


def is_mark(row: Feed, *, power: float, feed: float) -> bool:
    """Whether a motion with the beam at `power` marks, by the row of the feed table; else it cuts through.

    Marks have less power than cuts, or, where they have as much, a faster feed.
    """
    cut = row.power or 0.0
    mark = cut if row.mark_power is None else row.mark_power
    if mark + 2 * POWER_ROUNDING < cut:
        return power <= mark + POWER_ROUNDING
    return row.mark_feed is not None and row.mark_feed > row.feed and feed > (row.feed + row.mark_feed) / 2
