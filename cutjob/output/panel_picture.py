"""A filled panel as an SVG picture in its pieces' tones, numbered in order of assembly. Measures in mm."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree.ElementTree import Element, SubElement, tostring

from cutjob.layout.panel.field import Filling
from cutjob.output.svg_shapes import coordinate, printable

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
    root.attrib |= {"width": f"{coordinate(width + 2 * frame)}mm", "height": f"{coordinate(height + 2 * frame)}mm"}
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
