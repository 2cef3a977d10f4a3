"""What a panel still lacks, as someone looks for it: so many more like a kind of the inventory, or round sizes."""

from __future__ import annotations

from collections import Counter

from cutjob.layout.panel.field import Field, Filling, Laid, Piece
from cutjob.units import Unit, format_length

# What sizes to look for are rounded up to, in whole units of the filling: 1/4 in (of 1/64 in), 5 mm (of 0.1 mm).
_ROUND: dict[Unit, int] = {"in": 16, "mm": 50}


def still_to_find(filling: Filling, *, unit: float, units: Unit) -> tuple[str, ...]:
    """Return the pieces to find, in words, the largest first: what comes out of a piece like one of the inventory is
    told as one more of those, the smallest that will do; anything else by its size rounded up, length before width.

    `unit` is a unit of the filling in mm.
    """
    like: Counter[int] = Counter()
    sizes: Counter[tuple[int, int]] = Counter()
    for one in filling.to_find:
        kinds = [kind for kind, piece in enumerate(filling.pieces) if _gives(piece, one, filling.field)]
        if kinds:
            like[min(kinds, key=lambda kind: _area(filling.pieces[kind]))] += 1
        else:
            sizes[_rounded(one, filling.field, _ROUND[units])] += 1

    def size(length: int, width: int) -> str:
        return " x ".join(format_length(side * unit, unit=units) for side in (length, width))

    told = [
        (piece.length * piece.width, f"{like[kind]} more like {piece.name}, {size(piece.length, piece.width)}")
        for kind, piece in enumerate(filling.pieces)
        if like[kind]
    ]
    told += [(length * width, f"{n} of {size(length, width)} or larger") for (length, width), n in sizes.items()]
    return tuple(words for _, words in sorted(told, key=lambda row: (-row[0], row[1])))


def _area(piece: Piece) -> int:
    return piece.length * piece.width


def _gives(piece: Piece, one: Laid, field: Field) -> bool:
    """Whether what is missing can be cut from such a piece by the panel's rules."""
    sides = [(one.width, one.height), *([(one.height, one.width)] if field.turn else [])]
    return any(
        all(
            0 <= whole - wanted <= field.trim and field.sawable(whole, wanted)
            for whole, wanted in zip((piece.length, piece.width), side, strict=True)
        )
        for side in sides
    )


def _rounded(one: Laid, field: Field, step: int) -> tuple[int, int]:
    sides = (-(-one.width // step) * step, -(-one.height // step) * step)
    return (max(sides), min(sides)) if field.turn else sides
