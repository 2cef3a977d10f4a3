"""Text with sums in it, such as `"drill {bore} through"`: read once, put into words for each item."""

from __future__ import annotations

import re
from dataclasses import dataclass

from cutjob.designs.own.quantity import Quantity, SumError
from cutjob.designs.own.scope import Scope
from cutjob.designs.own.spelling import Sum, read_sum
from cutjob.job.fields import ON_ONE_LINE
from cutjob.units import Unit

_LONGEST = 200
_PIECE = re.compile(r"\{([^{}]*)\}")


@dataclass(frozen=True, slots=True)
class Wording:
    """Plain pieces and sums in turn."""

    pieces: tuple[str | Sum, ...]

    @property
    def sums(self) -> tuple[Sum, ...]:
        """The sums in it."""
        return tuple(piece for piece in self.pieces if isinstance(piece, Sum))

    def words(self, scope: Scope, *, unit: Unit, longest: int = _LONGEST) -> str:
        """Return the text, lengths worded in `unit`. Raises SumError."""
        text = "".join(piece if isinstance(piece, str) else _shown(scope.value(piece), unit) for piece in self.pieces)
        return text.strip()[:longest]


def read_wording(raw: object) -> Wording:
    """Return the wording a file has. Raises SumError for text that can't stand in lists and programs."""
    if not isinstance(raw, str) or not raw.strip():
        raise SumError("this is not text; write it in quotes")
    if len(raw) > _LONGEST:
        raise SumError(f"the text is too long; write at most {_LONGEST} letters")
    if not re.search(ON_ONE_LINE, raw):
        raise SumError("the text has a character that can't be seen; write it anew, on one line")
    pieces: list[str | Sum] = []
    for place, piece in enumerate(_PIECE.split(raw.strip())):
        if place % 2:
            pieces.append(read_sum(piece))
        elif "{" in piece or "}" in piece:
            raise SumError("a { or } stands alone; write sums in text like {width}")
        elif piece:
            pieces.append(piece)
    return Wording(tuple(pieces))


def _shown(value: object, unit: Unit) -> str:
    if isinstance(value, Quantity):
        return value.words(unit)
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)
