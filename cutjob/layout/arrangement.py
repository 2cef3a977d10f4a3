"""Where things lie while a layout is searched for, and how much work a search may do: plain values that can be sent."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrangement:
    """Where every movable item lies: pose, space (-1: nowhere yet) and the place of its origin, arrays of (n,)."""

    pose: NDArray[np.int32]
    space: NDArray[np.int32]
    x: NDArray[np.float64]
    y: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """How much work may be done: positions to try, and a moment of the monotonic clock after which to stop."""

    positions: int
    deadline: float | None = None

    def over(self, tried: int) -> bool:
        """Say whether to stop."""
        return tried >= self.positions or (self.deadline is not None and time.monotonic() >= self.deadline)

    def part(self, share: float) -> Limit:
        """Return the limit of the first part of the work, beginning now."""
        now = time.monotonic()
        deadline = None if self.deadline is None else now + share * (self.deadline - now)
        return Limit(positions=max(1, int(self.positions * share)), deadline=deadline)

    def share(self, tried: int, began: float) -> float:
        """Return how much of the work is done, 0 to 1, for a search that began at that moment of the clock."""
        by_work = tried / self.positions
        if self.deadline is None:
            return by_work
        return max(by_work, (time.monotonic() - began) / max(1e-9, self.deadline - began))
