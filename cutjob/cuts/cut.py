"""Cuts as immutable values: what the cutter does for one part, in the part's frame or moved to the board's. mm."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from cutjob.geometry.contour import Contour
from cutjob.geometry.segment import Point, Segment
from cutjob.geometry.transform import Transform

Side = Literal["left", "right"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TabSpan:
    """A stretch of a path, from `first` to `last` mm along it, under which a bridge stays.

    The cutter stays `height` above the underside; `width` is the wood left (the stretch less the cutter), and `at` the
    middle of the bridge on the part's outline.
    """

    first: float
    last: float
    height: float
    width: float
    at: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopCut:
    """A closed path cut right through, in the direction it is run; the waste lies on `waste`'s side of it."""

    op: Literal["outside cut", "inside cut"]
    path: Contour
    waste: Side
    tabs: tuple[TabSpan, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleCut:
    """A round hole: drilled (`radius` 0) or bored, the cutter's centre running at `radius`; depth None is through."""

    op: Literal["drill", "bore"]
    at: Point
    radius: float
    depth: float | None
    clockwise: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkCut:
    """A shallow on-line cut."""

    path: tuple[Segment, ...]
    depth: float
    op: Literal["mark"] = "mark"


Cut: TypeAlias = LoopCut | HoleCut | MarkCut


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
    return replace(cut, path=transform.contour(cut.path))
