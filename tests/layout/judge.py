"""A judgement of layouts that shares nothing with the package's own: plain Shapely distances between fine polygons."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import combinations

from shapely import Polygon

from cutjob.geometry.contour import Contour, Region
from cutjob.layout.layout import Layout
from cutjob.parts.part import Item
from tests.layout.makers import areas_of

# Chords of the polygons below lie within 0.0001 mm of their arcs; positions are kept to TOLERANCES.gap, 0.001 mm.
CHORD = 1e-4
SLACK = 0.001


def fine(shape: Region | Contour) -> Polygon:
    if isinstance(shape, Contour):
        return Polygon(shape.points(CHORD))
    return Polygon(shape.outline.points(CHORD), [hole.points(CHORD) for hole in shape.holes])


def assert_sound(layout: Layout, items: Sequence[Item]) -> None:
    made: Counter[tuple[str, str]] = Counter()
    used: Counter[str] = Counter()
    for entry in layout.boards:
        board = fine(entry.board.outline)
        placed = [fine(placement.region) for placement in entry.placements]
        for one, other in combinations(placed, 2):
            assert one.distance(other) >= layout.gap - SLACK
        for one in placed:
            assert board.buffer(SLACK).covers(one)
            assert one.distance(board.exterior) >= layout.edge_margin - SLACK
            assert all(one.distance(fine(knot)) >= layout.gap - SLACK for knot in areas_of(entry.board))
        for placement in entry.placements:
            made[placement.item, placement.part.name] += entry.stack * entry.copies
            if placement.part.grain == entry.board.grain == "length":
                assert placement.transform.degrees % 180 == 0
            assert placement.part.may_mirror or not placement.transform.mirrored
        used[entry.board.name] += entry.stack * entry.copies
        assert used[entry.board.name] <= entry.board.count or entry.board.sawn_off
    wanted: Counter[tuple[str, str]] = Counter()
    for item in items:
        for part in item.build.shaped:
            wanted[item.name, part.name] += item.count
    assert made == wanted
