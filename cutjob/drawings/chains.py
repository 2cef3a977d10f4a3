"""Joins loose lines and arcs end to end into closed loops; those that close no loop are open chains.

1. A line drawn twice is dropped once.
2. Ends that meet are one node; ends that almost meet, up to `TOLERANCES.repair`, are brought together.
3. A line with a loose end, or between two loops without closing one, is open.
4. All other lines are a plane network: its cells, the smallest areas that the lines enclose, are the loops. So two
   parts that share a line are two parts.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from cutjob.drawings.drawing import Shape
from cutjob.drawings.near_pairs import near_points
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.tolerances import TOLERANCES

_TWICE = 0.001  # mm; lines this close are one line drawn twice; finer than any machine
_LOOK = 0.05  # mm along an edge; its direction is taken there, where tangent arcs differ


@dataclass(frozen=True, slots=True)
class Loop:
    """A closed chain, and how far it may be from the drawn lines, mm."""

    segments: tuple[Segment, ...]
    deviation: float
    place: str
    line: int | None


@dataclass(slots=True)
class Joined:
    """The result for the loose lines of one layer."""

    loops: list[Loop] = field(default_factory=list)
    open_chains: list[Loop] = field(default_factory=list)
    doubled: int = 0
    widest_gap: float = 0.0
    shared: int = 0  # cells beyond one per network, which share lines


@dataclass(frozen=True, slots=True)
class _Edge:
    segment: Segment
    shape: Shape
    start: int = -1
    end: int = -1
    moved: float = 0.0


def join(shapes: Sequence[Shape]) -> Joined:
    """Return the loops and the open chains made of the open shapes of one layer.

    Raises TangledError where very many ends, or lines drawn twice, are in one place.
    """
    result = Joined()
    edges = [_Edge(part, shape) for shape in shapes for segment in shape.segments for part in _halves(segment)]
    edges, result.doubled = _without_doubles([edge for edge in edges if edge.segment.length > TOLERANCES.same_point])
    if not edges:
        return result
    edges, result.widest_gap = _with_nodes(edges)
    kept, loose = _without_loose(edges)
    cells, bridges = _cells(kept)
    if bridges:  # a line between two loops; both close without it
        loose += [kept[index] for index in sorted(bridges)]
        kept = [edge for index, edge in enumerate(kept) if index not in bridges]
        cells, _ = _cells(kept)
    used = [index // 2 for cell in cells for index in cell]
    result.shared = len(used) - len(set(used))
    result.loops = [_loop([_run(kept, half) for half in cell]) for cell in cells]
    result.open_chains = [_loop(chain) for chain in _open_chains(loose)]
    return result


def _halves(segment: Segment) -> list[Segment]:
    """Split arcs of more than half a turn, so that they stay well-defined when their ends are moved."""
    if isinstance(segment, Arc) and abs(segment.sweep) > math.pi * (1 + 1e-9):
        return [segment.part(0, 0.5), replace(segment.part(0.5, 1), start=segment.part(0, 0.5).end)]
    return [segment]


def _loop(edges: list[_Edge]) -> Loop:
    return Loop(
        tuple(edge.segment for edge in edges),
        max(edge.shape.deviation + edge.moved for edge in edges),
        edges[0].shape.place,
        edges[0].shape.line,
    )


def _without_doubles(edges: list[_Edge]) -> tuple[list[_Edge], int]:
    """Return the edges without those that repeat an earlier one, in either direction, and the number left out."""
    if not edges:
        return [], 0
    dropped: set[int] = set()
    for here, there in near_points([edge.segment.point_at(0.5) for edge in edges], _TWICE):
        if here not in dropped and _same(edges[here].segment, edges[there].segment):
            dropped.add(there)
    return [edge for index, edge in enumerate(edges) if index not in dropped], len(dropped)


def _same(first: Segment, second: Segment) -> bool:
    ends = (second.start, second.end)
    return any(
        distance(first.start, a) <= _TWICE and distance(first.end, b) <= _TWICE for a, b in (ends, ends[::-1])
    ) and all(abs(a - b) <= _TWICE for a, b in zip(first.point_at(0.5), second.point_at(0.5), strict=True))


class _Sets:
    """Union-find over the ends of edges: end 2i is the start of edge i, 2i + 1 its end."""

    def __init__(self, count: int) -> None:
        self.parent = list(range(count))

    def find(self, item: int) -> int:
        while self.parent[item] != item:
            self.parent[item] = self.parent[self.parent[item]]
            item = self.parent[item]
        return item

    def join(self, a: int, b: int) -> None:
        a, b = self.find(a), self.find(b)
        self.parent[max(a, b)] = min(a, b)


def _with_nodes(edges: list[_Edge]) -> tuple[list[_Edge], float]:
    """Return the edges with the nodes at their ends, moved so that they meet there, and the widest gap closed."""
    ends = [point for edge in edges for point in (edge.segment.start, edge.segment.end)]
    sets = _Sets(len(ends))
    near = sorted((distance(ends[a], ends[b]), a, b) for a, b in near_points(ends, TOLERANCES.repair))
    size = [1] * len(ends)
    widest = 0.0
    for gap, a, b in near:
        root_a, root_b = sets.find(a), sets.find(b)
        if root_a == root_b:
            continue
        # Apart from rounding, only loose ends are moved, and never the two ends of a short line onto each other.
        loose = size[root_a] == 1 or size[root_b] == 1
        short = any(_closes_short(edges[end // 2].segment, end // 2, sets, {root_a, root_b}) for end in (a, b))
        if gap <= TOLERANCES.same_point or (loose and not short):
            sets.join(a, b)
            size[sets.find(a)] = size[root_a] + size[root_b]
            widest = max(widest, gap)
    groups: dict[int, list[int]] = defaultdict(list)
    for end in range(len(ends)):
        groups[sets.find(end)].append(end)
    places = {root: _meeting_place([(edges[e // 2].segment, ends[e]) for e in group]) for root, group in groups.items()}
    return [_moved(edge, i, sets, places) for i, edge in enumerate(edges)], widest


def _closes_short(segment: Segment, index: int, sets: _Sets, roots: set[int]) -> bool:
    """Whether a short line would vanish if two nodes were brought together."""
    return segment.length <= 3 * TOLERANCES.repair and roots == {sets.find(2 * index), sets.find(2 * index + 1)}


def _meeting_place(ends: list[tuple[Segment, Point]]) -> Point:
    """Return the point where ends that almost meet are joined: an arc's end, the crossing of two lines, or halfway."""
    points = [point for _, point in ends]
    if max(distance(points[0], point) for point in points) <= TOLERANCES.same_point:
        return points[0]
    for segment, point in ends:
        if isinstance(segment, Arc):
            return point
    if len(ends) == 2:
        crossing = _where_lines_meet(ends[0][0], ends[1][0])
        if crossing is not None and all(distance(crossing, point) <= TOLERANCES.repair for point in points):
            return crossing
    return sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points)


def _where_lines_meet(first: Segment, second: Segment) -> Point | None:
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = first.start, first.end, second.start, second.end
    cross = (x1 - x0) * (y3 - y2) - (y1 - y0) * (x3 - x2)
    if abs(cross) <= 0.1 * first.length * second.length:  # the lines are too nearly parallel to move along them
        return None
    share = ((x2 - x0) * (y3 - y2) - (y2 - y0) * (x3 - x2)) / cross
    return x0 + share * (x1 - x0), y0 + share * (y1 - y0)


def _moved(edge: _Edge, index: int, sets: _Sets, places: dict[int, Point]) -> _Edge:
    first, last = sets.find(2 * index), sets.find(2 * index + 1)
    start, end = places[first], places[last]
    segment = edge.segment
    moved = max(distance(segment.start, start), distance(segment.end, end))
    if isinstance(segment, Line):
        new: Segment = Line(start, end)
    elif moved <= TOLERANCES.same_point:
        new = Arc(start, end, segment.centre, segment.clockwise)
    else:
        new = _arc_through(start, segment.point_at(0.5), end, segment.clockwise)
    if moved <= TOLERANCES.same_point:
        moved = 0.0
    return replace(edge, segment=new, start=first, end=last, moved=moved)


def _arc_through(start: Point, middle: Point, end: Point, clockwise: bool) -> Segment:
    """Return the arc through three points; a line where they are in line or out of order."""
    ax, ay = middle[0] - start[0], middle[1] - start[1]
    bx, by = end[0] - start[0], end[1] - start[1]
    cross = ax * by - ay * bx  # positive when the middle lies right of the chord: counter-clockwise
    if abs(cross) <= 1e-9 or (cross > 0) == clockwise:
        return Line(start, end)
    a, b = ax * ax + ay * ay, bx * bx + by * by
    centre = (start[0] + (by * a - ay * b) / (2 * cross), start[1] + (ax * b - bx * a) / (2 * cross))
    return Arc(start, end, centre, clockwise)


def _without_loose(edges: list[_Edge]) -> tuple[list[_Edge], list[_Edge]]:
    """Return the edges joined to others at both ends, and the loose ones, which are removed from their ends inward."""
    at: dict[int, set[int]] = defaultdict(set)
    for index, edge in enumerate(edges):
        if edge.start != edge.end:
            at[edge.start].add(index)
            at[edge.end].add(index)
    # A short line whose ends were brought together would vanish.
    loose = {index for index, edge in enumerate(edges) if edge.start == edge.end}
    waiting = [node for node, around in at.items() if len(around) == 1]
    while waiting:
        around = at[waiting.pop()]
        for index in list(around):
            loose.add(index)
            for node in (edges[index].start, edges[index].end):
                at[node].discard(index)
                if len(at[node]) == 1:
                    waiting.append(node)
    kept = [edge for index, edge in enumerate(edges) if index not in loose]
    return kept, [edges[index] for index in sorted(loose)]


def _run(edges: list[_Edge], half: int) -> _Edge:
    """Return the edge in the direction of its half-edge: 2i runs along it, 2i + 1 against it."""
    edge = edges[half // 2]
    if half % 2 == 0:
        return edge
    return replace(edge, segment=edge.segment.reversed(), start=edge.end, end=edge.start)


def _cells(edges: list[_Edge]) -> tuple[list[list[int]], set[int]]:
    """Return the cells of the network as counter-clockwise rings of half-edges, and the edges that close no cell.

    At the end of each half-edge the walk turns to the next edge clockwise from the one it came on, which keeps the same
    cell on its left. Where a ring reaches a node again, the part in between is a ring of its own.
    """
    leaving: dict[int, list[int]] = defaultdict(list)
    for half in range(2 * len(edges)):
        leaving[_run(edges, half).start].append(half)
    after: dict[int, int] = {}
    for halves in leaving.values():
        halves.sort(key=lambda half: _bearing(_run(edges, half).segment))
        for before, here in zip(halves[-1:] + halves[:-1], halves, strict=True):
            after[here ^ 1] = before
    cells: list[list[int]] = []
    bridges: set[int] = set()
    seen: set[int] = set()
    for first in range(2 * len(edges)):
        ring: list[int] = []
        half = first
        while half not in seen:
            seen.add(half)
            ring.append(half)
            half = after[half]
        inside = set(ring)
        bridges.update(half // 2 for half in ring if half ^ 1 in inside)
        cells.extend(cell for cell in _parted(edges, ring) if _area(edges, cell) > 0)
    return cells, bridges


def _parted(edges: list[_Edge], ring: list[int]) -> list[list[int]]:
    parts: list[list[int]] = []
    walk: list[int] = []
    passed: dict[int, int] = {}
    for half in ring:
        node = _run(edges, half).start
        if node in passed:
            at = passed[node]
            parts.append(walk[at:])
            for gone in walk[at:]:
                passed.pop(_run(edges, gone).start, None)
            del walk[at:]
        passed[node] = len(walk)
        walk.append(half)
    if walk:
        parts.append(walk)
    return parts


def _bearing(segment: Segment) -> float:
    share = min(0.25, _LOOK / segment.length)
    x, y = segment.point_at(share)
    return math.atan2(y - segment.start[1], x - segment.start[0])


def _area(edges: list[_Edge], ring: list[int]) -> float:
    # Measured from a point of the ring, so that small rings far from the origin keep their digits.
    ox, oy = _run(edges, ring[0]).segment.start
    total = 0.0
    for half in ring:
        segment = _run(edges, half).segment
        (x0, y0), (x1, y1) = segment.start, segment.end
        total += (x0 - ox) * (y1 - oy) - (x1 - ox) * (y0 - oy)
        if isinstance(segment, Arc):
            total += segment.radius**2 * (segment.sweep - math.sin(segment.sweep))
    return total / 2


def _open_chains(edges: list[_Edge]) -> list[list[_Edge]]:
    """Return the loose edges as chains from end to end, divided where more than two meet."""
    at: dict[int, list[int]] = defaultdict(list)
    for index, edge in enumerate(edges):
        at[edge.start].append(2 * index)
        at[edge.end].append(2 * index + 1)
    chains: list[list[_Edge]] = []
    used: set[int] = set()
    starts = [half for node in at for half in at[node] if len(at[node]) != 2]
    for first in [*starts, *range(0, 2 * len(edges), 2)]:
        chain: list[_Edge] = []
        half = first
        while half // 2 not in used:
            used.add(half // 2)
            edge = _run(edges, half)
            chain.append(edge)
            onward = [other for other in at[edge.end] if other // 2 not in used]
            if len(at[edge.end]) != 2 or not onward:
                break
            half = onward[0]
        if chain:
            chains.append(chain)
    return chains
