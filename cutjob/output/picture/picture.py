"""A board's layout to an SVG picture: wood, grain, keep-outs, numbered parts and their cuts, clamps and bridges, the
windows it is cut in, tabs, cutter paths and a key.

The view box is in mm. Every operation is a class with its own colour (Okabe-Ito) and, for grey prints, its own dashes
and hatches.

Words below the picture give the order in which the board's parts are cut free. For findings of the proof there is a
ring round each place, with its number, and the list below.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from cutjob.geometry.segment import Point
from cutjob.layout.layout import BoardLayout
from cutjob.layout.leftovers import Leftover
from cutjob.layout.sets import NO_SETS, Sets
from cutjob.output.operations import VERMILLION
from cutjob.output.picture.board import draw_leftovers, draw_windows, draw_wood, room_around
from cutjob.output.picture.held import draw_hanging, draw_holding
from cutjob.output.picture.key import CLASSES, LETTER, draw_key, fitting, key_height
from cutjob.output.picture.parts import draw_lettering, draw_parts, draw_paths, draw_tabs_and_numbers
from cutjob.output.picture.svg_shapes import Sheet, coordinate, printable
from cutjob.output.words.held import held_shortly
from cutjob.program.moves import Program
from cutjob.units import Unit, format_length

_MOST_LINES = 4
_SAYS = "cut free in this order: "


def cut_order(programs: Sequence[Program]) -> list[int]:
    """Return the numbers of the parts, from 1, in the order in which the last cut round each ends."""
    last: dict[int, None] = {}
    for program in programs:
        for step in program.steps:
            if step.op == "outside cut" and step.placement is not None:
                last.pop(step.placement, None)
                last[step.placement] = None
    return [placement + 1 for placement in last]


def order_lines(programs: Sequence[Program], *, width: float, text: float) -> list[str]:
    """Return lines of at most `width` mm at the height `text` with that order; none where fewer than two parts are cut.

    If a board has more parts than a few lines hold, only the first ones are named.
    """
    order = cut_order(programs)
    if len(order) < 2:
        return []
    room = max(len(_SAYS) + 8, int(width / (LETTER * text)))
    lines = textwrap.wrap(_SAYS + ", ".join(map(str, order)), room)
    return [*lines[: _MOST_LINES - 1], "and so on"] if len(lines) > _MOST_LINES else lines


_RING = 1.1  # its radius in heights of the text
_TOGETHER = 1.2  # rings nearer to each other than this many radii are drawn as one


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """A place to be ringed, in the board's frame, and its number in the list of findings."""

    at: Point
    number: int


def draw_rings(sheet: Sheet, layout: BoardLayout, rings: Sequence[Ring]) -> set[str]:
    """Add the rings; those of places beyond the board are at its edge. Return the classes used."""
    if not rings:
        return set()
    radius = _RING * sheet.text
    drawn: list[tuple[Point, list[str]]] = []
    for ring in rings:
        at, beyond = _on_paper(ring.at, layout, reach=0.3 * radius)
        words = f"{ring.number} (beyond)" if beyond else f"{ring.number}"
        near = next((one for one in drawn if _apart(one[0], at) < _TOGETHER * radius), None)
        if near is None:
            drawn.append((at, [words]))
        else:
            near[1].append(words)
    light, group = sheet.group("found-rim"), sheet.group("found")
    for at, _ in drawn:
        sheet.circle(light, at, radius)
        sheet.circle(group, at, radius)
    for (x, y), numbers in drawn:
        # The number is to the right of its ring, or to the left at the board's right end.
        right = x < layout.board.length - 3 * radius
        place = (x + 1.35 * radius, y - 0.36 * sheet.text) if right else (x - 1.35 * radius, y - 0.36 * sheet.text)
        anchor = "start" if right else "end"
        sheet.words(_shortly(numbers), place, size=1.1 * sheet.text, anchor=anchor, bold=True, colour=VERMILLION)
    return {"found"}


def _shortly(numbers: Sequence[str]) -> str:
    return ", ".join(numbers) if len(numbers) <= 4 else f"{', '.join(numbers[:3])} ... {numbers[-1]}"


def _apart(one: Point, other: Point) -> float:
    return max(abs(one[0] - other[0]), abs(one[1] - other[1]))


def _on_paper(at: Point, layout: BoardLayout, *, reach: float) -> tuple[Point, bool]:
    """The place, moved to within `reach` of the board's box if it is farther out, and whether it is."""
    x = min(max(at[0], -reach), layout.board.length + reach)
    y = min(max(at[1], -reach), layout.board.width + reach)
    return (x, y), (x, y) != at


# The board's longer side is this many letter heights, and a letter is this many pixels high on a screen.
_LETTERS_ALONG = 85
_LETTERS_LEAST = 46
_PIXELS_PER_LETTER = 14
# A tall board is not enlarged to the width of a long one.
_TALL = 1.6


def write_picture(
    layout: BoardLayout,
    *,
    program: Program | Sequence[Program] | None,
    units: Unit,
    title: str,
    leftovers: Sequence[Leftover] = (),
    rings: Sequence[Ring] = (),
    notes: Sequence[str] = (),
    sets: Sets = NO_SETS,
) -> bytes:
    """Return the SVG picture of a board, with its offcuts, and the tabs and cutter paths of its programs if given.
    `rings` are places found in the proof; `notes` are lines below the key about these. Without notes the order of the
    cut is there. With `sets` every piece has the items it is for.
    """
    programs = (program,) if isinstance(program, Program) else tuple(program or ())
    board = layout.board
    text = max(board.length, board.width * _TALL) / _LETTERS_ALONG
    room = room_around(layout, text=text)
    margin, head = 1.5 * text, 4.2 * text + room.above
    inner = max(board.length, _LETTERS_LEAST * text)
    root = _root()
    name = SubElement(root, "title")
    name.text = printable(f"{title}: {layout.id}")
    paper = SubElement(root, "rect", {"class": "paper", "fill": "#ffffff"})
    sheet = Sheet(root=root, left=margin + room.left, bottom=head + board.width, text=text)
    _heading(sheet, layout, units, title, width=inner, y=board.width + room.above)
    shown = (
        draw_wood(sheet, layout)
        | draw_leftovers(sheet, leftovers, units)
        | draw_hanging(sheet, layout)
        | draw_parts(sheet, layout, programs, sets=sets)
        | draw_lettering(sheet, layout, programs)
        | draw_paths(sheet, programs)
        | draw_holding(sheet, layout)
        | draw_windows(sheet, layout)
        | draw_tabs_and_numbers(sheet, layout, programs)
        | draw_rings(sheet, layout, rings)
    )
    notes = notes or order_lines(programs, width=inner, text=text)
    classes = [name for name in CLASSES if name in shown]
    draw_key(sheet, layout, classes, width=inner, units=units, y=-room.below, notes=notes, sets=sets)
    key = key_height(layout, classes, width=inner, text=text, notes=notes, sets=sets)
    height = head + board.width + room.below + key + margin
    width = room.left + max(inner, board.length + room.right)
    _set_size(root, paper, width + 2 * margin, height, text)
    data: bytes = ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)
    return data + b"\n"


def _root() -> Element:
    return Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "font-family": "sans-serif", "role": "img"})


def _set_size(root: Element, paper: Element, width: float, height: float, text: float) -> None:
    pixels = _PIXELS_PER_LETTER / text
    root.set("viewBox", f"0 0 {coordinate(width)} {coordinate(height)}")
    for element, scale in ((root, pixels), (paper, 1.0)):
        element.set("width", coordinate(width * scale))
        element.set("height", coordinate(height * scale))


def _heading(sheet: Sheet, layout: BoardLayout, units: Unit, title: str, *, width: float, y: float) -> None:
    board, text = layout.board, sheet.text
    sheet.words(f"{title}: {layout.id}", (0.0, y + 2.4 * text), size=1.3 * text, bold=True)
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
    # If a line is too long for the paper, its names are cut short.
    held = held_shortly(layout)
    if held:
        held = f"held by {held}; "
    names = fitting(f"{board.name}, {board.material}", width=width - len(held + facts) * LETTER * text, text=text)
    sheet.words(held + names + facts, (0.0, y + 0.8 * text), size=text)
