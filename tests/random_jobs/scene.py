"""What all the pieces of one random job share: its chances, its units, its machine, what its boards can be."""

from __future__ import annotations

import json
import random
import re
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

INCH = 25.4


@dataclass
class Scene:
    """A job in the making. Lengths in mm; `rash` jobs ask now and then for what can't be had."""

    chance: random.Random
    folder: Path
    units: str
    machine: str
    profile: dict[str, Any]
    rash: bool
    stack: int = 1
    cutters: list[int] = field(default_factory=list)
    thickness: float = 12.0
    tabbed: bool = True  # whether tabs by hand do anything

    @property
    def kind(self) -> str:
        return str(self.profile["kind"])

    @property
    def thin(self) -> bool:
        return self.kind == "laser"

    def some(self, share: float) -> bool:
        return self.chance.random() < share

    def length(self, low: float, high: float) -> float:
        """A length in the job's units between two in mm: whole or half mm, or sixteenths of an inch."""
        mm = self.chance.uniform(low, high)
        return round(mm * 2) / 2 if self.units == "mm" else round(mm / INCH * 16) / 16

    def exactly(self, mm: float) -> float:
        return mm if self.units == "mm" else round(mm / INCH, 4)

    def worded(self, value: float) -> Any:
        """A length of the job's units as a number, or as text that carries a unit."""
        if not self.some(0.1):
            return value
        if self.units == "in" and value * 16 == int(value * 16) and value > 0:
            whole, rest = divmod(Fraction(value), 1)
            return " ".join(str(word) for word in (whole, rest) if word) + self.chance.choice([" in", '"', ""])
        return f"{value * INCH:.4f} mm" if self.units == "in" else f"{value} mm"

    def hole(self, greatest: float) -> float:
        """A hole some cutter goes into; often exactly its own size, or hardly wider. In the job's units."""
        if self.rash:
            return self.length(1, 12)
        own = max(min(self.diameters()), 2.5) if self.kind == "router" else 2.5
        more = self.chance.uniform(0, max(greatest - own, 0.0))
        return self.exactly(own + self.chance.choice([0, 0.02, 0.5, more, more, more, more]))

    def diameters(self) -> list[float]:
        """Of the cutters the job may use that reach through its boards, or else of all."""
        named = [one for one in self.profile["cutter"] if not self.cutters or one["number"] in self.cutters]
        reach = [one for one in named if mm_of(one.get("cutting_length", 1000)) >= self.thickness * self.stack + 0.5]
        return [mm_of(one["diameter"]) for one in reach or named or self.profile["cutter"]]


def mm_of(value: Any) -> float:
    """The mm of a length as profiles have them: a number, or text such as "1/4 in" or "6 mm"."""
    if not isinstance(value, str):
        return float(value)
    number, unit = re.fullmatch(r"([\d./]+) (in|mm)", value).groups()  # type: ignore[union-attr]
    return float(Fraction(number)) * (INCH if unit == "in" else 1.0)


def toml(value: Any) -> str:
    """A value as TOML on one line."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(key)} = {toml(one)}" for key, one in value.items()) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(toml(one) for one in value) + "]"
    if isinstance(value, float):
        return repr(round(value, 6))
    return json.dumps(value, ensure_ascii=False)


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key)


def document(top: dict[str, Any], tables: dict[str, list[dict[str, Any]]]) -> str:
    """A TOML file of keys at the top and arrays of tables."""
    lines = [f"{_key(key)} = {toml(value)}" for key, value in top.items()]
    for table, entries in tables.items():
        for entry in entries:
            lines += ["", f"[[{table}]]", *(f"{_key(key)} = {toml(value)}" for key, value in entry.items())]
    return "\n".join(lines) + "\n"
