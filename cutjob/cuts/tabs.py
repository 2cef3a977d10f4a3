"""Where on a path a bridge may stay: on gentle stretches, away from corners. mm along the path.

A bridge as wide as `width` on the part takes a span of the path longer by the cutter's diameter.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutjob.geometry.contour import Contour
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Line, Segment
from cutjob.job.machine import Tabs

# Neighbours that turn less than this (radians, about a degree) make one stretch. In an inside corner that slight a
# cutter leaves r t^2 / 8, under 0.001 mm for every cutter a router holds, so a bridge over it has no gap in the middle.
_CORNER = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class TabSites:
    """For one path: how many bridges are wanted, of what width and height, and where their middles may lie.

    `sites` are (mm along the path, level); level 0 is gentle by the profile, each further level half as gentle.
    """

    wanted: int
    width: float
    height: float
    span: float
    sites: tuple[tuple[float, int], ...]


def tab_sites(path: Contour, *, cutter_radius: float, thickness: float, tabs: Tabs) -> TabSites:
    """Return the sites on a path round a part. As many bridges as the spacing asks for, within the profile's limits.

    Small parts get narrower bridges, down to half the width; none stands higher than half the board.
    """
    ruler = Ruler(path.segments)
    x0, y0, x1, y1 = path.bounds
    small = max(x1 - x0, y1 - y0) - 2 * cutter_radius < tabs.smallest_part
    wanted = 0 if small else min(max(round(ruler.length / tabs.every), tabs.least), tabs.most)
    width = min(tabs.width, max(tabs.width / 2, ruler.length / 40))
    span = width + 2 * cutter_radius
    sites: dict[float, int] = {}
    bound, level = tabs.gentle_radius, 0
    # The path runs round a sharp corner on an arc of the cutter's radius: a bridge that ends on it has no clear width.
    tightest = max(span / 4, 2 * cutter_radius)
    corners = corners_of(path.segments) if wanted else []
    while wanted and bound >= tightest:
        for first, last in gentle_stretches(ruler, corners, bound):
            # Half a bridge's width stays clear of the corners and tight curves at both ends.
            clear = 0.0 if last - first >= ruler.length else span / 2 + width / 2
            for site in _spread(first + clear, last - clear, step=span / 3):
                sites.setdefault(round(site % ruler.length, 3), level)
        bound, level = bound / 2, level + 1
    return TabSites(
        wanted=wanted,
        width=width,
        height=min(tabs.height, thickness / 2),
        span=span,
        sites=tuple(sorted(sites.items())),
    )


def mirrored(plan: TabSites, *, length: float) -> TabSites:
    """Return the sites on the path of a mirrored part, which is run the other way from the same start."""
    sites = tuple(sorted(((length - site) % length, level) for site, level in plan.sites))
    return replace(plan, sites=sites)


def _spread(first: float, last: float, *, step: float) -> list[float]:
    """Places from `first` to `last` no farther apart than `step`; none when the stretch is too short."""
    if last < first:
        return []
    count = max(1, math.ceil((last - first) / step))
    return [first + (last - first) * i / count for i in range(count + 1)]


def corners_of(segments: Sequence[Segment]) -> list[bool]:
    """Return whether a closed chain turns a corner where each segment starts."""
    return [turn_between(segments[i - 1], segments[i]) > _CORNER for i in range(len(segments))]


def gentle_stretches(ruler: Ruler, corners: Sequence[bool], radius: float) -> list[tuple[float, float]]:
    """Return stretches (from, to; mm along a closed chain, from within it) with no corner and no tighter curve."""
    count = len(corners)
    gentle = [isinstance(segment, Line) or segment.radius >= radius for segment in ruler.segments]
    breaks = [corners[i] or not gentle[i] or not gentle[i - 1] for i in range(count)]
    if not any(breaks):
        return [(0.0, ruler.length)]
    stretches = []
    for i in range(count):
        if not (breaks[i] and gentle[i]):
            continue
        j = i + 1
        while not breaks[j % count]:
            j += 1
        last = ruler.start_of(j) if j <= count else ruler.length + ruler.start_of(j - count)
        stretches.append((ruler.start_of(i), last))
    return stretches


def turn_between(before: Segment, after: Segment) -> float:
    """Return the angle by which a chain turns from one segment to the next, radians, 0 to pi."""
    (ax, ay), (bx, by) = before.direction_at(1.0), after.direction_at(0.0)
    return abs(math.atan2(ax * by - ay * bx, ax * bx + ay * by))


def choose_sites(
    sites: Sequence[tuple[float, int]], *, length: float, wanted: int, apart: float, taken: Sequence[float]
) -> list[float]:
    """Return up to `wanted` sites as evenly spread as they allow, gentle ones first, `apart` from all `taken`."""
    chosen: list[float] = []
    for step in range(wanted):
        ideal = (step + 0.5) * length / wanted
        free = [
            (level, way(site, ideal, length), site)
            for site, level in sites
            if all(way(site, other, length) >= apart for other in (*chosen, *taken))
        ]
        if free:
            chosen.append(min(free)[2])
    return sorted(chosen)


def way(a: float, b: float, length: float) -> float:
    """Return the shorter way round a closed path between two places on it."""
    gap = abs(a - b) % length
    return min(gap, length - gap)
