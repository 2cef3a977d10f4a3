"""What must be cut on a board: every contour, hole and mark of every placed part, as columns of lines and arcs. mm.

A *goal* is one contour or feature of one placement: its outline, a hole of its region, a round hole through or blind,
or a mark. Contours of material are run so that the material lies on the left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import shapely

from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import ShapedPart
from cutjob.proof.curves import Curves, Floats, Ints, circles, from_segments, join

GoalKind: TypeAlias = Literal["outline", "hole", "through", "blind", "mark"]
_NAMES = {"outline": "outline", "hole": "inside contour", "through": "hole", "blind": "blind hole", "mark": "mark"}
_COARSE = 0.01  # mm; polygons only say which side of a contour a point lies on, a cutter's radius away from it


@dataclass(frozen=True, slots=True)
class Goal:
    """One contour or feature: `depth` below the stock's top of a blind hole or mark (None: through, or the profile's
    mark depth), `radius` of a round hole; its curves are rows `first` up to but without `last`.
    """

    placement: int
    kind: GoalKind
    number: int
    depth: float | None
    radius: float
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Goals:
    """All goals of a board. `goal` and `placement` say for each row of `curves` what it belongs to; `along` is how far
    the row starts from the start of its goal.
    """

    layout: BoardLayout
    goals: tuple[Goal, ...]
    curves: Curves
    goal: Ints
    placement: Ints
    along: Floats

    def rows(self, *kinds: GoalKind) -> Ints:
        """The rows of all goals of these kinds."""
        chosen = np.array([goal.kind in kinds for goal in self.goals], dtype=bool)
        return np.flatnonzero(chosen[self.goal]) if len(self.goal) else np.zeros(0, dtype=np.int64)

    def name(self, goal: int) -> str:
        """A goal's name for a message."""
        here = self.goals[goal]
        number = f" {here.number + 1}" if here.kind != "outline" else ""
        return f"{_NAMES[here.kind]}{number} of {self.part_name(here.placement)}"

    def part_name(self, placement: int) -> str:
        """A placement's name for a message."""
        here = self.layout.placements[placement]
        return f'part "{here.part.name}" ({here.item} {here.unit})'

    def material(self) -> np.ndarray[tuple[int], np.dtype[np.object_]]:
        """Coarse polygons of what must stay of each placement: its region without holes that go through."""
        rings: list[list[shapely.LinearRing]] = [[] for _ in self.layout.placements]
        for goal in self.goals:
            if goal.kind in ("outline", "hole", "through"):
                rings[goal.placement].append(self.ring(goal))
        polygons: list[shapely.Geometry] = [shapely.Polygon(own[0], own[1:]) for own in rings]
        # A hole that breaks out of its part makes the plain polygon invalid; the difference stays true.
        for index, (polygon, own) in enumerate(zip(polygons, rings, strict=True)):
            if len(own) > 1 and not shapely.is_valid(polygon):
                holes = shapely.union_all([shapely.Polygon(ring) for ring in own[1:]])
                polygons[index] = shapely.difference(shapely.Polygon(own[0]), holes)
        return np.array(polygons, dtype=object)

    def ring(self, goal: Goal) -> shapely.LinearRing:
        """A coarse ring of a goal's closed contour."""
        rows = self.curves.take(slice(goal.first, goal.last))
        ratio = np.clip(1 - _COARSE / np.maximum(rows.r, 1e-9), 0.0, 1.0)
        step = np.maximum(2 * np.arccos(ratio), 1e-3)
        count = np.maximum(np.ceil(np.abs(rows.sweep) / step), 1).astype(int)
        owner = np.repeat(np.arange(len(rows)), count)
        number = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
        x, y = rows.take(owner).at(number / count[owner])
        return shapely.LinearRing(np.stack([x, y], axis=1))


@dataclass(frozen=True, slots=True)
class _PartGoals:
    """A part's goals in its own frame, mirrored or not."""

    curves: Curves
    entries: tuple[tuple[GoalKind, int, float | None, float, int], ...]  # kind, number, depth, radius, rows


def goals_of(layout: BoardLayout) -> Goals:
    """Return every goal of a board, in its frame."""
    known: dict[tuple[int, bool], _PartGoals] = {}
    pieces: list[Curves] = []
    goals: list[Goal] = []
    row = 0
    for index, placement in enumerate(layout.placements):
        key = (id(placement.part), placement.transform.mirrored)
        if key not in known:
            known[key] = _part_goals(placement.part, mirrored=placement.transform.mirrored)
        pieces.append(_placed(known[key].curves, placement))
        for kind, number, depth, radius, count in known[key].entries:
            goals.append(Goal(index, kind, number, depth, radius, row, row + count))
            row += count
    curves = join(pieces)
    counts = np.array([goal.last - goal.first for goal in goals], dtype=np.int64)
    owner = np.repeat(np.arange(len(goals), dtype=np.int64), counts)
    placements = np.array([goal.placement for goal in goals], dtype=np.int64)
    return Goals(layout, tuple(goals), curves, owner, placements[owner], _along(curves.length, goals))


def _along(length: Floats, goals: Sequence[Goal]) -> Floats:
    total = np.concatenate([np.zeros(1), np.cumsum(length)])[:-1]
    first = np.array([goal.first for goal in goals], dtype=np.int64)
    counts = np.array([goal.last - goal.first for goal in goals], dtype=np.int64)
    return np.asarray(total - np.repeat(total[first], counts)) if goals else total


def _part_goals(part: ShapedPart, *, mirrored: bool) -> _PartGoals:
    turn = Transform(mirrored=mirrored)
    region = turn.region(part.region) if mirrored else part.region
    pieces: list[Curves] = []
    entries: list[tuple[GoalKind, int, float | None, float, int]] = []

    def add(kind: GoalKind, number: int, depth: float | None, radius: float, curves: Curves) -> None:
        pieces.append(curves)
        entries.append((kind, number, depth, radius, len(curves)))

    add("outline", 0, None, 0.0, from_segments(region.outline.segments))
    for number, contour in enumerate(region.holes):
        add("hole", number, None, 0.0, from_segments(contour.segments))
    for number, hole in enumerate(part.holes):
        at = turn.point(hole.at)
        circle = circles(np.array([at[0]]), np.array([at[1]]), np.array([hole.diameter / 2]))
        add("through" if hole.depth is None else "blind", number, hole.depth, hole.diameter / 2, circle)
    for number, mark in enumerate(part.marks):
        add("mark", number, mark.depth, 0.0, from_segments([turn.segment(segment) for segment in mark.path]))
    return _PartGoals(join(pieces), tuple(entries))


def _placed(curves: Curves, placement: Placement) -> Curves:
    """Turn and shift; mirroring is done already, so only the rotation is taken from the transform."""
    transform = placement.transform
    turn = Transform(degrees=transform.degrees)
    (a, c), (b, d) = turn.point((1.0, 0.0)), turn.point((0.0, 1.0))
    return curves.moved((a, b, c, d), transform.x, transform.y)
