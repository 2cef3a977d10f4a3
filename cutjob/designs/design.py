"""A design: parameters, sizes, and a function from checked values to the parts of one item.

The function raises `InputError` with everything that can't be built; `BuildContext` makes the problems and words
lengths in the job's unit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from cutjob.designs.parameter import Parameter, Value, Values
from cutjob.errors import Location, Problem
from cutjob.parts.part import Build, Wood, kind_of_part
from cutjob.units import RULE, Unit, format_bought, format_length, parse_length, round_mm

# Thinner wood beside a hole splits when it is drilled or soon after. Common practice in the trade, no source.
LEAST_WALL = 25.4 / 16

# Lengths in advice are rounded to a rule's steps, always to the side that works.
_SLACK = 1e-6


@dataclass(slots=True)
class Work:
    """Steps left for the formulas and curves of own designs in the whole job; in all two or three seconds."""

    left: int = 500_000


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildContext:
    """The context of a design: its line of the job, the job's unit, and the `thickness` of the job's wood, mm.

    `woods` has what some parts are cut from instead, by kind of part (the name without its number), `sawn_wood` what
    the other sawn parts are. `edge_margin` is kept free at the boards' edges and `gap`, at most, between two parts, mm;
    0 where not known. `boards` are all kinds of wood of the job.
    """

    name: str
    unit: Unit
    thickness: float
    edge_margin: float = 0.0
    gap: float = 0.0
    folder: Path = field(default_factory=Path)
    location: Location | None = None
    key_locations: Mapping[str, Location] = field(default_factory=dict)
    work: Work = field(default_factory=Work, compare=False)
    woods: Mapping[str, Wood] = field(default_factory=dict)
    sawn_wood: Wood | None = None
    boards: tuple[Wood, ...] = ()

    def wood_of(self, part: str, *, sawn: bool = False) -> Wood | None:
        """The wood that the job names for a part; None for that of the design or the job."""
        named = self.woods.get(kind_of_part(part))
        return self.sawn_wood if named is None and sawn else named

    def thickness_of(self, part: str, *, sawn: bool = False) -> float:
        """The thickness of the boards that a part without a wood of its own is cut from, mm."""
        wood = self.wood_of(part, sawn=sawn)
        return self.thickness if wood is None else wood.thickness

    def problem(self, key: str, message: str, advice: str = "") -> Problem:
        """Return the problem of a parameter, with its place and line."""
        return Problem(
            message=message,
            advice=advice,
            place=f'make "{self.name}": {key}' if key else f'make "{self.name}"',
            location=self.key_locations.get(key, self.location),
        )

    def length(self, mm: float) -> str:
        """Return a length worded in the job's unit."""
        return format_length(mm, unit=self.unit)

    def measured(self, mm: float) -> str:
        """Return a length to be set out by hand, rounded to a rule's steps."""
        step = RULE[self.unit]
        return self.length(round(mm / step) * step)

    def ruled_down(self, mm: float) -> float:
        """Return `mm` rounded down to a rule's steps, mm; never negative."""
        step = RULE[self.unit]
        return max(math.floor(mm / step + _SLACK), 0) * step

    def ruled_up(self, mm: float) -> float:
        """Return `mm` rounded up to a rule's steps, mm."""
        step = RULE[self.unit]
        return math.ceil(mm / step - _SLACK) * step

    def at_most(self, mm: float) -> str:
        """Return a length for advice, rounded down to a rule's steps; never negative."""
        return self.length(self.ruled_down(mm))

    def at_least(self, mm: float) -> str:
        """Return a length for advice, rounded up to a rule's steps."""
        return self.length(self.ruled_up(mm))


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """A design: `sizes` are named sets of raw parameter values (lengths in mm, or text with a unit).

    `unit` is the unit in which its sizes are round. With `takes_round_mm`, a job in mm gets the nearest round length in
    mm for each length written as text.

    Only one parameter of each group in `either` may be given; the user's replaces the size's. `needs_one` names the
    groups in which one parameter must be set by the size or the user.
    """

    name: str
    summary: str
    parameters: tuple[Parameter, ...]
    sizes: Mapping[str, Mapping[str, object]]
    build: Callable[[Values, BuildContext], Build]
    either: tuple[tuple[str, ...], ...] = ()
    needs_one: tuple[tuple[str, ...], ...] = ()
    unit: Unit = "mm"
    takes_round_mm: bool = False

    def parameter(self, name: str) -> Parameter | None:
        """The parameter of that name, or None."""
        return next((one for one in self.parameters if one.name == name), None)

    def size_values(self, size: str, *, unit: Unit) -> dict[str, Value]:
        """The values that a size sets in a job of that unit, with the defaults of all other parameters.

        Raises KeyError for an unknown size.
        """
        raw = self.sizes[size]
        values: dict[str, Value] = {}
        for parameter in self.parameters:
            given = raw.get(parameter.name, parameter.default)
            if given is not None:
                values[parameter.name] = parameter.read(self._in_unit(given, parameter, unit), unit="mm")
        return values

    def written(self, parameter: Parameter, size: str | None, *, unit: Unit) -> Any:
        """The value that a size sets, as it would be written in a job of that unit; None where it sets none.

        Without a size it is the default.
        """
        raw = self.sizes.get(size or "", {}).get(parameter.name, parameter.default)
        return _as_text(self._in_unit(raw, parameter, unit), unit) if parameter.is_length else raw

    def _in_unit(self, raw: object, parameter: Parameter, unit: Unit) -> Any:
        if isinstance(raw, (list, tuple)) and parameter.is_length:
            return [self._in_unit(one, parameter, unit) for one in raw]
        if self.takes_round_mm and unit == "mm" and isinstance(raw, str) and parameter.is_length:
            return round_mm(parse_length(raw, unit="in"))
        return raw


def _as_text(raw: Any, unit: Unit) -> Any:
    """Raw lengths as text; a bare number is in mm, and is written in mm where no fraction of an inch is equal to it."""
    if isinstance(raw, (list, tuple)):
        return [_as_text(one, unit) for one in raw]
    if isinstance(raw, bool) or not isinstance(raw, (int, float)):
        return raw
    return format_bought(raw, unit=unit)


def clear(need: float, have: float) -> bool:
    """True where `have` is at least `need`, apart from rounding in the last digits."""
    return have >= need - _SLACK
