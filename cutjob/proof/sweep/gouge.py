"""Finds where the cutter ran into a part: every motion in the stock against the material that must stay. mm.

A motion may enter a part's material only along one of its marks or its lettering, no deeper than these, or inside its
pockets and blind holes, no deeper than each. At any depth d the material that must stay is bounded by the required
edges that are walls there (`gone` < d <= `floor`). A motion's height changes evenly. So it stays out of the material
when both its ends do, at their heights, and no piece of it that is deeper than the top of a wall comes nearer to that
wall than the cutter's radius: to get in anywhere it would cross a wall, or go down through a floor and end below it.
Distances are exact; polygons only decide on which side of a wall, a cutter's radius away from it, an end is.

Also finds through cuts that stop short: right through the stock, but not as far into the spoilboard as planned. A board
a little thicker than stated, or a bed a little hollow, would leave a skin there.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from cutjob.counting import counted
from cutjob.geometry.segment import Point
from cutjob.proof import limits
from cutjob.proof.board.board_case import MOST_FINDINGS, BoardCase, once_a_board, worst_of_each
from cutjob.proof.board.coverage import Gaps, uncovered
from cutjob.proof.board.curves import Bools, Floats, Ints, portion_below
from cutjob.proof.board.cut_through import CutThrough, cut_through, discs
from cutjob.proof.board.distances import Finder, distance, point_geometries
from cutjob.proof.board.required_edges import MATERIAL, RequiredEdges
from cutjob.proof.board.stretches import Stretch, edge_length, reachable_stretches
from cutjob.proof.board.track_edge_pairs import curves_within, cutting_reach, deep_pairs
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.sweep.lettering import on_lettering
from cutjob.tolerances import TOLERANCES


def judge_overcut(case: BoardCase) -> list[Finding]:
    """Return findings for contours cut through, but not to the planned depth. Beside tabs a ramp may still fall: the
    feed table's or, where tabs are ramped, the profile's. A beam has no depth.
    """
    if case.laser:
        return []
    tracks, edges, through = case.tracks, case.edges, cut_through(case)
    planned = np.array([program.overcut for program in case.programs])
    own = planned[tracks.program[through.index]]
    level = -(edges.layout.height + own) + TOLERANCES.acceptance
    shallow = np.maximum(through.curves.z0, through.curves.z1) > level
    pairs = through.pairs
    # Over a skin only holes go right through; wood left is the judge of all other depths.
    judged = np.zeros(len(edges.curves), dtype=bool)
    judged[edges.rows(*(("through",) if case.skin > 0 else MATERIAL))] = True
    pairs = pairs.take(judged[pairs.row])
    rows = np.unique(pairs.row[shallow[pairs.track]])
    if not len(rows):
        return []
    pairs = pairs.take(np.isin(pairs.row, rows))
    kept, deep = portion_below(through.curves.take(pairs.track), level[pairs.track])
    gaps = uncovered(
        edges.curves.take(rows),
        deep,
        cutting_reach(tracks)[through.index][pairs.track[kept]],
        target=np.searchsorted(rows, pairs.row[kept]),
        cut=np.arange(len(kept), dtype=np.int64),
    )
    short = _reachable(edges, through, Gaps(rows[gaps.target], gaps.first, gaps.last))
    fall = max(_run(program, case.ramp_degrees) for program in case.programs)
    beside: dict[int, list[Stretch]] = {}
    for stretch in through.stretches:
        beside.setdefault(stretch.edge, []).append(stretch)
    length: dict[int, float] = {}
    for stretch in short:
        left = _outside(stretch, beside.get(stretch.edge, []), fall, edge_length(edges, stretch.edge))
        if left > limits.SHORTEST_LEFT:
            length[stretch.edge] = length.get(stretch.edge, 0.0) + left
    words, limit = f"are not cut as far below the stock as planned, {planned.max():.3f} mm", float(planned.max())
    return [
        case.error("depth", f"{most:.2f} mm of the {edges.name(edge)} {words}", at=edges.begin(edge), limit=limit)
        for edge, most in sorted(length.items())
    ][:MOST_FINDINGS]


def _reachable(edges: RequiredEdges, through: CutThrough, gaps: Gaps) -> list[Stretch]:
    material = edges.rows(*MATERIAL)
    finder = Finder(edges.curves.take(material))
    return reachable_stretches(edges, gaps, discs(edges, through.radius), finder, material)


def _run(program: ExpectedProgram, ramp_degrees: float | None) -> float:
    """How far a ramp runs while it falls by the overcut. Another rule reports a missing feed for the material."""
    rows = [cutter.feed_for(program.board.board.material) for cutter in program.cutters]
    angles = [row.ramp_degrees for row in rows if row is not None]
    angles += [ramp_degrees] if ramp_degrees is not None else []
    slopes = [math.tan(math.radians(angle)) for angle in angles]
    return program.overcut / min(slopes) + TOLERANCES.tab_width if slopes else TOLERANCES.tab_width


def _outside(stretch: Stretch, left: Sequence[Stretch], beside: float, total: float) -> float:
    """The length of a stretch that is farther than `beside` from every stretch `left` uncut on the same contour."""
    pieces = [(stretch.first, stretch.last)]
    for one in left:
        for turn in (-total, 0.0, total):
            first, last = one.first - beside + turn, one.last + beside + turn
            pieces = [
                (low, high)
                for a, b in pieces
                for low, high in ((a, min(b, first)), (max(a, last), b))
                if high > low
            ]  # fmt: skip
    return sum(b - a for a, b in pieces)


_LOOKS = 65  # places tried along a motion to find its worst


@dataclass(frozen=True, slots=True)
class _Bites:
    """Tracks that come into a placement's material, how far, and whether that is below a floor."""

    track: Ints
    placement: Ints
    depth: Floats
    below: Bools

    def take(self, index: Ints | Bools) -> _Bites:
        return _Bites(self.track[index], self.placement[index], self.depth[index], self.below[index])


def judge_gouges(case: BoardCase) -> Iterator[Finding]:
    """Yield findings for gouges beyond the acceptance: the worst of each program and placement."""
    tracks, bites, parts = case.tracks, _unexcused(case), len(case.layout.placements)
    bites = bites.take(bites.depth > TOLERANCES.acceptance)
    group = tracks.program[bites.track] * parts + bites.placement
    worst = worst_of_each(group, bites.depth)
    # In the order in which the first motions to bite run.
    worst = worst[np.argsort(np.unique(group, return_index=True)[1])]
    for index in worst[:MOST_FINDINGS].tolist():
        track, placement, depth = int(bites.track[index]), int(bites.placement[index]), float(bites.depth[index])
        name = case.edges.part_name(placement)
        message = _message(depth, name, tracks.radius[track], below=bool(bites.below[index]))
        at = _deepest(case, track, placement)
        yield case.error("gouge", message, track, at=at, measured=depth, limit=TOLERANCES.acceptance)
    if len(worst) > MOST_FINDINGS:
        message = f"cuts into {counted(len(worst) - MOST_FINDINGS, 'more part')}"
        yield case.error("gouge", message, file=case.programs[0].file)


def worst_gouge(case: BoardCase) -> float:
    """Return the depth of the worst gouge of all."""
    return float(_unexcused(case).depth.max(initial=0.0))


def count_gouges(case: BoardCase) -> int:
    """Return how many of the tracks gouge a part beyond the acceptance."""
    bites = _unexcused(case)
    return len(np.unique(bites.track[bites.depth > TOLERANCES.acceptance]))


@once_a_board
def _unexcused(case: BoardCase) -> _Bites:
    """The bites into parts, except those along marks and letters."""
    bites = _bites(case)
    serious = np.flatnonzero(bites.depth > TOLERANCES.acceptance)
    suspects = bites.take(serious)
    allowed = _on_marks(case, suspects) | on_lettering(case, suspects.track, suspects.placement)
    kept = np.ones(len(bites.depth), dtype=bool)
    kept[serious[allowed]] = False
    return bites.take(kept)


def _bites(case: BoardCase) -> _Bites:
    edges, near, ends = case.edges, case.touching, case.ends_in_parts
    pair, depth, low = _into_walls(case)
    end, sunk, below = _into_wood(case)
    track = np.concatenate([near.track[pair], ends.track[end]])
    placement = np.concatenate([edges.placement[near.row[pair]], ends.placement[end]])
    both = np.concatenate([depth, sunk])
    below = np.concatenate([low, below])
    # The worst of each track and placement: the last of its group.
    order = np.lexsort((both, placement, track))
    track, placement, both, below = track[order], placement[order], both[order], below[order]
    last = np.ones(len(order), dtype=bool)
    last[:-1] = (track[1:] != track[:-1]) | (placement[1:] != placement[:-1])
    return _Bites(track[last], placement[last], both[last], below[last])


def _into_walls(case: BoardCase) -> tuple[Ints, Floats, Bools]:
    """Return the near pairs that come nearer than the cutter's radius to a wall, below the wall's top; how far; and
    whether that is their depth below the floor above the wall.
    """
    tracks, edges, near = case.tracks, case.edges, case.touching
    depth = tracks.radius[near.track] - near.distance
    depth[~edges.is_wall[near.row]] = 0.0
    gone = edges.gone[near.row]
    below = np.zeros(len(depth), dtype=bool)
    partly = np.flatnonzero((depth > 0) & (gone > 0))
    if len(partly):
        some = near.take(partly)
        deep, curves = deep_pairs(tracks, some, -gone[partly] - TOLERANCES.acceptance)
        depth[partly] = 0.0
        aside = tracks.radius[some.track[deep]] - distance(curves, edges.curves.take(some.row[deep]))
        sunk = -curves.lowest - gone[partly[deep]]
        depth[partly[deep]] = np.minimum(aside, sunk)
        below[partly[deep]] = sunk < aside
    biting = np.flatnonzero(depth > 0)
    return biting, depth[biting], below[biting]


def _into_wood(case: BoardCase) -> tuple[Ints, Floats, Bools]:
    """Return which ends are in wood that must stay, how far in, and whether that is below a floor."""
    ends = case.ends_in_parts
    wrong = np.flatnonzero(~ends.allowed)
    if not len(wrong):
        return wrong, np.zeros(0), np.zeros(0, dtype=bool)
    bounds = shapely.boundary(case.edges.material)
    points = point_geometries(ends.x[wrong], ends.y[wrong])
    aside = np.asarray(shapely.distance(bounds[ends.placement[wrong]], points), dtype=float)
    aside += case.tracks.radius[ends.track[wrong]]
    sunk = -ends.z[wrong] - ends.depth[wrong]
    below = (ends.depth[wrong] > 0) & (sunk < aside)
    return wrong, np.where(below, sunk, aside), below


def _on_marks(case: BoardCase, bites: _Bites) -> Bools:
    """Which bites run along a mark of the same placement, no deeper than it."""
    edges = case.edges
    rows = edges.rows("mark")
    if not len(rows) or not len(bites.track):
        return np.zeros(len(bites.track), dtype=bool)
    limit = TOLERANCES.acceptance
    depths = case.mark_depths[edges.edge[rows]]
    curves = case.tracks.curves.take(bites.track)
    marks = edges.curves.take(rows)
    bite, mark, _ = curves_within(curves, marks, np.full(len(curves), limit))
    deepest = curves.lowest
    fits = (edges.placement[rows[mark]] == bites.placement[bite]) & (deepest[bite] >= -depths[mark] - limit)
    gaps = uncovered(curves, marks, np.full(len(marks), limit), target=bite[fits], cut=mark[fits])
    allowed = np.ones(len(curves), dtype=bool)
    allowed[gaps.target] = False
    return allowed


def _deepest(case: BoardCase, track: int, placement: int) -> Point:
    """The place on a motion where the cutter's middle is farthest in a part, or nearest to it."""
    x, y = case.tracks.curves.take(np.full(_LOOKS, track)).at(np.linspace(0.0, 1.0, _LOOKS))
    wood, points = case.edges.material[placement], point_geometries(x, y)
    aside = np.asarray(shapely.distance(shapely.boundary(wood), points), dtype=float)
    place = int(np.argmin(np.where(shapely.intersects(wood, points), -aside, aside)))
    return float(x[place]), float(y[place])


def _message(depth: float, part: str, radius: float, *, below: bool) -> str:
    if below:
        return f"cuts {depth:.3f} mm below the floor of a pocket or blind hole of {part}"
    return f"cuts {depth:.3f} mm into {part}" + (", off its marks, pockets and holes" if depth > radius else "")
