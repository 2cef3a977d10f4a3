"""The parts of a picture: outlines, openings, pockets, holes, marks and letters, tabs, cutter paths and numbers. mm."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree.ElementTree import Element, SubElement

import shapely
from shapely import LineString, Polygon

from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Point, Segment, distance
from cutjob.layout.layout import BoardLayout, Lettering, Placement
from cutjob.layout.sets import NO_SETS, Sets
from cutjob.output.operations import work_of
from cutjob.output.picture.key import draw_leader
from cutjob.output.picture.svg_shapes import STYLES, Sheet, coordinate, printable
from cutjob.output.words.sets import pieces_for
from cutjob.program.moves import Move, Program

_DEVIATION = 0.05  # chord error, mm: the picture is only looked at
_INTO = 0.5  # how far the line from a number goes into its part, in heights of the text


def draw_parts(sheet: Sheet, layout: BoardLayout, programs: Sequence[Program], *, sets: Sets = NO_SETS) -> set[str]:
    """Add every part with its cuts, a class for each operation, and which item it is for; return the classes used."""
    shown: set[str] = set()
    work = work_of(programs)
    for index, placement in enumerate(layout.placements):
        group = sheet.group("part")
        name = SubElement(group, "title")
        name.text = printable(f"{index + 1}: {placement.part.name}, {pieces_for(layout, [index], sets)}")
        sheet.contours(sheet.group("outside-cut", within=group), placement.region.contours)
        shown.add("outside-cut")
        if placement.region.holes:
            sheet.contours(sheet.group("inside-cut", within=group), placement.region.holes)
            shown.add("inside-cut")
        for pocket in placement.part.pockets:
            sheet.contours(sheet.group("pocket", within=group), placement.transform.region(pocket.region).contours)
            shown.add("pocket")
        # The wide end of a counterbored hole comes first, so that it is under the narrow one.
        for number, hole in enumerate(placement.part.round_holes):
            op = work.hole_operation(hole, index, number)
            sheet.circle(sheet.group(op, within=group), placement.transform.point(hole.at), hole.diameter / 2)
            shown.add(op)
        for number, mark in enumerate(placement.part.marks):
            moved = [placement.transform.segment(segment) for segment in mark.path]
            shown |= _draw_groove(sheet, moved, work.width("mark", index, number), within=group)
            sheet.chain(sheet.group(mark.operation, within=group), moved)
            shown.add(mark.operation)
    return shown


def draw_lettering(sheet: Sheet, layout: BoardLayout, programs: Sequence[Program]) -> set[str]:
    """Add the strokes of the letters, as wide as the programs cut them, and a line from letters beside their part to
    the part; return the classes used.
    """
    work = work_of(programs)
    shown: set[str] = set()
    for number, lettering in enumerate(layout.lettering):
        for path in lettering.paths:
            shown |= _draw_groove(sheet, path, work.width("number", lettering.placement, number))
        group = sheet.group("lettering")
        for path in lettering.paths:
            sheet.chain(group, path)
        shown.add("lettering")
        if lettering.paths:
            shown |= _draw_leader(sheet, _box(lettering), layout.placements[lettering.placement].polygon)
    return shown


def _draw_leader(sheet: Sheet, letters: shapely.Geometry, wood: Polygon) -> set[str]:
    """A line from letters beside a part to a dot on the part, unless the letters are on it; return the classes used."""
    if wood.intersects(letters):
        return set()
    start, end = ((float(at[0]), float(at[1])) for at in shapely.get_coordinates(shapely.shortest_line(letters, wood)))
    # On into the wood, so that the dot is clear of the edge's own line.
    long, on = distance(start, end), min(_INTO * sheet.text, 2 * shapely.maximum_inscribed_circle(wood).length)
    end = end[0] + (end[0] - start[0]) / long * on, end[1] + (end[1] - start[1]) / long * on
    draw_leader(sheet, sheet.group("leader"), start, end)
    return {"leader"}


def _draw_groove(sheet: Sheet, path: Sequence[Segment], width: float, *, within: Element | None = None) -> set[str]:
    """Add a faint band as wide as the cutter, if that is wider than the line itself; return the classes used."""
    if width <= sheet.text * STYLES["mark"].width / 100:
        return set()
    group = sheet.group("groove", within=within)
    group.attrib |= {
        "stroke-width": coordinate(width),
        "stroke-linecap": "round",
        "stroke-linejoin": "round",
    }
    sheet.chain(group, path)
    return {"groove"}


def draw_paths(sheet: Sheet, programs: Sequence[Program]) -> set[str]:
    """Add the paths of each program's cutters, seen from above; return the classes used."""
    shown: set[str] = set()
    for program in programs:
        for section in program.sections:
            moves = [move for step in section.steps for move in step.moves]
            for name, air in (("air-move", True), ("cutter-path", False)):
                runs = _runs_of_moves(moves, air=air)
                if not runs:
                    continue
                group = sheet.group(name)
                title = SubElement(group, "title")
                title.text = printable(f"{program.file}: cutter {section.cutter.number}, {section.cutter.name}")
                for start, run in runs:
                    sheet.moves(group, start, run)
                shown.add(name)
    return shown


def _runs_of_moves(moves: Sequence[Move], *, air: bool) -> list[tuple[Point, list[Move]]]:
    """Consecutive air moves, or consecutive cuts, each with the place it starts from."""
    runs: list[tuple[Point, list[Move]]] = []
    last: Move | None = None
    open_run = False
    for move in moves:
        wanted = (move.kind == "rapid") == air
        if wanted and last is not None:
            if not open_run:
                runs.append(((last.x, last.y), []))
            runs[-1][1].append(move)
        open_run = wanted and last is not None
        last = move
    return runs


def draw_tabs_and_numbers(sheet: Sheet, layout: BoardLayout, programs: Sequence[Program]) -> set[str]:
    """Add the parts' numbers and, where no bridges are known, the stretches of edges that tabs hold; return the classes
    used.
    """
    woods = [to_polygon(placement.region, deviation=_DEVIATION) for placement in layout.placements]
    bridges = layout.holding.bridges if layout.holding is not None else ()
    tabs = [] if bridges else [tab for program in programs for tab in program.tabs]
    if tabs:
        group = sheet.group("tab")
        for tab in tabs:
            wood, at = woods[tab.placement], shapely.Point(tab.at)
            edge = LineString(min([wood.exterior, *wood.interiors], key=at.distance).coords)
            sheet.lines(group, _within(edge, at.buffer(tab.width / 2)))
    _numbers(sheet, layout, woods)
    return {"tab"} if tabs else set()


def _within(edge: LineString, area: Polygon) -> list[list[Point]]:
    joined = shapely.line_merge(shapely.intersection(edge, area))
    return [
        [(float(x), float(y)) for x, y in part.coords]
        for part in shapely.get_parts(joined)
        if isinstance(part, LineString)
    ]


def _numbers(sheet: Sheet, layout: BoardLayout, woods: Sequence[Polygon]) -> None:
    for index, (placement, wood) in enumerate(zip(layout.placements, woods, strict=True)):
        letters = [_box(one) for one in layout.lettering if one.placement == index and one.paths]
        centre, room = _widest_place(placement, wood, letters)
        number = str(index + 1)
        size = max(0.6 * sheet.text, min(1.5 * sheet.text, room * 2 / (0.4 + 0.6 * len(number))))
        sheet.words(number, (centre[0], centre[1] - size * 0.36), size=size, anchor="middle", bold=True)


def _box(lettering: Lettering) -> shapely.Geometry:
    ends = [point for path in lettering.paths for segment in path for point in (segment.start, segment.end)]
    return shapely.envelope(shapely.multipoints(ends))


def _widest_place(placement: Placement, wood: Polygon, letters: Sequence[shapely.Geometry]) -> tuple[Point, float]:
    """Centre and radius of the largest circle of clear wood in a part, mm."""
    holes = [
        shapely.Point(placement.transform.point(hole.at)).buffer(hole.diameter / 2)
        for hole in placement.part.round_holes
    ]
    taken = [*holes, *letters]
    clear = polygons_of(wood.difference(shapely.union_all(taken))) if taken else [wood]
    spoke = shapely.maximum_inscribed_circle(max(clear, key=lambda piece: piece.area, default=wood), tolerance=0.5)
    (x, y), *_ = spoke.coords
    return (float(x), float(y)), float(spoke.length)
