"""Places for screws kept free while parts are laid out: boards as they are go in, boards to lay parts on come out. mm.

For jobs whose parts, laid as close as they go, leave none. The places stand along both edges in turn, where they take
the least room, no farther apart than screws may be.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import cycle

import numpy as np
import shapely

from cutjob.geometry.contour import circle
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Point
from cutjob.job.machine import Screws
from cutjob.job.stock import Board
from cutjob.layout.room import Room

_ASIDE = 9  # x looked at for a place, in the middle half of its stretch
_LEAST = 0.5  # mm: radius of what is kept free at a place; so much more than nothing that it has an outline


def room_for_screws(
    room: Room | None, *, screws: Screws, margin: float, slot: float, gap: float, bed: float | None
) -> Room:
    """Return room in which screws find their places, beside the `room` there is to be in any case.

    `margin` is the wood between a screw's head and the cutter, `slot` how far beside a part the cutter sweeps, and
    `gap` what parts keep off anything; boards longer than `bed` are cut in windows, each with screws of its own.
    """

    def beside(board: Board) -> Board:
        before = board if room is None else room.beside(board)
        radius = max(_LEAST, screws.head / 2 + margin + slot - gap)
        every = screws.every if bed is None or board.length <= bed else screws.every / 2
        found = _places(before, clear=screws.head / 2 + margin, edge=max(screws.hole, screws.head / 2), every=every)
        return replace(before, keep_outs=(*before.keep_outs, *(circle(at, radius) for at in found)))

    if room is not None:
        return replace(room, beside=beside)
    return Room(beside=beside, taken_by="the place for screws", advice='hold the board with board_held_by = "clamps"')


def _places(board: Board, *, clear: float, edge: float, every: float) -> list[Point]:
    """One place in each of the fewest equal stretches no longer than `every`, by the lower and the upper edge in turn;
    none in a stretch that has no room.
    """
    wood = to_polygon(board.outline)
    knots = [to_polygon(area).buffer(clear) for area in board.keep_outs]
    free = shapely.difference(wood.buffer(-edge), shapely.union_all(knots))
    if free.is_empty:
        return []
    x0, y0, x1, y1 = wood.bounds
    count = max(2, math.ceil((x1 - x0) / every - 1e-9))
    step = (x1 - x0) / count
    asides = sorted(np.linspace(-step / 4, step / 4, _ASIDE), key=lambda aside: (abs(aside), aside))
    found: list[Point] = []
    sides = cycle((False, True))
    for number in range(count):
        middle, upper = x0 + (number + 0.5) * step, next(sides)
        for x in (middle + float(aside) for aside in asides):
            line = shapely.intersection(shapely.LineString([(x, y0), (x, y1)]), free)
            if not line.is_empty:
                _, low, _, high = line.bounds
                found.append((x, high if upper else low))
                break
    return found
