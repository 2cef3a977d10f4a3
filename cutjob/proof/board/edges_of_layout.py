"""A board's layout to its required edges: contours placed, cut up where they meet, with the wood beside each piece. mm.

A pocket may run out over its part's edge, overlap another one, and hold holes and openings. So each contour is cut up
where it meets another of its part. Every piece records how deep the wood beside it, on the material's side, is gone
anyway: as deep as the deepest other pocket or blind hole there, or infinitely where the part has no wood at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import LineOperation, ShapedPart
from cutjob.proof import limits
from cutjob.proof.board.areas import Shapes
from cutjob.proof.board.coverage import with_circle, with_line
from cutjob.proof.board.curves import Bools, Curves, Floats, Ints, circles, from_segments, join
from cutjob.proof.board.distances import Finder, distance, point_distance, point_geometries
from cutjob.proof.board.required_edges import (
    WALLED,
    EdgeKind,
    Feature,
    RequiredEdge,
    RequiredEdges,
    features_of,
    polygons,
)

_STEP = 1e-3  # mm; places nearer together count as one


@dataclass(frozen=True, slots=True)
class _Entry:
    """An edge of a part before it is placed: a `RequiredEdge` with the number of its rows in place of the rows."""

    kind: EdgeKind
    number: int
    depth: float | None
    radius: float
    rows: int
    island: int | None = None
    line: LineOperation = "mark"


@dataclass(frozen=True, slots=True)
class _PartEdges:
    """A part's edges in its own frame, mirrored or not."""

    curves: Curves
    entries: tuple[_Entry, ...]


def edges_of_layout(layout: BoardLayout) -> RequiredEdges:
    """Return every edge of a board, in its frame."""
    known: dict[tuple[int, bool], _PartEdges] = {}
    pieces: list[Curves] = []
    edges: list[RequiredEdge] = []
    row = 0
    for index, placement in enumerate(layout.placements):
        key = (id(placement.part), placement.transform.mirrored)
        if key not in known:
            known[key] = _part_edges(placement.part, mirrored=placement.transform.mirrored)
        pieces.append(_placed(known[key].curves, placement))
        for one in known[key].entries:
            rows = row, row + one.rows
            edges.append(
                RequiredEdge(index, one.kind, one.number, one.depth, one.radius, *rows, one.island, one.line)
            )  # fmt: skip
            row += one.rows
    cut = cut_up(join(pieces), tuple(edges))
    counts = np.array([edge.last - edge.first for edge in cut.edges], dtype=np.int64)
    owner = np.repeat(np.arange(len(cut.edges), dtype=np.int64), counts)
    placements = np.array([edge.placement for edge in cut.edges], dtype=np.int64)
    floors = np.array([(edge.depth or 0.0) if edge.kind in WALLED else np.inf for edge in cut.edges], dtype=float)
    return RequiredEdges(
        layout=layout,
        every=cut.edges,
        curves=cut.curves,
        edge=owner,
        placement=placements[owner],
        along=_along(cut.curves.length, cut.edges),
        gone=cut.gone,
        floor=floors[owner],
    )


def _along(length: Floats, edges: Sequence[RequiredEdge]) -> Floats:
    total = np.concatenate([np.zeros(1), np.cumsum(length)])[:-1]
    first = np.array([edge.first for edge in edges], dtype=np.int64)
    counts = np.array([edge.last - edge.first for edge in edges], dtype=np.int64)
    return np.asarray(total - np.repeat(total[first], counts)) if edges else total


def _part_edges(part: ShapedPart, *, mirrored: bool) -> _PartEdges:
    turn = Transform(mirrored=mirrored)
    region = turn.region(part.region) if mirrored else part.region
    pieces: list[Curves] = []
    entries: list[_Entry] = []

    def add(
        curves: Curves, kind: EdgeKind, number: int, depth: float | None = None, *, radius: float = 0.0,
        island: int | None = None, line: LineOperation = "mark",
    ) -> None:  # fmt: skip
        pieces.append(curves)
        entries.append(_Entry(kind, number, depth, radius, len(curves), island, line))

    add(from_segments(region.outline.segments), "outline", 0)
    for number, contour in enumerate(region.holes):
        add(from_segments(contour.segments), "hole", number)
    for number, hole in enumerate(part.round_holes):
        if hole.by_hand:
            continue
        at = turn.point(hole.at)
        circle = circles(np.array([at[0]]), np.array([at[1]]), np.array([hole.diameter / 2]))
        kind: EdgeKind = "through" if hole.depth is None else "blind"
        add(circle, kind, number, hole.depth, radius=hole.diameter / 2)
    for number, pocket in enumerate(part.pockets):
        area = turn.region(pocket.region) if mirrored else pocket.region
        # The wood is outside the outline and inside islands: both run the other way round than their region's.
        add(from_segments(area.outline.reversed().segments), "pocket", number, pocket.depth)
        for island, contour in enumerate(area.holes):
            add(from_segments(contour.reversed().segments), "pocket", number, pocket.depth, island=island)
    for number, mark in enumerate(part.marks):
        path = from_segments([turn.segment(segment) for segment in mark.path])
        add(path, "mark", number, mark.depth, line=mark.operation)
    return _PartEdges(join(pieces), tuple(entries))


def _placed(curves: Curves, placement: Placement) -> Curves:
    """Turn and shift; mirroring is done already, so only the rotation is taken from the transform."""
    transform = placement.transform
    turn = Transform(degrees=transform.degrees)
    (a, c), (b, d) = turn.point((1.0, 0.0)), turn.point((0.0, 1.0))
    return curves.moved((a, b, c, d), transform.x, transform.y)


@dataclass(frozen=True, slots=True)
class Pieces:
    """Contours cut up where they meet, the edges with their new rows, and by row the depth to which the wood beside it
    is gone.
    """

    curves: Curves
    edges: tuple[RequiredEdge, ...]
    gone: Floats


def cut_up(curves: Curves, edges: tuple[RequiredEdge, ...]) -> Pieces:
    """Return the contours of a board's edges in pieces, with the depth of the wood gone beside each."""
    owner = _owner(edges)
    inner = np.array([edge.kind in ("through", *WALLED) for edge in edges], dtype=bool)
    if not inner.any():
        return Pieces(curves, edges, np.zeros(len(curves)))
    one, two = _meetings(curves, edges, owner, inner)
    meeting = np.zeros(len(edges), dtype=bool)
    meeting[owner[one]] = True
    pieces, row = _split(curves, one, two)
    counts = np.bincount(owner[row], minlength=len(edges))
    last = np.cumsum(counts).tolist()
    cut = tuple(
        replace(edge, first=end - count, last=end)
        for edge, end, count in zip(edges, last, counts.tolist(), strict=True)
    )
    gone = _gone(pieces, cut, meeting)
    whole = np.bincount(row, minlength=len(curves))[row] == 1
    gone[~whole & (pieces.length < limits.SHORTEST_PIECE)] = np.inf
    return Pieces(pieces, cut, gone)


def _owner(edges: Sequence[RequiredEdge]) -> Ints:
    counts = np.array([edge.last - edge.first for edge in edges], dtype=np.int64)
    return np.repeat(np.arange(len(edges), dtype=np.int64), counts)


def _meetings(curves: Curves, edges: Sequence[RequiredEdge], owner: Ints, inner: Bools) -> tuple[Ints, Ints]:
    """Pairs of rows, both ways round, of different edges of one part that meet; one of them is a hole or pocket.

    Marks meet nothing: the wood gone beside them doesn't count.
    """
    marks = np.array([edge.kind == "mark" for edge in edges], dtype=bool)
    placement = np.array([edge.placement for edge in edges], dtype=np.int64)
    rows = np.flatnonzero(inner[owner])
    others = np.flatnonzero(~marks[owner])
    found: list[tuple[Ints, Ints]] = []
    for first, second in Finder(curves.take(others)).pairs(curves.take(rows), np.full(len(rows), limits.MEETING)):
        one, two = rows[first], others[second]
        kept = (owner[one] != owner[two]) & (placement[owner[one]] == placement[owner[two]])
        one, two = one[kept], two[kept]
        near = distance(curves.take(one), curves.take(two)) <= limits.MEETING
        found.append((one[near], two[near]))
    one, two = (np.concatenate([pair[end] for pair in found]) for end in (0, 1))
    return np.concatenate([one, two]), np.concatenate([two, one])


def _split(curves: Curves, one: Ints, two: Ints) -> tuple[Curves, Ints]:
    """Return the curves cut up where each of `one` meets its partner in `two`, and the curve of each piece."""
    a, b = curves.take(one), curves.take(two)
    flat = np.zeros(len(a))
    dx, dy = b.x1 - b.x0, b.y1 - b.y0
    length = np.maximum(np.hypot(dx, dy), 1e-300)
    arc = b.is_arc
    round_ = with_circle(a, b.cx, b.cy, np.where(arc, b.r, np.nan))
    straight = with_line(a, b.x0, b.y0, -dy / length, dx / length, flat)
    shares = [np.where(arc, each, other) for each, other in zip(round_, straight, strict=True)]
    # Where two run along each other, they part at the end of one of them.
    shares += [point_distance(x, y, a)[1] for x, y in ((b.x0, b.y0), (b.x1, b.y1))]
    rows, places = [], []
    for share in shares:
        inside = np.flatnonzero((share > 0) & (share < 1))
        x, y = a.take(inside).at(share[inside])
        inside = inside[point_distance(x, y, b.take(inside))[0] <= limits.MEETING]
        rows.append(one[inside])
        places.append(share[inside])
    row = np.concatenate(rows)
    step = np.maximum(curves.length[row] / _STEP, 1.0)
    place = np.round(np.concatenate(places) * step).astype(np.int64)
    kept = (place > 0) & (place < np.floor(step))
    row, place, step = row[kept], place[kept], step[kept]
    order = np.lexsort((place, row))
    row, place, step = row[order], place[order], step[order]
    fresh = np.concatenate([[True], (row[1:] != row[:-1]) | (place[1:] != place[:-1])])[: len(row)]
    row, share = row[fresh], place[fresh] / step[fresh]
    every = np.arange(len(curves), dtype=np.int64)
    # Each curve's pieces begin at its start and at its places, and end at the next of these or at its end.
    owner = np.concatenate([every, row])
    first = np.concatenate([np.zeros(len(every)), share])
    order = np.lexsort((first, owner))
    owner, first = owner[order], first[order]
    after = np.concatenate([first[1:], [1.0]])[: len(owner)]
    ends = np.concatenate([owner[1:] != owner[:-1], [True]])[: len(owner)]
    return curves.take(owner).part(first, np.where(ends, 1.0, after)), owner


def _gone(curves: Curves, edges: tuple[RequiredEdge, ...], meeting: Bools) -> Floats:
    """Return by row the depth to which the wood on its material's side is gone."""
    owner = _owner(edges)
    features = features_of(edges)
    of_feature = np.full(len(edges), -1, dtype=np.int64)
    for number, feature in enumerate(features):
        of_feature[list(feature.edges)] = number
    placement = np.array([edge.placement for edge in edges], dtype=np.int64)
    inner = np.array([edge.kind in ("through", *WALLED) for edge in edges], dtype=bool)
    # An edge that meets no other is wholly in the same place as its first row.
    first = np.array([edge.first for edge in edges], dtype=np.int64)
    asked = np.unique(np.concatenate([first, np.flatnonzero(meeting[owner])]))
    edge = owner[asked]
    deep = np.zeros(len(asked))
    near = shapely.STRtree(_beside(curves.take(asked), limits.INTO_WOOD))
    feature, point = near.query(_areas(curves, edges, features), predicate="contains")
    own = np.array([one.placement for one in features], dtype=np.int64)
    depth = np.array([one.depth for one in features], dtype=float)
    kept = (own[feature] == placement[edge[point]]) & (of_feature[edge[point]] != feature)
    np.maximum.at(deep, point[kept], depth[feature[kept]])
    # Where a hole goes through, or the part ends, there is no wood at all.
    holes = [index for index, one in enumerate(edges) if one.kind in ("through", "hole")]
    hole, point = near.query(
        polygons(curves, [[edges[index]] for index in holes], limits.POCKET_CHORD), predicate="contains"
    )
    numbers = np.array(holes, dtype=np.int64)
    kept = (placement[numbers[hole]] == placement[edge[point]]) & (numbers[hole] != edge[point])
    deep[point[kept & inner[edge[point]]]] = np.inf
    outlines = [[one] for one in edges if one.kind == "outline"]
    far = shapely.STRtree(_beside(curves.take(asked), limits.INTO_PART))
    part, point = far.query(polygons(curves, outlines, limits.PART_CHORD), predicate="contains")
    in_part = np.zeros(len(asked), dtype=bool)
    in_part[point[np.array([one[0].placement for one in outlines])[part] == placement[edge[point]]]] = True
    deep[inner[edge] & ~in_part] = np.inf
    by_row = np.full(len(curves), np.nan)
    by_row[asked] = deep
    return np.where(np.isnan(by_row), by_row[first[owner]], by_row)


def _beside(curves: Curves, by: float) -> Shapes:
    """Points beside the middles of curves, on the material's side."""
    middle = np.full(len(curves), 0.5)
    x, y = curves.at(middle)
    nx, ny = curves.right(middle)
    return point_geometries(x - nx * by, y - ny * by)


def _areas(curves: Curves, edges: Sequence[RequiredEdge], features: Sequence[Feature]) -> Shapes:
    return polygons(curves, [[edges[index] for index in feature.edges] for feature in features], limits.POCKET_CHORD)
