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
from cutjob.remembered import remembered


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """One part on a board: `item` and `unit` (from 1) name the item that it is for, in a stack that
    of the top board.
    """

    part: ShapedPart
    item: str
    unit: int
    transform: Transform
    _region: Region | None = field(init=False, default=None, repr=False, compare=False)
    _polygon: Polygon | None = field(init=False, default=None, repr=False, compare=False)

    @property
    def region(self) -> Region:
        """The part's region in the board's frame; worked out once."""
        region = self._region
        if region is None:
            region = _moved(self.part, self.transform)
            object.__setattr__(self, "_region", region)
        return region

    @property
    def polygon(self) -> Polygon:
        """The polygon of `region` within `TOLERANCES.chord`; worked out once."""
        polygon = self._polygon
        if polygon is None:
            polygon = to_polygon(self.region)
            object.__setattr__(self, "_polygon", polygon)
        return polygon


@remembered(most=512, by_value=(Transform,))
def _moved(part: ShapedPart, transform: Transform) -> Region:
    return transform.region(part.region)


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldDown:
    """A screw or a pin through the waste that holds a board down: its hole, which is drilled first, and its head.

    Once it is in, nothing comes within `head` mm (a radius) of `at` below `height` mm above the stock's top. On a board
    cut in windows it holds during its `window` only, and is taken out before the board is moved on.
    """

    at: Point
    diameter: float
    head: float
    height: float
    window: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettering:
    """Strokes cut into a board as marks, `depth` mm deep: the number of a part (`placement`), on it or beside it.
    `cutter` is the number of the cutter, where one is chosen.
    """

    placement: int
    paths: tuple[tuple[Segment, ...], ...]
    depth: float
    cutter: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The length of a long board that is on the bed at one time: from `first` to `last` mm along the board.

    Its programs have their zero at `first`. Its `placements` are cut in it as a whole. `holes` are drilled in it for
    the pins of the next window, and `pins` are the holes from the window before, all in the board's frame.
    """

    first: float
    last: float
    placements: tuple[int, ...]
    holes: tuple[Point, ...] = ()
    pins: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardLayout:
    """The parts on one board. It is cut `copies` times, `stack` boards at a time: copies x stack boards in all.

    Other cuts are added when the parts are placed: `windows` where the board is longer than the bed, `hold_downs`,
    `lettering`. `holding` says how the board and its parts are held; None on a machine without a cutter, or before this
    is decided.
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
    """A sawn part; `board` names the kind of board it comes off."""

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
    """All boards of a job, the pieces sawn off them first, and the rules of the layout: the least wood between two
    parts (`gap`; where woods differ in it, the least of theirs) and along the edges, mm.

    `sawn_from` has the number of boards of each kind, by name, that pieces were sawn off, with or without parts on what
    remained, and `saw_order` the pieces off each of them in order. `after_sawing` are the boards then left for the
    parts. The search was `unfinished` if it ended with its effort while fewer boards might still be found.
    """

    boards: tuple[BoardLayout, ...]
    sawn: tuple[SawnPiece, ...] = ()
    gap: float
    edge_margin: float
    seed: int
    sawn_from: tuple[tuple[str, int], ...] = ()
    saw_order: tuple[SawnBoard, ...] = ()
    after_sawing: tuple[Board, ...] = ()
    unfinished: bool = False
