"""Where on a path a bridge may stay: on gentle stretches, away from corners, holes and end grain. mm along the path.

A bridge that is `width` wide on the part takes a span of the path longer by the cutter's diameter.

Also the weight of a part, near enough for the number of its tabs.
"""

from __future__ import annotations

import importlib.resources
import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import shapely
from numpy.typing import NDArray

from cutjob.cuts.cut import LoopCut, TabSpan
from cutjob.geometry.contour import Contour
from cutjob.geometry.nearest import NearestSegment
from cutjob.geometry.offset import offset
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Line, Point, Segment
from cutjob.job.machine import Tabs
from cutjob.parts.part import ShapedPart
from cutjob.remembered import remembered
from cutjob.tolerances import TOLERANCES


def part_grams(*, area: float, thickness: float, material: str) -> float:
    """Return the weight in grams of a part of `area` mm2, `thickness` mm thick; woods.toml holds the densities."""
    densities = _densities()
    return area * thickness * densities.get(material, densities["other"]) * 1e-6


@cache
def _densities() -> dict[str, float]:
    text = importlib.resources.files("cutjob.cuts").joinpath("woods.toml").read_text(encoding="utf-8")
    return {name: float(value) for name, value in tomllib.loads(text).items()}


Floats = NDArray[np.float64]

# Neighbours that turn less than this (radians, about a degree) make one stretch. In such a slight inside corner a
# cutter leaves r t^2 / 8, under 0.001 mm for every cutter a router holds, so a bridge over it has no gap in the middle.
_CORNER = 0.02
# Where there is no other place, a bridge may lie over corners that turn up to this (about three degrees).
_SLIGHT = 0.05
# An edge whose direction has less than this share along the grain (60 degrees off it and more) is end grain.
_END_GRAIN = 0.5
# With sites on this many of a path's eighths a part finds bridges on all sides.
_ENOUGH, _SEVERAL = 5, 3
# Ramps need an edge whose radius is at least this many cutter radii: there they are as long on the part as on the path.
_EVEN = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TabSites:
    """For one path: how many bridges are wanted, of what width and height, and where their middles may lie.

    `sites` are (mm along the path, level). Level 0 is gentle by the profile, each further level half as gentle. Near a
    hole, or where the edge runs across the grain so that the end could split off, the level is higher. With `by_hand`
    the sites are those the job wants, or as near as corners allow, as far as they fit. At `ramped` sites there is room
    for the cutter to rise onto a bridge within `run` mm, and to leave it so. At others it goes straight up and down;
    these have a higher level where there are ramps.
    """

    wanted: int
    width: float
    height: float
    span: float
    sites: tuple[tuple[float, int], ...]
    by_hand: bool = False
    run: float = 0.0
    ramped: frozenset[float] = frozenset()


def tab_sites(
    path: Contour,
    *,
    part: ShapedPart,
    cutter_radius: float,
    thickness: float,
    material: str,
    tabs: Tabs,
    overcut: float = 0.0,
    area: float | None = None,
    of_plug: bool = False,
) -> TabSites:
    """Return the sites on a path round a part, in the part's frame, `cutter_radius` away from its outline; or with
    `of_plug` on a path inside one of its openings, whose waste must stay joined to the part.

    There are as many bridges as its length or its weight (of `area` mm2, by default the part's) asks for, whichever is
    more, within the profile's limits. Where the part has places by hand, only those on its outline are used. Small
    parts get narrower bridges, down to half the width; none is higher than half the board. Ramps rise from `overcut`
    below the board.
    """
    ruler = Ruler(path.segments)
    grams = part_grams(area=part.region.area if area is None else area, thickness=thickness, material=material)
    asked = max(round(ruler.length / tabs.every), round(grams / tabs.grams_each), tabs.least)
    wanted = min(asked, tabs.most)
    width = min(tabs.width, max(tabs.width / 2, ruler.length / 40))
    span = width + 2 * cutter_radius
    height = min(tabs.height, thickness / 2)
    # Round a sharp corner the path is an arc of the cutter's radius: a bridge that ends on it has no clear width.
    tightest = max(span / 4, 2 * cutter_radius)
    corners = corners_of(path.segments)
    if part.tab_places and not of_plug:
        by_hand = _sites_by_hand(part.tab_places, ruler, gentle_stretches(ruler, corners, tightest), span, width)
        by_hand = _off_pockets(by_hand, ruler, part, deepest=thickness - height, near=span / 2 + 2 * cutter_radius)
        return TabSites(
            wanted=len(part.tab_places),
            width=width,
            height=height,
            span=span,
            sites=tuple((along, 0) for along in by_hand),
            by_hand=True,
        )
    sites: dict[float, int] = {}
    # Where edges are too short for bridges on all sides of the part, narrower bridges may find places on more sides.
    for narrower in dict.fromkeys((width, max(width * 3 / 4, tabs.width / 2), tabs.width / 2)):
        span_there = narrower + 2 * cutter_radius
        there = _sites_of(ruler, path, narrower, span_there, gentle=tabs.gentle_radius, cutter_radius=cutter_radius)
        near = span_there / 2 + 2 * cutter_radius
        kept = _off_pockets(list(there), ruler, part, deepest=thickness - height, near=near)
        if not sites or _stretches_with(kept, ruler.length) > _stretches_with(list(sites), ruler.length):
            sites, width, span = {site: there[site] for site in kept}, narrower, span_there
        if _stretches_with(list(sites), ruler.length) >= _ENOUGH:
            break
    run = 0.0 if tabs.ramp_degrees is None else (height + overcut) / math.tan(math.radians(tabs.ramp_degrees))
    even = gentle_stretches(ruler, corners, max(tabs.gentle_radius, _EVEN * cutter_radius)) if run and sites else []
    clear = span / 2 + width / 2 + run
    ramped = frozenset(site for site in sites if _has_room(site, even, clear, ruler.length))
    sites = {site: at + (bool(ramped) and site not in ramped) for site, at in sites.items()}
    return TabSites(
        wanted=wanted,
        width=width,
        height=height,
        span=span,
        sites=_weighed(sites, ruler, part, span=span, away=cutter_radius, of_plug=of_plug),
        run=run,
        ramped=ramped,
    )


@remembered(most=2048)
def leaves_room(outline: Contour, *, tabs: Tabs, cutter_radius: float) -> bool:
    """Whether bridges, narrow ones if need be, find places on several sides of a part that a cutter goes round."""
    paths = sorted(offset(outline, cutter_radius), key=lambda path: -abs(path.signed_area))
    if not paths:
        return False
    width, ruler = tabs.width / 2, Ruler(paths[0].segments)
    span = width + 2 * cutter_radius
    sites = _sites_of(ruler, paths[0], width, span, gentle=tabs.gentle_radius, cutter_radius=cutter_radius)
    return _stretches_with(list(sites), ruler.length) >= _SEVERAL


def _sites_of(
    ruler: Ruler, path: Contour, width: float, span: float, *, gentle: float, cutter_radius: float
) -> dict[float, int]:
    """Where bridges of a width may lie on a path, and at which level."""
    sites: dict[float, int] = {}
    for level, (bound, turned) in enumerate(_bounds(gentle, max(span / 4, 2 * cutter_radius))):
        for first, last in gentle_stretches(ruler, corners_of(path.segments, more_than=turned), bound):
            # Half a bridge's width stays clear of the corners and tight curves at both ends.
            clear = 0.0 if last - first >= ruler.length else span / 2 + width / 2
            for site in _spread(first + clear, last - clear, step=span / 3):
                sites.setdefault(round(site % ruler.length, 3), level)
    return sites


def _stretches_with(sites: list[float], length: float) -> int:
    """How many of the eighths of a path have sites."""
    return len({int(site / length * 8) % 8 for site in sites})


def _bounds(gentle: float, tightest: float) -> list[tuple[float, float]]:
    """Pairs of the least radius and the greatest turn of a stretch, from the gentlest to the worst that will do."""
    bounds = []
    while gentle > tightest:
        bounds.append((gentle, _CORNER))
        gentle /= 2
    return [*bounds, (tightest, _CORNER), (tightest, _SLIGHT)]


def _off_pockets(sites: list[float], ruler: Ruler, part: ShapedPart, *, deepest: float, near: float) -> list[float]:
    """The sites without those within `near` of a pocket more than `deepest` mm deep. Such a pocket may run out over the
    edge and would take the top off a bridge there.
    """
    floors = [to_polygon(pocket.region) for pocket in part.pockets if pocket.depth > deepest]
    if not floors or not sites:
        return sites
    points = shapely.points(ruler.places(sites)[0])
    taken = shapely.dwithin(points, shapely.union_all(floors), near)
    return [site for site, gone in zip(sites, np.atleast_1d(taken).tolist(), strict=True) if not gone]


def _sites_by_hand(
    places: Sequence[Point], ruler: Ruler, stretches: Sequence[tuple[float, float]], span: float, width: float
) -> list[float]:
    """The sites on a path for the bridges the job wants at `places`: each at the nearest place with room for a bridge,
    clear of corners and a bridge's width from the others. Bridges that find no place near enough are left out.
    """
    near = NearestSegment(ruler.segments)
    chosen: list[float] = []
    for wanted in (along_nearest(near, ruler, place) for place in places):
        found: list[tuple[float, float]] = []
        for first, last in stretches:
            clear = 0.0 if last - first >= ruler.length else span / 2 + width / 2
            if last - first < 2 * clear:
                continue
            low, high = first + clear, last - clear
            nearest = [wanted] if (wanted - low) % ruler.length <= high - low else [low, high]
            found += [(way(place, wanted, ruler.length), place % ruler.length) for place in nearest]
        if found and all(way(min(found)[1], other, ruler.length) >= span + width for other in chosen):
            chosen.append(min(found)[1])
    return sorted(chosen)


def _has_room(site: float, stretches: Sequence[tuple[float, float]], clear: float, length: float) -> bool:
    """Whether a stretch reaches `clear` mm to both sides of a place, on a closed path."""
    return any(
        last - first >= length or first + clear <= place <= last - clear
        for first, last in stretches
        for place in (site, site + length)
    )


def _weighed(
    sites: dict[float, int], ruler: Ruler, part: ShapedPart, *, span: float, away: float, of_plug: bool
) -> tuple[tuple[float, int], ...]:
    """The sites in order, their levels raised near holes and on end grain."""
    order = sorted(sites)
    if not order:
        return ()
    points, directions = ruler.places(order)
    weak = (np.abs(directions[:, 0]) < _END_GRAIN) & (part.grain == "length")
    near = np.zeros(len(order), dtype=bool)
    for hole in part.holes:
        off = points - hole.at
        near |= np.hypot(off[:, 0], off[:, 1]) <= hole.diameter / 2 + away + span
    if part.region.holes and not of_plug:
        openings = shapely.union_all([to_polygon(hole) for hole in part.region.holes])
        near |= shapely.dwithin(shapely.points(points), openings, away + span)
    return tuple((along, sites[along] + int(weak[i]) + int(near[i])) for i, along in enumerate(order))


def along_nearest(nearest: NearestSegment, ruler: Ruler, point: Point) -> float:
    """Return how far along a path its place nearest to `point` lies, mm. `nearest` is of the ruler's segments."""
    return float(all_along_nearest(nearest, ruler, np.array([point]))[0])


def all_along_nearest(nearest: NearestSegment, ruler: Ruler, points: Floats) -> Floats:
    """The same for many points, (n, 2)."""
    return ruler.beside(points, nearest.find(points, reach=1e6)[0])


def mirrored(plan: TabSites, *, length: float) -> TabSites:
    """Return the sites on the path of a mirrored part, which is run the other way from the same start."""
    sites = tuple(sorted(((length - site) % length, level) for site, level in plan.sites))
    return replace(plan, sites=sites, ramped=frozenset((length - site) % length for site in plan.ramped))


def _spread(first: float, last: float, *, step: float) -> list[float]:
    """Places from `first` to `last`, at most `step` apart; none when the stretch is too short."""
    if last < first:
        return []
    count = max(1, math.ceil((last - first) / step))
    return [first + (last - first) * i / count for i in range(count + 1)]


def corners_of(segments: Sequence[Segment], *, more_than: float = _CORNER) -> list[bool]:
    """Return whether a closed chain turns a corner where each segment starts."""
    return [turn_between(segments[i - 1], segments[i]) > more_than for i in range(len(segments))]


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


def way(a: float, b: float, length: float) -> float:
    """Return the shorter way round a closed path between two places on it."""
    gap = abs(a - b) % length
    return min(gap, length - gap)


def bridge_area(cut: LoopCut, tab: TabSpan, *, away: float) -> shapely.Polygon:
    """Return the area of a bridge and of the wood it ends in; `away` is the distance from the path to the part's
    outline. mm, in the board's frame.
    """
    ruler = Ruler(cut.path.segments)
    middle = (tab.first + tab.last) / 2
    (x, y), (dx, dy) = ruler.place(middle)
    nx, ny = (-dy, dx) if cut.waste == "left" else (dy, -dx)
    half, far = tab.width / 2, away + TOLERANCES.anchor
    return shapely.Polygon(
        [
            (x + along * half * dx + out * nx, y + along * half * dy + out * ny)
            for along, out in ((-1, -away), (1, -away), (1, far), (-1, far))
        ]
    )
