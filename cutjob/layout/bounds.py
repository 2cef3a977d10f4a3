"""Lower bounds on the boards a job needs: no layout of its parts takes fewer. mm, mm2.

All allow for layouts that fall short of gap and margin by TOLERANCES.gap, as the check does.
"""

from __future__ import annotations

import heapq
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from shapely import Polygon

from cutjob.geometry.polygons import to_polygon
from cutjob.job.stock import Board
from cutjob.layout.clear_space import padded_area, room_area
from cutjob.layout.layout import Layout
from cutjob.layout.rules import Clearance
from cutjob.parts.part import ShapedPart
from cutjob.tolerances import TOLERANCES

_ROUNDING = 1e-9  # share of a capacity by which sums of floats may exceed it
_MOST_NODES = 2000  # of the search for the least price; it holds a valid bound at any time
_MOST_KINDS = 200  # of parts for which the bound by length is worked out: each takes milliseconds
_BANDS = 24  # heights at which a rectangle within a part is looked for
_CIRCLE = 0.01  # mm: how exactly the largest inscribed circle is found; GEOS never gives one too large


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastBoards:
    """No layout takes fewer than `count` boards, which follows from the parts' area or their length. `cheaper` says
    whether by this the boards might also cost less than those taken.
    """

    count: int
    by: Literal["area", "length", "area and length"]
    cheaper: bool


def least_boards(
    layout: Layout, stock: Sequence[Board], *, used: Mapping[str, int], clearance: Clearance
) -> LeastBoards | None:
    """Return the fewest boards of the `stock`, whole, for the parts of a layout, shaped and sawn; None for no parts.

    `used` has the boards that the layout takes of each kind, by name. A board that is sawn and cut counts once.
    """
    numbers: Counter[ShapedPart] = Counter()
    for board in layout.boards:
        high = board.stack * board.copies
        for placement in board.placements:
            numbers[placement.part] += high
    sawn = [piece.length * piece.width for piece in layout.sawn for _ in range(piece.count)]
    # Half a gap may reach over what is sawn off, so that with sawn pieces only the wood itself counts.
    areas = sawn + [
        area
        for part, count in numbers.items()
        for area in [part.region.area if sawn else padded_area(part, gap=clearance.gap)] * count
    ]
    kinds = [
        Capacity(
            area=abs(board.outline.signed_area) if sawn else room_area(board, clearance=clearance),
            count=board.count,
            price=board.price or (0.0 if any(other.price for other in stock) else abs(board.outline.signed_area)),
        )
        for board in stock
    ]
    by_area = area_bound(areas, kinds)
    if by_area is None or by_area.boards == 0:
        return None
    by_length = 0
    if len(numbers) <= _MOST_KINDS:
        by_length = boards_by_length([*numbers.items()], [board for board in stock if board.count], clearance=clearance)
    count = max(by_area.boards, by_length)
    paid = sum(kind.price * used.get(board.name, 0) for kind, board in zip(kinds, stock, strict=True))
    return LeastBoards(
        count=count,
        by="area" if by_area.boards == count else "length",
        cheaper=count < sum(used.values()) and by_area.price < paid * (1 - _ROUNDING),
    )


def least_of_all(woods: Sequence[LeastBoards | None]) -> LeastBoards | None:
    """Return the fewest boards of several woods together, no board of which is in two; None for no parts."""
    known = [one for one in woods if one is not None]
    if not known:
        return None
    ways = {one.by for one in known}
    return LeastBoards(
        count=sum(one.count for one in known),
        by=known[0].by if len(ways) == 1 else "area and length",
        cheaper=any(one.cheaper for one in known),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacity:
    """A kind of board as a bound sees it: the area parts and half the gaps round them can have, how many, the price."""

    area: float
    count: int
    price: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastUse:
    """No layout takes fewer boards, and none costs less; the two need not be reached by one layout."""

    boards: int
    price: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """`count` parts that hold an upright rectangle of this size, however they may be turned."""

    length: float
    width: float
    count: int = 1


def area_bound(areas: Sequence[float], capacities: Sequence[Capacity]) -> LeastUse | None:
    """Return the fewest boards and the least price by area; None when all boards together are too small.

    The areas as weights give a bin packing bound for the number of boards (see `least_bins`), and a knapsack to be
    covered for the price, solved by best-first branch and bound on its linear relaxation.
    """
    total = sum(areas) * (1 - _ROUNDING)
    usable = [kind for kind in capacities if kind.count > 0 and kind.area > 0]
    if total <= 0:
        return LeastUse(boards=0, price=0.0)
    if total > sum(kind.area * kind.count for kind in usable):
        return None
    boards, left = 0, total
    for kind in sorted(usable, key=lambda kind: -kind.area):
        taken = min(kind.count, math.ceil(left / kind.area))
        boards, left = boards + taken, left - taken * kind.area
        if left <= 0:
            break
    largest = max(kind.area for kind in usable)
    if max(areas) > largest:
        return None
    return LeastUse(boards=max(boards, least_bins(areas, largest)), price=_least_price(total, usable))


def _least_price(total: float, kinds: Sequence[Capacity]) -> float:
    """The least price of boards with at least that area: the bound of the best node once it is complete, or when
    enough have been looked at.
    """
    order = sorted(kinds, key=lambda kind: (kind.price / kind.area, -kind.area))
    nodes = [(_relaxed(total, order, 0), 0, total, 0.0)]  # bound, kinds settled, area still to cover, price so far
    for _ in range(_MOST_NODES):
        bound, settled, left, paid = nodes[0]
        if left <= 0 or settled == len(order):
            return bound
        heapq.heappop(nodes)
        kind = order[settled]
        for number in range(min(kind.count, math.ceil(left / kind.area)) + 1):
            rest, price = left - number * kind.area, paid + number * kind.price
            more = _relaxed(rest, order, settled + 1)
            if more < math.inf:
                heapq.heappush(nodes, (price + more, settled + 1, rest, price))
    return nodes[0][0]


def _relaxed(left: float, order: Sequence[Capacity], first: int) -> float:
    """Price of covering an area with parts of boards allowed, cheapest for their area first."""
    price = 0.0
    for kind in order[first:]:
        if left <= 0:
            return price
        if left <= kind.count * kind.area:  # told apart by this alone: what rounding leaves must not count
            return price + left / kind.area * kind.price
        price, left = price + kind.count * kind.price, left - kind.count * kind.area
    return price if left <= 0 else math.inf


def least_bins(sizes: Sequence[float], capacity: float) -> int:
    """Return a number of bins of that capacity below which sizes don't go: the bound L2.

    (S. Martello, P. Toth, "Lower bounds and reduction procedures for the bin packing problem", Discrete Applied
    Mathematics 28, 1990: for each least size a, what exceeds capacity - a stands alone, what exceeds half the capacity
    stands in different bins, and what these leave of their bins is filled with the sizes from a to half.) Raises
    ValueError for a size above the capacity.
    """
    ordered = np.sort(np.asarray(sizes, dtype=float))[::-1]
    room = capacity * (1 + _ROUNDING)
    if not len(ordered) or ordered[0] <= 0:
        return 0
    if ordered[0] > room:
        raise ValueError(f"a size of {ordered[0]} is more than the capacity of {capacity}")
    sums = np.concatenate([[0.0], np.cumsum(ordered)])
    half = int(np.searchsorted(-ordered, -room / 2, side="left"))  # so many are larger than half the capacity
    best = max(half, math.ceil(float(sums[-1]) / room))
    for least in np.unique(ordered[half:]):
        alone = int(np.searchsorted(-ordered, -(room - least), side="left"))
        alone = min(alone, half)
        small = int(np.searchsorted(-ordered, -least, side="right"))
        free = (half - alone) * room - float(sums[half] - sums[alone])
        best = max(best, half + max(0, math.ceil((float(sums[small] - sums[half]) - free) / room)))
    return best


def length_bound(pieces: Sequence[Piece], *, length: float, width: float, gap: float) -> int:
    """Return the fewest boards by length, where `length` x `width` is what the edge margin leaves of the largest.

    Rectangles too wide to lie side by side need their lengths one after the other, with a gap between two. Where the
    sum of two widths is up to a gap less than the room, they may pass each other cornerwise by part of the gap:
    the room between them is sqrt(gap^2 - (width - both)^2). Each least width is tried for which no two fit.
    """
    gap = max(0.0, gap - TOLERANCES.gap)
    length, width = length + 2 * TOLERANCES.gap, width + 2 * TOLERANCES.gap
    best = 0
    for least in sorted({piece.width for piece in pieces if piece.count > 0 and 2 * piece.width + gap > width}):
        beside = max(0.0, width - 2 * least)
        between = math.sqrt(gap * gap - beside * beside)
        sizes = [
            min(piece.length, length) + between
            for piece in pieces
            for _ in range(piece.count if piece.width >= least else 0)
        ]
        best = max(best, least_bins(sizes, length + between))
    return best


def boards_by_length(parts: Sequence[tuple[ShapedPart, int]], boards: Sequence[Board], *, clearance: Clearance) -> int:
    """Return the fewest boards of any kind that the given numbers of parts need by length."""
    if not boards:
        return 0
    length = max(board.length for board in boards) - 2 * clearance.edge_margin
    width = max(board.width for board in boards) - 2 * clearance.edge_margin
    pieces = [
        piece_of(part, count=count, width=width, along=all(board.grain == "length" for board in boards))
        for part, count in parts
    ]
    return length_bound(pieces, length=length, width=width, gap=clearance.gap)


def piece_of(part: ShapedPart, *, count: int, width: float, along: bool) -> Piece:
    """Return the rectangle that stands for a part on boards with that usable width, all with grain or not (`along`).

    A rectangular part along the grain stands for itself, another shape for a long rectangle within it that is
    higher than half the width, or for nothing where it is lower. What may be turned freely holds, in every turn, the
    upright rectangles of its largest inscribed circle: sqrt(d^2 - h^2) long where they are h high.
    """
    nothing = Piece(length=0.0, width=0.0, count=count)
    high = width / 2 + 2 * TOLERANCES.gap
    x0, y0, x1, y1 = part.region.bounds
    free = part.grain != "length" or not along
    if not free and part.region.area >= (x1 - x0) * (y1 - y0) - TOLERANCES.same_point:
        return Piece(length=x1 - x0, width=y1 - y0, count=count)
    if y1 - y0 <= high or (free and x1 - x0 <= high):
        return nothing
    polygon = to_polygon(part.region)
    error = TOLERANCES.gap + TOLERANCES.chord
    if free:
        with np.errstate(all="ignore"):  # GEOS divides by nothing at times, and copes
            radius = float(shapely.length(shapely.maximum_inscribed_circle(polygon, tolerance=_CIRCLE)))
        across = max(0.0, 2 * (radius - error))
        if across <= high:
            return nothing
        return Piece(length=math.sqrt(across * across - high * high), width=high, count=count)
    long = _longest_in_bands(polygon, high + 2 * error) - 2 * error
    return Piece(length=long, width=high, count=count) if long > 0 else nothing


def _longest_in_bands(polygon: Polygon, high: float) -> float:
    """The length of the longest rectangle along x of that height within a polygon, among some heights on it."""
    x0, y0, x1, y1 = polygon.bounds
    longest = 0.0
    for low in np.linspace(y0, y1 - high, _BANDS) if y1 - y0 > high else ():
        missing = shapely.box(x0, low, x1, low + high).difference(polygon)
        spans = sorted(piece.bounds[::2] for piece in shapely.get_parts(missing) if not piece.is_empty)
        here = x0
        for start, end in [*spans, (x1, x1)]:
            longest = max(longest, start - here)
            here = max(here, end)
    return longest
