"""Strip-packing instances read from JSON: parts, the strip's width, and what is published about them.

The shape of a file stands in the README beside the data. Values that a file may word in several ways (a number, a table
of numbers, a sentence) are read into plain numbers here and nowhere else.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import shapely
from shapely import Polygon

DATA = Path(os.environ.get("CUTJOB_DATA", Path(__file__).parents[3] / "shared" / "data")) / "nesting"
# Whole-number outlines never fit exactly once shifted in floats; arXiv:2509.13329 widens their strips by this.
WIDENED = 1.0001
_FROM_INCH = 25.4


@dataclass(frozen=True, slots=True, kw_only=True)
class StripItem:
    """One part of an instance: its outline, how many of it, the turns allowed in degrees (none given: any angle)."""

    name: str
    polygon: Polygon
    count: int
    rotations: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Instance:
    """An instance in its own unit.

    `best` and `mean` are published densities (best known; mean of long runs) as shares, `optimum` the known shortest
    length, `needed` lengths another library needed: (gap, seconds, length). `unit_mm` is the unit in mm if it is known.
    """

    name: str
    width: float
    items: tuple[StripItem, ...]
    best: float | None = None
    mean: float | None = None
    optimum: float | None = None
    needed: tuple[tuple[float, float, float], ...] = ()
    unit_mm: float | None = None

    @property
    def area(self) -> float:
        """Area of all parts."""
        return float(sum(item.polygon.area * item.count for item in self.items))

    @property
    def count(self) -> int:
        """Number of parts, copies counted."""
        return sum(item.count for item in self.items)

    @property
    def integer(self) -> bool:
        """Whether the strip's width and every corner are whole numbers."""
        numbers = [self.width, *(float(v) for i in self.items for v in shapely.get_coordinates(i.polygon).flat)]
        return all(number == round(number) for number in numbers)

    @property
    def strip_width(self) -> float:
        """The width to lay in: that of the file, widened by 0.01 % where all numbers are whole."""
        return self.width * (WIDENED if self.integer else 1.0)

    @property
    def gaps(self) -> tuple[float, ...]:
        """The gaps the file holds lengths for; just no gap if it holds none."""
        return tuple(sorted({gap for gap, _, _ in self.needed})) or (0.0,)

    def density(self, length: float) -> float:
        """Area of all parts over the file's width times the length used."""
        return self.area / (self.width * length)


def read_instances(folder: Path, only: Sequence[str] = ()) -> list[Instance]:
    """Return the instances of a folder by name, or those named. Raises SystemExit for a name that is not there."""
    paths = {path.stem: path for path in sorted(folder.glob("*.json"))}
    missing = [name for name in only if name not in paths]
    if missing:
        raise SystemExit(f"no instance {', '.join(missing)} in {folder}; there are {', '.join(paths)}")
    return [read_instance(paths[name]) for name in (only or paths)]


def read_instance(path: Path) -> Instance:
    """Return the instance of a file."""
    data = json.loads(path.read_text(encoding="utf-8"))
    items = tuple(_item(number, entry) for number, entry in enumerate(data["parts"]))
    area = sum(item.polygon.area * item.count for item in items)
    width = float(data["strip_width"])
    inches = "inch" in str(data.get("source", "")) or data.get("unit") in ("in", "inch")
    best, mean = _published(data)
    return Instance(
        name=str(data.get("name", path.stem)),
        width=width,
        items=items,
        best=best,
        mean=mean,
        optimum=_optimum(data, perfect=area / width),
        needed=_needed(data),
        unit_mm=_FROM_INCH if inches else None,
    )


def _item(number: int, entry: Mapping[str, Any]) -> StripItem:
    polygon = Polygon(entry["outline"], entry.get("holes") or ())
    if not polygon.is_valid:  # an outline that touches itself: the largest piece is what is cut
        pieces = shapely.get_parts(shapely.make_valid(polygon))
        polygon = max((piece for piece in pieces if isinstance(piece, Polygon)), key=lambda piece: piece.area)
    return StripItem(
        name=str(entry.get("id", number)),
        polygon=shapely.geometry.polygon.orient(polygon),
        count=int(entry.get("count", 1)),
        rotations=tuple(float(turn) for turn in entry.get("rotations") or (0.0,)),
    )


def _numbers(value: object, name: str = "") -> list[tuple[str, float]]:
    """Every number within a value, with the key it stands under."""
    if isinstance(value, bool):
        return []
    if isinstance(value, (int, float)):
        return [(name, float(value))]
    if isinstance(value, Mapping):
        return [found for key, inner in value.items() for found in _numbers(inner, str(key))]
    return []


def _published(data: Mapping[str, Any]) -> tuple[float | None, float | None]:
    found = [
        (name.lower(), number / 100 if number > 1 else number)  # percent or share
        for key, value in data.items()
        if "density" in key
        for name, number in _numbers(value, key)
    ]
    best = [number for name, number in found if "mean" not in name]
    means = [number for name, number in found if "mean" in name]
    return max(best or means, default=None), max(means, default=None)


def _optimum(data: Mapping[str, Any], *, perfect: float) -> float | None:
    """The known shortest length; a perfect packing's is `perfect`, the length of a strip without waste."""
    for key, value in data.items():
        if "optim" not in key:
            continue
        if isinstance(value, str):
            if "perfect" in value:
                return perfect
            continue
        numbers = [number for name, number in _numbers(value, key) if "length" in name or name == key]
        if numbers:
            return min(numbers)
    return None


def _needed(data: Mapping[str, Any]) -> tuple[tuple[float, float, float], ...]:
    rows = []
    for key, value in data.items():
        if not key.startswith("length") or not isinstance(value, Mapping):
            continue
        for name, number in _numbers(value):
            words = re.search(r"gap\s*([\d.]+).*?([\d.]+)\s*s\b", name)
            if words:
                rows.append((float(words[1]), float(words[2]), number))
    return tuple(sorted(rows))
