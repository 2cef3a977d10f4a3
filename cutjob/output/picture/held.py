"""Draws what holds a board: clamps, screws, pins, bridges left in its slots, and the waste on them. mm."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree.ElementTree import SubElement

import shapely
from shapely import Polygon

from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Point, distance
from cutjob.layout.holding import Bridge, Hold
from cutjob.layout.layout import BoardLayout
from cutjob.output.picture.key import draw_pin_hole, draw_screw, hatch
from cutjob.output.picture.svg_shapes import Sheet, coordinate

_DEVIATION = 0.05  # chord error, mm: the picture is only looked at
_LEAST_BAR = 0.4  # least length and width of a drawn bridge, in heights of the text


def draw_hanging(sheet: Sheet, layout: BoardLayout) -> set[str]:
    """Outline and hatch the waste that only bridges hold, below the parts; return the classes used."""
    holding = layout.holding
    if holding is None or holding.by in ("tape", "vacuum"):
        return set()
    pressed = [to_polygon(hold.area, deviation=_DEVIATION) for hold in holding.holds]
    parts = shapely.union_all([Polygon(placement.polygon.exterior) for placement in layout.placements])
    shown: set[str] = set()
    for chunk in holding.chunks:
        area = to_polygon(chunk, deviation=_DEVIATION)
        if any(shapely.intersects(area, hold) for hold in pressed):
            continue
        lines = sheet.group("hanging-hatch")
        # Waste inside a part's opening is within the part's outline: it is drawn whole.
        inside = shapely.contains(parts, shapely.point_on_surface(area))
        for piece in polygons_of(area if inside else shapely.difference(area, parts)):
            sheet.lines(lines, hatch(piece, 0.6 * sheet.text))
        sheet.contours(sheet.group("hanging"), [chunk])
        shown.add("hanging")
    return shown


def draw_holding(sheet: Sheet, layout: BoardLayout) -> set[str]:
    """Add the bridges, the clamps, the screws and the holes for pins; return the classes used."""
    shown: set[str] = set()
    holding = layout.holding
    if holding is not None:
        shown |= _draw_bridges(sheet, holding.bridges)
        if holding.by == "clamps":
            shown |= _draw_clamps(sheet, holding.holds, windows=len(layout.windows) > 1)
    for down in layout.hold_downs:
        draw_screw(sheet, sheet.group("screw"), down.at, down.head)
        shown.add("screw")
    for window in layout.windows:
        for at in window.holes:
            draw_pin_hole(sheet, sheet.group("pin-hole"), at)
            shown.add("pin-hole")
    return shown


def _draw_clamps(sheet: Sheet, clamps: Sequence[Hold], *, windows: bool) -> set[str]:
    """Draw each clamp, with the number of its window if there are several."""
    for clamp in clamps:
        area = to_polygon(clamp.area, deviation=_DEVIATION)
        sheet.contours(sheet.group("clamp"), [clamp.area])
        sheet.lines(sheet.group("clamp-hatch"), hatch(area, 0.7 * sheet.text))
        if windows and clamp.window is not None:
            x0, y0, x1, y1 = area.bounds
            size = max(0.6 * sheet.text, min(sheet.text, 0.7 * (y1 - y0)))
            middle = ((x0 + x1) / 2, (y0 + y1) / 2 - 0.36 * size)
            sheet.words(str(clamp.window + 1), middle, size=size, anchor="middle", bold=True)
    return {"clamp"} if clamps else set()


def _draw_bridges(sheet: Sheet, bridges: Sequence[Bridge]) -> set[str]:
    """Draw a bar across the slot for each bridge, as wide as it is, but wide enough to be seen."""
    if not bridges:
        return set()
    least = _LEAST_BAR * sheet.text
    group = sheet.group("bridge")
    by_width: dict[float, list[list[Point]]] = {}
    for bridge in bridges:
        by_width.setdefault(max(bridge.width, least), []).append(_bar(bridge, least))
    for width, bars in by_width.items():
        own = SubElement(group, "g", {"stroke-width": coordinate(width)})
        sheet.lines(own, bars)
    return {"bridge"}


def _bar(bridge: Bridge, least: float) -> list[Point]:
    """The bridge's line, extended on both sides to a length that can be seen."""
    (x0, y0), (x1, y1) = bridge.ends
    long = distance(*bridge.ends)
    if long >= least or long == 0:
        return [(x0, y0), (x1, y1)]
    more = (least / long - 1) / 2
    dx, dy = (x1 - x0) * more, (y1 - y0) * more
    return [(x0 - dx, y0 - dy), (x1 + dx, y1 + dy)]


def hold_class(to_hold: int) -> str:
    """Return the class of a part with this many bridges between it and a hold."""
    return {2: "second-hold", 3: "third-hold"}.get(to_hold, "near-hold" if to_hold < 2 else "far-hold")
