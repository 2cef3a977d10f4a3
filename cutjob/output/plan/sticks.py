"""The lists of rods and strips for plan.json, lengths in mm: which stick gives which pieces, and the stop settings.

The sticks are numbered through the whole job from 1, in the order of the lists.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from cutjob.parts.part import Section
from cutjob.sticks.lists import SawnStick, StickList, StopSetting


def sticks_data(lists: Sequence[StickList]) -> list[dict[str, Any]]:
    """Return a mapping for each section, its sticks with their numbers."""
    return [
        section_data(one.section)
        | {
            "sticks": [_stick(stick, first + place) for place, stick in enumerate(one.sticks)],
            "stop_settings": [_setting(setting, first) for setting in one.settings],
            "to_add": [{"stock": name, "count": count} for name, count in one.to_add.items()],
            "end_trim": one.end_trim,
            "cost": one.cost,
            "least_sticks": one.least_sticks,
            "may_save": one.may_save,
            "proven": one.proven,
        }
        for one, first in numbered(lists)
    ]


def numbered(lists: Sequence[StickList]) -> Iterator[tuple[StickList, int]]:
    """Yield every list with the number of its first stick."""
    first = 1
    for one in lists:
        yield one, first
        first += len(one.sticks)


def section_data(section: Section) -> dict[str, float]:
    """Return the measures of a section by name."""
    names = ("diameter",) if len(section) == 1 else ("width", "thickness")
    return dict(zip(names, section, strict=True))


def _stick(stick: SawnStick, number: int) -> dict[str, Any]:
    return {
        "number": number,
        "stock": stick.stock,
        "length": stick.length,
        "count": stick.times,
        "pieces": [{"length": length, "count": count} for length, count in stick.pieces],
        "left": stick.left,
    }


def _setting(setting: StopSetting, first: int) -> dict[str, Any]:
    return {
        "length": setting.length,
        "count": setting.count,
        "parts": [
            {"item": part.item, "part": part.part, "count": part.count, "note": part.note} for part in setting.parts
        ],
        "sticks": [{"number": first + index, "count": count} for index, count in setting.sticks],
    }
