"""What a kind of mutant is, and the table of them all."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, TypeAlias

from tests.proof.mutants.cases import Case
from tests.proof.mutants.edits import Line, moves_of, number

Matters: TypeAlias = Literal["always", "oracle"]


@dataclass(frozen=True)
class Setting:
    """A case to be spoiled, the others of its job, and where chance comes from."""

    case: Case
    others: tuple[Case, ...]
    chance: random.Random

    @property
    def laser(self) -> bool:
        """Whether a beam cuts."""
        return self.case.machine.kind == "laser"

    @property
    def unit(self) -> float:
        """The file's unit in mm."""
        return 25.4 if self.case.machine.controller.units == "in" else 1.0

    def written(self, value: float) -> str:
        """A number of the file's unit as it is written."""
        return number(value, self.case.machine.controller.decimals)

    def mm(self, value: float) -> float:
        """So many mm in the file's unit."""
        return value / self.unit

    def top(self, file: str) -> float:
        """The stock's top in the file's unit."""
        return self.mm(next(one.stock_top_z for one in self.case.programs if one.file == file))

    def file(self) -> str:
        """One of the case's files."""
        return self.chance.choice(sorted(self.case.files))

    def cuts(self, file: str) -> list[Line]:
        """The lines of a file that cut: with a feed, and below the stock's top (or with the beam on)."""
        top = self.top(file) - 1e-9
        moves = moves_of(self.case.files[file])
        return [one for one in moves if one.motion > 0 and (self.laser or min(one.start[2], one.end[2]) < top)]


Spoil: TypeAlias = Callable[[Setting], Case | None]


@dataclass(frozen=True)
class Kind:
    """A way to spoil a case: its name, how, and who says whether it matters. It gives None where it finds no place."""

    name: str
    spoil: Spoil
    matters: Matters


KINDS: list[Kind] = []


def kind(name: str, *, matters: Matters = "oracle") -> Callable[[Spoil], Spoil]:
    """Enter a function into the table."""

    def enter(spoil: Spoil) -> Spoil:
        KINDS.append(Kind(name, spoil, matters))
        return spoil

    return enter
