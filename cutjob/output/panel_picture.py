"""A filled panel as an SVG picture in its pieces' tones, numbered in order of assembly. Measures in mm."""

from __future__ import annotations

from xml.etree.ElementTree import Element, SubElement, tostring

from cutjob.layout.panel.field import Filling
from cutjob.output.svg_shapes import coordinate, printable

_DARK, _LIGHT = (84, 54, 34), (236, 210, 168)
_EDGE = "#2b1c12"
_LINES = 2.6  # grain lines in a piece per typical text height
_LEAST_TEXT, _MOST_TEXT = 3.0, 14.0  # mm


def tone_colour(tone: int) -> str:
    """Return the colour of a tone, 0 dark to 9 light."""
    return "#" + "".join(f"{round(a + (b - a) * tone / 9):02x}" for a, b in zip(_DARK, _LIGHT, strict=True))


def panel_picture(filling: Filling, *, unit: float, frame: float, title: str, numbers: bool = True) -> bytes:
    """Return the picture; `unit` is a unit of the filling in mm, `frame` the width of the strips round it."""
    field = filling.field
    width, height = field.width * unit, field.height * unit
    size = f"{coordinate(-frame)} {coordinate(-frame)} {coordinate(width + 2 * frame)} {coordinate(height + 2 * frame)}"
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "viewBox": size, "font-family": "sans-serif"})
    root.attrib |= {"width": f"{coordinate(width + 2 * frame)}mm", "height": f"{coordinate(height + 2 * frame)}mm"}
    SubElement(root, "title").text = printable(title)
    _box(root, -frame, -frame, width + 2 * frame, height + 2 * frame, fill="#6b4a30")
    _box(root, 0, 0, width, height, fill="#33251a")
    for number, one in enumerate(filling.laid, start=1):
        x, y = one.x * unit, (field.height - one.y - one.height) * unit
        wide, high = one.width * unit, one.height * unit
        tone = None if one.kind is None else filling.pieces[one.kind].tone
        _box(root, x, y, wide, high, fill="#ffffff" if tone is None else tone_colour(tone))
        if tone is not None:
            _grain(root, x, y, wide, high, across=one.across, number=number)
        if numbers:
            text = max(_LEAST_TEXT, min(_MOST_TEXT, min(wide, high) * 0.45))
            colour = "#ffffff" if tone is not None and tone < 5 else "#000000"
            words = SubElement(
                root, "text", {"x": coordinate(x + wide / 2), "y": coordinate(y + high / 2 + text * 0.36)}
            )
            words.attrib |= {"font-size": coordinate(text), "text-anchor": "middle", "fill": colour}
            words.text = str(number) if tone is not None else f"{number}?"
    for opening in field.openings:
        x, y = opening.x * unit, (field.height - opening.y - opening.height) * unit
        wide, high = opening.width * unit, opening.height * unit
        _box(root, x, y, wide, high, fill="#f7f3ea", corner=wide / 2 if opening.round else 0.0)
    data: bytes = tostring(root, encoding="utf-8", xml_declaration=True)
    return data


def _box(root: Element, x: float, y: float, width: float, height: float, *, fill: str, corner: float = 0.0) -> None:
    made = SubElement(root, "rect", {"x": coordinate(x), "y": coordinate(y), "width": coordinate(width)})
    made.attrib |= {"height": coordinate(height), "fill": fill, "stroke": _EDGE, "stroke-width": "0.8"}
    if corner:
        made.attrib |= {"rx": coordinate(corner)}


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
