"""What is missing among the rods and strips of a job, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cutjob.layout.sticks.lists import StickList
from cutjob.parts.part import Section
from cutjob.units import Unit, format_length


def stick_warnings(lists: Sequence[StickList], *, unit: Unit) -> tuple[str, ...]:
    """Return what is missing: a section, length for a piece, or sticks. Longest piece first."""
    return tuple(warning for one in lists for warning in _warnings(one, unit))


def sticks_of(section: Section) -> str:
    """Return what sticks of a section are called: rod or strip."""
    return "rod" if len(section) == 1 else "strip"


def section_words(section: Section, unit: Unit) -> str:
    """Return a section as it is spoken of: 3/4 in, or 1 1/2 in x 3/4 in."""
    return " x ".join(format_length(side, unit=unit) for side in section)


def _warnings(one: StickList, unit: Unit) -> Iterator[str]:
    kind, size = sticks_of(one.section), section_words(one.section, unit)
    if not one.longest:
        count = sum(setting.count for setting in one.settings)
        total = format_length(sum(setting.length * setting.count for setting in one.settings), unit=unit)
        pieces, are = ("piece", "is") if count == 1 else ("pieces", "are")
        yield f"{kind}s: {count} {pieces} of {size} {kind}, {total} in all, {are} not in the job's stock"
        return
    for setting in one.too_long:
        piece, stick = format_length(setting.length, unit=unit), format_length(one.longest, unit=unit)
        yield f"{kind}s: a {size} piece of {piece} is longer than the longest stick, {stick}"
    for name, count in one.to_add.items():
        yield f"{kind}s: {count} more of {name} needed than there are"
