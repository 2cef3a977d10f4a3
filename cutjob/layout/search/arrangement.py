"""The places of items during a search, and its limit of work: plain values that can be sent to other processes.

Also the pairs of items that overlap, with the weight of each, in tables that grow with the overlaps, not with all
pairs: ten thousand items have fifty million pairs, of which some thousands overlap at a time.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from cutjob.compiled import compiled, compiled_inside

_DEARER, _DEEP = 1.2, 0.8  # factor for weights of overlaps, and the addition for the deepest
_CHEAPER = 0.95  # factor for other weights


class Overlaps(NamedTuple):
    """Pairs of items that overlap, by their number (see `pair_of`), and their depths. Entries after
    the last are free.
    """

    pair: NDArray[np.int64]
    depth: NDArray[np.float64]


class Weights(NamedTuple):
    """The weight of an overlap of two items: 1 for all pairs but those kept here, by their number (see `pair_of`).

    A hash table: each number is at the first free place from its own on. Its length is a power of two, and at least
    half of it is free.
    """

    pair: NDArray[np.int64]  # -1 where there is none
    weight: NDArray[np.float64]


@compiled(nogil=True)
def no_weights(pairs: int) -> Weights:
    """Return weights of 1 for every pair, in a table with room for `many` others."""
    size = 1
    while size < 2 * pairs:
        size *= 2
    return Weights(np.full(size, -1, np.int64), np.ones(size))


@compiled(nogil=True)
def no_overlaps(pairs: int) -> Overlaps:
    """Return lists with room for `many` pairs."""
    return Overlaps(np.empty(pairs, np.int64), np.empty(pairs))


@compiled(nogil=True)
def pair_of(i: int, j: int, items: int) -> int:
    """Return the number of a pair of items."""
    return min(i, j) * items + max(i, j)


@compiled_inside(nogil=True)
def _place_of(weights: Weights, pair: int) -> int:
    """The place of a pair in the table, or the free place for it."""
    last = int(weights.pair.shape[0]) - 1
    # The middle bits of the product depend on all bits of the number (Knuth, multiplicative hashing).
    at = ((pair * 0x9E3779B1) >> 15) & last
    while weights.pair[at] != pair and weights.pair[at] >= 0:
        at = (at + 1) & last
    return at


@compiled(nogil=True)
def weight_of(weights: Weights, pair: int) -> float:
    """Return the weight of a pair."""
    at = _place_of(weights, pair)
    return weights.weight[at] if weights.pair[at] >= 0 else 1.0


@compiled(nogil=True)
def reweighed(weights: Weights, overlaps: Overlaps, many: int) -> Weights:
    """Return the weights after a round: those of the `many` pairs that overlap grow, more for deeper ones, and all
    others shrink a little, down to 1.
    """
    worst = overlaps.depth[:many].max()
    new = no_weights(many + int(np.count_nonzero(weights.pair >= 0)))
    for k in range(many):
        pair = overlaps.pair[k]
        at = _place_of(new, pair)
        new.pair[at] = pair
        new.weight[at] = weight_of(weights, pair) * (_DEARER + _DEEP * overlaps.depth[k] / worst)
    for old in range(weights.pair.shape[0]):
        pair, weight = weights.pair[old], weights.weight[old] * _CHEAPER
        if pair < 0 or weight <= 1.0:
            continue
        at = _place_of(new, pair)
        if new.pair[at] < 0:
            new.pair[at], new.weight[at] = pair, weight
    return new


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrangement:
    """The place of every movable item: pose, space (-1: none yet) and the place of its origin, arrays of (n,)."""

    pose: NDArray[np.int64]
    space: NDArray[np.int64]
    x: NDArray[np.float64]
    y: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """The limit of work: positions to try, and a moment of the monotonic clock after which to stop."""

    positions: int
    deadline: float | None = None

    def over(self, tried: int) -> bool:
        """Whether to stop."""
        return tried >= self.positions or (self.deadline is not None and time.monotonic() >= self.deadline)

    def part(self, share: float) -> Limit:
        """Return the limit for the first share of the work, beginning now."""
        now = time.monotonic()
        deadline = None if self.deadline is None else now + share * (self.deadline - now)
        return Limit(positions=max(1, int(self.positions * share)), deadline=deadline)

    def share(self, tried: int, began: float) -> float:
        """Return the share of the work done, 0 to 1, for a search that began at that moment of the clock."""
        by_work = tried / self.positions
        if self.deadline is None:
            return by_work
        return max(by_work, (time.monotonic() - began) / max(1e-9, self.deadline - began))
