"""Chooses the bridges to leave: all bridges a board could have go in, those that hold every part come out.

A good choice is cheap and does three things. Every part hangs on a hold over at most three bridges. No single bridge,
if it snaps, frees a part. A part's centroid lies inside the hull of its bridges. Parts are taken from the hold outward.
Each takes bridges to nodes nearer to the hold first, opposite each other about its centroid. More bridges then correct
what is wrong with the whole, and those that no part needs are left out again.

The single bridges are found as in R. Tarjan, *A note on finding the bridges of a graph*, 1974, with everything held as
one node.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from cutjob.cuts.tabs import way
from cutjob.geometry.segment import Point
from cutjob.holding.ground import Ground, Site
from cutjob.tolerances import TOLERANCES

MOST_IN_CHAIN = 3  # bridges between a part and the hold
_LEAST = 2  # bridges on a part
_WIDENED = 0.05  # share of a part's width its centroid may lie outside its bridges' hull; half of what the proof allows
_MOST_FOR_SPREAD = 4  # bridges more than asked for, so that they are well spread; our choice
_STEP_COST = 0.12  # how much worse, as a share of a part's size, the place of a site one step better may be; our choice
_OUT = 0.25  # how much the way out from the centroid counts, and the share of a part's size that is enough; our choice
_WIDE = 0.1  # how much the distance from other bridges counts beside that; our choice
_FAR = 10**6


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a part needs: its centroid, its width and length, and its least number of bridges."""

    centroid: Point
    width: float
    size: float
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What a node lacks with any choice of bridges: "joined", "chain", "single" or "spread"; "by hand" where a bridge
    that the job places holds nothing.
    """

    node: int
    lacks: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The bridges chosen, by number of their site, and their faults: none where everything is held.

    `to_hold` is the number of bridges between each node and the hold, the greatest over all windows.
    """

    sites: tuple[int, ...]
    to_hold: tuple[int, ...]
    faults: tuple[Fault, ...]


def choose(
    ground: Ground,
    *,
    held: Sequence[Collection[int]],
    wanted: Mapping[int, Wanted],
    heavy: Collection[int],
    clear: float,
) -> Chosen:
    """Return the bridges of a board.

    `held` are the nodes under a hold, for each window. `wanted` says what each part cut free needs. `heavy` are the
    chunks that must be joined. `clear` is the room a lead-in or lead-out needs beside a bridge, mm along a path.
    """
    return _Choice(ground, held, wanted, heavy, clear).made()


@dataclass(slots=True)
class _Choice:
    ground: Ground
    held: Sequence[Collection[int]]
    wanted: Mapping[int, Wanted]
    heavy: Collection[int]
    clear: float
    of: list[list[int]] = field(init=False)
    chosen: dict[int, None] = field(init=False, default_factory=dict)
    on: dict[int, list[float]] = field(init=False, default_factory=dict)
    level: list[int] = field(init=False)

    def __post_init__(self) -> None:
        count = len(self.ground.layout.placements) + len(self.ground.chunks)
        self.of = [[] for _ in range(count)]
        for number, site in enumerate(self.ground.sites):
            for node in site.joins:
                self.of[node].append(number)
        self.level = self._levels(range(len(self.ground.sites)))

    # -- the graph

    def _levels(self, sites: Iterable[int]) -> list[int]:
        """Bridges from each node to the hold, the most over all windows."""
        numbers = list(sites)
        most = [0] * len(self.of)
        for roots in self._roots():
            most = [max(a, b) for a, b in zip(most, self._levels_from(roots, numbers), strict=True)]
        return most

    def _levels_from(self, roots: Iterable[int], sites: Iterable[int]) -> list[int]:
        beside: list[list[int]] = [[] for _ in self.of]
        for number in sites:
            one, two = self.ground.sites[number].joins
            beside[one].append(two)
            beside[two].append(one)
        level = [_FAR] * len(self.of)
        front = [node for node in roots if node < len(level)]
        for node in front:
            level[node] = 0
        while front:
            ahead = []
            for node in front:
                for other in beside[node]:
                    if level[other] == _FAR:
                        level[other] = level[node] + 1
                        ahead.append(other)
            front = ahead
        return level

    def _roots(self) -> list[frozenset[int]]:
        return list(dict.fromkeys(frozenset(nodes) for nodes in self.held)) or [frozenset()]

    def _freed_by_one(self, roots: frozenset[int]) -> list[frozenset[int]]:
        """Sets of nodes that one chosen bridge frees if it snaps; inner sets come before those that contain them."""
        beside: list[list[tuple[int, int]]] = [[] for _ in range(len(self.of) + 1)]
        root = len(self.of)

        def at(node: int) -> int:
            return root if node in roots else node

        for number in self.chosen:
            one, two = (at(node) for node in self.ground.sites[number].joins)
            if one != two:
                beside[one].append((two, number))
                beside[two].append((one, number))
        seen: dict[int, int] = {root: 0}
        low: dict[int, int] = {root: 0}
        below: dict[int, list[int]] = {}
        freed: list[frozenset[int]] = []
        stack = [(root, -1, iter(beside[root]))]
        while stack:
            node, came, ways = stack[-1]
            for other, number in ways:
                if number == came:
                    continue
                if other in seen:
                    low[node] = min(low[node], seen[other])
                else:
                    seen[other] = low[other] = len(seen)
                    below[other] = [other]
                    stack.append((other, number, iter(beside[other])))
                    break
            else:
                stack.pop()
                if stack:
                    above = stack[-1][0]
                    low[above] = min(low[above], low[node])
                    if low[node] > seen[above]:
                        freed.append(frozenset(below[node]))
                    if above != root:
                        below[above] += below[node]
        return freed

    # -- places on loops

    def _fits(self, number: int) -> bool:
        """Whether a bridge stands clear of those chosen on its loops, and leaves room for a way in and out."""
        site = self.ground.sites[number]
        for loop_number, along in site.places:
            loop = self.ground.loops[loop_number]
            plan, others, length = loop.plan, self.on.get(loop_number), loop.ruler.length
            assert plan is not None
            longest = length
            if others:
                # Between two bridges there must be a stretch as long as a bridge is wide, cut right through.
                needed = plan.span + site.width + max(0.0, site.width - plan.width)
                if any(way(along, other, length) < needed for other in others):
                    return False
                places = sorted([*others, along])
                stretches = zip(places, [*places[1:], places[0]], strict=True)
                longest = max((after - before) % length or length for before, after in stretches)
            if longest < plan.span + 2 * self.clear:
                return False
        return True

    def _take(self, number: int) -> None:
        self.chosen[number] = None
        for loop, along in self.ground.sites[number].places:
            self.on.setdefault(loop, []).append(along)

    def _leave(self, number: int) -> None:
        del self.chosen[number]
        for loop, along in self.ground.sites[number].places:
            self.on[loop].remove(along)

    def _mine(self, node: int) -> list[int]:
        return [number for number in self.of[node] if number in self.chosen]

    def _other(self, node: int, number: int) -> int:
        one, two = self.ground.sites[number].joins
        return two if one == node else one

    def _up(self, node: int, number: int) -> bool:
        """Whether a bridge leads nearer to the hold."""
        return self.level[self._other(node, number)] < self.level[node]

    def _point(self, node: int, number: int) -> Point:
        site = self.ground.sites[number]
        return site.ends[0] if site.joins[0] == node else site.ends[1]

    # -- choosing

    def made(self) -> Chosen:
        """The choice."""
        by_hand = [n for n, site in enumerate(self.ground.sites) if self._by_hand(site)]
        for number in by_hand:
            if self._fits(number):
                self._take(number)
        for part in sorted(self.wanted, key=lambda node: (self.level[node], node)):
            if self.level[part] < _FAR and part not in self._everywhere_held():
                self._hang(part)
        firm = self._everywhere_held()
        for chunk in range(len(self.ground.layout.placements), len(self.of)):
            while chunk not in firm and (chunk in self.heavy or self._mine(chunk)):
                if sum(self._up(chunk, number) for number in self._mine(chunk)) >= _LEAST or not self._join(chunk):
                    break
        self._no_single()
        self._no_long_chain()
        self._prune()
        self._around()
        return Chosen(
            sites=tuple(sorted(self.chosen)), to_hold=tuple(self._levels(self.chosen)), faults=tuple(self._faults())
        )

    def _by_hand(self, site: Site) -> bool:
        return any((plan := self.ground.loops[loop].plan) is not None and plan.by_hand for loop, _ in site.places)

    def _everywhere_held(self) -> frozenset[int]:
        roots = self._roots()
        return roots[0].intersection(*roots[1:])

    def _hang(self, part: int) -> None:
        """Take bridges for a part: two that lead to the hold, as many as it needs, and well spread."""
        want = self.wanted[part]
        by_hand = any(
            loop.plan is not None and loop.plan.by_hand and loop.placement == part for loop in self.ground.loops
        )
        if by_hand:
            return
        upward = [number for number in self.of[part] if self._up(part, number)]
        level = [number for number in self.of[part] if self._counts(part, number)]
        while sum(self._up(part, number) for number in self._mine(part)) < _LEAST:
            if not self._add(part, upward):
                break
        while sum(self._counts(part, number) for number in self._mine(part)) < want.count:
            if not (self._add(part, upward) or self._add(part, level)):
                break
        for _ in range(_MOST_FOR_SPREAD):
            if self._spread(part):
                break
            counted = [number for number in self._mine(part) if self._counts(part, number)]
            if not any(self._add_around(part, some, counted) for some in (upward, level, self.of[part])):
                break

    def _add(self, part: int, numbers: Sequence[int]) -> bool:
        """Take the best of some bridges."""
        want = self.wanted[part]
        mine = [self._point(part, number) for number in self._mine(part) if self._counts(part, number)]
        free = [number for number in numbers if number not in self.chosen and self._fits(number)]
        if not free:
            return False
        points = np.array([self._point(part, number) for number in free])
        cost = np.array([self.ground.sites[number].cost for number in free])
        centre = np.array(want.centroid)
        if not mine:
            gain = _OUT * np.hypot(*(points - centre).T)
        else:
            aside = _to_hull(want.centroid, mine)
            if aside is not None and math.hypot(*aside) > _WIDENED * want.width:
                # The way from the hull's nearest point to the centroid, and on.
                direction = np.array(aside) / math.hypot(*aside)
                # A place beyond the centroid is enough; far out on either side it makes the hull wide.
                gain = np.minimum((points - centre) @ direction, _OUT * want.size) + _WIDE * _apart(points, mine)
            else:
                gain = _apart(points, mine)
        best = int(np.argmax(gain - _STEP_COST * want.size * cost))
        self._take(free[best])
        return True

    def _add_around(self, part: int, numbers: Iterable[int], counted: Sequence[int]) -> bool:
        """Take the one of some bridges that, with those `counted`, lies best around a part's centroid; none where no
        bridge brings their hull nearer to it.
        """
        want = self.wanted[part]
        mine = [self._point(part, number) for number in counted]
        free = [number for number in numbers if number not in self.chosen and self._fits(number)]
        if not free or not mine:
            return self._add(part, free)
        points = np.array([self._point(part, number) for number in free])
        corners = np.concatenate([np.broadcast_to(np.array(mine), (len(free), len(mine), 2)), points[:, None]], axis=1)
        spot = shapely.Point(want.centroid)
        off = np.atleast_1d(shapely.distance(shapely.convex_hull(shapely.linestrings(corners)), spot))
        enough = _WIDENED * want.width
        aside = _to_hull(want.centroid, mine)
        if float(off.min()) >= (0.0 if aside is None else math.hypot(*aside)) - TOLERANCES.acceptance:
            return False
        apart = _apart(points, mine)
        cost = [self.ground.sites[number].cost for number in free]
        # The best place of those that are enough; else the one that brings the hull nearest.
        best = min(range(len(free)), key=lambda i: (max(enough, float(off[i])), cost[i], -float(apart[i])))
        self._take(free[best])
        return True

    def _counts(self, part: int, number: int) -> bool:
        """Whether a bridge is on a part's outline and leads to a node no farther from the hold than the part."""
        return self._on_outline(part, number) and self.level[self._other(part, number)] <= self.level[part]

    def _on_outline(self, part: int, number: int) -> bool:
        site = self.ground.sites[number]
        at = 0 if site.joins[0] == part else 1
        return at < len(site.places) and self.ground.loops[site.places[at][0]].outer is not None

    def _leading(self, part: int, roots: frozenset[int]) -> list[int]:
        """The bridges on a part's outline that lead to the hold of a window without that part."""
        on_outline = [number for number in self._mine(part) if self._on_outline(part, number)]
        if all(self._other(part, number) in roots for number in on_outline):
            return on_outline
        others = [each for each in self.chosen if part not in self.ground.sites[each].joins]
        level = self._levels_from(roots, others)
        return [number for number in on_outline if level[self._other(part, number)] < _FAR]

    def _spread(self, part: int, without: int | None = None) -> bool:
        """Whether a part's bridges are on all sides of its centroid, as far as is known while they are chosen."""
        return self._is_around(
            part, [number for number in self._mine(part) if number != without and self._counts(part, number)]
        )

    def _is_around(self, part: int, numbers: Sequence[int]) -> bool:
        want = self.wanted[part]
        if len(numbers) < _LEAST:
            return False
        aside = _to_hull(want.centroid, [self._point(part, number) for number in numbers])
        return aside is None or math.hypot(*aside) <= _WIDENED * want.width

    def _join(self, chunk: int) -> bool:
        """Take a bridge from a chunk to a node nearer to the hold: first the cheapest, then one far from that."""
        free = [
            number
            for number in self.of[chunk]
            if number not in self.chosen and self._up(chunk, number) and self._fits(number)
        ]
        if not free:
            return False
        mine = self._mine(chunk)
        known = {self._other(chunk, number) for number in mine}
        free = [number for number in free if self._other(chunk, number) not in known] or free
        if mine:
            apart = _apart(
                np.array([self._point(chunk, number) for number in free]),
                [self._point(chunk, number) for number in mine],
            )
            self._take(free[int(np.argmax(apart))])
        else:
            self._take(min(free, key=lambda number: (self.ground.sites[number].cost, number)))
        return True

    def _no_single(self) -> None:
        """Add bridges, as long as there are any, until no single one frees a part."""
        hopeless: set[frozenset[int]] = set()
        for roots in self._roots():
            for _ in range(4 * len(self.of) + 4):
                sets = [
                    freed
                    for freed in self._freed_by_one(roots)
                    if freed not in hopeless and any(node in self.wanted for node in freed)
                ]
                if not sets:
                    break
                freed = min(sets, key=len)
                if not self._add_out_of(freed):
                    hopeless.add(freed)

    def _add_out_of(self, nodes: frozenset[int]) -> bool:
        """Take the best bridge from some nodes to any other."""
        free = [
            number
            for node in sorted(nodes)
            for number in self.of[node]
            if number not in self.chosen
            and len(nodes.intersection(self.ground.sites[number].joins)) == 1
            and self._fits(number)
        ]
        if not free:
            return False

        def rank(number: int) -> tuple[float, int]:
            one, two = self.ground.sites[number].joins
            outside = self.level[two if one in nodes else one]
            return (outside * 2 + self.ground.sites[number].cost, number)

        self._take(min(free, key=rank))
        return True

    def _no_long_chain(self) -> None:
        """Add bridges where a part hangs on more than three in a row and need not."""
        for _ in range(len(self.of)):
            now = self._levels(self.chosen)
            far = [node for node in self.wanted if now[node] > MOST_IN_CHAIN and self.level[node] <= MOST_IN_CHAIN]
            added = False
            for node in far:
                up = [
                    number
                    for number in self.of[node]
                    if number not in self.chosen and self._up(node, number) and self._fits(number)
                ]
                if up:
                    self._take(min(up, key=lambda number: (self.ground.sites[number].cost, number)))
                    added = True
            if not added:
                break

    def _around(self) -> None:
        """Add bridges to parts that hang to one side, once it is known what leads to the hold without them."""
        for roots in self._roots():
            for part in sorted(self.wanted, key=lambda node: (self.level[node], node)):
                if part in roots or self.level[part] == _FAR:
                    continue
                for _ in range(2 * _MOST_FOR_SPREAD):
                    leading = self._leading(part, roots)
                    if self._is_around(part, leading):
                        break
                    level = self._levels_from(
                        roots, [each for each in self.chosen if part not in self.ground.sites[each].joins]
                    )
                    on_outline = [number for number in self.of[part] if self._on_outline(part, number)]
                    firm = [number for number in on_outline if level[self._other(part, number)] < MOST_IN_CHAIN]
                    if not self._add_around(part, firm, leading) and not self._join_beyond(part, level):
                        break

    def _join_beyond(self, part: int, level: Sequence[int]) -> bool:
        """Join a neighbour that a part hangs on to the hold by a way that does not use the part."""
        for number in self._mine(part):
            loose = self._other(part, number)
            if level[loose] < _FAR:
                continue
            free = [
                one
                for one in self.of[loose]
                if one not in self.chosen
                and part not in self.ground.sites[one].joins
                and level[self._other(loose, one)] < MOST_IN_CHAIN
                and self._fits(one)
            ]
            if free:
                self._take(
                    min(free, key=lambda one: (level[self._other(loose, one)], self.ground.sites[one].cost, one))
                )
                return True
        return False

    def _prune(self) -> None:
        """Leave out bridges that no part needs, the worst first."""
        firm = self._everywhere_held()
        for number in sorted(self.chosen, key=lambda number: (-self.ground.sites[number].cost, number)):
            site = self.ground.sites[number]
            if self._by_hand(site) or any(node not in self.wanted and node not in firm for node in site.joins):
                continue
            if all(node in firm or self._spared(node, number) for node in site.joins):
                self._leave(number)

    def _spared(self, part: int, number: int) -> bool:
        """Whether a part can do without a bridge: two others lead nearer to the hold."""
        others = [one for one in self._mine(part) if one != number]
        up = sum(self._up(part, one) for one in others)
        enough = sum(self._counts(part, one) for one in others) >= self.wanted[part].count
        return up >= _LEAST and enough and self._spread(part, without=number)

    def _faults(self) -> list[Fault]:
        now, firm = self._levels(self.chosen), self._everywhere_held()
        single = {node for roots in self._roots() for freed in self._freed_by_one(roots) for node in freed}
        faults = []
        for part in self.wanted:
            if part in firm:
                continue
            if now[part] == _FAR:
                faults.append(Fault(node=part, lacks="joined"))
            elif now[part] > MOST_IN_CHAIN:
                faults.append(Fault(node=part, lacks="chain"))
            elif part in single:
                faults.append(Fault(node=part, lacks="single"))
            elif not all(self._is_around(part, self._leading(part, roots)) for roots in self._roots()):
                faults.append(Fault(node=part, lacks="spread"))
        for number, loop in enumerate(self.ground.loops):
            if loop.plan is not None and loop.plan.by_hand and len(self.on.get(number, ())) < loop.plan.wanted:
                faults.append(Fault(node=loop.placement, lacks="by hand"))
        faults += [Fault(node=chunk, lacks="joined") for chunk in self.heavy if now[chunk] == _FAR]
        return faults


def _to_hull(point: Point, corners: Sequence[Point]) -> Point | None:
    """The way to a point from the nearest of the hull of some others; None where it lies inside."""
    hull, spot = shapely.convex_hull(shapely.multipoints(np.array(corners))), shapely.points(*point)
    if shapely.covers(hull, spot):
        return None
    x, y = shapely.get_coordinates(shapely.shortest_line(hull, spot))[0].tolist()
    return point[0] - x, point[1] - y


def _apart(points: np.ndarray, others: Sequence[Point]) -> np.ndarray:
    """How far each of some points lies from the nearest of others."""
    apart: np.ndarray = np.min(np.hypot(*(points[:, None] - np.array(others)[None]).transpose(2, 0, 1)), axis=1)
    return apart
