"""Moves along a path that fall evenly, rise over tabs, and go over whole bridges through the air.

mm; Z is 0 at the stock's top and negative below.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from cutjob.cuts.cut import TabSpan
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Arc, Point, Segment
from cutjob.program.moves import Move
from cutjob.program.setting import Setting
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class _Stretch:
    """From one length along the path to another, from one height to another; `tab` where a bridge lifts the cutter."""

    first: float
    last: float
    begin: float
    end: float
    tab: bool


def segment_move(segment: Segment, z: float, *, feed: float, power: float = 0.0) -> Move:
    """Return the cutting move along a segment that ends at height `z`."""
    x, y = segment.end
    if isinstance(segment, Arc):
        return Move("cut", x, y, z, feed, segment.centre, segment.clockwise, power)
    return Move("cut", x, y, z, feed, power=power)


def walk(
    ruler: Ruler,
    first: float,
    last: float,
    z_first: float,
    z_last: float,
    *,
    now: float | None = None,
    tabs: Sequence[TabSpan],
    setting: Setting,
) -> list[Move]:
    """Return the moves from `first` to `last` mm along a path while Z goes evenly from `z_first` to `z_last`.

    Over a tab the cutter stays on the tab's top. It gets there and leaves along the tab's ramps, or straight up and
    down where there are none. Over a bridge as high as the stack it goes through the air, straight from one end to the
    other. A walk that starts or ends over a tab does so on top of it, or in the air: `now` is the cutter's real height
    before the first move (None: `z_first`).
    """
    whole = [tab for tab in tabs if tab.is_whole(setting.stack_height)]
    low = [tab for tab in tabs if not tab.is_whole(setting.stack_height)]

    def line(along: float) -> float:
        return z_first if last == first else z_first + (z_last - z_first) * (along - first) / (last - first)

    moves: list[Move] = []
    z = z_first if now is None else now
    done = first
    for begin, end in [*crossings(ruler.length, first, last, whole), (last, last)]:
        moves += _along(ruler, (done, begin), (line(done), line(begin)), z, low, setting)
        z = moves[-1].z if moves else z
        if end > begin:
            here = (moves[-1].x, moves[-1].y) if moves else ruler.point(begin)
            moves += _across(here, ruler.point(end), z, setting)
            z = setting.safe_z
        done = end
    return moves


def _along(
    ruler: Ruler,
    ends: tuple[float, float],
    heights: tuple[float, float],
    now: float,
    tabs: Sequence[TabSpan],
    setting: Setting,
) -> list[Move]:
    """The moves of a walk between two whole bridges, from height `now`, which may be in the air."""
    moves: list[Move] = []
    z = now
    for stretch in _stretches(ruler, *ends, *heights, tabs, setting.stack_height):
        x, y = ruler.point(stretch.first)
        if z > setting.approach_z + TOLERANCES.same_point:
            z = setting.approach_z
            moves.append(Move("rapid", x, y, z))
        if abs(stretch.begin - z) > TOLERANCES.same_point:
            feed = setting.plunge if stretch.begin < z else setting.lift
            moves.append(Move("plunge", x, y, stretch.begin, feed))
        moves.extend(_slope(ruler.piece(stretch.first, stretch.last), stretch.begin, stretch.end, setting))
        z = stretch.end
    return moves


def crossings(length: float, first: float, last: float, tabs: Sequence[TabSpan]) -> list[tuple[float, float]]:
    """Return the stretches (from, to) of a walk that the given tabs cover, on every round: in order, never overlapping,
    none beyond the walk's ends. `length` is once round the closed path.
    """
    found: list[tuple[float, float]] = []
    for tab in tabs:
        turn = (first - tab.last) // length * length
        while tab.first + turn < last - TOLERANCES.same_point:
            if tab.last + turn > first + TOLERANCES.same_point:
                found.append((max(first, tab.first + turn), min(last, tab.last + turn)))
            turn += length
    merged: list[tuple[float, float]] = []
    for begin, end in sorted(found):
        if merged and begin <= merged[-1][1] + TOLERANCES.same_point:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end))
        else:
            merged.append((begin, end))
    return merged


def _across(begin: Point, end: Point, z: float, setting: Setting) -> list[Move]:
    """Rapids straight up from height `z`, if not in the air already, and over to another place."""
    up = [Move("rapid", *begin, setting.safe_z)] if z < setting.safe_z - TOLERANCES.same_point else []
    return [*up, Move("rapid", *end, setting.safe_z)]


def _slope(pieces: Sequence[Segment], z_first: float, z_last: float, setting: Setting) -> list[Move]:
    total = sum(piece.length for piece in pieces)
    sloping = abs(z_last - z_first) > TOLERANCES.same_point
    feed = setting.slope_feed(total, z_last - z_first)
    done = 0.0
    moves = []
    for piece in pieces:
        done += piece.length
        z = z_first + (z_last - z_first) * done / total if sloping else z_last
        moves.append(segment_move(piece, z, feed=feed))
    return moves


@dataclass(frozen=True, slots=True)
class _Bridge:
    """A tab where the walk meets it: its ramps and level top, by length along the walk, and its height."""

    foot: float
    first: float
    last: float
    end: float
    floor: float
    low: float

    def at(self, along: float) -> float:
        """The height of the tab and its ramps at a place strictly between two of their ends."""
        if self.first <= along <= self.last:
            return self.floor
        if self.foot < along < self.first:
            return self.low + (self.floor - self.low) * (along - self.foot) / (self.first - self.foot)
        if self.last < along < self.end:
            return self.low + (self.floor - self.low) * (self.end - along) / (self.end - self.last)
        return -math.inf


def _stretches(
    ruler: Ruler,
    first: float,
    last: float,
    z_first: float,
    z_last: float,
    tabs: Sequence[TabSpan],
    stack_height: float,
) -> list[_Stretch]:
    """The walk in stretches of even slope, at the higher of the line from `z_first` to `z_last` and the bridges."""
    bridges = list(_bridges(ruler.length, first, last, tabs, stack_height, min(z_first, z_last)))

    def line(along: float) -> float:
        return z_first if last == first else z_first + (z_last - z_first) * (along - first) / (last - first)

    ends = sorted(
        {first, last, *(min(max(each, first), last) for b in bridges for each in (b.foot, b.first, b.last, b.end))}
    )
    found: list[_Stretch] = []
    for a, b in itertools.pairwise(ends):
        if b - a <= TOLERANCES.same_point and b != last:
            continue
        middle = (a + b) / 2
        bridge = max(bridges, key=lambda one: one.at(middle), default=None)
        if bridge is None or bridge.at(middle) == -math.inf:
            found.append(_Stretch(a, b, line(a), line(b), False))
            continue
        # Both are straight here; where they cross, the higher changes.
        step = 1e-3
        rise = (bridge.at(middle + (b - a) * step) - bridge.at(middle - (b - a) * step)) / (2 * step)
        over_a = bridge.at(middle) - rise / 2 - line(a)
        over_b = bridge.at(middle) + rise / 2 - line(b)
        cuts = [a, b]
        if over_a * over_b < 0:
            cuts = [a, a + (b - a) * over_a / (over_a - over_b), b]
        for begin, end in itertools.pairwise(cuts):
            share = ((begin + end) / 2 - a) / (b - a)
            lifted = over_a + (over_b - over_a) * share > 0
            heights = [line(x) + (max(0.0, over_a + (over_b - over_a) * (x - a) / (b - a)) if lifted else 0.0)
                       for x in (begin, end)]  # fmt: skip
            found.append(_Stretch(begin, end, heights[0], heights[1], lifted))
    return _merged(found)


def _merged(stretches: Sequence[_Stretch]) -> list[_Stretch]:
    """Join neighbouring stretches that no bridge lifts."""
    merged: list[_Stretch] = []
    for one in stretches:
        before = merged[-1] if merged else None
        if before is not None and not before.tab and not one.tab:
            merged[-1] = _Stretch(before.first, one.last, before.begin, one.end, False)
        else:
            merged.append(one)
    return merged


def _bridges(
    length: float, first: float, last: float, tabs: Sequence[TabSpan], stack_height: float, lowest: float
) -> Iterator[_Bridge]:
    """The tabs where the walk meets them, on every round."""
    for tab in tabs:
        floor = tab.height - stack_height
        # The ramp falls from the tab's top to the deepest the walk goes, at the slope of the whole run.
        low = min(lowest, floor)
        turn = (first - tab.last - tab.run) // length * length
        while tab.first - tab.run + turn < last:
            if tab.last + tab.run + turn > first:
                yield _Bridge(
                    foot=tab.first - tab.run + turn,
                    first=tab.first + turn,
                    last=tab.last + turn,
                    end=tab.last + tab.run + turn,
                    floor=floor,
                    low=low,
                )
            turn += length


def rapid_over(point: Point, setting: Setting) -> list[Move]:
    """Return the air move to above a point, and on a router the rapid down to just above the stock."""
    x, y = point
    moves = [Move("rapid", x, y, setting.safe_z)]
    if not setting.laser and setting.approach_z < setting.safe_z:
        moves.append(Move("rapid", x, y, setting.approach_z))
    return moves


def lift_off(moves: Sequence[Move], setting: Setting) -> list[Move]:
    """Return the rapid straight up from where `moves` end; none for a beam."""
    if setting.laser:
        return []
    return [Move("rapid", moves[-1].x, moves[-1].y, setting.safe_z)]


def spiral(ruler: Ruler, z: float, depth: float, pitch: float, setting: Setting) -> list[Move]:
    """Return the moves round and round a closed path, down from height `z` to -`depth`, at most `pitch` mm a turn.

    They end where they start, so that a full turn at the depth can follow. A narrow bore goes down steeper than a ramp;
    its feed is then lower, so that the cutter sinks no faster than it plunges.
    """
    turns = max(1, math.ceil((z + depth) / pitch - 1e-9))
    return walk(ruler, 0.0, turns * ruler.length, z, -depth, tabs=(), setting=setting)
