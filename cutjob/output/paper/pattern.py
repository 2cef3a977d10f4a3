"""A job's layout to patterns: every kind of shaped part once, with the number of pieces and the height of the stack.
mm.

Also finds a part's mirror lines: upright (x = c) or level (y = c) in its frame.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from cutjob.counting import counted
from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.polygons import to_polygon
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.parts.part import HandHole, Item, ShapedPart
from cutjob.units import Unit, format_length

# A print shows no smaller difference; fitted curves are mirror images only to a few microns.
_ALIKE = 0.03
_CHORD = 0.01


@dataclass(frozen=True, slots=True)
class Axis:
    """A mirror line: `upright` is x = `at`, `level` is y = `at`."""

    way: Literal["upright", "level"]
    at: float


def mirror_axes(part: ShapedPart) -> tuple[Axis, ...]:
    """Return the mirror lines of a part, with everything cut into it, through the middle of its box; upright first.

    Each line mirrors the whole part: outline, openings, holes, pockets of each depth and marks.
    """
    x0, y0, x1, y1 = part.region.bounds
    layers = _layers(part)
    axes = (Axis("upright", (x0 + x1) / 2), Axis("level", (y0 + y1) / 2))
    return tuple(axis for axis in axes if all(_same(layer, _mirrored(layer, axis)) for layer in layers))


def _layers(part: ShapedPart) -> list[BaseGeometry]:
    """The shapes that must each fall on themselves, one for each kind."""
    found: dict[object, list[BaseGeometry]] = defaultdict(list)
    for kind, geometry in _drawn(part):
        found[kind].append(geometry)
    return [shapely.union_all(geometries) for geometries in found.values()]


def _drawn(part: ShapedPart) -> Iterator[tuple[object, BaseGeometry]]:
    for contour in part.region.contours:
        yield "outline", Polygon(np.array(contour.points(_CHORD))).exterior
    for hole in part.round_holes:
        yield ("hole", hole.depth), shapely.Point(hole.at).buffer(hole.diameter / 2, quad_segs=16).exterior
    for pocket in part.pockets:
        for contour in pocket.region.contours:
            yield ("pocket", pocket.depth), Polygon(np.array(contour.points(_CHORD))).exterior
    for mark in part.marks:
        points = [mark.path[0].start, *(point for segment in mark.path for point in segment.chords(_CHORD))]
        yield ("mark", mark.depth), LineString(points)


def _mirrored(geometry: BaseGeometry, axis: Axis) -> BaseGeometry:
    column = 0 if axis.way == "upright" else 1

    def turn(points: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        turned = points.copy()
        turned[:, column] = 2 * axis.at - turned[:, column]
        return turned

    return shapely.transform(geometry, turn)


def _same(geometry: BaseGeometry, other: BaseGeometry) -> bool:
    """Whether no point of either is farther from the other than a print shows."""
    near = np.abs(np.array(geometry.bounds) - np.array(other.bounds)).max() <= _ALIKE
    return bool(near and _reaches(geometry, other) and _reaches(other, geometry))


def _reaches(geometry: BaseGeometry, other: BaseGeometry) -> bool:
    points = shapely.points(shapely.get_coordinates(geometry))
    shapely.prepare(other)
    return bool(shapely.dwithin(points, other, _ALIKE).all())


# Chord error of shapes that are only looked at, mm.
LOOK = 0.05


def looked_at(region: Region | Contour) -> BaseGeometry:
    """Return the area that a region or a contour encloses, within `LOOK`; valid even where two edges nearly touch."""
    polygon = to_polygon(region, deviation=LOOK)
    return polygon if polygon.is_valid else polygon.buffer(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """One kind of part to be sawn. `stacks` has the number of times, of boards at once, and the stack's height.

    `fold` is the mirror line of a pattern with only one side drawn, None for whole patterns. `items` is how many items
    its pieces are for.
    """

    number: int
    part: ShapedPart
    item: str
    stacks: tuple[tuple[int, int, float], ...]  # times, boards at once, height
    axes: tuple[Axis, ...] = ()
    fold: Axis | None = None
    bores: tuple[HandHole, ...] = ()
    items: int = 1
    _wood: BaseGeometry | None = field(init=False, default=None, repr=False, compare=False)

    @property
    def wood(self) -> BaseGeometry:
        """The part's area, roughly; worked out once."""
        wood = self._wood
        if wood is None:
            wood = looked_at(self.part.region)
            object.__setattr__(self, "_wood", wood)
        return wood

    @property
    def for_items(self) -> str:
        """What its pieces are for: `reed spinner 1-8`."""
        return self.item if self.items == 1 else f"{self.item} 1-{self.items}"

    @property
    def count(self) -> int:
        """How many pieces are wanted."""
        return sum(times * boards for times, boards, _ in self.stacks)


def patterns_of(layout: Layout, items: Sequence[Item], *, halves: bool = False) -> tuple[Pattern, ...]:
    """Return a pattern for each kind of part on the boards, in the order of the items; `halves` folds those that can
    be.

    Parts of different items have separate patterns even if they are alike: their pieces are kept apart as well.
    """
    made: dict[tuple[str, ShapedPart], dict[tuple[int, float], int]] = {
        (item.name, part): {} for item in items for part in item.build.shaped
    }
    for board in layout.boards:
        for placement in board.placements:
            stacks = made.setdefault((placement.item, placement.part), {})
            key = (board.stack, board.height)
            stacks[key] = stacks.get(key, 0) + board.copies
    flat = {(item.name, stand.part) for item in items for stand in item.build.stands if stand.seen == "edge"}
    bores = {
        item.name: [hole for hole in item.build.hand_holes if (item.name, hole.part) not in flat] for item in items
    }
    counts = {item.name: item.count for item in items}
    found: list[Pattern] = []
    for (item_name, part), stacks in made.items():
        if not stacks:
            continue
        axes = mirror_axes(part)
        own = tuple(hole for hole in bores.get(item_name, ()) if hole.part == part.name)
        by_height = sorted(((times, boards, height) for (boards, height), times in stacks.items()), key=_highest)
        found.append(
            Pattern(
                number=len(found) + 1,
                part=part,
                item=item_name,
                stacks=tuple(by_height),
                axes=axes,
                fold=_fold(part, axes) if halves else None,
                bores=own,
                items=counts.get(item_name, 1),
            )
        )
    return tuple(found)


def _highest(stack: tuple[int, int, float]) -> tuple[int, float]:
    return -stack[1], -stack[2]


def _fold(part: ShapedPart, axes: Sequence[Axis]) -> Axis | None:
    """Of the part's mirror lines, the one that halves the longer side."""
    x0, y0, x1, y1 = part.region.bounds
    longer = "upright" if x1 - x0 >= y1 - y0 else "level"
    return next((axis for axis in axes if axis.way == longer), axes[0] if axes else None)


def count_words(pattern: Pattern, *, unit: Unit) -> str:
    """Return how many pieces, and from how high a stack: `8 pieces: 4 x 2 boards, 1 1/4 in high`."""
    count = pattern.count
    pieces = counted(count, "piece")
    return f"{pieces}: {' and '.join(_stack_words(*stack, unit=unit) for stack in pattern.stacks)}"


def _stack_words(times: int, boards: int, height: float, *, unit: Unit) -> str:
    high = format_length(height, unit=unit)
    often = "" if times == 1 else f"{times} x "
    return f"{often}1 board, {high}" if boards == 1 else f"{often}a stack of {boards}, {high} high"


def board_words(layout: BoardLayout, *, unit: Unit) -> str:
    """Return how often a board's layout is sawn: `3 x a stack of 2, 32 mm high`."""
    return _stack_words(layout.copies, layout.stack, layout.height, unit=unit)


def hole_words(part: ShapedPart, *, unit: Unit) -> list[str]:
    """Return a line for each kind of hole and each depth of pocket in a part."""
    holes: dict[tuple[float, float | None, float, float], int] = {}
    for hole in part.holes:
        wide, deep = (0.0, 0.0) if hole.counterbore is None else (hole.counterbore.diameter, hole.counterbore.depth)
        key = (hole.diameter, hole.depth, wide, deep)
        holes[key] = holes.get(key, 0) + 1
    lines = []
    for (diameter, depth, wide, deep), count in holes.items():
        words = f"{count} x " if count > 1 else ""
        words += f"hole {format_length(diameter, unit=unit)}"
        words += "" if depth is None else f", {format_length(depth, unit=unit)} deep"
        if wide:
            words += f", top {format_length(wide, unit=unit)}, {format_length(deep, unit=unit)} deep"
        lines.append(words)
    for depth in dict.fromkeys(pocket.depth for pocket in part.pockets):
        lines.append(f"pocket {format_length(depth, unit=unit)} deep")
    return lines
