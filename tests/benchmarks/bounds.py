"""Lower bounds on how many boards a set of parts takes, whatever the layout. Pure functions, any one unit of length.

By area: parts grown by half the gap may not overlap, and lie within the clear board grown by half the gap.

By length: inside every part lies a core, a rectangle along the board that is taller than half the board's usable width
(less half the gap). No two cores find room beside each other, so their lengths, each with a gap, follow one another
along a board: one-dimensional bin packing. Cores and not least extents: parts that interlock or lie head to foot
share a stretch of board though their extents would not, but rectangles inside them cannot.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon, affinity

# Rounding, and the chords of parts that may lie outside their concave arcs: a bound never rises over this share of a
# board.
_SLACK = 1e-3
# GEOS drops hollows of a border that are shallower than this share of the distance it grows by [M], so that what is
# grown may come out too large by as much all along its border.
_FILLED_HOLLOWS = 0.01
_BANDS = 48  # heights at which a core is looked for


def area_bound(areas: Sequence[float], board_areas: Sequence[float], *, board_area: float) -> int:
    """Boards of `board_area` needed at least, when the boards of `board_areas` are there already."""
    left = sum(areas) - sum(board_areas)
    return max(0, math.ceil(left / board_area - _SLACK))


def grown_part_area(part: Polygon, gap: float) -> float:
    """Area a part keeps for itself: grown by half the gap. A little too small, never too large."""
    return max(float(part.area), _grown_area(part, gap / 2))


def _grown_area(shape: Polygon, distance: float) -> float:
    """At most the area of a shape grown all round: chords cut off round corners, and filled hollows are taken off."""
    return float(shape.buffer(distance).area - shape.length * _FILLED_HOLLOWS * distance)


def clear_area(outline: Polygon, keep_outs: Sequence[Polygon], *, gap: float, margin: float) -> float:
    """Area that grown parts may lie in: the board less its margin, grown by half the gap, less the knots grown so."""
    clear = outline.buffer(-margin, join_style="mitre").buffer(gap / 2, join_style="mitre")
    knots = shapely.union_all([knot.buffer(gap / 2) for knot in keep_outs])
    hollows = sum(knot.length for knot in keep_outs) * _FILLED_HOLLOWS * gap / 2
    return float(clear.difference(knots).area + hollows)


def core_length(part: Polygon, height: float, rotations: Sequence[float]) -> float:
    """Length of a rectangle along x, `height` tall, that lies in the part at each of the turns (degrees); 0 if none.

    With no turns given the part may lie at any angle: the rectangle in its largest inscribed circle then.
    """
    if not rotations:
        radius = shapely.maximum_inscribed_circle(part).length
        return 2 * math.sqrt(max(0.0, radius**2 - (height / 2) ** 2))
    return min(_core_at(affinity.rotate(part, turn, origin=(0, 0)), height) for turn in rotations)


def _core_at(part: Polygon, height: float) -> float:
    x0, y0, x1, y1 = part.bounds
    if y1 - y0 < height:
        return 0.0
    longest = 0.0
    for low in np.linspace(y0, y1 - height, _BANDS):
        missing = shapely.box(x0, low, x1, low + height).difference(part)
        spans = sorted(piece.bounds[::2] for piece in shapely.get_parts(missing) if piece.area > 0)
        here = x0
        for start, end in [*spans, (x1, x1)]:
            longest = max(longest, start - here)
            here = max(here, end)
    return longest


def length_bound(cores: Sequence[float], length: float, *, gap: float, given: int = 0) -> int:
    """Boards of a usable length needed at least for cores that lie one after another, a gap between any two.

    `given` boards, no longer, are there already.
    """
    return max(0, bins_bound([core + gap for core in cores if core > 0], length + gap) - given)


def bins_bound(sizes: Sequence[float], capacity: float) -> int:
    """Bound L2 on the number of bins of a capacity that hold all sizes; each size is at most the capacity.

    Martello and Toth, Lower bounds and reduction procedures for the bin packing problem, Discrete Applied Mathematics
    28 (1990) 59-70. For each a up to half the capacity: sizes over capacity - a take a bin each and let nothing from a
    upwards in; sizes over half take a bin each, too; the rest from a upwards fills what those leave, then new bins.
    """
    best = 0
    half = capacity / 2
    for least in {0.0, *(size for size in sizes if size <= half)}:
        alone = sum(size > capacity - least for size in sizes)
        large = [size for size in sizes if half < size <= capacity - least]
        small = sum(size for size in sizes if least <= size <= half)
        more = math.ceil((small - (len(large) * capacity - sum(large))) / capacity - _SLACK)
        best = max(best, alone + len(large) + max(0, more))
    return best
