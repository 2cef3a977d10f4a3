"""The task of cutting pieces from sticks, in whole numbers, as values."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A limit: over all sticks sawn, the sum of `weights` by kind is at most `most`."""

    weights: tuple[int, ...]
    most: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Pieces of `lengths`, each with its kerf, the longest first, and the numbers `wanted`; by kind of stick the
    `rooms`, each the stick's length and one kerf, and the `costs`, whole numbers, whose sum is to be small.
    """

    lengths: tuple[int, ...]
    wanted: tuple[int, ...]
    rooms: tuple[int, ...]
    costs: tuple[int, ...]
    limits: tuple[Limit, ...] = ()


@dataclass(frozen=True, slots=True, order=True)
class Way:
    """One way of sawing a stick of a kind: the number of pieces of each length."""

    kind: int
    counts: tuple[int, ...]

    def used(self, task: Task) -> int:
        """The part of the stick's room that its pieces take."""
        return sum(count * length for count, length in zip(self.counts, task.lengths, strict=True))


@dataclass(frozen=True, slots=True)
class Cutting:
    """The number of sticks sawn in each way."""

    times: Mapping[Way, int] = field(default_factory=dict)

    @staticmethod
    def of(pairs: Iterable[tuple[Way, int]]) -> Cutting:
        """Return the cutting of ways with the number of sticks for each; a way may be given several times."""
        times: dict[Way, int] = {}
        for way, count in pairs:
            if count:
                times[way] = times.get(way, 0) + count
        return Cutting(dict(sorted(times.items(), reverse=True)))

    def __iter__(self) -> Iterator[tuple[Way, int]]:
        return iter(self.times.items())

    @property
    def sticks(self) -> int:
        """The number of sticks it takes."""
        return sum(self.times.values())

    def by_kind(self, kinds: int) -> tuple[int, ...]:
        """The number of sticks of each kind it takes."""
        return tuple(sum(count for way, count in self if way.kind == kind) for kind in range(kinds))

    def cost(self, task: Task) -> int:
        """The cost of its sticks."""
        return sum(task.costs[way.kind] * count for way, count in self)

    def made(self, task: Task) -> list[int]:
        """The number of pieces of each length it gives."""
        made = [0] * len(task.lengths)
        for way, times in self:
            for index, count in enumerate(way.counts):
                made[index] += count * times
        return made

    def faults(self, task: Task) -> list[str]:
        """Its mistakes, in words for programmers: sticks overfull, pieces missing, limits broken."""
        wrong = [f"{way} is overfull" for way, _ in self if way.used(task) > task.rooms[way.kind]]
        wrong += [
            f"{made} of {wanted} pieces of length {index}"
            for index, (made, wanted) in enumerate(zip(self.made(task), task.wanted, strict=True))
            if made < wanted
        ]
        used = self.by_kind(len(task.rooms))
        sums = [sum(w * u for w, u in zip(limit.weights, used, strict=True)) for limit in task.limits]
        return wrong + [
            f"limit {limit} is broken" for limit, total in zip(task.limits, sums, strict=True) if total > limit.most
        ]
