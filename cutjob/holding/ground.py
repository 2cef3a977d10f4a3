"""The bridges a board could have: its cuts go in; loops, chunks of waste and all places for bridges come out. mm.

A bridge runs from a part's edge across its slot into a chunk of waste. Where a neighbour is so close that a sliver of
waste or none is left between the two slots, the bridge runs right across to the neighbour, and both paths rise over it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from cutjob.cuts.board_cuts import BoardCuts
from cutjob.cuts.cut import HoleCut, LoopCut
from cutjob.cuts.tabs import TabSites, all_along_nearest
from cutjob.geometry.nearest import NearestSegment
from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Point
from cutjob.layout.layout import BoardLayout
from cutjob.tolerances import TOLERANCES

Floats = NDArray[np.float64]

_CHORD = 0.02  # mm by which the arcs of a slot may be off as chords; far below a bridge's width
_QUADS = 16
_ROUND = 0.5  # mm by which an edge may bend away within half a bridge's width
_NECK = 1.5  # mm: a hand would break a neck of wood this wide; common practice, no source
_SPARED = 0.3  # mm of thin waste that leads may take all the same
_SLIVER = 25.0  # mm2: waste smaller than this is a chip
_MOST_SITES = 48  # tried on a loop, evenly spread
# A place's cost beside its level (see TabSites), where wood on either side is thinner than twice a bridge's width.
_THIN_PART, _THIN_WASTE, _SHARED = 3.0, 1.0, 0.5
_FACING = 0.95  # cosine of the greatest angle between the normals of two edges a bridge joins, about 18 degrees
_ASIDE = 0.6  # share taken of the distance that a tab's middle may lie off its place
_CLEAR = 0.1  # share of a bridge's width kept between its end and a corner where the outline stays uncut
_LOST = 0.09  # share of its width that a bridge may lose at either side to the cut across it


@dataclass(slots=True, kw_only=True)
class Loop:
    """A path right through the board, the part it belongs to, and where on it bridges may be (None: nowhere).

    `away` is the distance of the path from the part's edge, `radius` the cutter's. `inner` is the number of an inside
    cut among its part's inner cuts, `outer` that of an outside cut.
    """

    placement: int
    cut: LoopCut
    plan: TabSites | None
    away: float
    radius: float
    inner: int | None = None
    outer: int | None = None
    ruler: Ruler = field(init=False)
    _nearest: NearestSegment | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        self.ruler = Ruler(self.cut.path.segments)

    def outward(self, along: float) -> tuple[Point, Point, Point]:
        """The point on the part's edge beside a place on the path, the direction of the path, and outward."""
        (x, y), (dx, dy) = self.ruler.place(along)
        nx, ny = (-dy, dx) if self.cut.waste == "left" else (dy, -dx)
        return (x - nx * self.away, y - ny * self.away), (dx, dy), (nx, ny)

    def outward_of(self, along: Floats) -> tuple[Floats, Floats, Floats]:
        """The same for many places, n x 2 each."""
        points, ways = self.ruler.places(along)
        outward = ways[:, ::-1] * ((-1, 1) if self.cut.waste == "left" else (1, -1))
        return points - outward * self.away, ways, outward

    def nearest_along(self, points: Floats) -> Floats:
        """How far along the path its nearest place to each of the points (n, 2) lies, mm."""
        if self._nearest is None:
            self._nearest = NearestSegment(self.cut.path.segments)
        return all_along_nearest(self._nearest, self.ruler, points)

    @property
    def slot(self) -> shapely.Geometry:
        """The area the cutter sweeps along the path."""
        paths = [self.cut.path] if self.cut.rough is None else [self.cut.path, self.cut.rough]
        rings = [shapely.LinearRing(path.points(_CHORD)) for path in paths]
        return shapely.union_all(shapely.buffer(rings, self.radius, quad_segs=_QUADS))


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """A possible bridge: the nodes it would join, its place on one or two loops (by number, mm along), its two ends,
    and its cost: 0 for the best places, 1 more for each step worse.
    """

    joins: tuple[int, int]
    places: tuple[tuple[int, float], ...]
    ends: tuple[Point, Point]
    width: float
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """Everything needed to choose bridges. Nodes are the placements, by index, then the `chunks` of waste.

    `loose` are the chunks, by index, that must not come free: large ones, and of chunks that thin necks join to one
    large piece the largest.
    """

    layout: BoardLayout
    loops: tuple[Loop, ...]
    chunks: tuple[Polygon, ...]
    sites: tuple[Site, ...]
    swept: shapely.Geometry
    loose: tuple[int, ...] = ()


def look_at(board: BoardCuts) -> Ground:
    """Return the loops, chunks and possible bridges of a board, before any is chosen."""
    loops = _loops(board)
    slots = [loop.slot for loop in loops]
    layout = board.layout
    parts = [placement.polygon for placement in layout.placements]
    wood = to_polygon(layout.board.outline)
    swept = shapely.union_all([*slots, *_holes(board)])
    bodies = shapely.union_all(shapely.buffer(np.array(parts, dtype=object), _CHORD)) if parts else Polygon()
    left = shapely.difference(shapely.difference(wood, swept), bodies)
    # Thinner necks join nothing.
    pieces = [piece for piece in polygons_of(shapely.buffer(left, -_NECK / 2)) if piece.area > _SLIVER]
    chunks = tuple(sorted((_grown(piece) for piece in pieces), key=lambda piece: (-piece.area, piece.bounds)))
    sites = _Search(layout, loops, slots, parts, chunks).sites() if loops else ()
    return Ground(
        layout=layout, loops=loops, chunks=chunks, sites=sites, swept=swept, loose=_too_large(chunks, polygons_of(left))
    )


def _too_large(chunks: Sequence[Polygon], left: Sequence[Polygon]) -> tuple[int, ...]:
    """The chunks that need a bridge: each large one, and the largest of those that thin necks make one large piece."""
    found = {index for index, chunk in enumerate(chunks) if chunk.area > TOLERANCES.bridged_plug}
    tree = shapely.STRtree([chunk.representative_point() for chunk in chunks])
    for piece in left:
        if piece.area > TOLERANCES.bridged_plug:
            own = tree.query(piece, predicate="intersects")
            if len(own):
                found.add(int(own.min()))  # they are sorted, the largest first
    return tuple(sorted(found))


def _grown(piece: Polygon) -> Polygon:
    grown = shapely.make_valid(shapely.buffer(piece, _NECK / 2, join_style="mitre"))
    return max(polygons_of(grown), key=lambda one: one.area)


def thin_waste(ground: Ground, *, lead: float) -> tuple[Polygon, ...]:
    """Return where waste is so thin that leads, going `lead` mm beyond the slots on both sides, would leave no more
    than a neck of it.
    """
    reach = lead + _NECK / 2
    chunks = shapely.union_all(list(ground.chunks))
    thick = shapely.buffer(shapely.buffer(chunks, -reach), reach * 1.05)
    # A hair inside, because a path runs right along the slots' edges.
    return tuple(
        piece for piece in polygons_of(shapely.buffer(shapely.difference(chunks, thick), -_SPARED)) if piece.area > 1.0
    )


def _loops(board: BoardCuts) -> tuple[Loop, ...]:
    loops = []
    for part in board.parts:
        deviation = board.layout.placements[part.placement].part.deviation
        plugs = dict(part.plugs)
        for number, cut in enumerate(part.inner):
            if isinstance(cut, LoopCut):
                radius = board.cutters.numbered(cut.cutter).radius
                loops.append(
                    Loop(placement=part.placement, cut=cut, plan=plugs.get(number), away=radius + deviation,
                         radius=radius, inner=number)
                )  # fmt: skip
        for number, cut in enumerate(part.outline):
            radius = board.cutters.numbered(cut.cutter).radius
            plan = part.sites if number == 0 else None
            loops.append(
                Loop(placement=part.placement, cut=cut, plan=plan, away=radius + deviation, radius=radius, outer=number)
            )
    return tuple(loops)


def _holes(board: BoardCuts) -> list[shapely.Geometry]:
    """Holes through the waste: for screws and pins."""
    cuts = [*board.hold_downs, *(cut for each in board.pins for cut in each)]
    return [_hole(cut, board) for cut in cuts]


def _hole(cut: HoleCut, board: BoardCuts) -> shapely.Geometry:
    return shapely.Point(cut.at).buffer(cut.radius + board.cutters.numbered(cut.cutter).radius)


class _Search:
    """Looks beyond the slot at every place on every loop."""

    def __init__(
        self,
        layout: BoardLayout,
        loops: Sequence[Loop],
        slots: Sequence[shapely.Geometry],
        parts: Sequence[Polygon],
        chunks: Sequence[Polygon],
    ) -> None:
        self._loops, self._parts, self._chunks = loops, parts, chunks
        self._count = len(layout.placements)
        self._slots = shapely.STRtree(list(slots))
        keep_outs = shapely.union_all([to_polygon(one.area) for one in layout.board.keep_outs])
        self._board = to_polygon(layout.board.outline).difference(keep_outs)
        for shape in (self._board, *chunks, *parts):
            shapely.prepare(shape)

    def sites(self) -> tuple[Site, ...]:
        """All possible bridges."""
        found: list[Site] = []
        for number, loop in enumerate(self._loops):
            if loop.plan is not None and loop.plan.sites:
                found += self._of(number, loop, loop.plan)
        return tuple(found)

    def _of(self, number: int, loop: Loop, plan: TabSites) -> list[Site]:
        chosen = plan.sites
        if len(chosen) > _MOST_SITES and not plan.by_hand:
            step = len(chosen) / _MOST_SITES
            chosen = tuple(chosen[int(i * step)] for i in range(_MOST_SITES))
        along = np.array([site for site, _ in chosen])
        level = np.array([cost for _, cost in chosen], dtype=float)
        points, ways, outward = loop.outward_of(along)
        half, far = plan.width / 2, loop.away + loop.radius
        boxes = _boxes(points, ways, outward, half, 0.0, far + plan.width)
        near = _boxes(points, ways, outward, half, 0.0, far + TOLERANCES.anchor)
        ends = _boxes(points, ways, outward, half, far + _ROUND, far + TOLERANCES.anchor)
        deep = _boxes(points, ways, outward, half, far + _ROUND, far + 2 * plan.width)
        uneven = _uneven(loop, plan, along)
        inward = _boxes(points, ways, outward, half, -2 * plan.width, -_ROUND)
        thin = ~shapely.covers(self._parts[loop.placement], inward)
        level = level + np.where(thin & (not plan.by_hand), _THIN_PART, 0.0)
        into = self._chunk_of(ends)
        crossed = self._others(near, number)
        wide = self._others(boxes, number)
        found: list[Site] = []
        towards: dict[int, list[int]] = {}
        clear = [i for i in range(len(along)) if not uneven[i]]
        on_board = np.zeros(len(along), dtype=bool)
        on_board[clear] = shapely.covers(self._board, near[clear])
        for i in clear:
            if into[i] >= 0 and not crossed[i] and on_board[i]:
                chunk = int(into[i])
                solid = self._chunks[chunk].covers(deep[i])
                p = points[i]
                far_end = p + outward[i] * far
                found.append(
                    Site(
                        joins=(loop.placement, self._count + chunk),
                        places=((number, float(along[i])),),
                        ends=((float(p[0]), float(p[1])), (float(far_end[0]), float(far_end[1]))),
                        width=plan.width,
                        cost=float(level[i]) + (0.0 if solid else _THIN_WASTE),
                    )
                )
            elif len(wide[i]) == 1 and on_board[i] and self._loops[wide[i][0]].plan is not None:
                towards.setdefault(wide[i][0], []).append(i)
        for other, places in towards.items():
            found += self._across(number, along[places], other, level[places])
        return found

    def _chunk_of(self, ends: NDArray[np.object_]) -> NDArray[np.int64]:
        """Which chunk covers each area; -1 for none."""
        into = np.full(len(ends), -1, dtype=np.int64)
        tree = shapely.STRtree(ends)
        for chunk, shape in enumerate(self._chunks):
            near = tree.query(shape)
            near = near[into[near] < 0]
            into[near[shapely.covers(shape, ends[near])]] = chunk
        return into

    def _others(self, boxes: NDArray[np.object_], own: int) -> list[list[int]]:
        """The other loops whose slot comes into each area."""
        result: list[list[int]] = [[] for _ in boxes]
        which, loop = self._slots.query(boxes, predicate="intersects")
        for box, other in zip(which.tolist(), loop.tolist(), strict=True):
            if other != own:
                result[box].append(other)
        return result

    def _across(self, number: int, along: Floats, other: int, level: Floats) -> list[Site]:
        """The bridges to a neighbour across both slots, where the two edges are nearly parallel and the other
        takes one.
        """
        loop, there_on = self._loops[number], self._loops[other]
        one, two = loop.plan, there_on.plan
        if one is None or two is None or not two.sites or loop.placement == there_on.placement:
            return []
        width = max(one.width, two.width)
        # A bridge made wider comes nearer to the corners; both its ends must stay clear of them.
        if _room(one, width) < 0:
            return []
        points, ways, outward = loop.outward_of(along)
        # Seen from this part's edge, the other path is half a slot beyond the gap; look for it from the gap's middle.
        reach = loop.away + there_on.away
        there = there_on.nearest_along(points + outward * reach)
        ends, _, facing = there_on.outward_of(there)
        between = _along(ends - points, outward)
        off = np.abs(there[:, None] - np.array([site for site, _ in two.sites])) % there_on.ruler.length
        off = np.minimum(off, there_on.ruler.length - off)
        nearest = off.min(axis=1)
        good = (
            (_along(facing, outward) <= -_FACING)
            & (between > 0)
            & (between <= reach + loop.radius + there_on.radius + one.width)
            & (np.abs(_along(ends - points, ways)) <= TOLERANCES.bridge_aside)
            & _spares(there_on, there, loop, along, width)
            & _spares(loop, along, there_on, there, width)
            & (nearest <= min(two.span / 6, _room(two, width)))
            & ~_uneven(there_on, two, there)
        )
        costs = np.where(off == nearest[:, None], np.array([cost for _, cost in two.sites]), np.inf).min(axis=1)
        strips = _strips(points, ends, ways, width)
        taken = self._others(strips, number)
        return [
            Site(
                joins=(loop.placement, there_on.placement),
                places=((number, float(along[i])), (other, float(there[i]))),
                ends=((float(points[i, 0]), float(points[i, 1])), (float(ends[i, 0]), float(ends[i, 1]))),
                width=width,
                cost=max(float(level[i]), float(costs[i])) + _SHARED,
            )
            for i in np.flatnonzero(good)
            if all(each == other for each in taken[i])
        ]


def _along(vectors: Floats, ways: Floats) -> Floats:
    """How far each vector goes along a way of its own."""
    along: Floats = np.einsum("ij,ij->i", vectors, ways)
    return along


def _boxes(points: Floats, ways: Floats, outward: Floats, half: float, near: float, far: float) -> NDArray[np.object_]:
    """Areas beside points on an edge: `half` to both sides along it, from `near` to `far` off it."""
    first, last = points - half * ways, points + half * ways
    corners = np.stack(
        [first + near * outward, last + near * outward, last + far * outward, first + far * outward], axis=1
    )
    return np.asarray(shapely.polygons(corners), dtype=object)


def _strips(starts: Floats, ends: Floats, ways: Floats, width: float) -> NDArray[np.object_]:
    """Areas between pairs of points, half the width to both sides along a way of each pair."""
    aside = ways * (width / 2)
    corners = np.stack([starts - aside, starts + aside, ends + aside, ends - aside], axis=1)
    return np.asarray(shapely.polygons(corners), dtype=object)


def _uneven(loop: Loop, plan: TabSites, along: Floats) -> NDArray[np.bool_]:
    """The sites where the edge curves so much more on one side that the middle of the wood is not that of the path."""
    half = plan.span / 2
    before, here, after = loop.outward_of(np.concatenate([along - half, along, along + half]))[0].reshape(3, -1, 2)
    gone, left = np.hypot(*(here - before).T), np.hypot(*(after - here).T)
    uneven: NDArray[np.bool_] = np.abs(gone - left) / 2 > _ASIDE * TOLERANCES.tab_place
    return uneven


def _spares(one: Loop, along: Floats, other: Loop, there: Floats, width: float) -> NDArray[np.bool_]:
    """Whether the cut of `one`, up to its end of each shared bridge, leaves the wood at the other end as wide as
    planned.

    It does not where the two ends don't face each other, or where its own path curves so much that its span is less
    wide than long.
    """
    assert one.plan is not None
    places, ways = other.ruler.places(there)
    half = (one.plan.span - one.plan.width + width) / 2
    first, last = (one.ruler.places(along + by)[0] for by in (-half, half))
    aside = np.minimum(np.abs(_along(first - places, ways)), np.abs(_along(last - places, ways)))
    wide: NDArray[np.bool_] = aside >= half - _LOST * width
    return wide


def _room(plan: TabSites, width: float) -> float:
    """How far from a site a bridge of this width may be with its ends clear of corners. The site itself keeps half the
    planned width between them.
    """
    return plan.width - width / 2 - _CLEAR * width
