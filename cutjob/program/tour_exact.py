"""The order of a few tasks with the shortest air moves of all, without anything compiled. mm."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

from cutjob.geometry.segment import Point, distance

if TYPE_CHECKING:
    from cutjob.program.tour import Start

_FEW = 80_000  # steps from a start to a next one, at most: some ten milliseconds


def are_few(starts: Sequence[Sequence[Start]]) -> bool:
    """Whether all orders can be gone through at once."""
    rows = sum(map(len, starts))
    return rows * rows << min(len(starts), 20) <= _FEW


def best_of_all(
    after: Sequence[Collection[int]], starts: Sequence[Sequence[Start]], *, home: Point, closed: bool = False
) -> list[tuple[int, Start]]:
    """Return the shortest order, by dynamic programming over what is done and the last start (Held and Karp 1962).

    Raises ValueError when tasks wait for each other.
    """
    needs = [sum(1 << before for before in set(each)) for each in after]
    rows = [(task, start) for task, options in enumerate(starts) for start in options]
    legs = [[distance(start.end, other.point) for _, other in rows] for _, start in rows]
    first = {
        (1 << task, row): (distance(home, start.point), -1) for row, (task, start) in enumerate(rows) if not needs[task]
    }
    layers = [first]
    for _ in starts[1:]:
        layer: dict[tuple[int, int], tuple[float, int]] = {}
        for (done, last), (length, _) in layers[-1].items():
            for row, (task, _) in enumerate(rows):
                if done >> task & 1 or needs[task] & ~done:
                    continue
                key, reached = (done | 1 << task, row), length + legs[last][row]
                if key not in layer or reached < layer[key][0]:
                    layer[key] = reached, last
        layers.append(layer)
    if not layers[-1]:
        raise ValueError("cuts wait for each other")
    (done, row), _ = min(
        layers[-1].items(), key=lambda item: item[1][0] + (distance(rows[item[0][1]][1].end, home) if closed else 0.0)
    )
    order = []
    for layer in reversed(layers):
        order.append(rows[row])
        done, row = done & ~(1 << rows[row][0]), layer[done, row][1]
    return order[::-1]
