"""One contour or feature of a placed part that must be cut, and what it is called in messages. mm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

GoalKind: TypeAlias = Literal["outline", "hole", "through", "blind", "pocket", "mark"]
MATERIAL: tuple[GoalKind, ...] = ("outline", "hole", "through")  # what is cut right through
WALLED: tuple[GoalKind, ...] = ("blind", "pocket")  # what has walls and a floor
_NAMES: dict[GoalKind, str] = {
    "outline": "outline",
    "hole": "inside contour",
    "through": "hole",
    "blind": "blind hole",
    "pocket": "pocket",
    "mark": "mark",
}


@dataclass(frozen=True, slots=True)
class Goal:
    """One contour or feature: `depth` below the stock's top of a blind hole, pocket or mark (None: through, or the
    profile's mark depth), `radius` of a round hole; its curves are rows `first` up to but without `last`.

    A pocket has a goal for its outline and one for each island, which share its number.
    """

    placement: int
    kind: GoalKind
    number: int
    depth: float | None
    radius: float
    first: int
    last: int
    island: int | None = None

    @property
    def name(self) -> str:
        """What it is called, without its part's name."""
        number = f" {self.number + 1}" if self.kind != "outline" else ""
        whole = f"{_NAMES[self.kind]}{number}"
        return whole if self.island is None else f"island {self.island + 1} in {whole}"


@dataclass(frozen=True, slots=True)
class Feature:
    """A blind hole or a whole pocket: its goals, by index, the outline's first and islands' after it."""

    placement: int
    kind: GoalKind
    depth: float
    goals: tuple[int, ...]
