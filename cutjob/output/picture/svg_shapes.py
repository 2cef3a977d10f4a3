"""Contours, moves and words to SVG elements. Coordinates in mm with Y up go in; SVG's, with y down, come out.

Colours and dashes are attributes of each element. There is no style sheet and no id, so several pictures can share a
page.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element, SubElement

from cutjob.geometry.contour import Contour
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.output.numbers import fixed
from cutjob.output.operations import (
    BLACK,
    BLUE,
    BLUISH_GREEN,
    COLOURS,
    ORANGE,
    REDDISH_PURPLE,
    SKY_BLUE,
    VERMILLION,
    YELLOW,
    Rgb,
    css_colour,
)
from cutjob.parts.part import LINE_OPERATIONS
from cutjob.program.moves import Move
from cutjob.tolerances import TOLERANCES

_DECIMALS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """The look of a class of lines. Widths and dashes are in hundredths of the text's height, so they suit any
    board.
    """

    stroke: Rgb | None
    width: float = 10.0
    dashes: tuple[float, ...] = ()
    fill: Rgb | None = None
    fill_opacity: float = 1.0
    opacity: float = 1.0


STYLES: dict[str, Style] = {
    "board": Style(stroke=BLACK, width=12, fill=(250, 244, 232)),
    "grain": Style(stroke=(190, 170, 140), width=4, opacity=0.7),
    "keep-out": Style(stroke=(70, 70, 70), width=7, fill=(225, 225, 225)),
    "keep-out-hatch": Style(stroke=(70, 70, 70), width=5),
    "standing": Style(stroke=BLACK, width=14, fill=(205, 205, 205)),
    "standing-hatch": Style(stroke=(40, 40, 40), width=6),
    "hanging": Style(stroke=ORANGE, width=9, dashes=(25, 15)),
    "hanging-hatch": Style(stroke=ORANGE, width=5, opacity=0.7),
    "leftover": Style(stroke=BLUISH_GREEN, width=10, dashes=(60, 25)),
    "leftover-hatch": Style(stroke=BLUISH_GREEN, width=4, opacity=0.6),
    "outside-cut": Style(stroke=BLUE, width=13, fill=(86, 180, 233), fill_opacity=0.25),
    "inside-cut": Style(stroke=VERMILLION, width=12, dashes=(45, 18), fill=(255, 255, 255), fill_opacity=0.85),
    "pocket": Style(stroke=SKY_BLUE, width=12, dashes=(30, 10), fill=SKY_BLUE, fill_opacity=0.45),
    "bore": Style(stroke=BLUISH_GREEN, width=12, dashes=(14, 10), fill=(255, 255, 255), fill_opacity=0.85),
    "drill": Style(stroke=ORANGE, width=12, fill=ORANGE, fill_opacity=0.6),
    "groove": Style(stroke=REDDISH_PURPLE, width=60, opacity=0.3),
    **{op: Style(stroke=COLOURS[op], width=11, dashes=(50, 12, 10, 12)) for op in LINE_OPERATIONS},
    "tab": Style(stroke=BLACK, width=42),
    "bridge": Style(stroke=BLACK, width=42),
    "clamp": Style(stroke=BLACK, width=14, fill=YELLOW),
    "clamp-hatch": Style(stroke=BLACK, width=6),
    "near-hold": Style(stroke=BLUE, width=10, fill=SKY_BLUE, fill_opacity=0.15),
    "second-hold": Style(stroke=BLUE, width=10, fill=SKY_BLUE, fill_opacity=0.5),
    "third-hold": Style(stroke=BLUE, width=10, fill=SKY_BLUE),
    "far-hold": Style(stroke=VERMILLION, width=14, fill=VERMILLION, fill_opacity=0.7),
    "lettering": Style(stroke=REDDISH_PURPLE, width=9),
    "leader": Style(stroke=BLACK, width=8, fill=BLACK),
    "screw": Style(stroke=BLACK, width=10, fill=(255, 255, 255)),
    "pin-hole": Style(stroke=BLACK, width=10, fill=(255, 255, 255)),
    "window": Style(stroke=BLACK, width=9, dashes=(40, 20)),
    "cutter-path": Style(stroke=(60, 60, 60), width=4),
    "air-move": Style(stroke=(130, 130, 130), width=4, dashes=(25, 25)),
    "found-rim": Style(stroke=(255, 255, 255), width=38),
    "found": Style(stroke=VERMILLION, width=22),
    "scale-bar": Style(stroke=BLACK, width=10),
}


def printable(text: str) -> str:
    """Return `text` without the characters XML can't hold."""
    return "".join(letter for letter in text if letter.isprintable() and not 0xD800 <= ord(letter) <= 0xDFFF)


def coordinate(value: float) -> str:
    """Return a length or coordinate as SVG text."""
    return fixed(value, _DECIMALS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A drawing to add to: x in mm becomes `left` + x in the SVG, y becomes `bottom` - y. `text` is the height
    of its words.
    """

    root: Element
    left: float
    bottom: float
    text: float

    def group(self, name: str, *, within: Element | None = None) -> Element:
        """Add a group whose class is `name` and whose lines look as its style says."""
        made = SubElement(self.root if within is None else within, "g", {"class": name})
        if name in STYLES:
            made.attrib |= style_attributes(STYLES[name], self.text)
        return made

    def contours(self, group: Element, contours: Iterable[Contour]) -> None:
        """Add one path of closed contours; the fill leaves contours inside others free."""
        data = " ".join(f"{self._chain(contour.segments)} Z" for contour in contours)
        if data:
            SubElement(group, "path", {"d": data, "fill-rule": "evenodd"})

    def chain(self, group: Element, segments: Sequence[Segment]) -> None:
        """Add an open path."""
        SubElement(group, "path", {"d": self._chain(segments), "fill": "none"})

    def lines(self, group: Element, runs: Iterable[Sequence[Point]]) -> None:
        """Add one path of open runs of straight lines."""
        data = " ".join("M" + " L".join(self._point(point) for point in run) for run in runs if len(run) > 1)
        if data:
            SubElement(group, "path", {"d": data, "fill": "none"})

    def circle(self, group: Element, at: Point, radius: float) -> None:
        """Add a circle."""
        x, y = self._point(at).split()
        SubElement(group, "circle", {"cx": x, "cy": y, "r": coordinate(radius)})

    def moves(self, group: Element, start: Point, moves: Sequence[Move]) -> None:
        """Add the path of consecutive moves seen from above; a line that several passes run along is drawn once."""
        data: list[str] = []
        drawn: set[tuple[Point, Point, Point | None]] = set()
        last, pen = start, None
        for move in moves:
            end = (move.x, move.y)
            key = (last, end, move.centre)
            if key not in drawn and distance(last, end) > TOLERANCES.same_point:
                drawn.add(key)
                if pen != last:
                    data.append(f"M{self._point(last)}")
                segment = Line(last, end) if move.centre is None else Arc(last, end, move.centre, move.clockwise)
                data.append(self._segment(segment))
                pen = end
            last = end
        if data:
            SubElement(group, "path", {"d": " ".join(data), "fill": "none"})

    def words(
        self, text: str, at: Point, *, size: float, anchor: str = "start", bold: bool = False, colour: Rgb = BLACK
    ) -> None:
        """Add words at `at`, on the drawing itself, with a light rim that sets them off from lines below."""
        x, y = self._point(at).split()
        made = SubElement(
            self.root,
            "text",
            {"x": x, "y": y, "font-size": coordinate(size), "text-anchor": anchor, "fill": css_colour(colour)},
        )
        if bold:
            made.attrib |= {"font-weight": "bold"}
        if anchor == "middle" or bold:
            rim = {"stroke": "#ffffff", "stroke-width": coordinate(size / 5), "paint-order": "stroke"}
            made.attrib |= rim | {"stroke-linejoin": "round"}
        made.text = printable(text)

    def _point(self, point: Point) -> str:
        return f"{coordinate(point[0] + self.left)} {coordinate(self.bottom - point[1])}"

    def _chain(self, segments: Sequence[Segment]) -> str:
        return " ".join([f"M{self._point(segments[0].start)}", *(self._segment(segment) for segment in segments)])

    def _segment(self, segment: Segment) -> str:
        if isinstance(segment, Line):
            return f"L{self._point(segment.end)}"
        # SVG finds the centre from the ends and the radius; near a half turn rounding moves it far off, so arcs are at
        # most a third of a turn. Y is turned over: counter-clockwise becomes SVG's negative direction.
        count = max(1, math.ceil(abs(segment.sweep) / (2 * math.pi / 3)))
        radius, positive = coordinate(segment.radius), int(segment.clockwise)
        ends = [segment.point_at(number / count) for number in range(1, count)] + [segment.end]
        return " ".join(f"A{radius} {radius} 0 0 {positive} {self._point(end)}" for end in ends)


def style_attributes(style: Style, text: float) -> dict[str, str]:
    """Return the SVG attributes of a style for words `text` mm high."""
    made = {"fill": css_colour(style.fill) if style.fill else "none"}
    if style.fill and style.fill_opacity < 1:
        made["fill-opacity"] = coordinate(style.fill_opacity)
    if style.stroke:
        made |= {"stroke": css_colour(style.stroke), "stroke-width": coordinate(style.width * text / 100)}
    if style.dashes:
        made["stroke-dasharray"] = " ".join(coordinate(dash * text / 100) for dash in style.dashes)
    if style.opacity < 1:
        made["opacity"] = coordinate(style.opacity)
    return made
