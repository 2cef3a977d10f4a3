"""The lists of a filled panel: frame, backing, rips and crosscuts in order, assembly, and what must still be found.

What a panel still lacks, as someone looks for it: so many more like a kind of the inventory, or round sizes.

A filled panel as an SVG picture in its pieces' tones, numbered in order of assembly. Measures in mm.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any
from xml.etree.ElementTree import Element, SubElement, tostring

from cutjob.output.picture.svg_shapes import coordinate, printable
from cutjob.panels.field import Field, Filling, Laid, Piece, cut_out
from cutjob.panels.offcuts import Offcut, cut_from, left_over
from cutjob.units import Unit, format_length

# What sizes to look for are rounded up to, in whole units of the filling: 1/4 in (of 1/64 in), 5 mm (of 0.1 mm).
_ON_A_SCREEN = 900  # pixels of a panel's longer side
_ROUND: dict[Unit, int] = {"in": 16, "mm": 50}


def still_to_find(filling: Filling, *, unit: float, units: Unit) -> tuple[str, ...]:
    """Return the pieces to find, in words, the largest first: what comes out of a piece like one of the inventory is
    named as one more of those, the smallest that will do; anything else by its size rounded up, length before width.

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

    rows = [
        (piece.length * piece.width, f"{like[kind]} more like {piece.name}, {size(piece.length, piece.width)}")
        for kind, piece in enumerate(filling.pieces)
        if like[kind]
    ]
    rows += [(length * width, f"{n} of {size(length, width)} or larger") for (length, width), n in sizes.items()]
    return tuple(words for _, words in sorted(rows, key=lambda row: (-row[0], row[1])))


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


_DARK, _LIGHT = (84, 54, 34), (236, 210, 168)
_Rectangle = tuple[float, float, float, float]
_EDGE = "#2b1c12"
_LINES = 2.6  # grain lines in a piece per typical text height
_LEAST_TEXT, _MOST_TEXT = 3.0, 14.0  # mm


def tone_colour(tone: int) -> str:
    """Return the colour of a tone, 0 dark to 9 light."""
    return "#" + "".join(f"{round(a + (b - a) * tone / 9):02x}" for a, b in zip(_DARK, _LIGHT, strict=True))


def panel_picture(
    filling: Filling, *, unit: float, frame: float, joint: str, title: str, numbers: bool = True
) -> bytes:
    """Return the picture; `unit` is a unit of the filling in mm, `frame` the width of the strips round it and `joint`
    how they meet, butt or mitre.
    """
    field = filling.field
    width, height = field.width * unit, field.height * unit
    size = f"{coordinate(-frame)} {coordinate(-frame)} {coordinate(width + 2 * frame)} {coordinate(height + 2 * frame)}"
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "viewBox": size, "font-family": "sans-serif"})
    wide, high = width + 2 * frame, height + 2 * frame
    scale = _ON_A_SCREEN / max(wide, high)
    root.attrib |= {"width": coordinate(wide * scale), "height": coordinate(high * scale)}
    SubElement(root, "title").text = printable(title)
    _box(root, -frame, -frame, width + 2 * frame, height + 2 * frame, fill="#6b4a30")
    _box(root, 0, 0, width, height, fill="#33251a")
    _corners(root, width, height, frame, mitre=joint == "mitre")
    openings = [
        (o.x * unit, (field.height - o.y - o.height) * unit, o.width * unit, o.height * unit) for o in field.openings
    ]
    for number, one in enumerate(filling.laid, start=1):
        x, y = one.x * unit, (field.height - one.y - one.height) * unit
        wide, high = one.width * unit, one.height * unit
        tone = None if one.kind is None else filling.pieces[one.kind].tone
        _box(root, x, y, wide, high, fill="#ffffff" if tone is None else tone_colour(tone))
        if tone is not None:
            _grain(root, x, y, wide, high, across=one.across, number=number)
        if numbers:
            x, y, wide, high = _clear_of_openings((x, y, wide, high), openings)
            text = max(_LEAST_TEXT, min(_MOST_TEXT, min(wide, high) * 0.45))
            colour = "#ffffff" if tone is not None and tone < 5 else "#000000"
            words = SubElement(
                root, "text", {"x": coordinate(x + wide / 2), "y": coordinate(y + high / 2 + text * 0.36)}
            )
            words.attrib |= {"font-size": coordinate(text), "text-anchor": "middle", "fill": colour}
            words.text = str(number) if tone is not None else f"{number}?"
    for opening, (x, y, wide, high) in zip(field.openings, openings, strict=True):
        _box(root, x, y, wide, high, fill="#f7f3ea", corner=wide / 2 if opening.round else 0.0)
    data: bytes = tostring(root, encoding="utf-8", xml_declaration=True)
    return data


def _clear_of_openings(box: _Rectangle, openings: Sequence[_Rectangle]) -> _Rectangle:
    """The largest of what is left of a piece beside the openings over it: x, y, width, height."""
    for x, y, wide, high in openings:
        left, top = max(x, box[0]), max(y, box[1])
        right, foot = min(x + wide, box[0] + box[2]), min(y + high, box[1] + box[3])
        if left < right and top < foot:
            sides = [
                (box[0], box[1], left - box[0], box[3]),
                (right, box[1], box[0] + box[2] - right, box[3]),
                (box[0], box[1], box[2], top - box[1]),
                (box[0], foot, box[2], box[1] + box[3] - foot),
            ]
            box = max(sides, key=lambda side: min(side[2], 2 * side[3]) * side[3])
    return box


def _box(root: Element, x: float, y: float, width: float, height: float, *, fill: str, corner: float = 0.0) -> None:
    made = SubElement(root, "rect", {"x": coordinate(x), "y": coordinate(y), "width": coordinate(width)})
    made.attrib |= {"height": coordinate(height), "fill": fill, "stroke": _EDGE, "stroke-width": "0.8"}
    if corner:
        made.attrib |= {"rx": coordinate(corner)}


def _corners(root: Element, width: float, height: float, frame: float, *, mitre: bool) -> None:
    """Add the joints of the frame's strips: from corner to corner, or the rails' ends between the uprights."""
    runs = []
    for x, across in ((0.0, -frame), (width, frame)):
        for y, up in ((0.0, -frame), (height, frame)):
            turn = coordinate(across) if mitre else "0"
            runs.append(f"M{coordinate(x)} {coordinate(y)}l{turn} {coordinate(up)}")
    SubElement(root, "path", {"d": "".join(runs), "stroke": _EDGE, "stroke-width": "1.6"})


def _grain(root: Element, x: float, y: float, width: float, height: float, *, across: bool, number: int) -> None:
    """Add a few thin lines along the grain, not evenly spaced."""
    side = width if across else height
    count = max(1, int(side / (_LINES * _MOST_TEXT) * 3))
    runs = []
    for line in range(count):
        at = side * (line + 0.3 + 0.4 * ((number * 7 + line * 5) % 11) / 10) / count
        runs.append(
            f"M{coordinate(x + at)} {coordinate(y)}v{coordinate(height)}"
            if across
            else f"M{coordinate(x)} {coordinate(y + at)}h{coordinate(width)}"
        )
    SubElement(root, "path", {"d": "".join(runs), "stroke": _EDGE, "stroke-width": "0.5", "opacity": "0.3"})


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


def panel_lists(filling: Filling, *, unit: float, units: Unit, head: list[str]) -> bytes:
    """Return the lists as plain text; `unit` is a unit of the filling in mm, `head` the lines to begin with."""
    return ("\n".join([*head, "", *_CAUTION, *_lines(filling, unit, units)]) + "\n").encode()


def laid_data(filling: Filling, unit: float) -> list[dict[str, object]]:
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


def rest_data(filling: Filling, unit: float) -> dict[str, object]:
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


def _cut_outs(one: Laid, filling: Filling, unit: float) -> Iterator[dict[str, object]]:
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
