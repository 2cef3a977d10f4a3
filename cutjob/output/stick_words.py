"""The lists of rods and strips in words, from plan.json's content, lengths in its own units."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from cutjob.layout.sticks.missing import section_words, sticks_of
from cutjob.parts.part import Section
from cutjob.units import Unit, down_to_tape, format_length

_MOST_LINES = 12  # of sticks of a section in the terminal; the job sheet has them all


def stick_lines(plan: dict[str, Any]) -> Iterator[str]:
    """Yield what to saw rods and strips into: a line for each section, and one for each kind of stick sawn.

    Where the stock has none of a section, a line for each of its pieces instead.
    """
    unit: Unit = "in" if plan.get("units") == "in" else "mm"
    for one in plan.get("sticks", ()):
        kind, size = f"{kind_of(one)}s", size_words(one, unit)
        if not one["sticks"]:
            for setting in one["stop_settings"]:
                length = format_length(setting["length"], unit=unit)
                yield f"{kind}: {setting['count']} of {size}, {length} long ({parts_words(setting)})"
            continue
        yield f"{kind}: {_count(one)} of {size} off {_bought(one)}{_cost(one)}{_outcome(one)}"
        lines = [stick_line(stick, unit) for stick in one["sticks"]]
        yield from (f"{kind}: no. {line}" for line in lines[:_MOST_LINES])
        if len(lines) > _MOST_LINES:
            more = len(lines) - _MOST_LINES
            ways = "1 more way" if more == 1 else f"{more} more ways"
            yield f"{kind}: {ways} of sawing in plan.json and on the job sheet"


def stick_line(stick: dict[str, Any], unit: Unit) -> str:
    """Return one line for sticks sawn alike: `1, 2 x dowel of 48 in: 12 in, 2 x 11 in; 1/2 in left`."""
    times = f"{stick['count']} x " if stick["count"] > 1 else ""
    length = format_length(stick["length"], unit=unit)
    pieces, left = pieces_words(stick, unit), left_words(stick, unit)
    return f"{stick['number']}, {times}{stick['stock']} of {length}: {pieces}; {left} left"


def pieces_words(stick: dict[str, Any], unit: Unit) -> str:
    """Return the lengths a stick gives: `12 in, 2 x 11 in`."""
    return ", ".join(
        (f"{piece['count']} x " if piece["count"] > 1 else "") + format_length(piece["length"], unit=unit)
        for piece in stick["pieces"]
    )


def left_words(stick: dict[str, Any], unit: Unit) -> str:
    """Return what is left of a stick, rounded down to a 16th of an inch or a whole mm."""
    left = down_to_tape(stick["left"], unit)
    return format_length(left, unit=unit) if left > 0 else "nothing"


def parts_words(setting: dict[str, Any]) -> str:
    """Return the parts that pieces of one length are for."""
    return "; ".join(f"{part['part']}, {part['item']}" for part in setting["parts"])


def kind_of(one: dict[str, Any]) -> str:
    """Return what sticks of a section are called."""
    return sticks_of(_section(one))


def size_words(one: dict[str, Any], unit: Unit) -> str:
    """Return the section: `3/4 in`, or `1 1/2 in x 3/4 in`."""
    return section_words(_section(one), unit)


def _section(one: dict[str, Any]) -> Section:
    return tuple(one[key] for key in ("diameter", "width", "thickness") if key in one)


def _count(one: dict[str, Any]) -> str:
    count = sum(setting["count"] for setting in one["stop_settings"] if setting["sticks"])
    return "1 piece" if count == 1 else f"{count} pieces"


def _bought(one: dict[str, Any]) -> str:
    counts: dict[str, int] = {}
    for stick in one["sticks"]:
        counts[stick["stock"]] = counts.get(stick["stock"], 0) + stick["count"]
    return " and ".join(f"{count} of {name}" for name, count in counts.items())


def _cost(one: dict[str, Any]) -> str:
    return f", {one['cost']:.2f} in all" if one["cost"] else ""


def _outcome(one: dict[str, Any]) -> str:
    if one["proven"]:
        return "; no other way of sawing takes less"
    share = math.ceil(one["may_save"] * 1000) / 10
    return f"; another way of sawing could save at most {share:g} %" if share else "; perhaps fewer sticks would do"
