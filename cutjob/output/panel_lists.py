"""The lists of a filled panel: frame, backing, rips and crosscuts in order, assembly, and what must still be found."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

from cutjob.layout.panel.field import Filling, Laid, Opening
from cutjob.layout.panel.offcuts import Offcut, cut_from, left_over
from cutjob.output.panel_missing import still_to_find
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
            "offcut_of": None if one.offcut_of is None else one.offcut_of + 1,
            "cut_out": list(_cut_outs(one, filling, unit)),
        }
        for number, one in enumerate(filling.laid, start=1)
    ]


def rest_data(filling: Filling, unit: float) -> dict[str, Any]:
    """Return as data what must still be found, at least, what is taken of each piece and which offcuts are worth
    keeping. Lengths in mm.
    """
    kept = Counter((_name(filling, one.laid), one.length, one.width) for one in _kept(filling))
    missing = Counter((one.width, one.height) for one in filling.to_find)
    taken = Counter(one.kind for one in filling.own)
    return {
        "to_find": [
            {"size_mm": [round(wide * unit, 4), round(high * unit, 4)], "count": count}
            for (wide, high), count in sorted(missing.items())
        ],
        "taken": [
            {"piece": piece.name, "count": taken[kind]} for kind, piece in enumerate(filling.pieces) if taken[kind]
        ],
        "left_over": [
            {"piece": name, "length_mm": round(long * unit, 4), "width_mm": round(wide * unit, 4), "count": count}
            for (name, long, wide), count in kept.items()
        ],
    }


def _cut_outs(one: Laid, filling: Filling, unit: float) -> Iterator[dict[str, Any]]:
    """What openings take of a laid piece, in the field's frame."""
    for opening in filling.field.openings:
        cut = cut_out(one, opening)
        if cut is None:
            continue
        if opening.round:
            middle = [opening.x + opening.width / 2, opening.y + opening.height / 2]
            yield {"at_mm": [round(v * unit, 4) for v in middle], "diameter_mm": round(opening.width * unit, 4)}
        else:
            at, size = (one.x + cut[0], one.y + cut[1]), cut[2:]
            yield {"at_mm": [round(v * unit, 4) for v in at], "size_mm": [round(v * unit, 4) for v in size]}


def _kept(filling: Filling) -> tuple[Offcut, ...]:
    return () if filling.field.kerf is None else left_over(filling, filling.field.kerf)


def _name(filling: Filling, number: int) -> str:
    kind = filling.laid[number].kind
    assert kind is not None
    return filling.pieces[kind].name


def _lines(filling: Filling, unit: float, units: Unit) -> Iterator[str]:
    def words(value: int) -> str:
        return format_length(value * unit, unit=units)

    numbered = list(enumerate(filling.laid, start=1))
    own = [(number, one) for number, one in numbered if one.kind is not None and one.offcut_of is None]
    again = [(number, one) for number, one in numbered if one.offcut_of is not None]
    yield from _settings(own, "", filling, words)
    if again:
        # What they are cut from is there only once the others are sawn.
        yield from _settings(again, " of what these leave", filling, words)
    yield from [
        "",
        "Assembly, from the lower left corner: each piece rests on those before it, or goes over an opening",
    ]
    for number, one in enumerate(filling.laid, start=1):
        name = "STILL TO FIND" if one.kind is None else _source(filling, one)
        grain = ", grain upward" if one.across and one.kind is not None else ""
        yield (
            f"  {number:>3}  {name}: {words(one.width)} wide, {words(one.height)} high{grain}; "
            f"{words(one.x)} from the left, {words(one.y)} from below"
        )
        for opening in filling.field.openings:
            cut = cut_out(one, opening)
            if cut is not None:
                x, y, wide, high = (words(value) for value in cut)
                what = "for the round hole, mark on the panel; within" if opening.round else "notch"
                yield f"       {what} {wide} x {high}, {x} from its left, {y} from its lower edge"
    missing = still_to_find(filling, unit=unit, units=units)
    if missing:
        yield from ["", "Still to find (length along the grain x width); what of each is laid is said above"]
        yield from (f"  {one}" for one in missing)
    kept = Counter((_name(filling, one.laid), one.length, one.width) for one in _kept(filling))
    if kept:
        yield from ["", "Left over, large enough for another panel (length along the grain x width)"]
        yield from (f"  {count} of {words(long)} x {words(wide)}: {name}" for (name, long, wide), count in kept.items())


def _settings(rows: list[tuple[int, Laid]], of_what: str, filling: Filling, words: Any) -> Iterator[str]:
    """The rips, then the crosscuts, each setting of the saw once."""
    yield from ["", f"Rips{of_what}, the widest first (set the fence once for each width)"]
    rips = [(one.across_grain, n, one) for n, one in rows if one.across_grain < _of(filling, one)[1]]
    yield from _cuts(rips, filling, words)
    yield from ["", f"Crosscuts{of_what}, the longest first (set the stop once for each length)"]
    crosscuts = [(one.along_grain, n, one) for n, one in rows if one.along_grain < _of(filling, one)[0]]
    yield from _cuts(crosscuts, filling, words)


def _of(filling: Filling, one: Laid) -> tuple[int, int]:
    assert one.kind is not None
    if one.offcut_of is not None:
        return cut_from(filling, one, filling.field.kerf or 0)
    return filling.pieces[one.kind].length, filling.pieces[one.kind].width


def _source(filling: Filling, one: Laid) -> str:
    """What a laid piece is cut from: a piece by its name, or what was cut off one laid elsewhere."""
    assert one.kind is not None
    name = filling.pieces[one.kind].name
    if one.offcut_of is None:
        return name
    what = "the end cut off" if one.from_end else "the strip ripped off"
    return f"{name}, {what} {one.offcut_of + 1}"


def _cuts(rows: list[tuple[int, int, Laid]], filling: Filling, words: Any) -> Iterator[str]:
    for size in sorted({row[0] for row in rows}, reverse=True):
        pieces = [f"{_source(filling, one)} for {n}" for at, n, one in rows if at == size and one.kind is not None]
        yield f"  {words(size)}: {', '.join(pieces)}"
    if not rows:
        yield "  none"
