"""Layouts as immutable values. Lengths mm, in the frame of the board; angles degrees counter-clockwise."""

from __future__ import annotations

from dataclasses import dataclass, field

from shapely import Polygon

from cutjob.geometry.contour import Region
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.parts.part import ShapedPart


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """One part on a board: `item` and `unit` (from 1) say for which item it is (the first of a stack's)."""

    part: ShapedPart
    item: str
    unit: int
    transform: Transform
    _region: Region | None = field(init=False, default=None, repr=False, compare=False)
    _polygon: Polygon | None = field(init=False, default=None, repr=False, compare=False)

    @property
    def region(self) -> Region:
        """The part's region in the board's frame, worked out once."""
        region = self._region
        if region is None:
            region = self.transform.region(self.part.region)
            object.__setattr__(self, "_region", region)
        return region

    @property
    def polygon(self) -> Polygon:
        """The polygon of `region` within `TOLERANCES.chord`, worked out once."""
        polygon = self._polygon
        if polygon is None:
            polygon = to_polygon(self.region)
            object.__setattr__(self, "_polygon", polygon)
        return polygon


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardLayout:
    """The parts on one board. It is cut `copies` times, `stack` boards at a time: copies x stack boards in all."""

    id: str
    board: Board
    placements: tuple[Placement, ...]
    stack: int = 1
    copies: int = 1

    @property
    def height(self) -> float:
        """Thickness of the whole stack, mm."""
        return self.stack * self.board.thickness


@dataclass(frozen=True, slots=True, kw_only=True)
class SawnPiece:
    """A sawn part and the board it comes off: `board` names its kind."""

    item: str
    part: str
    length: float
    width: float
    thickness: float
    count: int
    board: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """All boards of a job, what is sawn off them first, and the rules they were laid by.

    `sawn_from` says how many boards of a kind, by name, were sawn from, whether or not parts lie on what was left.
    """

    boards: tuple[BoardLayout, ...]
    sawn: tuple[SawnPiece, ...] = ()
    gap: float
    edge_margin: float
    seed: int
    sawn_from: tuple[tuple[str, int], ...] = ()
