"""What must be cut on a board: every contour, hole, pocket and mark of every placed part, as columns of lines and arcs.
mm.

A *goal* is one contour or feature of one placement: its outline, a hole of its region, a round hole through or blind,
the outline or an island of a pocket, or a mark. A counterbored hole is two round holes. Contours of material are run so
that the material lies on the left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from cutjob.geometry.segment import Point
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import ShapedPart
from cutjob.proof import limits
from cutjob.proof.board.areas import Shapes, material, polygons, rings
from cutjob.proof.board.beside import cut_up, features_of
from cutjob.proof.board.curves import Bools, Curves, Floats, Ints, circles, from_segments, join
from cutjob.proof.board.required_edge import MATERIAL, WALLED, Feature, Goal, GoalKind
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class Goals:
    """All goals of a board. By row of `curves`: what goal and placement it belongs to, `along` how far it starts from
    the start of its goal, and the depths between which it is a wall: wood stands beside it below `gone` (0: from the
    stock's top; infinite: never) and down to `floor` (infinite: right through).
    """

    layout: BoardLayout
    goals: tuple[Goal, ...]
    curves: Curves
    goal: Ints
    placement: Ints
    along: Floats
    gone: Floats
    floor: Floats
    # Worked out when first asked for.
    _lengths: list[Floats] = field(default_factory=list, init=False, repr=False, compare=False)
    _material: list[Shapes] = field(default_factory=list, init=False, repr=False, compare=False)
    _features: list[tuple[tuple[Feature, ...], Shapes]] = field(
        default_factory=list, init=False, repr=False, compare=False
    )

    @property
    def lengths(self) -> Floats:
        """The length of each goal's contour."""
        if not self._lengths:
            total = np.bincount(self.goal, weights=self.curves.length, minlength=len(self.goals))
            self._lengths.append(np.asarray(total, dtype=np.float64))
        return self._lengths[0]

    def rows(self, *kinds: GoalKind) -> Ints:
        """The rows of all goals of these kinds."""
        chosen = np.array([goal.kind in kinds for goal in self.goals], dtype=bool)
        return np.flatnonzero(chosen[self.goal]) if len(self.goal) else np.zeros(0, dtype=np.int64)

    @property
    def is_wall(self) -> Bools:
        """Which rows are a wall at some depth: what lies in the air, or in a deeper pocket, is none."""
        return np.asarray(self.gone < self.floor - TOLERANCES.acceptance)

    def name(self, goal: int) -> str:
        """A goal's name for a message."""
        here = self.goals[goal]
        return f"{here.name} of {self.part_name(here.placement)}"

    def begin(self, goal: int) -> Point:
        """Where a goal's contour begins."""
        first = self.goals[goal].first
        return float(self.curves.x0[first]), float(self.curves.y0[first])

    def part_name(self, placement: int) -> str:
        """A placement's name for a message."""
        here = self.layout.placements[placement]
        return f'part "{here.part.name}" ({here.item} {here.unit})'

    def part_of(self, goal: int) -> str:
        """The name of a goal's part for a message."""
        return self.part_name(self.goals[goal].placement)

    def material(self) -> Shapes:
        """Coarse polygons of what must stay of each placement: its region without holes that go through."""
        if not self._material:
            count = len(self.layout.placements)
            self._material.append(material(self.curves, self.goals, count, limits.PART_CHORD))
        return self._material[0]

    def features(self) -> tuple[tuple[Feature, ...], Shapes]:
        """All pockets and blind holes, and the polygon of each, islands left out."""
        if not self._features:
            features = features_of(self.goals)
            groups = [[self.goals[index] for index in feature.goals] for feature in features]
            self._features.append((features, polygons(self.curves, groups, limits.POCKET_CHORD)))
        return self._features[0]

    def ring(self, goal: Goal) -> shapely.LinearRing:
        """A coarse ring of a goal's closed contour."""
        ring: shapely.LinearRing = rings(self.curves, [goal], limits.PART_CHORD)[0]
        return ring


@dataclass(frozen=True, slots=True)
class _Entry:
    """A goal of a part, before it is placed: what a `Goal` says but for the rows, and how many these are."""

    kind: GoalKind
    number: int
    depth: float | None
    radius: float
    rows: int
    island: int | None = None


@dataclass(frozen=True, slots=True)
class _PartGoals:
    """A part's goals in its own frame, mirrored or not."""

    curves: Curves
    entries: tuple[_Entry, ...]


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
        for one in known[key].entries:
            goals.append(
                Goal(index, one.kind, one.number, one.depth, one.radius, row, row + one.rows, one.island)
            )  # fmt: skip
            row += one.rows
    cut = cut_up(join(pieces), tuple(goals))
    counts = np.array([goal.last - goal.first for goal in cut.goals], dtype=np.int64)
    owner = np.repeat(np.arange(len(cut.goals), dtype=np.int64), counts)
    placements = np.array([goal.placement for goal in cut.goals], dtype=np.int64)
    floors = np.array([(goal.depth or 0.0) if goal.kind in WALLED else np.inf for goal in cut.goals], dtype=float)
    return Goals(
        layout=layout,
        goals=cut.goals,
        curves=cut.curves,
        goal=owner,
        placement=placements[owner],
        along=_along(cut.curves.length, cut.goals),
        gone=cut.gone,
        floor=floors[owner],
    )


def _along(length: Floats, goals: Sequence[Goal]) -> Floats:
    total = np.concatenate([np.zeros(1), np.cumsum(length)])[:-1]
    first = np.array([goal.first for goal in goals], dtype=np.int64)
    counts = np.array([goal.last - goal.first for goal in goals], dtype=np.int64)
    return np.asarray(total - np.repeat(total[first], counts)) if goals else total


def _part_goals(part: ShapedPart, *, mirrored: bool) -> _PartGoals:
    turn = Transform(mirrored=mirrored)
    region = turn.region(part.region) if mirrored else part.region
    pieces: list[Curves] = []
    entries: list[_Entry] = []

    def add(
        curves: Curves, kind: GoalKind, number: int, depth: float | None = None, *, radius: float = 0.0,
        island: int | None = None,
    ) -> None:  # fmt: skip
        pieces.append(curves)
        entries.append(_Entry(kind, number, depth, radius, len(curves), island))

    add(from_segments(region.outline.segments), "outline", 0)
    for number, contour in enumerate(region.holes):
        add(from_segments(contour.segments), "hole", number)
    for number, hole in enumerate(part.round_holes):
        at = turn.point(hole.at)
        circle = circles(np.array([at[0]]), np.array([at[1]]), np.array([hole.diameter / 2]))
        kind: GoalKind = "through" if hole.depth is None else "blind"
        add(circle, kind, number, hole.depth, radius=hole.diameter / 2)
    for number, pocket in enumerate(part.pockets):
        area = turn.region(pocket.region) if mirrored else pocket.region
        # The wood lies outside the outline and inside islands: both run the other way round than their region's.
        add(from_segments(area.outline.reversed().segments), "pocket", number, pocket.depth)
        for island, contour in enumerate(area.holes):
            add(from_segments(contour.reversed().segments), "pocket", number, pocket.depth, island=island)
    for number, mark in enumerate(part.marks):
        add(from_segments([turn.segment(segment) for segment in mark.path]), "mark", number, mark.depth)
    return _PartGoals(join(pieces), tuple(entries))


def _placed(curves: Curves, placement: Placement) -> Curves:
    """Turn and shift; mirroring is done already, so only the rotation is taken from the transform."""
    transform = placement.transform
    turn = Transform(degrees=transform.degrees)
    (a, c), (b, d) = turn.point((1.0, 0.0)), turn.point((0.0, 1.0))
    return curves.moved((a, b, c, d), transform.x, transform.y)


__all__ = ["MATERIAL", "WALLED", "Feature", "Goal", "GoalKind", "Goals", "goals_of"]
