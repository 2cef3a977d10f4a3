"""Boards as areas: outlines with dog-ears, keep-outs, and the board left after pieces are sawn off an end."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Literal

from cutjob.errors import Location
from cutjob.geometry.contour import Contour, circle, polyline
from cutjob.geometry.segment import Point
from cutjob.geometry.transform import Transform
from cutjob.job.hazards import Hazard, hazards_of
from cutjob.job.model import BoardStock, StatedKeepOut
from cutjob.parts.part import Wood

Grain = Literal["length", "none"]

_CLAMP = re.compile(r"\bclamp", re.IGNORECASE)
# Words for things that stand above a board but hold nothing down.
_NO_CLAMP = re.compile(
    r"\b(?:screw|nail|staple|tack|bolt|rivet|dowel|plug|hinge|bracket|hook|wire|metal|knot|burl|bark|branch|stub|rot|"
    r"crack|split|hole|resin|pitch|glue|stone|label|pin|stop|fence|batten|hose)(?:s|es)?\b",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class KeepOut:
    """A place that no part and no cut may touch: its height above the board, mm, and what it is."""

    area: Contour
    height: float = 0.0
    why: str | None = None

    def moved(self, move: Transform) -> KeepOut:
        """The same place in another frame."""
        return replace(self, area=move.contour(self.area))


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """A kind of flat stock, ready to lay parts on.

    `outline` (counter-clockwise) and `keep_outs` are in the board's frame, mm: x along the length, origin at the lower
    left of the bounding box. `sawn_off` is the length already taken off by sawn parts and kerfs; the outline is that of
    the remaining board on the machine, with its own origin. A board without a stated price has `price` 0 and is not
    `priced`.
    """

    name: str
    outline: Contour
    keep_outs: tuple[KeepOut, ...]
    thickness: float
    grain: Grain
    material: str
    count: int
    price: float
    priced: bool = True
    sawn_off: float = 0.0
    square_end: Literal["left", "right"] | None = None
    ear: float = 0.0
    location: Location | None = None
    # Hazards in its wood.
    hazards: frozenset[Hazard] = frozenset()

    @property
    def length(self) -> float:
        """Extent along x, mm."""
        return self.outline.bounds[2] - self.outline.bounds[0]

    @property
    def width(self) -> float:
        """Extent along y, mm."""
        return self.outline.bounds[3] - self.outline.bounds[1]

    @property
    def tallest(self) -> float:
        """The height of the highest thing above it, mm."""
        return max((one.height for one in self.keep_outs), default=0.0)


def board_of(stock: BoardStock, *, location: Location | None = None) -> Board:
    """Return the board of a job file's entry. Its outline is moved so that its bounding box starts at 0, 0."""
    if stock.outline is not None:
        x0, y0 = min(x for x, _ in stock.outline), min(y for _, y in stock.outline)
        outline = polyline([(x - x0, y - y0) for x, y in stock.outline]).turned(counter_clockwise=True)
        square_end: Literal["left", "right"] | None = None
        ear = 0.0
    else:
        assert stock.length is not None
        assert stock.width is not None
        x0 = y0 = 0.0
        outline = polyline(_rectangle_with_ears(stock, stock.length, stock.width))
        end = stock.corners.end if stock.corners else None
        square_end = "right" if end == "left" else "left"
        ear = stock.corners.size if stock.corners and end == "both" else 0.0
    return Board(
        name=stock.name,
        outline=outline,
        keep_outs=tuple(_keep_out(area, x0, y0) for area in stock.keep_out),
        thickness=stock.thickness,
        grain=stock.grain,
        material=stock.material,
        count=stock.count,
        price=stock.price or 0.0,
        priced=stock.price is not None,
        square_end=square_end,
        ear=ear,
        location=location,
        hazards=hazards_of(stock.material, stock.name, treated=stock.treated),
    )


def wood_of(board: Board) -> Wood:
    """Return the wood of a board: its thickness and material."""
    return Wood(thickness=board.thickness, materials=(board.material,))


def named_clamps(board: Board) -> tuple[int, ...]:
    """Return the indices of the keep-outs that are clamps: those whose `why` says so, and those that stand above the
    board unless `why` says that they are something else (a screw, a nail, a knot).
    """
    return tuple(
        index
        for index, one in enumerate(board.keep_outs)
        if _CLAMP.search(one.why or "") or (one.height > 0 and not _NO_CLAMP.search(one.why or ""))
    )


def _rectangle_with_ears(stock: BoardStock, length: float, width: float) -> list[Point]:
    size = stock.corners.size if stock.corners else 0.0
    end = stock.corners.end if stock.corners else "none"
    left, right = size * (end in ("left", "both")), size * (end in ("right", "both"))
    points: list[Point] = [(left, 0.0), (length - right, 0.0)]
    if right:
        points += [(length, right), (length, width - right)]
    points += [(length - right, width), (left, width)]
    if left:
        points += [(0.0, width - left), (0.0, left)]
    return points


def _keep_out(stated: StatedKeepOut, x0: float, y0: float) -> KeepOut:
    if stated.at is not None and stated.radius is not None:
        area = circle((stated.at[0] - x0, stated.at[1] - y0), stated.radius)
    else:
        assert stated.outline is not None  # the model asks for one of the two
        area = polyline([(x - x0, y - y0) for x, y in stated.outline]).turned(counter_clockwise=True)
    return KeepOut(area, height=stated.height, why=stated.why)
