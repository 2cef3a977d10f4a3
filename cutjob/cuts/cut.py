"""Cuts as immutable values: what a cutter (by number) does for one part, in its frame or moved to the board's. mm."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from cutjob.geometry.contour import Contour
from cutjob.geometry.segment import Point, Segment
from cutjob.geometry.transform import Transform
from cutjob.parts.part import LineOperation
from cutjob.tolerances import TOLERANCES

Side = Literal["left", "right"]
FeatureKind: TypeAlias = Literal["outline", "opening", "hole", "pocket", "mark", "number", "screw hole", "pin hole"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """The feature that a cut makes, of a part or of what holds the board. Several cuts may make one, as the strokes of
    a number do.

    `number` counts from 0: a part's openings, `round_holes`, pockets or marks, the layout's lettering or hold-downs, or
    a window's holes for pins. `diameter` is a round hole's, mm, and `depth` None where it goes through.
    """

    kind: FeatureKind
    number: int = 0
    diameter: float | None = None
    depth: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TabSpan:
    """A stretch of a path, from `first` to `last` mm along it, under which a bridge stays.

    The cutter stays `height` above the underside; `width` is the wood left (the stretch less the cutter), and `at` the
    middle of the bridge on the part's edge. It rises within `run` mm before the stretch and goes down within `run`
    behind it: straight up and down where that is 0, and over a bridge as high as the stack, which it passes in the air.
    """

    first: float
    last: float
    height: float
    width: float
    at: Point
    run: float = 0.0

    def is_whole(self, stack_height: float) -> bool:
        """Whether the bridge is as high as the stack, `stack_height` mm, so that nothing of it is cut."""
        return self.height >= stack_height - TOLERANCES.same_point


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopCut:
    """A closed path cut right through, in the direction it is run; the waste lies on `waste`'s side of it.

    With a `rough` path, which lies a little farther in the waste, all passes but the last are run along that path.
    """

    op: Literal["outside cut", "inside cut"]
    feature: Feature
    cutter: int
    path: Contour
    waste: Side
    rough: Contour | None = None
    tabs: tuple[TabSpan, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleCut:
    """A round hole: drilled (`radius` 0) or bored, the cutter's centre running at `radius`; depth None is through.

    Above `top` the wood is gone already.
    """

    op: Literal["drill", "bore"]
    feature: Feature
    cutter: int
    at: Point
    radius: float
    depth: float | None
    clockwise: bool
    top: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkCut:
    """A shallow on-line cut."""

    feature: Feature
    path: tuple[Segment, ...]
    cutter: int
    depth: float
    op: LineOperation = "mark"


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearing:
    """A connected way over a part of a pocket's floor, run at every level without lifting.

    The cutter comes down along `entry`, a closed loop, round and round if need be, and ends where the loop starts.
    `path` leads on from there. Both are paths of the cutter's centre.
    """

    entry: Contour
    path: tuple[Segment, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PocketCut:
    """An area cleared to `depth`: ways over its floor, then its walls (outline and islands) at the full depth, if the
    ways left wood on them.

    `mirrored` are the ways to use for a mirrored part: mirrored, they run in the right direction.
    """

    feature: Feature
    cutter: int
    clearings: tuple[Clearing, ...]
    mirrored: tuple[Clearing, ...]
    walls: tuple[Contour, ...]
    depth: float
    op: Literal["pocket"] = "pocket"


Cut: TypeAlias = LoopCut | HoleCut | MarkCut | PocketCut


@dataclass(frozen=True, slots=True, kw_only=True)
class PartCuts:
    """All cuts of one part. The outline comes last in any order; `inner` holds marks, holes and inside cuts."""

    inner: tuple[Cut, ...]
    outline: tuple[LoopCut, ...]


def placed(cut: Cut, transform: Transform) -> Cut:
    """Return the cut moved to the board's frame, before tabs are set. A mirrored part keeps its direction of cut."""
    if isinstance(cut, HoleCut):
        return replace(cut, at=transform.point(cut.at))
    if isinstance(cut, MarkCut):
        return replace(cut, path=tuple(transform.segment(segment) for segment in cut.path))
    if isinstance(cut, PocketCut):
        clearings = tuple(
            Clearing(
                entry=Contour(tuple(transform.segment(segment) for segment in clearing.entry.segments)),
                path=tuple(transform.segment(segment) for segment in clearing.path),
            )
            for clearing in (cut.mirrored if transform.mirrored else cut.clearings)
        )
        return replace(
            cut, clearings=clearings, mirrored=(), walls=tuple(transform.contour(wall) for wall in cut.walls)
        )
    rough = None if cut.rough is None else transform.contour(cut.rough)
    return replace(cut, path=transform.contour(cut.path), rough=rough)
