"""How many of which part a job wants, and for which unit of its item each copy is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutjob.errors import Location
from cutjob.parts.part import Item, ShapedPart


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """`count` equal parts for an item, `per_unit` of them for each unit; units count on from `first_unit`."""

    item: str
    part: ShapedPart
    per_unit: int
    count: int
    first_unit: int = 1
    location: Location | None = None

    def unit_of(self, copy: int) -> int:
        """The unit that a copy, counted from 0, is made for."""
        return self.first_unit + copy // self.per_unit


def demands(items: Sequence[Item]) -> tuple[Demand, ...]:
    """Return every part wanted; equal parts of an item are one demand, and items of one name share their units."""
    result: list[Demand] = []
    units: dict[str, int] = {}
    for item in items:
        parts: dict[ShapedPart, int] = {}
        for part in item.build.shaped:
            parts[part] = parts.get(part, 0) + 1
        first = units.get(item.name, 0) + 1
        units[item.name] = first - 1 + item.count
        result += [
            Demand(
                item=item.name,
                part=part,
                per_unit=number,
                count=number * item.count,
                first_unit=first,
                location=item.location,
            )
            for part, number in parts.items()
            if item.count > 0
        ]
    return tuple(result)
