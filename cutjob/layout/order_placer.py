"""The engine that lays parts in an order and improves by other orders: no-fit areas, then a seeded search."""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import count

from cutjob.geometry.contour import Region
from cutjob.job.stock import Board
from cutjob.layout.nofit import NoFits, Shape
from cutjob.layout.order_search import Search, Space
from cutjob.layout.outline import UNITS
from cutjob.layout.place import Laid, Wanted
from cutjob.layout.rules import Clearance, Turn, allowed_turns
from cutjob.parts.part import ShapedPart


class OrderPlacer:
    """Lays in an order, and searches for a good order. Keeps what it learns about shapes between boards."""

    def __init__(self, clearance: Clearance) -> None:
        """Take the gap and the edge margin, mm."""
        self._clearance = clearance
        self._numbers = count(1)
        self._pairs = NoFits()
        self._shapes: dict[Region, Shape] = {}
        self._by_part: dict[int, tuple[ShapedPart, Shape]] = {}  # the part is kept so that its id stays its own
        self._spaces: dict[Board, Space] = {}

    def fill(self, board: Board, wanted: Sequence[Wanted], *, budget: int, seed: int) -> tuple[Laid, ...]:
        """Lay as many of the parts as fit; see Placer."""
        if board not in self._spaces:
            self._spaces[board] = Space(board, self._clearance, self._numbers)
        shapes = [self._shape(entry.part) for entry in wanted]
        turns = [
            _distinct(shape, allowed_turns(entry.part, board)) for shape, entry in zip(shapes, wanted, strict=True)
        ]
        search = Search(self._spaces[board], self._pairs, list(wanted), shapes, turns)
        return tuple(
            Laid(index=put.which, transform=put.turn.transform(put.x / UNITS, put.y / UNITS))
            for put in search.best(budget, random.Random(seed))
        )

    def _shape(self, part: ShapedPart) -> Shape:
        known = self._by_part.get(id(part))
        if known is None:
            if part.region not in self._shapes:
                self._shapes[part.region] = Shape(next(self._numbers), part.region, gap=self._clearance.gap)
            known = self._by_part[id(part)] = (part, self._shapes[part.region])
        return known[1]


def _distinct(shape: Shape, turns: Sequence[Turn]) -> tuple[Turn, ...]:
    """The turns that look different: a rectangle turned by a half is the same again."""
    seen: dict[frozenset[tuple[int, int]], Turn] = {}
    for turn in turns:
        ring = shape.turned(turn).ring
        x0, y0 = min(x for x, _ in ring), min(y for _, y in ring)
        # Corners name a ring among its own turned versions; holes may tell apart what looks alike outside.
        look = frozenset((x - x0, y - y0) for x, y in ring)
        if shape.holes:
            look = frozenset({(turn.quarter, int(turn.mirrored))})
        seen.setdefault(look, turn)
    return tuple(seen.values())
