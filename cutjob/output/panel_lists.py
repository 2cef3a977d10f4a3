"""The lists of a filled panel: frame, backing, rips and crosscuts in order, assembly, and what must still be found."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

from cutjob.layout.panel.field import Filling, Laid, Opening
from cutjob.units import Unit, format_length

# Usual cautions of the trade, no source.
_CAUTION = (
    "Caution: short and narrow pieces kick back and draw fingers in. Rip them with push blocks or held in a carrier,",
    "never freehand; crosscut them clamped to a sled with a stop that stands clear of the blade.",
    "Guards, glasses, hearing and dust protection; the saw's manual comes first: saw by hand what it calls too small.",
)


def frame_strips(length: float, width: float, strip: float, joint: str) -> tuple[tuple[str, float, int], ...]:
    """Return the frame's strips: words, length in mm (mitred: over the long points) and count.

    Butt joints: the uprights run the whole height, the rails between them.
    """
    if joint == "mitre":
        return ("mitred strip", length, 2), ("mitred strip", width, 2)
    return ("upright, full height", width, 2), ("rail, between the uprights", length - 2 * strip, 2)


def cut_out(one: Laid, opening: Opening) -> tuple[int, int, int, int] | None:
    """Return what an opening's box takes of a laid piece, from its lower left corner: x, y, width, height; or None."""
    left, low = max(one.x, opening.x), max(one.y, opening.y)
    right = min(one.x + one.width, opening.x + opening.width)
    high = min(one.y + one.height, opening.y + opening.height)
    return (left - one.x, low - one.y, right - left, high - low) if left < right and low < high else None


def panel_lists(filling: Filling, *, unit: float, units: Unit, head: list[str]) -> bytes:
    """Return the lists as plain text; `unit` is a unit of the filling in mm, `head` the lines to begin with."""
    return ("\n".join([*head, "", *_CAUTION, *_lines(filling, unit, units)]) + "\n").encode()


def laid_data(filling: Filling, unit: float) -> list[dict[str, Any]]:
    """Return the laid pieces as data, lengths in mm."""
    return [
        {
            "number": number,
            "piece": None if one.kind is None else filling.pieces[one.kind].name,
            "at_mm": [round(one.x * unit, 4), round(one.y * unit, 4)],
            "size_mm": [round(one.width * unit, 4), round(one.height * unit, 4)],
            "across": one.across,
        }
        for number, one in enumerate(filling.laid, start=1)
    ]


def _lines(filling: Filling, unit: float, units: Unit) -> Iterator[str]:
    def words(value: int) -> str:
        return format_length(value * unit, unit=units)

    own = [(number, one) for number, one in enumerate(filling.laid, start=1) if one.kind is not None]
    yield from ["", "Rips, the widest first (set the fence once for each width)"]
    yield from _cuts(
        [(one.across_grain, n, one) for n, one in own if one.across_grain < _of(filling, one)[1]], filling, words
    )
    yield from ["", "Crosscuts, the longest first (set the stop once for each length)"]
    yield from _cuts(
        [(one.along_grain, n, one) for n, one in own if one.along_grain < _of(filling, one)[0]], filling, words
    )
    yield from ["", "Assembly, from the lower left corner: each piece rests on those before it"]
    for number, one in enumerate(filling.laid, start=1):
        name = "STILL TO FIND" if one.kind is None else filling.pieces[one.kind].name
        grain = ", grain upward" if one.across and one.kind is not None else ""
        yield (
            f"  {number:>3}  {name}: {words(one.width)} wide, {words(one.height)} high{grain}; "
            f"{words(one.x)} from the left, {words(one.y)} from below"
        )
        for opening in filling.field.openings:
            cut = cut_out(one, opening)
            if cut == (0, 0, one.width, one.height) and not opening.round:
                yield "       left out: it lies in the opening"
            elif cut is not None:
                x, y, wide, high = (words(value) for value in cut)
                what = "for the round hole, mark on the panel; within" if opening.round else "notch"
                yield f"       {what} {wide} x {high}, {x} from its left, {y} from its lower edge"
    missing = Counter((one.width, one.height) for one in filling.to_find)
    if missing:
        yield from ["", "Still to find, at least"]
        yield from (f"  {count} of {words(wide)} x {words(high)}" for (wide, high), count in sorted(missing.items()))


def _of(filling: Filling, one: Laid) -> tuple[int, int]:
    assert one.kind is not None
    return filling.pieces[one.kind].length, filling.pieces[one.kind].width


def _cuts(rows: list[tuple[int, int, Laid]], filling: Filling, words: Any) -> Iterator[str]:
    for size in sorted({row[0] for row in rows}, reverse=True):
        pieces = [
            f"{filling.pieces[one.kind].name} for {n}" for at, n, one in rows if at == size and one.kind is not None
        ]
        yield f"  {words(size)}: {', '.join(pieces)}"
    if not rows:
        yield "  none"
