"""Which contours have wood beside them, and from what depth down: pockets and holes take the wood of others away. mm.

A pocket may run out over its part's edge, overlap another one, and hold holes and openings. So each contour is cut up
where it meets another of its part, and every piece is told how deep the wood beside it, on the material's side, is gone
anyway: by the deepest other pocket or blind hole there; 'for ever' where no wood of the part is at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from cutjob.proof import limits
from cutjob.proof.board.areas import Shapes, polygons
from cutjob.proof.board.coverage import with_circle, with_line
from cutjob.proof.board.curves import Bools, Curves, Floats, Ints
from cutjob.proof.board.distances import Finder, distance, point_distance, point_geometries
from cutjob.proof.board.required_edge import WALLED, Feature, Goal

_STEP = 1e-3  # mm; places nearer together than this are one


@dataclass(frozen=True, slots=True)
class Pieces:
    """Contours cut up where they meet, the goals with their new rows, and by row down to what depth the wood beside it
    is gone.
    """

    curves: Curves
    goals: tuple[Goal, ...]
    gone: Floats


def features_of(goals: Sequence[Goal]) -> tuple[Feature, ...]:
    """Return the blind holes and pockets among goals; islands belong to their pocket."""
    groups: dict[tuple[int, str, int], list[int]] = {}
    for index, goal in enumerate(goals):
        if goal.kind in WALLED:
            groups.setdefault((goal.placement, goal.kind, goal.number), []).append(index)
    return tuple(
        Feature(goals[own[0]].placement, goals[own[0]].kind, goals[own[0]].depth or 0.0, tuple(own))
        for own in groups.values()
    )


def cut_up(curves: Curves, goals: tuple[Goal, ...]) -> Pieces:
    """Return the contours of a board's goals in pieces, with what is gone beside each."""
    owner = _owner(goals)
    inner = np.array([goal.kind in ("through", *WALLED) for goal in goals], dtype=bool)
    if not inner.any():
        return Pieces(curves, goals, np.zeros(len(curves)))
    one, two = _meetings(curves, goals, owner, inner)
    meeting = np.zeros(len(goals), dtype=bool)
    meeting[owner[one]] = True
    pieces, row = _split(curves, one, two)
    counts = np.bincount(owner[row], minlength=len(goals))
    last = np.cumsum(counts).tolist()
    cut = tuple(
        replace(goal, first=end - count, last=end)
        for goal, end, count in zip(goals, last, counts.tolist(), strict=True)
    )
    gone = _gone(pieces, cut, meeting)
    whole = np.bincount(row, minlength=len(curves))[row] == 1
    gone[~whole & (pieces.length < limits.SHORTEST_PIECE)] = np.inf
    return Pieces(pieces, cut, gone)


def _owner(goals: Sequence[Goal]) -> Ints:
    counts = np.array([goal.last - goal.first for goal in goals], dtype=np.int64)
    return np.repeat(np.arange(len(goals), dtype=np.int64), counts)


def _meetings(curves: Curves, goals: Sequence[Goal], owner: Ints, inner: Bools) -> tuple[Ints, Ints]:
    """Pairs of rows, both ways round, of different goals of one part that come together; one of them a hole or pocket.

    Marks meet nothing: what is gone beside them doesn't count.
    """
    marks = np.array([goal.kind == "mark" for goal in goals], dtype=bool)
    placement = np.array([goal.placement for goal in goals], dtype=np.int64)
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
    """Return the curves cut up where each of `one` meets the same of `two`, and which curve each piece is of."""
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


def _gone(curves: Curves, goals: tuple[Goal, ...], meeting: Bools) -> Floats:
    """Return by row how deep the wood on its material's side is gone."""
    owner = _owner(goals)
    features = features_of(goals)
    of_feature = np.full(len(goals), -1, dtype=np.int64)
    for number, feature in enumerate(features):
        of_feature[list(feature.goals)] = number
    placement = np.array([goal.placement for goal in goals], dtype=np.int64)
    inner = np.array([goal.kind in ("through", *WALLED) for goal in goals], dtype=bool)
    # A goal that meets no other lies wholly where its first row does.
    first = np.array([goal.first for goal in goals], dtype=np.int64)
    asked = np.unique(np.concatenate([first, np.flatnonzero(meeting[owner])]))
    goal = owner[asked]
    deep = np.zeros(len(asked))
    near = shapely.STRtree(_beside(curves.take(asked), limits.INTO_WOOD))
    feature, point = near.query(_areas(curves, goals, features), predicate="contains")
    own = np.array([one.placement for one in features], dtype=np.int64)
    depth = np.array([one.depth for one in features], dtype=float)
    kept = (own[feature] == placement[goal[point]]) & (of_feature[goal[point]] != feature)
    np.maximum.at(deep, point[kept], depth[feature[kept]])
    # Where a hole goes through, or the part ends, there is no wood at all.
    holes = [index for index, one in enumerate(goals) if one.kind in ("through", "hole")]
    hole, point = near.query(
        polygons(curves, [[goals[index]] for index in holes], limits.POCKET_CHORD), predicate="contains"
    )
    numbers = np.array(holes, dtype=np.int64)
    kept = (placement[numbers[hole]] == placement[goal[point]]) & (numbers[hole] != goal[point])
    deep[point[kept & inner[goal[point]]]] = np.inf
    outlines = [[one] for one in goals if one.kind == "outline"]
    far = shapely.STRtree(_beside(curves.take(asked), limits.INTO_PART))
    part, point = far.query(polygons(curves, outlines, limits.PART_CHORD), predicate="contains")
    in_part = np.zeros(len(asked), dtype=bool)
    in_part[point[np.array([one[0].placement for one in outlines])[part] == placement[goal[point]]]] = True
    deep[inner[goal] & ~in_part] = np.inf
    by_row = np.full(len(curves), np.nan)
    by_row[asked] = deep
    return np.where(np.isnan(by_row), by_row[first[owner]], by_row)


def _beside(curves: Curves, by: float) -> Shapes:
    """Points beside the middles of curves, on the material's side."""
    middle = np.full(len(curves), 0.5)
    x, y = curves.at(middle)
    nx, ny = curves.right(middle)
    return point_geometries(x - nx * by, y - ny * by)


def _areas(curves: Curves, goals: Sequence[Goal], features: Sequence[Feature]) -> Shapes:
    return polygons(curves, [[goals[index] for index in feature.goals] for feature in features], limits.POCKET_CHORD)
