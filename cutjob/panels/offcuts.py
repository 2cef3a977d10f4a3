"""What comes off trimmed pieces, and which laid pieces can come out of it instead of out of the inventory.

A piece is ripped first and then crosscut, as is safer and as the lists have it: the strip ripped off keeps the whole
length, the end cut off is as wide as the piece laid. Each cut takes a kerf. An offcut gives one piece at most.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from cutjob.panels.field import Field, Filling, Laid, Piece


@dataclass(frozen=True, slots=True, kw_only=True)
class Offcut:
    """What the piece at place `laid` leaves: `length` along the grain, in whole units; its `end`, or a strip."""

    laid: int
    length: int
    width: int
    end: bool


def offcuts_of(filling: Filling, kerf: int) -> tuple[Offcut, ...]:
    """Return all offcuts no narrower than what is laid."""
    return tuple(
        offcut
        for number, one in enumerate(filling.laid)
        if one.kind is not None and one.offcut_of is None
        for offcut in _left(filling.pieces[one.kind], one, kerf, number)
        if min(offcut.length, offcut.width) >= filling.field.least
    )


def _left(piece: Piece, one: Laid, kerf: int, number: int) -> tuple[Offcut, Offcut]:
    """The end and the strip, no more than sawdust where there is none."""
    length, width = piece.length - one.along_grain - kerf, piece.width - one.across_grain - kerf
    return (
        Offcut(laid=number, length=length, width=one.across_grain, end=True),
        Offcut(laid=number, length=piece.length, width=width, end=False),
    )


def _area(offcut: Offcut) -> int:
    return offcut.length * offcut.width


def reused(filling: Filling, kerf: int) -> Filling:
    """Return the filling with pieces that come out of offcuts: first those that nobody has, the largest first, then
    those of the same kind, which stay in the inventory.
    """
    laid = list(filling.laid)
    free = sorted(offcuts_of(filling, kerf), key=_area)
    giving: set[int] = set()
    wanted = sorted(
        range(len(laid)),
        key=lambda number: (laid[number].kind is not None, -laid[number].width * laid[number].height, number),
    )
    for number in wanted:
        if number in giving:
            continue  # what it leaves is used: it comes from a whole piece
        fits = (
            (offcut, turned)
            for offcut in free
            for turned in _turns(laid[number], filling)
            if offcut.laid != number
            and laid[number].kind in (None, laid[offcut.laid].kind)
            and turned.along_grain <= offcut.length
            and turned.across_grain <= offcut.width
            and (laid[number].kind is None or _sawable(filling.field, offcut, turned))
        )
        fit = next(fits, None)
        if fit is None:
            continue
        offcut, turned = fit
        laid[number] = replace(turned, kind=laid[offcut.laid].kind, offcut_of=offcut.laid, from_end=offcut.end)
        giving.add(offcut.laid)
        free = [other for other in free if other is not offcut and other.laid != number]
    return replace(filling, laid=tuple(laid))


def _sawable(field: Field, offcut: Offcut, one: Laid) -> bool:
    return field.sawable(offcut.length, one.along_grain) and field.sawable(offcut.width, one.across_grain)


def cut_from(filling: Filling, one: Laid, kerf: int) -> tuple[int, int]:
    """Return length and width of what a laid piece is cut from: its own, or the offcut it comes out of."""
    assert one.kind is not None
    piece = filling.pieces[one.kind]
    if one.offcut_of is None:
        return piece.length, piece.width
    offcuts = _left(piece, filling.laid[one.offcut_of], kerf, one.offcut_of)
    return next((offcut.length, offcut.width) for offcut in offcuts if offcut.end == one.from_end)


def left_over(filling: Filling, kerf: int) -> tuple[Offcut, ...]:
    """Return the offcuts no piece comes out of, the largest first: worth keeping."""
    used = {(one.offcut_of, one.from_end) for one in filling.laid}
    left = [offcut for offcut in offcuts_of(filling, kerf) if (offcut.laid, offcut.end) not in used]
    return tuple(sorted(left, key=lambda offcut: (-_area(offcut), offcut.laid)))


def _turns(one: Laid, filling: Filling) -> tuple[Laid, ...]:
    """How its grain may run: as it lies, or either way where nobody has it yet."""
    if one.kind is not None or not filling.field.turn:
        return (one,)
    return replace(one, across=False), replace(one, across=True)
