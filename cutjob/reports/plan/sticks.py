"""The lists of rods and strips for plan.json, lengths in mm: which stick gives which pieces, and the stop settings."""

from __future__ import annotations

from collections.abc import Sequence

from cutjob.sticks.lists import SawnStick, StickList, StopSetting, measures_of, numbered


def sticks_data(lists: Sequence[StickList]) -> list[dict[str, object]]:
    """Return a mapping for each section, its sticks with their numbers."""
    return [
        measures_of(one.section)
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


def _stick(stick: SawnStick, number: int) -> dict[str, object]:
    return {
        "number": number,
        "stock": stick.stock,
        "length": stick.length,
        "count": stick.times,
        "pieces": [{"length": length, "count": count} for length, count in stick.pieces],
        "left": stick.left,
    }


def _setting(setting: StopSetting, first: int) -> dict[str, object]:
    return {
        "length": setting.length,
        "count": setting.count,
        "parts": [
            {"item": part.item, "part": part.part, "count": part.count, "note": part.note} for part in setting.parts
        ],
        "sticks": [{"number": first + index, "count": count} for index, count in setting.sticks],
    }
