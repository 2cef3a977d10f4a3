"""Parts and items as immutable values. Lengths mm.

For parts cut on a saw, holes and pockets are left to hand work: a saw only cuts outlines and openings.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias, get_args

from cutjob.errors import Location
from cutjob.geometry.contour import Region
from cutjob.geometry.segment import Point, Segment
from cutjob.parts.finish import PartFinish
from cutjob.tolerances import TOLERANCES
from cutjob.units import length


@dataclass(frozen=True, slots=True, kw_only=True)
class Wood:
    """A kind of wood that parts are cut from: boards `thickness` mm thick, of one of the `materials` (none: of any)."""

    thickness: float
    materials: tuple[str, ...] = ()

    def takes(self, *, thickness: float, material: str) -> bool:
        """Whether a board is of this wood."""
        return alike(self.thickness, thickness) and (not self.materials or material in self.materials)


def alike(one: float, other: float) -> bool:
    """Whether two thicknesses in mm are equal, within less than anyone measures and than messages round to."""
    return abs(one - other) <= TOLERANCES.acceptance


_NUMBERED = re.compile(r"^(.*\S)\s+\d+$")


def kind_of_part(name: str) -> str:
    """Return a part's name without its number: `tier` for `tier 3`. Parts of a kind are cut from the same wood."""
    found = _NUMBERED.match(name)
    return found.group(1) if found else name


@dataclass(frozen=True, slots=True, kw_only=True)
class Counterbore:
    """The wide upper end of a hole, for the head of a screw: its diameter and depth."""

    diameter: float
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A round hole in the face, `depth` mm deep or through (None). The cuts decide whether it is drilled or bored; no
    cutter can make one `by_hand`, and no file cuts it.
    """

    at: Point
    diameter: float
    depth: float | None = None
    counterbore: Counterbore | None = None
    by_hand: bool = False

    @property
    def steps(self) -> tuple[Hole, ...]:
        """Its plain holes, the wider one first: two for a counterbored hole, else the hole itself."""
        if self.counterbore is None:
            return (self,)
        wide = Hole(at=self.at, diameter=self.counterbore.diameter, depth=self.counterbore.depth)
        return wide, replace(self, counterbore=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pocket:
    """An area cleared `depth` mm deep with a flat floor; holes of its region are islands that stay.

    Where its outline is on the part's own or beyond it, the pocket is open there: a dado that runs out at the edge.
    """

    region: Region
    depth: float


# The kinds of line on a part; each is an operation of its own, with its layer and colour.
LineOperation: TypeAlias = Literal["mark"]
LINE_OPERATIONS: tuple[LineOperation, ...] = get_args(LineOperation)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A shallow line along which the cutter's centre runs: `path` is a chain of segments; depth
    None is the profile's.
    """

    path: tuple[Segment, ...]
    depth: float | None = None
    operation: LineOperation = "mark"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapedPart:
    """A piece cut out on the machine, in its own frame; x is along the grain where the part keeps its grain.

    `deviation` is how far the outline may be from the exact curve it is fitted to (0 for lines and arcs as designed);
    the cutter stays that much further out. `tab_places` are points near the outline where the job places tabs by hand.
    `wood` is what it is cut from; None before that is settled, and for the job's wood.
    """

    name: str
    region: Region
    holes: tuple[Hole, ...] = ()
    pockets: tuple[Pocket, ...] = ()
    marks: tuple[Mark, ...] = ()
    grain: Literal["length", "none"] = "length"
    may_mirror: bool = False
    deviation: float = 0.0
    tab_places: tuple[Point, ...] = ()
    wood: Wood | None = None

    @property
    def round_holes(self) -> tuple[Hole, ...]:
        """Its plain holes, a counterbored hole as two, in the order in which the proof and the plan number them."""
        return tuple(step for hole in self.holes for step in hole.steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class SawnPart:
    """A piece crosscut square off a board's end, as thick and as wide as the board, or then ripped to a `width` of its
    own; `note` says what is done to it afterwards. `wood` is that of a `ShapedPart`.
    """

    name: str
    length: float
    note: str = ""
    width: float | None = None
    wood: Wood | None = None


# The section that identifies a kind of stick, mm: (diameter,) of round ones, (width, thickness) of strips, the greater
# first.
Section = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RodPart:
    """A piece of round stock."""

    name: str
    diameter: float
    length: float
    note: str = ""

    @property
    def section(self) -> Section:
        """Its diameter."""
        return (self.diameter,)


@dataclass(frozen=True, slots=True, kw_only=True)
class StripPart:
    """A piece crosscut from a strip: a stick of rectangular section."""

    name: str
    width: float
    thickness: float
    length: float
    note: str = ""

    @property
    def section(self) -> Section:
        """Its width and thickness, the greater first."""
        return (max(self.width, self.thickness), min(self.width, self.thickness))


@dataclass(frozen=True, slots=True, kw_only=True)
class BoughtPart:
    """A thing to buy, and the number that an item needs."""

    name: str
    count: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class HandHole:
    """A hole drilled by hand, such as one up through a part on edge, where the machine's cutters can't reach."""

    part: str
    diameter: float
    depth: float | None  # None: through
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """The place of a part in the finished item, mm; the parts in the order of assembly make the item's picture.

    `seen` from the front is its own `outline` (y upward), or for a flat part the edge of that outline, `thick` high.
    `foot` is the height of the outline's y = 0, or of the underside, above the floor, and `centre` the outline's x on
    the item's middle line. A part that `turns` goes round on the rod. `profile` is the edge of a flat part where that
    is no plain rectangle but notched by dados; it starts at its own lower left corner and follows the outline's x.
    """

    part: str
    outline: Region
    seen: Literal["face", "edge"]
    foot: float
    centre: float = 0.0
    thick: float
    turns: bool = False
    look: Literal["wood", "bead", "cord"] = "wood"
    profile: Region | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """The result of a design: all the parts of one item. `facts` are measures worth knowing, in mm, by name. `stands`
    has the parts in the order of assembly, where the design gives their places.
    """

    shaped: tuple[ShapedPart, ...] = ()
    sawn: tuple[SawnPart, ...] = ()
    rods: tuple[RodPart, ...] = ()
    strips: tuple[StripPart, ...] = ()
    bought: tuple[BoughtPart, ...] = ()
    hand_holes: tuple[HandHole, ...] = ()
    facts: tuple[tuple[str, float], ...] = ()
    warnings: tuple[str, ...] = ()
    stands: tuple[Stand, ...] = ()

    @property
    def from_boards(self) -> tuple[ShapedPart | SawnPart, ...]:
        """All parts that come off boards."""
        return (*self.shaped, *self.sawn)

    @property
    def sticks(self) -> tuple[RodPart | StripPart, ...]:
        """All pieces crosscut from sticks."""
        return (*self.rods, *self.strips)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """`count` equal items of the order: the name in the job, the design and size, and the parts of one item.

    With `together` all shaped parts of one item lie on one board; `sawn_from` names the board its sawn parts come off.
    `finish` has the coats of the parts that get some, by the part's name.
    """

    name: str
    design: str
    size: str
    count: int
    build: Build
    location: Location | None = None
    together: bool = False
    sawn_from: str | None = None
    finish: tuple[tuple[str, PartFinish], ...] = ()


_NOTE, _PICTURED = "where the pattern shows it", "where the picture shows it"


def with_hand_holes(items: Sequence[Item], *, every: bool) -> tuple[Item, ...]:
    """Return the items with the holes that no cutter makes added to those drilled by hand, or with `every` hole of
    their shaped parts; wide ends of counterbored holes are holes of their own.
    """
    return tuple(
        replace(
            item,
            build=replace(
                item.build,
                hand_holes=(
                    *item.build.hand_holes,
                    *(hole for part in item.build.shaped for hole in _holes(part, every=every)),
                ),
            ),
        )
        for item in items
    )


def pockets_left(items: Sequence[Item]) -> Iterator[str]:
    """Yield a warning for every part with pockets, which need a router or a chisel."""
    for item in items:
        for part in item.build.shaped:
            depths = sorted({pocket.depth for pocket in part.pockets})
            if depths:
                deep = " and ".join(map(length, depths))
                what = "pocket" if len(part.pockets) == 1 else f"{len(part.pockets)} pockets"
                yield (
                    f'item "{item.name}": part "{part.name}": {what} {deep} deep, not for a saw; rout or chisel it out '
                    f"{_NOTE}"
                )


def _holes(part: ShapedPart, *, every: bool) -> Iterator[HandHole]:
    for hole in part.round_holes:
        if every or hole.by_hand:
            note = _NOTE if every else _PICTURED
            yield HandHole(part=part.name, diameter=hole.diameter, depth=hole.depth, note=note)
