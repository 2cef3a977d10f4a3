"""Filling one board: parts wanted go in, parts laid come out. `Placer` is all the rest knows of an engine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.parts.part import ShapedPart


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """`count` equal parts to lay if they fit. An urgent part fits few other boards and goes first."""

    part: ShapedPart
    count: int
    urgent: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """One part laid: its index among those wanted, and where it lies."""

    index: int
    transform: Transform


class Placer(Protocol):
    """An engine that lays parts on one board. Same arguments on a new engine, same layout."""

    def fill(self, board: Board, wanted: Sequence[Wanted], *, budget: int, seed: int) -> tuple[Laid, ...]:
        """Lay as many of the parts as fit, all of them in the shortest length; budget 0 gives a first layout.

        `budget` is a measure of work, about a millionth of a second each on a common machine, never a time.
        """
        ...
