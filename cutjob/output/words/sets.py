"""Which items pieces are for, in words: `reed spinner 3 of 8`."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from cutjob.layout.layout import BoardLayout
from cutjob.layout.sets import Sets
from cutjob.output.words.held import number_ranges


def set_words(item: str, numbers: Iterable[int], count: int) -> str:
    """Return the item's name with the numbers of those meant, out of `count`; the name alone where there is one."""
    known = sorted(set(numbers))
    return item if count <= 1 or not known else f"{item} {number_ranges(known)} of {count}"


def pieces_for(layout: BoardLayout, indices: Sequence[int], sets: Sets) -> str:
    """Return what placements of one item are for, on all boards that the layout is cut from."""
    item = layout.placements[indices[0]].item
    numbers = [number for index in indices for number in sets.of(layout, index)]
    return set_words(item, numbers, sets.counts.get(item, 1))
