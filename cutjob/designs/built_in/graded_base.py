"""The heights of a graded stack's parts above the floor, its stops, and the outlines of its pieces. mm.

The rod runs from the underside of the base into the topper; heights are measured along it. Stops are holes for tacks in
the rod, one under each piece.

A piece's outline follows the pins of its two edges: batten curves, the same on both sides of the centre. Pins are
shares [of the half length from the centre 0 to the tip 1, of the height]. A strip's curve scales with its pins in each
direction, so one check of the shares shows for pieces of every size where the edges cross.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from shapely import Point as ShapelyPoint

from cutjob.designs.design import LEAST_WALL, BuildContext, clear
from cutjob.designs.parameter import Pin, Values
from cutjob.errors import Problem
from cutjob.geometry.batten import Batten, natural_spline
from cutjob.geometry.contour import Region, closed, rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Arc, Line, Segment
from cutjob.parts.part import HandHole, Hole, RodPart, SawnPart, ShapedPart, Stand
from cutjob.tolerances import TOLERANCES


def stop_problems(values: Values, context: BuildContext, *, gaps: Sequence[float], rod: float) -> list[Problem]:
    """Return the problems with gaps that close upwards, with `flat_from`, and with the tacks."""
    problems = []
    gap, tiers, stop = values.number("gap"), values.count("tiers"), values.number("stop")
    if values.has("top_gap") and values.number("top_gap") > gap:
        message = f"{context.length(values.number('top_gap'))} is more than the lowest gap, {context.length(gap)}"
        problems.append(context.problem("top_gap", message, f"gaps close upwards: at most {context.length(gap)}"))
    if values.has("flat_from") and values.count("flat_from") > tiers:
        message = f"there is no piece {values.count('flat_from')}"
        problems.append(context.problem("flat_from", message, f"write at most {tiers}, the top piece"))
    if not values.yes("stops"):
        return problems
    if gaps and not clear(stop, min(gaps)):
        message = f"a tack of {context.length(stop)} has no room in a gap of {context.length(min(gaps))}"
        problems.append(context.problem("stop", message, f"at most {context.at_most(min(gaps))}, or wider gaps"))
    if not clear(stop + 2 * LEAST_WALL, rod):
        message = f"a hole of {context.length(stop)} splits a rod of {context.length(rod)}"
        thinner = rod - 2 * LEAST_WALL
        fits = f"at most {context.at_most(thinner)}, or " if thinner >= 0.5 else ""
        problems.append(context.problem("stop", message, f"{fits}a thicker rod"))
    return problems


def stop_holes(
    values: Values,
    context: BuildContext,
    *,
    rod: RodPart,
    first: float,
    on_rod: Sequence[float],
    gaps: Sequence[float],
) -> list[HandHole]:
    """Return a hole for a tack under each piece; `first` is the height of the lowest piece's underside on the rod.

    A piece that lies on the base, or almost on it, needs no tack.
    """
    stop = values.number("stop")
    starts = itertools.accumulate((covered + gap for covered, gap in zip(on_rod, gaps, strict=False)), initial=first)
    return [
        HandHole(
            part=rod.name,
            diameter=stop,
            depth=rod.diameter / 2,
            note=f"for the tack under piece {place}: its centre {context.measured(height - stop / 2)} from the lower "
            "end",
        )
        for place, height in enumerate(starts, start=1)
        if place > 1 or values.number("foot") >= stop
    ]


def wood_around(region: Region, hole: Hole) -> float:
    """Return the least wood in mm between a hole's edge and the region's, negative where the hole breaks out.

    The region is taken as a polygon within the chord tolerance, which is subtracted, so that the result is never too
    large.
    """
    polygon, centre = to_polygon(region), ShapelyPoint(hole.at)
    off = float(polygon.boundary.distance(centre))
    return (off if polygon.contains(centre) else -off) - hole.diameter / 2 - TOLERANCES.chord


_SAMPLES = 2000
# Edges that meet in a point at the tip must open by at least this much per length: about 3 degrees.
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
        """True where an edge is a curve, not one straight line."""
        return not (_level(self.bottom) and _level(self.top))


@dataclass(frozen=True, slots=True, kw_only=True)
class ThinPlace:
    """A place with too little wood between the edges: its share of the half length, and the wood's
    share of the height.
    """

    along: float
    wood: float


def strip(pins: Sequence[Pin], *, half: float, height: float) -> Batten:
    """Return the strip round the pins and their mirror images, on a piece of `half` its length and `height`, mm."""
    right = [(along * half, share * height) for along, share in pins]
    return natural_spline([(-x, y) for x, y in reversed(right[1:])] + right)


def thin_places(edges: Edges, *, half: float, height: float, least: float) -> list[ThinPlace]:
    """Return the places where the top edge is less than `least` mm above the bottom edge; the worst place first.

    Edges may come together towards the tip, and meet there in a point that is not too slender.
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
    """Return the wood between the edges at equal steps, and the rate at which they close at the tip, for a 1 by 1
    piece.
    """
    bottom, top = strip(edges.bottom, half=1, height=1), strip(edges.top, half=1, height=1)
    places = (step / _SAMPLES for step in range(_SAMPLES + 1))
    return tuple(top.y(x) - bottom.y(x) for x in places), bottom.slope(1.0) - top.slope(1.0)


def piece_region(edges: Edges, *, length: float, height: float, deviation: float) -> Region:
    """Return the region of a piece, centred on x = 0, within `deviation` mm of its two strips.

    The edges run to vertical ends at the tips. The right half is fitted and mirrored, so both sides are equal.
    Raises CurveFitError where no fit is near enough to the curve.
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
    """The segment's mirror image about x = 0, from left to right like the segment."""
    (x0, y0), (x1, y1) = segment.start, segment.end
    if isinstance(segment, Line):
        return Line((-x1, y1), (-x0, y0))
    (cx, cy) = segment.centre
    return Arc((-x1, y1), (-x0, y0), (-cx, cy), segment.clockwise)


def _level(pins: tuple[Pin, ...]) -> bool:
    return all(share == pins[0][1] for _, share in pins)


# A base without a width is as wide as its board, which a design does not know. It is drawn as wide as a common picket.
_BASE_WIDTH = 140.0


def stack_stands(
    pieces: Sequence[ShapedPart],
    *,
    on_rod: Sequence[float],
    seats: Sequence[float],
    gaps: Sequence[float],
    flat: bool,
    base: Sequence[SawnPart],
    foot: float,
    rod: RodPart,
    context: BuildContext,
    topper: tuple[ShapedPart, float, float] | None,
) -> tuple[Stand, ...]:
    """Return base, rod, pieces from the lowest up, and topper, at their heights.

    Each piece covers `on_rod` of the rod, with `gaps` between. A piece on edge meets the rod `seats` above its own y =
    0. `topper` is the part, the height in its frame at which the rod enters it on edge, and the depth of the rod in it.
    """
    stands = [
        Stand(
            part=piece.name,
            outline=Region(
                rectangle(piece.length, min(piece.length, _BASE_WIDTH) if piece.width is None else piece.width)
            ),
            seen="edge",
            foot=place * context.thickness_of(piece.name, sawn=True),
            centre=piece.length / 2,
            thick=context.thickness_of(piece.name, sawn=True),
        )
        for place, piece in enumerate(base)
    ]
    rod_region = Region(rectangle(rod.diameter, rod.length))
    stands.append(
        Stand(part=rod.name, outline=rod_region, seen="face", foot=0.0, centre=rod.diameter / 2, thick=rod.diameter)
    )
    height = sum(context.thickness_of(piece.name, sawn=True) for piece in base) + foot
    for piece, covered, seat, gap in zip(pieces, on_rod, seats, (*gaps, 0.0), strict=True):
        foot_of = height if flat else height - seat
        stands.append(_on_rod(piece, foot=foot_of, flat=flat, thickness=context.thickness_of(piece.name), turns=True))
        height += covered + gap
    if topper is not None:
        part, seat, socket = topper
        top = rod.length - socket
        foot_of = top if flat else top - seat
        stands.append(_on_rod(part, foot=foot_of, flat=flat, thickness=context.thickness_of(part.name), turns=False))
    return tuple(stands)


def _on_rod(part: ShapedPart, *, foot: float, flat: bool, thickness: float, turns: bool) -> Stand:
    seen: Literal["face", "edge"] = "edge" if flat else "face"
    return Stand(part=part.name, outline=part.region, seen=seen, foot=foot, thick=thickness, turns=turns)
