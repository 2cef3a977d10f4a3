"""What is left of rods and strips and worth keeping, as `[[rod]]` and `[[strip]]` entries for the next job.

What is written is never longer than the wood: lengths are rounded down.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from cutjob.layout.sticks.lists import StickList
from cutjob.layout.sticks.missing import sticks_of
from cutjob.output.leftover_boards import REST
from cutjob.output.plan_sticks import numbered, section_data
from cutjob.units import MM_PER, Unit, down_to_tape

_LONGEST_NAME = 80


def stick_entries(
    lists: Sequence[StickList], *, title: str, units: Unit, least: float
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield the name of the table and its keys in `units` for every rest of a stick at least so long, mm."""
    for one, first in numbered(lists):
        for place, stick in enumerate(one.sticks):
            length = down_to_tape(stick.left, units)
            if length < least:
                continue
            end = f", {title[:30].strip()} no. {first + place}"
            kind = stick.stock
            if kind.startswith(REST):  # a rest of a rest is known by the whole stick
                kind = kind.removeprefix(REST).rpartition(", ")[0]
            entry: dict[str, Any] = {"name": f"{REST}{kind[: _LONGEST_NAME - len(REST) - len(end)].strip()}{end}"}
            sides = section_data(one.section) | {"length": length}
            entry |= {key: round(side / MM_PER[units], 6) for key, side in sides.items()}
            if stick.times > 1:
                entry["count"] = stick.times
            yield sticks_of(one.section), entry | {"price": 0}
