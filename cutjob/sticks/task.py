"""What is to be cut from what, in whole numbers, as values."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """Over all sticks sawn, the sum of `weights` by kind is at most `most`."""

    weights: tuple[int, ...]
    most: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Pieces of `lengths`, each with its kerf, the longest first, and how many are `wanted`; by kind of stick the
    `rooms`, each the stick's length and one kerf, and the `costs`, whole numbers that are to sum up to little.
    """

    lengths: tuple[int, ...]
    wanted: tuple[int, ...]
    rooms: tuple[int, ...]
    costs: tuple[int, ...]
    limits: tuple[Limit, ...] = ()


@dataclass(frozen=True, slots=True, order=True)
class Way:
    """One way of sawing up a stick of a kind: how many pieces of each length it gives."""

    kind: int
    counts: tuple[int, ...]

    def used(self, task: Task) -> int:
        """How much of the stick's room its pieces take."""
        return sum(count * length for count, length in zip(self.counts, task.lengths, strict=True))


@dataclass(frozen=True, slots=True)
class Cutting:
    """How many sticks are sawn in which way."""

    times: Mapping[Way, int] = field(default_factory=dict)

    @staticmethod
    def of(pairs: Iterable[tuple[Way, int]]) -> Cutting:
        """Return the cutting of ways and how often each is taken; a way may come several times."""
        times: dict[Way, int] = {}
        for way, count in pairs:
            if count:
                times[way] = times.get(way, 0) + count
        return Cutting(dict(sorted(times.items(), reverse=True)))

    def __iter__(self) -> Iterator[tuple[Way, int]]:
        return iter(self.times.items())

    @property
    def sticks(self) -> int:
        """How many sticks it takes."""
        return sum(self.times.values())

    def by_kind(self, kinds: int) -> tuple[int, ...]:
        """How many sticks of each kind it takes."""
        return tuple(sum(count for way, count in self if way.kind == kind) for kind in range(kinds))

    def cost(self, task: Task) -> int:
        """What its sticks cost."""
        return sum(task.costs[way.kind] * count for way, count in self)

    def made(self, task: Task) -> list[int]:
        """How many pieces of each length it gives."""
        made = [0] * len(task.lengths)
        for way, times in self:
            for index, count in enumerate(way.counts):
                made[index] += count * times
        return made

    def faults(self, task: Task) -> list[str]:
        """What is wrong with it, in words for programmers: sticks overfull, pieces missing, limits broken."""
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
