"""A piece's outline from the pins of its two edges: batten curves, the same on both sides of the centre.

Pins are shares [of the half length from the centre 0 to the tip 1, of the height]. A strip's curve scales with its
pins in each direction, so one look at the shares tells for pieces of every size where the edges cross.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from cutjob.designs.parameter import Pin
from cutjob.geometry.batten import Batten, natural_spline
from cutjob.geometry.contour import Region, closed
from cutjob.geometry.segment import Arc, Line, Segment

_SAMPLES = 2000
# A tip that comes to a point needs edges that still part by this much per length: about 3 degrees.
_LEAST_POINT_SLOPE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """The pins of the bottom and of the top edge."""

    bottom: tuple[Pin, ...]
    top: tuple[Pin, ...]

    @property
    def at_centre(self) -> Pin:
        """Bottom and top on the centre line, shares of the height."""
        return self.bottom[0][1], self.top[0][1]

    @property
    def curved(self) -> bool:
        """True when an edge is a curve and not one straight line."""
        return not (_level(self.bottom) and _level(self.top))


@dataclass(frozen=True, slots=True, kw_only=True)
class ThinPlace:
    """Where the edges leave too little wood: share of the half length, and the wood as a share of the height."""

    along: float
    wood: float


def strip(pins: Sequence[Pin], *, half: float, height: float) -> Batten:
    """Return the strip round the pins and their mirror images, on a piece of `half` its length and `height`, mm."""
    right = [(along * half, share * height) for along, share in pins]
    return natural_spline([(-x, y) for x, y in reversed(right[1:])] + right)


def thin_places(edges: Edges, *, half: float, height: float, least: float) -> list[ThinPlace]:
    """Return where the top comes nearer to the bottom than `least` mm, or falls below it; the worst place first.

    Edges may draw together towards the tip, and meet there in a point that is not too slender.
    """
    wood, closing = _wood(edges)
    thin = [
        ThinPlace(along=i / _SAMPLES, wood=wood[i])
        for i in range(_SAMPLES)
        if wood[i] * height < least and wood[i] <= wood[i + 1] and (i == 0 or wood[i] <= wood[i - 1])
    ]
    tip = ThinPlace(along=1.0, wood=wood[-1])
    opening = closing * height / half
    if wood[-1] < 0 or (wood[-1] * height < least and opening < _LEAST_POINT_SLOPE and not thin):
        thin.append(tip)
    return sorted(thin, key=lambda place: place.wood)


@lru_cache(maxsize=32)
def _wood(edges: Edges) -> tuple[tuple[float, ...], float]:
    """Return the wood between the edges at equal steps, and how fast they close at the tip, for a piece of 1 by 1."""
    bottom, top = strip(edges.bottom, half=1, height=1), strip(edges.top, half=1, height=1)
    places = (step / _SAMPLES for step in range(_SAMPLES + 1))
    return tuple(top.y(x) - bottom.y(x) for x in places), bottom.slope(1.0) - top.slope(1.0)


def piece_region(edges: Edges, *, length: float, height: float, deviation: float) -> Region:
    """Return the region of a piece, centred on x = 0, within `deviation` mm of its two strips.

    The edges run to upright ends at the tips. The right half is fitted and mirrored, so both sides are equal.
    Raises CurveFitError where the curve can't be met.
    """
    half = length / 2
    bottom = _edge(edges.bottom, half=half, height=height, deviation=deviation)
    top = _edge(edges.top, half=half, height=height, deviation=deviation)
    top_back = [segment.reversed() for segment in reversed(top)]
    right = Line(bottom[-1].end, top_back[0].start)
    left = Line(top_back[-1].end, bottom[0].start)
    return Region(closed([*bottom, right, *top_back, left]))


def _edge(pins: tuple[Pin, ...], *, half: float, height: float, deviation: float) -> list[Segment]:
    if _level(pins):
        level = pins[0][1] * height
        return [Line((-half, level), (half, level))]
    right = strip(pins, half=half, height=height).segments(0.0, half, deviation=deviation)
    return [*(_mirrored(segment) for segment in reversed(right)), *right]


def _mirrored(segment: Segment) -> Segment:
    """The segment's mirror image about x = 0, run from left to right like the segment."""
    (x0, y0), (x1, y1) = segment.start, segment.end
    if isinstance(segment, Line):
        return Line((-x1, y1), (-x0, y0))
    (cx, cy) = segment.centre
    return Arc((-x1, y1), (-x0, y0), (-cx, cy), segment.clockwise)


def _level(pins: tuple[Pin, ...]) -> bool:
    return all(share == pins[0][1] for _, share in pins)
