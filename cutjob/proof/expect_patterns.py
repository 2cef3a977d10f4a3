"""What patterns.pdf is claimed to show, as the proof is told. mm; a sheet is a grid of pages glued together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from cutjob.geometry.segment import Bounds, Point
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.parts.part import ShapedPart

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
    """A part of an item as it lies on its sheet. With a `fold` only what lies left of it ("upright": x no greater than
    its place in the part's frame) or below it ("level") is drawn.
    """

    item: str
    part: ShapedPart
    move: Transform
    fold: tuple[Literal["upright", "level"], float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedPage:
    """A page, counted from 1: the window on the paper that shows its share of the sheet, and how far the sheet is moved
    to lie there.
    """

    number: int
    window: Bounds
    shift: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedSheet:
    """Patterns on pages; or a board's whole layout, the board's frame moved onto the sheet."""

    pages: tuple[ExpectedPage, ...]
    patterns: tuple[ExpectedPattern, ...] = ()
    board: BoardLayout | None = None
    move: Transform | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedPatterns:
    """The file: the paper's size, the sheets, and which of the `layout` they are to show: every kind of part, every
    board's whole layout, or both.
    """

    file: str
    paper: Point
    sheets: tuple[ExpectedSheet, ...]
    layout: Layout
    parts: bool
    boards: bool
    lines: Mapping[LineKind, ExpectedLine]
