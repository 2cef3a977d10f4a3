"""Bridges on one board: each must end in wood that stays. mm, in the board's frame.

Beyond a part's slot there must be waste that no other cut takes and the board's edge does not cut short. Where parts
lie so close that their slots overlap, a bridge may run from part to part: both paths rise over it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from cutjob.cuts.cut import LoopCut, TabSpan
from cutjob.cuts.tabs import TabSites, along_nearest, choose_sites, way
from cutjob.geometry.nearest import NearestSegment
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Point
from cutjob.job.machine import Cutter
from cutjob.layout.layout import BoardLayout
from cutjob.tolerances import TOLERANCES


@dataclass(slots=True, kw_only=True)
class _Loop:
    """A path round one placement while bridges are chosen for it."""

    placement: int
    cut: LoopCut
    ruler: Ruler
    plan: TabSites
    away: float  # from the path to the part's outline
    chosen: list[float] = field(default_factory=list)
    widths: dict[float, float] = field(default_factory=dict)  # of those chosen whose width is not the plan's
    anchored: int = 0
    joined: set[int] = field(default_factory=set)
    nearest: NearestSegment | None = None

    def outward(self, along: float) -> tuple[Point, Point, Point]:
        """The point on the part's outline beside a place on the path, the direction of the path, and outward."""
        (x, y), (dx, dy) = self.ruler.place(along)
        nx, ny = (-dy, dx) if self.cut.waste == "left" else (dy, -dx)
        return (x - nx * self.away, y - ny * self.away), (dx, dy), (nx, ny)

    def outward_of(
        self, along: Sequence[float]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """The same for many places, n x 2 each."""
        points, ways = self.ruler.places(along)
        outward = ways[:, ::-1] * ((-1, 1) if self.cut.waste == "left" else (1, -1))
        return points - outward * self.away, ways, outward

    def free(self, along: float) -> bool:
        """Whether a bridge at `along` keeps clear of those chosen."""
        return all(way(along, other, self.ruler.length) >= 2 * self.plan.span for other in self.chosen)


def add_tabs(
    layout: BoardLayout,
    loops: Mapping[int, LoopCut],
    sites: Mapping[int, TabSites],
    *,
    cutter: Cutter,
) -> tuple[dict[int, LoopCut], dict[int, int]]:
    """Return the paths round the placements with their bridges, and how many each placement lacks.

    `loops` and `sites` are by placement; `sites` are places along the loops.
    """
    states = {
        index: _Loop(
            placement=index,
            cut=loop,
            ruler=Ruler(loop.path.segments),
            plan=sites[index],
            away=cutter.radius + layout.placements[index].part.deviation,
        )
        for index, loop in loops.items()
    }
    ground = _Ground(layout, cutter)
    beyond = ground.look(states)
    for index, state in states.items():
        anchored = [site for site, what in zip(state.plan.sites, beyond[index], strict=True) if what == _WASTE]
        if state.plan.by_hand:
            state.chosen = [along for along, _ in anchored]
        else:
            state.chosen = choose_sites(
                anchored, length=state.ruler.length, wanted=state.plan.wanted, apart=2 * state.plan.span, taken=()
            )
        state.anchored = len(state.chosen)
    for index, state in states.items():
        if len(state.chosen) < state.plan.wanted:
            _share(state, beyond[index], states)
    for index in _adrift(states):
        states[index].chosen.clear()
    done = {index: replace(state.cut, tabs=_spans(state)) for index, state in states.items()}
    lacking = {index: state.plan.wanted - len(state.chosen) for index, state in states.items()}
    return done, {index: count for index, count in lacking.items() if count > 0}


def _spans(state: _Loop) -> tuple[TabSpan, ...]:
    spans = []
    for along in sorted(state.chosen):
        width = state.widths.get(along, state.plan.width)
        half = (state.plan.span - state.plan.width + width) / 2
        at = state.outward(along)[0]
        run = state.plan.run if along in state.plan.ramped and _ramps_apart(state, along) else 0.0
        spans.append(
            TabSpan(first=along - half, last=along + half, height=state.plan.height, width=width, at=at, run=run)
        )
    return tuple(spans)


def _ramps_apart(state: _Loop, along: float) -> bool:
    """Whether ramps at a bridge end before those of the next one on either side begin."""
    others = (other for other in state.chosen if other != along)
    needed = state.plan.span + state.plan.width + 2 * state.plan.run
    return all(way(along, other, state.ruler.length) >= needed for other in others)


_ASIDE = 0.6  # share of what a tab's middle may lie off its place
_WASTE = -1  # wood that stays
_NOTHING = -2  # the board's edge, a keep-out, the part itself, or more than one neighbour


class _Ground:
    """What lies beyond the slots of a board's parts."""

    def __init__(self, layout: BoardLayout, cutter: Cutter) -> None:
        self._parts = np.array([placement.polygon for placement in layout.placements], dtype=object)
        self._tree = shapely.STRtree(self._parts)
        keep_outs = shapely.union_all([to_polygon(area) for area in layout.board.keep_outs])
        self._board = to_polygon(layout.board.outline).difference(keep_outs)
        shapely.prepare(self._board)
        self._slot = cutter.diameter

    def look(self, states: Mapping[int, _Loop]) -> dict[int, list[int]]:
        """For each loop's sites: `_WASTE`, `_NOTHING`, or the one placement whose slot takes the wood beyond."""
        result: dict[int, list[int]] = {index: [] for index in states}
        sited = [(index, state) for index, state in states.items() if state.plan.sites]
        if not sited:
            return result
        corners = np.concatenate([self._boxes(state) for _, state in sited])
        owners = np.repeat([index for index, _ in sited], [len(state.plan.sites) for _, state in sited])
        kinds = self._kinds(owners, corners)
        kinds[np.concatenate([_uneven(state) for _, state in sited])] = _NOTHING
        for owner, kind in zip(owners, kinds, strict=True):
            result[int(owner)].append(int(kind))
        return result

    def _boxes(self, state: _Loop) -> NDArray[np.float64]:
        """Corners (n x 4 x 2) of the bridge at each site with the wood it ends in; the last two are its far end."""
        points, along, outward = state.outward_of([site for site, _ in state.plan.sites])
        half, near, far = state.plan.width / 2, 0.5 * self._slot, self._slot + TOLERANCES.anchor
        first, last = points - half * along, points + half * along
        return np.stack(
            [first + near * outward, last + near * outward, last + far * outward, first + far * outward], axis=1
        )

    def _kinds(self, owners: NDArray[np.int64], corners: NDArray[np.float64]) -> NDArray[np.int64]:
        boxes, ends = shapely.polygons(corners), shapely.linestrings(corners[:, 2:])
        kinds = np.full(len(owners), _WASTE)
        which, part = self._tree.query(boxes, predicate="dwithin", distance=self._slot)
        other = part != owners[which]
        for site, neighbour in zip(which[other], part[other], strict=True):
            kinds[site] = neighbour if kinds[site] in (_WASTE, neighbour) else _NOTHING
        own = shapely.distance(ends, self._parts[owners]) < self._slot
        outside = ~shapely.covers(self._board, boxes)
        kinds[own | outside] = _NOTHING
        return kinds


def _uneven(state: _Loop) -> NDArray[np.bool_]:
    """At which sites the edge curves so much more on one side that the middle of the wood lies aside of the path's."""
    along, half = np.array([site for site, _ in state.plan.sites]), state.plan.span / 2
    before, here, after = (state.outward_of((along + by).tolist())[0] for by in (-half, 0.0, half))
    gone, left = np.hypot(*(here - before).T), np.hypot(*(after - here).T)
    uneven: NDArray[np.bool_] = np.abs(gone - left) / 2 > _ASIDE * TOLERANCES.tab_place
    return uneven


def _share(state: _Loop, beyond: Sequence[int], states: Mapping[int, _Loop]) -> None:
    """Add bridges to neighbours whose slot overlaps this one's, where both paths are gentle enough."""
    towards: dict[float, tuple[int, float]] = {}
    open_sites = []
    for (along, level), kind in zip(state.plan.sites, beyond, strict=True):
        if kind < 0 or kind not in states:
            continue
        there = _across(state, along, states[kind])
        if there is not None and states[kind].free(there):
            towards[along] = (kind, there)
            open_sites.append((along, level))
    chosen = choose_sites(
        open_sites,
        length=state.ruler.length,
        wanted=state.plan.wanted - len(state.chosen),
        apart=2 * state.plan.span,
        taken=state.chosen,
    )
    for along in chosen:
        neighbour, there = towards[along]
        if states[neighbour].free(there) and state.free(along):
            state.chosen.append(along)
            states[neighbour].chosen.append(there)
            # The narrower of the two would be cut into the other's wood.
            state.widths[along] = states[neighbour].widths[there] = _shared_width(state, states[neighbour])
            state.joined.add(neighbour)
            states[neighbour].joined.add(state.placement)


def _shared_width(one: _Loop, two: _Loop) -> float:
    return max(one.plan.width, two.plan.width)


def _spares(one: _Loop, along: float, other: _Loop, there: float, width: float) -> bool:
    """Whether the cut of `one`, up to its end of a shared bridge, leaves the wood at the other end as wide as planned.

    It does not where the two lie aside, or where its own path is curved so much that its span is not as wide as long.
    """
    (x, y), (dx, dy) = other.ruler.place(there)
    half = (one.plan.span - one.plan.width + width) / 2
    aside = [
        abs((ex - x) * dx + (ey - y) * dy) for ex, ey in (one.ruler.point(along - half), one.ruler.point(along + half))
    ]
    return min(aside) >= half - _LOST * width


def _adrift(states: Mapping[int, _Loop]) -> list[int]:
    """Parts joined only to parts that are held by nothing themselves."""
    held = [index for index, state in states.items() if state.anchored]
    reached = set(held)
    while held:
        for other in states[held.pop()].joined - reached:
            reached.add(other)
            held.append(other)
    return [index for index in states if index not in reached]


def _across(state: _Loop, along: float, other: _Loop) -> float | None:
    """The place on a neighbour's path across the slot, when its edge runs alike there and takes a bridge."""
    point, (dx, dy), (nx, ny) = state.outward(along)
    # From this part's edge the other path lies a slot's half beyond the gap; look for it from the gap's middle.
    probe = (point[0] + nx * 2 * state.away, point[1] + ny * 2 * state.away)
    there = _nearest_along(other, probe)
    (ox, oy), _, (mx, my) = other.outward(there)
    if mx * nx + my * ny > -_FACING:
        return None
    aside = abs((ox - point[0]) * dx + (oy - point[1]) * dy)
    width = _shared_width(state, other)
    if aside > TOLERANCES.bridge_aside:
        return None
    if not (_spares(other, there, state, along, width) and _spares(state, along, other, there, width)):
        return None
    # A bridge made wider comes nearer to the corners, which its own end must stay clear of as well as the other.
    if _room(state, width) < 0:
        return None
    reach = min(other.plan.span / 6, _room(other, width))
    near = any(way(site, there, other.ruler.length) <= reach for site, _ in other.plan.sites)
    return there if near else None


def _room(loop: _Loop, width: float) -> float:
    """How far from a site a bridge of this width may stand, so that its ends stay clear of corners: the site itself
    keeps half the planned width between them.
    """
    return loop.plan.width - width / 2 - _CLEAR * width


# Share of a bridge's width between its end and a corner. Right at the corner nothing is cut beside the outline.
_CLEAR = 0.1
# Share of its width that a bridge may lose at either side to the cut across it; the proof looks at the inner 0.8.
_LOST = 0.09
_FACING = 0.95  # cosine of the greatest angle between the normals of two edges a bridge joins, about 18 degrees


def _nearest_along(loop: _Loop, point: Point) -> float:
    """How far along a loop's path its nearest point to `point` lies, mm."""
    if loop.nearest is None:
        loop.nearest = NearestSegment(loop.cut.path.segments)
    return along_nearest(loop.nearest, loop.ruler, point)


def bridge_area(cut: LoopCut, tab: TabSpan, *, away: float) -> shapely.Polygon:
    """Return the wood of a bridge and what it ends in, `away` mm being from the path to the part's outline."""
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
