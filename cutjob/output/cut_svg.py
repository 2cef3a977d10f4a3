"""A board's drawing to an SVG file to cut from: real size in mm, a group per operation, true arcs, no fills.

The page is the board's box. One user unit is 1 mm, y runs down (SVG 2, 8.2 and 8.9); lines are as wide as the cutter
makes them.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from cutjob.geometry.segment import Arc, Point, Segment, distance
from cutjob.job.stock import Board
from cutjob.output.drawing import BoardDrawing, DrawnShape
from cutjob.output.numbers import fixed
from cutjob.output.picture.svg_shapes import printable
from cutjob.tolerances import TOLERANCES

_DECIMALS = 6  # a nanometre
_IN_IDS = re.compile(r"[^A-Za-z0-9_.-]+")  # what no id of an element should hold is spelled with a dash


def write_cut_svg(drawing: BoardDrawing, *, board: Board, width: float, title: str, says: str) -> bytes:
    """Return the file; always the same bytes. `width` is that of the cutter, mm; what the drawing `says` stands in its
    description.
    """
    x0, y0, x1, y1 = board.outline.bounds
    wide, high = _number(x1 - x0), _number(y1 - y0)
    attributes = {"xmlns": "http://www.w3.org/2000/svg", "version": "1.1", "width": f"{wide}mm", "height": f"{high}mm",
                  "viewBox": f"0 0 {wide} {high}", "fill": "none", "stroke-width": _number(width)}  # fmt: skip
    root = Element("svg", attributes)
    SubElement(root, "title").text = printable(title)
    SubElement(root, "desc").text = printable(says)
    for layer in drawing.layers:
        name = _IN_IDS.sub("-", layer.name).strip("-") or "layer"
        group = SubElement(root, "g", {"id": name, "stroke": layer.css})
        SubElement(group, "title").text = printable(layer.name)
        for shape in drawing.shapes:
            if shape.layer == layer.name:
                _draw(shape, group, x0, y1)
    indent(root)
    text: str = tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'.encode()


def _draw(shape: DrawnShape, group: Element, left: float, top: float) -> None:
    def place(point: Point) -> str:
        return f"{_number(point[0] - left)} {_number(top - point[1])}"

    if shape.circle is not None:
        (x, y), radius = shape.circle
        at = {"cx": _number(x - left), "cy": _number(top - y), "r": _number(radius)}
        SubElement(group, "circle", at)
        return
    steps = _halves(shape.segments)
    if shape.closed and not isinstance(steps[-1], Arc):
        steps = steps[:-1]  # Z draws it
    words = [f"M {place(shape.segments[0].start)}", *(_step(one, place(one.end)) for one in steps)]
    SubElement(group, "path", {"d": " ".join([*words, *(["Z"] if shape.closed else [])])})


def _step(segment: Segment, end: str) -> str:
    if not isinstance(segment, Arc):
        return f"L {end}"
    # SVG 2, 9.3.8: the sweep flag is 1 where angles grow from x towards y, which is clockwise as y runs down.
    radius = _number(segment.radius)
    return f"A {radius} {radius} 0 0 {int(segment.clockwise)} {end}"


def _halves(segments: Sequence[Segment]) -> Sequence[Segment]:
    """Arcs of a half turn and more as two: what ends where it began is drawn as nothing (SVG 2, 9.5.1)."""
    found: list[Segment] = []
    for segment in segments:
        if isinstance(segment, Arc) and abs(segment.sweep) > 3.0:
            middle = segment.point_at(0.5)
            found.append(Arc(segment.start, middle, segment.centre, clockwise=segment.clockwise))
            found.append(Arc(middle, segment.end, segment.centre, clockwise=segment.clockwise))
        elif distance(segment.start, segment.end) > TOLERANCES.same_point:
            found.append(segment)
    return found


def _number(mm: float) -> str:
    return fixed(mm, _DECIMALS)
