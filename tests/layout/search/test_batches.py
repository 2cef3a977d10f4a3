"""Lots, ways of repeating layouts, and the stacks and units that sheets come to: counts are met exactly."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutjob.geometry.contour import circle, rectangle
from cutjob.geometry.transform import Transform
from cutjob.layout.search.batches import Lot, Piece, Sheet, board_layouts, chains, demands, lots_of, runs_of
from cutjob.parts.part import Hole, Item
from tests.layout.makers import board, item, part

SLAT, BLOCK = part(rectangle(300, 40)), part(rectangle(50, 50), "block")
BLIND = part(circle((0, 0), 20), "foot", holes=(Hole(at=(0.0, 0.0), diameter=8.0, depth=6.0),))


def piece(lot: int, demand: int, *, bundle: int = 0, x: float = 0.0) -> Piece:
    return Piece(lot=lot, bundle=bundle, demand=demand, transform=Transform(x=x))


def test_a_part_is_a_lot_of_its_own_unless_its_item_is_kept_together() -> None:
    loose = item(SLAT, SLAT, BLOCK, count=4)
    wanted = demands([loose])
    assert [(lot.parts, lot.count) for lot in lots_of([loose], wanted)] == [((0,), 8), ((1,), 4)]
    together = replace(loose, together=True)
    assert [(lot.parts, lot.count) for lot in lots_of([together], demands([together]))] == [((0, 0, 1), 4)]


def test_the_last_run_of_a_stack_is_lower() -> None:
    wish = item(SLAT, count=14)
    wanted = demands([wish])
    sheet = Sheet(kind=0, times=7, pieces=(piece(0, 0, bundle=0), piece(0, 0, bundle=1, x=400.0)))
    lots = lots_of([wish], wanted)
    layouts = board_layouts([sheet], lots, wanted, [board()], stack=3)
    assert [(entry.stack, entry.copies) for entry in layouts] == [(3, 2), (1, 1)]
    assert runs_of(sheet, lots, 3) == 3
    assert sum(len(entry.placements) * entry.stack * entry.copies for entry in layouts) == 14
    # The first stack makes units 1 to 3 at one place and 4 to 6 at the other, its second copy goes on to 12.
    assert [[placement.unit for placement in entry.placements] for entry in layouts] == [[1, 4], [13, 14]]


def test_a_hole_that_stops_partway_is_never_cut_in_a_stack() -> None:
    wish = item(BLIND, count=4)
    wanted = demands([wish])
    lots = lots_of([wish], wanted)
    assert not lots[0].stackable
    layouts = board_layouts([Sheet(kind=0, times=4, pieces=(piece(0, 0),))], lots, wanted, [board()], stack=4)
    assert [(entry.stack, entry.copies) for entry in layouts] == [(1, 4)]


def test_units_kept_together_have_one_number_on_a_board() -> None:
    wish = replace(item(SLAT, BLOCK, count=6), together=True)
    wanted = demands([wish])
    pieces = tuple(piece(0, demand, bundle=bundle) for bundle in range(2) for demand in range(2))
    (layout,) = board_layouts(
        [Sheet(kind=0, times=3, pieces=pieces)], lots_of([wish], wanted), wanted, [board()], stack=3
    )
    assert [placement.unit for placement in layout.placements] == [1, 1, 4, 4]


def items_of(counts: list[int], together: bool) -> list[Item]:
    return [
        replace(item(SLAT, BLOCK, BLOCK, count=count, name=f"item {number}"), together=together)
        for number, count in enumerate(counts)
    ]


@given(st.lists(st.integers(1, 90), min_size=1, max_size=4), st.integers(1, 4), st.booleans(), st.booleans())
def test_every_chain_lays_out_every_lot_and_no_more(counts: list[int], stack: int, together: bool, free: bool) -> None:
    items = items_of(counts, together)
    lots = lots_of(items, demands(items))
    found = chains(lots, stack=stack, free=free)
    assert found
    for chain in found:
        left = [lot.count for lot in lots]
        for step in chain:
            if not (step.free or step.drop):  # how much these lay out depends on the boards
                left = [count - count // step.times * step.times for count in left]
        assert left == [0] * len(lots)
        assert chain[-1].times == 1


@pytest.mark.parametrize("stack", [1, 2, 5])
@given(times=st.integers(1, 40))
def test_runs_and_boards_of_a_sheet(times: int, stack: int) -> None:
    lot = Lot(parts=(0,), count=times, stackable=True)
    wish = item(BLOCK, count=times)
    sheet = Sheet(kind=0, times=times, pieces=(piece(0, 0),))
    layouts = board_layouts([sheet], [lot], demands([wish]), [board()], stack=stack)
    assert runs_of(sheet, [lot], stack) == sum(entry.copies for entry in layouts) == -(-times // stack)
    assert sum(entry.stack * entry.copies for entry in layouts) == times
    units = Counter(placement.unit for entry in layouts for placement in entry.placements)
    assert max(units) <= times
