"""Moves along a path that fall evenly, and rise over tabs. mm; Z 0 is the stock's top and negative below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutjob.cuts.cut import TabSpan
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Arc, Point, Segment
from cutjob.program.moves import Move
from cutjob.program.setting import Setting
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class _Stretch:
    """From one length along the path to another; the cutter stays at or above `floor` (None: no tab here)."""

    first: float
    last: float
    floor: float | None


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

    Over a tab the cutter is lifted straight up to its top, and goes straight down again behind it. A walk that starts
    or ends over a tab does so on top of it: `now` is where the cutter really is before the first move (None: at
    `z_first`).
    """
    moves: list[Move] = []
    z = z_first if now is None else now
    for stretch in _stretches(ruler, first, last, tabs, setting.stack_height):
        begin, end = (
            _height(stretch.first, first, last, z_first, z_last),
            _height(stretch.last, first, last, z_first, z_last),
        )
        if stretch.floor is not None:
            begin, end = max(begin, stretch.floor), max(end, stretch.floor)
        if abs(begin - z) > TOLERANCES.same_point:
            x, y = ruler.point(stretch.first)
            moves.append(Move("plunge", x, y, begin, setting.plunge if begin < z else setting.lift))
        moves.extend(_slope(ruler.piece(stretch.first, stretch.last), begin, end, setting))
        z = end
    return moves


def _height(along: float, first: float, last: float, z_first: float, z_last: float) -> float:
    return z_first if last == first else z_first + (z_last - z_first) * (along - first) / (last - first)


def _slope(pieces: Sequence[Segment], z_first: float, z_last: float, setting: Setting) -> list[Move]:
    total = sum(piece.length for piece in pieces)
    sloping = abs(z_last - z_first) > TOLERANCES.same_point
    done = 0.0
    moves = []
    for piece in pieces:
        done += piece.length
        z = z_first + (z_last - z_first) * done / total if sloping else z_last
        moves.append(segment_move(piece, z, feed=setting.ramp_feed if sloping else setting.feed))
    return moves


def _stretches(ruler: Ruler, first: float, last: float, tabs: Sequence[TabSpan], stack_height: float) -> list[_Stretch]:
    """Cut the way from `first` to `last` at the ends of the tabs, which come again on every round."""
    spans = []
    for tab in tabs:
        turn = (first - tab.last) // ruler.length * ruler.length
        while tab.first + turn < last:
            if tab.last + turn > first:
                spans.append(
                    _Stretch(max(tab.first + turn, first), min(tab.last + turn, last), tab.height - stack_height)
                )
            turn += ruler.length
    found: list[_Stretch] = []
    here = first
    for span in sorted(spans, key=lambda span: span.first):
        if span.first - here > TOLERANCES.same_point:
            found.append(_Stretch(here, span.first, None))
        found.append(span)
        here = span.last
    if last - here > TOLERANCES.same_point:
        found.append(_Stretch(here, last, None))
    return found


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
