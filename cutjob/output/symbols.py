"""Hatches, and the signs for what holds a board, as straight runs and circles on a sheet. mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from xml.etree.ElementTree import Element

import shapely
from shapely import LineString, Polygon

from cutjob.geometry.segment import Point
from cutjob.output.svg_shapes import Sheet

# A sign is at least so large, in heights of the text: a screw's head on a long board would be a speck.
_LEAST_SIGN = 0.4


def runs_within(lines: Sequence[LineString], area: Polygon) -> list[list[Point]]:
    """Return the pieces of straight lines within an area."""
    pieces = [
        part
        for line in lines
        for part in shapely.get_parts(shapely.intersection(line, area))
        if isinstance(part, LineString)
    ]
    return [[(float(x), float(y)) for x, y in part.coords] for part in pieces if part.length > 0]


def hatch(area: Polygon, spacing: float, *, crossed: bool = False) -> list[list[Point]]:
    """Return lines that rise to the right over an area, `spacing` mm apart along x; crossed ones fall too."""
    x0, y0, x1, y1 = area.bounds
    rise = y1 - y0
    count = math.ceil((x1 - x0 + rise) / spacing)
    lines = [LineString([(x0 - rise + step * spacing, y0), (x0 + step * spacing, y1)]) for step in range(1, count + 1)]
    if crossed:
        lines += [
            LineString([(x0 - rise + step * spacing, y1), (x0 + step * spacing, y0)]) for step in range(1, count + 1)
        ]
    return runs_within(lines, area)


def draw_screw(sheet: Sheet, group: Element, at: Point, head: float) -> None:
    """Add a screw: a circle of the head's radius, no smaller than can be seen, and a cross in it."""
    x, y = at
    radius = max(head, _LEAST_SIGN * sheet.text)
    reach = radius * math.sqrt(0.5)
    sheet.circle(group, at, radius)
    corners = [[(x - reach, y - reach), (x + reach, y + reach)], [(x - reach, y + reach), (x + reach, y - reach)]]
    sheet.lines(group, corners)


def draw_pin_hole(sheet: Sheet, group: Element, at: Point) -> None:
    """Add the hole for a pin: a ring that can be seen round a dot, not to scale."""
    radius = _LEAST_SIGN * sheet.text
    sheet.circle(group, at, radius)
    sheet.lines(group, [[(at[0] - radius / 4, at[1]), (at[0] + radius / 4, at[1])]])
