"""The entries of a design file to the pieces of one item: shaped, sawn, rods, bought, holes by hand."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from cutjob.designs.own.features import features, wanted
from cutjob.designs.own.model import (
    BoughtEntry,
    HandHoleEntry,
    PartEntry,
    RodEntry,
    SawnEntry,
    SeveralEntry,
    StripEntry,
)
from cutjob.designs.own.quantity import SumError
from cutjob.designs.own.scope import Scope
from cutjob.designs.own.shapes import ShapeError, asked, outline
from cutjob.designs.own.soundness import sound_part
from cutjob.designs.own.wording import Wording
from cutjob.geometry.contour import Contour, Region
from cutjob.job.fields import KeyPath
from cutjob.parts.part import BoughtPart, HandHole, Hole, Mark, Pocket, RodPart, SawnPart, ShapedPart, StripPart
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit

MOST_PIECES = 300  # of one entry
_LONGEST_NAME = 80

E = TypeVar("E", bound=SeveralEntry)
P = TypeVar("P")
Told = Callable[[KeyPath, SumError, str], None]


@dataclass(slots=True, kw_only=True)
class Making:
    """What pieces are made in: boards how thick (mm), the job's unit for words, and whom to tell of mistakes."""

    thickness: float
    unit: Unit
    tell: Told
    warnings: list[str] = field(default_factory=list)


def series(
    entries: Sequence[E], kind: str, scope: Scope, making: Making, make: Callable[[E, str, Scope], P]
) -> tuple[P, ...]:
    """Return the pieces of all entries of a kind. Of each entry the first mistake is told, with its step."""
    pieces: list[P] = []
    for index, entry in enumerate(entries):
        at = ""
        try:
            for name, inner, step in _steps(entry, scope, making):
                at = step
                pieces.append(make(entry, name, inner))
        except ShapeError as error:
            making.tell((kind, index, *error.keys), error.cause, at)
    return tuple(pieces)


def _steps(entry: SeveralEntry, scope: Scope, making: Making) -> Iterator[tuple[str, Scope, str]]:
    if entry.count is None:
        if wanted(scope, (), entry.when):
            yield name_of(entry.name, scope, making), scope, ""
        return
    try:
        n = scope.count(entry.count, most=MOST_PIECES)
    except SumError as error:
        raise ShapeError(("count",), error) from None
    for i in range(n):
        inner = scope.at_step(i, n)
        if wanted(inner, (), entry.when):
            numbered = "" if entry.name.sums else f" {i + 1}"
            yield f"{name_of(entry.name, inner, making)}{numbered}", inner, f" where i is {i} of {n}"


def name_of(wording: Wording, scope: Scope, making: Making) -> str:
    """Return a name put into words. Raises ShapeError."""
    return words_of(wording, scope, making, "name", longest=_LONGEST_NAME)


def words_of(wording: Wording | None, scope: Scope, making: Making, key: str, *, longest: int = 300) -> str:
    """Return a note put into words, nothing for none. Raises ShapeError."""
    try:
        return "" if wording is None else wording.words(scope, unit=making.unit, longest=longest)
    except SumError as error:
        raise ShapeError((key,), error) from None


def shaped(entry: PartEntry, name: str, scope: Scope, making: Making) -> ShapedPart:
    """Return a shaped part. Raises ShapeError for the first thing that can't be drawn or cut."""
    shape = outline(entry, scope)
    drawn = features(entry, scope, thickness=making.thickness)
    keys: KeyPath = next(
        ((key,) for key in ("rectangle", "circle", "slot", "polygon", "path") if getattr(entry, key)), ()
    )
    thin = sound_part(shape, keys, drawn, unit=making.unit)
    making.warnings += [f"{name}: {words}" for words in thin]
    fitted = shape.fitted or any(one.fitted for one in drawn)
    return ShapedPart(
        name=name,
        region=Region(shape.contour, tuple(one.thing for one in drawn if isinstance(one.thing, Contour))),
        holes=tuple(one.thing for one in drawn if isinstance(one.thing, Hole)),
        pockets=tuple(one.thing for one in drawn if isinstance(one.thing, Pocket)),
        marks=tuple(one.thing for one in drawn if isinstance(one.thing, Mark)),
        grain=entry.grain,
        may_mirror=entry.may_mirror,
        deviation=TOLERANCES.curve if fitted else 0.0,
    )


def sawn(entry: SawnEntry, name: str, scope: Scope, making: Making) -> SawnPart:
    """Return a sawn piece. Raises ShapeError."""
    length = asked(scope, ("length",), entry.length)
    return SawnPart(name=name, length=length, note=words_of(entry.note, scope, making, "note"))


def rod(entry: RodEntry, name: str, scope: Scope, making: Making) -> RodPart:
    """Return a piece of rod. Raises ShapeError."""
    diameter, length = asked(scope, ("diameter",), entry.diameter), asked(scope, ("length",), entry.length)
    return RodPart(name=name, diameter=diameter, length=length, note=words_of(entry.note, scope, making, "note"))


def strip(entry: StripEntry, name: str, scope: Scope, making: Making) -> StripPart:
    """Return a piece of strip. Raises ShapeError."""
    width, thickness = asked(scope, ("width",), entry.width), asked(scope, ("thickness",), entry.thickness)
    length, note = asked(scope, ("length",), entry.length), words_of(entry.note, scope, making, "note")
    return StripPart(name=name, width=width, thickness=thickness, length=length, note=note)


def hand_hole(entry: HandHoleEntry, name: str, scope: Scope, making: Making) -> HandHole:
    """Return a hole drilled by hand. Raises ShapeError."""
    depth = None if entry.depth is None else asked(scope, ("depth",), entry.depth)
    diameter = asked(scope, ("diameter",), entry.diameter)
    return HandHole(part=name, diameter=diameter, depth=depth, note=words_of(entry.note, scope, making, "note"))


def bought(entries: Sequence[BoughtEntry], scope: Scope, making: Making) -> tuple[BoughtPart, ...]:
    """Return what is to be bought; mistakes are told, and things of which none are needed left out."""
    found: list[BoughtPart] = []
    for index, entry in enumerate(entries):
        try:
            if not wanted(scope, (), entry.when):
                continue
            count = 1 if entry.count is None else scope.count(entry.count, most=100_000)
            if count:
                found.append(BoughtPart(name=name_of(entry.name, scope, making), count=count))
        except ShapeError as error:
            making.tell(("bought", index, *error.keys), error.cause, "")
        except SumError as error:
            making.tell(("bought", index, "count"), error, "")
    return tuple(found)


__all__ = ["MOST_PIECES", "Making", "bought", "hand_hole", "rod", "sawn", "series", "shaped", "strip"]
