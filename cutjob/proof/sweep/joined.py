"""The pieces of a board at the level of its bridges: its parts, the pieces of waste, and the bridges between. mm.

A *node* is a part that is cut round, or a piece of waste between slots. A *bridge* is wood that is left in the slots
and touches nodes; wood that touches three or more counts as one bridge. Wood narrower than twice a margin joins
nothing: the cutter is swept that much too wide, which also allows coarse chords.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from cutjob.geometry.polygons import to_polygon
from cutjob.proof import limits
from cutjob.proof.board.areas import Shapes, vertices
from cutjob.proof.board.board_case import BoardCase
from cutjob.proof.board.curves import Ints
from cutjob.proof.board.cut_through import cut_through
from cutjob.proof.board.required_edges import RequiredEdge, RequiredEdges, polygons
from cutjob.proof.board.tracks import Tracks
from cutjob.tolerances import TOLERANCES

_CHORDS, _STRAIGHTER = 0.3, 0.2  # chord error of paths, and of making them simpler, as shares of the margin
_PART_CHORDS = 0.05  # mm; the same of parts
_QUARTER = 3  # chords to a quarter of a round end
_KEY_DECIMALS = 3  # places within which motions are the same


@dataclass(frozen=True, slots=True)
class Ground:
    """A board before anything is cut out of it: its outline; its parts with the openings that are cut (their indices
    are `placements`); each part with its slots, outside and in its openings; and the margin.
    """

    board: shapely.Geometry
    placements: Ints
    parts: Shapes
    slotted: Shapes
    slot: float  # width of the narrowest
    margin: float

    def of(self, placements: Sequence[int]) -> Ground:
        """The same with only some of its parts; nothing of the others is cut."""
        own = np.flatnonzero(np.isin(self.placements, np.array(placements, dtype=np.int64)))
        return replace(self, placements=self.placements[own], parts=self.parts[own], slotted=self.slotted[own])


@dataclass(frozen=True, slots=True)
class Pieces:
    """A board's nodes (first its parts, as in its ground, then waste), and its bridges with the nodes that each joins.

    `stubs` is wood in slots that touches at most one node.
    """

    nodes: Shapes
    parts: int
    bridges: Shapes
    joins: tuple[tuple[int, ...], ...]
    stubs: Shapes


def bridge_level(case: BoardCase) -> float:
    """Return the height at which a board's bridges are judged, above the underside of the lowest board.

    It is half the height of the lowest planned tab. Bridges over the whole height of a stack are judged in the middle
    of the uppermost board, where most cuts reach. Without tabs it is the underside itself.
    """
    low = [tab.height for one in case.programs for tab in one.tabs if not tab.is_whole(one.board.height)]
    if low:
        return min(low) / 2
    layout, tabs = case.layout, any(one.tabs for one in case.programs)
    return layout.height - layout.board.thickness / 2 if tabs else TOLERANCES.output


def ground_of(case: BoardCase) -> Ground:
    """Return the ground of a board; its parts are those whose outline is cut through anywhere."""
    edges, through = case.edges, cut_through(case)
    cut = [
        [(number, edge) for number, edge in own if edge.kind == "outline" or not through.missing[number]]
        for own in _by_placement(edges)
        if not through.missing[own[0][0]]
    ]
    placements = np.array([own[0][1].placement for own in cut], dtype=np.int64)
    deviation = np.array([edges.layout.placements[index].part.deviation for index in placements.tolist()], dtype=float)
    width = 2 * (through.radius[[own[0][0] for own in cut]] + deviation) if cut else np.zeros(0)
    parts = _valid(polygons(edges.curves, [[edge for _, edge in own] for own in cut], _PART_CHORDS))
    filled = _valid(polygons(edges.curves, [[own[0][1]] for own in cut], _PART_CHORDS))
    slotted = np.asarray(shapely.buffer(filled, width, quad_segs=_QUARTER), dtype=object)
    openings = [(part, number, edge) for part, own in enumerate(cut) for number, edge in own[1:]]
    if openings:
        owner = np.array([part for part, _, _ in openings], dtype=np.int64)
        own_width = 2 * (through.radius[[number for _, number, _ in openings]] + deviation[owner])
        areas = _valid(polygons(edges.curves, [[edge] for _, _, edge in openings], _PART_CHORDS))
        cores = np.asarray(shapely.buffer(areas, -own_width, quad_segs=_QUARTER), dtype=object)
        for part in np.unique(owner[~shapely.is_empty(cores)]).tolist():
            slotted[part] = shapely.difference(slotted[part], shapely.union_all(cores[owner == part]))
        width = np.concatenate([width, own_width])
    slot = float(width.min(initial=np.inf))
    tab = min((tab.width for program in case.programs for tab in program.tabs), default=np.inf)
    margin = float(min(limits.WEAK_WOOD, limits.WEAK_OF_SLOT * slot, limits.WEAK_OF_TAB * tab))
    return Ground(
        board=to_polygon(edges.layout.board.outline),
        placements=placements,
        parts=parts,
        slotted=np.asarray(shapely.simplify(slotted, _STRAIGHTER * margin), dtype=object),
        slot=slot,
        margin=margin,
    )


def _by_placement(edges: RequiredEdges) -> list[list[tuple[int, RequiredEdge]]]:
    """The numbered edges of material of each placement, its outline first."""
    found: list[list[tuple[int, RequiredEdge]]] = [[] for _ in edges.layout.placements]
    for number, edge in enumerate(edges.every):
        if edge.kind in ("outline", "hole", "through"):
            found[edge.placement].append((number, edge))
    return [sorted(own, key=lambda one: one[1].kind != "outline") for own in found]


def _valid(shapes: Shapes) -> Shapes:
    """The shapes as polygons: coarse chords of a slender part may cross."""
    wrong = ~shapely.is_valid(shapes) | (shapely.get_type_id(shapes) != shapely.GeometryType.POLYGON)
    for index in np.flatnonzero(wrong).tolist():
        pieces = each_polygon(shapely.make_valid(shapes[index]))
        shapes[index] = max(pieces, key=shapely.area, default=shapely.Polygon())
    return shapes


def swept_by(tracks: Tracks, ground: Ground) -> shapely.Geometry:
    """Return the area the cutters sweep along tracks, wider than they are by the ground's margin.

    A path that is run again is swept once. Paths are grown whole: GEOS fills in between their windings only where
    chords are very fine (see `areas.swept`), and these are coarse.
    """
    tracks = tracks.take(_once(tracks))
    curves, count = tracks.curves, len(tracks)
    if not count:
        return shapely.Polygon()
    apart = np.hypot(curves.x0[1:] - curves.x1[:-1], curves.y0[1:] - curves.y1[:-1]) > limits.TOUCHING
    begins = np.concatenate([[True], apart | (tracks.radius[1:] != tracks.radius[:-1])])
    ends = np.flatnonzero(np.append(begins[1:], True))
    path = np.cumsum(begins) - 1
    owner, points = vertices(curves, _CHORDS * ground.margin)
    last = np.stack([curves.x1[ends], curves.y1[ends]], axis=1)
    order = np.argsort(np.concatenate([path[owner], path[ends]]), kind="stable")
    lines = shapely.linestrings(
        np.concatenate([points, last])[order], indices=np.concatenate([path[owner], path[ends]])[order]
    )
    lines = shapely.simplify(lines, _STRAIGHTER * ground.margin)
    radius = tracks.radius[begins] + ground.margin
    return shapely.disjoint_subset_union_all(shapely.buffer(lines, radius, quad_segs=_QUARTER))


def _once(tracks: Tracks) -> Ints:
    """The tracks in their order, without repetitions of earlier ones."""
    c = tracks.curves
    columns = (c.x0, c.y0, c.x1, c.y1, c.cx, c.cy, c.sweep, tracks.radius)
    keys = np.round(np.stack(columns, axis=1), _KEY_DECIMALS) + 0.0
    rows = np.ascontiguousarray(keys).view(np.dtype((np.void, keys.dtype.itemsize * keys.shape[1]))).ravel()
    return np.sort(np.unique(rows, return_index=True)[1])


def pieces_of(ground: Ground, swept: shapely.Geometry) -> Pieces:
    """Return the nodes that `swept` leaves of a board, and the bridges between them."""
    wood = shapely.difference(ground.board, swept)
    waste = each_polygon(shapely.difference(wood, shapely.disjoint_subset_union_all(ground.slotted)))
    waste = waste[shapely.area(waste) >= limits.LEAST_WASTE]
    nodes = np.concatenate([ground.parts, waste])
    left = each_polygon(_without(wood, nodes))
    least = limits.LEAST_BRIDGE * ground.slot**2 if np.isfinite(ground.slot) else 0.0
    left = left[shapely.area(left) > least]
    joins: list[list[int]] = [[] for _ in left]
    # Nodes are asked, not looked up: GEOS gets each ready for many questions, and waste may have many thousand sides.
    node, found = shapely.STRtree(left).query(nodes, predicate="dwithin", distance=limits.TOUCHING)
    for bridge, one in sorted(zip(found.tolist(), node.tolist(), strict=True)):
        joins[bridge].append(one)
    several = np.array([len(own) > 1 for own in joins], dtype=bool)
    return Pieces(
        nodes=nodes,
        parts=len(ground.parts),
        bridges=left[several],
        joins=tuple(tuple(own) for own in joins if len(own) > 1),
        stubs=left[~several],
    )


def _without(wood: shapely.Geometry, nodes: Shapes) -> shapely.Geometry:
    """Wood less nodes. The nodes are apart, so together they are one shape; with a wrong plan it may be invalid."""
    try:
        return shapely.difference(wood, shapely.MultiPolygon(nodes.tolist()))
    except shapely.GEOSException:
        return shapely.difference(wood, shapely.union_all(nodes))


def each_polygon(shape: shapely.Geometry) -> Shapes:
    """Return the polygons of a shape."""
    parts: Shapes = np.asarray(shapely.get_parts(shape), dtype=object)
    return np.asarray(parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON], dtype=object)


@dataclass(frozen=True, slots=True)
class Ways:
    """How nodes and bridges hang on the holds.

    `far` is, for each node, the least number of bridges between it and a hold; -1: it is loose. `single` are the
    bridges without which some nodes would be loose, each with these nodes. `idle` are, for each node, those of its
    bridges that lead to nothing that would be held without the node.
    """

    far: tuple[int, ...]
    single: tuple[tuple[int, tuple[int, ...]], ...]
    idle: tuple[frozenset[int], ...]


def ways_to(pieces: Pieces, held: Sequence[int]) -> Ways:
    """Return how all hangs on the `held` nodes."""
    nodes, bridges = len(pieces.nodes), len(pieces.joins)
    beside: list[list[int]] = [[] for _ in range(nodes)]
    for bridge, own in enumerate(pieces.joins):
        for node in own:
            beside[node].append(bridge)
    # Vertices: nodes, bridges, and last the hold, on which all held nodes hang.
    hold = nodes + bridges
    around = [[nodes + bridge for bridge in own] for own in beside] + [list(own) for own in pieces.joins]
    around.append(list(held))
    for node in held:
        around[node].append(hold)
    single: dict[int, list[int]] = {}
    idle: list[set[int]] = [set() for _ in range(nodes)]
    for vertex, below in _cut_vertices(around, hold):
        if vertex < nodes:
            idle[vertex] |= {one - nodes for one in below} & set(beside[vertex])
        else:
            single.setdefault(vertex - nodes, []).extend(sorted(one for one in below if one < nodes))
    return Ways(
        _far(pieces.joins, beside, held),
        tuple((bridge, tuple(freed)) for bridge, freed in sorted(single.items())),
        tuple(frozenset(own) for own in idle),
    )


def _far(joins: Sequence[Sequence[int]], beside: Sequence[Sequence[int]], held: Sequence[int]) -> tuple[int, ...]:
    far = [-1] * len(beside)
    for node in held:
        far[node] = 0
    crossed = [False] * len(joins)
    queue = list(held)
    for node in queue:
        for bridge in beside[node]:
            if not crossed[bridge]:
                crossed[bridge] = True
                for other in joins[bridge]:
                    if far[other] < 0:
                        far[other] = far[node] + 1
                        queue.append(other)
    return tuple(far)


def _cut_vertices(around: Sequence[Sequence[int]], root: int) -> list[tuple[int, list[int]]]:
    """Return the vertices other than `root` without which others are cut off from it, each with these others; a vertex
    comes once for each group that hangs on it. By depth-first search (R. Tarjan, SIAM J. Comput. 1, 1972, 146-160).
    """
    number = [-1] * len(around)
    low = [0] * len(around)
    order: list[int] = []
    found: list[tuple[int, list[int]]] = []
    number[root] = 0
    order.append(root)
    stack = [(root, -1, iter(around[root]))]
    while stack:
        vertex, parent, others = stack[-1]
        for other in others:
            if number[other] < 0:
                number[other] = low[other] = len(order)
                order.append(other)
                stack.append((other, vertex, iter(around[other])))
                break
            if other != parent:
                low[vertex] = min(low[vertex], number[other])
        else:
            stack.pop()
            if parent >= 0 and parent != root:
                low[parent] = min(low[parent], low[vertex])
                if low[vertex] >= number[parent]:
                    found.append((parent, order[number[vertex] :]))
    return found
