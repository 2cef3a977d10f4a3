"""The claims about the files, as the proof gets them: the cuts of a file, the contours of a drawing, the pages of
patterns.pdf. mm.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from cutjob.geometry.segment import Bounds, Point
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Cutter
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.parts.part import ShapedPart
from cutjob.tolerances import TOLERANCES

LineKind = Literal["outline", "opening", "hole", "pocket", "mark"]
LINE_KINDS: tuple[LineKind, ...] = get_args(LineKind)


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedLine:
    """How lines of a kind look: colour (0 to 255), width and dashes, mm."""

    colour: tuple[int, int, int]
    width: float
    dashes: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedPattern:
    """A part of an item in its place on its sheet. With a `fold` only the half to the left of it ("upright": x no
    than its place in the part's frame) or below it ("level") is drawn.
    """

    item: str
    part: ShapedPart
    move: Transform
    fold: tuple[Literal["upright", "level"], float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedPage:
    """A page, counted from 1: the window on the paper that shows its share of the sheet, and how far the sheet is moved
    for that.
    """

    number: int
    window: Bounds
    shift: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedSheet:
    """Patterns on pages glued together; or a board's whole layout, with the board's frame moved onto the sheet."""

    pages: tuple[ExpectedPage, ...]
    patterns: tuple[ExpectedPattern, ...] = ()
    board: BoardLayout | None = None
    move: Transform | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedPatterns:
    """The file: the paper's size, the sheets, and what of the `layout` they must show: every kind of part, every
    board's whole layout, or both.
    """

    file: str
    paper: Point
    sheets: tuple[ExpectedSheet, ...]
    layout: Layout
    parts: bool
    boards: bool
    lines: Mapping[LineKind, ExpectedLine]


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedTab:
    """A bridge that must be left: the index of its placement (None where it touches no part), its middle on the part's
    outline or on the edge of an opening (board frame), the wood's width along that, and its height above the underside
    of the lowest board.
    """

    placement: int | None
    at: Point
    width: float
    height: float

    def is_whole(self, stack_height: float) -> bool:
        """Whether it is as high as the stack, so that the cutter passes over it in the air."""
        return self.height >= stack_height - TOLERANCES.acceptance


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedProgram:
    """A G-code file: the board layout it cuts, its cutters in turn, and its zero (board frame).

    `stock_top_z` is the program's Z of the stock's top: 0, or the stack's height when zero is on the spoilboard. With a
    `skin` the cuts round parts stop this far above the underside. `window` is the index of the board's window on the
    bed, None where the whole board is there. Air moves run at `safe_z` over the stock's top, and at `clear_z` over
    things on the board.
    """

    file: str
    board: BoardLayout
    cutters: tuple[Cutter, ...]
    origin: Point
    stock_top_z: float
    overcut: float
    safe_z: float
    clear_z: float = 0.0
    skin: float = 0.0
    window: int | None = None
    tabs: tuple[ExpectedTab, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedDrawing:
    """A drawing: the board layout it shows, and how far outlines were moved outward (0, or half the kerf)."""

    file: str
    board: BoardLayout
    offset: float
