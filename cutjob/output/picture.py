"""A board's layout to an SVG picture: wood, grain, keep-outs, numbered parts, holes, tabs, cutter paths and a key.

The view box is in mm. Every operation is a class of its own, told apart by colour (Okabe-Ito) and, in grey prints, by
its dashes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

import shapely
from shapely import LineString, Point, Polygon

from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Point as Place
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.layout.leftovers import Leftover
from cutjob.output.operations import hole_operation
from cutjob.output.picture_key import LETTER, draw_key, fitting, key_height
from cutjob.output.svg_shapes import Sheet, coordinate, printable
from cutjob.program.moves import Move, Program
from cutjob.units import Unit, format_length

# The board's longer side is this many letter heights, and a letter is this many pixels high on a screen.
_LETTERS_ALONG = 85
_LETTERS_LEAST = 46
_PIXELS_PER_LETTER = 14
# A tall board is not blown up to the width of a long one.
_TALL = 1.6
_GRAIN_LINES = 9
_DEVIATION = 0.05  # chords of what is only looked at, mm


def write_picture(
    layout: BoardLayout,
    *,
    program: Program | Sequence[Program] | None,
    units: Unit,
    title: str,
    leftovers: Sequence[Leftover] = (),
) -> bytes:
    """Return the SVG picture of a board, with what is left of it, and the tabs and cutter paths of its program, or
    programs, if given.
    """
    programs = (program,) if isinstance(program, Program) else tuple(program or ())
    board = layout.board
    text = max(board.length, board.width * _TALL) / _LETTERS_ALONG
    margin, head = 1.5 * text, 4.2 * text
    inner = max(board.length, _LETTERS_LEAST * text)
    width = inner + 2 * margin
    height = head + board.width + key_height(layout, width=inner, text=text) + margin
    root = _root(width, height, text)
    name = SubElement(root, "title")
    name.text = printable(f"{title}: {layout.id}")
    sheet = Sheet(root=root, left=margin, bottom=head + board.width, text=text)
    _heading(sheet, layout, units, title, width=inner)
    shown = (
        _board(sheet, layout)
        | _leftovers(sheet, leftovers, units)
        | _parts(sheet, layout, programs)
        | _paths(sheet, programs)
        | _holding(sheet, layout)
        | _windows(sheet, layout)
    )
    woods = [to_polygon(placement.region, deviation=_DEVIATION) for placement in layout.placements]
    shown |= _tabs(sheet, woods, programs)
    _numbers(sheet, layout, woods)
    classes = [name for name in _KEY_ORDER if name in shown]
    draw_key(sheet, layout, classes, width=inner, units=units)
    data: bytes = ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)
    return data + b"\n"


_KEY_ORDER = (
    "outside-cut",
    "inside-cut",
    "pocket",
    "bore",
    "drill",
    "mark",
    "tab",
    "screw",
    "pin",
    "keep-out",
    "window",
    "leftover",
    "grain",
    "cutter-path",
    "air-move",
)


def _root(width: float, height: float, text: float) -> Element:
    pixels = _PIXELS_PER_LETTER / text
    root = Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {coordinate(width)} {coordinate(height)}",
            "width": coordinate(width * pixels),
            "height": coordinate(height * pixels),
            "font-family": "sans-serif",
            "role": "img",
        },
    )
    paper = {"width": coordinate(width), "height": coordinate(height), "fill": "#ffffff"}
    SubElement(root, "rect", {"class": "paper"} | paper)
    return root


def _heading(sheet: Sheet, layout: BoardLayout, units: Unit, title: str, *, width: float) -> None:
    board, text = layout.board, sheet.text
    top = board.width + 2.4 * text
    sheet.words(f"{title}: {layout.id}", (0.0, top), size=1.3 * text, bold=True)
    size = " x ".join(format_length(value, unit=units) for value in (board.length, board.width, board.thickness))
    boards = layout.stack * layout.copies
    facts = f", {size}"
    if boards > 1:
        facts += f"; {boards} boards"
    if layout.stack > 1:
        facts += f", {layout.stack} at once"
    if board.sawn_off > 0:
        each = " of each" if boards > 1 else ""
        facts += f"; saw {format_length(board.sawn_off, unit=units)} off the {board.square_end} end{each} first"
    # Of a line too long for the paper the names give way.
    names = fitting(f"{board.name}, {board.material}", width=width - len(facts) * LETTER * text, text=text)
    sheet.words(names + facts, (0.0, board.width + 0.8 * text), size=text)


def _board(sheet: Sheet, layout: BoardLayout) -> set[str]:
    board = layout.board
    shown: set[str] = set()
    sheet.contours(sheet.group("board"), [board.outline])
    wood = to_polygon(board.outline, deviation=_DEVIATION)
    if board.grain == "length":
        lines = [
            LineString([(-1.0, y), (board.length + 1.0, y)])
            for y in (board.width * (step + 0.5) / _GRAIN_LINES for step in range(_GRAIN_LINES))
        ]
        sheet.lines(sheet.group("grain"), _runs(lines, wood))
        shown.add("grain")
    for area in board.keep_outs:
        sheet.contours(sheet.group("keep-out"), [area])
        sheet.lines(sheet.group("keep-out-hatch"), _hatch(to_polygon(area, deviation=_DEVIATION), sheet.text / 2))
        shown.add("keep-out")
    return shown


def _leftovers(sheet: Sheet, leftovers: Sequence[Leftover], units: Unit) -> set[str]:
    """Outline and hatch what is left, with its size."""
    for leftover in leftovers:
        move = Transform(x=leftover.at[0], y=leftover.at[1])
        outline = move.contour(leftover.board.outline)
        area = to_polygon(outline, deviation=_DEVIATION)
        sheet.lines(sheet.group("leftover-hatch"), _hatch(area, 1.5 * sheet.text))
        sheet.contours(sheet.group("leftover"), [outline])
        size = " x ".join(format_length(value, unit=units) for value in (leftover.board.length, leftover.board.width))
        words = fitting(f"left: {size}", width=leftover.board.length, text=sheet.text)
        (x, y), *_ = shapely.maximum_inscribed_circle(area, tolerance=0.5).coords
        sheet.words(words, (float(x), float(y)), size=sheet.text, anchor="middle")
    return {"leftover"} if leftovers else set()


def _hatch(area: Polygon, spacing: float) -> list[list[Place]]:
    x0, y0, x1, y1 = area.bounds
    rise = y1 - y0
    count = math.ceil((x1 - x0 + rise) / spacing)
    lines = [LineString([(x0 - rise + step * spacing, y0), (x0 + step * spacing, y1)]) for step in range(1, count + 1)]
    return _runs(lines, area)


def _runs(lines: Sequence[LineString], area: Polygon) -> list[list[Place]]:
    """The pieces of straight lines within an area."""
    pieces = [
        part
        for line in lines
        for part in shapely.get_parts(shapely.intersection(line, area))
        if isinstance(part, LineString)
    ]
    return [[(float(x), float(y)) for x, y in part.coords] for part in pieces if part.length > 0]


def _parts(sheet: Sheet, layout: BoardLayout, programs: Sequence[Program]) -> set[str]:
    shown: set[str] = set()
    diameters = {cutter.diameter for program in programs for cutter in program.cutters}
    for number, placement in enumerate(layout.placements, start=1):
        group = sheet.group("part")
        name = SubElement(group, "title")
        name.text = printable(f"{number}: {placement.part.name}, {placement.item} {placement.unit}")
        sheet.contours(sheet.group("outside-cut", within=group), placement.region.contours)
        shown.add("outside-cut")
        if placement.region.holes:
            sheet.contours(sheet.group("inside-cut", within=group), placement.region.holes)
            shown.add("inside-cut")
        for pocket in placement.part.pockets:
            sheet.contours(sheet.group("pocket", within=group), placement.transform.region(pocket.region).contours)
            shown.add("pocket")
        for hole in placement.part.round_holes:
            ops = {hole_operation(hole.diameter, cutter_diameter=diameter) for diameter in diameters}
            op = "drill" if "drill" in ops else "bore"
            sheet.circle(sheet.group(op, within=group), placement.transform.point(hole.at), hole.diameter / 2)
            shown.add(op)
        for mark in placement.part.marks:
            moved = [placement.transform.segment(segment) for segment in mark.path]
            sheet.chain(sheet.group("mark", within=group), moved)
            shown.add("mark")
    for lettering in layout.lettering:
        for path in lettering.paths:
            sheet.chain(sheet.group("mark"), path)
            shown.add("mark")
    return shown


def _holding(sheet: Sheet, layout: BoardLayout) -> set[str]:
    """Screws as circles with a cross, holes for pins as smaller ones."""
    shown: set[str] = set()
    for down in layout.hold_downs:
        (x, y), r = down.at, down.head
        group = sheet.group("screw")
        sheet.circle(group, down.at, r)
        sheet.lines(group, [[(x - r, y), (x + r, y)], [(x, y - r), (x, y + r)]])
        shown.add("screw")
    for window in layout.windows:
        for at in window.holes:
            sheet.circle(sheet.group("pin"), at, sheet.text / 2)
            shown.add("pin")
    return shown


def _windows(sheet: Sheet, layout: BoardLayout) -> set[str]:
    """What lies on the bed at one time: a bracket along the board's edge for each window, above and below in turns."""
    board, text = layout.board, sheet.text
    for number, window in enumerate(layout.windows, start=1):
        first, last = max(window.first, 0.0), min(window.last, board.length)
        y, out = (board.width, 0.35) if number % 2 else (0.0, -0.35)
        group = sheet.group("window")
        sheet.lines(group, [[(first, y), (first, y + out * text), (last, y + out * text), (last, y)]])
        sheet.words(f"window {number}", (first + 0.4 * text, y + (0.5 if out > 0 else -1.2) * text), size=0.8 * text)
    return {"window"} if layout.windows else set()


def _paths(sheet: Sheet, programs: Sequence[Program]) -> set[str]:
    """Draw what each program's cutter does, seen from above."""
    shown: set[str] = set()
    for program in programs:
        moves = [move for step in program.steps for move in step.moves]
        for air in (True, False):
            group = sheet.group("air-move" if air else "cutter-path")
            for start, run in _runs_of_moves(moves, air=air):
                sheet.moves(group, start, run)
                shown.add("air-move" if air else "cutter-path")
    return shown


def _runs_of_moves(moves: Sequence[Move], *, air: bool) -> list[tuple[Place, list[Move]]]:
    """Consecutive air moves, or consecutive cuts, each with the place it starts from."""
    runs: list[tuple[Place, list[Move]]] = []
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


def _tabs(sheet: Sheet, woods: Sequence[Polygon], programs: Sequence[Program]) -> set[str]:
    """Draw the stretches of the parts' outlines that tabs hold."""
    tabs = [tab for program in programs for tab in program.tabs]
    if not tabs:
        return set()
    group = sheet.group("tab")
    for tab in tabs:
        edge = LineString(woods[tab.placement].exterior.coords)
        sheet.lines(group, _within(edge, Point(tab.at).buffer(tab.width / 2)))
    return {"tab"}


def _within(edge: LineString, area: Polygon) -> list[list[Place]]:
    joined = shapely.line_merge(shapely.intersection(edge, area))
    return [
        [(float(x), float(y)) for x, y in part.coords]
        for part in shapely.get_parts(joined)
        if isinstance(part, LineString)
    ]


def _numbers(sheet: Sheet, layout: BoardLayout, woods: Sequence[Polygon]) -> None:
    for number, (placement, wood) in enumerate(zip(layout.placements, woods, strict=True), start=1):
        centre, room = _widest_place(placement, wood)
        size = max(0.6 * sheet.text, min(1.5 * sheet.text, room * 2 / (0.4 + 0.6 * len(str(number)))))
        sheet.words(str(number), (centre[0], centre[1] - size * 0.36), size=size, anchor="middle", bold=True)


def _widest_place(placement: Placement, wood: Polygon) -> tuple[Place, float]:
    """Centre and radius of the largest circle of clear wood in a part, mm."""
    holes = [Point(placement.transform.point(hole.at)).buffer(hole.diameter / 2) for hole in placement.part.round_holes]
    clear = polygons_of(wood.difference(shapely.union_all(holes))) if holes else [wood]
    spoke = shapely.maximum_inscribed_circle(max(clear, key=lambda piece: piece.area, default=wood), tolerance=0.5)
    (x, y), *_ = spoke.coords
    return (float(x), float(y)), float(spoke.length)
