"""Boards longer than the machine's bed: the windows they are cut in, and places for the pins between two windows.

The x extents of the cuts for each placement go in, windows from left to right come out. mm, along the board.

The fewest windows: a window is an interval as long as the bed, so it holds a span from `lo` to `hi` exactly when it
starts in [hi - bed, lo]. A set of windows is a set of starts such that each of these ranges holds one. A placement that
must be cut before another may start no later than it, so ranges are first narrowed to fit this order. Starts are then
taken from the left, each the least upper end of a range that holds none yet. Those ranges lie apart (the next one
begins beyond the start taken before), so no choice has fewer starts than there are such ranges; and that is how many
were taken. The order holds too: a placement that is cut first has a range whose ends are no further right, so the first
start in it is no later.

All choices with this few: the first start is no more than the least upper end, each next one no more than the least
upper end of the ranges that begin beyond the start before, and the last no less than the greatest lower end. These
limits grow with the starts, so taking every start as far right as possible shows whether an end can be reached.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from cutjob.geometry.segment import Point
from cutjob.layout.layout import Window
from cutjob.tolerances import TOLERANCES

_HALVINGS = 60  # of a greatest slide: below a nanometre on any board
_ROUNDING = 1e-12  # share added so that equal slides reach the end in spite of the rounding of floats
_QUADS = 16  # chords of a quarter turn
_FAR = 0.9  # two pins are at least this share of the greatest distance apart, and as roomy as that allows
_ROOM_STEP = 0.05  # mm: how exactly the room of a pin is found

_Range = tuple[float, float]


def choose_windows(
    spans: Sequence[_Range], *, bed: float, board: _Range, before: Sequence[Collection[int]] = ()
) -> tuple[Window, ...]:
    """Return the fewest windows, left to right, that hold every span whole; each placement is in the first one
    possible.

    `spans[i]` is everything the cutter reaches for placement i along x; it may stick out over the ends of the `board`.
    No placement of `before[i]` is in a later window than i. The machine's travel is `bed` long. Where spans stick out
    over the left end by some length, the travel of every window begins that length left of its `first`, so that the
    zero stays where it is on the machine while the board is slid.

    Among the ways with the fewest windows: the first begins at the board's left end if it can, else as near as
    possible; the last ends at the board's right end in the same way; and the greatest slide is as small as possible,
    which makes the least overlap of two windows as large as possible. Raises ValueError for a span longer than the bed,
    and for an order that no windows from left to right keep.
    """
    ranges = _narrowed(_ranges(spans, bed), spans, before)
    if not ranges:
        return ()
    over = max(0.0, board[0] - min(lo for lo, _ in spans))
    starts = _spread(ranges, left=board[0] - over, right=board[1] - bed)
    held: list[list[int]] = [[] for _ in starts]
    for index, (low, _) in enumerate(ranges):
        held[next(number for number, start in enumerate(starts) if start >= low)].append(index)
    return tuple(
        Window(first=start + over, last=min(start + bed, board[1]), placements=tuple(placements))
        for start, placements in zip(starts, held, strict=True)
    )


def slides(windows: Sequence[Window]) -> tuple[float, ...]:
    """Return how far the board is slid towards its left end before each window after the first, mm."""
    return tuple(following.first - window.first for window, following in pairwise(windows))


def _ranges(spans: Sequence[_Range], bed: float) -> list[_Range]:
    """For each span the starts of a window that holds it."""
    for index, (lo, hi) in enumerate(spans):
        if hi - lo > bed + TOLERANCES.same_point:
            raise ValueError(f"placement {index} is cut over {hi - lo:.3f} mm; the bed is {bed:.3f} mm long")
    return [(min(hi - bed, lo), lo) for lo, hi in spans]


def _narrowed(ranges: list[_Range], spans: Sequence[_Range], before: Sequence[Collection[int]]) -> list[_Range]:
    """The ranges without the starts that no window can have if it keeps to the order."""
    if len(before) not in (0, len(ranges)):
        raise ValueError(f"{len(before)} entries of what is cut before, for {len(ranges)} placements")
    pairs = [(first, then) for then, earlier in enumerate(before) for first in earlier]
    lows, highs = [low for low, _ in ranges], [high for _, high in ranges]
    changed = True
    while changed:  # this ends: each round moves a low or a high to another of finitely many, always in one direction
        changed = False
        for first, then in pairs:
            if lows[then] < lows[first]:
                lows[then], changed = lows[first], True
            if highs[first] > highs[then]:
                highs[first], changed = highs[then], True
    for index, (low, high) in enumerate(zip(lows, highs, strict=True)):
        if low > high:
            lo, hi = spans[index]
            raise ValueError(
                f"placement {index}, cut from {lo:.3f} to {hi:.3f} mm, can't be in one window and keep to the order: "
                f"a placement cut before it is further right than the bed is long, or one cut after it further left"
            )
    return list(zip(lows, highs, strict=True))


def _spread(ranges: Sequence[_Range], *, left: float, right: float) -> list[float]:
    """The fewest starts: the first as near to `left` and the last as near to `right` as possible, with even slides."""
    count, latest = 0, -math.inf
    least = _limit(ranges, latest)
    while (latest := _limit(ranges, latest)) < math.inf:
        count += 1
    earliest = max(low for low, _ in ranges)
    for _ in range(count - 1):
        earliest = max(low for low, high in ranges if high < earliest)
    first = min(max(left, earliest), least)
    if count == 1:
        return [first if first == left else min(max(right, earliest), least)]
    furthest = _starts(ranges, first, count, slide=math.inf, end=math.inf)[-1]
    end = min(max(right, max(low for low, _ in ranges)), furthest)
    short, far = 0.0, end - first
    even = far / (count - 1) * (1 + _ROUNDING)
    if _starts(ranges, first, count, slide=even, end=end)[-1] >= end:
        far = even
    else:
        short = even
        for _ in range(_HALVINGS):
            middle = (short + far) / 2
            if _starts(ranges, first, count, slide=middle, end=end)[-1] >= end:
                far = middle
            else:
                short = middle
    return [*_starts(ranges, first, count, slide=far, end=end)[:-1], end]


def _limit(ranges: Sequence[_Range], start: float) -> float:
    """How far right the start after `start` may be."""
    return min((high for low, high in ranges if low > start), default=math.inf)


def _starts(ranges: Sequence[_Range], first: float, count: int, *, slide: float, end: float) -> list[float]:
    """`count` starts, each as far right as the ranges, the greatest `slide` and the `end` allow."""
    starts = [first]
    for _ in range(count - 1):
        starts.append(min(_limit(ranges, starts[-1]), starts[-1] + slide, end))
    return starts


def pin_places(
    layout_waste: shapely.Geometry, window: Window, following: Window, *, diameter: float, wall: float
) -> tuple[Point, Point] | None:
    """Return places for two pins in waste that is in both windows, the left one first, or None.

    Each has at least `wall` mm of waste round its hole, within both windows. The further apart two pins are, the less
    the board turns by their play. These are at least 0.9 times as far apart as any two places are; among such pairs
    they have the greatest least room, to 0.05 mm. None is returned too where two holes would have less than `wall`
    between them.
    """
    x0, y0, x1, y1 = (float(value) for value in shapely.bounds(layout_waste))
    first, last = max(x0, following.first, window.first), min(x1, window.last, following.last)
    if not first < last:  # NaN for waste that is empty
        return None
    with np.errstate(all="ignore"):  # GEOS divides by zero at times, and copes
        area = shapely.intersection(layout_waste, shapely.box(first, y0, last, y1))
        return _roomy_pair(area, needed=diameter / 2 + wall, least=diameter + wall)


def _roomy_pair(area: shapely.Geometry, *, needed: float, least: float) -> tuple[Point, Point] | None:
    """Two places `needed` or more inside an area, `least` or more apart."""
    best = _furthest_pair(_eroded(area, needed))
    if best is None or math.dist(*best) < least:
        return None
    wanted = max(_FAR * math.dist(*best), least)
    _, y0, _, y1 = (float(value) for value in shapely.bounds(area))
    enough, too_much = 0.0, (y1 - y0) / 2
    while too_much - enough > _ROOM_STEP:
        middle = (enough + too_much) / 2
        found = _furthest_pair(_eroded(area, needed + middle))
        if found is not None and math.dist(*found) >= wanted:
            enough, best = middle, found
        else:
            too_much = middle
    return best


def _eroded(area: shapely.Geometry, reach: float) -> shapely.Geometry:
    """The part of an area that is `reach` or more inside it. Its arcs are tangents: chords would come nearer."""
    return shapely.buffer(area, -(reach + TOLERANCES.same_point) / math.cos(math.pi / (4 * _QUADS)), quad_segs=_QUADS)


def _furthest_pair(area: shapely.Geometry) -> tuple[Point, Point] | None:
    """The two points of an area that lie furthest apart: corners of its hull."""
    corners: NDArray[np.float64] = shapely.get_coordinates(shapely.convex_hull(area))
    if not len(corners):
        return None
    apart = np.hypot(*(corners[:, None] - corners[None]).T)
    one, other = np.unravel_index(int(np.argmax(apart)), apart.shape)
    (x0, y0), (x1, y1) = sorted((float(x), float(y)) for x, y in (corners[one], corners[other]))
    return (x0, y0), (x1, y1)
