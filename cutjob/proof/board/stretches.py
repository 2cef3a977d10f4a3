"""Stretches of contours that no cut came near enough to, without the inside corners that no cutter can reach. mm.

A cutter can reach a place on a contour when a disc of its radius, laid against the place from the waste side, clears
the whole part. Gaps in the coverage are split into reachable stretches, joined across the contour's segments.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutjob.proof import limits
from cutjob.proof.board.coverage import Gaps
from cutjob.proof.board.curves import Bools, Floats, Ints
from cutjob.proof.board.distances import Finder, point_distance
from cutjob.proof.board.required_edges import RequiredEdges
from cutjob.tolerances import TOLERANCES

_COARSE, _FINE = 9, 65  # places tried on a gap, and on one that is partly in reach
_JOIN = 1e-5  # mm along a contour


@dataclass(frozen=True, slots=True)
class Stretch:
    """From `first` to `last` mm along an edge's contour (`last` may run past its length, over the start)."""

    edge: int
    first: float
    last: float


def reachable_stretches(
    edges: RequiredEdges, gaps: Gaps, disc: Floats, finder: Finder, material: Ints, *, at_floors: bool = False
) -> list[Stretch]:
    """Return the reachable stretches in `gaps`; see `stretches_by_reach`."""
    return stretches_by_reach(edges, gaps, disc, finder, material, at_floors=at_floors)[0]


def stretches_by_reach(
    edges: RequiredEdges, gaps: Gaps, disc: Floats, finder: Finder, material: Ints, *, at_floors: bool = False
) -> tuple[list[Stretch], list[Stretch]]:
    """Return the reachable stretches in `gaps`, whose targets are rows of the edges' curves, and those out of reach.

    `disc` is the radius of the disc laid against each row; `finder` searches the rows `material`. With `at_floors` the
    disc is laid at the depth of the row's floor. It then has to clear only rows that are walls at that depth, and it
    may be a hair larger than fits, so that it fits a slot as wide as the cutter.
    """
    if not len(gaps):
        return [], []
    clear = limits.DISC_OVERLAP_AT_FLOORS if at_floors else limits.DISC_OVERLAP
    level = edges.floor if at_floors else None

    def reachable(some: Gaps, count: int) -> Bools:
        return _reachable(edges, some, disc, finder, material, count, clear=clear, level=level)

    def every(places: Bools) -> list[tuple[int, float, float]]:
        return [(int(gaps.target[i]), float(gaps.first[i]), float(gaps.last[i])) for i in np.flatnonzero(places)]

    open_at = reachable(gaps, _COARSE)
    whole, some_open = np.asarray(open_at.all(axis=1)), np.asarray(open_at.any(axis=1))
    inside, outside = every(whole), every(~some_open)
    mixed = np.flatnonzero(some_open & ~whole)
    if len(mixed):
        some = Gaps(gaps.target[mixed], gaps.first[mixed], gaps.last[mixed])
        finely = reachable(some, _FINE)
        inside += _runs(some, finely)
        outside += _runs(some, ~finely)
    return _joined(edges, inside), _joined(edges, outside)


def _reachable(
    edges: RequiredEdges, gaps: Gaps, disc: Floats, finder: Finder, material: Ints, count: int, *, clear: float,
    level: Floats | None,
) -> Bools:  # fmt: skip
    """Return for each gap whether each of `count` places spread over it can be reached."""
    shares = (np.arange(count) + 0.5) / count
    at = (gaps.first[:, None] + (gaps.last - gaps.first)[:, None] * shares).ravel()
    row = np.repeat(gaps.target, count)
    curves = edges.curves.take(row)
    x, y = curves.at(at)
    nx, ny = curves.right(at)
    radius = disc[row]
    cx, cy = x + nx * radius, y + ny * radius
    place, found = finder.around(cx, cy, radius)
    found = material[found]
    own = edges.placement[found] == edges.placement[row[place]]
    if level is not None:
        depth = level[row[place]]
        own &= (edges.gone[found] < depth - TOLERANCES.acceptance) & (
            edges.floor[found] >= depth - TOLERANCES.acceptance
        )
    place, found = place[own], found[own]
    apart = point_distance(cx[place], cy[place], edges.curves.take(found))[0]
    fits = np.ones(len(row), dtype=bool)
    fits[place[apart < radius[place] - clear]] = False
    return fits.reshape(len(gaps), count)


def _runs(gaps: Gaps, open_at: Bools) -> list[tuple[int, float, float]]:
    pieces = []
    count = open_at.shape[1]
    for index in range(len(gaps)):
        first, width = float(gaps.first[index]), float(gaps.last[index] - gaps.first[index])
        turns = np.flatnonzero(np.diff(np.concatenate([[0], open_at[index].astype(int), [0]])))
        for begin, end in zip(turns[::2], turns[1::2], strict=True):
            pieces.append((int(gaps.target[index]), first + width * begin / count, first + width * end / count))
    return pieces


def _joined(edges: RequiredEdges, pieces: list[tuple[int, float, float]]) -> list[Stretch]:
    lengths = edges.curves.length
    spans = []
    for row, first, last in pieces:
        start, length = float(edges.along[row]), float(lengths[row])
        spans.append((int(edges.edge[row]), start + first * length, start + last * length))
    spans.sort()
    joined: list[Stretch] = []
    for edge, first, last in spans:
        before = joined[-1] if joined else None
        if before is not None and before.edge == edge and first - before.last <= _JOIN:
            joined[-1] = Stretch(edge, before.first, max(last, before.last))
        else:
            joined.append(Stretch(edge, first, last))
    return _over_the_start(edges, joined)


def _over_the_start(edges: RequiredEdges, joined: list[Stretch]) -> list[Stretch]:
    """Join a stretch that ends with its closed contour to the one that begins with it."""
    at_start = {one.edge: one for one in joined if one.first <= _JOIN}
    result, swallowed = [], set()
    for one in joined:
        total = edge_length(edges, one.edge)
        head = at_start.get(one.edge)
        if edges.every[one.edge].kind != "mark" and head is not None and head != one and total - one.last <= _JOIN:
            result.append(Stretch(one.edge, one.first, total + head.last))
            swallowed.add(head)
        else:
            result.append(one)
    return [one for one in result if one not in swallowed]


def edge_length(edges: RequiredEdges, edge: int) -> float:
    """Return the length of an edge's contour."""
    return float(edges.lengths[edge])


def rows_at(edges: RequiredEdges, edge: Ints, along: Floats) -> tuple[Ints, Floats]:
    """Return the row and the share of its length at `along` mm of each edge's contour, taken round it."""
    first = np.array([edges.every[one].first for one in edge], dtype=np.int64)
    last = np.array([edges.every[one].last for one in edge], dtype=np.int64)
    total = edges.lengths[edge] if len(edge) else np.zeros(0)
    place = np.mod(along, total)
    rows = np.array(
        [
            begin + max(0, int(np.searchsorted(edges.along[begin:end], value, side="right")) - 1)
            for begin, end, value in zip(first, last, place, strict=True)
        ],
        dtype=np.int64,
    )
    length = np.maximum(edges.curves.take(rows).length, 1e-12)
    return rows, np.clip((place - edges.along[rows]) / length, 0.0, 1.0)
