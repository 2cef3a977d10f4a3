"""The order in which an item is put together, in words: what goes where, how far up."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby

from cutjob.counting import counted
from cutjob.parts.part import Item, RodPart, Stand, StripPart
from cutjob.reports.words import several
from cutjob.units import RULE, Unit, format_length

_LISTED = 2  # up to this many like parts have a step each; more share one


@dataclass(frozen=True, slots=True, kw_only=True)
class AssemblyStep:
    """A step in words, the indices of its parts in the item's stands, and whether all of these turn on the rod."""

    words: str
    stands: tuple[int, ...]
    turns: bool = False


def assembly(item: Item, unit: Unit) -> Iterator[AssemblyStep]:
    """Yield a step for each part of a standing or hanging item, in the order of assembly, with how far up it is; more
    than two like parts share a step.
    """
    named = {stick.name: stick for stick in item.build.sticks}
    stands = [(number, stand) for number, stand in enumerate(item.build.stands) if stand.look != "cord"]
    if any(stand.look == "bead" for _, stand in stands):  # pieces are threaded on a rod from the bottom up
        stands.sort(key=lambda one: one[1].foot)
    for threaded, alike in groupby(stands, key=lambda one: one[1].look == "bead"):
        if threaded:
            beads = tuple(number for number, _ in alike)
            words = "a bead" if len(beads) == 1 else counted(len(beads), "bead")
            yield AssemblyStep(words=words, stands=beads, turns=True)
        else:
            yield from _steps(alike, named, unit)


def _steps(
    stands: Iterable[tuple[int, Stand]], named: Mapping[str, RodPart | StripPart], unit: Unit
) -> Iterator[AssemblyStep]:
    for _, run in groupby(stands, key=lambda one: (_how(one[1], named), one[1].turns)):
        alike = list(run)
        first = alike[0][1]
        if len(alike) > _LISTED and _how(first, named):
            heights = [as_measured(_foot(stand), unit) for _, stand in alike]
            turns = ", free to turn" if first.turns else ""
            yield AssemblyStep(
                words=f"{several([stand.part for _, stand in alike])}: {_how(first, named)}, their lowest places "
                f"{', '.join(heights[:-1])} and {heights[-1]} up from the bottom{turns}",
                stands=tuple(number for number, _ in alike),
                turns=first.turns,
            )
        else:
            for number, stand in alike:
                yield AssemblyStep(words=_step(stand, named, unit), stands=(number,), turns=stand.turns)


def _how(stand: Stand, named: Mapping[str, RodPart | StripPart]) -> str:
    """How a part lies; nothing for a rod."""
    if stand.part in named:
        return ""
    return "flat" if stand.seen == "edge" else "on edge"


def _step(stand: Stand, named: Mapping[str, RodPart | StripPart], unit: Unit) -> str:
    rod = named.get(stand.part)
    turns = ", free to turn" if stand.turns else ""
    if rod is None:
        return f"{stand.part}: {_how(stand, named)}, {_height(stand, unit)}{turns}"
    across = " x ".join(format_length(side, unit=unit) for side in rod.section)
    long = format_length(rod.length, unit=unit)
    x0, _, x1, _ = stand.outline.outline.bounds
    lies = f", {_height(stand, unit)}" if x1 - x0 > rod.section[0] else ""
    return f"{rod.name}: {across} across, {long} long{lies}{turns}"


def _foot(stand: Stand) -> float:
    """The height of a part's lowest place."""
    return stand.foot if stand.seen == "edge" else stand.foot + stand.outline.outline.bounds[1]


def _height(stand: Stand, unit: Unit) -> str:
    near = as_measured(_foot(stand), unit)
    return "at the bottom" if near == as_measured(0.0, unit) else f"its lowest place {near} up from the bottom"


def as_measured(mm: float, unit: Unit) -> str:
    """A length as the finest rule shows it: to 0.1 mm, or 1/64 in."""
    return format_length(round(mm / RULE[unit]) * RULE[unit], unit=unit)
