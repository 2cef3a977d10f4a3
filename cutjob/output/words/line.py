"""A line of a file's opening as a value: a label, and words with lengths and places between them.

The writers of the G-code file and of the job sheet put these into words. Lengths in mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from cutjob.geometry.segment import Point
from cutjob.output.numbers import Grid
from cutjob.units import Unit, format_length

Label: TypeAlias = Literal[
    "After a break", "Beam", "Before the start", "Between the boards", "Bridges", "Caution", "Clamp", "Cutter",
    "Cutter change", "Cuts", "Depth", "Files", "Held by", "Job", "Keep-outs", "Machine", "Marks", "Note", "Order",
    "Pin holes", "Router", "Saw first", "Screws", "Skin", "Spindle", "Stack", "Stock", "Tabs", "Tool length", "Warning",
    "Window", "Zero point",
]  # fmt: skip
# Pins and clamps are set by hand: nobody can see more decimals than this.
_BY_HAND = {"mm": 2, "in": 3}


@dataclass(frozen=True, slots=True)
class Length:
    """A length; in `both` units, since the reader may think in either, or only in the file's own."""

    mm: float
    both: bool = True

    def words(self, unit: Unit) -> str:
        """Return `6.35 mm = 1/4 in`, or one of them."""
        return " = ".join(format_length(self.mm, unit=each) for each in (("mm", "in") if self.both else (unit,)))


@dataclass(frozen=True, slots=True)
class Places:
    """Points in a program's own coordinates, for what is set by hand."""

    points: tuple[Point, ...]

    def words(self, unit: Unit) -> str:
        """Return `X 25 Y 12.5 mm and X 500 Y 30 mm`."""
        grid = Grid(unit=unit, decimals=_BY_HAND[unit])
        return " and ".join(f"X {grid.text(grid.steps(x))} Y {grid.text(grid.steps(y))} {unit}" for x, y in self.points)


@dataclass(frozen=True, slots=True)
class Line:
    """A line; without a label it continues the one before. `number`, out of `of`, distinguishes lines with the
    same label.
    """

    label: Label | None
    says: tuple[str | Length | Places, ...]
    number: int | None = None
    of: int | None = None

    @property
    def name(self) -> str:
        """The label with its number, such as `Cutter 1 of 3`; empty without one."""
        numbered = "" if self.number is None else f" {self.number}"
        return f"{self.label or ''}{numbered}{'' if self.of is None else f' of {self.of}'}"

    def words(self, unit: Unit) -> str:
        """Return what it says in words; `unit` is the file's own."""
        return "".join(part if isinstance(part, str) else part.words(unit) for part in self.says)
