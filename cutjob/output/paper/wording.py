"""A pattern to its words and its grain arrow: on the wood if there is room, else beside it. mm, in its frame."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.segment import Bounds, Point
from cutjob.output.paper.letters import width_of
from cutjob.output.paper.pattern import Pattern, count_words, hole_words
from cutjob.units import Unit, format_length

_SIZES = (4.0, 3.4, 2.8, 2.3)
_BESIDE = 2.6
_PITCH = 1.4  # from one line to the next, times the size
_ARROWS = (60.0, 40.0, 25.0, 15.0, 9.0)
ARROW_HEIGHT = 3.6
_PLACES = 24  # tried along each side of the area
_BELOW = 3.0  # between a part and the words below it


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Lines of text around their common middle, turned by `degrees`; the first is heavier."""

    lines: tuple[str, ...]
    at: Point
    size: float
    degrees: float = 0.0

    @property
    def width(self) -> float:
        """The width of the longest line, with a little air."""
        return max(width_of(line, size=self.size) for line in self.lines) + self.size * 0.6

    @property
    def height(self) -> float:
        """The height of all lines."""
        return self.size * _PITCH * len(self.lines)

    def base_lines(self) -> Iterator[tuple[str, float]]:
        """Yield each line with the height of its base line over the middle."""
        top = self.height / 2
        for number, line in enumerate(self.lines):
            yield line, top - (number + 0.5) * self.size * _PITCH - self.size * 0.36


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrow:
    """A grain arrow: its middle and its length, along x of the part's frame."""

    at: Point
    length: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """The words and the arrow on a pattern, and the box that they take beside the wood, if any."""

    block: Block
    arrow: Arrow | None
    beside: Bounds | None = None


def wording(
    pattern: Pattern,
    wood: BaseGeometry,
    area: BaseGeometry,
    lines: BaseGeometry,
    *,
    unit: Unit,
    seams: BaseGeometry | None = None,
) -> Wording:
    """Return the places of a pattern's words and arrow: on `area` (the wood drawn, clear of cuts in it), clear of
    `lines` and of `seams` between pages if possible, else below the wood.
    """
    without = area.difference(lines.buffer(0.6))
    tries = [without, area] if seams is None else [without.difference(seams), area.difference(seams), without, area]
    for free in tries:
        found = _on(pattern, free, unit=unit)
        if found is not None:
            return found
    return _beside(pattern, wood.bounds, unit=unit)


def ways_of_words(pattern: Pattern, *, unit: Unit) -> list[tuple[str, ...]]:
    """Return the same words as many short lines, as a few, and as one long line."""
    name = f"{pattern.number}  {pattern.part.name}"
    rest = [*hole_words(pattern.part, unit=unit), *_bore_words(pattern, unit=unit)]
    if pattern.fold is not None:
        rest.append("half: lay FOLD on a fold")
    count = count_words(pattern, unit=unit)
    return [
        (name, pattern.for_items, count, *rest),
        (f"{name}, {pattern.for_items}", "; ".join([count, *rest])),
        (f"{name}: {'; '.join([count, *rest])}",),
    ]


def _bore_words(pattern: Pattern, *, unit: Unit) -> Iterator[str]:
    for bore in pattern.bores:
        deep = "through" if bore.depth is None else f"{format_length(bore.depth, unit=unit)} deep"
        yield f"drill {format_length(bore.diameter, unit=unit)}, {deep}, on the centre line"


def _on(pattern: Pattern, free: BaseGeometry, *, unit: Unit) -> Wording | None:
    if free.is_empty:
        return None
    for size in _SIZES:
        for lines in ways_of_words(pattern, unit=unit):
            for degrees in (0.0, 90.0):
                plain = Block(lines=lines, at=(0.0, 0.0), size=size, degrees=degrees)
                at = _place(free, plain.width, plain.height, degrees)
                if at is None:
                    continue
                block = Block(lines=lines, at=at, size=size, degrees=degrees)
                if pattern.part.grain == "none":
                    return Wording(block=block, arrow=None)
                arrow = _arrow(free.difference(_box(at, plain.width, plain.height, degrees)))
                if arrow is not None:
                    return Wording(block=block, arrow=arrow)
    return None


def _arrow(free: BaseGeometry) -> Arrow | None:
    for length in _ARROWS:
        at = _place(free, length, ARROW_HEIGHT, 0.0)
        if at is not None:
            return Arrow(at=at, length=length)
    return None


def free_place(free: BaseGeometry, block: Block) -> Block | None:
    """Return a block moved, and turned if it must be, into an area; None if there is no room."""
    for degrees in (0.0, 90.0):
        at = None if free.is_empty else _place(free, block.width, block.height, degrees)
        if at is not None:
            return replace(block, at=at, degrees=degrees)
    return None


def _place(free: BaseGeometry, width: float, height: float, degrees: float) -> Point | None:
    """The middle of a box of this size in an area, as near as possible to the area's middle; None if there is
    no room.
    """
    if degrees:
        width, height = height, width
    x0, y0, x1, y1 = free.bounds
    if width > x1 - x0 or height > y1 - y0:
        return None
    xs = np.linspace(x0 + width / 2, x1 - width / 2, _PLACES + 1)
    ys = np.linspace(y0 + height / 2, y1 - height / 2, _PLACES + 1)
    across, up = (grid.ravel() for grid in np.meshgrid(xs, ys))
    middle = free.centroid
    nearest = np.argsort(np.hypot(across - middle.x, up - middle.y), kind="stable")
    across, up = across[nearest], up[nearest]
    boxes = shapely.box(across - width / 2, up - height / 2, across + width / 2, up + height / 2)
    shapely.prepare(free)
    inside = np.flatnonzero(shapely.covers(free, boxes))
    return (float(across[inside[0]]), float(up[inside[0]])) if inside.size else None


def _box(at: Point, width: float, height: float, degrees: float) -> BaseGeometry:
    if degrees:
        width, height = height, width
    return shapely.box(at[0] - width / 2 - 1, at[1] - height / 2 - 1, at[0] + width / 2 + 1, at[1] + height / 2 + 1)


def _beside(pattern: Pattern, bounds: Bounds, *, unit: Unit) -> Wording:
    x0, y0, x1, _ = bounds
    grain = pattern.part.grain == "length"
    block = _narrowest(ways_of_words(pattern, unit=unit)[:1], x1 - x0)
    width, height = block.width, block.height + (ARROW_HEIGHT + 1 if grain else 0.0)
    top = y0 - _BELOW
    left = (x0 + x1) / 2 - width / 2
    arrow = Arrow(at=(left + width / 2, top - ARROW_HEIGHT / 2), length=min(15.0, width)) if grain else None
    at = (left + width / 2, top - height + block.height / 2)
    placed = Block(lines=block.lines, at=at, size=block.size)
    return Wording(block=placed, arrow=arrow, beside=(left, top - height, left + width, top))


def _narrowest(ways: Sequence[tuple[str, ...]], width: float) -> Block:
    blocks = [Block(lines=lines, at=(0.0, 0.0), size=_BESIDE) for lines in ways]
    return min(blocks, key=lambda block: max(block.width - width, 0.0))
