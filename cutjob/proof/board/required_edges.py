"""Everything that must be cut on a board: contours, holes, pockets and marks of all parts, as columns of lines and
arcs. mm.

A *required edge* is one contour or feature of one placement: its outline, a hole of its region, a round hole through or
blind, the outline or an island of a pocket, or a mark. A counterbored hole is two round holes. Contours of material
run with the material on their left.

Closed contours become polygons, thousands at a time, at a stated chord error, with their corners on the contour.
Polygons only decide on which side of a contour a point is, and how much of a floor is covered; distances come from the
contours themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, TypeAlias

import numpy as np
import shapely

from cutjob.geometry.segment import Point
from cutjob.layout.layout import BoardLayout
from cutjob.parts.part import LineOperation
from cutjob.proof import limits
from cutjob.proof.board.areas import Shapes, vertices
from cutjob.proof.board.curves import Bools, Curves, Floats, Ints
from cutjob.tolerances import TOLERANCES

EdgeKind: TypeAlias = Literal["outline", "hole", "through", "blind", "pocket", "mark"]
MATERIAL: tuple[EdgeKind, ...] = ("outline", "hole", "through")  # these are cut right through
WALLED: tuple[EdgeKind, ...] = ("blind", "pocket")  # these have walls and a floor
_NAMES: dict[EdgeKind, str] = {
    "outline": "outline",
    "hole": "inside contour",
    "through": "hole",
    "blind": "blind hole",
    "pocket": "pocket",
    "mark": "mark",
}


@dataclass(frozen=True, slots=True)
class RequiredEdge:
    """One contour or feature. `depth` is that of a blind hole, pocket or mark below the stock's top (None: through, or
    the profile's mark depth), `radius` that of a round hole; its curves are rows `first` up to but without `last`.

    A pocket has an edge for its outline and one for each island, which share its number. `line` is the operation that
    cuts a mark.
    """

    placement: int
    kind: EdgeKind
    number: int
    depth: float | None
    radius: float
    first: int
    last: int
    island: int | None = None
    line: LineOperation = "mark"

    @property
    def name(self) -> str:
        """Its name, without its part's."""
        number = f" {self.number + 1}" if self.kind != "outline" else ""
        whole = f"{_NAMES[self.kind]}{number}"
        return whole if self.island is None else f"island {self.island + 1} in {whole}"


@dataclass(frozen=True, slots=True)
class Feature:
    """A blind hole or a whole pocket: its edges, by index, the outline's first and islands' after it."""

    placement: int
    kind: EdgeKind
    depth: float
    edges: tuple[int, ...]


@dataclass(frozen=True)
class RequiredEdges:
    """All edges of a board. By row of `curves`: its edge and placement; `along`, the distance of its start from the
    start of its edge; and the depths between which it is a wall. There is wood beside it from `gone` (0: the stock's
    top; infinite: nowhere) down to `floor` (infinite: right through).
    """

    layout: BoardLayout
    every: tuple[RequiredEdge, ...]
    curves: Curves
    edge: Ints
    placement: Ints
    along: Floats
    gone: Floats
    floor: Floats

    @cached_property
    def lengths(self) -> Floats:
        """The length of each edge's contour."""
        total = np.bincount(self.edge, weights=self.curves.length, minlength=len(self.every))
        return np.asarray(total, dtype=np.float64)

    def rows(self, *kinds: EdgeKind) -> Ints:
        """The rows of all edges of these kinds."""
        chosen = np.array([edge.kind in kinds for edge in self.every], dtype=bool)
        return np.flatnonzero(chosen[self.edge]) if len(self.edge) else np.zeros(0, dtype=np.int64)

    @property
    def is_wall(self) -> Bools:
        """Which rows are a wall at some depth; those in the air, or in a deeper pocket, aren't."""
        return np.asarray(self.gone < self.floor - TOLERANCES.acceptance)

    def name(self, edge: int) -> str:
        """An edge's name for a message."""
        here = self.every[edge]
        return f"{here.name} of {self.part_name(here.placement)}"

    def begin(self, edge: int) -> Point:
        """Where an edge's contour begins."""
        first = self.every[edge].first
        return float(self.curves.x0[first]), float(self.curves.y0[first])

    def part_name(self, placement: int) -> str:
        """A placement's name for a message."""
        here = self.layout.placements[placement]
        return f'part "{here.part.name}" ({here.item} {here.unit})'

    def part_of(self, edge: int) -> str:
        """The name of an edge's part for a message."""
        return self.part_name(self.every[edge].placement)

    @cached_property
    def material(self) -> Shapes:
        """Coarse polygons of the wood that must stay of each placement: its region without holes that go through."""
        groups: list[list[RequiredEdge]] = [[] for _ in self.layout.placements]
        for edge in self.every:
            if edge.kind in MATERIAL:
                groups[edge.placement].append(edge)
        return polygons(self.curves, groups, limits.PART_CHORD)

    @cached_property
    def features(self) -> tuple[Feature, ...]:
        """All pockets and blind holes."""
        return features_of(self.every)

    @cached_property
    def areas(self) -> Shapes:
        """The polygon of each of the features, islands left out."""
        groups = [[self.every[index] for index in feature.edges] for feature in self.features]
        return polygons(self.curves, groups, limits.POCKET_CHORD)

    def ring(self, edge: RequiredEdge) -> shapely.LinearRing:
        """A coarse ring of an edge's closed contour."""
        ring: shapely.LinearRing = rings(self.curves, [edge], limits.PART_CHORD)[0]
        return ring


def features_of(edges: Sequence[RequiredEdge]) -> tuple[Feature, ...]:
    """Return the blind holes and pockets among edges; islands belong to their pocket."""
    groups: dict[tuple[int, str, int], list[int]] = {}
    for index, edge in enumerate(edges):
        if edge.kind in WALLED:
            groups.setdefault((edge.placement, edge.kind, edge.number), []).append(index)
    return tuple(
        Feature(edges[own[0]].placement, edges[own[0]].kind, edges[own[0]].depth or 0.0, tuple(own))
        for own in groups.values()
    )


def rings(curves: Curves, edges: Sequence[RequiredEdge], deviation: float) -> Shapes:
    """Return the closed ring of each edge's contour."""
    if not edges:
        return np.zeros(0, dtype=object)
    rows = np.concatenate([np.arange(edge.first, edge.last, dtype=np.int64) for edge in edges])
    ring = np.repeat(np.arange(len(edges), dtype=np.int64), [edge.last - edge.first for edge in edges])
    owner, points = vertices(curves.take(rows), deviation)
    return np.asarray(shapely.linearrings(points, indices=ring[owner]), dtype=object)


def polygons(curves: Curves, groups: Sequence[Sequence[RequiredEdge]], deviation: float) -> Shapes:
    """Return one polygon for each group of edges: the first is its outline, the others are holes in it.

    A hole that breaks out of its outline, or runs into another, is subtracted all the same.
    """
    if not groups:
        return np.zeros(0, dtype=object)
    every = rings(curves, [edge for group in groups for edge in group], deviation)
    owner = np.repeat(np.arange(len(groups), dtype=np.int64), [len(group) for group in groups])
    found = np.asarray(shapely.polygons(every, indices=owner), dtype=object)
    several = np.array([len(group) > 1 for group in groups], dtype=bool)
    for index in np.flatnonzero(several & ~shapely.is_valid(found)).tolist():
        outline, *holes = every[owner == index]
        inner = shapely.union_all([shapely.make_valid(shapely.Polygon(ring)) for ring in holes])
        found[index] = shapely.difference(shapely.make_valid(shapely.Polygon(outline)), inner)
    return found
