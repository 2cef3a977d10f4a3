"""Lots, ways of repeating layouts, and the stacks and units that sheets come to: counts are met exactly."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutjob.geometry.contour import circle, rectangle
from cutjob.geometry.transform import Transform
from cutjob.holding.windows import choose_windows
from cutjob.layout.search.batches import (
    Lot,
    Piece,
    Sheet,
    board_layouts,
    chains,
    demands,
    lots_of,
    merged,
    runs_of,
    windows_needed,
)
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


def test_boards_with_the_same_parts_are_one_layout_laid_like_the_first() -> None:
    lots = (Lot(parts=(0,), count=5, stackable=True),)
    first = Sheet(kind=0, times=1, pieces=(piece(0, 0),))
    second = Sheet(kind=0, times=2, pieces=(piece(0, 0, x=77.0),))
    elsewhere = Sheet(kind=1, times=1, pieces=(piece(0, 0),))
    more = Sheet(kind=0, times=1, pieces=(piece(0, 0), piece(0, 0, bundle=1, x=400.0)))
    together = merged([first, second, elsewhere, more], lots, [0])
    assert [(sheet.kind, sheet.times, len(sheet.pieces)) for sheet in together] == [(0, 3, 1), (1, 1, 1), (0, 1, 2)]
    assert together[0].pieces[0].transform.x == 0.0


def test_parts_of_equal_shape_change_places_so_that_each_board_has_as_many_for_each_item() -> None:
    lots = (Lot(parts=(0,), count=2, stackable=True), Lot(parts=(1,), count=2, stackable=True))
    ours = Sheet(kind=0, times=1, pieces=(piece(0, 0), piece(0, 0, bundle=1, x=400.0)))
    theirs = Sheet(kind=0, times=1, pieces=(piece(1, 1), piece(1, 1, bundle=1, x=410.0)))
    (both,) = merged([ours, theirs], lots, [0, 0])
    assert both.times == 2
    assert sorted((one.lot, one.demand) for one in both.pieces) == [(0, 0), (1, 1)]
    assert [one.transform.x for one in both.pieces] == [0.0, 400.0]
    # Not where the shapes differ, and not where one part for each item can't be halved.
    assert len(merged([ours, theirs], lots, [0, 1])) == 2
    one_each = [replace(sheet, pieces=sheet.pieces[:1]) for sheet in (ours, theirs)]
    assert len(merged(one_each, lots, [0, 0])) == 2


def test_parts_kept_together_stay_with_their_own() -> None:
    lots = (Lot(parts=(0, 0), count=1, stackable=True), Lot(parts=(1, 1), count=1, stackable=True))
    sheets = [Sheet(kind=0, times=1, pieces=(piece(lot, lot), piece(lot, lot, x=400.0))) for lot in (0, 1)]
    assert len(merged(sheets, lots, [0, 0])) == 2
    assert [sheet.times for sheet in merged([sheets[0], sheets[0]], lots, [0, 0])] == [2]


sheets_of_slats = st.lists(
    st.tuples(st.integers(1, 3), st.lists(st.integers(0, 2), min_size=1, max_size=4)), min_size=1, max_size=6
)


@given(sheets_of_slats)
def test_merged_sheets_make_as_many_of_each_lot_and_no_unit_twice(made: list[tuple[int, list[int]]]) -> None:
    sheets = [
        Sheet(
            kind=0,
            times=times,
            pieces=tuple(piece(lot, lot, bundle=k, x=40.0 * k) for k, lot in enumerate(on_board)),
        )
        for times, on_board in made
    ]

    def numbers(of: tuple[Sheet, ...] | list[Sheet]) -> Counter[int]:
        return Counter(one.lot for sheet in of for one in sheet.pieces for _ in range(sheet.times))

    wanted_numbers = numbers(sheets)
    lots = [Lot(parts=(lot,), count=wanted_numbers[lot], stackable=True) for lot in range(3)]
    together = merged(sheets, lots, [0, 0, 1])
    assert numbers(together) == wanted_numbers
    assert len(together) <= len(sheets)
    assert sum(sheet.times for sheet in together) == sum(sheet.times for sheet in sheets)
    wish = [item(SLAT, count=max(1, wanted_numbers[lot]), name=f"item {lot}") for lot in range(3)]
    units: Counter[tuple[str, int]] = Counter()
    for entry in board_layouts(together, lots, demands(wish), [board()], stack=1):
        own = Counter(one.item for one in entry.placements)
        for one in entry.placements:
            units.update((one.item, one.unit + copy * own[one.item]) for copy in range(entry.copies))
    assert set(units.values()) == {1}


@given(st.lists(st.tuples(st.integers(0, 300), st.integers(1, 100)), min_size=1, max_size=9))
def test_as_many_windows_as_the_machine_takes(made: list[tuple[int, int]]) -> None:
    spans = [(float(start), float(start + size)) for start, size in made]
    assert windows_needed(spans, longest=100.0) == len(choose_windows(spans, bed=100.0, board=(0.0, 400.0)))
