"""Layouts as immutable values. Lengths mm, in the frame of the board; angles degrees counter-clockwise."""

from __future__ import annotations

from dataclasses import dataclass, field

from shapely import Polygon

from cutjob.geometry.contour import Region
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Point, Segment
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.holding import Holding
from cutjob.layout.saw_order import SawnBoard
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
class HoldDown:
    """A screw or a pin through the waste that holds a board down: the hole drilled for it first, and its head.

    Nothing comes within `head` mm (a radius) of `at` below `height` mm above the stock's top once it is in. On a board
    cut in windows it holds during its `window` only, and comes out before the board is slid on.
    """

    at: Point
    diameter: float
    head: float
    height: float
    window: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettering:
    """Strokes cut into a board as marks, `depth` mm deep: the number of a part (`placement`), on it or beside it; by
    the `cutter` of that number, where one is chosen.
    """

    placement: int
    paths: tuple[tuple[Segment, ...], ...]
    depth: float
    cutter: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The length of a long board that lies on the bed at one time: from `first` to `last` mm along the board.

    Its programs have their zero at `first`; `placements` are cut in it, each whole. `holes` are drilled in it for the
    pins of the next window, and `pins` are those of the window before, all in the board's frame.
    """

    first: float
    last: float
    placements: tuple[int, ...]
    holes: tuple[Point, ...] = ()
    pins: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardLayout:
    """The parts on one board. It is cut `copies` times, `stack` boards at a time: copies x stack boards in all.

    What else is cut is added once the parts lie: `windows` where the board is longer than the bed, `hold_downs`,
    `lettering`. `holding` says what holds the board and its parts then; None on a machine that moves no cutter through
    it, or before that is settled.
    """

    id: str
    board: Board
    placements: tuple[Placement, ...]
    stack: int = 1
    copies: int = 1
    windows: tuple[Window, ...] = ()
    hold_downs: tuple[HoldDown, ...] = ()
    lettering: tuple[Lettering, ...] = ()
    holding: Holding | None = None

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

    `sawn_from` says how many boards of a kind, by name, were sawn from, whether or not parts lie on what was left, and
    `saw_order` what comes off each of them in which order. `after_sawing` are the boards there were for the parts then.
    """

    boards: tuple[BoardLayout, ...]
    sawn: tuple[SawnPiece, ...] = ()
    gap: float
    edge_margin: float
    seed: int
    sawn_from: tuple[tuple[str, int], ...] = ()
    saw_order: tuple[SawnBoard, ...] = ()
    after_sawing: tuple[Board, ...] = ()
