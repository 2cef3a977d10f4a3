"""Which item of its kind each piece is for, on every board of every stack, so that a set stays together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from cutjob.layout.layout import BoardLayout, Layout, Placement
from cutjob.parts.part import Item


@dataclass(frozen=True, slots=True, kw_only=True)
class Sets:
    """For the id of each board layout and the index of each placement on it the numbers of the items, from 1, that its
    pieces are for: run after run, and in each from the top of the stack down. `counts` has how many items there are, by
    name.
    """

    numbers: Mapping[tuple[str, int], tuple[int, ...]] = field(default_factory=dict)
    counts: Mapping[str, int] = field(default_factory=dict)

    def of(self, layout: BoardLayout, index: int) -> tuple[int, ...]:
        """The numbers of the items that the pieces of a placement are for; none where they are not known."""
        return self.numbers.get((layout.id, index), ())


NO_SETS = Sets()  # nothing known


def sets_of(layout: Layout, items: Sequence[Item]) -> Sets:
    """Return the numbers of the items. The top board of the first stack has those of `Placement.unit`.

    Parts of an item that is kept together have one number; the others are counted part by part, as they come.
    """
    counts = Counter[str]()
    together: set[str] = set()
    of_one: Counter[tuple[str, str]] = Counter()
    for item in items:
        counts[item.name] += item.count
        if item.together:
            together.add(item.name)
        of_one.update((item.name, part.name) for part in item.build.shaped)
    done: Counter[tuple[str, str]] = Counter()
    numbers: dict[tuple[str, int], tuple[int, ...]] = {}
    for board in layout.boards:
        groups: dict[tuple[str, str], list[int]] = {}
        for index, placement in enumerate(board.placements):
            kind = "" if placement.item in together else placement.part.name
            groups.setdefault((placement.item, kind), []).append(index)
        for key, own in groups.items():
            ranks, each = _ranks(board.placements, own, whole=not key[1]), 1 if not key[1] else max(1, of_one[key])
            many = 1 + max(ranks.values())
            for index in own:
                first = done[key] + ranks[index] * board.stack
                copies = (first + run * many * board.stack + layer for run, layer in _pieces(board))
                numbers[board.id, index] = tuple(min(counts[key[0]], 1 + copy // each) for copy in copies)
            done[key] += many * board.stack * board.copies
    return Sets(numbers=numbers, counts=dict(counts))


def _pieces(board: BoardLayout) -> list[tuple[int, int]]:
    """Each run of a layout with each of its boards, the top one first."""
    return [(run, layer) for run in range(board.copies) for layer in range(board.stack)]


def _ranks(placements: Sequence[Placement], own: Sequence[int], *, whole: bool) -> dict[int, int]:
    """The place of each placement in the order of the items it is for; with `whole` parts of one item share a place."""
    ordered = sorted(own, key=lambda index: placements[index].unit)
    if not whole:
        return {index: rank for rank, index in enumerate(ordered)}
    units = list(dict.fromkeys(placements[index].unit for index in ordered))
    return {index: units.index(placements[index].unit) for index in own}
