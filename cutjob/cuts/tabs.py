"""Where bridges stay under a part: even along its outline, on gentle stretches, away from corners. mm."""

from __future__ import annotations

import math
from collections.abc import Sequence

from cutjob.cuts.cut import TabSpan
from cutjob.geometry.contour import Contour
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Arc, Line, Point, Segment
from cutjob.job.machine import Tabs

# Neighbours that turn less than this (radians, about 6 degrees) make one stretch.
_CORNER = 0.1


def place_tabs(
    path: Contour, *, cutter_radius: float, thickness: float, tabs: Tabs, part_left: bool
) -> tuple[TabSpan, ...]:
    """Return the bridges for a path run round a part, `part_left` of it or right.

    As many as the profile's spacing asks for, within its limits; as near to even spacing as gentle stretches allow.
    A stretch is gentle when nothing on it curves tighter than `gentle_radius`; where no such stretch is long enough
    the bound is halved until one is, and corners are kept clear of always. Small parts get narrower bridges.
    """
    ruler = Ruler(path.segments)
    x0, y0, x1, y1 = path.bounds
    if max(x1 - x0, y1 - y0) - 2 * cutter_radius < tabs.smallest_part:
        return ()
    count = min(max(round(ruler.length / tabs.every), tabs.least), tabs.most)
    width = min(tabs.width, max(tabs.width / 2, ruler.length / 40))
    span = width + 2 * cutter_radius
    height = min(tabs.height, thickness / 2)
    middles = _middles(ruler, count, span, tabs.gentle_radius)
    return tuple(
        TabSpan(
            first=middle - span / 2,
            last=middle + span / 2,
            height=height,
            width=width,
            at=_on_part(ruler, middle, cutter_radius, part_left),
        )
        for middle in middles
    )


def _on_part(ruler: Ruler, along: float, radius: float, part_left: bool) -> Point:
    (x, y), (dx, dy) = ruler.point(along), ruler.direction(along)
    side = radius if part_left else -radius
    return x - dy * side, y + dx * side


def _middles(ruler: Ruler, count: int, span: float, gentle_radius: float) -> list[float]:
    bound = gentle_radius
    best: list[float] = []
    while True:
        free = _free(gentle_stretches(ruler.segments, bound), span)
        chosen = _spread(free, ruler.length, count, span)
        if len(chosen) > len(best):
            best = chosen
        if len(best) == count or bound < span / 4:
            return sorted(best)
        bound /= 2


def gentle_stretches(segments: Sequence[Segment], radius: float) -> list[tuple[float, float]]:
    """Return stretches (from, to; mm along a closed chain, from within it) with no corner and no tighter curve."""
    count = len(segments)
    starts = [0.0]
    for segment in segments:
        starts.append(starts[-1] + segment.length)
    gentle = [
        isinstance(segment, Line) or (isinstance(segment, Arc) and segment.radius >= radius) for segment in segments
    ]
    breaks = [not gentle[i] or not gentle[i - 1] or _turn(segments[i - 1], segments[i]) > _CORNER for i in range(count)]
    if not any(breaks):
        return [(0.0, starts[-1])]
    stretches = []
    for i in range(count):
        if not (breaks[i] and gentle[i]):
            continue
        j = i + 1
        while not breaks[j % count]:
            j += 1
        stretches.append((starts[i], starts[j] if j <= count else starts[-1] + starts[j - count]))
    return stretches


def _turn(before: Segment, after: Segment) -> float:
    (ax, ay), (bx, by) = before.direction_at(1.0), after.direction_at(0.0)
    return abs(math.atan2(ax * by - ay * bx, ax * bx + ay * by))


def _free(stretches: list[tuple[float, float]], span: float) -> list[tuple[float, float]]:
    """Where the middle of a span may lie."""
    return [(first + span / 2, last - span / 2) for first, last in stretches if last - first >= span]


def _spread(free: list[tuple[float, float]], length: float, count: int, span: float) -> list[float]:
    chosen: list[float] = []
    for step in range(count):
        wanted = (step + 0.5) * length / count
        best: tuple[float, float] | None = None
        for low, high in free:
            for turn in (-length, 0.0, length):
                middle = min(max(wanted + turn, low), high)
                for candidate in (middle, *(_beside(other, span, wanted + turn, length) for other in chosen)):
                    if not low <= candidate <= high or any(
                        _apart(candidate, other, length) < 2 * span for other in chosen
                    ):
                        continue
                    off = abs(candidate - wanted - turn)
                    if best is None or off < best[0]:
                        best = (off, candidate)
        if best is not None:
            chosen.append(best[1])
    return chosen


def _beside(other: float, span: float, wanted: float, length: float) -> float:
    """The place nearest to `wanted` that clears an earlier tab."""
    shifted = other + round((wanted - other) / length) * length
    return shifted + (2 * span if wanted >= shifted else -2 * span)


def _apart(a: float, b: float, length: float) -> float:
    gap = abs(a - b) % length
    return min(gap, length - gap)
