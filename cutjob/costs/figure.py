"""Figures that know where they come from: each is entered, or made from others by a formula that is kept with it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal, TypeAlias

Kind: TypeAlias = Literal["money", "hours", "minutes", "percent", "number", "m", "m2"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure: its name, value and kind. `how` is the formula in words, `of` the figures in it; an entered figure has
    a `source` instead: the line of a file, or what it was measured from.
    """

    name: str
    value: Decimal
    kind: Kind = "money"
    how: str = ""
    of: tuple[Figure, ...] = ()
    source: str = ""


def entered(name: str, value: Decimal, kind: Kind, source: str) -> Figure:
    """Return a figure that somebody entered or that was measured."""
    return Figure(name=name, value=value, kind=kind, source=source)


def total(name: str, parts: Sequence[Figure], kind: Kind = "money") -> Figure:
    """Return the sum of figures; those of 0 are left out of the account."""
    return Figure(
        name=name,
        value=sum((part.value for part in parts), Decimal(0)),
        kind=kind,
        how="sum",
        of=tuple(part for part in parts if part.value),
    )


def made(name: str, value: Decimal, how: str, *of: Figure, kind: Kind = "money") -> Figure:
    """Return a figure worked out from others by a formula in words."""
    return Figure(name=name, value=value, kind=kind, how=how, of=of)


def chain(figure: Figure) -> Iterator[tuple[int, Figure, bool]]:
    """Yield a figure and all that it comes from, each with its depth; what was entered is at the ends. A figure that
    came before is yielded without what it comes from, and marked.
    """
    seen: set[int] = set()

    def below(one: Figure, depth: int) -> Iterator[tuple[int, Figure, bool]]:
        again = bool(one.of) and id(one) in seen
        seen.add(id(one))
        yield depth, one, again
        for part in () if again else one.of:
            yield from below(part, depth + 1)

    yield from below(figure, 0)
