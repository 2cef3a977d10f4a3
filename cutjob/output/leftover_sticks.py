"""What is left of rods and strips and worth keeping, as `[[rod]]` and `[[strip]]` entries for the next job.

What is written is never longer than the wood: lengths are rounded down.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from cutjob.layout.sticks.lists import StickList
from cutjob.layout.sticks.missing import kind_of
from cutjob.output.plan_sticks import numbered, section_data
from cutjob.units import Unit

_LONGEST_NAME = 80
# Length is rounded down to what a rule shows: a whole mm, a 16th of an inch.
_STEP: dict[Unit, float] = {"mm": 1.0, "in": 25.4 / 16}
_MM: dict[Unit, float] = {"mm": 1.0, "in": 25.4}


def stick_entries(
    lists: Sequence[StickList], *, title: str, units: Unit, least: float
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield the name of the table and its keys in `units` for every rest of a stick at least so long, mm."""
    for one, first in numbered(lists):
        for place, stick in enumerate(one.sticks):
            length = math.floor(stick.left / _STEP[units] + 1e-6) * _STEP[units]
            if length < least:
                continue
            end = f", {title[:30].strip()} no. {first + place}"
            entry: dict[str, Any] = {"name": f"rest of {stick.stock[: _LONGEST_NAME - 8 - len(end)].strip()}{end}"}
            sides = section_data(one.section) | {"length": length}
            entry |= {key: round(side / _MM[units], 6) for key, side in sides.items()}
            if stick.times > 1:
                entry["count"] = stick.times
            yield kind_of(one.section), entry | {"price": 0}
